"""Commands run in processes that end themselves, as kill -9 would, just before their n-th file operation.

Comes in: what is typed, and n. Goes out: the exit status, and how many such operations there were. Operations are what
the interpreter tells of files under a folder (opened to write, renamed, removed, made), and what the two engines make
certain. One program has everything loaded and forks for each run.
"""

import json
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

RUNNER = r"""
import importlib, json, os, pkgutil, signal, sys
from contextlib import contextmanager
import pipelines.upkeep.proof, pipelines.upkeep.unfinished, pipelines.upkeep.rebuilding, pipelines.reports.rollup
from pipelines import cli, reports
from pipelines.accounts import account_store
from pipelines.store import engine
for one in pkgutil.iter_modules(reports.__path__):
    importlib.import_module(f"pipelines.reports.{one.name}")

CHANGES = {"os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.link", "os.truncate", "sqlite3.connect"}
WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC
done, kill_at, folder = 0, 0, ""

def count():
    global done
    done += 1
    if done == kill_at:
        os.kill(os.getpid(), signal.SIGKILL)

def hear(event, args):
    if not folder or not (event in CHANGES or event == "open" and isinstance(args[2], int) and args[2] & WRITING):
        return
    if folder in os.fsdecode(args[0] if isinstance(args[0], (str, bytes, os.PathLike)) else ""):
        count()

def counted(made):
    @contextmanager
    def around(*args, **named):
        with made(*args, **named) as given:
            yield given
            count()  # before it is certain
        count()  # after
    return around

sys.addaudithook(hear)
engine.transaction = counted(engine.transaction)
account_store.Store.writing = counted(account_store.Store.writing)
print("ready", flush=True)
for line in sys.stdin:
    asked = json.loads(line)
    child = os.fork()
    if not child:
        sys.stdin.close()
        out = os.open(asked["said"], os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(out, 1), os.dup2(out, 2)
        sys.argv = ["musterbook", *asked["typed"]]
        kill_at, folder = asked["kill_at"], asked["folder"]
        try:
            cli.main()
        except SystemExit as ended:
            folder = ""
            sys.stdout.flush()
            os.write(out, f"\n{done}".encode())
            os._exit(ended.code or 0)
        os._exit(3)
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    print(status, flush=True)
"""


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended (-9: killed), what it said, how many file operations it made."""

    status: int
    said: str
    operations: int


class Runner:
    """Runs commands, each in a process of its own, killed or left in peace."""

    def __init__(self, folder: Path, process: "subprocess.Popen[str]") -> None:
        self.folder = folder
        self._process = process

    def run(self, typed: Sequence[str | Path], kill_at: int = 0) -> Ended:
        """One command; `kill_at`: killed before this operation, 0 for never."""
        assert self._process.stdin
        assert self._process.stdout
        said = self.folder.with_name("said")
        asked = {
            "typed": [str(one) for one in typed],
            "kill_at": kill_at,
            "folder": self.folder.name,
            "said": str(said),
        }
        print(json.dumps(asked), file=self._process.stdin, flush=True)
        status = int(self._process.stdout.readline())
        text, _newline, count = said.read_text(encoding="utf-8").rpartition("\n")
        return Ended(status, text, int(count) if status >= 0 else 0)


@contextmanager
def runner(folder: Path, at: Path | None = None) -> Iterator[Runner]:
    """A Runner that counts operations on what lies in `folder`, whose name must be like no other; it works in `at`."""
    command = [sys.executable, "-W", "ignore", "-c", RUNNER]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=at) as process:
        assert process.stdout
        assert process.stdout.readline() == "ready\n"
        yield Runner(folder, process)
        process.communicate()
