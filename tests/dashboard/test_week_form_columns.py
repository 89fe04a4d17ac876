"""The week's form on the page: every column that may come in has a label and a kind of field that fits it."""

from trial import SEASON, W1

from dashboard.parts.week_form import LABELS, PARTS, Place, described
from pipelines.definitions.season import read_season
from pipelines.definitions.submissions import BANK_KINDS
from pipelines.workflow.drafts import COVER, columns_of


class Nothing:
    """Readings of a book in which nothing is published yet."""

    def days(self) -> list[object]:
        return []

    def rules(self) -> dict[str, str]:
        return {"currency": "USD"}


def test_every_column_is_asked_for_in_words() -> None:
    season = read_season(SEASON)
    names = {name for sheet in PARTS for name in (COVER if sheet == "cover" else columns_of(sheet, season))}
    assert names - set(season.codes) - LABELS.keys() == {"participant"}  # a row's name, or told apart below


def test_a_row_of_the_bank_says_what_it_is() -> None:
    form = described(Nothing(), Place("0417", W1, read_season(SEASON)))  # type: ignore[arg-type]
    fields = {part["sheet"]: {one["name"]: one for one in part["columns"]} for part in form["parts"]}
    kind = fields["banked"]["kind"]
    assert kind["kind"] == "choice"
    assert {code for code, _told in kind["options"]} == set(BANK_KINDS)
    assert fields["banked"]["participant"]["label"].startswith("Whose cheque")
    assert fields["stalls"]["gift"]["kind"] == "money"
    assert fields["families"]["card"]["label"] == "Card, into our own bank"
