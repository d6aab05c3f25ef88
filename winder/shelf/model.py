"""What is read back from the logbook, as frozen facts.

A coil is what the person wants; a run is one wind of the machine for it; the journal holds a run's
events in order. Counts of a ``truth`` are of the coil, counts of a journal line are of its wind, as
in ``winder/session``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from winder.machine.model import MachineProfile
from winder.plan.model import Plan
from winder.wind.model import Certainty, CountTruth
from winder.wind.truth import turns_words

# States of a coil.
BEGUN = "begun"  # no run has ended yet
COMPLETE = "complete"  # at or beyond its target
ENDED_SHORT = "ended short"  # the person ended it before the target
UNFINISHED = "unfinished"  # a run broke off or was left


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
    counts_per_turn: int | None  # of the newest run; None before the first
    truth: CountTruth | None  # of the newest run that ended; counts of the coil
    measured_ohm: float | None  # newest reading
    measured_at_c: float | None

    @property
    def turns(self) -> tuple[float, float] | None:
        """Lowest and highest turns of the coil; None when no run has ended."""
        if self.truth is None or not self.counts_per_turn:
            return None
        return self.truth.low / self.counts_per_turn, self.truth.high / self.counts_per_turn

    @property
    def turns_text(self) -> str:
        """The turns so that a doubtful count never looks like a sure one."""
        if self.truth is None or not self.counts_per_turn:
            return "not on record"
        low = turns_words(self.truth.low, self.counts_per_turn, -1)
        high = turns_words(self.truth.high, self.counts_per_turn, 1)
        if self.truth.certainty is Certainty.BETWEEN:
            return f"between {low} and {high}"
        turns = turns_words(self.truth.low, self.counts_per_turn)
        return turns if self.truth.certainty is Certainty.EXACT else f"{turns} (vouched)"

    @property
    def truth_text(self) -> str:
        """How sure the turns are, and why not more."""
        if self.truth is None:
            return "no run has ended yet"
        by = f" for by {self.truth.by}" if self.truth.by else ""
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
    truth: CountTruth | None
    turns: float | None
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


@dataclass(frozen=True, slots=True)
class UnfinishedRun:
    """A run without a proper end, with what ``truth_after_break`` needs to judge it."""

    run_id: int
    coil_id: int
    coil_name: str
    wind: int
    port: str
    simulated_seed: int | None
    counts_per_turn: int
    machine: MachineProfile
    plan: Plan
    date: str  # when it was started, UTC
    last_date: str  # of the newest journal line; of the start without one
    last_kind: str  # "" without a line
    last_text: str
    count: int  # last committed count of this wind
    truth: CountTruth  # of the coil, at that count
    moving: bool  # no rest was recorded after the last sign of motion
