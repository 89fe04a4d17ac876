"""`musterbook glossary`: every measure and every rule, as lines, as a page, for machines."""

import json
from pathlib import Path

from typer.testing import CliRunner

from pipelines.cli import app
from pipelines.definitions.exception_rules import rules
from pipelines.definitions.measures import RELATIONS


def told(*typed: str) -> str:
    """What the command prints."""
    done = CliRunner().invoke(app, ["glossary", *typed])
    assert done.exit_code == 0, done.output
    return done.stdout


def test_every_measure_and_every_rule_is_on_the_page(tmp_path: Path) -> None:
    page = tmp_path / "glossary.md"
    assert str(page) in told("--page", str(page))
    text = page.read_text(encoding="utf-8")
    for measures in RELATIONS.values():
        for one in measures.values():
            assert f"| `{one.name}` | {one.label} | {one.unit} | {one.meaning}" in text, one.name
    for name, rule in rules().items():
        assert f"| `{name}` | {rule.label} | {rule.meaning} |" in text


def test_how_a_figure_is_made_is_said_in_words() -> None:
    lines = told().splitlines()
    (owed,) = [line for line in lines if line.startswith("  owed: ")]
    assert 'It is "Charged" less "Proceeds" less "Credited".' in owed
    (share,) = [line for line in lines if line.startswith("  share: ")]
    assert 'It is "Registered and taking part" divided by "Registered".' in share


def test_for_machines() -> None:
    found = json.loads(told("--json"))
    assert found["measures"]["standing"]["owed"]["unit"] == "money"
    assert found["rules"].keys() == rules().keys()
