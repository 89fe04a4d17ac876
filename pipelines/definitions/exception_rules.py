"""What each rule of the exceptions is called and means, as the head of its SQL file says.

Comes in: the files of sql/5_exceptions. Goes out: rules by name, for screens, papers and the glossary. What each
threshold is for stands with it in season.FollowUp.

A rule is a file, its name is the rule's. Its head: grain, Sources, Label, Meaning (which names the thresholds that it
reads). Its columns: as_of, troop, subject, severity, about, at_stake, packages, met, what, next_step, ask, evidence.
`about` is the kind of thing (organisation, cash, families, stock, orders, submissions, people, promise); `met` is all
that was ever paid towards it, by which a promise is judged; `ask` is the question put to the leader. Evidence amounts
add up to at_stake; a rule without an amount has none in its evidence. Sentences and evidence are written with the
macros of _words.sql.

A rule with `-- Asked: before it is sent.` in its head finds what is most likely a slip in typing (`is_slip`). Its `ask`
is shown to a leader alone, and must name no other troop.
"""

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pipelines.definitions.season import FollowUp

FOLDER = Path(__file__).parents[1] / "store" / "sql" / "5_exceptions"
HEAD = re.compile(
    r"^-- (Label|Meaning|Asked): (.*?)(?=\n-- (?:Label|Meaning|Asked): |\n(?!--))", re.MULTILINE | re.DOTALL
)


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: its label, what it means, and the thresholds of [follow_up] that it reads.

    `is_slip`: it finds what is most likely a slip in typing, and is asked about before a week is sent.
    """

    name: str
    label: str
    meaning: str
    thresholds: tuple[str, ...]
    is_slip: bool = False

    def meaning_in(self, season: FollowUp) -> str:
        """The meaning with the season's own thresholds in place of their names."""
        told = self.meaning
        for name in self.thresholds:
            told = re.sub(rf"\b{name}\b", str(getattr(season, name)), told)
        return told


@cache
def rules() -> dict[str, Rule]:
    """Every rule by its name, in the order of the alphabet."""
    return {path.stem: _read(path) for path in sorted(FOLDER.glob("[!_]*.sql"))}


def rule(name: str) -> Rule:
    """One rule; raises KeyError for a name that no file has."""
    return rules()[name]


def _read(path: Path) -> Rule:
    text = path.read_text(encoding="utf-8")
    head = {name: " ".join(said.replace("\n--", " ").split()) for name, said in HEAD.findall(text)}
    used = tuple(name for name in FollowUp.model_fields if re.search(rf"\b{name}\b", text))
    return Rule(path.stem, head["Label"], head["Meaning"], used, "Asked" in head)
