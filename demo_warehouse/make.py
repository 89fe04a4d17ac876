"""The whole invented season, from nothing to files.

Comes in: a folder, how large, how far, which seed. Goes out: season.toml and inbox/ in that folder.
"""

from collections.abc import Callable
from pathlib import Path

from demo_warehouse import shown_for_it
from demo_warehouse.area import TROOPS as DEMO_TROOPS
from demo_warehouse.area import Setting, make_area, size_and_level
from demo_warehouse.bulk import bulk_tables
from demo_warehouse.feeds import FILES, feeds
from demo_warehouse.papers import Filing, filings, make_mistakes
from demo_warehouse.records import Told
from demo_warehouse.season import Season, dice, season_toml
from demo_warehouse.tables import write_table
from demo_warehouse.treasury import Treasury
from demo_warehouse.troubles import TROUBLES, Plan, Trouble, drawn
from demo_warehouse.workbook import write_workbook
from demo_warehouse.world import World

Progress = Callable[[int, int, str], None]
FORMATS = ("workbooks", "bulk-csv", "bulk-parquet")
SEED = 20270208


def make(
    folder: Path,
    *,
    troops: int = 34,
    weeks: int = 10,
    until_week: int = 6,
    seed: int = SEED,
    troubles: bool = True,
    formats: str = "workbooks",
    progress: Progress | None = None,
) -> None:
    """Writes an invented season into a folder: season.toml and inbox/, the same bytes for the same arguments.

    The first 34 troops are the demo's own, with the troubles of TROUBLES; fewer than 34 are drawn by the seed, and so
    are their troubles. `weeks` is the season's length, reports go up to `until_week`.
    As workbooks: inbox/feeds/ (as known at the end of the last week but one), inbox/week-1/ ... with the workbooks that
    came in that week, and in the last week's folder also feeds/ as known at its end. In bulk: inbox/feeds/ and
    inbox/bulk-2/, before it inbox/bulk-1-first-drafts/ where there are first drafts.
    `progress` is called with (done, all, what). Raises ValueError for sizes that make no season, FileExistsError where
    the folder has an inbox already.
    """
    season = _checked(folder, troops, weeks, until_week, formats)
    plan = Plan(troubles_of(troops=troops, until_week=until_week, seed=seed) if troubles else ())
    setting = Setting(season, make_area(troops, season, seed, plan), plan, seed, until_week)
    steps = Steps(progress, until_week + 2)
    told = World(setting).run(lambda week: steps.done(f"week {week} of the season"))
    shown_for_it.add(setting, told)
    make_mistakes(told.reports, plan)
    accepted = [filing.report for filing in filings(told.reports, plan, until_week) if filing.is_accepted]
    Treasury(setting, told).settle(accepted)
    steps.done("money with the organisation")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "season.toml").write_text(season_toml(season), encoding="utf-8")
    filed = filings(told.reports, plan, until_week)
    if formats == "workbooks":
        _write_workbooks(folder / "inbox", setting, filed, steps)
    else:
        _write_bulk(folder / "inbox", filed, ".csv" if formats == "bulk-csv" else ".parquet")
    _write_feeds(folder / "inbox", setting, told, formats)
    steps.done("feeds")


def troubles_of(*, troops: int = 34, until_week: int = 6, seed: int = SEED) -> list[Trouble]:
    """The troubles that `make` puts into a season of this size."""
    if troops >= len(DEMO_TROOPS):
        return [trouble for trouble in TROUBLES if trouble.week <= until_week]
    codes = [code for code, _, _ in size_and_level(troops, seed)]
    return drawn(codes, until_week, dice(seed, "troubles"))


class Steps:
    """Counts what is done, for whoever wants to show it."""

    def __init__(self, progress: Progress | None, total: int) -> None:
        self.progress, self.total, self.count = progress, total, 0

    def done(self, what: str) -> None:
        """One more step is done."""
        self.count += 1
        if self.progress:
            self.progress(self.count, self.total, what)


def _checked(folder: Path, troops: int, weeks: int, until_week: int, formats: str) -> Season:
    if not (1 <= troops <= 50_000 and 1 <= until_week <= weeks <= 52):
        raise ValueError("a season has 1 to 50,000 troops, 1 to 52 weeks, and reports up to one of its weeks")
    if formats not in FORMATS:
        raise ValueError(f"formats is one of {', '.join(FORMATS)}")
    if (folder / "inbox").exists():
        raise FileExistsError(f"{folder / 'inbox'} is there already: name another folder")
    return Season(weeks)


def _write_workbooks(inbox: Path, setting: Setting, filed: list[Filing], steps: Steps) -> None:
    everyone = {troop.code: [person.code for person in troop.participants] for troop in setting.area}
    steps.total += len(filed)
    for filing in filed:
        write_workbook(filing, everyone[filing.report.troop], inbox / f"week-{filing.landed_week}" / filing.name)
        steps.done(filing.name)


def _write_bulk(inbox: Path, filed: list[Filing], ending: str) -> None:
    drafts = [filing for filing in filed if filing.is_superseded]
    final = [filing for filing in filed if not filing.is_superseded]
    for name, batch in (("bulk-1-first-drafts", drafts), ("bulk-2", final)):
        for table_name, table in bulk_tables(batch).items():
            write_table(table, inbox / name / f"{table_name}{ending}")


def _write_feeds(inbox: Path, setting: Setting, told: Told, formats: str) -> None:
    """The feeds once in bulk; beside workbooks twice, so that the last week's news come with the last week."""
    last = setting.until_week
    known = {inbox / "feeds": last}
    if formats == "workbooks" and last > 1:
        known = {inbox / "feeds": last - 1, inbox / f"week-{last}" / "feeds": last}
    for place, week in known.items():
        for name, table in feeds(setting, told, setting.season.ends(week)).items():
            ending = ".parquet" if formats == "bulk-parquet" else FILES[name]
            write_table(table, place / f"{name}{ending}")
