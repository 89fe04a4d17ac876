"""The SQL of measures that follows from their declarations: sums of entries, sums, ratios, limits, the area's figures.

Comes in: the declared measures, the selects of 4_measures by name. Goes out: the same with what is made of them: for
each relation a chain, its first link the sums of entries (or of the troops' rows), each later link a file of its own
that reads the one before; a sum or ratio is made in the first link that has all its terms.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pipelines.definitions.measures import RELATIONS, Count, Entries, Limit, Measure, Own, Ratio, Sum
from pipelines.store.engine import sql

Measures = Mapping[str, Measure]
STAGE = "4_measures"
Z = "1.959963984540054::double"  # of the interval at 95 %


@dataclass(frozen=True, slots=True)
class Chain:
    """The relations that a relation's measures are made in, the first of them made here.

    `frame`: the rows that the first has, each with as_of and `keys`; or (`is_added_up`) the rows that it adds up.
    """

    relations: tuple[str, ...]
    frame: str
    keys: tuple[str, ...]
    is_added_up: bool = False


CHAINS: dict[str, Chain] = {
    "standing": Chain(("troop_sums", "charges", "standing"), "measures.points", ("troop",)),
    "items": Chain(("item_sums", "items"), "measures.item_points", ("troop", "item")),
    "families": Chain(("family_sums", "families"), "measures.family_points", ("troop", "participant")),
    "steps": Chain(("steps",), "", ()),
    "dues": Chain(("dues",), "", ()),
    "area": Chain(
        ("area_sums", "area"), "measures.standing join measures.steps using (as_of, troop)", ("as_of", "week_no"), True
    ),
    "item_totals": Chain(
        ("item_total_sums", "item_totals"), "measures.items", ("as_of", "item", "price", "is_stocked"), True
    ),
}


def made(own: Mapping[str, str], declared: Mapping[str, Measures] = RELATIONS) -> dict[str, str]:
    """The selects of all relations that measures are made in, by full name; `own`: those of the files."""
    found = {}
    for relation, chain in CHAINS.items():
        measures = declared[relation]
        links = _links(measures, chain)
        for name in chain.relations:
            text = own.get(f"measures.{name}") or _first(measures, chain)
            here = [measures[one] for one, link in links.items() if link == name and _is_term(measures[one], chain)]
            found[f"measures.{name}"] = (
                _filled("_completed", terms=[_term(one) for one in here], own=text.rstrip()) if here else text
            )
    return found


def _is_term(one: Measure, chain: Chain) -> bool:
    """Whether a measure is made of others of its row."""
    return bool(one.needs) and not (chain.is_added_up and one.is_added_up)


def _own(one: Measure, chain: Chain) -> str | None:
    """The relation of the chain in whose file a measure is made."""
    return one.made.relation if isinstance(one.made, Own) and one.made.relation in chain.relations else None


def _links(measures: Measures, chain: Chain) -> dict[str, str]:
    """The relation that each measure is made in, each measure after those that it is made of."""
    found: dict[str, int] = {}

    def find(name: str) -> int:
        if name not in found:
            one = measures[name]
            own = _own(one, chain)
            first = chain.relations.index(own) if own else 0
            found[name] = max(map(find, one.needs)) if _is_term(one, chain) else first
        return found[name]

    for name, one in measures.items():
        if one.made:
            find(name)
    return {name: chain.relations[link] for name, link in found.items()}


def _filled(template: str, **parts: str | list[str]) -> str:
    """A template of 4_measures with its parts; a list as many lines."""
    lines = {name: part if isinstance(part, str) else ",\n    ".join(part) for name, part in parts.items()}
    return sql(STAGE, template).format(**lines)


def _first(measures: Measures, chain: Chain) -> str:
    """The first relation of a chain: its frame with the sums of entries, or the sums and counts of the rows."""
    if chain.is_added_up:
        counts = [
            f"count(*) filter ({one.made.of} {one.made.so})::bigint as {name}"
            for name, one in measures.items() if isinstance(one.made, Count)
        ]  # fmt: skip
        added = [one for one in measures.values() if one.is_added_up and not _own(one, chain)]
        sums = [f"coalesce(sum({one.name}), 0)::{_type(one)} as {one.name}" for one in added]
        return _filled("_added_up", keys=", ".join(chain.keys), source=chain.frame, sums=counts + sums)
    entries = [(one, one.made.kinds) for one in measures.values() if isinstance(one.made, Entries)]
    return _filled(
        "_sums",
        frame=chain.frame,
        keys=", ".join(chain.keys),
        matched=" and ".join(f"e.{key} = f.{key}" for key in chain.keys),
        kinds=_quoted(sorted({kind for _one, kinds in entries for kind in kinds})),
        by_day=[f"sum({_signed(kinds, _column(one))}) as {one.name}" for one, kinds in entries],
        sums=[f"coalesce(sum(e.{one.name}), 0)::{_type(one)} as {one.name}" for one, _kinds in entries],
    )


def added_up(relation: str, declared: Mapping[str, Measures] = RELATIONS) -> list[str]:
    """The columns of the troops' rows that an area's relation is counted and added up from."""
    measures, chain = declared[relation], CHAINS[relation]
    counted = [one.made.of for one in measures.values() if isinstance(one.made, Count)]
    added = [one.name for one in measures.values() if one.is_added_up and not _own(one, chain)]
    return list(dict.fromkeys([*counted, *added]))


def _type(one: Measure) -> str:
    return "decimal(18, 2)" if one.unit == "money" else "bigint"


def _column(one: Measure) -> str:
    return "amount" if one.unit == "money" else "packages"


def _quoted(kinds: Iterable[str]) -> str:
    return ", ".join(f"'{kind}'" for kind in kinds)


def _signed(kinds: Mapping[str, int], column: str) -> str:
    """What an entry adds to a measure."""
    cases = []
    for sign, then in ((1, column), (-1, f"-{column}")):
        if of_sign := [kind for kind, its in kinds.items() if its == sign]:
            cases.append(f"when kind in ({_quoted(of_sign)}) then {then}")
    return f"case {' '.join(cases)} end"


def _term(one: Measure) -> str:
    """A measure of others of its row, by name."""
    match one.made:
        case Sum(signed=signed):
            added = " ".join(f"{'-' if sign < 0 else '+'} coalesce({name}, 0)" for name, sign in signed.items())
            made = f"({added.removeprefix('+ ')})::{_type(one)}"
        case Ratio(over=over, below=below):
            made = f"case when {below} > 0 then ({' + '.join(over)})::double / {below}::double end"
        case Limit():
            made = _limit(one.made)
        case _:
            raise TypeError(one.name)
    return f"{made} as {one.name}"


def _limit(made: Limit) -> str:
    x, n = f"{made.some}::double", f"{made.of}::double"
    bound, sign = ("greatest(0", "-") if made.end == "lower limit" else ("least(1", "+")
    spread = f"{Z} * sqrt({x} * ({n} - {x}) / {n} + {Z} * {Z} / 4)"
    return f"case when {made.of} > 0 then {bound}, ({x} + {Z} * {Z} / 2 {sign} {spread}) / ({n} + {Z} * {Z})) end"
