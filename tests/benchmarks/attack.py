"""What one attacker costs everybody else: python tests/benchmarks/attack.py [UPLOADS]

A leader's account has as many pages open as there are uploads (12), drops on each one of the worst small files
(tests/support/blown_up.py) and has it looked over, all at once and again until the measuring is done. Meanwhile another
leader opens her standing, in sessions of her own. Prints her quiet time, her time under attack, what the server and its
processes took, and whether a screen opened within twice the quiet time plus 1 s. Passes and fails nothing.
"""

import statistics
import sys
import tempfile
import threading
import time
from itertools import cycle
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
from blown_up import CASES
from canaries import canary_book
from leader_client import Somebody, drop_workbook
from running_server import Running, running

from pipelines.accounts.accounts import Access

WORST = ("distance", "text", "findings", "labels on the cover", "families", "accents on a letter", "rows", "columns")
OPENED = 8


def enter(access: Access, server: Running, name: str) -> Somebody:
    found = access.enter_by_link(access.link(name, by="benchmark"))
    assert isinstance(found, tuple)
    return Somebody(server.address, found[1])


def opened(somebody: Somebody) -> float:
    """Seconds until a screen stands, in a session of its own."""
    begun = time.perf_counter()
    with somebody.session() as session:
        assert b"Our standing" in session.run("our_standing")
    return time.perf_counter() - begun


class Attack:
    """Uploads that go on until it is told to stop."""

    def __init__(self, somebody: Somebody, files: dict[str, bytes], uploads: int) -> None:
        self.taken: list[float] = []
        self.refused = 0
        self._is_over = threading.Event()
        self._opened = threading.Barrier(uploads + 1)
        names = cycle(files)
        self._threads = [
            threading.Thread(target=self._one, args=(Somebody(somebody.at, somebody.cookie), files[next(names)]))
            for _ in range(uploads)
        ]

    def __enter__(self) -> "Attack":
        for thread in self._threads:
            thread.start()
        self._opened.wait()
        return self

    def __exit__(self, *_: object) -> None:
        self._is_over.set()
        for thread in self._threads:
            thread.join()

    def _one(self, somebody: Somebody, payload: bytes) -> None:
        with somebody.session() as session:
            session.run("send_week")
            self._opened.wait()
            while not self._is_over.is_set():
                begun = time.perf_counter()
                told = drop_workbook(somebody, session, payload, "week.xlsx")
                self.taken.append(time.perf_counter() - begun)
                self.refused += b"looked over already" in told
        somebody.http.close()


def memory_of(pid: int) -> int:
    """Megabytes of a process and of all that it started."""
    total, ids = 0, [pid]
    while ids:
        one = ids.pop()
        try:
            status = Path(f"/proc/{one}/status").read_text(encoding="ascii", errors="replace")
            ids += [int(child) for child in Path(f"/proc/{one}/task/{one}/children").read_text().split()]
        except OSError:
            continue
        total += next((int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS")), 0)
    return total // 1024


def main() -> None:
    """Makes the book, measures, prints."""
    uploads = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    files = {name: CASES[name].payload() for name in WORST}
    print(f"{len(files)} files of {sum(map(len, files.values())) / len(files) / 1e3:,.0f} KB on average")
    with tempfile.TemporaryDirectory() as folder:
        access = Access(canary_book(Path(folder)).book.folder)
        for name in ("attacker", "our"):
            access.add(name, "leader", ["0417"], by="benchmark")
        with running(access.store.path.parent) as server:
            ours, attacker = enter(access, server, "our"), enter(access, server, "attacker")
            opened(ours)
            quiet = statistics.median(opened(ours) for _ in range(OPENED))
            print(f"a screen opens in {quiet:.2f} s when it is quiet (median of {OPENED})", flush=True)
            before, peak = memory_of(server.process.pid), 0
            with Attack(attacker, files, uploads) as attack:
                time.sleep(3)
                under = []
                for _ in range(OPENED):
                    under.append(opened(ours))
                    peak = max(peak, memory_of(server.process.pid))
            median, worst = statistics.median(under), max(under)
            print(f"while {uploads} of the worst uploads run: {median:.2f} s median, {worst:.2f} s at worst")
            held = "yes" if median <= 2 * quiet + 1 else "no"
            print(f"within twice the quiet time plus 1 s ({2 * quiet + 1:.2f} s): {held}")
            print(f"uploads answered meanwhile: {len(attack.taken)}, of which {attack.refused} were turned away")
            print(f"memory of the server and its processes: {before} MB before, {peak} MB at most")


if __name__ == "__main__":
    main()
