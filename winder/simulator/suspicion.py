"""What a board's program holds against its sensor and its drive, from edges and times alone.

Judges, each fed by the control loop through ``Suspicion``. ``Silence``: a motor model that errs on the slow side (twice the
friction it learned) says how far the spindle must have come since the newest edge. ``Backward``: edges
against the drive weigh heavily, edges with it take some of that back; how fast they come has no say.
``Overspeed``: the mean over some edges, with room for marks that are uneven. ``Settling``: after the drive
was cut a speed must fall; at rest nothing turns faster than a hand does.
"""

from __future__ import annotations

from firmware_protocol.messages import Trip

from .build import Build

SILENT_COUNTS = 3.0  # the first may take a whole one, and marks are uneven
STIFF = 2.0  # times the learned friction: a cold start
BACKWARD_EDGE, BACKWARD_MOST = 6, 12
OVERSPEED_SHARE, OVERSPEED_UNEVEN = (
    1.06,
    0.75,
)  # of the highest speed; the second over the number of edges
OVERSPEED_EDGES = 40
ASKED_SHARE = 1.5  # of the speed asked for, and an eighth of the motor's: it runs away
CHANGE_MOST = 1.5  # times what motor, friction and brake can do to a speed
UNEVEN = 0.4  # over the number of edges: how far marks may be off
FALL_WINDOW_S = 0.5
FALL_LEAST, FALL_EDGES = 0.995, 64  # a coasting chuck loses more in half a second
RISE_LEAST, RISE_EDGES = 1.1, 4
HAND_SHARE = 0.2  # of the machine's highest speed: faster than a hand turns
HAND_EDGES = 4
HAND_WINDOW_S = 0.25


class Silence:
    """How far the spindle must have come without an edge. Counts, counts/s, duty as a share."""

    def __init__(self, cps2_per_duty: float, cps_per_duty: float, friction_duty: float) -> None:
        self._accel, self._full, self._friction = cps2_per_duty, cps_per_duty, friction_duty
        self.hear(0.0)

    def hear(self, rate: float) -> None:
        """Edges came; the newest speed is this."""
        self.speed, self.way = rate, 0.0

    def after(self, duty: float, brake_duty: float, time_s: float) -> tuple[float, float]:
        """Speed and way once this time has passed without an edge."""
        push = duty - STIFF * self._friction - brake_duty - self.speed / self._full
        speed = self.speed + self._accel * push * time_s
        if speed < 0.0:
            speed = 0.0
        return speed, self.way + speed * time_s

    def pass_time(self, duty: float, brake_duty: float, time_s: float) -> bool:
        """True once no spindle could have come so far without an edge."""
        self.speed, self.way = self.after(duty, brake_duty, time_s)
        return self.way > SILENT_COUNTS


class Backward:
    def __init__(self) -> None:
        self.weight = 0

    def hear(self, ahead: int, against: int) -> bool:
        """True once the edges go to and fro, or the wrong way, as no driven spindle does."""
        self.weight = max(self.weight + BACKWARD_EDGE * against - ahead, 0)
        return self.weight >= BACKWARD_MOST


class Overspeed:
    def __init__(self, rate_max: float) -> None:
        self._rate_max = rate_max
        self.forget()

    def forget(self) -> None:
        self._edges, self._time_s = 0, 0.0

    def over(self, edges: int, stretch_s: float) -> bool:
        """True if with these the mean of the newest stretches is above the highest speed."""
        edges += self._edges
        limit = self._rate_max * (OVERSPEED_SHARE + OVERSPEED_UNEVEN / edges)
        return edges > limit * (self._time_s + stretch_s)

    def hear(self, edges: int, stretch_s: float) -> None:
        self._edges += edges
        self._time_s += stretch_s
        if self._edges >= OVERSPEED_EDGES:
            self.forget()


class Settling:
    """Edges with the drive off."""

    def __init__(self, rate_max: float) -> None:
        self._hand_most = HAND_SHARE * rate_max
        self.begin()

    def begin(self) -> None:
        """The drive was cut, or a rest has begun."""
        self._first_s = self._last_s = -1.0  # of this window; below nought: none yet
        self._edges = 0  # behind the first
        self._rate_before = 0.0

    def _window(self, number: int, edge_s: float, length_s: float) -> float | None:
        """The mean speed of a window that is full; None before."""
        if self._first_s < 0.0:
            self._first_s = edge_s
            return None
        self._edges += number
        if edge_s - self._first_s < length_s:
            return None
        rate = self._edges / (edge_s - self._first_s)
        self._first_s = edge_s
        return rate

    def does_not_fall(self, number: int, edge_s: float) -> bool:
        """Settling after a cut."""
        rate = self._window(number, edge_s, FALL_WINDOW_S)
        if rate is None:
            return False
        before, edges = self._rate_before, self._edges
        self._rate_before, self._edges = rate, 0
        if before == 0.0:
            return False
        kept = edges >= FALL_EDGES and rate >= FALL_LEAST * before
        return kept or (edges >= RISE_EDGES and rate >= RISE_LEAST * before)

    def turns_undriven(self, number: int, edge_s: float) -> bool:
        """At rest. A pause longer than the window begins anew."""
        rate = self._window(number, edge_s, HAND_WINDOW_S)
        if rate is None:
            return False
        fast = self._edges >= HAND_EDGES and rate > self._hand_most
        self._edges = 0
        return fast


class Suspicion:
    """All judges of one board. A speed is without sign, as the sensor shows it."""

    def __init__(self, build: Build) -> None:
        known = build.board_knows
        per_rpm = build.counts_per_s(1.0)
        rate_max = build.speed_rpm_max * per_rpm
        self._speeding = known.full_torque_rpm_s * per_rpm
        self._full = known.rpm_per_duty * per_rpm
        self.braking = known.brake_duty or 0.0
        self._slowing = self._speeding * (known.friction_duty + self.braking)
        self.silence = Silence(self._speeding, self._full, known.friction_duty)
        self.settling = Settling(rate_max)
        self.backward = Backward()
        self._overspeed = Overspeed(rate_max)
        self.begin(0.0)

    def begin(self, rate: float) -> None:
        """A new run of the loop, at this speed."""
        self.backward.weight = 0
        self._overspeed.forget()
        self.silence.hear(rate)
        self._rate, self._stretch_s, self._number = 0.0, 0.0, 0

    def hear(self, number: int, against: int, stretch_s: float, rate: float, asked: float) -> Trip:
        """The newest edges while driven, ``stretch_s`` from the last one before them."""
        if self.backward.hear(number - against, against):
            cause = Trip.SENSOR_IMPLAUSIBLE
        else:
            cause = self.cause(number, stretch_s, rate, asked)
        self.remember(number, stretch_s, rate)
        return cause

    def cause(self, number: int, stretch_s: float, rate: float, asked: float) -> Trip:
        """What speaks against these edges, whichever way they went. They are not heard by this."""
        before, number_before = self._rate, self._number
        limit = asked * (ASKED_SHARE + OVERSPEED_UNEVEN / number) + self._full / 8
        if (rate > limit and rate >= before) or self._overspeed.over(number, stretch_s):
            return Trip.OVERSPEED
        if number_before:
            most = CHANGE_MOST * (self._speeding if rate > before else self._slowing)
            uneven = (UNEVEN / number + UNEVEN / number_before) * (
                rate if rate > before else before
            )
            if abs(rate - before) > most * (stretch_s + self._stretch_s) + uneven:
                return Trip.SENSOR_IMPLAUSIBLE
        return Trip.NONE

    def remember(self, number: int, stretch_s: float, rate: float) -> None:
        self._rate, self._stretch_s, self._number = rate, stretch_s, number
        self.silence.hear(rate)
        self._overspeed.hear(number, stretch_s)

    def hear_nothing(self, duty: float, brake: float, since_s: float, time_s: float) -> Trip:
        """No edge for ``time_s`` more, ``since_s`` after the newest."""
        if not self.silence.pass_time(duty, brake * self.braking, time_s):
            return Trip.NONE
        sooner = since_s < self._rate / self._slowing / 2  # than anything can stop it
        return Trip.SENSOR_IMPLAUSIBLE if sooner else Trip.STALLED
