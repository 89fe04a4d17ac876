"""A file whose headers nobody knows → the mapping that comes nearest, to be looked at before anything is taken in.

Comes in: sheets, and what the book knows (season, troops, participants, mappings). Goes out: the sheet and header that
hold a table, and a mapping's keys as far as names and values tell them. What can be read in two ways is left open.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, NamedTuple

import pyarrow as pa
from rapidfuzz import fuzz, process

from pipelines.definitions.columns import Column, Table, fold
from pipelines.definitions.contract import NO, TABLES, YES
from pipelines.definitions.records import Sheet
from pipelines.definitions.season import Season
from pipelines.intake.elsewhere.headers import Head, heads, top_rows
from pipelines.intake.elsewhere.mapping import OF_ONE_FILE, Feed, Mapping, Mappings
from pipelines.intake.elsewhere.other_names import phrases_of, words_of
from pipelines.intake.elsewhere.rewriting import DAYS, ITEMS, NUMBERS, PLACES, Refusal, parted
from pipelines.intake.elsewhere.titles_and_totals import from_title, rows_to_pass
from pipelines.intake.elsewhere.ways_of_writing import (
    ORDERS,
    Readings,
    day_in,
    days_readings,
    number_in,
    numbers_readings,
)
from pipelines.intake.judging.judge import text_of
from pipelines.intake.judging.tables import Cells, body_of, is_empty

MOST_HEADERS = 400  # of one sheet that are compared; a table of 10,000 columns keeps its rest for the person to choose
MOST_SHEETS = 12
MOST_SAMPLED = 3000  # rows whose values are looked at
NEAR = 0.12  # a table whose weight is less than this behind the best one's fits nearly as well
SURE_TABLE = 1.0  # a weight below which even the best table is asked about
MOST_RIVALS = 4  # tables that are asked about at once
LIKE, SAME = 0.85, 0.97  # how like a header is to a column's name: it may well be meant; it is that very name
LIKELY = 0.55  # from here on a header is proposed for a column
SURE_WORD = 88  # of 100: from here on a word is proposed for another
SEPARATORS = (" / ", "/", " - ", " \u2013 ", "|", ";", ":", ",", " ")
DISTINCTIVE = ("troop", "participant", *ITEMS)  # kinds whose values the book knows


@dataclass(frozen=True)
class Hints:
    """What the book knows, by which values are told apart."""

    season: Season
    troops: frozenset[str] = frozenset()
    participants: frozenset[str] = frozenset()
    mappings: Mappings = field(default_factory=lambda: Mappings({}))

    def known(self, kind: str) -> dict[str, str]:
        """The codes of a kind by their folded form; items by their titles too."""
        if kind == "troop":
            return {code.casefold(): code for code in self.troops}
        if kind == "participant":
            return {code.casefold(): code for code in (*self.participants, "troop")}
        titles = {item.title.casefold(): code for code, item in self.season.codes.items()}
        return titles | {code.casefold(): code for code in self.season.codes}


class Proposed(NamedTuple):
    """Which sheet and header a table was found under, and the keys of the mapping that is proposed for it.

    `rivals`: the tables that it may be as well, best first; () where one fits beyond doubt, or was named.
    """

    sheet_no: int
    head: Head
    stated: dict[str, Any]
    rivals: tuple[str, ...] = ()


class Profile(NamedTuple):
    """The values below one header: each distinct one with how often it stands there."""

    counts: dict[object, int]

    @property
    def total(self) -> int:
        return sum(self.counts.values())

    def share(self, fits: Any) -> float:
        """The part of the filled cells that fit."""
        return sum(many for cell, many in self.counts.items() if fits(cell)) / self.total if self.total else 0.0


def propose(
    sheets: Sequence[Sheet], hints: Hints, table: str = "", under: Sequence[Head] = (), file_name: str = ""
) -> Proposed | None:
    """The nearest mapping for a file; None where no sheet has anything like a header.

    `table`: the one it is for, where that is known; `under`: the headers it may be under, where they are.
    """
    best: tuple[float, Proposed] | None = None
    for number, sheet in enumerate(sheets[:MOST_SHEETS]):
        for head in under or likely_heads(sheet):
            weight, stated, rivals = _for_head(sheet, head, hints, table, file_name)
            weight -= 0.2 * sheet.is_hidden
            if best is None or weight > best[0] + 1e-9:
                best = (weight, Proposed(number, head, stated, rivals))
    return best[1] if best else None


def likely_heads(sheet: Sheet) -> list[Head]:
    """The lines that look most like a sheet's header: the fullest row of words near the top, with the one beside it."""
    singles = list(heads(sheet, 1))
    if not singles or singles[0].row < 0:
        return singles
    rows = top_rows(sheet)
    words = {head.row: sum(_is_word(cell) for cell in rows[head.row]) for head in singles}
    most = max(words.values())
    found = [next(head for head in singles if words[head.row] >= 0.6 * most)]
    if (found[0].row and words.get(found[0].row - 1, 0) > 1) or words.get(found[0].row + 1, 0) > 1:
        found += [two for two in heads(sheet, 2) if two.row in (found[0].row, found[0].row + 1)]
    return found


def _is_word(cell: object) -> bool:
    return isinstance(cell, str) and any(mark.isalpha() for mark in cell) and day_in(cell, None) is None


def _for_head(
    sheet: Sheet, head: Head, hints: Hints, table: str, file_name: str
) -> tuple[float, dict[str, Any], tuple[str, ...]]:
    """How well a header fits the table it fits best, the mapping's keys, and the tables that fit nearly as well."""
    known = [name for name in hints.mappings.like(head.key) if table in ("", hints.mappings.named[name].table)]
    if known:
        return 3.0, _as_before(hints.mappings.named[known[0]], head), ()
    cells, _row_nos = body_of(sheet, head.row + 1)
    profiles = {
        label: profile_of(cells[place]) for place, label in enumerate(head.labels[:MOST_HEADERS]) if place < len(cells)
    }
    names = _name_scores(tuple(profiles))
    tables = [TABLES[table]] if table in TABLES else list(TABLES.values())
    tried = [(*_assigned(one, profiles, names, hints), one) for one in tables]
    weight, fed, items, best = max(tried, key=lambda one: one[0])
    is_strained = _is_strained(best, fed, names)
    margin = NEAR if not is_strained else 3 * NEAR
    near = sorted((one for one in tried if one[0] > weight - margin), key=lambda one: -one[0])
    stated: dict[str, Any] = {"table": best.name, "headers": list(head.labels), "header_rows": head.lines}
    stated |= _filled_out(best, fed, items, profiles, hints)
    from_title(stated, best, sheet, head, hints.season, file_name)
    titled = sum("cell" in feed or "name_of" in feed for feed in stated["columns"].values()) / sum(
        one.required for one in best.columns
    )
    is_sure = len(near) == 1 and weight + titled >= SURE_TABLE and not is_strained
    rivals = () if table or is_sure else tuple(one[3].name for one in near[:MOST_RIVALS])
    stated["pass_over"], stated["pass_over_rows"] = rows_to_pass(cells, head)
    return weight + 0.1 * (head.lines == 1), stated, rivals


def _is_strained(table: Table, fed: dict[str, str], names: dict[str, dict[str, float]]) -> bool:
    """Whether a header that is by its name just what another table needs feeds a column it is little like here."""
    needed = [one.name for one in table.columns if one.required and one.kind not in DISTINCTIVE and one.name in fed]
    return any(names[fed[name]][name] < LIKE and max(names[fed[name]].values()) > SAME for name in needed)


def _as_before(one: Mapping, head: Head) -> dict[str, Any]:
    """A mapping confirmed for other files of these headers, without what it says of those files alone."""
    stated = one.model_dump(exclude_defaults=True, exclude={"only_for"}) | {"headers": list(head.labels)}
    of_one_file = {column.name for column in one.of.columns if column.kind in OF_ONE_FILE}
    constants = {name: text for name, text in one.constants.items() if name not in of_one_file or not text}
    return stated | {"constants": constants}


def profile_of(cells: Cells) -> Profile:
    """The values of a column, as far as they are looked at."""
    counts: dict[object, int] = {}
    part = cells[:MOST_SAMPLED]
    for cell in part.to_pylist() if isinstance(part, pa.Array) else part:
        if not is_empty(cell):
            counts[cell] = counts.get(cell, 0) + 1
    return Profile(counts)


def _name_scores(labels: Sequence[str]) -> dict[str, dict[str, float]]:
    """For each label how like it is to each column's names, 0 to 1."""
    columns = sorted({name for table in TABLES.values() for name in table.names})
    phrases = [(column, phrase) for column in columns for phrase in phrases_of(column)]
    said = [words_of(label) for label in labels]
    texts = [phrase for _column, phrase in phrases]
    sorted_, shared = (process.cdist(said, texts, scorer=one) for one in (fuzz.token_sort_ratio, fuzz.token_set_ratio))
    sharing = _sharing_a_word(said, texts)
    scores: dict[str, dict[str, float]] = {}
    for row, label in enumerate(labels):
        of_label = scores.setdefault(label, dict.fromkeys(columns, 0.0))
        for place in sharing[row]:
            column = phrases[place][0]
            score = float(0.7 * sorted_[row, place] + 0.3 * shared[row, place]) / 100
            of_label[column] = max(of_label[column], score)
    return scores


def _sharing_a_word(said: Sequence[str], texts: Sequence[str]) -> list[set[int]]:
    """For each header the phrases that have a word like one of its own: `cash` is nothing like `cases`."""
    of_phrase: dict[str, set[int]] = {}
    for place, text in enumerate(texts):
        for word in text.split():
            of_phrase.setdefault(word, set()).add(place)
    known = list(of_phrase)
    words = sorted({word for one in said for word in one.split()})
    near: dict[str, set[int]] = {}
    alike = process.cdist(words, known, scorer=fuzz.ratio, score_cutoff=SURE_WORD)
    for word, row in zip(words, alike, strict=True):
        near[word] = {place for k in row.nonzero()[0] for place in of_phrase[known[k]]}
    return [{place for word in one.split() for place in near[word]} for one in said]


def _fit(column: Column, profile: Profile, hints: Hints) -> float:  # noqa: PLR0911 - one line a kind
    """How well a column's kind fits the values below a header, 0 to 1; 0.5 where values tell nothing."""
    if not profile.total:
        return 0.5
    kind = column.kind
    if kind in DAYS:
        found = days_readings(profile.counts.items(), hints.season.first_dated, hints.season.last_dated)
        read = found.plain + sum(found.alone.values()) + sum(profile.counts[text] for text in found.open_)
        is_off = kind == "week_ending" and not all(_may_end_a_week(cell, hints.season) for cell in profile.counts)
        return 0.1 if is_off else min(1.0, read / profile.total)
    if kind in NUMBERS:
        is_whole = kind not in PLACES
        return profile.share(lambda cell: _is_number(cell, is_whole=is_whole))
    if kind == "yes_no":
        return profile.share(lambda cell: text_of(cell).casefold() in (*YES, *NO))
    if column.choices:
        choices = {fold(choice) for choice in column.choices}
        share = profile.share(lambda cell: fold(text_of(cell)) in choices)
        return max(share, 0.5 if len(profile.counts) <= 8 and profile.share(_is_word) > 0.9 else 0.1)
    if kind in DISTINCTIVE and (known := hints.known(kind)):
        share = profile.share(lambda cell: text_of(cell).casefold() in known)
        return max(share, 0.9 * _parted_by(profile, known)[0])
    return (
        0.1 if kind in ("text", "participant") and profile.share(lambda c: _is_number(c, is_whole=False)) > 0.9 else 0.5
    )


def _may_end_a_week(cell: object, season: Season) -> bool:
    days = {cell} if isinstance(cell, date) else {day_in(text_of(cell), order) for order in (None, *ORDERS)}
    days = {day.date() if isinstance(day, datetime) else day for day in days}
    return any(isinstance(day, date) and season.is_week_ending(day) for day in days)


def _is_number(cell: object, *, is_whole: bool) -> bool:
    if isinstance(cell, str):
        return number_in(cell, "comma") is not None or number_in(cell, "point") is not None
    return isinstance(cell, int | float) and not isinstance(cell, bool) and (not is_whole or float(cell).is_integer())


def _assigned(
    table: Table, profiles: dict[str, Profile], names: dict[str, dict[str, float]], hints: Hints
) -> tuple[float, dict[str, str], dict[str, str]]:
    """How well a table fits, the header that feeds each column, and the headers of single items."""
    scored: list[tuple[float, str, str, float]] = []
    fits: dict[tuple[str, str], float] = {}
    for column in table.columns:
        for label, profile in profiles.items():
            name = names[label][column.name]
            if name < 0.5 and column.kind not in DISTINCTIVE:
                continue
            fit = fits.setdefault((column.kind + "|".join(column.choices), label), _fit(column, profile, hints))
            is_told_by_values = column.kind in DISTINCTIVE and fit > 0.85
            if fit < 0.3 and (column.kind in (*DAYS, *NUMBERS, "yes_no") or name < 0.8):
                continue
            score = 0.65 * name + 0.35 * fit
            if is_told_by_values and column.kind in ITEMS:
                score = max(score, LIKELY)  # whatever it is called: no other column holds goods of the season
            if score >= LIKELY and (name >= 0.6 or is_told_by_values):
                of_table = score if column.kind in DISTINCTIVE else 0.85 * name + 0.15 * fit
                scored.append((score + 0.05 * column.required, column.name, label, of_table))
    items = _item_headers(table, profiles, hints)
    fed: dict[str, str] = {}
    weights: dict[str, float] = {}
    used = set(items)
    for _score, column_name, label, of_table in sorted(scored, key=lambda one: (-one[0], one[1], one[2])):
        if column_name in fed or label in used or (items and column_name in ("item", "packages")):
            continue
        fed[column_name], weights[column_name] = label, of_table
        used.add(label)
    for column_name, label in _only_ones_left(table, profiles, fed, used, hints).items():
        fed[column_name], weights[column_name] = label, LIKELY
        used.add(label)
    needed = [column.name for column in table.columns if column.required]
    weights |= {"item": 0.95, "packages": 0.95} if items else {}
    own = [name for name in fed if name not in ("troop", "week_ending", "note")]
    share = sum(weights.get(name, 0.0) for name in needed) / len(needed)
    explained = len(used) / max(1, len(profiles))
    return (share + 0.35 * explained if own or items else 0.1 * share), fed, items


def _only_ones_left(
    table: Table, profiles: dict[str, Profile], fed: dict[str, str], used: set[str], hints: Hints
) -> dict[str, str]:
    """The one header of days that is left for the one day that a table still needs, whatever it is called."""
    lacking = [one for one in table.columns if one.required and one.name not in fed and one.kind in DAYS]
    if len(lacking) != 1:
        return {}
    of_days = [
        label
        for label, profile in profiles.items()
        if label not in used and profile.total and _fit(lacking[0], profile, hints) > 0.95
    ]
    return {lacking[0].name: of_days[0]} if len(of_days) == 1 else {}


def _item_headers(table: Table, profiles: dict[str, Profile], hints: Hints) -> dict[str, str]:
    """Headers that name single items, with numbers below them; {} where there are fewer than two, or doubtful ones."""
    if not {"item", "packages"} <= set(table.names):
        return {}
    known = hints.known("item")
    codes = {words_of(text): code for text, code in known.items()}
    found: dict[str, str] = {}
    for label, profile in profiles.items():
        said = words_of(label)
        bare = " ".join(
            word for word in said.split() if word not in ("packages", "quantity", "cases", "pieces", "bags")
        )
        within = {code for text, code in codes.items() if f" {text} " in f" {said} "}
        code = within.pop() if len(within) == 1 else codes.get(said) or _nearest_word(bare, codes)
        if code and (not profile.total or profile.share(lambda cell: _is_number(cell, is_whole=True)) > 0.8):
            found[label] = code
    return found if len(found) > 1 and len(set(found.values())) == len(found) else {}


def _nearest_word(text: str, known: dict[str, str], least: float = SURE_WORD) -> str | None:
    """What a word most likely means; None where nothing is near, or two are alike."""
    if len(text) < 3:
        return None
    near = process.extract(text, list(known), scorer=fuzz.token_sort_ratio, limit=2, score_cutoff=least)
    if not near or (len(near) > 1 and near[1][1] > near[0][1] - 4 and known[near[0][0]] != known[near[1][0]]):
        return None
    return known[near[0][0]]


def _parted_by(profile: Profile, known: dict[str, str]) -> tuple[float, dict[str, Any]]:
    """The part of a text by which most values are codes that the book knows: how many, and how it is cut out."""
    best: tuple[float, dict[str, Any]] = (0.0, {})
    texts = [(text_of(cell), many) for cell, many in profile.counts.items()]
    for separator in SEPARATORS:
        mark = separator.strip()
        for part in (1, -1, 2):
            good = 0
            for text, many in texts:
                parts = [one.strip() for one in (text.split(mark) if mark else text.split())]
                place = part - 1 if part > 0 else part
                if len(parts) > 1 and -len(parts) <= place < len(parts) and parts[place].casefold() in known:
                    good += many
            if profile.total and good / profile.total > best[0] + 1e-9:
                best = (good / profile.total, {"split": separator, "part": part})
    return best if best[0] >= 0.5 else (0.0, {})


def _filled_out(
    table: Table, fed: dict[str, str], items: dict[str, str], profiles: dict[str, Profile], hints: Hints
) -> dict[str, Any]:
    """How each column is read: parts of cells, words translated, days and numbers where the values decide."""
    columns: dict[str, dict[str, Any]] = {}
    values: dict[str, dict[str, str]] = {}
    for column in table.columns:
        label = fed.get(column.name)
        if label is None:
            continue
        feed: dict[str, Any] = {"header": label}
        profile = profiles[label]
        if column.kind in DISTINCTIVE and (known := hints.known(column.kind)):
            share = profile.share(lambda cell, known=known: text_of(cell).casefold() in known)
            parts = _parted_by(profile, known)
            if parts[0] > share + 0.2:
                feed |= parts[1]
        columns[column.name] = feed
        if meant := meanings(column, words_in(profile, feed), hints):
            values[column.name] = meant
    stated: dict[str, Any] = {"columns": columns, "values": values, "items": items}
    if items and table.name == "online_orders" and "goods_amount" not in columns:
        columns["goods_amount"] = {"by_price": True}
    of_packages = [columns["packages"]["header"]] if "packages" in columns else list(items)
    stated["by_case"] = bool(of_packages) and all("cases" in words_of(label).split() for label in of_packages)
    _decided(stated, table, profiles, hints)
    return {key: value for key, value in stated.items() if value}


def words_in(profile: Profile, feed: dict[str, Any]) -> list[str]:
    """The distinct words below a header, the part that counts of each."""
    one = Feed.model_validate(feed)
    cells = [parted(cell, one) if one.split or one.form else cell for cell in profile.counts]
    return list(dict.fromkeys(text_of(cell) for cell in cells if not isinstance(cell, Refusal) and not is_empty(cell)))


def meanings(column: Column, words: Iterable[str], hints: Hints) -> dict[str, str]:
    """What words that are no words of the contract most likely mean, where they come near enough."""
    if column.choices:
        known = {words_of(choice): choice for choice in column.choices}
        is_known = {fold(choice) for choice in column.choices}
        return {
            word: meant
            for word in words
            if fold(word) not in is_known and (meant := _nearest_word(words_of(word), known))
        }
    if column.kind in ITEMS:
        codes = {code.casefold() for code in hints.season.codes}
        known = {words_of(text): code for text, code in hints.known(column.kind).items()}
        return {
            word: meant
            for word in words
            if word.casefold() not in codes
            and (meant := known.get(words_of(word)) or _nearest_word(words_of(word), known))
        }
    return {}


def known_words(cells: Cells, column: Column, feed: dict[str, Any], hints: Hints) -> dict[str, str]:
    """What the words in the cells that feed a column most likely mean, where the book knows them."""
    return meanings(column, words_in(profile_of(cells), feed), hints)


def readings_of(column: Column, counts: Iterable[tuple[object, int]], season: Season, places: int) -> Readings | None:
    """How the cells of a column of days, or numbers of so many decimals, may be read; None of any other kind."""
    if column.kind in DAYS:
        return days_readings(counts, season.first_dated, season.last_dated)
    return numbers_readings(counts, places) if column.kind in NUMBERS else None


def ways_decided(
    table: Table, stated: dict[str, Any], profiles: dict[str, Profile], hints: Hints
) -> dict[str, dict[str, str]]:
    """The order of days and the decimal sign (`dates`, `decimals`) by column: "" where a column's values leave it open.

    A column that is read in one way whatever is stated is not in it.
    """
    found: dict[str, dict[str, str]] = {"dates": {}, "decimals": {}}
    for column in table.columns:
        feed = stated["columns"].get(column.name, {})
        labels = [feed["header"]] if "header" in feed else []
        labels += list(stated.get("items", ())) if column.name == "packages" else []
        counts: dict[object, int] = {}
        for label in labels:
            for cell, many in (profiles[label].counts if label in profiles else {}).items():
                is_parted = "split" in feed or "form" in feed
                part = parted(cell, Feed.model_validate(feed)) if is_parted else cell
                if not isinstance(part, Refusal):
                    counts[part] = counts.get(part, 0) + many
        places = 3 if stated.get("by_case") and column.name == "packages" else PLACES.get(column.kind, 0)
        readings = readings_of(column, counts.items(), hints.season, places)
        if readings is None or not (readings.alone or readings.open_):
            continue
        found["dates" if column.kind in DAYS else "decimals"][column.name] = readings.decided or ""
    return found


def _decided(stated: dict[str, Any], table: Table, profiles: dict[str, Profile], hints: Hints) -> None:
    """States the order of days and the decimal sign that the values decide: of all columns, or one by one."""
    for key, by_column in ways_decided(table, stated, profiles, hints).items():
        ways = set(by_column.values())
        if len(ways) == 1 and "" not in ways:
            stated[key] = ways.pop()
            continue
        for name, way in by_column.items():
            if way and name in stated["columns"]:
                stated["columns"][name][key] = way
