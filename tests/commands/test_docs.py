"""What the documents say is true: commands run as typed, and nothing is left unsaid."""

import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

import demo_warehouse
from pipelines.cli import app
from pipelines.definitions import measures
from pipelines.definitions.exception_rules import rules
from pipelines.definitions.season import FollowUp
from pipelines.definitions.starter_season import starter_season
from pipelines.reports.csv_tables import COLUMNS
from pipelines.store import relations

PROJECT = Path(__file__).resolve().parents[2]
README = (PROJECT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (PROJECT / "DEVELOPERS.md").read_text(encoding="utf-8")
TYPED = re.findall(r"^    (\S.*)$", README, re.MULTILINE)
BIN = Path(sys.executable).parent
LEFT_OUT = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", "build", "*.egg-info")


def opened_at(process: subprocess.Popen[str]) -> str:
    """The address that a program prints when its dashboard is open."""
    assert process.stdout
    for line in process.stdout:
        if found := re.search(r"http://127\.0\.0\.1:\d+", line):
            return found[0]
    raise AssertionError("no address was printed")


def ended(process: subprocess.Popen[str]) -> int:
    """Ends a program as Ctrl-C does, with what it started; its exit status."""
    os.killpg(process.pid, signal.SIGINT)
    try:
        return process.wait(20)
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)


def test_the_first_command_opens_the_demo_on_a_fresh_machine(tmp_path: Path) -> None:
    """The README's first command, as typed, in a copy of the project."""
    command = TYPED[0]
    assert command.endswith("musterbook demo")
    shutil.copytree(PROJECT, tmp_path / "project", ignore=LEFT_OUT)
    quiet = {"PIP_QUIET": "1", "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PYTHONUNBUFFERED": "1", "TMPDIR": str(tmp_path)}
    process = subprocess.Popen(
        ["bash", "-c", command],
        cwd=tmp_path / "project",
        env={key: value for key, value in os.environ.items() if key != "PYTHONPATH"} | quiet,
        stdout=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        with urllib.request.urlopen(opened_at(process), timeout=20) as page:
            assert page.status == 200
    finally:
        ended(process)
        assert process.stdout
        process.stdout.close()


def test_the_second_command_is_what_runs_this() -> None:
    assert TYPED[1] == "python3 -m venv .venv && .venv/bin/pip install '.[test]' && .venv/bin/pytest"
    run = (PROJECT / ".ci" / "run").read_text(encoding="utf-8")
    assert "pip\" install -q --disable-pip-version-check '.[test]'" in run
    assert '"$bin/pytest"' in run


def test_every_other_command_runs_as_typed(tmp_path: Path) -> None:
    """In order, in a folder that holds what the README speaks of: feeds and an inbox."""
    demo_warehouse.make(tmp_path / "made")
    shutil.copytree(tmp_path / "made" / "inbox" / "feeds", tmp_path / "feeds")
    shutil.copytree(tmp_path / "made" / "inbox", tmp_path / "inbox")
    lines = [line for line in TYPED if line.startswith("musterbook ")]
    assert len(lines) >= 6
    for line in lines:
        words = shlex.split(line)
        typed = [str(BIN / words[0]), *words[1:]]
        if words[1] == "serve":
            process = subprocess.Popen(
                [*typed, "--port", "0"], cwd=tmp_path, stdout=subprocess.PIPE, text=True, start_new_session=True
            )
            try:
                with urllib.request.urlopen(opened_at(process), timeout=20) as page:
                    assert page.status == 200
            finally:
                assert ended(process) == 0
                assert process.stdout
                process.stdout.close()
            continue
        done = subprocess.run(typed, cwd=tmp_path, capture_output=True, text=True, check=False)
        assert done.returncode in (0, 1), f"{line}\n{done.stdout}\n{done.stderr}"
        if words[1] == "new":
            shutil.copyfile(tmp_path / "made" / "season.toml", tmp_path / "spring" / "season.toml")
    assert (tmp_path / "spring" / "out").is_dir()


@pytest.mark.parametrize("command", sorted(str(one.name) for one in (*app.registered_commands, *app.registered_groups)))
def test_every_command_is_in_the_readme(command: str) -> None:
    assert f"musterbook {command}" in README


@pytest.mark.parametrize("relation", sorted(COLUMNS))
def test_every_column_is_explained(relation: str) -> None:
    for column in COLUMNS[relation]:
        assert measures.measure(relation, column).meaning, column


def test_every_rule_and_threshold_is_told() -> None:
    """A rule in DEVELOPERS.md by its label, a threshold in a new book's season.toml."""
    for name, rule in rules().items():
        assert f"| `{name}` | {rule.label} |" in DEVELOPERS
    for name in FollowUp.model_fields:
        assert re.search(rf"^# {name} = ", starter_season(), re.MULTILINE), name


@pytest.mark.parametrize("stage", sorted(relations.STAGES))
def test_every_stage_is_on_the_path(stage: str) -> None:
    assert stage in DEVELOPERS


def test_the_documents_name_files_that_exist() -> None:
    named = re.findall(r"`((?:pipelines|dashboard|demo_warehouse|tests)/[\w/.]*)`", DEVELOPERS)
    assert named
    assert [name for name in named if not (PROJECT / name).exists()] == []
