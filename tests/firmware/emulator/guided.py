"""A host that winds guided legs on the real binary, and how far its guide was from where the count leads it.

The truth is taken at the chip's pins: every step pulse with the spindle's place at that cycle, and both once
a millisecond. Where the guide should be then is the specification's way of it, worked out a second time
(``ideal_guide``), at the spindle's true place: between two counts, too.
"""

from __future__ import annotations

from typing import Any

from ideal_guide import ideal_place

from firmware_protocol.device_plan import checksum_of
from firmware_protocol.messages import (
    EndAction,
    OpenWind,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    Side,
    Start,
    State,
    Status,
    TraverseMark,
    Verdict,
)

from .board import STEP_UM, EmulatedBoard
from .traffic import BusyHost

MOVING = (State.WINDING, State.SLOWING, State.SETTING_UP)
NO_BELIEFS = {"token": 0, "boot": 0, "wind": 0, "revision": 0}


def turns_leg(
    counts_per_turn: int, index: int, end_turns: float, end: EndAction, **changes: Any
) -> PlanLeg:
    """A leg of 63 um wire for the bench of the rehearsals, up to this many turns; speeds in turns."""
    speed, accel, creep = (
        round(changes.pop(name, default) * counts_per_turn * 1000)
        for name, default in (("speed", 20.0), ("accel", 8.0), ("creep", 1.0))
    )
    fields = {
        "token": 0,
        "generation": 1,
        "index": index,
        "end_action": end,
        "spindle": 1,
        "end_count": round(end_turns * counts_per_turn),
        "rate_mcps": speed,
        "accel_mcps2": accel,
        "creep_mcps": max(creep, 4000),
        "coast_counts": 0,
        "pitch_nm": 63_000,
        "pitch_counts": counts_per_turn,
        "left_um": 200,
        "right_um": 1400,
        "dwell_counts": round(0.6 * counts_per_turn),
        "scatter_seed": 0,
    }
    return PlanLeg(**(fields | changes))


class GuidedHost(BusyHost):
    """A session with an open wind, the guide marked at nought. ``seen`` is what the pins showed."""

    def __init__(self, board: EmulatedBoard, commands_per_s: int = 0) -> None:
        super().__init__(board, commands_per_s=commands_per_s)
        self.seen: list[
            tuple[float, int]
        ] = []  # spindle, counts of the wind; guide, steps from the mark
        self._before = 0
        self.open()
        self.do(OpenWind(0, 0, 0, 1))
        self.do(TraverseMark(**NO_BELIEFS, side=Side.LEFT, at_um=0))
        self._mark = board.chip.guide_steps
        board.chip.take_steps()

    def do(self, command: Any) -> None:
        verdict = self.ask(command)
        assert verdict is Verdict.DONE, (command, verdict)

    def load(self, *legs: PlanLeg) -> None:
        self.do(PlanBegin(**NO_BELIEFS, generation=1, legs=len(legs)))
        for one in legs:
            self.do(one)
        self.do(PlanCommit(**NO_BELIEFS, generation=1, checksum=checksum_of(legs)))

    def start(self) -> None:
        self.do(Start(**NO_BELIEFS, generation=1))

    def to_rest(self, most_s: float = 60.0) -> Status:
        """Until the board says that nothing moves; looks at the pins every millisecond."""
        end_ns = self.board.now_ns + round(most_s * 1e9)
        self.live(0.06)
        while self.status.state in MOVING:
            assert self.board.now_ns < end_ns, self.status
            self.live(0.02)
        return self.status

    def live(self, seconds: float) -> list[Any]:
        heard = []
        for _ in range(round(seconds * 1000)):
            heard += super().live(0.001)
            self.look()
        return heard

    def look(self) -> None:
        chip = self.board.chip
        for _, spindle, place in chip.take_steps():
            self.seen += [(spindle, self._before), (spindle, place)]
            self._before = place
        self.seen.append((chip.place_now, chip.guide_steps))

    def take_deviations(self, legs: tuple[PlanLeg, ...]) -> list[tuple[float, float]]:
        """Of all that was seen since the last call: spindle in counts, guide off its way in um.

        The plan must have begun at count 0 with the guide at nought.
        """
        seen, self.seen = self.seen, []
        return [
            (spindle, self.place_um(place) - ideal_um(legs, spindle)) for spindle, place in seen
        ]

    def place_um(self, steps: int) -> float:
        return (steps - self._mark) * STEP_UM


def ideal_um(legs: tuple[PlanLeg, ...], count: float) -> float:
    return float(ideal_place(legs, max(count, 0.0))[0])


def leg_at(legs: tuple[PlanLeg, ...], count: float) -> PlanLeg:
    return next((leg for leg in legs if count < leg.end_count), legs[-1])
