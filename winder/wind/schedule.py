"""How long until the next stop and until the end, from the legs as they were loaded.

A stretch at speed v takes length / v; a stop adds the slowing down, (v - u)^2 / (2 a v) with the creep
speed u and the slowing a, and about half a turn of creeping. The times from every leg's end onwards are
summed once, so that asking costs one division.
"""

from __future__ import annotations

from collections.abc import Sequence

from firmware_protocol.records import dataclass
from winder.plan.model import AtEnd

from .loading import LEAST_RPM_S, LoadedLeg

CREEP_TURNS = 0.5  # crept before a stop, about


@dataclass(frozen=True, slots=True)
class _Part:
    end_count: int
    speed_cps: float
    stop_s: float  # more for the stop at its end
    to_stop_s: float  # from its end to the next stop; 0 if it stops there
    to_end_s: float  # from its end to the end of the plan
    stop_count: int  # where the next stop is
    stop_is: str  # "pause" or "end"


@dataclass(frozen=True, slots=True)
class Ahead:
    """Times in seconds of motion, places in counts of the wind."""

    to_stop_s: float
    to_end_s: float
    stop_count: int
    stop_is: str


class Schedule:
    """Built once per loading; ``ahead`` is asked with every view."""

    def __init__(self, legs: Sequence[LoadedLeg], counts_per_turn: int) -> None:
        parts: list[_Part] = []
        to_stop_s = to_end_s = 0.0
        stop_count, stop_is = 0, ""
        begins = [0, *(loaded.end_count for loaded in legs)]
        for loaded, begin in zip(reversed(legs), reversed(begins[:-1]), strict=True):
            speed = loaded.leg.speed_rpm / 60  # turns/s
            stop_s = 0.0
            if loaded.stops:
                creep = min(speed, max(loaded.leg.creep_rpm, 1.0) / 60)
                slowing = max(loaded.leg.acceleration_rpm_s, LEAST_RPM_S) / 60
                stop_s = (speed - creep) ** 2 / (2 * slowing * speed)
                stop_s += CREEP_TURNS * (1 / creep - 1 / speed)
                to_stop_s = 0.0
                stop_count = loaded.end_count
                stop_is = "end" if loaded.leg.at_end is AtEnd.COMPLETE else "pause"
            speed_cps = speed * counts_per_turn
            parts.append(
                _Part(loaded.end_count, speed_cps, stop_s, to_stop_s, to_end_s, stop_count, stop_is)
            )
            whole_s = (loaded.end_count - begin) / speed_cps + stop_s
            to_stop_s += whole_s
            to_end_s += whole_s
        self._parts = tuple(reversed(parts))

    def ahead(self, leg: int, count: int, pace_permille: int) -> Ahead | None:
        """From ``count`` in leg ``leg``; None without legs."""
        if not self._parts:
            return None
        part = self._parts[leg if leg < len(self._parts) else self._leg_of(count)]
        here_s = max(0, part.end_count - count) / part.speed_cps + part.stop_s
        slower = 1000 / pace_permille
        return Ahead(
            (here_s + part.to_stop_s) * slower,
            (here_s + part.to_end_s) * slower,
            part.stop_count,
            part.stop_is,
        )

    def _leg_of(self, count: int) -> int:
        for index, part in enumerate(self._parts):
            if count < part.end_count:
                return index
        return len(self._parts) - 1
