"""What is read back from the logbook, as frozen facts.

A coil is what the person wants; a run is one wind of the machine for it; the journal holds a run's
events in order. Counts of a ``truth`` are of the coil, counts of a journal line are of its wind, as
in ``winder/session``.
"""

from __future__ import annotations

from typing import Any

from firmware_protocol.records import dataclass
from winder.plan.model import Plan
from winder.wind.account import Account
from winder.wind.deeds import PERSON, Deed
from winder.wind.model import Certainty, CountTruth
from winder.wind.truth import bounds_words

# States of a coil.
BEGUN = "begun"  # no run has ended yet
COMPLETE = "complete"  # at or beyond its target
ENDED_SHORT = "ended short"  # the person ended it before the target
UNFINISHED = "unfinished"  # a run broke off or was left
SPOILED = "spoiled"  # a person said so
NO_WIRE = "not known"  # of a coil that was only counted


@dataclass(frozen=True, slots=True)
class Said:
    """What a person says of a coil on the shelf; "" where nothing was said."""

    note: str = ""
    place: str = ""
    direction: str = ""  # declared, where it is not the recipe's
    colours: tuple[str, str] = ("", "")  # of start and finish lead
    hidden: bool = False
    spoiled: str = ""  # why
    spool: str = ""  # name of the spool it was wound from


NOTHING_SAID = Said()


@dataclass(frozen=True, slots=True)
class CoilRow:
    """One coil on the shelf."""

    coil_id: int
    name: str
    wire: str
    target_turns: int
    direction: str
    state: str
    date: str  # when it was begun, UTC
    ohm_20c: tuple[float, float, float]  # expected: nominal, low, high
    runs: int
    counts_per_turn: int | None  # by which the truth is told; None before the first run
    truth: CountTruth  # of the coil's account, as far as it is on record
    under_way: bool  # a run has no recorded end: it goes on now, or was killed
    next_words: str  # what to type to go on with it; "" where nobody typed its newest wind
    measured_ohm: float | None  # newest reading that was not struck out
    measured_at_c: float | None
    simulated: bool = False  # a run of it was on the simulated machine
    said: Said = NOTHING_SAID
    tapped: str = ""  # direction by its newest tap test that was not struck out

    @property
    def is_known(self) -> bool:
        """Its wire and bobbin are; else it was only counted."""
        return self.wire != NO_WIRE

    @property
    def as_wound(self) -> str:
        """Direction by a tap test, as declared, or as the recipe had it."""
        return self.tapped or self.said.direction or self.direction

    @property
    def state_text(self) -> str:
        """What state it is in: a wind that has no recorded end goes on now, or was killed."""
        if self.said.spoiled:
            return SPOILED
        return "under way" if self.under_way else self.state

    @property
    def turns(self) -> tuple[float, float] | None:
        """Lowest and highest turns of the coil; None before the first run."""
        if not self.counts_per_turn:
            return None
        return self.truth.low / self.counts_per_turn, self.truth.high / self.counts_per_turn

    @property
    def turns_text(self) -> str:
        """The turns so that a doubtful count never looks like a sure one."""
        if not self.counts_per_turn:
            return "not on record"
        number = bounds_words(self.truth, self.counts_per_turn)
        return f"{number} (vouched)" if self.truth.certainty is Certainty.VOUCHED else number

    @property
    def truth_text(self) -> str:
        """How sure the turns are, and why not more."""
        if not self.counts_per_turn:
            return "nothing was wound yet"
        who = "you" if self.truth.by == PERSON else self.truth.by
        by = f" for by {who}" if who and self.truth.is_sharp else ""
        why = f": {self.truth.why}" if self.truth.why else ""
        return f"{self.truth.certainty.value}{by}{why}"


@dataclass(frozen=True, slots=True)
class JournalLine:
    number: int  # 1 first, without gaps
    at_ns: int  # of the run's own clock
    date: str  # UTC, when it was committed
    kind: str
    text: str
    counts: int | None
    facts: dict[str, Any]
    deeds: tuple[Deed, ...] = ()


@dataclass(frozen=True, slots=True)
class RunRecord:
    run_id: int
    wind: int
    port: str
    machine_name: str
    counts_per_turn: int
    simulated_seed: int | None  # None: a real machine
    first_turn: int
    plan: Plan
    started: str
    ended: str | None  # None: under way, or broken off
    how: str
    measured_ohm: float | None
    measured_at_c: float | None
    lines: tuple[JournalLine, ...]


@dataclass(frozen=True, slots=True)
class CoilRecord:
    """One coil with all that was written about it."""

    row: CoilRow
    recipe_text: str
    recipe_facts: dict[str, Any]
    coil_facts: dict[str, Any]
    runs: tuple[RunRecord, ...]

    @property
    def account(self) -> Account:
        """Folded from the deeds of the journal: by the same code that a wind under way uses."""
        lines = (line for run in self.runs for line in run.lines)
        deeds = (deed for line in lines for deed in line.deeds)
        return Account(self.row.counts_per_turn or 1).take_all(deeds)
