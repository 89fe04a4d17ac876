"""`musterbook region`: many areas as one."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.commands import HELD, Json, say, say_json
from pipelines.commands.access import Name, me, say_code, say_link
from pipelines.definitions.errors import Stop

if TYPE_CHECKING:
    from pipelines.accounts.accounts import Access

Sources = Annotated[
    list[Path],
    typer.Argument(metavar="SOURCE...", help="Folders of areas' roll-ups or books; council=…/area=… name levels."),
]
RolledUpDir = Annotated[Path, typer.Argument(metavar="DIR", help="A region's roll-up.", show_default=False)]


def register(app: typer.Typer) -> None:
    group = typer.Typer(help="Many areas as one: sums of what their roll-ups hand up.", no_args_is_help=True)
    group.command("rollup")(rollup)
    group.command("prove")(prove)
    group.command("serve")(serve)
    group.add_typer(_access(), name="access")
    app.add_typer(group, name="region")


def rollup(
    sources: Sources,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="A new folder, or an earlier roll-up's.")],
    until: Annotated[str, typer.Option("--week", metavar="DAY", help="Weeks up to this day; else the newest.")] = "",
    as_json: Json = False,
) -> None:
    """Add areas up: workbook, tables and a manifest, for the region and each level that the folders name.

    Exit status 1: made, but an area is left out, each named with its reason; 2: no area could be taken.
    """
    from pipelines.region import papers  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.region.adding import added  # noqa: PLC0415
    from pipelines.region.sources import find  # noqa: PLC0415

    sums, left = added(*find(sources, _day(until)))
    if not as_json:
        for one in left:
            say(f"    left out  {one.folder}: {one.reason}")
    if sums is None:
        raise Stop("No area is left to add up. Nothing was made.")
    areas = sums.areas
    files = papers.write(sums, left, out)
    stale = [area for area in areas if area.as_of < sums.as_of]
    if as_json:
        say_json({
            "folder": out, "as_of": sums.as_of, "areas": len(areas), "files": dict(sorted(files.items())),
            "stale": {str(area.folder): area.as_of for area in stale},
            "left_out": {str(one.folder): one.reason for one in left},
        })  # fmt: skip
    else:
        for area in stale:
            say(f"    older     {area.folder}: as of {area.as_of.isoformat()}")
        troops = sums.totals[0]["troops"]
        said = f"{len(areas):,} areas with {troops:,} troops as of {sums.as_of.isoformat()}"
        say(f"{said}; {len(files) + 1} files in {out}.")
    if left:
        raise typer.Exit(HELD)


def prove(
    sources: Sources,
    on: Annotated[str, typer.Option("--on", help="local, or an engine that hands areas out: spark, dask.")] = "local",
    at: Annotated[str, typer.Option("--at", metavar="ADDRESS", help="Of a running engine; else one is started.")] = "",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="A folder that all workers see, for a file an area.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Compute areas anew from all that landed in their books, and hold it against what they handed up.

    Exit status 1: an area differs, or its book is not there; 2: no area was found.
    """
    from pipelines.region.engines import ENGINES  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.region.sources import find  # noqa: PLC0415

    if on not in ENGINES:
        raise Stop(f"There is no {on}. An area is proved on {' or '.join(ENGINES)}.")
    areas, left = find(sources)
    if not areas:
        raise Stop("No area was found to prove.")
    if out:
        out.mkdir(parents=True, exist_ok=True)
    told = ENGINES[on]([str(one.folder) for one in areas], str(out.absolute()) if out else "", at)
    faulty = [one for one in told if one["differs"] or one["reason"]]
    if as_json:
        say_json({"areas": told, "left_out": {str(one.folder): one.reason for one in left}})
    else:
        for missing in left:
            say(f"    left out  {missing.folder}: {missing.reason}")
        for one in faulty:
            say(f"    differs   {one['folder']}: {one['reason'] or ', '.join(one['differs'])}")
        say(f"{len(told) - len(faulty):,} of {len(told):,} areas come to what they handed up.")
    if faulty or left:
        raise typer.Exit(HELD)


def serve(
    folder: RolledUpDir,
    port: Annotated[int, typer.Option(help="The port to listen on.", min=0, max=65535)] = 8502,
) -> None:
    """Open a page over a region's roll-up, until Ctrl-C: sums only, each person the part that they were given.

    It answers on this machine alone and reads that folder alone. What was rolled up anew shows at the next look.
    """
    from dashboard.web.region_server import serve as show  # noqa: PLC0415 - the terminal answers sooner

    show(folder, port=port, said=say)


def _access() -> typer.Typer:
    group = typer.Typer(help="Who sees which part of a region: add, link, list, withdraw.", no_args_is_help=True)
    group.command("add")(add)
    group.command("link")(link)
    group.command("list")(list_)
    group.command("withdraw")(withdraw)
    return group


def add(
    folder: RolledUpDir,
    name: Name,
    part: Annotated[str, typer.Option(help="all, or council=north, or council=north/area=hillside: as the folders.")],
) -> None:
    """Let somebody see a part of the region: prints the personal code, which is shown this once."""
    from pipelines.region import people, rolled_up  # noqa: PLC0415 - the terminal answers sooner

    region = rolled_up.read(folder)
    typed = rolled_up.stated(people.part_named(region, part))
    say_code(name, people.let_in(people.people_of(folder), name, typed, by=me()))
    say(f"It is kept in {people.folder_of(folder)}.")


def link(folder: RolledUpDir, name: Name) -> None:
    """Print the end of an address that lets an account in once, within half an hour."""
    say_link(_people(folder).link(name, by=me()))


def list_(folder: RolledUpDir, as_json: Json = False) -> None:
    """Who may see the region, with the part of each and how many sign-ins are open."""
    from pipelines.region.people import parts_of  # noqa: PLC0415 - the terminal answers sooner

    people = _people(folder)
    parts = parts_of(people)
    listed = [(one, "all" if one.role == "coordinator" else parts.get(one.name, "nothing")) for one in people.people()]
    if as_json:
        say_json([{"name": one.name, "part": part, "withdrawn": one.withdrawn, "sign_ins": one.sign_ins}
                  for one, part in listed])  # fmt: skip
        return
    for one, part in listed:
        told = "withdrawn" if one.withdrawn else f"sees {part}, {one.sign_ins} sign-ins open"
        say(f"{one.name}: {told}")
    if not listed:
        say("Nobody may see it yet.")


def withdraw(folder: RolledUpDir, name: Name) -> None:
    """Shut an account out: its code and its sign-ins stop working at once."""
    _people(folder).withdraw(name, by=me())
    say(f"{name} cannot come in any more.")


def _people(folder: Path) -> "Access":
    """The accounts, however the roll-up fares by now: somebody may have to be shut out at once."""
    from pipelines.region import people, rolled_up  # noqa: PLC0415 - the terminal answers sooner

    if not people.folder_of(folder).is_dir():
        rolled_up.read(folder)  # a folder that is mistyped gets no accounts
    return people.people_of(folder)


def _day(typed: str) -> date | None:
    try:
        return date.fromisoformat(typed) if typed else None
    except ValueError:
        raise Stop(f"{typed} is no day. Type it such as 2027-03-21.") from None
