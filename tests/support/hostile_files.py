"""Broken, hostile and odd files by name, each made by code: what is told of it, or its cells.

Comes in: nothing. Goes out: CASES. A case's bytes are made when asked for.
"""

import io
import random
import re
import struct
import zipfile
from collections.abc import Callable
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

from pipelines.definitions.records import CellFault

# ruff: noqa: S311 - chance that repeats is wanted here
CALC = Path(__file__).parents[1] / "fixtures" / "calc"
GOOD = CALC / "0417 week 2027-02-14.xlsx"
MEGABYTE = 1_000_000


@dataclass
class Case:
    """A file; what is told of it (a part of `found`, several of them divided by |), and the rows of its first sheet.

    With rows, what is told is a note.
    """

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


def in_a_ring(payload: bytes) -> bytes:
    """An old workbook in whose list of sectors one names itself as the next."""
    at = (struct.unpack_from("<I", payload, 76)[0] + 1) * 512
    return payload[: at + 4 * 3] + struct.pack("<I", 3) + payload[at + 4 * 4 :]


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


def parts_of_two() -> dict[str, str | bytes]:
    """The parts of a workbook of two sheets."""
    with zipfile.ZipFile(io.BytesIO(written({"A": [["a"]], "B": [["b"]]}))) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def swapped(parts: dict[str, str | bytes], one: str, other: str) -> dict[str, str | bytes]:
    return parts | {one: parts[other], other: parts[one]}


def without_second_sheet(name: str, part: bytes) -> bytes:
    return re.sub(rb'<sheet name="B"[^>]*>', b"", part) if name == "xl/workbook.xml" else part


def damaged_page() -> bytes:
    """A table whose pages carry checksums, one value of it altered."""
    held = io.BytesIO()
    table = pa.table({"a": [9_876_543_210]})
    pq.write_table(
        table, held, compression="none", use_dictionary=False, write_statistics=False, write_page_checksum=True
    )
    value = (9_876_543_210).to_bytes(8, "little")
    return held.getvalue().replace(value, (9_876_543_211).to_bytes(8, "little"))


MHTML = (
    b"From: <Saved by an office>\r\nSubject: week 5\r\nDate: Sun, 14 Mar 2027 18:00:00 -0000\r\nMIME-Version: 1.0\r\n"
    b'Content-Type: multipart/related; type="text/html"; boundary="x"\r\n\r\n--x\r\n<html></html>'
)
MAIL = (
    b"Return-Path: <jo@example.org>\r\nReceived: by mail.example.org\r\nFrom: jo@example.org\r\nSubject: week 5\r\n"
    b'MIME-Version: 1.0\r\nContent-Type: multipart/mixed; boundary="x"\r\n\r\n--x\r\n'
)
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
    "page that begins with a style": Case(
        lambda: b"\n<!-- made by an office -->\n<style>td{}</style><table><tr><td>1</table>", "a web page", name="a.xls"
    ),
    "page that begins with a row": Case(lambda: b"<tr><td>0417</td></tr>", "a web page", name="a.xls"),
    "page saved as one file": Case(lambda: MHTML, "a web page saved as one file (MHTML)", name="a.xls"),
    "mail with a workbook": Case(lambda: MAIL, "a mail", name="week 5.eml"),
    "SYLK": Case(lambda: b'ID;PWXL;N;E\r\nP;PGeneral\r\nC;Y1;X1;K"troop"\r\nE\r\n', "SYLK", name="a.slk"),
    "DIF": Case(lambda: b'TABLE\r\n0,1\r\n"x"\r\n', "DIF", name="a.dif"),
    "workbook saved as XML": Case(
        lambda: b'<?xml version="1.0"?>\n<Workbook xmlns="urn:schemas-microsoft-com:office:spreadsheet"/>',
        "an old workbook saved as XML",
        name="a.xls",
    ),
    "XML spreadsheet of 2003": Case(lambda: b'<?xml version="1.0"?><Workbook/>', "an XML document", name="a.xls"),
    "UTF-16 web page": Case(lambda: "<HTML>hi</HTML>".encode("utf-16"), "a web page", name="a.xls"),
    "JSON": Case(lambda: b'[{"troop": "0417"}]', "a JSON document", name="a.csv"),
    "text document (Word)": Case(
        lambda: zipped({"[Content_Types].xml": "x", "word/document.xml": "x"}), "text document"
    ),
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
    "old workbook cut in half": Case(
        lambda: old_workbook()[:1500], "some other program, or a damaged one", name="a.xls"
    ),
    "old workbook whose sectors run in a ring": Case(
        lambda: in_a_ring(CALC.joinpath("0417 week 2027-02-14.xls").read_bytes()), "runs in a ring", name="a.xls"
    ),
    "OpenDocument cut in half": Case(lambda: ods(ods_row())[:600], DAMAGED, name="a.ods"),
    "OpenDocument without content": Case(
        lambda: zipped({"mimetype": "application/vnd.oasis.opendocument.spreadsheet"}), DAMAGED, name="a.ods"
    ),
    "OpenDocument that breaks off": Case(
        lambda: edited(ods(ods_row()), lambda name, part: part[:-40] if name == "content.xml" else part), DAMAGED
    ),
    "Parquet cut in half": Case(lambda: parquet(pa.table({"a": [1]}))[:60], "damaged Parquet", name="a.parquet"),
    "Parquet with a damaged page": Case(damaged_page, "damaged Parquet", name="a.parquet"),
    "Parquet whose text is no UTF-8": Case(
        lambda: parquet(pa.table({"a": ["caf\u00e9"]})).replace("caf\u00e9".encode(), b"caf\xe9\xe9"),
        "damaged Parquet",
        name="a.parquet",
    ),
    "Parquet, first bytes only": Case(lambda: b"PAR1", "damaged Parquet", name="a.parquet"),
    "sheet that is no XML": Case(lambda: zipped(raw_parts("<sheetData><row>")), DAMAGED),
    "no workbook part": Case(lambda: without("xl/workbook.xml"), DAMAGED),
    "no sheet part": Case(lambda: without("xl/worksheets/sheet1.xml"), "cannot be understood|damaged|without a sheet"),
    "no relationships": Case(lambda: without("xl/_rels/workbook.xml.rels"), DAMAGED),
    "no shared texts": Case(lambda: without("xl/sharedStrings.xml"), rows=[]),
    "text number that is not there": Case(lambda: raw_xlsx(row(1, '<c r="A1" t="s"><v>5</v></c>')), DAMAGED),
    "number that is none": Case(lambda: raw_xlsx(row(1, '<c r="A1"><v>1,5</v></c>')), DAMAGED),
    "cell in row 0": Case(lambda: raw_xlsx(row(1, '<c r="A0"><v>1</v></c>') + row(2, "")), "stands in row 0"),
    "value whose type says that it stands elsewhere": Case(
        lambda: raw_xlsx(row(1, '<c r="A1" t="inlineStr"><v>36</v></c>')), "does not fit their type"
    ),
    "one sheet of two without its part": Case(
        lambda: zipped({n: c for n, c in parts_of_two().items() if n != "xl/worksheets/sheet2.xml"}),
        "cells of a sheet that it lists are missing",
    ),
    "another part in a sheet's place": Case(
        lambda: zipped(parts_of_two() | {"xl/worksheets/sheet2.xml": "<Properties/>"}),
        "cells of a sheet that it lists are missing",
    ),
    "two parts in each other's place": Case(
        lambda: zipped(swapped(parts_of_two(), "[Content_Types].xml", "xl/worksheets/sheet2.xml")), DAMAGED
    ),
    "part with cells that no sheet names": Case(
        lambda: edited(written({"A": [["a"]], "B": [["b"]]}), without_second_sheet), "some of its cells cannot be found"
    ),
    "place named twice": Case(
        lambda: raw_xlsx(row(1, '<c r="A1"><v>1</v></c>', '<c r="A1"><v>2</v></c>')), "stand twice in one place"
    ),
    "strict form, with an error": Case(
        lambda: edited(
            raw_xlsx(row(1, '<c r="A1" t="e"><v>#N/A</v></c>')),
            lambda _, part: part.replace(
                b"http://schemas.openxmlformats.org/spreadsheetml/2006/main",
                b"http://purl.oclc.org/ooxml/spreadsheetml/main",
            ),
        ),
        "damaged|without a sheet",
    ),
    "part twice": Case(lambda: twice(written({"Stock": [["a"]]})), DAMAGED),
    "part twice in other letters": Case(lambda: with_part("XL/Worksheets/SHEET1.XML"), DAMAGED),
    "packed with LZMA": Case(lzma_packed, DAMAGED),
    "ten thousand parts": Case(
        lambda: zipped({"[Content_Types].xml": ""} | {f"xl/p{k}.xml": "" for k in range(10_000)}), "10,001 parts"
    ),
    # made to eat memory or time
    "two cells 17 billion apart": Case(
        lambda: one_cell_apart("XFD1048576"), "far from the table, in XFD1048576", cell="XFD1048576"
    ),
    "cells a million rows apart, many": Case(
        lambda: raw_xlsx("".join(row(k * 99, f'<c r="XFD{k * 99}"><v>1</v></c>') for k in range(1, 3000))),
        "very far apart",
    ),
    "dimension that claims 17 billion cells": Case(
        lambda: zipped(
            raw_parts('<dimension ref="A1:XFD1048576"/><sheetData>' + row(1, '<c r="A1"><v>1</v></c>') + "</sheetData>")
        ),
        rows=[[1]],
    ),
    "sheet that unpacks to 70 MB": Case(
        lambda: bomb(
            "xl/worksheets/sheet1.xml", f"<worksheet {MAIN}><sheetData>", "</sheetData></worksheet>", 70 * MEGABYTE
        ),
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
            ods(ods_row()),
            lambda name, part: (
                part.replace(b"?>", b"?><!DOCTYPE x [<!ENTITY y 'z'>]>", 1) if name == "content.xml" else part
            ),
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
            ods_row(ods_cell("float", "1", "1"))
            + ods_row(ods_cell(more='table:number-columns-repeated="16384"'), repeated=1_048_575)
        ),
        rows=[[1]],
        name="a.ods",
    ),
    "a million empty formatted rows": Case(
        lambda: raw_xlsx(
            row(1, '<c r="A1"><v>1</v></c>') + "".join(f'<row r="{k}" ht="9"/>' for k in range(2, 1_000_001))
        ),
        rows=[[1]],
    ),
    "a hundred thousand empty formatted cells and an error": Case(
        lambda: raw_xlsx(
            row(1, '<c r="A1" t="e"><v>#N/A</v></c>')
            + "".join(f'<row r="{k}"><c r="C{k}" s="1"/></row>' for k in range(2, 100_001))
        ),
        rows=[[FAULT]],
    ),
    "large workbook that needs the careful way": Case(
        lambda: raw_xlsx(
            row(1, '<c r="A1" t="e"><v>#N/A</v></c>')
            + "".join(row(k, f'<c r="A{k}"><v>{k}</v></c>') for k in range(2, 300_000))
        ),
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
    "quotation mark that is never closed": Case(lambda: b'a,b\n1,"2\n3,4\n', "does not close", name="a.csv", cell="A2"),
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
    "UTF-16 cut within a character": Case(lambda: "a,b\n1,2".encode("utf-16")[:-1], "UTF-16 that is cut", name="a.csv"),
    "UTF-8 with a damaged character": Case(
        lambda: "a,b\nZoë,1\nRené,2\nJosé,3\n".encode().replace("é,2".encode(), b"\xc3,2"),
        "damaged, in a text that is otherwise UTF-8",
        name="a.csv",
        cell="A3",
    ),
    "encoding that cannot be told": Case(lambda: b"a,b\n1,\x81\x8d\n", "cannot be told", name="a.csv", cell="A2"),
    "older Windows encoding": Case(
        lambda: "a,b\n1,é\n".encode("cp1252"), "cp1252", rows=[["a", "b"], ["1", "é"]], name="a.csv"
    ),
    "a line that names the separator, and no more": Case(
        lambda: b"sep=;\n", "no line below the one that names the separator", name="a.csv"
    ),
    "a last line without a line end": Case(
        lambda: b"a,b\n1,2", "a last line without a line end", rows=PLAIN, name="a.csv", cell="A2"
    ),
    "a line with a separator more": Case(
        lambda: b"a,b\n,1,\n3,4\n",
        "more separators than the others",
        rows=[["a", "b", None], ["", "1", ""], ["3", "4", None]],
        name="a.csv",
        cell="A2",
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
    "10,000 columns": Case(lambda: written({"S": [list(range(10_000))]}), "far from the table, in NTP1"),
    "10,000 columns of text": Case(lambda: b",".join([b"x"] * 10_000), rows=[["x"] * 10_000], name="a.csv"),
    "name of 200 characters": Case(lambda: b"a,b\n1,2\n", rows=PLAIN, name="x" * 200 + ".csv"),
    "name with tricks": Case(lambda: b"a,b\n1,2\n", rows=PLAIN, name="../../etc/\x00\u202evsc.exe"),
    "pictures of 30 MB": Case(
        lambda: with_part("xl/media/image1.png", random.Random(1).randbytes(30 * MEGABYTE)), rows=[["a", 1]]
    ),
    "bare stream of an older program": Case(lambda: b"\x09\x08\x10\x00" + bytes(20), DAMAGED, name="a.xls"),
}
