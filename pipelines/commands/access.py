"""`musterbook access`: who may sign in."""

from datetime import UTC, datetime
from typing import Annotated

import typer

from pipelines.accounts.accounts import LINK_SECONDS, Access, Person
from pipelines.commands import HERE, BookDir, Json, open_book, say, say_json
from pipelines.definitions.errors import Stop
from pipelines.store.book import operator

Name = Annotated[str, typer.Argument(help="The account's name, such as leader-0417.", show_default=False)]
Role = Annotated[str, typer.Option("--role", help="coordinator, leader or viewer.")]
Troops = Annotated[list[str] | None, typer.Option("--troop", help="A troop of the leader; once for each.")]


def register(app: typer.Typer) -> None:
    group = typer.Typer(help="Who may sign in: add, list, change, withdraw.", no_args_is_help=True)
    group.command("add")(add)
    group.command("list")(list_)
    group.command("change")(change)
    group.command("renew")(renew)
    group.command("link")(link)
    group.command("withdraw")(withdraw)
    group.command("sign-out")(sign_out)
    group.command("log")(log)
    app.add_typer(group, name="access")


def me() -> str:
    """Who is at the terminal, for the log."""
    return f"{operator()} (terminal)"


def _access(book: BookDir) -> Access:
    return Access(open_book(book).folder)


def add(
    name: Name,
    role: Role = "leader",
    troop: Troops = None,
    email: Annotated[str | None, typer.Option(help="For an organisation's own sign-in.")] = None,
    book: BookDir = HERE,
) -> None:
    """Let somebody in: prints the personal code, which is shown this once."""
    say_code(name, _access(book).add(name, role, troop or (), by=me(), email=email))


def renew(name: Name, book: BookDir = HERE) -> None:
    """Issue a new code in place of a lost one; the old one and every sign-in end."""
    say_code(name, _access(book).renew(name, by=me()))


def say_code(name: str, code: str) -> None:
    """Shows a code, this once."""
    say(
        f"{name.strip().casefold()} signs in with this code. It is shown this once; hand it over in person or by phone."
    )
    say(f"    {code}")


def change(name: Name, role: Role = "leader", troop: Troops = None, book: BookDir = HERE) -> None:
    """Give an account another role or other troops, from its next click on."""
    _access(book).change(name, role, troop or (), by=me())
    say(f"{name} is a {role}{_of(tuple(troop or ()))} now.")


def link(name: Name, book: BookDir = HERE) -> None:
    """Print the end of an address that lets an account in once, within half an hour."""
    say_link(_access(book).link(name, by=me()))


def say_link(secret: str) -> None:
    """Shows the end of an address that lets somebody in."""
    say(f"/sign-in/link?link={secret}")
    say(f"Put it behind the dashboard's address. It works once, within {LINK_SECONDS / 60:.0f} minutes.")


def withdraw(name: Name, book: BookDir = HERE) -> None:
    """Shut an account out: its code and its sign-ins stop working at once."""
    _access(book).withdraw(name, by=me())
    say(f"{name} cannot come in any more.")


def sign_out(
    name: Annotated[str | None, typer.Argument(help="The account's name.", show_default=False)] = None,
    everybody: Annotated[bool, typer.Option("--everybody", help="Every account.")] = False,
    book: BookDir = HERE,
) -> None:
    """End every sign-in of an account, or of everybody; codes stay."""
    access = _access(book)
    if not everybody and not name:
        raise Stop("Name an account, or give --everybody.")
    names = [one.name for one in access.people() if not one.withdrawn] if everybody else [name or ""]
    for one in names:
        access.sign_out_everywhere(one, by=me())
    say(f"{', '.join(names)}: signed out everywhere.")


def list_(book: BookDir = HERE, as_json: Json = False) -> None:
    """Who may sign in, with role, troops and how many sign-ins are open."""
    people = _access(book).people()
    if as_json:
        say_json(people)
        return
    if not people:
        say("Nobody may sign in yet. `musterbook access add NAME --role coordinator` lets the first one in.")
    for one in people:
        say(_line(one))


def _line(one: Person) -> str:
    if one.withdrawn:
        return f"{one.name}: withdrawn"
    code = "has a code" if one.has_code else "has no code"
    return f"{one.name}: {one.role}{_of(one.troops)}, {code}, {one.sign_ins} sign-ins open"


def _of(troops: tuple[str, ...]) -> str:
    return f" of {', '.join(troops)}" if troops else ""


def log(
    most: Annotated[int, typer.Option(help="How many entries, the newest.", min=1)] = 50,
    book: BookDir = HERE,
    as_json: Json = False,
) -> None:
    """What happened: sign-ins, refusals, files sent and fetched, changes of access; newest first."""
    entries = _access(book).store.log(most)
    if as_json:
        say_json(entries)
        return
    for one in entries:
        at = datetime.fromtimestamp(one.at, UTC).astimezone()
        told = f"{one.what}  {one.about}".rstrip()
        say(f"{at:%Y-%m-%d %H:%M:%S}  {one.who}  {told}  {one.address}".rstrip())
