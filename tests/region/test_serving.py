"""The page over a region: each sees the part they were given and nothing of another's; the folder stays as it is.

MUSTERBOOK_REGION_SEEDS (2): how many random regions.
"""

import asyncio
import csv
import html
import io
import json
import os
import re
import shutil
import signal
import subprocess
import sys
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import pytest
import rolled_up as invented

from dashboard.web import region_page, region_server
from dashboard.web.gate import Gate
from pipelines import cli
from pipelines.definitions.errors import Stop
from pipelines.definitions.measures import measure
from pipelines.region import people, rolled_up
from pipelines.region.sources import Levels

SEEDS = int(os.environ.get("MUSTERBOOK_REGION_SEEDS", "2"))
TABLES = (*rolled_up.TABLES, "left_out")
GUESSES = ("/region.csv", "/manifest.json", "/tables/region.parquet", "/region.xlsx", "/access.sqlite", "/this_week",
           "/fetch/..%2fregion.csv", "/fetch/region", "/fetch/manifest.json", "/fetch/access.sqlite.csv",
           "/fetch/tables/region.parquet", "/week?troop=council=north&week=2027-03-21", "/static/../manifest.json",
           "/_stcore/health", "/_stcore/stream", "/media/0123.csv")  # fmt: skip


@dataclass
class Served:
    """A region that is served in this process, and its people."""

    folder: Path
    gate: Gate
    access: Any
    said: list[str]

    def let_in(self, name: str, part: Levels) -> dict[str, str]:
        """The cookie of somebody who was given a part."""
        people.let_in(self.access, name, rolled_up.stated(part), by="tests")
        found = self.access.enter_by_link(self.access.link(name, by="tests"))
        assert isinstance(found, tuple)
        return {"cookie": f"musterbook={found[1]}"}

    def get(self, path: str, who: dict[str, str]) -> httpx.Response:
        """One request through the gate."""

        async def asked() -> httpx.Response:
            async with httpx.AsyncClient(
                transport=httpx.ASGITransport(self.gate), base_url="http://127.0.0.1:7"
            ) as one:
                return await one.get(path, headers=who)

        return asyncio.run(asked())

    def table(self, name: str) -> list[dict[str, str]]:
        """A table of the roll-up as its own CSV says."""
        return list(csv.DictReader(io.StringIO((self.folder / f"{name}.csv").read_text(encoding="utf-8"))))


def served(folder: Path, sums: Any) -> Served:
    """A roll-up, served behind the gate."""
    invented.rolled_up(folder, sums)
    access, said = people.people_of(folder), list[str]()
    region = region_server.Region(folder, access, said.append)
    gate = Gate(region, access, region.fetch, region_server.HOSTS)
    return Served(folder, gate, access, said)


@pytest.fixture(params=range(SEEDS))
def region(request: pytest.FixtureRequest, tmp_path: Path) -> Served:
    return served(tmp_path / "out", invented.aged(invented.sums_of(request.param, councils=4)))


def numbers(text: str) -> set[str]:
    """The figures of a page or a table that tell whose they are: of five digits and more, without thousands' marks."""
    plain = re.sub(r"(?<=\d),(?=\d{3}(?:\D|$))", "", html.unescape(text))
    return {one for one in re.findall(r"\d+(?:\.\d+)?", plain) if len(one) > 6}


def figures_of(rows: list[dict[str, str]]) -> set[str]:
    return {one for row in rows for value in row.values() for one in numbers(value or "")}


def parts_of(region: Served) -> list[Levels]:
    return list(rolled_up.read(region.folder).parts)


def is_within(row: dict[str, str], part: Levels) -> bool:
    """Whether a row of a CSV is of a part, by the names that it carries; a formula's name is written with a mark."""
    return all(row[name].removeprefix("'") == value for name, value in part)


def asked_of(part: Levels) -> list[str]:
    """Every address that a page of a part has."""
    return [region_page.address(part), *(region_page.address(part, name) for name in TABLES)]


def test_nobody_sees_a_figure_of_another_part(region: Served) -> None:
    """Every address of every part, asked by somebody of a council and somebody of an area."""
    parts = parts_of(region)
    own_parts = [next(one for one in parts if len(one) == depth) for depth in (1, 2)]
    for own in own_parts:
        who = region.let_in(f"of-{len(own)}", own)
        rows = [row for name in rolled_up.TABLES for row in region.table(name)]
        theirs = figures_of([row for row in rows if is_within(row, own)])
        others = figures_of([row for row in rows if not is_within(row, own)]) - theirs
        assert len(others) > 100
        bodies = [region.get(path, who) for part in parts for path in asked_of(part)]
        bodies += [region.get(path, who) for path in ("/", "/?part=", "/?part=all&part=x", *GUESSES)]
        told = {one for answer in bodies for one in numbers(answer.text)}
        assert not told & others, own
        assert theirs <= told
        assert "secret" not in "".join(answer.text for answer in bodies)
        for part in parts:
            is_theirs = part[: len(own)] == own
            for path in asked_of(part):
                is_kept = is_theirs and "left_out" not in path
                assert region.get(path, who).status_code == (200 if is_kept else 404), (own, path)
        page = region.get("/", who).text
        assert not [one for one in parts if one[:1] and one[:1] != own[:1] and html.escape(one[-1][1]) in page]


def test_nothing_of_another_part_reaches_the_page(region: Served) -> None:
    """What the page is made of holds no row of others, whatever is asked of it."""
    whole = rolled_up.read(region.folder)
    for own in whole.parts[1:]:
        seen = whole.seen_by(own)
        assert {of[: len(own)] for rows in seen.tables.values() for of, _row in rows} == {own}
        assert {one[: len(own)] for one in seen.parts} == {own}
        assert not seen.left_out


def test_without_a_link_there_is_the_sign_in_page_alone(region: Served) -> None:
    for path in [*(path for part in parts_of(region) for path in asked_of(part)), *GUESSES]:
        found = region.get(path, {"accept": "text/html"})
        assert (found.status_code, found.headers["location"][:8]) == (303, "/sign-in"), path
        assert not found.content
        assert not numbers(region.get(path, {"x-musterbook-sign-in": "1" * 64}).text)


def test_a_page_says_what_the_roll_ups_table_says(region: Served) -> None:
    """Of every part: the figures, and those of the levels within it."""
    who = region.let_in("all", ())
    for row in region.table("region"):
        part = tuple((name, row[name].removeprefix("'")) for name in ("council", "area") if row[name])
        text = region.get(region_page.address(part), who).text
        shown = dict(re.findall(r"<dt>([^<]*)</dt><dd>([^<]*?)(?: <small>.*?)?</dd></div>", text))
        for name in ("packages_sold", "owed", "remitted", "past_due", "troops_past_due", "missing"):
            told = shown[html.escape(measure("area", name).label)]
            assert Decimal(told.replace("$", "").replace(",", "")) == Decimal(row[name]), (part, name)
        assert numbers(row["owed"]) <= numbers(text)
        for name in ("items", "orders", "exceptions"):
            listed = [one for one in region.table(name) if is_within(one, part) and one["level"] == row["level"]]
            column = {"items": "packages_sold", "orders": "goods_amount", "exceptions": "at_stake"}[name]
            assert figures_of([{column: one[column]} for one in listed]) <= numbers(text), (part, name)
        within = [one for one in region.table("region") if is_within(one, part) and one["level"] != row["level"]]
        if row["level"] != "area":
            assert figures_of([{"owed": one["owed"]} for one in within if one["level"] > ""]) <= numbers(text)


def test_what_is_fetched_is_the_roll_ups_table(region: Served) -> None:
    """For all: the same bytes. For a part: its lines."""
    who = region.let_in("all", ())
    for name in TABLES:
        assert region.get(region_page.address((), name), who).content == (region.folder / f"{name}.csv").read_bytes()
    for part in parts_of(region)[1:]:
        for name in rolled_up.TABLES:
            fetched = region.get(region_page.address(part, name), who)
            assert fetched.headers["content-disposition"].startswith("attachment")
            lines = list(csv.DictReader(io.StringIO(fetched.text)))
            assert lines == [row for row in region.table(name) if is_within(row, part)], (part, name)


def test_what_is_older_or_left_out_is_told(region: Served) -> None:
    older = invented.sums_of(0)
    who = region.let_in("all", ())
    text = region.get("/", who).text
    assert "Older than the rest" in text
    assert "Sunday 14 March 2027" in text
    assert "secret" in text
    assert "purged" in text
    first = parts_of(region)[1]
    assert "Left out" not in region.get(region_page.address(first), who).text
    assert older.areas[-1].as_of == invented.W6


def test_markup_in_a_folders_name_is_shown_as_text(region: Served) -> None:
    text = region.get("/", region.let_in("all", ())).text
    assert "&lt;i&gt;out&lt;/i&gt;" in text
    assert "<i>" not in text


def test_a_withdrawn_link_opens_nothing(region: Served) -> None:
    own = parts_of(region)[1]
    who = region.let_in("gone", own)
    assert region.get("/", who).status_code == 200
    region.access.withdraw("gone", by="tests")
    assert region.get("/", who).status_code == 303
    assert region.get(region_page.address(own, "region"), who).status_code == 401
    other = region.let_in("gone", parts_of(region)[2])  # let in again, for another part
    assert region.get(region_page.address(own), other).status_code == 404


def test_who_was_given_nothing_sees_nothing(region: Served) -> None:
    """An account without a part, as where a program is ended between two steps."""
    region.access.add("bare", "viewer", by="tests")
    found = region.access.enter_by_link(region.access.link("bare", by="tests"))
    who = {"cookie": f"musterbook={found[1]}"}
    for part in parts_of(region):
        for path in asked_of(part):
            assert not numbers(region.get(path, who).text)


def test_a_new_roll_up_is_shown_at_the_next_look(tmp_path: Path) -> None:
    """The people stay; who was given a part that is not there any more sees nothing."""
    one = served(tmp_path / "out", invented.sums_of(7, councils=3))
    all_, last = one.let_in("all", ()), one.let_in("last", parts_of(one)[1])
    before = numbers(one.get("/", all_).text)
    assert numbers(one.get("/", last).text) - {"2027"}
    invented.rolled_up(one.folder, invented.sums_of(8, councils=2))
    after = numbers(one.get("/", all_).text)
    assert after
    assert not before & after
    assert figures_of([{"owed": row["owed"]} for row in one.table("region") if row["level"] == "region"]) <= after
    lost = one.get("/", last)
    assert "is not in this roll-up" in lost.text
    assert not numbers(lost.text)


def test_nothing_is_written_in_the_folder(region: Served) -> None:
    def kept() -> dict[str, tuple[bytes, int]]:
        found = [path for path in region.folder.rglob("*") if path.is_file()]
        return {str(path): (path.read_bytes(), path.stat().st_mtime_ns) for path in found}

    before = kept()
    who = region.let_in("all", ())
    for part in parts_of(region):
        for path in asked_of(part):
            region.get(path, who)
    assert kept() == before
    assert people.folder_of(region.folder).parent == region.folder.parent


def test_a_comparison_that_would_tell_of_one_other_is_not_shown(tmp_path: Path) -> None:
    """Of two councils the others of the one are the other; of two areas in one council likewise."""
    for councils, is_shown in ((2, False), (3, True)):
        one = rolled_up.read(invented.rolled_up(tmp_path / str(councils), invented.sums_of(1, councils, areas=3)))
        council, area = one.parts[1], next(part for part in one.parts if len(part) == 2)
        assert bool(one.seen_by(council).tables["compared"]) == is_shown
        assert one.seen_by(area).tables["compared"]
        assert one.seen_by(()).tables["compared"]
    alone = rolled_up.read(invented.rolled_up(tmp_path / "alone", invented.sums_of(1, councils=1, areas=2)))
    assert not alone.seen_by(alone.parts[-1]).tables["compared"]


FAULTS = {
    "no region's roll-up. Make it": shutil.rmtree,
    "is no region's roll-up": lambda folder: (folder / "manifest.json").write_text('{"area": "hill", "files": {}}'),
    "region.csv is not as the manifest says": lambda folder: (folder / "region.csv").write_bytes(b"x"),
    "tables/items.parquet is missing": lambda folder: (folder / "tables/items.parquet").unlink(),
    "names files elsewhere": lambda folder: rewritten(folder, files={"../x": "0"}),
    "made by an older program": lambda folder: rewritten(folder, currency=None),
    "cannot read that roll-up": lambda folder: rewritten(folder, areas=[{"levels": {"council": "north"}}]),
    "carry the same names": lambda folder: rewritten(folder, areas=twice(folder)),
}


def rewritten(folder: Path, **more: Any) -> None:
    told = json.loads((folder / "manifest.json").read_text(encoding="utf-8")) | more
    kept = {name: value for name, value in told.items() if value is not None}
    (folder / "manifest.json").write_text(json.dumps(kept), encoding="utf-8")


def twice(folder: Path) -> list[dict[str, Any]]:
    """The areas, one of which stands below an outer level without a name as well."""
    told = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))["areas"]
    return [*told, {"levels": {"council": ""} | told[0]["levels"]}, {"levels": {"area": "", **told[0]["levels"]}}]


@pytest.mark.parametrize("fault", FAULTS)
def test_a_folder_that_is_not_as_it_was_made_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], fault: str
) -> None:
    folder = invented.rolled_up(tmp_path / "out", invented.sums_of(3))
    monkeypatch.setattr(region_server, "run", lambda *_asked, **_more: None)  # whatever gets that far is served
    FAULTS[fault](folder)
    for typed in (["serve", str(folder), "--port", "0"], ["access", "add", str(folder), "ann", "--part", "all"]):
        monkeypatch.setattr(sys, "argv", ["musterbook", "region", *typed])
        assert cli._status() == 2
        assert fault in capsys.readouterr().err
    assert not people.folder_of(folder).exists()


def test_what_is_damaged_while_it_is_shown_is_told(region: Served) -> None:
    who = region.let_in("all", ())
    (region.folder / "region.csv").write_bytes(b"x")
    (region.folder / "manifest.json").touch()
    found = region.get("/", who)
    assert found.status_code == 503
    assert not numbers(found.text)
    assert "region.csv is not as the manifest says" in region.said[0]


def test_people_are_given_parts_by_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = invented.rolled_up(tmp_path / "out", invented.sums_of(4))

    def typed(*more: str) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["musterbook", "region", "access", *more])
        status = cli._status()
        told = capsys.readouterr()
        return status, told.out + told.err

    assert typed("add", str(folder), "Ann", "--part", "council=north")[0] == 0
    assert (
        typed("list", str(folder))[1]
        == "ann: sees council=north, 0 sign-ins open\ncoordinator: sees all, 0 sign-ins open\n"
    )
    assert "There is no council=nowhere" in typed("add", str(folder), "bea", "--part", "council=nowhere")[1]
    assert typed("add", str(folder), "coordinator", "--part", "council=north")[0] == 2
    assert "/sign-in/link?link=" in typed("link", str(folder), "ann")[1]
    (folder / "manifest.json").write_text("{", encoding="utf-8")  # however the roll-up fares
    assert typed("add", str(folder), "cleo", "--part", "all")[0] == 2
    assert typed("withdraw", str(folder), "ann")[0] == 0
    assert "ann: withdrawn" in typed("list", str(folder))[1]
    assert typed("link", str(folder), "ann")[0] == 2
    assert typed("withdraw", str(tmp_path / "nowhere"), "ann")[0] == 2
    assert not people.folder_of(tmp_path / "nowhere").exists()


def test_the_program_serves_on_this_machine_and_stops(tmp_path: Path) -> None:
    """As it is typed, with the link that it prints."""
    folder = invented.rolled_up(tmp_path / "out", invented.sums_of(5))
    asked = [sys.executable, "-m", "pipelines", "region", "serve", str(folder), "--port", "0"]
    process = subprocess.Popen(asked, stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONUNBUFFERED": "1"})
    assert process.stdout
    try:
        said = ""
        for line in process.stdout:
            said += line
            if "Ctrl-C" in line:
                break
        link = re.search(r"(http://127\.0\.0\.1:\d+)/sign-in/link\?link=(\S+)", said)
        assert link, said
        with httpx.Client(base_url=link[1], headers={"origin": link[1]}) as client:
            assert client.post("/sign-in/link", data={"link": link[2]}).status_code == 303
            page = client.get("/")
            assert "By council" in page.text
            assert client.get(region_page.STYLE).status_code == 200
            assert client.get("/", headers={"host": "elsewhere.example"}).status_code == 403
            assert client.post("/", data={}).status_code == 404
    finally:
        process.send_signal(signal.SIGTERM)
        assert process.wait(20) == 0
        process.stdout.close()
    assert str(people.folder_of(folder)) in said


def test_a_part_is_found_by_what_is_typed(tmp_path: Path) -> None:
    one = rolled_up.read(invented.rolled_up(tmp_path / "out", invented.sums_of(6)))
    for part in one.parts:
        assert people.part_named(one, rolled_up.stated(part)) == part
        assert quote(part[-1][1] if part else "all", safe="") in region_page.address(part).replace("+", "%20")
    with pytest.raises(Stop):
        people.part_named(one, "")
