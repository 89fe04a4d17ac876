"""What a book does where there is too little memory: it says so in a sentence, and nothing is half published."""

import pytest
from trial import FEEDS, Trial

from pipelines.definitions.errors import Stop


def test_too_little_memory_is_a_sentence_and_what_was_published_stays(
    trial: Trial, monkeypatch: pytest.MonkeyPatch
) -> None:
    trial.send(**FEEDS)
    before = trial.book.current_snapshot()
    with monkeypatch.context() as patched:
        patched.setenv("MUSTERBOOK_MEMORY", "3MB")
        with pytest.raises(Stop, match="nothing was published"):
            trial.send(stock="troop week_ending item received damaged on_hand\n0417 2027-02-14 GLA - - 3")
    assert trial.book.current_snapshot() == before
    assert not list(trial.book.published.glob(".making-*"))
