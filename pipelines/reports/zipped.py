"""Many papers as one zip, the same bytes each time.

Comes in: names and bytes. Goes out: a zip.
"""

import io
import zipfile
from collections.abc import Iterable
from pathlib import Path

from pipelines.reports.form import form
from pipelines.reports.week import Week, file_name

FIXED = (1980, 1, 1, 0, 0, 0)  # a zip's earliest time; the making of it is told by the manifest alone


def zipped(files: Iterable[tuple[str, bytes]]) -> bytes:
    """A zip of files in the order given."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in files:
            made.writestr(zipfile.ZipInfo(name, FIXED), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def folder_zipped(folder: Path) -> bytes:
    """A zip of all that stands in a folder."""
    paths = sorted(path for path in folder.rglob("*") if path.is_file())
    return zipped((path.relative_to(folder).as_posix(), path.read_bytes()) for path in paths)


def forms_zipped(before: Week) -> bytes:
    """The forms of every troop for the week after."""
    ends = before.season.week_ending(before.week_no + 1)
    return zipped(
        (f"{file_name(troop)} week {ends.isoformat()}.xlsx", form(before, troop, ends)) for troop in before.troops
    )
