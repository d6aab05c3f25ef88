"""How a machine winds a coil: a handful of legs. Turns, rpm and metres; counts where exactness is at stake."""

from __future__ import annotations

import enum

from firmware_protocol.records import dataclass


class AtEnd(enum.Enum):
    CONTINUE = "continue"
    PAUSE = "pause"
    COMPLETE = "complete"


@dataclass(frozen=True, slots=True)
class Leg:
    name: str  # "bedding", "body", "landing"
    end_counts: int  # of the wind; whole turns times counts per turn
    at_end: AtEnd
    speed_rpm: float
    acceleration_rpm_s: float  # for speeding up and slowing down
    creep_rpm: float
    coast_counts: int
    pitch_m: float  # guide's advance per turn; 0: hand-guided
    left_m: float
    right_m: float
    dwell_counts: int
    scatter_seed: int


@dataclass(frozen=True, slots=True)
class Plan:
    legs: tuple[Leg, ...]
    counts_per_turn: int
    spindle: int  # +1 or -1
    first_turn: int  # turns of this coil wound before this wind began
    target_turns: int  # of the coil, counted from its first turn
    duration_s: float
    remarks: tuple[str, ...] = ()  # what a person should know, in words
    pauses: tuple[tuple[int, str], ...] = ()  # turns of the coil, and what for; "": not said
    measure_at_end: bool = False  # wound long: measured at the end, then turns come off

    def pause_at(self, turns: float) -> str | None:
        """What the pause here is for; None: there is none."""
        return next((why for turn, why in self.pauses if turn <= turns + 1e-9 < turn + 1), None)

    @property
    def target_counts(self) -> int:
        """Of this wind, whose count begins at zero."""
        return (self.target_turns - self.first_turn) * self.counts_per_turn
