"""`musterbook region`: many areas as one."""

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from pipelines.commands import HELD, Json, say, say_json
from pipelines.definitions.errors import Stop

Sources = Annotated[
    list[Path],
    typer.Argument(metavar="SOURCE...", help="Folders of areas' roll-ups or books; council=…/area=… name levels."),
]


def register(app: typer.Typer) -> None:
    group = typer.Typer(help="Many areas as one: sums of what their roll-ups hand up.", no_args_is_help=True)
    group.command("rollup")(rollup)
    group.command("prove")(prove)
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
    from pipelines.region import adding, papers  # noqa: PLC0415 - the terminal answers sooner
    from pipelines.region.sources import find  # noqa: PLC0415

    areas, left = find(sources, _day(until))
    if not as_json:
        for one in left:
            say(f"    left out  {one.folder}: {one.reason}")
    if not areas:
        raise Stop("No area is left to add up. Nothing was made.")
    sums = adding.add_up(areas)
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


def _day(typed: str) -> date | None:
    try:
        return date.fromisoformat(typed) if typed else None
    except ValueError:
        raise Stop(f"{typed} is no day. Type it such as 2027-03-21.") from None
