"""Files, folders and zips as they are handed over: which files come out, under which names."""

import io
import os
import stat
import zipfile
from pathlib import Path

import pytest
from made_files import ods, ods_row, with_lying_size, written, zipped

from pipelines.intake.files.parcels import Parcel, shown_name, unpack

TABLE = b"troop,item\n0417,GLA\n"


def taken(*paths: Path) -> list[tuple[str, bytes | str]]:
    """Each parcel's name, and its bytes or what was found."""
    return [(parcel.name, content(parcel)) for parcel in unpack(paths)]


def content(parcel: Parcel) -> bytes | str:
    given = [parcel.path, parcel.payload, parcel.finding]
    assert sum(one is not None for one in given) == 1
    if parcel.finding:
        assert parcel.finding.expected
        assert parcel.finding.how
        assert not parcel.finding.is_note
        return parcel.finding.found
    return parcel.path.read_bytes() if parcel.path else parcel.payload or b""


def test_files_folders_and_zips(tmp_path: Path) -> None:
    inbox = tmp_path / "inbox"
    (inbox / "b").mkdir(parents=True)
    (inbox / "b" / "2.csv").write_bytes(b"2")
    (inbox / "b.csv").write_bytes(b"3")
    (inbox / "a.csv").write_bytes(b"1")
    (inbox / "post.zip").write_bytes(zipped({"week 3/0417.csv": b"5", "0206.csv": b"4"}))
    single = tmp_path / "single.csv"
    single.write_bytes(b"6")
    assert taken(inbox, single) == [
        ("inbox/a.csv", b"1"),
        ("inbox/b/2.csv", b"2"),
        ("inbox/b.csv", b"3"),
        ("inbox/post.zip/0206.csv", b"4"),
        ("inbox/post.zip/week 3/0417.csv", b"5"),
        ("single.csv", b"6"),
    ]


def test_a_workbook_is_a_file_and_no_zip_of_files(tmp_path: Path) -> None:
    workbooks = {"a.xlsx": written({"S": [["a"]]}), "b.zip": written({"S": [["a"]]}), "c.ods": ods(ods_row())}
    for name, payload in workbooks.items():
        (tmp_path / name).write_bytes(payload)
    assert taken(*(tmp_path / name for name in workbooks)) == list(workbooks.items())
    post = tmp_path / "post.zip"
    post.write_bytes(zipped(workbooks))
    assert taken(post) == [(f"post.zip/{name}", payload) for name, payload in workbooks.items()]


def test_what_programs_leave_lying_about_is_passed_over(tmp_path: Path) -> None:
    left = [".DS_Store", "Thumbs.db", "~$0417.xlsx", ".~lock.0417.xlsx#", "._0417.csv"]
    for name in left:
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "0417.csv").write_bytes(TABLE)
    (tmp_path / "post.zip").write_bytes(zipped({"__MACOSX/._0417.csv": b"x", "b/Thumbs.db": b"x", "b/0206.csv": TABLE}))
    assert [name.partition("/")[2] for name, _ in taken(tmp_path)] == ["0417.csv", "post.zip/b/0206.csv"]


def linked(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name)
    entry.external_attr = (stat.S_IFLNK | 0o777) << 16
    return entry


def packed(*entries: tuple[zipfile.ZipInfo | str, bytes], how: int = zipfile.ZIP_DEFLATED) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", how) as file:
        for entry, payload in entries:
            file.writestr(entry, payload)
    return held.getvalue()


def locked(payload: bytes) -> bytes:
    changed = bytearray(payload)
    changed[6] |= 1
    changed[payload.index(b"PK\x01\x02") + 8] |= 1
    return bytes(changed)


ZIPS: dict[str, tuple[bytes, list[tuple[str, bytes | str]]]] = {
    "steps up": (zipped({"../../etc/x.csv": TABLE}), [("z.zip/etc/x.csv", TABLE)]),
    "from the root": (zipped({"/etc/x.csv": TABLE}), [("z.zip/etc/x.csv", TABLE)]),
    "backslashes and a drive": (zipped({"C:\\x\\..\\y.csv": TABLE}), [("z.zip/x/y.csv", TABLE)]),
    "a name that turns the line round": (zipped({"a\u202evsc.exe": TABLE}), [("z.zip/avsc.exe", TABLE)]),
    "a name of 500 characters": (zipped({"x" * 500 + ".csv": TABLE}), [(f"z.zip/{'x' * 120}…{'x' * 116}.csv", TABLE)]),
    "a link": (packed((linked("x.csv"), b"/etc/passwd")), [("z.zip/x.csv", "a link to another place")]),
    "a zip in a zip": (
        zipped({"inner.zip": zipped({"a.csv": TABLE}), "b.csv": TABLE}),
        [("z.zip/b.csv", TABLE), ("z.zip/inner.zip", "a zip within a zip")],
    ),
    "locked": (locked(zipped({"a.csv": TABLE})), [("z.zip/a.csv", "a file locked with the zip's password")]),
    "an unusual packing": (
        packed(("a.csv", TABLE), how=zipfile.ZIP_LZMA),
        [("z.zip/a.csv", "a file packed in an unusual way")],
    ),
    "nothing in it": (zipped({}), [("z.zip", "a zip with nothing in it")]),
    "a file of 400 MB": (
        with_lying_size(zipped({"a.csv": TABLE}), "a.csv", 400_000_000),
        [("z.zip/a.csv", "a file of 400 MB")],
    ),
    "3 GB together": (
        with_lying_size(zipped({"a.csv": TABLE}), "a.csv", 3_000_000_000),
        [("z.zip", "a zip of 1 file and 3,000 MB once unpacked")],
    ),
    "a size that lies": (
        with_lying_size(zipped({"a.csv": TABLE * 10_000, "b.csv": TABLE}), "a.csv", 50),
        [("z.zip/a.csv", "a file that is damaged within its zip"), ("z.zip/b.csv", TABLE)],
    ),
    "cut in half": (zipped({"a.csv": TABLE * 50})[:60], [("z.zip", zipped({"a.csv": TABLE * 50})[:60])]),
}


@pytest.mark.parametrize("case", ZIPS)
def test_zips_that_try_something(tmp_path: Path, case: str) -> None:
    payload, expected = ZIPS[case]
    (tmp_path / "z.zip").write_bytes(payload)
    assert taken(tmp_path / "z.zip") == expected
    assert sorted(one.name for one in tmp_path.iterdir()) == ["z.zip"], "something was unpacked to the disk"


def test_too_many_files_in_a_zip(tmp_path: Path) -> None:
    (tmp_path / "z.zip").write_bytes(zipped({f"{k}.csv": b"" for k in range(10_001)}))
    assert [found.split(" files")[0] for _, found in taken(tmp_path / "z.zip")] == ["a zip of 10,001"]


def test_a_zip_with_names_in_utf8_that_does_not_say_so(tmp_path: Path) -> None:
    payload = zipped({"Zoxx.csv": TABLE}).replace(b"Zoxx", "Zoë".encode())
    (tmp_path / "z.zip").write_bytes(payload)
    assert taken(tmp_path / "z.zip") == [("z.zip/Zoë.csv", TABLE)]


def test_what_lies_in_a_folder_and_is_no_file(tmp_path: Path) -> None:
    folder = tmp_path / "inbox"
    (folder / "sub").mkdir(parents=True)
    (tmp_path / "secret.csv").write_bytes(TABLE)
    (folder / "link.csv").symlink_to(tmp_path / "secret.csv")
    (folder / "sub" / "round").symlink_to(folder)
    os.mkfifo(folder / "pipe.csv")
    assert taken(folder) == [
        ("inbox/link.csv", "a link to another place"),
        ("inbox/pipe.csv", "something that is no file (a device, a pipe)"),
        ("inbox/sub/round", "a link to another place"),
    ]
    assert taken(Path("/dev/zero")) == [("zero", "something that is no file (a device, a pipe)")]


def test_a_link_named_by_the_operator_is_followed(tmp_path: Path) -> None:
    (tmp_path / "real.csv").write_bytes(TABLE)
    (tmp_path / "link.csv").symlink_to(tmp_path / "real.csv")
    assert taken(tmp_path / "link.csv") == [("link.csv", TABLE)]


@pytest.mark.parametrize("path", ["gone.csv", "x" * 300, "a\x00b"])
def test_a_path_that_leads_nowhere(tmp_path: Path, path: str) -> None:
    [(_, found)] = taken(tmp_path / path)
    assert str(found).startswith("nothing that can be opened (")


def test_a_file_that_vanishes_on_the_way(tmp_path: Path) -> None:
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_bytes(TABLE)
    parcels = unpack([tmp_path])
    assert content(next(parcels)) == TABLE
    (tmp_path / "b.csv").unlink()
    assert content(next(parcels)) == "a file that cannot be opened (No such file or directory)"


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("0417 week 3.xlsx", "0417 week 3.xlsx"),
        ("a/./b//../c.csv", "a/b/c.csv"),
        ("Zoe\u0308.csv", "Zoë.csv"),  # as macOS writes it, in two characters
        ("a\nb\tc\x1b[31m.csv", "abc[31m.csv"),
        ("bad\udcff.csv", "bad�.csv"),
        ("..", "(a file without a name)"),
    ],
)
def test_names_as_they_are_shown(name: str, shown: str) -> None:
    assert shown_name(name) == shown
