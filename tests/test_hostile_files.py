"""Broken and hostile files: each ends as a finding in plain words or as its right cells, and reading goes on."""

import io
import os
import pickle
import random
import signal
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import xlwt
from made_files import (
    ODS_MANIFEST,
    edited,
    ods,
    ods_cell,
    ods_row,
    ole2,
    raw_parts,
    raw_xlsx,
    row,
    with_lying_size,
    written,
    zipped,
)
from pipelines.intake import wire, worker
from pipelines.intake.readers import Reader
from pipelines.records import CellFault, Reading

CALC = Path(__file__).parent / "fixtures" / "calc"
GOOD = CALC / "0417 week 2027-02-14.xlsx"
MEGABYTE = 1_000_000


@pytest.fixture(scope="module")
def reader() -> Iterator[Reader]:
    with Reader(memory_bytes=1 << 30) as one:
        yield one


@dataclass
class Case:
    """A file, and what is told of it (found contains it; a note ends with `(note)`) or which rows its first sheet has."""

    payload: Callable[[], bytes]
    told: str = ""
    rows: list[list[object]] | None = None
    name: str = "a.xlsx"
    cell: str | None = None


def good() -> bytes:
    return GOOD.read_bytes()


def parquet(table: pa.Table) -> bytes:
    held = io.BytesIO()
    pq.write_table(table, held)
    return held.getvalue()


def old_workbook() -> bytes:
    book, held = xlwt.Workbook(), io.BytesIO()
    book.add_sheet("Stock").write(0, 0, "item")
    book.save(held)
    return held.getvalue()


def flipped(payload: bytes, at: int) -> bytes:
    return payload[:at] + bytes([payload[at] ^ 0x20]) + payload[at + 1 :]


def with_part(name: str, content: bytes | str = b"x", payload: bytes | None = None) -> bytes:
    held = io.BytesIO(payload if payload is not None else written({"Stock": [["a", 1]]}))
    with zipfile.ZipFile(held, "a") as packed:
        packed.writestr(name, content)
    return held.getvalue()


def twice(payload: bytes) -> bytes:
    with pytest.warns(UserWarning, match="Duplicate name"):
        return with_part("xl/worksheets/sheet1.xml", b"<worksheet/>", payload)


def with_flag(payload: bytes) -> bytes:
    """Every part marked as locked with a password."""
    changed = bytearray(payload)
    for signature, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        start = changed.find(signature)
        while start >= 0:
            changed[start + at] |= 1
            start = changed.find(signature, start + 4)
    return bytes(changed)


def lzma_packed() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_LZMA) as packed:
        for name, content in raw_parts("<sheetData/>").items():
            packed.writestr(name, content)
    return held.getvalue()


def one_cell_apart(far: str) -> bytes:
    digits = far.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    far_row = f'<row r="{digits}"><c r="{far}"><v>2</v></c></row>'
    return raw_xlsx(row(1, '<c r="A1"><v>1</v></c>') + far_row)


def bomb(part: str, start: str, end: str, size: int) -> bytes:
    """A workbook of a few KB, one part of which unpacks to `size` bytes."""
    parts = raw_parts("<sheetData/>")
    parts[part] = start.encode() + b" " * size + end.encode()
    return zipped(parts)


MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
LAUGHS = "".join(f'<!ENTITY l{k} "{f"&l{k - 1};" * 10}">' for k in range(1, 10))
LAUGHTER = f'<!DOCTYPE s [<!ENTITY l0 "ha">{LAUGHS}]><sst {MAIN}><si><t>&l9;</t></si></sst>'
OUTSIDE = f'<!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/passwd">]><sst {MAIN}><si><t>&x;</t></si></sst>'
SHARED_CELL = row(1, '<c r="A1" t="s"><v>0</v></c>')
LOCKED = "locked with a password"
DAMAGED = "damaged workbook"
PLAIN = [["a", "b"], ["1", "2"]]
FAULT = CellFault("#N/A", "error")


def shared_strings(content: str) -> bytes:
    return zipped(raw_parts(f"<sheetData>{SHARED_CELL}</sheetData>") | {"xl/sharedStrings.xml": content})


def without(part: str) -> bytes:
    return zipped({name: content for name, content in raw_parts("<sheetData/>").items() if name != part})


CASES = {
    # what is no spreadsheet
    "empty file": Case(lambda: b"", "an empty file"),
    "nothing but spaces": Case(lambda: b" \n \n", "nothing but spaces", name="a.csv"),
    "nothing but separators": Case(lambda: b",,,\n" * 500, "without a filled cell", name="a.csv"),
    "PDF": Case(lambda: b"%PDF-1.7\n...", "a PDF"),
    "PDF after rubbish": Case(lambda: b"\n\n%PDF-1.7\n...", "a PDF", name="a.csv"),
    "PNG": Case(lambda: b"\x89PNG\r\n\x1a\n" + bytes(50), "a picture (PNG)"),
    "JPEG": Case(lambda: b"\xff\xd8\xff\xe0" + bytes(50), "a picture (JPEG)"),
    "HEIC": Case(lambda: b"\x00\x00\x00\x18ftypheic" + bytes(50), "a picture or a film"),
    "gzip": Case(lambda: b"\x1f\x8b\x08" + bytes(50), "compressed file", name="a.csv"),
    "7z": Case(lambda: b"7z\xbc\xaf\x27\x1c" + bytes(50), "packed folder"),
    "program": Case(lambda: b"\x7fELF\x02" + bytes(50), "a program"),
    "database": Case(lambda: b"SQLite format 3\x00" + bytes(50), "a database"),
    "RTF": Case(lambda: b"{\\rtf1 hello}", "a text document"),
    "web page named .xls": Case(lambda: b"<html><table><tr><td>1</td></tr></table></html>", "a web page", name="a.xls"),
    "XML spreadsheet of 2003": Case(lambda: b'<?xml version="1.0"?><Workbook/>', "an XML document", name="a.xls"),
    "UTF-16 web page": Case(lambda: "<HTML>hi</HTML>".encode("utf-16"), "a web page", name="a.xls"),
    "JSON": Case(lambda: b'[{"troop": "0417"}]', "a JSON document", name="a.csv"),
    "text document (Word)": Case(lambda: zipped({"[Content_Types].xml": "x", "word/document.xml": "x"}), "text document"),
    "slides": Case(lambda: zipped({"[Content_Types].xml": "x", "ppt/presentation.xml": "x"}), "slides"),
    "text document (OpenDocument)": Case(
        lambda: zipped({"mimetype": "application/vnd.oasis.opendocument.text"}), "a document", name="a.ods"
    ),
    "binary workbook": Case(lambda: zipped({"[Content_Types].xml": "x", "xl/workbook.bin": "x"}), ".xlsb"),
    "zip of files": Case(lambda: zipped({"a.csv": "a,b"}), "a zip of files"),
    "zip with nothing in it": Case(lambda: zipped({}), "nothing in it"),
    "old text document": Case(lambda: ole2("WordDocument"), "text document", name="a.xls"),
    "old slides": Case(lambda: ole2("PowerPoint Document"), "slides", name="a.xls"),
    "other old file": Case(lambda: ole2("Something"), "some other program", name="a.xls"),
    "random bytes named .csv": Case(lambda: random.Random(3).randbytes(5000), "neither text", name="a.csv"),
    # locked
    "encrypted workbook": Case(lambda: ole2("EncryptionInfo", "EncryptedPackage"), LOCKED),
    "encrypted OpenDocument": Case(
        lambda: ods("", manifest=ODS_MANIFEST.replace("/>", "><manifest:encryption-data/></manifest:file-entry>", 1)),
        LOCKED,
        name="a.ods",
    ),
    "locked parts": Case(lambda: with_flag(good()), LOCKED),
    "locked Parquet": Case(lambda: b"PARE" + bytes(100), "locked with a key", name="a.parquet"),
    # broken
    "workbook cut in half": Case(lambda: good()[: len(good()) // 2], DAMAGED),
    "workbook cut by a byte": Case(lambda: good()[:-1], DAMAGED),
    "workbook, first bytes only": Case(lambda: good()[:4], DAMAGED),
    "workbook with a flipped bit": Case(lambda: flipped(good(), 700), DAMAGED),
    "old workbook cut in half": Case(lambda: old_workbook()[:1500], "some other program, or a damaged one", name="a.xls"),
    "OpenDocument cut in half": Case(lambda: ods(ods_row())[:600], DAMAGED, name="a.ods"),
    "OpenDocument without content": Case(
        lambda: zipped({"mimetype": "application/vnd.oasis.opendocument.spreadsheet"}), DAMAGED, name="a.ods"
    ),
    "OpenDocument that breaks off": Case(
        lambda: edited(ods(ods_row()), lambda name, part: part[:-40] if name == "content.xml" else part), DAMAGED
    ),
    "Parquet cut in half": Case(lambda: parquet(pa.table({"a": [1]}))[:60], "damaged Parquet", name="a.parquet"),
    "Parquet, first bytes only": Case(lambda: b"PAR1", "damaged Parquet", name="a.parquet"),
    "sheet that is no XML": Case(lambda: zipped(raw_parts("<sheetData><row>")), DAMAGED),
    "no workbook part": Case(lambda: without("xl/workbook.xml"), DAMAGED),
    "no sheet part": Case(lambda: without("xl/worksheets/sheet1.xml"), "cannot be understood|damaged|without a sheet"),
    "no relationships": Case(lambda: without("xl/_rels/workbook.xml.rels"), DAMAGED),
    "no shared texts": Case(lambda: without("xl/sharedStrings.xml"), rows=[]),
    "text number that is not there": Case(lambda: raw_xlsx(row(1, '<c r="A1" t="s"><v>5</v></c>')), DAMAGED),
    "number that is none": Case(lambda: raw_xlsx(row(1, '<c r="A1"><v>1,5</v></c>')), DAMAGED),
    "part twice": Case(lambda: twice(written({"Stock": [["a"]]})), DAMAGED),
    "part twice in other letters": Case(lambda: with_part("XL/Worksheets/SHEET1.XML"), DAMAGED),
    "packed with LZMA": Case(lzma_packed, DAMAGED),
    "ten thousand parts": Case(
        lambda: zipped({"[Content_Types].xml": ""} | {f"xl/p{k}.xml": "" for k in range(10_000)}), "10,001 parts"
    ),
    # made to eat memory or time
    "two cells 17 billion apart": Case(lambda: one_cell_apart("XFD1048576"), rows="first and last"),  # type: ignore[arg-type]
    "cells a million rows apart, many": Case(
        lambda: raw_xlsx("".join(row(k * 99, f'<c r="XFD{k * 99}"><v>1</v></c>') for k in range(1, 3000))),
        "very far apart",
    ),
    "dimension that claims 17 billion cells": Case(
        lambda: zipped(raw_parts('<dimension ref="A1:XFD1048576"/><sheetData>' + row(1, '<c r="A1"><v>1</v></c>') + "</sheetData>")),
        rows=[[1]],
    ),
    "sheet that unpacks to 70 MB": Case(
        lambda: bomb("xl/worksheets/sheet1.xml", f"<worksheet {MAIN}><sheetData>", "</sheetData></worksheet>", 70 * MEGABYTE),
        "70 MB once unpacked",
    ),
    "shared texts that unpack to 70 MB": Case(
        lambda: bomb("xl/sharedStrings.xml", f"<sst {MAIN}><si><t>", "</t></si></sst>", 70 * MEGABYTE),
        "70 MB once unpacked",
    ),
    "bomb that lies about its size": Case(
        lambda: with_lying_size(
            bomb("xl/sharedStrings.xml", f"<sst {MAIN}><si><t>", "</t></si></sst>", 70 * MEGABYTE),
            "xl/sharedStrings.xml",
            300,
        ),
        DAMAGED,
    ),
    "size claimed too large": Case(
        lambda: with_lying_size(good(), "xl/worksheets/sheet1.xml", 4_000_000_000), "once unpacked"
    ),
    "a hundred billion texts counted that are not there": Case(
        lambda: shared_strings(f'<sst {MAIN} count="99999999999" uniqueCount="99999999999"><si><t>x</t></si></sst>'),
        "needs more memory",
    ),
    "entities within entities": Case(lambda: shared_strings(LAUGHTER), DAMAGED),
    "entity that reads a file of ours": Case(lambda: shared_strings(OUTSIDE), DAMAGED),
    "OpenDocument with a document type": Case(
        lambda: edited(
            ods(ods_row()), lambda name, part: part.replace(b"?>", b"?><!DOCTYPE x [<!ENTITY y 'z'>]>", 1) if name == "content.xml" else part
        ),
        DAMAGED,
    ),
    "cell repeated 17 billion times": Case(
        lambda: ods(ods_row(ods_cell("float", "1", "1", 'table:number-columns-repeated="16384"'), repeated=1_048_576)),
        "very far apart",
        name="a.ods",
    ),
    "a million empty rows of 16,384 cells, OpenDocument": Case(
        lambda: ods(
            ods_row(ods_cell("float", "1", "1")) + ods_row(ods_cell(more='table:number-columns-repeated="16384"'), repeated=1_048_575)
        ),
        rows=[[1]],
        name="a.ods",
    ),
    "a million empty formatted rows": Case(
        lambda: raw_xlsx(row(1, '<c r="A1"><v>1</v></c>') + "".join(f'<row r="{k}" ht="9"/>' for k in range(2, 1_000_001))),
        rows=[[1]],
    ),
    "a hundred thousand empty formatted cells and an error": Case(
        lambda: raw_xlsx(row(1, '<c r="A1" t="e"><v>#N/A</v></c>') + "".join(f'<row r="{k}"><c r="C{k}" s="1"/></row>' for k in range(2, 100_001))),
        rows=[[FAULT]],
    ),
    "large workbook that needs the careful way": Case(
        lambda: raw_xlsx(row(1, '<c r="A1" t="e"><v>#N/A</v></c>') + "".join(row(k, f'<c r="A{k}"><v>{k}</v></c>') for k in range(2, 300_000))),
        "with errors, formulas without a value",
    ),
    "Parquet of 20 million rows": Case(
        lambda: parquet(pa.table({"a": pa.nulls(20_000_001, pa.int8())})), "20,000,001 rows", name="a.parquet"
    ),
    "Parquet that unpacks beyond memory": Case(
        lambda: parquet(pa.table({"a": pa.DictionaryArray.from_arrays(pa.array([0] * 100_000), ["x" * 60_000])})),
        "needs more memory",
        name="a.parquet",
    ),
    "Parquet with lists in its cells": Case(
        lambda: parquet(pa.table({"a": [[1, 2]]})), "lists or records", name="a.parquet"
    ),
    # text
    "NUL bytes": Case(lambda: b"a,b\n1,\x002\n" * 3, "3 NUL bytes", name="a.csv", cell="A2"),
    "quotation mark that is never closed": Case(
        lambda: b'a,b\n1,"2\n3,4\n', "does not close", name="a.csv", cell="A2"
    ),
    "quotation mark closed far below": Case(
        lambda: b'a,b\n1,"2\n' + b"3,4\n" * 20_000 + b'5,6"\n', "more than 32,767 characters", name="a.csv", cell="A2"
    ),
    "quotation marks within quotation marks": Case(
        lambda: b'a,b\n1,"5" pot"\n', "does not close", name="a.csv", cell="A2"
    ),
    "cell of 100,000 characters": Case(
        lambda: b"a,b\n1," + b"x" * 100_000 + b"\n", "more than 32,767", name="a.csv", cell="A2"
    ),
    "20,000 columns": Case(lambda: b"a," * 20_000 + b"\n", "20,001 cells", name="a.csv", cell="A1"),
    "one very wide line among many": Case(
        lambda: b"a,b\n" * 60_000 + b"a," * 9_000 + b"\n", "among many short ones", name="a.csv"
    ),
    "UTF-16 cut within a character": Case(
        lambda: "a,b\n1,2".encode("utf-16")[:-1], "UTF-16 that is cut", name="a.csv"
    ),
    "UTF-8 with a damaged character": Case(
        lambda: "a,b\nZoë,1\nRené,2\nJosé,3\n".encode().replace("é,2".encode(), b"\xc3,2"),
        "damaged, in a text that is otherwise UTF-8",
        name="a.csv",
        cell="A3",
    ),
    "encoding that cannot be told": Case(
        lambda: b"a,b\n1,\x81\x8d\n", "cannot be told", name="a.csv", cell="A2"
    ),
    "older Windows encoding": Case(
        lambda: "a,b\n1,é\n".encode("cp1252"), "cp1252", rows=[["a", "b"], ["1", "é"]], name="a.csv"
    ),
    "ends like a DOS text": Case(lambda: b"a,b\r\n1,2\r\n\x1a", rows=PLAIN, name="a.csv"),
    "byte order mark": Case(lambda: b"\xef\xbb\xbfa,b\n1,2\n", rows=PLAIN, name="a.csv"),
    "separator that is none": Case(lambda: b"a^b\n1^2\n", "one column only", rows=[["a^b"], ["1^2"]], name="a.csv"),
    "BMP by its first letters, but a table": Case(
        lambda: b"BMI,b\n1,2\n", rows=[["BMI", "b"], ["1", "2"]], name="a.csv"
    ),
    # odd, but to be read
    "macros": Case(lambda: with_part("xl/vbaProject.bin"), "macros", rows=[["a", 1]], name="a.xlsm"),
    "links to other workbooks": Case(
        lambda: with_part("xl/externalLinks/externalLink1.xml", "<externalLink/>"), "other workbooks", rows=[["a", 1]]
    ),
    "10,000 columns": Case(lambda: written({"S": [list(range(10_000))]}), rows=[list(range(10_000))]),
    "10,000 columns of text": Case(
        lambda: b",".join([b"x"] * 10_000), rows=[["x"] * 10_000], name="a.csv"
    ),
    "name of 200 characters": Case(lambda: b"a,b\n1,2\n", rows=PLAIN, name="x" * 200 + ".csv"),
    "name with tricks": Case(lambda: b"a,b\n1,2\n", rows=PLAIN, name="../../etc/\x00\u202evsc.exe"),
    "pictures of 30 MB": Case(
        lambda: with_part("xl/media/image1.png", random.Random(1).randbytes(30 * MEGABYTE)), rows=[["a", 1]]
    ),
    "bare stream of an older program": Case(lambda: b"\x09\x08\x10\x00" + bytes(20), DAMAGED, name="a.xls"),
}


@pytest.mark.parametrize("name", CASES)
def test_a_hostile_file_ends_as_a_finding_or_as_its_cells(reader: Reader, tmp_path: Path, name: str) -> None:
    case = CASES[name]
    landed = tmp_path / "landed"
    landed.write_bytes(case.payload())
    started = time.monotonic()
    reading = reader.read(landed, case.name)
    assert time.monotonic() - started < 6
    told = [f for f in reading.findings if "named ." not in f.found]
    if case.told:
        assert len(told) == 1, reading.findings
        assert any(part in told[0].found for part in case.told.split("|")), told[0].found
        assert told[0].is_note == (case.rows is not None)
        assert told[0].expected
        assert told[0].how
        assert case.cell in (None, told[0].cell)
    else:
        assert told == []
    if case.rows == "first and last":
        rows = reading.sheets[0].rows
        assert (rows[0], len(rows), len(rows[-1]), rows[-1][-1]) == ([1], 1_048_576, 16_384, 2)
    else:
        assert first_rows(reading) == (case.rows or [])


def first_rows(reading: Reading) -> list[list[object]]:
    if not reading.sheets:
        return []
    sheet = reading.sheets[0]
    return sheet.rows if sheet.table is None else [list(record.values()) for record in sheet.table.to_pylist()]


QUICK = ["empty file", "PDF", "encrypted workbook", "workbook cut in half", "part twice", "entities within entities"]
QUICK += ["cell repeated 17 billion times", "a hundred billion texts counted that are not there", "20,000 columns"]
QUICK += ["Parquet that unpacks beyond memory", "NUL bytes", "quotation mark that is never closed", "macros"]


def test_reading_goes_on_after_each(reader: Reader, tmp_path: Path) -> None:
    """Several in one go, a good one after each."""
    files = []
    for k, name in enumerate(QUICK):
        path = tmp_path / str(k)
        path.write_bytes(CASES[name].payload())
        files += [(path, CASES[name].name), (GOOD, GOOD.name)]
    answers = list(reader.read_all(files))
    assert len(answers) == len(files)
    assert all(one.findings for one in answers[0::2])
    assert {len(one.sheets) for one in answers[1::2]} == {7}


# What a path may lead to


def test_a_file_that_is_not_there(reader: Reader, tmp_path: Path) -> None:
    assert found(reader.read(tmp_path / "gone", "gone.csv")) == "a file that is not there any more"


def test_a_file_that_vanishes_while_others_are_read(reader: Reader, tmp_path: Path) -> None:
    paths = [tmp_path / str(k) for k in range(60)]
    for path in paths:
        path.write_bytes(b"a,b\n1,2\n")
    answers = reader.read_all([(path, "a.csv") for path in paths])
    next(answers)
    paths[-1].unlink()
    *read, last = answers
    assert found(last) == "a file that is not there any more"
    assert all(first_rows(one) == PLAIN for one in read)


def test_a_file_that_changes_while_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"a,b\n1,2\n")
    read_as = worker._read_as

    def meanwhile(kind: str, file, size: int):  # noqa: ANN001, ANN202
        contents = read_as(kind, file, size)
        path.write_bytes(b"a,b\n1,2\n3,4\n")
        return contents

    monkeypatch.setattr(worker, "_read_as", meanwhile)
    contents, _ = worker.answer(str(path), "a.csv")
    assert [told.found for told in contents.told] == ["a file that changed while it was read"]
    assert contents.table is None


@pytest.mark.parametrize("path", ["folder", "fifo", "/dev/zero", "/dev/stdin"])
def test_what_is_no_file(reader: Reader, tmp_path: Path, path: str) -> None:
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "fifo")
    started = time.monotonic()
    assert found(reader.read(tmp_path / path, "a.csv")).startswith("something that is no file")
    assert time.monotonic() - started < 2


@pytest.mark.parametrize("path", ["a\x00b", "x" * 5000, "\ud800"])
def test_a_path_that_cannot_be(reader: Reader, path: str) -> None:
    assert found(reader.read(Path(path), "a.csv")).startswith("a file that cannot be opened")


@pytest.mark.parametrize(("size", "name", "most"), [(2_000 * MEGABYTE, "a.csv", "300"), (150 * MEGABYTE, "a.xls", "100")])
def test_a_file_too_large_is_told_without_reading_it(reader: Reader, tmp_path: Path, size: int, name: str, most: str) -> None:
    path = tmp_path / name
    with path.open("wb") as file:
        file.write(b"a,b\n1,2\n" if name == "a.csv" else ole2("Workbook"))
        file.truncate(size)
    started = time.monotonic()
    reading = reader.read(path, name)
    assert time.monotonic() - started < 1
    assert (found(reading), reading.findings[0].expected) == (f"a file of {size / 1e6:,.0f} MB", f"at most {most} MB")


def found(reading: Reading) -> str:
    [finding] = reading.findings
    assert reading.sheets == []
    assert finding.how
    return finding.found


# What may happen to the worker


def pid_of(reader: Reader) -> int:
    assert reader._worker
    return reader._worker._process.pid


def test_a_worker_that_was_killed_is_replaced() -> None:
    with Reader() as reader:
        assert len(reader.read(GOOD, "a.xlsx").sheets) == 7
        first = pid_of(reader)
        os.kill(first, signal.SIGKILL)
        assert len(reader.read(GOOD, "a.xlsx").sheets) == 7
        assert pid_of(reader) != first


@pytest.mark.parametrize("way", [signal.SIGSTOP, signal.SIGKILL, signal.SIGTERM])
def test_a_worker_that_falls_in_the_middle_of_many(way: signal.Signals) -> None:
    with Reader(seconds_per_file=0.5) as reader:
        answers = reader.read_all([(GOOD, "a.xlsx")] * 30)
        next(answers)
        os.kill(pid_of(reader), way)
        rest = list(answers)
    told = [one for one in rest if one.findings]
    assert len(rest) == 29
    assert {len(one.sheets) for one in rest if not one.findings} == {7}
    assert [found(one) for one in told] == (["a file that could not be read within 0.5 seconds"] if way == signal.SIGSTOP else [])


def test_a_file_over_its_time(tmp_path: Path) -> None:
    slow = tmp_path / "slow"
    slow.write_bytes(CASES["a hundred thousand empty formatted cells and an error"].payload())
    with Reader(seconds_per_file=0.2) as reader:
        started = time.monotonic()
        answers = list(reader.read_all([(GOOD, "a"), (slow, "b"), (GOOD, "c")]))
        assert time.monotonic() - started < 3
    assert [len(one.sheets) for one in answers] == [7, 0, 7]
    assert found(answers[1]) == "a file that could not be read within 0.2 seconds"


def test_a_file_over_its_memory(tmp_path: Path) -> None:
    large = tmp_path / "large"
    large.write_bytes(b"0417,2027-02-14,GLA,12\n" * 3_000_000)
    with Reader(memory_bytes=400 * MEGABYTE) as reader:
        answers = list(reader.read_all([(GOOD, "a"), (large, "b"), (GOOD, "c")]))
    assert [len(one.sheets) for one in answers] == [7, 0, 7]
    assert found(answers[1]).startswith("a file that needs more memory to be read than the 0.37 GiB allowed")


def test_the_worker_ends_when_its_owner_is_killed() -> None:
    script = (
        "import sys, time; from pathlib import Path; from pipelines.intake.readers import Reader\n"
        "reader = Reader(); reader.read(Path(sys.argv[1]), 'a.xlsx')\n"
        "print(reader._worker._process.pid, flush=True); time.sleep(60)"
    )
    with subprocess.Popen([sys.executable, "-c", script, str(GOOD)], stdout=subprocess.PIPE, text=True) as owner:
        assert owner.stdout
        pid = int(owner.stdout.readline())
        os.kill(pid, 0)
        owner.kill()
    until = time.monotonic() + 5
    while time.monotonic() < until and is_running(pid):
        time.sleep(0.02)
    assert not is_running(pid)


def is_running(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    status = Path(f"/proc/{pid}/stat")
    return not status.exists() or status.read_text().rsplit(")", 1)[1].split()[0] != "Z"


def test_one_reader_from_several_threads(reader: Reader) -> None:
    counts: list[int] = []

    def work() -> None:
        counts.extend(len(one.sheets) for one in reader.read_all([(GOOD, "a.xlsx")] * 10))

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert counts == [7] * 40


def test_a_worker_starts_without_the_large_libraries() -> None:
    script = "import sys; import pipelines.intake.worker, pipelines.intake.xlsx; print(*sorted(sys.modules))"
    loaded = set(subprocess.check_output([sys.executable, "-c", script], text=True).split())
    assert not loaded & {"pyarrow", "numpy", "openpyxl", "xlrd", "pandas", "polars", "pydantic", "pipelines.records"}


def test_an_answer_can_run_nothing_in_its_owner() -> None:
    class Evil:
        def __reduce__(self) -> tuple[Callable[[str], int], tuple[str]]:
            return os.system, ("touch /tmp/owned",)

    with pytest.raises(pickle.UnpicklingError, match="no plain value"):
        wire.unpack(pickle.dumps(([Evil()], [], False, False)))


# Chance


@pytest.mark.parametrize("kind", ["xlsx", "ods", "xls", "csv"])
def test_random_damage_never_passes_as_other_cells(reader: Reader, tmp_path: Path, kind: str) -> None:
    """A damaged workbook with checksums reads as the good one or ends as a finding; others end as a reading at least."""
    source = CALC / ("stock.csv" if kind == "csv" else f"0417 week 2027-02-14.{kind}")
    payload, chance = source.read_bytes(), random.Random(417)
    files = []
    for k in range(60):
        damaged = bytearray(payload)
        for _ in range(chance.choice([1, 1, 3])):
            damaged[chance.randrange(len(damaged))] = chance.randrange(256)
        if chance.random() < 0.3:
            del damaged[chance.randrange(len(damaged)) :]
        path = tmp_path / str(k)
        path.write_bytes(damaged)
        files.append((path, source.name))
    expected = reader.read(source, source.name).sheets
    answers = list(reader.read_all(files))
    assert len(answers) == len(files)
    for answer in answers:
        assert answer.sheets or answer.findings
        if kind in ("xlsx", "ods"):
            assert answer.findings or answer.sheets == expected
