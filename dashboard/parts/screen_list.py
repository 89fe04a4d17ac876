"""Which screens there are: every file of screens/ that names its TITLE, ORDER, GROUP and ROLES.

Comes in: the folder. Goes out: the screens of a role, in order and in groups. Files are read, not run.

A screen is run as a script: never import one. Its ROLES only decide what stands in the navigation; left in by mistake,
a role sees empty screens. It reads by `readings.now()` inside a function, never at module level.
"""

import ast
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[1] / "screens"
GROUPS = ("Week", "In and out", "Season", "People")  # as the navigation shows them
FEW = 7  # so many screens need no groups


@dataclass(frozen=True, slots=True)
class Screen:
    """One screen: its file, its title, its question, who it is for, and whether it asks for a week itself."""

    file: str
    title: str
    question: str
    order: int
    roles: tuple[str, ...]
    asks_week: bool = False
    group: str = ""


@cache
def screens() -> tuple[Screen, ...]:
    """Every screen, in order."""
    found = [_screen(path) for path in FOLDER.glob("[!_]*.py")]
    return tuple(sorted((one for one in found if one), key=lambda one: (one.order, one.title)))


def screens_of(role: str) -> tuple[Screen, ...]:
    """The screens that a role may open."""
    return tuple(one for one in screens() if role in one.roles)


def in_groups(shown: tuple[Screen, ...]) -> dict[str, list[Screen]]:
    """The screens by group; a few are in one group without a name. The first is where somebody arrives."""
    if len(shown) <= FEW:
        return {"": list(shown)}
    by_group = {group: [one for one in shown if one.group == group] for group in GROUPS}
    return {group: some for group, some in by_group.items() if some}


def _screen(path: Path) -> Screen | None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    stated: dict[str, Any] = {}
    for node in tree.body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and node.targets[0].id.isupper():
            try:
                stated[node.targets[0].id] = ast.literal_eval(node.value)
            except ValueError:
                continue  # a constant that only running the file can tell
    if "TITLE" not in stated:
        return None
    question = (ast.get_docstring(tree) or "").split("\n")[0]
    roles, asks_week = tuple(stated["ROLES"]), stated.get("ASKS_WEEK", False)
    group = stated.get("GROUP", GROUPS[0])
    return Screen(f"screens/{path.name}", stated["TITLE"], question, stated["ORDER"], roles, asks_week, group)
