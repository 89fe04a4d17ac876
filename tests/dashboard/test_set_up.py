"""Set up: the season's rules by form, faults beside their fields, comments kept, two people at once."""

import difflib
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from shown_screens import sound, text
from streamlit.testing.v1 import AppTest
from trial import FEEDS, Trial

from dashboard.data import care
from pipelines.definitions.errors import BrokenSeason
from pipelines.definitions.season import read_season
from pipelines.definitions.season_form import Asked, sections, shown, typed, value_at
from pipelines.definitions.season_text import Edits, edited
from pipelines.definitions.starter_season import starter_season

Open = Callable[..., AppTest]
STARTER = starter_season()
ALL = [one for section in sections() for one in section.asked]
COLUMNS = [one for section in sections() for table in section.tables for one in table.columns]
WRONG = {"day": "soon", "hour": "late", "whole": "a few", "number": "a few", "share": "140 %"}


@pytest.mark.parametrize("asked", [*ALL, *COLUMNS], ids=lambda one: f"{one.owner}.{one.path[-1]}")
def test_every_field_takes_what_it_holds_and_says_what_is_wrong(asked: Asked) -> None:
    """What is shown is read back as it is; what is no value is refused in words, without a key of the file."""
    for value in (asked.default, *asked.choices):
        if value:
            assert shown(typed(asked, value)) == value
    if asked.is_needed:
        with pytest.raises(ValueError, match="type something"):
            typed(asked, " ")
    if asked.kind in WRONG:
        with pytest.raises(ValueError, match=r"^[a-z0-9]") as said:
            typed(asked, WRONG[asked.kind])
        assert "_" not in str(said.value)


def test_what_people_type_is_taken() -> None:
    share = next(one for one in COLUMNS if one.path == ("share",))
    price = next(one for one in COLUMNS if one.path == ("price",) and one.owner == "Item")
    assert typed(share, "40 %") == typed(share, "0.40") == Decimal("0.4")
    assert typed(price, "$1,006.50") == Decimal("1006.50")
    with pytest.raises(ValueError, match=r"^type 0\.4, or 40 %$"):
        typed(share, "40")
    with pytest.raises(ValueError, match="at most two decimals"):
        typed(price, "6.505")


def lines_changed(before: str, after: str) -> list[str]:
    told = difflib.unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm="")
    return [line for line in told if line[0] in "+-" and not line.startswith(("---", "+++"))]


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_only_what_is_changed_changes(newline: str) -> None:
    """Each single value set to another: its line alone differs, whatever else stands in the file."""
    written = STARTER.replace("\n", newline)
    season = read_season(written)
    assert edited(written, Edits()) == written
    for asked in ALL:
        if asked.kind not in ("whole", "number", "words") or asked.path[-1] in ("currency", "participant_pattern"):
            continue
        was = value_at(season, asked.path)
        value = f"{was} x".strip() if asked.kind == "words" else was + 1 if was is not None else Decimal(1)
        made = edited(written, Edits({asked.path: value}))
        assert value_at(read_season(made), asked.path) == value
        changed = lines_changed(written, made)
        assert len([line for line in changed if line[0] == "+"]) <= (1 if asked.path[0] in written else 3)
        assert made.count("#") in (written.count("#"), written.count("#") - 1)
        assert made.count("\n") == made.count(newline) or newline == "\n"


def test_rows_come_go_and_keep_their_comments() -> None:
    new = {"code": "NEW", "title": "New", "price": Decimal("3.00")}
    made = edited(STARTER, Edits(tables={("items",): [(0, {"price": Decimal("6.50")}), (2, {}), (None, new)]}))
    assert [one.code for one in read_season(made).items] == ["GLA", "GIV", "NEW"]
    assert lines_changed(STARTER, made)[:2] == ['-price = "6.00"', '+price = "6.50"']
    assert made.count("#") == STARTER.count("#"), "no comment was lost"
    due = {"on": read_season(STARTER).dues[0].on.replace(day=20), "share": Decimal("0.6")}
    made = edited(STARTER, Edits(tables={("dues",): [(0, {}), (1, {}), (None, due)]}))
    assert [one.on.day for one in read_season(made).dues] == [12, 20, 23]


def test_what_is_laid_out_otherwise_is_refused_and_never_written_wrong() -> None:
    inline = STARTER.replace("[care]\nkeep_days = 180", "care = {keep_days = 180}")
    inline = inline.replace("care = {keep_days = 180}", "").replace(
        "[season]", "care = {keep_days = 180}\n\n[season]", 1
    )
    assert read_season(inline).care.keep_days == 180
    try:
        made = edited(inline, Edits({("care", "keep_days"): 90}))
    except BrokenSeason:
        return
    assert read_season(made).care.keep_days == 90


def fill(at: AppTest, **typed_in: str) -> None:
    """Types into fields whose label begins so, and looks at what it changes."""
    for label, value in typed_in.items():
        next(one for one in at.text_input if one.label.startswith(label)).set_value(value)
    next(one for one in at.button if one.label.startswith("Look at")).click().run()


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    trial = Trial(tmp_path_factory.mktemp("set_up"))
    trial.send(**FEEDS)
    return trial


def test_a_change_is_shown_then_kept_and_two_at_once_lose_nothing(trial: Trial, screen: Open) -> None:
    at = screen(trial.book, "set_up")
    base = care.season_text()
    fill(at, Currency="dollars")
    assert "three capital letters" in text(sound(at))
    fill(at, Currency="USD", What="Another sale")
    assert "No published figure of the area." in text(sound(at))
    care.keep_season(base, Edits({("season", "area"): "Elsewhere"}))  # somebody else, meanwhile
    next(one for one in at.button if one.label == "Keep it").click().run()
    season = read_season(care.season_text())
    assert (season.season.title, season.season.area) == ("Another sale", "Elsewhere")
    with pytest.raises(BrokenSeason, match="Somebody else changed season title"):
        care.keep_season(base, Edits({("season", "title"): "Mine"}))


def test_rows_that_are_in_speak_first(trial: Trial, screen: Open) -> None:
    """An item that rows name cannot go: nothing is written."""
    screen(trial.book, "set_up")
    base = care.season_text()
    trial.send(supply="document troop item date packages kind\nOP-9 0417 GLA 2027-02-06 48 opening")
    was = Path(trial.book.season_file).read_bytes()
    number = next(place for place, one in enumerate(read_season(base).items) if one.code == "GLA")
    rows = [(place, {}) for place in range(len(read_season(base).items)) if place != number]
    with pytest.raises(BrokenSeason, match="GLA cannot go"):
        care.keep_season(base, Edits(tables={("items",): rows}))
    assert trial.book.season_file.read_bytes() == was
