"""The linter for SQL files: the smallest file that is wrong in each way, and those of the project, which are not."""

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

LINTER = Path(__file__).parents[2] / ".ci" / "check_sql.py"
HEAD = "-- One row a troop.\n-- Sources: accepted.troops.\n"


@pytest.fixture(scope="module")
def linter() -> ModuleType:
    spec = importlib.util.spec_from_file_location("check_sql", LINTER)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(
    ("head", "body", "said"),
    [
        (HEAD, "select troop from", "Expected"),
        ("-- Troops.\n-- Sources: none.\n", "select 1 as one", "what a row is"),
        ("-- One row a troop.\n", "select 1 as one", "sources"),
        (HEAD, "with unread as (select 1) select troop from accepted.troops", "unread: nothing reads it"),
        (HEAD, "select a, b from x union all select b, a from x", "by place"),
        (HEAD, "select a, b from x union by name select a from x", "branches of a union differ: b"),
    ],
)
def test_what_is_wrong_in_a_file_is_told(linter: ModuleType, head: str, body: str, said: str) -> None:
    [fault] = linter.faults(linter.FOLDER / "3_facts" / "troops.sql", head + body)
    assert said in fault


def test_a_sound_file_passes(linter: ModuleType) -> None:
    body = "with x as (select 1 as a, 2 as b)\nselect a, b from x union all by name select b, a from x"
    assert linter.faults(linter.FOLDER / "3_facts" / "troops.sql", HEAD + body) == []


def test_the_files_of_the_project_pass() -> None:
    done = subprocess.run([sys.executable, LINTER], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (0, "SQL files passed\n")
