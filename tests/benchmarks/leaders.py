"""200 leaders on one Sunday evening: python tests/benchmarks/leaders.py [LEADERS] [SECONDS]

Each signs in with a name and a code, opens her standing, types three values and sends her week, as a browser without a
screen would. They begin evenly spread over the seconds given (0: all at once). Prints medians, 95th percentiles, the
server's memory, and whether every week landed under its sender. Passes and fails nothing.
"""

import contextlib
import statistics
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import httpx

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
from leader_client import Somebody, look_typed_over, send_week
from running_server import running

import demo_warehouse
from pipelines.accounts.accounts import Access
from pipelines.definitions.season import Season
from pipelines.figures.viewer import COORDINATOR
from pipelines.store.book import Book, new_book
from pipelines.workflow import looking_back, take_in

TROOPS = 200
WEEKS = 3


def made(folder: Path, troops: int) -> tuple[Book, dict[str, str]]:
    """A book of an invented area, some weeks in, and a code for each troop's leader."""
    demo_warehouse.make(folder / "season", troops=troops, weeks=10, until_week=WEEKS, troubles=False)
    book = new_book(folder / "book", (folder / "season" / "season.toml").read_text(encoding="utf-8"))
    take_in.ingest(book, [folder / "season" / "inbox"], "benchmark")
    with looking_back.figures(book, COORDINATOR) as figures:
        codes = [row["troop"] for row in figures.facts("troops")]
    access = Access(book.folder)
    return book, {code: access.add(f"leader-{code}", "leader", [code], by="benchmark") for code in codes}


class Evening:
    """What was measured."""

    def __init__(self, at: str, season: Season) -> None:
        self.at, self.week = at, season.week_ending(WEEKS + 1)
        self.item = next(item.code for item in season.items if item.stocked)
        self.taken: dict[str, list[float]] = defaultdict(list)
        self.faults: list[str] = []
        self._lock = threading.Lock()

    @contextlib.contextmanager
    def timed(self, what: str) -> Iterator[None]:
        """Adds the time of one step."""
        begun = time.perf_counter()
        yield
        with self._lock:
            self.taken[what].append(time.perf_counter() - begun)

    def leader(self, troop: str, code: str, wait: float) -> None:
        """One leader's evening."""
        time.sleep(wait)
        try:
            self._send(troop, code)
        except Exception as fault:
            with self._lock:
                self.faults.append(f"{troop}: {type(fault).__name__} {fault}"[:200])

    def _send(self, troop: str, code: str) -> None:
        with httpx.Client(base_url=self.at, timeout=120) as http, self.timed("sign in"):
            stated = {"name": f"leader-{troop}", "code": code, "next": "/"}
            found = http.post("/sign-in", data=stated, headers={"Origin": self.at})
            cookie = found.cookies["musterbook"]
        somebody = Somebody(self.at, cookie)
        with somebody.session() as session:
            with self.timed("open a screen"):
                told = session.run()
            assert troop.encode() in told or b"Our standing" in told
            with self.timed("open the form"):
                session.run("send_week")
            where = f"/week?troop={troop}&week={self.week}"
            for before, value in (("", "11"), ("11", "12"), ("12", "13")):
                with self.timed("type a value"):
                    typed = [["stock", self.item, "on_hand", before, value]]
                    assert somebody.http.post(where, json=typed, headers={"Origin": self.at}).json()["others"] == []
            with self.timed("look it over"):
                told = look_typed_over(session)
            assert b"What you report" in told, "not looked over"
            with self.timed("send the week"):
                told = send_week(session)
            assert b"counts from now on" in told, "not sent"
        somebody.http.close()


def memory_of(pid: int) -> int:
    """Megabytes that a process holds."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return int(next(line for line in status.splitlines() if line.startswith("VmRSS")).split()[1]) // 1024


def main() -> None:
    """Makes the book, runs the evening, prints what it took."""
    leaders, spread = (
        int(sys.argv[1]) if len(sys.argv) > 1 else TROOPS,
        float(sys.argv[2]) if len(sys.argv) > 2 else 120,
    )
    with tempfile.TemporaryDirectory() as folder:
        book, codes = made(Path(folder), leaders)
        before = len(_versions(book))
        with running(book.folder) as served:
            evening = Evening(served.address, book.season())
            begun = time.perf_counter()
            threads = [
                threading.Thread(target=evening.leader, args=(troop, code, place * spread / leaders))
                for place, (troop, code) in enumerate(codes.items())
            ]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            print(f"{leaders} leaders in {time.perf_counter() - begun:.1f} s, {len(evening.faults)} failures")
            print(f"memory of the server: {memory_of(served.process.pid)} MB")
        for what, taken in evening.taken.items():
            high = sorted(taken)[int(len(taken) * 0.95)]
            print(f"{what:15} median {statistics.median(taken):6.2f} s, p95 {high:6.2f} s, most {max(taken):6.2f} s")
        for fault in evening.faults[:5]:
            print(fault)
        landed = _versions(book)[before:]
        print(f"{len(landed)} weeks landed, {len({row['sender'] for row in landed})} senders")


def _versions(book: Book) -> list[dict[str, object]]:
    with looking_back.figures(book, COORDINATOR) as figures:
        return sorted(figures.facts("versions"), key=lambda row: row["file_no"])


if __name__ == "__main__":
    main()
