"""`musterbook glossary`: what each measure means and how it is made, and what each rule finds."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands import Json, say, say_json
from pipelines.definitions.exception_rules import rules
from pipelines.definitions.measures import RELATIONS, Measure

TITLES = {
    "standing": "Of a troop: standing.csv",
    "items": "Of an item of a troop: items.csv",
    "families": "Of a family: families.csv",
    "dues": "Of a due date of a troop",
    "outlook": "Of what will still go out: outlook.csv",
    "steps": "The path of a troop's participants",
    "participants": "Of a participant",
    "awards": "Of an award of a participant: awards.csv",
    "to_buy": "Of an award to buy: to_buy.csv",
    "packing": "Of what a participant has to pack: packing.csv",
    "postage": "Of a posted order: postage.csv",
    "area": "Of the area alone",
    "item_totals": "Of an item in all troops alone",
    "exceptions": "Of what is to be followed up: exceptions.csv",
}


def register(app: typer.Typer) -> None:
    app.command("glossary")(glossary)


def glossary(
    page: Annotated[Path | None, typer.Option("--page", metavar="FILE", help="Write a page to read.")] = None,
    as_json: Json = False,
) -> None:
    """Say what every measure means, how it is made, and what every rule finds."""
    if page:
        page.write_text("\n".join(_page()) + "\n", encoding="utf-8")
    if as_json:
        told = {name: {one.name: _told(name, one) for one in measures} for name, measures in _measures().items()}
        found = {name: {"label": one.label, "meaning": one.meaning} for name, one in rules().items()}
        say_json({"measures": told, "rules": found})
    elif page:
        say(f"Measures and rules in {page}.")
    else:
        for relation, measures in _measures().items():
            say(f"{TITLES[relation]}\n")
            for one in measures:
                say(f"  {one.name}: {one.label}. {_said(relation, one)}")
            say()
        say("Rules\n")
        for name, rule in rules().items():
            say(f"  {name}: {rule.label}. {rule.meaning}")


def _measures() -> dict[str, list[Measure]]:
    """Every relation's measures; the area's are those that no troop has."""
    known = {"area": RELATIONS["standing"] | RELATIONS["steps"], "item_totals": RELATIONS["items"]}
    return {
        name: [one for one in RELATIONS[name].values() if known.get(name, {}).get(one.name) != one] for name in TITLES
    }


def _told(relation: str, one: Measure) -> dict[str, str]:
    return {"label": one.label, "unit": one.unit, "meaning": one.meaning, "made": _made(relation, one)}


def _made(relation: str, one: Measure) -> str:
    """How a measure is made of others, in the words of their labels."""
    names = [(term.startswith("-"), RELATIONS[relation][term.removeprefix("-")].label) for term in one.terms]
    if not names:
        return ""
    if one.divides_by:
        *above, below = (f'"{label}"' for _is_off, label in names)
        return f"{' plus '.join(above)} divided by {below}"
    return " ".join(f'{"less" if is_off else "plus"} "{label}"' for is_off, label in names).removeprefix("plus ")


def _said(relation: str, one: Measure) -> str:
    """A measure's meaning, how it is made, what it divides by, what it does not say."""
    made = _made(relation, one)
    parts = [one.meaning, f"It is {made}." if made else "", f"Divided by: {one.divides_by}." if one.divides_by else "",
             one.caution]  # fmt: skip
    return " ".join(part for part in parts if part)


def _page() -> Iterator[str]:
    yield "# Measures and rules"
    for relation, measures in _measures().items():
        yield from (
            "",
            f"## {TITLES[relation]}",
            "",
            "| name | heading | unit | meaning |",
            "| --- | --- | --- | --- |",
        )
        yield from (f"| `{one.name}` | {one.label} | {one.unit} | {_said(relation, one)} |" for one in measures)
    yield from ("", "## Rules", "", "| name | label | meaning |", "| --- | --- | --- |")
    yield from (f"| `{name}` | {rule.label} | {rule.meaning} |" for name, rule in rules().items())
