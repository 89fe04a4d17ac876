"""Many areas as one: what they come to together, what is left out and why, and that nobody is told of."""

import hashlib
import shutil
import statistics
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import areas
import pyarrow.parquet as pq
import pytest
from typer.testing import CliRunner

from pipelines.cli import app
from pipelines.definitions.measures import RELATIONS
from pipelines.region import adding, papers, sources
from pipelines.reports.parquet_tables import parquet

W2 = date(2027, 2, 21)
SEEDS = {("north", "hill"): 1, ("north", "vale"): 2, ("south", "hill"): 1}  # one area's codes stand in another too


@dataclass
class Region:
    """Areas' folders, and what each says of itself."""

    folder: Path
    totals: dict[tuple[str, str], dict[str, Any]]
    items: dict[tuple[str, str], list[dict[str, Any]]]
    packages: dict[tuple[str, str], list[int]]
    codes: set[str]

    def area(self, council: str, area: str) -> Path:
        return self.folder / f"council={council}" / f"area={area}"


@pytest.fixture(scope="module")
def region(tmp_path_factory: pytest.TempPathFactory) -> Region:
    """Two areas computed once, one of them a second time under another name."""
    made = Region(tmp_path_factory.mktemp("region"), {}, {}, {}, set())
    of_seed: dict[int, tuple[str, str]] = {}
    for names, seed in SEEDS.items():
        if seed in of_seed:
            shutil.copytree(made.area(*of_seed[seed]), made.area(*names))
            for told in (made.totals, made.items, made.packages):
                told[names] = told[of_seed[seed]]
            continue
        of_seed[seed] = names
        trial = areas.taken_in(tmp_path_factory.mktemp("area"), seed)
        with areas.week_of(trial, W2) as week:
            areas.hand_up(week, made.area(*names))
            made.totals[names], made.items[names] = week.area, week.item_totals
            sold: dict[str, int] = {}
            for row in week.figures.rows("participants", W2):
                if row["is_taking_part"]:
                    sold[row["person"]] = sold.get(row["person"], 0) + row["packages"]
            made.packages[names] = list(sold.values())
            made.codes |= {row["participant"] for row in week.figures.facts("roster")}
    return made


@pytest.fixture(scope="module")
def sums(region: Region) -> adding.Sums:
    found, left = sources.find([region.folder])
    assert not left
    return adding.add_up(found)


def test_the_regions_sums_are_those_of_its_areas_to_the_cent(region: Region, sums: adding.Sums) -> None:
    """For the region, each council and each area; what does not add up is made of what does."""
    assert [sums.level(row["group"]) for row in sums.totals] == ["region", "council", "council", "area", "area", "area"]
    for row in sums.totals:
        named = {value for _name, value in sums.groups[row["group"]]}
        parts = [names for names in SEEDS if named <= set(names)]
        for name, measure in RELATIONS["area"].items():
            if measure.is_added_up and measure.name not in ("top_tenth_packages", "last_season"):
                told = sum((region.totals[part][name] for part in parts), Decimal(0))
                assert row[name] == told, (sums.groups[row["group"]], name)
        packages = sorted((one for part in parts for one in region.packages[part]), reverse=True)
        assert row["median_per_active"] == statistics.median(packages)
        assert row["top_tenth_packages"] == sum(packages[: -(-len(packages) // 10)])
        assert row["share"] == pytest.approx(row["registered_taking_part"] / row["registered"])


def test_an_area_alone_comes_to_what_it_says_of_itself(region: Region, sums: adding.Sums) -> None:
    """Every measure of an area and of its items, ratios, medians and weeks of supply among them."""
    for row in sums.totals[3:]:
        own = region.totals[tuple(value for _name, value in sums.groups[row["group"]])]
        assert {name: value for name, value in row.items() if name != "group"} == {
            name: value for name, value in own.items() if name != "as_of"
        }
    for group, names in ((3, ("north", "hill")), (4, ("north", "vale"))):
        items = [{k: v for k, v in row.items() if k != "group"} for row in sums.items if row["group"] == group]
        assert items == [{k: v for k, v in row.items() if k != "as_of"} for row in region.items[names]]


def test_no_participants_code_leaves_the_area(region: Region) -> None:
    assert region.codes
    for path in region.folder.rglob("*.parquet"):
        frame = pq.read_table(path)
        assert "participant" not in frame.column_names
        for column in frame.columns:
            assert not region.codes & {value for value in column.to_pylist() if isinstance(value, str)}, path
    text = b"".join(path.read_bytes() for path in region.folder.rglob("manifest.json"))
    assert not [code for code in region.codes if code.encode() in text]


def changed(**more: Any) -> Callable[[Path], None]:
    """Changes the terms in an area's manifest."""

    def change(folder: Path) -> None:
        manifest = areas.manifest_of(folder)
        manifest["region"] |= more
        areas.write_manifest(folder, manifest)

    return change


def one_price_more(folder: Path) -> None:
    manifest = areas.manifest_of(folder)
    manifest["region"]["items"][0]["price"] = "9.99"
    areas.write_manifest(folder, manifest)


def a_byte_more(folder: Path) -> None:
    path = folder / "tables/region/items.parquet"
    path.write_bytes(path.read_bytes() + b"x")


def as_written_before(folder: Path) -> None:
    manifest = areas.manifest_of(folder)
    del manifest["region"]
    areas.write_manifest(folder, manifest)


def in_another_folder(folder: Path) -> None:
    shutil.copytree(folder, folder.parents[1] / "copied" / folder.parent.name / folder.name)


def cut_by_troop(folder: Path) -> None:
    shutil.copytree(folder, folder / "troop=0417")
    (folder / "manifest.json").unlink()


REASONS: dict[str, Callable[[Path], None]] = {
    "is not as its manifest says": a_byte_more,
    "the table sellers is missing": lambda folder: (folder / "tables/region/sellers.parquet").unlink(),
    "another currency": changed(currency="EUR"),
    "another season": changed(season=["Another", "2026-02-08", "2026-04-18"]),
    "another day on which weeks end": changed(week_ends_on="saturday"),
    "other items or prices": one_price_more,
    "an older format": as_written_before,
    "a newer format": changed(format=99),
    "its manifest cannot be read": lambda folder: (folder / "manifest.json").write_text("{", encoding="utf-8"),
    "purged": lambda folder: (folder / "purged.json").write_text("{}", encoding="utf-8"),
    "the same area twice": in_another_folder,
    "a part of an area": cut_by_troop,
    "no roll-up in it": lambda folder: (folder / "manifest.json").unlink(),
}


@pytest.mark.parametrize("reason", REASONS)
def test_an_area_is_whole_or_left_out_with_its_reason(region: Region, tmp_path: Path, reason: str) -> None:
    shutil.copytree(region.folder, tmp_path / "region")
    REASONS[reason](tmp_path / "region" / "council=north" / "area=vale")
    found, left = sources.find([tmp_path / "region"])
    assert len(left) == 1
    assert left[0].folder.name == ("troop=0417" if reason == "a part of an area" else "area=vale")
    assert reason in left[0].reason
    assert len(found) == (3 if reason == "the same area twice" else 2)


@pytest.mark.parametrize("area", ["hill", "vale"])
@pytest.mark.parametrize("table", ["troops", "items", "sold"])
def test_an_area_whose_table_lacks_a_column_is_left_out(region: Region, tmp_path: Path, area: str, table: str) -> None:
    """However true its manifest is, and though it is the first of all: nothing is added up as if it were none."""
    shutil.copytree(region.folder, tmp_path / "region")
    folder = tmp_path / "region" / "council=north" / f"area={area}"
    path = folder / f"tables/region/{table}.parquet"
    frame = pq.read_table(path)
    path.write_bytes(parquet(frame.drop_columns([frame.column_names[-1]])))
    manifest = areas.manifest_of(folder)
    manifest["files"][f"tables/region/{table}.parquet"] = hashlib.sha256(path.read_bytes()).hexdigest()
    areas.write_manifest(folder, manifest)
    sums, left = adding.added(*sources.find([tmp_path / "region"]))
    assert [(one.folder, one.reason) for one in left] == [
        (folder, f"the table {table} has other columns than most areas'")
    ]
    assert sums is not None
    assert len(sums.areas) == 2


def test_an_areas_own_roll_up_and_the_organisations_are_one_area(region: Region, tmp_path: Path) -> None:
    for name in ("2027-02-21", "2027-02-21-for-organisation"):
        shutil.copytree(region.area("north", "vale"), tmp_path / "area=vale" / name)
    found, left = sources.find([tmp_path])
    assert (len(found), left) == (1, [])


def test_an_older_week_is_taken_with_its_day(region: Region, tmp_path: Path) -> None:
    shutil.copytree(region.folder, tmp_path / "region")
    folder = tmp_path / "region" / "council=north" / "area=vale"
    areas.write_manifest(folder, areas.manifest_of(folder) | {"as_of": "2027-02-14", "week": 1})
    found, left = sources.find([tmp_path / "region"])
    assert not left
    made = adding.add_up(found)
    rows = papers.tables(made, left)["region"]
    days = {row["area"]: row["as_of"].isoformat() for row in rows if row["council"] == "north"}
    assert days == {"": "2027-02-21", "hill": "2027-02-21", "vale": "2027-02-14"}
    whole = made.totals[0]["packages_sold"]
    own = next(row for row in made.totals if dict(made.groups[row["group"]]).get("area") == "vale")
    assert 0 < own["packages_sold"] < region.totals["north", "vale"]["packages_sold"]
    assert whole == own["packages_sold"] + 2 * region.totals["north", "hill"]["packages_sold"]


def test_the_command_says_what_it_left_out(region: Region, tmp_path: Path) -> None:
    """0: all added up; 1: some left out; 2: none left, and nothing made. The same areas give the same bytes."""
    shutil.copytree(region.folder, tmp_path / "region")
    out = tmp_path / "out"
    asked = ["region", "rollup", str(tmp_path / "region"), "--out"]
    first, again = (CliRunner().invoke(app, [*asked, str(place)]) for place in (out, tmp_path / "again"))
    assert (first.exit_code, again.exit_code) == (0, 0), first.output
    for path in out.rglob("*.*"):
        if path.name != "manifest.json":
            assert path.read_bytes() == (tmp_path / "again" / path.relative_to(out)).read_bytes()
    a_byte_more(tmp_path / "region" / "council=north" / "area=vale")
    some = CliRunner().invoke(app, [*asked, str(out)])
    assert some.exit_code == 1
    assert "area=vale: the table items is not as its manifest says" in some.output
    assert "2 areas with 8 troops" in some.output
    assert "area=vale" in (out / "left_out.csv").read_text(encoding="utf-8")
    none = CliRunner().invoke(app, ["region", "rollup", str(tmp_path / "nowhere"), "--out", str(tmp_path / "none")])
    assert none.exit_code != 0
    assert not (tmp_path / "none").exists()
