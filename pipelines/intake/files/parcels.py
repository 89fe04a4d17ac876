"""Files, folders and zips as somebody hands them over → one Parcel a file.

Comes in: paths. Goes out: each file with the name shown to people, as the path where it lies or (out of a zip) as its
bytes; what cannot be taken comes as a finding. Nothing is ever unpacked to a disk, so a name in a zip reaches no path.
"""

import io
import os
import stat
import unicodedata
import zipfile
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path
from typing import IO, NamedTuple

from pipelines.definitions.records import Finding
from pipelines.intake.files import file_kinds
from pipelines.intake.files.archive import DAMAGE

MOST_BYTES = 300_000_000  # of one file in a zip, unpacked
MOST_BYTES_TOGETHER = 2_000_000_000
MOST_FILES = 10_000
LONGEST_NAME = 240
# What systems and spreadsheet programs leave lying about; none of it was ever sent by a person.
LEFT_ABOUT = {".ds_store", "thumbs.db", "desktop.ini", "__macosx"}
LEFT_ABOUT_STARTS = ("~$", ".~lock.", "._")
SEND_FILE = "Send the file itself."


class Parcel(NamedTuple):
    """One file as it came: `path` or `payload`, or neither and the `finding` that says why."""

    name: str
    path: Path | None = None
    payload: bytes | None = None
    finding: Finding | None = None
    saved_at: float | None = None  # when the file was changed last, in seconds, as the disk or the zip says


def unpack(paths: Iterable[Path]) -> Iterator[Parcel]:
    """One Parcel for each file at these paths: files as given, folders with all they hold by path, zips by name."""
    for path in paths:
        try:
            is_folder = stat.S_ISDIR(path.stat().st_mode)
        except (OSError, ValueError) as error:
            found = f"nothing that can be opened ({_reason(error)})"
            yield _refused(shown_name(path.name), found, "a file or a folder", "Look at its name, and who may read it.")
            continue
        if is_folder:
            yield from _in_folder(path)
        else:
            yield from _file(path, shown_name(path.name))


def _in_folder(folder: Path) -> Iterator[Parcel]:
    found: list[Path] = []
    unreadable: list[Path] = []
    walk = os.walk(folder, onerror=lambda error: unreadable.append(Path(error.filename)))
    for base, folders, files in walk:
        folders[:] = [name for name in folders if not is_left_about(name)]
        found += [Path(base, name) for name in folders if Path(base, name).is_symlink()]
        found += [Path(base, name) for name in files if not is_left_about(name)]
    top = shown_name(folder.resolve().name)
    for path in sorted([*found, *unreadable], key=lambda one: one.relative_to(folder).parts):
        name = shown_name(f"{top}/{path.relative_to(folder).as_posix()}")
        if path in unreadable:
            yield _refused(name, "a folder that may not be opened", "a folder that may be read", "Allow it to be read.")
        elif path.is_symlink():
            # A link in a folder that somebody sent may point at anything on this machine.
            yield _refused(name, "a link to another place", "a file", SEND_FILE)
        else:
            yield from _file(path, name)


def _file(path: Path, name: str) -> Iterator[Parcel]:
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            yield _refused(name, "something that is no file (a device, a pipe)", "a file", SEND_FILE)
            return
        with path.open("rb") as file:
            head = file.read(4)
            if head not in (file_kinds.ZIP, b"PK\x05\x06") or not is_archive(file):
                yield Parcel(name, path=path, saved_at=path.stat().st_mtime)
                return
            yield from _in_zip(file, name)
    except OSError as error:
        found = f"a file that cannot be opened ({_reason(error)})"
        yield _refused(name, found, "a file that may be read", "Look who may read it, and send it again.")


def is_archive(file: IO[bytes]) -> bool:
    """Whether an open zip holds files to be taken one by one, in place of being a workbook itself (or broken)."""
    try:
        with zipfile.ZipFile(file) as packed:
            names = packed.namelist()
            mimetype = _start(packed, "mimetype") if "mimetype" in names else b""
    except DAMAGE:
        return False
    return file_kinds.kind_in_zip(names, mimetype) == "archive"


def _start(packed: zipfile.ZipFile, name: str) -> bytes:
    with packed.open(name) as part:
        return part.read(200)


def _in_zip(file: IO[bytes], zip_name: str) -> Iterator[Parcel]:
    with zipfile.ZipFile(file) as packed:
        entries = [entry for entry in packed.infolist() if not entry.is_dir() and not _is_entry_left_about(entry)]
        size = sum(entry.file_size for entry in entries)
        if len(entries) > MOST_FILES or size > MOST_BYTES_TOGETHER:
            count = "1 file" if len(entries) == 1 else f"{len(entries):,} files"
            found = f"a zip of {count} and {size / 1e6:,.0f} MB once unpacked"
            most = f"at most {MOST_FILES:,} files and {MOST_BYTES_TOGETHER / 1e6:,.0f} MB"
            yield _refused(zip_name, found, most, "Send it in parts.")
            return
        if not entries:
            yield _refused(zip_name, "a zip with nothing in it", "a zip of workbooks or tables", "Pack it again.")
        for entry in sorted(entries, key=lambda one: one.filename):
            yield _entry(packed, entry, f"{zip_name}/{shown_name(_entry_name(entry))}")


def _entry(packed: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str) -> Parcel:
    if fault := _fault_of_entry(entry):
        return _refused(name, *fault)
    try:
        payload = packed.read(entry)  # no further than the declared size; the checksum tells one declared too small
    except DAMAGE:
        return _refused(
            name, "a file that is damaged within its zip", "a zip that is whole", "Pack it again, send that."
        )
    if payload.startswith(file_kinds.ZIP) and is_archive(io.BytesIO(payload)):
        return _refused(
            name, "a zip within a zip", "files, or one zip of files", "Unpack the inner one, and send that."
        )
    return Parcel(name, payload=payload, saved_at=_saved_at(entry))


def _saved_at(entry: zipfile.ZipInfo) -> float | None:
    try:
        return datetime(*entry.date_time).timestamp()  # noqa: DTZ001 - held against its like alone
    except ValueError:
        return None


def _fault_of_entry(entry: zipfile.ZipInfo) -> tuple[str, str, str] | None:
    """Why a file in a zip is not even unpacked: found, expected, how to mend it."""
    if entry.flag_bits & 1:
        return "a file locked with the zip's password", "a zip without one", "Pack it again without a password."
    if stat.S_ISLNK(entry.external_attr >> 16):
        return "a link to another place", "a file", SEND_FILE
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        return "a file packed in an unusual way", "an ordinary zip", "Send the file itself, unpacked."
    if entry.file_size > MOST_BYTES:
        found, most = f"a file of {entry.file_size / 1e6:,.0f} MB", f"at most {MOST_BYTES / 1e6:,.0f} MB"
        return found, most, "Split it, by weeks for instance, and send the parts."
    return None


def _entry_name(entry: zipfile.ZipInfo) -> str:
    """An entry's name; some programs write UTF-8 without saying so, which zipfile then takes for cp437."""
    if entry.flag_bits & 0x800:
        return entry.filename
    try:
        return entry.filename.encode("cp437").decode("utf-8")
    except UnicodeError:
        return entry.filename


def _is_entry_left_about(entry: zipfile.ZipInfo) -> bool:
    return any(is_left_about(part) for part in entry.filename.replace("\\", "/").split("/"))


def is_left_about(name: str) -> bool:
    """Whether a system or a program left this lying about (lock files, thumbnails), so that no person sent it."""
    return name.lower() in LEFT_ABOUT or name.startswith(LEFT_ABOUT_STARTS)


def shown_name(name: str) -> str:
    """A name as it may be shown: no steps up, no drive, nothing invisible or turning the line round, not endless."""
    text = os.fsencode(name).decode("utf-8", "replace") if not _is_encodable(name) else name
    text = unicodedata.normalize("NFC", text).replace("\\", "/")
    text = "".join(c for c in text if unicodedata.category(c) not in ("Cc", "Cf", "Co", "Cn", "Zl", "Zp"))
    parts = [part for part in text.split("/") if part.strip() not in ("", ".", "..") and not part.endswith(":")]
    text = "/".join(parts)
    if len(text) > LONGEST_NAME:
        text = f"{text[: LONGEST_NAME // 2]}…{text[-LONGEST_NAME // 2 :]}"
    text = f"_{text}" if text.startswith(("=", "+", "-", "@")) else text  # it may stand in a spreadsheet some day
    return text or "(a file without a name)"


def _is_encodable(name: str) -> bool:
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or "its name cannot be used"


def _refused(name: str, found: str, expected: str, how: str) -> Parcel:
    return Parcel(name, finding=Finding("", "", found, expected, how))
