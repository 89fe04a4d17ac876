"""Good files damaged by chance: none stops the reader or takes it long, and none counts as something else in silence.

MUSTERBOOK_CORRUPTIONS (300) files, MUSTERBOOK_CORRUPTIONS_SEED (1). Run as a program it prints what became of each way
of damage: `MUSTERBOOK_CORRUPTIONS=10000 python tests/intake/test_corruptions.py`.
"""

import os
import random
import tempfile
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import corrupted_tables  # noqa: F401 - its ways are among WAYS
from corruptions import WAYS
from weighing import GOOD, Scales, Weighed

from pipelines.definitions.records import Reading
from pipelines.intake.files.readers import Reader

# ruff: noqa: S311 - chance that repeats is wanted here
FILES = int(os.environ.get("MUSTERBOOK_CORRUPTIONS", "300"))
SEED = int(os.environ.get("MUSTERBOOK_CORRUPTIONS_SEED", "1"))
BROKE_OFF = ("a file that stopped the reader", "a file that could not be read within")
SECONDS = 10  # that a file may take


@dataclass
class Tally:
    """What became of the files: how many of each way, and those that should not have come to that."""

    of_way: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    silent: list[str] = field(default_factory=list)
    broke_off: list[str] = field(default_factory=list)
    slowest: float = 0.0


def outcome(now: Weighed, good: Weighed) -> str:
    if now.totals == good.totals:
        return "same totals"
    if any(not finding.is_note for finding in now.findings):
        return "to mend"
    return "noted" if now.findings else "silent"


def corrupt(count: int, seed: int, folder: Path) -> Tally:
    """Damages, reads and weighs `count` files, each way of damage in turn."""
    scales, dice, tally = Scales(), random.Random(seed), Tally()
    path = folder / "damaged"
    with Reader() as reader:

        def read(payload: bytes, name: str) -> Reading:
            path.write_bytes(payload)
            return reader.read(path, name)

        good = {name: make() for name, make in GOOD.items()}
        readings = {name: read(payload, name) for name, payload in good.items()}
        weighed = {name: scales.weigh(reading, name) for name, reading in readings.items()}
        assert all(one.findings == [] for one in weighed.values())
        ways = sorted(WAYS)
        for k in range(count):
            way = ways[(k + seed) % len(ways)]
            name = dice.choice([name for name in good if kind_of(name) in WAYS[way].kinds])
            own = dice.randrange(1 << 40)
            started = time.monotonic()
            reading = read(WAYS[way].alter(good[name], random.Random(own)), name)
            tally.slowest = max(tally.slowest, time.monotonic() - started)
            told = " ".join(finding.found for finding in reading.findings)
            if any(one in told for one in BROKE_OFF):
                tally.broke_off.append(f"{way}, {name}, {own}: {told}")
            if reading == readings[name]:
                what = "same cells"
            elif not reading.sheets:
                assert told, (way, name, own)
                what = "not read"
            else:
                try:
                    what = outcome(scales.weigh(reading, name), weighed[name])
                except Exception as error:
                    error.add_note(f"{way}, {name}, {own}")
                    raise
            tally.of_way[way][what] += 1
            if what == "silent" and is_told(way, name):
                tally.silent.append(f"{way}, {name}, {own}")
    return tally


def kind_of(name: str) -> str:
    return name.rpartition(".")[2]


def is_told(way: str, name: str) -> bool:
    """Whether this damage to this file can be told; a Parquet file without checksums is like a text without."""
    return kind_of(name) in WAYS[way].told_of and not (name == "stock.parquet" and way in BYTES)


BYTES = {"bytes altered", "bits turned", "sent as text", "two stretches swapped"}
BYTES |= {"a stretch lost", "a stretch doubled", "a stretch zeroed"}


def test_no_damaged_file_counts_as_something_else_in_silence(tmp_path: Path) -> None:
    tally = corrupt(FILES, SEED, tmp_path)
    assert tally.silent == []
    assert tally.broke_off == []
    assert tally.slowest < SECONDS
    assert {"not read", "to mend", "noted", "same totals", "same cells"} <= set().union(*tally.of_way.values())


def main() -> None:
    """Prints what became of each way of damage."""
    started = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        tally = corrupt(FILES, SEED, Path(folder))
    names = ("same cells", "same totals", "not read", "to mend", "noted", "silent")
    sums: Counter[str] = Counter()
    print(f"{'':42}{''.join(f'{name:>12}' for name in names)}")
    for way, counts in sorted(tally.of_way.items()):
        mark = "" if WAYS[way].told_of else " (a sound file)"
        print(f"{way + mark:42}{''.join(f'{counts[name]:12}' for name in names)}")
        sums += counts
    print(f"{'together':42}{''.join(f'{sums[name]:12}' for name in names)}")
    print(f"{FILES:,} files in {time.monotonic() - started:,.0f} s, the slowest {tally.slowest:.2f} s to read")
    print(f"in silence though it can be told: {tally.silent}\nbroke off: {tally.broke_off}")


if __name__ == "__main__":
    main()
