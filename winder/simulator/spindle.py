"""The spindle: an exact solution inside every tick, with friction, a drive, a brake and a sensor wheel.

The angle is kept as whole sensor counts and a fraction of one, so an edge is a change of an integer and
nothing is ever lost to rounding. Between two changes of regime the equation of motion is
``dv/dt = a - k v``; its regimes are: drive at its torque limit, drive on its speed-torque line, drive
pushed beyond its line (no torque), standstill. The solution is monotonic in a regime, so one look at the
end of a stretch tells whether a border was crossed; then the stretch is cut there. Coulomb friction
ends motion at a definite moment inside a tick and holds the spindle until the drive exceeds it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .build import RAD_PER_TURN, RAD_S_PER_RPM, Build

SERIES_BELOW = 1e-4
STEP_LAST_S = 1e-8


@dataclass(slots=True)
class Stretch:
    """A part of a tick in one regime: from ``start_s`` into the tick, ``way`` counts gone before."""

    start_s: float
    way: float
    speed: float
    gain: float  # a of dv/dt = a - k v, counts/s2
    decay: float  # k, 1/s
    length_s: float


def speed_after(speed: float, gain: float, decay: float, time_s: float) -> float:
    """Solution of dv/dt = a - k v."""
    if decay == 0.0:
        return speed + gain * time_s
    return speed + (gain / decay - speed) * -math.expm1(-decay * time_s)


def way_after(speed: float, gain: float, decay: float, time_s: float) -> float:
    """Its integral. The small-``k t`` branch is a series: the closed form cancels there."""
    x = decay * time_s
    if x < SERIES_BELOW:
        half = time_s * time_s / 2
        return speed * time_s * (1 - x / 2 + x * x / 6) + gain * half * (1 - x / 3 + x * x / 12)
    final = gain / decay
    return final * time_s + (final - speed) * math.expm1(-x) / decay


def time_to_speed(speed: float, gain: float, decay: float, wanted: float) -> float:
    """When a speed that is being approached is reached, s; the caller knows that it is."""
    if decay == 0.0:
        return (wanted - speed) / gain
    final = gain / decay
    return math.log1p((speed - wanted) / (wanted - final)) / decay


def newton_time(speed: float, gain: float, decay: float, length_s: float, way: float) -> float:
    """When ``way`` is gone in a stretch, s: Newton's method, kept inside by halving.

    It ends on a step below 1e-8 s: the error left is that step's square times half of dv/dt over v.
    """
    low, high = 0.0, length_s
    time = min(way / speed, high) if speed > 0.0 else high / 2
    steep = decay * length_s >= SERIES_BELOW
    final = gain / decay if steep else 0.0
    for _ in range(60):
        if steep:
            lack = math.expm1(-decay * time) * (final - speed)
            excess, slope = final * time + lack / decay - way, speed - lack
        else:
            excess = way_after(speed, gain, decay, time) - way
            slope = speed_after(speed, gain, decay, time)
        step = excess / slope if slope > 0.0 else math.inf
        if -STEP_LAST_S < step < STEP_LAST_S:
            time -= step
            return 0.0 if time < 0.0 else length_s if time > length_s else time
        if excess > 0:
            high = time
        else:
            low = time
        time = time - step if low < time - step < high else (low + high) / 2
    return time


class Spindle:
    """Angle and speed. ``sense`` is the drive's direction: +1 winds, -1 unwinds."""

    def __init__(self, build: Build) -> None:
        per_nm = build.counts_per_turn / RAD_PER_TURN / build.inertia_kg_m2  # counts/s2 per N m
        self.counts_per_turn = build.counts_per_turn
        self.stall = build.stall_nm * per_nm
        self.limit = min(build.torque_limit_nm, build.stall_nm) * per_nm
        self.no_load = build.no_load_rpm * RAD_S_PER_RPM / RAD_PER_TURN * build.counts_per_turn
        self.coulomb = build.coulomb_nm * per_nm
        self.viscous = build.viscous_nm_s / build.inertia_kg_m2
        self.brake_full = (build.brake_nm or 0.0) * per_nm
        self.jam = 0.0  # counts/s2 of a spindle held fast
        self.whole = 0  # counts
        self.fraction = 0.0  # of a count, 0 to 1
        self.speed = 0.0  # counts/s, negative: unwinding
        self.duty = 0.0
        self.sense = 1
        self.brake = 0.0  # share
        self.stretches: list[Stretch] = []

    @property
    def turns(self) -> float:
        turns, counts = divmod(self.whole, self.counts_per_turn)
        return turns + (counts + self.fraction) / self.counts_per_turn

    def advance(self, length_s: float) -> int:
        """Move on; return the edges passed, negative when unwinding. ``stretches`` tells of the way."""
        self.stretches = []
        resistance = self.coulomb + self.brake * self.brake_full + self.jam
        if self.speed == 0.0:
            if min(self.stall * self.duty, self.limit) <= resistance:
                return 0
            direction = self.sense
        else:
            direction = 1 if self.speed > 0 else -1
        duty = self.duty if direction == self.sense else 0.0
        speed, way = self._travel(abs(self.speed), duty, resistance, length_s)
        self.speed = direction * speed
        return self.turn(direction * way)

    def _regime(self, speed: float, duty: float, resistance: float) -> tuple[float, ...]:
        """Gain, decay, and the speeds below and above which another regime holds."""
        free = self.no_load * duty  # above this speed the drive gives nothing
        full = free - self.no_load * self.limit / self.stall  # below it, its limit
        if speed > free:
            return -resistance, self.viscous, free, math.inf
        capped = self.limit - resistance
        if speed < full or (speed == full and speed > 0.0 and capped < self.viscous * speed):
            return capped, self.viscous, 0.0, full
        decay = self.stall / self.no_load + self.viscous
        return self.stall * duty - resistance, decay, max(full, 0.0), free

    def _travel(
        self, speed: float, duty: float, resistance: float, length_s: float
    ) -> tuple[float, float]:
        """Speed and way at the end of a tick, regime by regime; both without sign."""
        start, way = 0.0, 0.0
        held = min(self.stall * duty, self.limit) <= resistance
        while start < length_s:
            if speed == 0.0 and held:
                break
            gain, decay, low, high = self._regime(speed, duty, resistance)
            part = length_s - start
            end = speed_after(speed, gain, decay, part)
            border = low if end < low else high if end > high else None
            if border is not None:
                part = min(part, max(0.0, time_to_speed(speed, gain, decay, border)))
                end = border
            self.stretches.append(Stretch(start, way, speed, gain, decay, part))
            way += way_after(speed, gain, decay, part)
            start = length_s if border is None else start + part
            speed = end
        return speed, way

    def turn(self, way: float) -> int:
        """Turn by so many counts; return the edges passed."""
        place = self.fraction + way
        edges = math.floor(place)
        self.whole += edges
        self.fraction = place - edges
        return edges

    def time_of_way(self, way: float) -> float:
        """When in the last tick the spindle had gone so many counts (without sign), s."""
        at = next((s for s in reversed(self.stretches) if s.way <= way), self.stretches[0])
        return at.start_s + newton_time(at.speed, at.gain, at.decay, at.length_s, way - at.way)


def way_to_edge(fraction: float, edges: int, direction: int) -> float:
    """Counts (without sign) from a place within a count to the last of so many edges."""
    return edges - fraction if direction > 0 else fraction + (edges - 1)
