"""A bank's statement, OFX/QFX or camt.053 → its lines.

Comes in: the file's bytes. Goes out: Contents with one sheet (STATEMENT) of COLUMNS: the account's number, the bank's
own number of the line, its day, its amount as text (signed: out of the account is negative), what the bank wrote.

Sources: OFX 1.0.2, 1.6 and 2.x, sections 2.3 (SGML without end tags of elements), 3.2.8 and 3.2.9 (days, amounts), 11.4
(STMTTRN); ISO 20022 camt.053.001.02 to .13 (BankToCustomerStatement: Stmt, Acct, Ntry). Codes of kinds: from memory.

Read here and by no library (tried in November 2026): ofxparse 0.21 and bankfile 0.2 take a file that was cut short for
a shorter or an empty one and say nothing; ofxtools 1.1 refuses it, but refuses a whole one without a closing balance
too, and knows no camt.053; camt053 0.0.23 brings 50 packages, a web server among them. The few elements that matter are
two pages of code. OFX is told by its tags alone, in either version, so that no entity is ever resolved; camt.053 by
expat, which is stopped at a document type, where every entity bomb begins. Both must end as they begin: a file that was
cut off, or of which a line has no day or amount, is refused as a whole.
"""

import re
from datetime import date
from decimal import Decimal
from html import unescape
from typing import NamedTuple
from xml.parsers import expat

from pipelines.intake.files.texts import as_utf8
from pipelines.intake.files.wire import Cells, Contents, Told, Unreadable, note, unreadable

STATEMENT = "bank statement"
COLUMNS = ("account", "currency", "line", "date", "amount", "reference", "text", "kind")
MOST_LINES = 20_000
MOST_TEXT = 500  # characters of one element; a bank's own limit is 140 (camt.053) or 255 (OFX)
DEEPEST = 60
WHOLE = "a statement that is whole"
FETCH_AGAIN = "Fetch it from the bank once more, and send that."
TAG = re.compile(r"<(/?)([A-Za-z0-9_.]+)\s*(/?)>([^<]*)")
AMOUNT = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")
OFX_KINDS = {"FEE": "fee", "SRVCHG": "fee", "DEP": "deposit"}
ISO_KINDS = {"CHRG": "fee", "FEES": "fee", "COMM": "fee", "CDPT": "deposit", "UPCQ": "returned_cheque"}


class Line(NamedTuple):
    """One line of an account, every cell as text but its day."""

    account: str
    currency: str
    line: str
    date: date
    amount: str
    reference: str
    text: str
    kind: str


def read_statement(payload: bytes, kind: str) -> Contents:
    """The lines of a statement (kind `ofx` or `camt`); raises Unreadable."""
    lines, told = (_read_ofx if kind == "ofx" else _read_camt)(payload)
    if not lines:
        raise unreadable("a statement without a booked line", "at least one line", "Choose a longer time at the bank.")
    rows: list[list[object]] = [list(COLUMNS), *(list(line) for line in _numbered(lines))]
    return Contents([Cells(STATEMENT, rows, [])], told)


def _numbered(lines: list[Line]) -> list[Line]:
    """The lines, each with a number of its own: the bank's where it gives one, else made of day, amount and place."""
    seen: dict[tuple[str, str], int] = {}
    out = []
    for line in lines:
        name = line.line or f"{line.date.isoformat()}/{line.amount}"
        count = seen[line.account, name] = seen.get((line.account, name), 0) + 1
        out.append(line._replace(line=name if count == 1 else f"{name}#{count}"))
    return out


def _amount(stated: str, where: str) -> Decimal:
    """An amount with a point or a comma before at most two decimals, and nothing between thousands."""
    text = stated.strip()
    if AMOUNT.fullmatch(text):
        amount = Decimal(text.replace(",", "."))
        if amount == round(amount, 2) and abs(amount) < 10**10:
            return round(amount, 2)
    raise _broken(f"an amount that cannot be read ({text[:40] or 'empty'})", where)


def _day(stated: str, where: str) -> date:
    """A day, written 20270312… (OFX) or 2027-03-12… (ISO 8601); the time behind it is passed over."""
    digits = stated.strip()[:10].replace("-", "")[:8]
    try:
        return date(int(digits[:4]), int(digits[4:6]), int(digits[6:8]))
    except ValueError:
        raise _broken(f"a day that cannot be read ({stated.strip()[:40] or 'empty'})", where) from None


def _broken(found: str, where: str) -> Unreadable:
    return unreadable(f"{found}, {where}" if where else found, WHOLE, FETCH_AGAIN)


def _plain(text: str) -> str:
    return " ".join(text.split())[:MOST_TEXT]


# OFX


def _read_ofx(payload: bytes) -> tuple[list[Line], list[Told]]:
    body, told = as_utf8(payload)
    text = body.decode("utf-8")
    start = re.search(r"<OFX\s*>", text, re.IGNORECASE)
    if start is None:
        raise _broken("an OFX file without its <OFX>", "")
    if not re.search(r"</OFX\s*>\s*\Z", text, re.IGNORECASE):
        raise _broken("an OFX file that breaks off before its end", "")
    reading = _Ofx()
    for is_end, tag, _is_empty, value in TAG.findall(text, start.start()):
        reading.take(tag.upper(), _plain(unescape(value)), is_end=bool(is_end))
    return reading.done(), [one for one in told if one.is_note]


class _Ofx:
    """What has been read so far: the account that lines are of, and the fields of the line that is open."""

    def __init__(self) -> None:
        self._lines: list[Line] = []
        self._account = self._currency = ""
        self._fields: dict[str, str] | None = None
        self._lists = 0

    def take(self, tag: str, value: str, *, is_end: bool) -> None:
        """The next tag, and the text behind it."""
        if tag == "STMTTRN":
            if is_end == (self._fields is None):
                raise _broken("a line that does not end where it should", self._where())
            if is_end:
                self._end_line()
            else:
                self._fields = {}
        elif tag == "BANKTRANLIST":
            self._lists += -1 if is_end else 1
            if self._fields is not None or self._lists not in (0, 1):
                raise _broken("a list of lines that does not end where it should", self._where())
        elif self._fields is not None and not is_end:
            self._fields.setdefault(tag, value)
        elif tag == "ACCTID" and not is_end:
            self._account = value
        elif tag == "CURDEF" and not is_end:
            self._currency = value.upper()

    def _where(self) -> str:
        return f"at line {len(self._lines) + 1}"

    def _end_line(self) -> None:
        fields, where = self._fields or {}, self._where()
        self._fields = None
        if fields.get("TRNTYPE", "").upper() == "HOLD":
            return  # not booked yet
        amount = _amount(fields.get("TRNAMT", ""), where)
        reference = " ".join(fields[name] for name in ("CHECKNUM", "REFNUM") if fields.get(name))
        text = " ".join(dict.fromkeys(fields[name] for name in ("NAME", "MEMO") if fields.get(name)))
        kind = OFX_KINDS.get(fields.get("TRNTYPE", "").upper(), "")
        day = _day(fields.get("DTPOSTED", ""), where)
        self._lines.append(
            Line(
                self._account,
                self._currency,
                fields.get("FITID", ""),
                day,
                f"{amount:f}",
                reference,
                _plain(text),
                kind,
            )
        )
        _refuse_many(self._lines)

    def done(self) -> list[Line]:
        """The lines; raises Unreadable where something is still open."""
        if self._fields is not None or self._lists:
            raise _broken("an OFX file that breaks off within a line", self._where())
        return self._lines


def _refuse_many(lines: list[Line]) -> None:
    if len(lines) > MOST_LINES:
        raise unreadable(
            f"more than {MOST_LINES:,} lines", "the lines of a season", "Choose a shorter time at the bank."
        )


# camt.053


def _read_camt(payload: bytes) -> tuple[list[Line], list[Told]]:
    reading = _Camt()
    try:
        reading.parser.Parse(payload, True)
    except expat.ExpatError as error:
        raise _broken("a statement that breaks off or is altered", f"in line {error.lineno}") from None
    except (LookupError, ValueError):
        raise _broken("text in an encoding that cannot be told", "") from None
    told = []
    if reading.left_out:
        entries = "an entry" if reading.left_out == 1 else f"{reading.left_out:,} entries"
        found = f"{entries} that the bank has not booked"
        told.append(note(found, "booked entries", "They come with the statement of the day on which they are booked."))
    return reading.lines, told


class _Camt:
    """What has been read so far; expat calls on_start, on_end and on_text. Names are told without their namespace."""

    def __init__(self) -> None:
        self.lines: list[Line] = []
        self.left_out = 0
        self._path: list[str] = []
        self._text: list[str] = []
        self._account: dict[str, str] = {}
        self._fields: dict[str, list[str]] | None = None
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._on_start
        self.parser.EndElementHandler = self._on_end
        self.parser.CharacterDataHandler = self._on_text
        self.parser.StartDoctypeDeclHandler = self._refuse_doctype

    @staticmethod
    def _refuse_doctype(*_declared: object) -> None:
        raise unreadable("a document type within the statement", "a statement as banks write them", FETCH_AGAIN)

    def _on_start(self, name: str, attributes: dict[str, str]) -> None:
        own = name.rpartition(" ")[2]
        self._path.append(own)
        self._text = []
        if len(self._path) > DEEPEST:
            raise _broken("elements within each other without end", "")
        if own == "Stmt":
            self._account = {}
        elif own == "Ntry" and self._fields is None:
            self._fields = {}
        elif own == "Amt" and self._fields is not None and self._within() == "Amt":
            self._fields["Ccy"] = [attributes.get("Ccy", "")]

    def _on_text(self, text: str) -> None:
        if sum(map(len, self._text)) < MOST_TEXT:
            self._text.append(text[:MOST_TEXT])

    def _within(self) -> str:
        """The path of the open element within its entry."""
        last = len(self._path) - 1 - self._path[::-1].index("Ntry")
        return "/".join(self._path[last + 1 :])

    def _on_end(self, _name: str) -> None:
        text, own = _plain("".join(self._text)), self._path[-1]
        self._text = []
        if self._fields is not None:
            if own == "Ntry":
                self._end_entry(self._fields)
                self._fields = None
            elif text:
                self._fields.setdefault(self._within(), []).append(text)
        elif self._path[-3:-1] == ["Acct", "Id"] or self._path[-4:-1] == ["Acct", "Id", "Othr"]:
            if text:
                self._account.setdefault("number", text)
        elif self._path[-2:] == ["Acct", "Ccy"]:
            self._account["currency"] = text
        self._path.pop()

    def _end_entry(self, fields: dict[str, list[str]]) -> None:
        where = f"at entry {len(self.lines) + self.left_out + 1}"

        def first(*paths: str) -> str:
            return next((fields[path][0] for path in paths if path in fields), "")

        state = first("Sts/Cd", "Sts/Prtry", "Sts")
        if state and state != "BOOK":
            self.left_out += 1
            return
        amount, way = _amount(first("Amt"), where), first("CdtDbtInd")
        if amount < 0 or way not in ("CRDT", "DBIT"):
            raise _broken("an entry that says neither in nor out", where)
        day = _day(first("BookgDt/Dt", "BookgDt/DtTm", "ValDt/Dt", "ValDt/DtTm"), where)
        details = "NtryDtls/TxDtls/"
        references = [*fields.get(details + "Refs/EndToEndId", []), *fields.get(details + "Refs/ChqNb", [])]
        told = [*fields.get(details + "RmtInf/Ustrd", []), *fields.get("AddtlNtryInf", [])]
        told += fields.get(details + "RmtInf/Strd/CdtrRefInf/Ref", [])
        signed = amount if way == "CRDT" else -amount
        self.lines.append(
            Line(
                self._account.get("number", ""), self._account.get("currency", "") or first("Ccy"),
                first("AcctSvcrRef", "NtryRef"), day, f"{signed:f}",
                _plain(" ".join(one for one in dict.fromkeys(references) if one != "NOTPROVIDED")),
                _plain(" ".join(dict.fromkeys(told))), ISO_KINDS.get(first("BkTxCd/Domn/Fmly/SubFmlyCd"), ""),
            )
        )  # fmt: skip
        _refuse_many(self.lines)
