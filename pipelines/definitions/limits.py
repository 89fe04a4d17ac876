"""How much may come in: every limit on files, on what is made of them, and on those who send them.

Comes in: nothing. Goes out: constants, and Limits, of which a file meets one set or the other. What is over a limit is
told with a sentence that says which; the work that a file makes grows with what is filled in it, not with where that
stands. A troop's week is small: a busy one of the demo has 400 filled cells and 90 KB of XML.
"""

from typing import NamedTuple


class Limits(NamedTuple):
    """What one file may be, and what reading it may take."""

    name: str
    whose: str  # in a sentence: "at most 250 columns in ..."
    workbook_bytes: int  # packed; pictures included
    text_bytes: int  # of a CSV file
    parquet_bytes: int
    bank_bytes: int  # of a bank's own file (OFX, CAMT)
    unpacked_bytes: int  # of the XML that holds a workbook's cells
    careful_bytes: int  # the same for a workbook that only openpyxl can tell: about 5 MB a second
    sheets: int
    last_row: int  # of a workbook's sheet: the lowest in which a filled cell may stand
    rows: int  # filled ones of one sheet
    columns: int
    area: int  # cells of one sheet from its first to its last row and column, empty ones counted
    cells: int  # filled ones of all sheets together
    characters: int  # of all texts together
    memory_bytes: int  # address space of the reader, of which a process takes far more than it fills
    seconds: float  # of computing for the reader; by the clock three times that

    def bytes_of(self, kind: str) -> int:
        """How large a file of a kind (file_kinds) may be."""
        sizes = {"csv": self.text_bytes, "parquet": self.parquet_bytes, "ofx": self.bank_bytes, "camt": self.bank_bytes}
        return sizes.get(kind, self.workbook_bytes)


class Share(NamedTuple):
    """How much of a kind one account may have under way, and how much may wait."""

    at_once: int
    waiting: int


BULK = Limits(
    "bulk", "a file",
    workbook_bytes=100_000_000, text_bytes=300_000_000, parquet_bytes=1_000_000_000, bank_bytes=20_000_000,
    unpacked_bytes=64_000_000, careful_bytes=12_000_000,
    sheets=255, last_row=1_048_576, rows=1_048_576, columns=1_000, area=20_000_000, cells=5_000_000,
    characters=100_000_000, memory_bytes=3 << 30, seconds=10.0,
)  # fmt: skip
TROOP = Limits(
    "troop", "a troop's workbook",
    workbook_bytes=10 * 2**20, text_bytes=10 * 2**20, parquet_bytes=10 * 2**20, bank_bytes=10 * 2**20,
    unpacked_bytes=16_000_000, careful_bytes=8_000_000,
    sheets=60, last_row=5_000, rows=2_000, columns=250, area=1_000_000, cells=50_000,
    characters=4_000_000, memory_bytes=1 << 30, seconds=5.0,
)  # fmt: skip
LIMITS = {one.name: one for one in (BULK, TROOP)}

# Of any file.
MOST_IN_A_CELL = 32_767  # characters, what a spreadsheet's cell can hold
MOST_IN_A_SHEETS_NAME = 100  # spreadsheet programs take 31
MOST_LAID_OUT = 5_000_000  # cells of a sheet, empty ones between filled ones counted: 40 MB of pointers
MOST_COLUMNS_OF_TEXT = 16_384  # of a CSV file, as many as a spreadsheet can hold
MOST_IN_A_TABLE = 100_000_000  # cells of a CSV file, empty ones counted
MOST_MARKS = 30  # accents in a row on one letter (Unicode Standard Annex 15, stream-safe text): more sort slowly

# Of what is judged.
MOST_PARTICIPANTS = 200  # in one cell
MOST_FINDINGS = 1_000  # of one column of one table in one go; the rest is counted
MOST_FINDINGS_OF_A_WEEK = 500  # of a troop's workbook, and as many notes
MOST_SHOWN = 80  # characters of a value that a finding quotes
LONGEST_LABEL = 60  # characters of what may be a mistyped label

# Of looking a week over before it is sent.
LOOK_OVERS_AT_ONCE = 2  # processes
LOOK_OVERS = Share(at_once=1, waiting=3)  # of one account: they wait for each other
LOOK_OVER_REFUSED_AFTER = 2.0  # seconds: who has too many waiting is not answered faster than the work would be
LOOK_OVER_SECONDS = 20.0  # of computing; by the clock three times that
LOOK_OVER_MEMORY = 3 << 30  # address space

# Of requests. A meeting of leaders may share one address, so that an address has room for many accounts.
UPLOADS = Share(at_once=2, waiting=30)  # of an account; a coordinator drops many files at once
UPLOADS_OF_AN_ADDRESS = Share(at_once=20, waiting=300)
TYPED = Share(at_once=2, waiting=40)  # what one account's devices type into weeks' forms
DOWNLOADS = Share(at_once=2, waiting=20)
DOWNLOADS_OF_ALL = Share(at_once=4, waiting=400)  # statements and workbooks are made when asked for
SOCKETS = 20  # open pages of one account
RUNS = Share(at_once=4, waiting=40)  # of the app for one account: screens that are being made
SOCKETS_OF_AN_ADDRESS = 400
MOST_LEADER_MEGABYTES = 10
MOST_UPLOAD_MEGABYTES = 200
MOST_KEPT_MEGABYTES = 40  # that a leader's one open page has uploaded and not used
MOST_FORM_BYTES = 4096
FORM_SECONDS = 10.0  # for all of a sign-in form
UPLOAD_SECONDS = 30.0  # between two pieces of an upload
HEADER_SECONDS = 10.0  # from a connection's start, or the first byte of a request, to the end of its headers
HALF_OPEN_AT_ONCE = 600
HALF_OPEN_OF_AN_ADDRESS = 200

# Of the log.
MOST_LOGGED = 50_000  # entries; of older ones the oldest go
LOGGED_AGAIN_SECONDS = 600.0  # of refusals alike, the first is written down at once, the rest so late, as a number
MOST_COUNTED = 500  # kinds of refusals that are counted apart
