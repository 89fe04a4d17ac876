"""Who sees which part of a region: accounts as those of a book, each given a part.

Comes in: a roll-up's folder, names and parts as typed. Goes out: Access, and the part that an account was given.

The accounts lie beside the roll-up's folder, in `<its name>-people`: each roll-up takes the folder's place whole, and
who may come in must outlive that. Everybody is a viewer; the account of whoever keeps this machine sees all.
"""

import os
from pathlib import Path

from pipelines.accounts.account_store import append
from pipelines.accounts.accounts import Access, SignIn
from pipelines.definitions.errors import Stop
from pipelines.region.rolled_up import ALL, RolledUp, stated
from pipelines.region.sources import Levels

BESIDE = "-people"


def folder_of(rolled_up: Path) -> Path:
    """Where the accounts of a region lie."""
    place = Path(os.path.abspath(rolled_up))  # noqa: PTH100 - a link stays one
    return place.with_name(f"{place.name}{BESIDE}")


def people_of(rolled_up: Path) -> Access:
    """The accounts of a region; their folder is made where it is not there yet."""
    folder = folder_of(rolled_up)
    folder.mkdir(mode=0o700, exist_ok=True)
    return Access(folder)


def part_named(region: RolledUp, typed: str) -> Levels:
    """A part of a region as it was typed; raises Stop where there is none such."""
    found = region.part(typed)
    if found is None:
        such = " or ".join(stated(parts[0]) for parts in region.inner(()))
        raise Stop(f"There is no {typed} in this roll-up. Choose {ALL}, or a part of it such as {such}.")
    return found


def let_in(people: Access, name: str, part: str, *, by: str) -> str:
    """Makes an account that sees a part, or opens a withdrawn one again; its code, which is shown this once."""
    people.first_coordinator()  # whose name nobody else is given
    code = people.add(name, "viewer", by=by)
    named = name.strip().casefold()
    with people.store.writing() as con:
        con.execute("insert or replace into parts select person_no, ? from people where name = ?", (part, named))
        append(con, by, "part given", f"{named}: {part}")
    return code


def part_of(people: Access, who: SignIn) -> str | None:
    """The part that somebody was given, as it is typed; None: none."""
    return ALL if who.role == "coordinator" else parts_of(people).get(who.name)


def parts_of(people: Access) -> dict[str, str]:
    """The part that each account was given, by its name."""
    found = people.store.rows("select name, part from parts join people using (person_no)")
    return {row["name"]: row["part"] for row in found}
