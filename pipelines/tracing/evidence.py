"""All that figures of one troop rest on, up to a day: its entries and rows, each with the cell that it stands in.

Comes in: Figures, a troop, a day. Goes out: rows, read once when asked for, and the Cell of any column of a row.
"""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any

from pipelines.figures.figures import Evident, Figures
from pipelines.tracing.terms import Cell

Row = dict[str, Any]


class Evidence:
    """The rows of one troop that count by a day, or that count by any day before it."""

    def __init__(self, figures: Figures, troop: str, as_of: date) -> None:
        self.figures, self.troop, self.as_of = figures, troop, as_of
        self.rules = figures.rules()
        self.items = {row["code"]: row for row in figures.season_items()}
        self.tiers = figures.season_tiers()
        self.season_dues = figures.season_dues()
        self.kinds = {row["kind"]: row["what"] for row in figures.kinds()}
        self._season_no, self._season_name = figures.files.season()
        self._rows: dict[Evident, list[Row]] = {}
        self._names: dict[int, str] = {self._season_no: self._season_name}
        self._places: dict[tuple[int, str, str, str, str | None], tuple[str, int | None]] = {}
        self._placed: set[int] = set()

    def rows(self, evident: Evident) -> list[Row]:
        """The troop's rows of one kind, up to the day, in their order."""
        if evident not in self._rows:
            self._rows[evident] = self.figures.evidence(evident, self.troop, self.as_of).to_pylist()
            self._find_places(row["file_no"] for row in self._rows[evident] if row.get("file_no") is not None)
        return self._rows[evident]

    def _find_places(self, file_nos: Iterable[int]) -> None:
        new = set(file_nos) - self._placed
        if new:
            self._placed |= new
            self._names |= self.figures.files.names(new)
            for row in self.figures.files.places(new):
                key = (row["file_no"], row["table_name"], row["sheet"], row["column_name"], row["item"])
                self._places[key] = (row["letters"], row["row_no"])

    @cached_property
    def entries(self) -> list[Row]:
        """Every number that counts in money or packages."""
        return self.rows("entries")

    def families(self, day: date) -> list[str]:
        """Everyone with a row of families or a settlement by a day, or an order that pays for one."""
        kinds = {"hand_order", "settlement"}
        return sorted({
            row["participant"] for row in self.entries
            if row["participant"] and row["on_day"] <= day and (row["table_name"] == "families" or row["kind"] in kinds)
        })  # fmt: skip

    def cell(self, row: Row, table: str, column: str, value: Any, factor: Decimal | int = 1, note: str = "") -> Cell:
        """The cell of a column of a row."""
        where = (row["file_no"], table, row["sheet"], column)
        place = self._places.get((*where, row.get("item"))) or self._places.get((*where, None)) or ("", None)
        letters, row_no = place
        name = self._names.get(row["file_no"], "")
        return Cell(
            row["file_no"], name, row["sheet"], f"{letters}{row_no or row['row_no']}", value, Decimal(factor), note
        )

    def rule(self, key: str, value: Any, factor: Decimal | int = 1) -> Cell:
        """A value that season.toml states, by its key."""
        return Cell(self._season_no, self._season_name, "", key, value, Decimal(factor))
