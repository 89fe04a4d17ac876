"""What the documents say is true, and nothing is left unsaid. (test_typed_commands.py runs the README's commands.)"""

import inspect
import itertools
import os
import re
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from opened import PROJECT, README, TYPED
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import demo_warehouse
from dashboard.parts.screen_list import screens_of
from pipelines.cli import app
from pipelines.commands import HELD, NOT_DONE
from pipelines.definitions import measures
from pipelines.definitions.season import Care, FollowUp
from pipelines.definitions.starter_season import starter_season
from pipelines.reports.csv_tables import COLUMNS
from pipelines.store import relations

DEVELOPERS = (PROJECT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_second_command_is_what_runs_this() -> None:
    assert TYPED[1] == "python3 -m venv .venv && .venv/bin/pip install '.[test]' && .venv/bin/pytest"
    run = (PROJECT / ".ci" / "run").read_text(encoding="utf-8")
    assert "install python3 venv '[test]'" in run
    assert '"$bin/pytest"' in run


@pytest.mark.parametrize("command", sorted(str(one.name) for one in (*app.registered_commands, *app.registered_groups)))
def test_every_command_is_in_the_readme(command: str) -> None:
    assert f"musterbook {command}" in README


@pytest.mark.parametrize("relation", sorted(COLUMNS))
def test_every_column_is_explained(relation: str) -> None:
    for column in COLUMNS[relation]:
        assert measures.measure(relation, column).meaning, column


def test_every_threshold_is_told() -> None:
    """In a new book's season.toml."""
    for name in FollowUp.model_fields:
        assert re.search(rf"^# {name} = ", starter_season(), re.MULTILINE), name


# The hand-over


def test_the_hand_over_is_read_in_a_few_minutes() -> None:
    assert 700 <= len(DEVELOPERS.split()) <= 1300


@pytest.mark.parametrize("stage", sorted(relations.STAGES))
def test_every_stage_is_on_the_path(stage: str) -> None:
    assert stage in DEVELOPERS


def test_every_package_is_named() -> None:
    """Those within intake and dashboard by their last name."""
    folders = [path.parent.relative_to(PROJECT) for top in ("pipelines", "dashboard", "demo_warehouse")
               for path in (PROJECT / top).rglob("__init__.py")]  # fmt: skip
    packages = [folder for folder in folders if str(folder) not in ("pipelines", "dashboard")]
    assert len(packages) > 15
    for folder in packages:
        is_within = folder.parts[0] == "dashboard" or len(folder.parts) > 2
        named = folder.name if is_within else folder.as_posix()
        if "measures" not in folder.parts:  # one noun a module, named where a measure is added
            assert f"`{named}/`" in DEVELOPERS, folder


def test_every_package_says_that_it_is_typed() -> None:
    for top in ("pipelines", "dashboard", "demo_warehouse"):
        assert (PROJECT / top / "py.typed").is_file()


def test_the_documents_name_files_that_exist() -> None:
    named = re.findall(r"`((?:pipelines|dashboard|demo_warehouse|tests|\.ci)/[\w/.]*)`", DEVELOPERS)
    assert named
    assert [name for name in named if not (PROJECT / name).exists()] == []


def test_each_kind_of_thing_has_its_check_list() -> None:
    for thing in ("column that may come in", "table", "measure", "exception", "screen", "paper", "command"):
        assert re.search(rf"^- \*\*an? {thing}\*\*: ", DEVELOPERS, re.MULTILINE), thing


# Numbers that the documents repeat


def stated(text: str, pattern: str) -> tuple[str, ...]:
    """What a document says; it must say it once."""
    (found,) = re.findall(pattern, " ".join(text.split()))
    return found if isinstance(found, tuple) else (found,)


def test_the_demo_is_as_large_as_it_is_said_to_be(tmp_path: Path) -> None:
    sizes = inspect.signature(demo_warehouse.make).parameters
    troops, participants = stated(README, r"\((\d+) troops, some (\d+) participants, in the sixth of ten weeks\)")
    assert int(troops) == sizes["troops"].default
    assert (sizes["until_week"].default, sizes["weeks"].default) == (6, 10)
    demo_warehouse.make(tmp_path, until_week=1, formats="bulk-csv")
    roster = (tmp_path / "inbox" / "feeds" / "roster.csv").read_text(encoding="utf-8").splitlines()[1:]
    assert round(len({line.split(",")[1] for line in roster}), -2) == int(participants)


def test_days_minutes_versions_and_statuses_are_the_codes() -> None:
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))
    oldest = project["project"]["requires-python"].removeprefix(">=")
    assert stated(README, r"with Python ([\d.]+) or newer") == (oldest,)
    assert stated(DEVELOPERS, r"every other Python from ([\d.]+) on") == (oldest,)
    assert f"Programming Language :: Python :: {oldest}" in project["project"]["classifiers"]
    assert stated(README, r"keep_days` in season\.toml, (\d+) days") == (str(Care.model_fields["keep_days"].default),)
    assert stated(README, r"ends with status (\d) \(done\), (\d) \(done, but something .*?\) or (\d) \(not done\)") == (
        "0", str(HELD), str(NOT_DONE)
    )  # fmt: skip


def test_the_screens_that_the_readme_names_are_there() -> None:
    named = stated(README, r"answer one question each: ([^.]*)\.")[0].split(", ")
    assert set(named) <= {one.title for one in screens_of("coordinator")}


def test_ci_tries_the_versions_that_are_bound() -> None:
    """Each dependency has its version in the constraints, and the version is within its bounds."""
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lines = (PROJECT / ".ci" / "constraints.txt").read_text(encoding="utf-8").splitlines()
    pinned = {canonicalize_name(name): version for name, _, version in (line.partition("==") for line in lines)}
    extras = itertools.chain.from_iterable(project["optional-dependencies"].values())
    asked = [Requirement(one) for one in (*project["dependencies"], *extras)]
    assert len(asked) > 30
    for one in asked:
        if one.name != project["name"]:
            assert pinned[canonicalize_name(one.name)] in one.specifier, one.name


# The first minute on another machine


def started(path: str, *typed: str) -> subprocess.CompletedProcess[str]:
    """`musterbook` started from its own files, with a PYTHONPATH."""
    command = [sys.executable, str(PROJECT / "pipelines" / "musterbook"), *typed]
    environment = os.environ | {"PYTHONPATH": path}
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("name", ["pipelines", "dashboard"])
def test_somebody_elses_package_on_the_path_is_told_in_a_sentence(name: str, tmp_path: Path) -> None:
    (tmp_path / name).mkdir()
    (tmp_path / name / "__init__.py").write_text("raise SystemExit('imported')", encoding="utf-8")
    (tmp_path / name / "app.py").touch()
    done = started(f"{tmp_path}{os.pathsep}{PROJECT}", "--version")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"Python finds another `{name}` before Musterbook's own, in {tmp_path}: take that")
    assert done.stderr.count("\n") == 1


def test_the_version_is_told() -> None:
    done = started(str(PROJECT), "--version")
    assert re.fullmatch(rf"musterbook {re.escape(metadata.version('musterbook'))}\n", done.stdout)
