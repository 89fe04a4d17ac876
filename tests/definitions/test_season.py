"""season.toml: every fault is named by its key, all of them at once; what is right is read exactly."""

from datetime import date
from decimal import Decimal

import pytest
from trial import SEASON

from pipelines.definitions.errors import BrokenSeason
from pipelines.definitions.season import read_season
from pipelines.definitions.starter_season import starter_season


def change(was: str, becomes: str) -> str:
    """The small season with one place changed."""
    assert was in SEASON
    return SEASON.replace(was, becomes, 1)


FAULTS = {
    # what is changed, into what: the key that is named, and a word of what is said
    ('title = "A small season"\n', ""): ("season.title", "missing"),
    ('area = "Test area"', 'area = ""'): ("season.area", ""),
    ("first_day = 2027-02-08", 'first_day = "soon"'): ("season.first_day", "soon"),
    ("last_day = 2027-03-21", "last_day = 2027-01-21"): ("season", "last_day lies before first_day"),
    ('week_ends_on = "sunday"', 'week_ends_on = "domingo"'): ("season.week_ends_on", "domingo"),
    ('week_ends_on = "sunday"', 'currency = "dollars"'): ("season.currency", "dollars"),
    ('week_ends_on = "sunday"', "settle_days = -1"): ("season.settle_days", "-1"),
    ('week_ends_on = "sunday"', 'colour = "red"'): ("season.colour", "not known"),
    ('price = "6.00"', 'price = "6.005"'): ("items[1].price", "two decimals"),
    ('price = "7.25"', 'price = "-7.25"'): ("items[2].price", "-7.25"),
    ('price = "7.25"', "price = 'about 7'"): ("items[2].price", "about 7"),
    ('code = "HRB"', 'code = "gla"'): ("items", "GLA stands twice"),
    ('code = "HRB"', 'code = "H R"'): ("items[2].code", "H R"),
    ('code = "HRB"', 'code = "Cash"'): ("items", "CASH is the name of a column"),
    ("stocked = false", 'stocked = "perhaps"'): ("items[3].stocked", "perhaps"),
    ('price = "7.25"', 'price = "7.25"\npackages_per_case = 0'): ("items[2].packages_per_case", "0"),
    ("from_average = 0", "from_average = 5"): ("proceeds", "starts at from_average = 0"),
    ("from_average = 20", "from_average = 0"): ("proceeds", "above the one before"),
    ('rate = "0.85"', 'rate = "0.85555"'): ("proceeds.tiers[2].rate", "0.85555"),
    ("[[proceeds.tiers]]", '[proceeds]\nper = "head"\n[[proceeds.tiers]]'): ("proceeds.per", "head"),
    ('share = "0.40"', 'share = "1.40"'): ("dues[1].share", "1.40"),
    ("cutoff = 2027-03-07", "cutoff = 2027-03-17"): ("dues[1]", "cutoff lies after"),
    ("on = 2027-03-26", "on = 2027-03-02"): ("dues", "comes after the one before"),
    ("on = 2027-03-26", "on = 2028-03-26"): ("dues", "outside the season"),
}


@pytest.mark.parametrize(("was", "becomes"), FAULTS, ids=[f"{key}: {said}" for key, said in FAULTS.values()])
def test_a_fault_is_named_by_its_key(was: str, becomes: str) -> None:
    key, said = FAULTS[was, becomes]
    with pytest.raises(BrokenSeason) as told:
        read_season(change(was, becomes))
    head, *lines = str(told.value).splitlines()
    assert head == "season.toml needs mending:"
    assert [line.strip().removeprefix("season.toml: ").split(": ")[0] for line in lines] == [key]
    assert said in lines[0]
    assert not any(word in str(told.value) for word in ("pydantic", "Traceback", "Value error", "type="))


def test_all_faults_are_told_at_once() -> None:
    text = SEASON.replace('price = "6.00"', 'price = "6.005"').replace("first_day = 2027-02-08", 'first_day = "soon"')
    with pytest.raises(BrokenSeason) as told:
        read_season(text.replace('rate = "0.85"', 'rate = "much"'))
    for key in ("season.first_day", "items[1].price", "items[3].price", "proceeds.tiers[2].rate"):
        assert f"  {key}: " in str(told.value)


def test_text_that_is_no_toml_names_the_line() -> None:
    with pytest.raises(BrokenSeason, match="line 4"):
        read_season('[season]\ntitle = "x"\n\nfirst_day = yesterday\n')


def test_what_is_right_is_read_exactly() -> None:
    """Prices, rates and shares are decimals as written, with or without quotes; the rest has defaults."""
    season = read_season(change('price = "6.00"', "price = 6.10"))
    assert season.codes["GLA"].price == Decimal("6.10")
    assert (season.proceeds.tiers[1].rate, season.dues[0].share) == (Decimal("0.85"), Decimal("0.40"))
    assert (season.season.settle_days, season.proceeds.per, season.codes["GIV"].stocked) == (5, "taking_part", False)
    assert (season.dues[0].cutoff_on, season.dues[1].cutoff_on) == (date(2027, 3, 7), date(2027, 3, 26))


@pytest.mark.parametrize(("day", "first", "weeks"), [("sunday", 14, 6), ("monday", 8, 7), ("saturday", 13, 7)])
def test_weeks_end_on_the_seasons_day(day: str, first: int, weeks: int) -> None:
    """From Monday 8 February to Sunday 21 March; the last week is the one that holds the last day."""
    season = read_season(change('"sunday"', f'"{day}"'))
    assert season.first_week_ending == date(2027, 2, first)
    assert len(season.week_endings) == weeks
    assert season.week_endings[-1] >= season.season.last_day
    assert [season.week_number(end) for end in season.week_endings] == list(range(1, weeks + 1))
    assert season.week_number(season.season.first_day) == 1


def test_the_season_that_a_new_book_begins_with_is_right() -> None:
    assert len(read_season(starter_season()).items) >= 2
