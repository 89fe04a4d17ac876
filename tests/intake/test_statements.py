"""Banks' statements, OFX 1 and 2, camt.053 of two versions: read whole, or refused in a plain sentence."""

from pathlib import Path

import pytest
from statements import KINDS, Booked, camt, ofx_1, ofx_2

from pipelines.definitions.records import Reading
from pipelines.intake.files.readers import Reader
from pipelines.intake.files.statements import COLUMNS, STATEMENT

LINES = [
    Booked("b1", "2027-03-12", "52.00", "COUNTER DEPOSIT", "4711"),
    Booked("b2", "2027-03-13", "-686.69", "COLLECTED BY A &amp; B"),
    Booked("b3", "2027-03-14", "0.5", "INTEREST"),
    Booked("b4", "2027-03-14", "-15.00", "MONTHLY", code="FEE"),
]


@pytest.fixture(scope="module")
def reader():
    with Reader(seconds_per_file=20) as one:
        yield one


def read(reader: Reader, folder: Path, payload: bytes, name: str = "statement") -> Reading:
    path = folder / name
    path.write_bytes(payload)
    return reader.read(path, name)


@pytest.mark.parametrize("kind", KINDS)
def test_each_line_as_the_bank_has_it(reader: Reader, tmp_path: Path, kind: str) -> None:
    lines = [one._replace(code="CHRG") if one.code and "camt" in kind else one for one in LINES]
    reading = read(reader, tmp_path, KINDS[kind](lines))
    assert reading.findings == []
    assert reading.sheets[0].name == STATEMENT
    header, *rows = reading.sheets[0].rows or []
    assert tuple(header) == COLUMNS
    told = [dict(zip(COLUMNS, (str(cell) for cell in [*row, "", ""]), strict=False)) for row in rows]
    assert [(one["line"], one["date"], one["amount"], one["text"], one["reference"], one["kind"]) for one in told] == [
        ("b1", "2027-03-12", "52.00", "COUNTER DEPOSIT", "4711", ""),
        ("b2", "2027-03-13", "-686.69", "COLLECTED BY A & B", "", ""),
        ("b3", "2027-03-14", "0.50", "INTEREST", "", ""),
        ("b4", "2027-03-14", "-15.00", "MONTHLY", "", "fee"),
    ]
    assert {one["account"][-4:] for one in told} == {"4711"}
    assert {one["currency"] for one in told} == {"USD"}


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_cut_anywhere_is_refused(reader: Reader, tmp_path: Path, kind: str) -> None:
    """Never a shorter statement that looks whole."""
    whole = KINDS[kind](LINES)
    for part in (0.3, 0.55, 0.7, 0.9, 0.99):
        reading = read(reader, tmp_path, whole[: int(len(whole) * part)])
        assert reading.sheets == [], part
        assert reading.findings[0].how


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("old", "new"),
    [("52.00", "5Z.00"), ("52.00", "52.001"), ("52.00", "1,052.00"), ("52.00", ""), ("2027-03-12", "2027-13-12")],
)
def test_a_line_that_cannot_be_sure_stops_the_file(
    reader: Reader, tmp_path: Path, kind: str, old: str, new: str
) -> None:
    first = LINES[0]._replace(**{"amount": new} if old == "52.00" else {"day": new})
    reading = read(reader, tmp_path, KINDS[kind]([first, *LINES[1:]]))
    assert reading.sheets == []
    assert "cannot be read" in reading.findings[0].found


def test_a_decimal_comma_is_one(reader: Reader, tmp_path: Path) -> None:
    """OFX 3.2.9.1: an amount may be written with a comma, never with marks between thousands."""
    rows = read(reader, tmp_path, ofx_1([LINES[0]._replace(amount="+1052,5")])).sheets[0].rows or []
    assert rows[1][4] == "1052.50"


def test_lines_without_a_number_of_their_own_get_one_and_the_same_again(reader: Reader, tmp_path: Path) -> None:
    twins = [Booked("", "2027-03-12", "52.00"), Booked("", "2027-03-12", "52.00"), Booked("", "2027-03-13", "52.00")]
    names = [row[2] for row in (read(reader, tmp_path, ofx_2(twins)).sheets[0].rows or [])[1:]]
    assert names == ["2027-03-12/52.00", "2027-03-12/52.00#2", "2027-03-13/52.00"]


def test_what_is_not_booked_is_left_out_and_told(reader: Reader, tmp_path: Path) -> None:
    mixed = camt(LINES).replace(b"<Sts>BOOK</Sts>", b"<Sts>PDNG</Sts>", 1)
    reading = read(reader, tmp_path, mixed)
    assert len(reading.sheets[0].rows or []) == 4
    assert [(one.found, one.is_note) for one in reading.findings] == [("an entry that the bank has not booked", True)]


BOMB = b"""<?xml version="1.0"?><!DOCTYPE Document [<!ENTITY a "aaaaaaaaaa">%s]>
<Document xmlns="urn:iso:std:iso:20022:tech:xsd:camt.053.001.02">
<BkToCstmrStmt><Stmt><Id>&j;</Id></Stmt></BkToCstmrStmt></Document>
""" % b"".join(b'<!ENTITY %c "%s">' % (k, b"&%c;" % (k - 1) * 10) for k in range(ord("b"), ord("k")))

BOMB_IN_OFX = ofx_2(LINES).replace(b"MONTHLY", b"&a;").replace(b"<OFX>", b'<!DOCTYPE OFX [<!ENTITY a "aaaa">]><OFX>', 1)

HOSTILE = {
    "an entity bomb": BOMB,
    "a bomb in OFX 2": BOMB_IN_OFX,
    "an outside file": BOMB.replace(b'"aaaaaaaaaa"', b'SYSTEM "file:///etc/passwd"'),
    "deep nesting": camt(LINES).replace(b"<Ustrd>", b"<x>" * 100_000, 1),
    "open tags without end": ofx_1(LINES).replace(b"<STMTTRN>", b"<STMTTRN>" * 100_000, 1),
    "a text of 10 MB": camt([LINES[0]._replace(text="A" * 10_000_000)]),
    "a hundred thousand lines": ofx_2([LINES[0]] * 100_000),
    "zeros": b"OFXHEADER:100\n" + b"\x00" * 100_000,
    "another encoding": camt(LINES).replace(b"UTF-8", b"UTF-99"),
    "only a beginning": b"<OFX>",
    "no lines": ofx_1([]),
    "lists in lists": ofx_1(LINES).replace(b"<BANKTRANLIST>", b"<BANKTRANLIST><BANKTRANLIST>"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files_end_in_a_sentence(reader: Reader, tmp_path: Path, name: str) -> None:
    reading = read(reader, tmp_path, HOSTILE[name])
    if name == "a text of 10 MB":
        assert len(str((reading.sheets[0].rows or [])[1][6])) == 500
    elif name == "a bomb in OFX 2":
        assert (reading.sheets[0].rows or [])[4][6] == "&a;"
    else:
        assert reading.sheets == []
        assert reading.findings[0].found
        assert reading.findings[0].how
    assert read(reader, tmp_path, ofx_1(LINES)).sheets, "the reader goes on"
