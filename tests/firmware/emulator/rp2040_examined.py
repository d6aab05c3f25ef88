"""An RP2040 with everything wired that its settings can name, examined clause by clause; somebody attends it.

Foot and hand do what the examiner announces; the guide has its limit switch.
"""

from __future__ import annotations

from collections.abc import Collection

from firmware_protocol.conformance.clauses import Finding
from firmware_protocol.conformance.judging import Permission, judge
from firmware_protocol.vocabulary import Wired
from winder.clock import HandClock
from winder.links.simulated_link import SimulatedLink

from .board import FOUR_EDGES, bench
from .rp2040_board import Rp2040Board

TOKEN = 0x0BADCAFE
SWITCH_AT = -800  # steps from where the guide stands
EVERYTHING = int(sum(Wired))


class AttendedRp2040(Rp2040Board):
    """``announced``: what the examiner has said will happen."""

    def __init__(self) -> None:
        super().__init__(bench(20, FOUR_EDGES), inputs=EVERYTHING)
        self.limit_switch(SWITCH_AT)
        self.announced = ""
        self._since_ns = 0
        self._held = (False, False)

    def listens(self, what: str) -> bool:
        self.announced, self._since_ns = what, self.now_ns
        return True

    def run_until(self, time_ns: int) -> None:
        self._attend((self.now_ns - self._since_ns) / 1e9)
        super().run_until(time_ns)

    def _attend(self, since_s: float) -> None:
        pedal = stop = False
        if "press the pedal within" in self.announced:
            pedal = 5.0 < since_s < 6.5
        elif "press the pedal now" in self.announced:
            pedal = since_s < 14.0
        elif "press the stop switch" in self.announced:
            stop = 4.0 < since_s < 9.0
        if (pedal, stop) != self._held:
            self._held = (pedal, stop)
            self.press_pedal(pedal)
            self.press_stop(stop)


def examine(sections: Collection[int] = ()) -> tuple[AttendedRp2040, list[Finding]]:
    """All clauses, or those of some sections."""
    board, clock = AttendedRp2040(), HandClock()
    board.run_s(0.4)

    def again() -> SimulatedLink:
        board.reset()
        return SimulatedLink(board, clock)

    permission = Permission(board.listens, again)
    return board, list(judge(SimulatedLink(board, clock), clock, TOKEN, permission, sections))
