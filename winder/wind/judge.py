"""Is a status one that this board can have sent? Beyond the CRC, by uptime and count.

Within one boot the uptime never falls; while winding forward the count never falls; and it never rises
faster than the fastest leg allows, with room for a loop that hunts and for a runaway that is about
to trip. What does not fit is dropped. A board that keeps telling the same unlikely story is believed in
the end, but the count is in doubt from then on.
"""

from __future__ import annotations

from firmware_protocol.messages import State, Status, Trip

RATE_ROOM = 1.6  # times the fastest leg: boards trip on overspeed well below
SLACK_TURNS = 1  # quantised uptime, and an edge more or less
DROPPED_MAX = 5  # in a row, a quarter of a second; then the board is believed, with a doubt
_WINDING = State.WINDING
_NO_TRIP = Trip.NONE


class Judge:
    """Compares every status with the last one believed."""

    def __init__(self, top_rate_cps: float, counts_per_turn: int) -> None:
        self._per_ms = top_rate_cps * RATE_ROOM / 1000
        self._slack = SLACK_TURNS * counts_per_turn + 2
        self.dropped = 0  # of this wind
        self.in_a_row = 0

    def believes(self, status: Status, last: Status) -> bool:
        """Whether ``status`` can follow ``last`` of the same boot and wind; counts what cannot."""
        passed_ms = (status.uptime_ms - last.uptime_ms) & 0xFFFF_FFFF
        rise = status.count - last.count
        if passed_ms >= 1 << 31:
            fits = False
        elif rise < 0:
            fits = not (status.state == _WINDING and last.state == _WINDING)
        else:
            fits = rise <= passed_ms * self._per_ms + self._slack or status.trip != _NO_TRIP
        if fits:
            self.in_a_row = 0
            return True
        self.dropped += 1
        self.in_a_row += 1
        return False
