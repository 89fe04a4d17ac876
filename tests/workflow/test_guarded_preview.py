"""Looking over in a process of its own: it ends what takes too long, goes on after, and nobody crowds others out."""

import io
import pickle
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from blown_up import CASES, week
from trial import Trial

from pipelines.definitions.errors import Stop
from pipelines.definitions.limits import LOOK_OVERS
from pipelines.workflow import guarded_preview
from pipelines.workflow.guarded_preview import TOO_LONG, LookOvers, _OwnUnpickler

TROOPS = ["0417", "0031", "1282"]


def test_what_takes_too_long_is_ended_and_the_next_is_looked_over(trial: Trial, tmp_path: Path) -> None:
    season, slow, sound = trial.book.season(), tmp_path / "slow.xlsx", tmp_path / "week.xlsx"
    slow.write_bytes(CASES["families"].payload())
    sound.write_bytes(week())
    hasty, patient = LookOvers(seconds=0.05), LookOvers()
    try:
        assert hasty.look_over("our", season, TROOPS, slow, slow.name, None).findings == [TOO_LONG]
        found = patient.look_over("our", season, TROOPS, sound, sound.name, None)
        assert (found.what, found.troop, found.is_held) == ("submission", "0417", False)
    finally:
        hasty.close()
        patient.close()


def test_one_account_has_a_queue_and_another_does_not_wait_for_it(
    trial: Trial, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(guarded_preview, "LOOK_OVER_REFUSED_AFTER", 0.0)
    looking, held, running = LookOvers(), threading.Event(), threading.Semaphore(0)

    def slowly(_request: bytes) -> str:
        running.release()
        held.wait(60)
        return "done"

    monkeypatch.setattr(looking, "_asked", slowly)
    asked = (trial.book.season(), TROOPS, tmp_path / "x", "x", None)
    many = [threading.Thread(target=looking.look_over, args=("crowd", *asked)) for _ in range(LOOK_OVERS.waiting + 1)]
    for thread in many:
        thread.start()
    assert running.acquire(timeout=60)
    while looking._turns.here("crowd") <= LOOK_OVERS.waiting:
        pass
    with pytest.raises(Stop, match="looked over already"):
        looking.look_over("crowd", *asked)
    other = threading.Thread(target=looking.look_over, args=("other", *asked))
    other.start()
    assert running.acquire(timeout=60), "the other account's is under way beside the first one's"
    assert not running.acquire(blocking=False), "of the crowd one is under way at a time"
    held.set()
    for thread in (*many, other):
        thread.join(60)


def test_an_answer_can_run_nothing_in_its_owner() -> None:
    class Evil:
        def __reduce__(self) -> tuple[Callable[[str], object], tuple[str]]:
            return eval, ("1 + 1",)

    with pytest.raises(pickle.UnpicklingError, match="none of our records"):
        _OwnUnpickler(io.BytesIO(pickle.dumps(Evil()))).load()
