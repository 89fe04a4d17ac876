"""Broken and hostile files: each ends as a finding in plain words or as its right cells, and reading goes on."""

import os
import pickle
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hostile_files import CASES, GOOD, MEGABYTE, PLAIN
from made_files import ole2, raw_xlsx, row

from pipelines.definitions.records import Reading
from pipelines.intake.files import wire, worker
from pipelines.intake.files.readers import Reader

# ruff: noqa: S311 - chance that repeats is wanted here
CALC = Path(__file__).parents[1] / "fixtures" / "calc"


@pytest.fixture(scope="module")
def reader() -> Iterator[Reader]:
    with Reader(memory_bytes=1 << 30) as one:
        yield one


@pytest.mark.parametrize("name", CASES)
def test_a_hostile_file_ends_as_a_finding_or_as_its_cells(reader: Reader, tmp_path: Path, name: str) -> None:
    case = CASES[name]
    landed = tmp_path / "landed"
    landed.write_bytes(case.payload())
    reading = reader.read(landed, case.name)
    told = [f for f in reading.findings if "named ." not in f.found]
    if case.told:
        assert len(told) == 1, reading.findings
        assert any(part in told[0].found for part in case.told.split("|")), told[0].found
        assert told[0].is_note == (case.rows is not None)
        assert told[0].expected
        assert told[0].how
        assert case.cell in (None, told[0].cell)
    else:
        assert told == []
    assert first_rows(reading) == (case.rows or [])


def first_rows(reading: Reading) -> list[list[object]]:
    if not reading.sheets:
        return []
    sheet = reading.sheets[0]
    return sheet.rows if sheet.table is None else [list(record.values()) for record in sheet.table.to_pylist()]


QUICK = ["empty file", "PDF", "encrypted workbook", "workbook cut in half", "part twice", "entities within entities"]
QUICK += ["cell repeated 17 billion times", "a hundred billion texts counted that are not there", "20,000 columns"]
QUICK += ["Parquet that unpacks beyond memory", "NUL bytes", "quotation mark that is never closed", "macros"]


def test_reading_goes_on_after_each(reader: Reader, tmp_path: Path) -> None:
    """Several in one go, a good one after each."""
    files = []
    for k, name in enumerate(QUICK):
        path = tmp_path / str(k)
        path.write_bytes(CASES[name].payload())
        files += [(path, CASES[name].name), (GOOD, GOOD.name)]
    answers = list(reader.read_all(files))
    assert len(answers) == len(files)
    assert all(one.findings for one in answers[0::2])
    assert {len(one.sheets) for one in answers[1::2]} == {7}


# What a path may lead to


def test_a_file_that_is_not_there(reader: Reader, tmp_path: Path) -> None:
    assert found(reader.read(tmp_path / "gone", "gone.csv")) == "a file that is not there any more"


def test_a_file_that_vanishes_while_others_are_read(reader: Reader, tmp_path: Path) -> None:
    paths = [tmp_path / str(k) for k in range(60)]
    for path in paths:
        path.write_bytes(b"a,b\n1,2\n")
    answers = reader.read_all([(path, "a.csv") for path in paths])
    next(answers)
    paths[-1].unlink()
    *read, last = answers
    assert found(last) == "a file that is not there any more"
    assert all(first_rows(one) == PLAIN for one in read)


def test_a_file_that_changes_while_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"a,b\n1,2\n")
    read_as = worker._read_as

    def meanwhile(*asked):
        contents = read_as(*asked)
        path.write_bytes(b"a,b\n1,2\n3,4\n")
        return contents

    monkeypatch.setattr(worker, "_read_as", meanwhile)
    contents, _ = worker.answer(str(path), "a.csv")
    assert [told.found for told in contents.told] == ["a file that changed while it was read"]
    assert contents.table is None


@pytest.mark.parametrize("path", ["folder", "fifo", "/dev/zero", "/dev/stdin"])
def test_what_is_no_file(reader: Reader, tmp_path: Path, path: str) -> None:
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "fifo")
    assert found(reader.read(tmp_path / path, "a.csv")).startswith("something that is no file")


@pytest.mark.parametrize("path", ["a\x00b", "x" * 5000, "\ud800"])
def test_a_path_that_cannot_be(reader: Reader, path: str) -> None:
    assert found(reader.read(Path(path), "a.csv")).startswith("a file that cannot be opened")


@pytest.mark.parametrize(
    ("size", "name", "most"), [(2_000 * MEGABYTE, "a.csv", "300"), (150 * MEGABYTE, "a.xls", "100")]
)
def test_a_file_too_large_is_told_without_reading_it(
    reader: Reader, tmp_path: Path, size: int, name: str, most: str
) -> None:
    path = tmp_path / name
    with path.open("wb") as file:
        file.write(b"a,b\n1,2\n" if name == "a.csv" else ole2("Workbook"))
        file.truncate(size)
    reading = reader.read(path, name)
    assert (found(reading), reading.findings[0].expected) == (f"a file of {size / 1e6:,.0f} MB", f"at most {most} MB")


def found(reading: Reading) -> str:
    [finding] = reading.findings
    assert reading.sheets == []
    assert finding.how
    return finding.found


# What may happen to the worker


def pid_of(reader: Reader) -> int:
    assert reader._worker
    return reader._worker.pid


def test_a_worker_that_was_killed_is_replaced() -> None:
    with Reader() as reader:
        assert len(reader.read(GOOD, "a.xlsx").sheets) == 7
        first = pid_of(reader)
        os.kill(first, signal.SIGKILL)
        assert len(reader.read(GOOD, "a.xlsx").sheets) == 7
        assert pid_of(reader) != first


@pytest.mark.parametrize("way", [signal.SIGSTOP, signal.SIGKILL, signal.SIGTERM])
def test_a_worker_that_falls_in_the_middle_of_many(way: signal.Signals) -> None:
    with Reader(seconds_per_file=0.5) as reader:
        answers = reader.read_all([(GOOD, "a.xlsx")] * 30)
        next(answers)
        os.kill(pid_of(reader), way)
        rest = list(answers)
    told = [one for one in rest if one.findings]
    assert len(rest) == 29
    assert {len(one.sheets) for one in rest if not one.findings} == {7}
    assert [found(one) for one in told] == (
        ["a file that could not be read within 0.5 seconds"] if way == signal.SIGSTOP else []
    )


def test_a_file_over_its_time(tmp_path: Path) -> None:
    slow = tmp_path / "slow"
    slow.write_bytes(raw_xlsx(row(1, '<c r="A1" t="e"><v>#N/A</v></c>') + "".join(map(row_of_one, range(2, 200_000)))))
    # A server may have blocked signals in the thread that starts the worker: its alarm must ring all the same.
    mask = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGPROF, signal.SIGALRM])
    with Reader(seconds_per_file=0.4) as reader:
        answers = list(reader.read_all([(GOOD, "a"), (slow, "b"), (GOOD, "c")]))
        signal.pthread_sigmask(signal.SIG_SETMASK, mask)
    assert [len(one.sheets) for one in answers] == [7, 0, 7]
    assert found(answers[1]) == "a file that could not be read within 0.4 seconds"


def row_of_one(number: int) -> str:
    return row(number, f'<c r="A{number}"><v>{number}</v></c>')


def test_a_file_over_its_memory(tmp_path: Path) -> None:
    large = tmp_path / "large"
    large.write_bytes(b"0417,2027-02-14,GLA,12\n" * 3_000_000)
    with Reader(memory_bytes=400 * MEGABYTE) as reader:
        answers = list(reader.read_all([(GOOD, "a"), (large, "b"), (GOOD, "c")]))
    assert [len(one.sheets) for one in answers] == [7, 0, 7]
    assert found(answers[1]).startswith("a file that needs more memory to be read than the 0.37 GiB allowed")


def test_the_worker_ends_when_its_owner_is_killed() -> None:
    script = (
        "import sys, time; from pathlib import Path; from pipelines.intake.files.readers import Reader\n"
        "reader = Reader(); reader.read(Path(sys.argv[1]), 'a.xlsx')\n"
        "print(reader._worker.pid, flush=True); time.sleep(60)"
    )
    with subprocess.Popen([sys.executable, "-c", script, str(GOOD)], stdout=subprocess.PIPE, text=True) as owner:
        assert owner.stdout
        pid = int(owner.stdout.readline())
        os.kill(pid, 0)
        owner.kill()
    until = time.monotonic() + 5
    while time.monotonic() < until and is_running(pid):
        time.sleep(0.02)
    assert not is_running(pid)


def is_running(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    status = Path(f"/proc/{pid}/stat")
    return not status.exists() or status.read_text().rsplit(")", 1)[1].split()[0] != "Z"


def test_one_reader_from_several_threads(reader: Reader) -> None:
    counts: list[int] = []

    def work() -> None:
        counts.extend(len(one.sheets) for one in reader.read_all([(GOOD, "a.xlsx")] * 10))

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert counts == [7] * 40


def test_a_worker_starts_without_the_large_libraries() -> None:
    script = (
        "import sys; import pipelines.intake.files.worker, pipelines.intake.files.xlsx; print(*sorted(sys.modules))"
    )
    loaded = set(subprocess.check_output([sys.executable, "-c", script], text=True).split())
    assert not loaded & {
        "pyarrow",
        "numpy",
        "openpyxl",
        "xlrd",
        "pandas",
        "polars",
        "pydantic",
        "pipelines.definitions.records",
    }


def test_an_answer_can_run_nothing_in_its_owner() -> None:
    class Evil:
        def __reduce__(self) -> tuple[Callable[[str], int], tuple[str]]:
            return os.system, ("touch /tmp/owned",)

    with pytest.raises(pickle.UnpicklingError, match="no plain value"):
        wire.unpack(pickle.dumps(([Evil()], [], False, False)))


# Chance


@pytest.mark.parametrize("kind", ["xlsx", "ods", "xls", "csv"])
def test_random_damage_never_passes_as_other_cells(reader: Reader, tmp_path: Path, kind: str) -> None:
    """A damaged workbook with checksums reads as the good one or ends as a finding; others end as a reading."""
    source = CALC / ("stock.csv" if kind == "csv" else f"0417 week 2027-02-14.{kind}")
    payload, chance = source.read_bytes(), random.Random(417)
    files = []
    for k in range(60):
        damaged = bytearray(payload)
        for _ in range(chance.choice([1, 1, 3])):
            damaged[chance.randrange(len(damaged))] = chance.randrange(256)
        if chance.random() < 0.3:
            del damaged[chance.randrange(len(damaged)) :]
        path = tmp_path / str(k)
        path.write_bytes(damaged)
        files.append((path, source.name))
    expected = reader.read(source, source.name).sheets
    answers = list(reader.read_all(files))
    assert len(answers) == len(files)
    for answer in answers:
        assert answer.sheets or answer.findings
        if kind in ("xlsx", "ods"):
            assert answer.findings or answer.sheets == expected
