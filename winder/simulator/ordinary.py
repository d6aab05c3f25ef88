"""Many ordinary ticks in one go: the sums of ``SimulatedBody.step`` and the same results to the last bit, at less cost.

A tick is ordinary if nothing begins or ends in it: a spindle that winds stays in one regime of its drive, the loop
tracks, no judge of the board says a word, and no edge reaches a cut, a leg's end or a fault; a spindle at rest rests.
What is not ordinary is left untouched for the step, which stays the one statement of what a machine does; the tests
hold the two against each other. ``wind`` is the spindle's share; ``_law`` is the control loop's, keeps its
state in names of its own while it runs, and puts it back when it is closed.
"""

from __future__ import annotations

import math
from collections.abc import Generator
from typing import TYPE_CHECKING

from .control import NEVER, SILENT_S, TICK_S, Control, Mode
from .law import held, share_kept, share_now, speed_wanted
from .spindle import SERIES_BELOW, Spindle, newton_time, way_after
from .suspicion import SILENT_COUNTS

if TYPE_CHECKING:
    from .board import SimulatedBody

EDGES_KNOWN = 3  # from here on the loop may ask for the whole duty
_Asks = Generator[tuple[float, float] | None, tuple[int, float, float, float], None]


def rest(body: SimulatedBody, ticks: int) -> int:
    """Pass up to so many ticks of a spindle at rest with its drive off; how many were ordinary."""
    control, spindle = body.control, body.spindle
    if control.mode is not Mode.IDLE or not control.at_rest or control.duty or spindle.speed:
        return 0
    ticks = min(ticks, body.quiet_ticks())
    if ticks <= 0:
        return 0
    spindle.duty, spindle.sense, spindle.brake = 0.0, control.sense, control.brake
    body.tick += ticks
    control.now_s = control.way_from_s = body.tick * TICK_S
    if control.reference:  # of the newest run; it goes on being summed until the next begins
        for _ in range(ticks):
            control.reference_way += control.reference * TICK_S
    return ticks


def wind(body: SimulatedBody, ticks: int) -> int:
    """Pass up to so many ticks of winding on; how many were ordinary."""
    control, spindle = body.control, body.spindle
    ticks = min(ticks, body.quiet_ticks())
    if ticks <= 0 or body.tick < body.dark_until or not _winds_on(control, spindle):
        return 0
    law = _law(control, body.tick)
    next(law)
    stall, limit, no_load, viscous = spindle.stall, spindle.limit, spindle.no_load, spindle.viscous
    coulomb, brake_full, jam = spindle.coulomb, spindle.brake_full, spindle.jam
    slow, fast = _decay(viscous), _decay(stall / no_load + viscous)
    cps_per_duty, brake_duty = control.cps_per_duty, control.brake_duty
    duty, brake, spindle.sense = control.duty, control.brake, 1
    whole, fraction, speed = spindle.whole, spindle.fraction, spindle.speed
    edges_left = min(body.fault_whole - whole, control.to_cut, _to_leg_end(control))
    begun, tick, parts_cps = body.tick, body.tick, body.parts_cps
    while tick < begun + ticks:
        resistance = coulomb + brake * brake_full + jam
        free = no_load * duty
        full = free - no_load * limit / stall
        if speed > free:
            gain, (decay, x, lost), low, high = -resistance, slow, free, math.inf
        elif speed < full or (speed == full and limit - resistance < viscous * speed):
            gain, (decay, x, lost), low, high = limit - resistance, slow, 0.0, full
        else:
            gain, (decay, x, lost), low, high = stall * duty - resistance, fast, full, free
        final = gain / decay if decay else 0.0
        end = speed + (final - speed) * -lost if decay else speed + gain * TICK_S
        if end < low or end > high or end <= 0.0 or end > parts_cps:
            break
        if x < SERIES_BELOW:
            way = way_after(speed, gain, decay, TICK_S)
        else:
            way = final * TICK_S + (final - speed) * lost / decay
        place = fraction + way
        edges, edge_s = math.floor(place), 0.0
        if edges:
            if edges >= edges_left or edges > body.edges_most:
                break
            edge_s = tick * TICK_S + newton_time(speed, gain, decay, TICK_S, edges - fraction)
        asked = law.send((edges, edge_s, duty, brake))
        if asked is None:
            break
        whole, fraction, speed, tick = whole + edges, place - edges, end, tick + 1
        edges_left -= edges
        spindle.duty, spindle.brake = duty, brake
        torque, reference = asked
        if torque < 0.0 and brake_duty is not None:
            brake = -torque / brake_duty
            duty, brake = 0.0, 1.0 if brake > 1.0 else brake
        else:
            duty = torque + reference / cps_per_duty
            duty, brake = 0.0 if duty < 0.0 else 1.0 if duty > 1.0 else duty, 0.0
    law.close()
    body.tick, control.duty, control.brake = tick, duty, brake
    spindle.whole, spindle.fraction, spindle.speed = whole, fraction, speed
    return tick - begun


def _decay(decay: float) -> tuple[float, float, float]:
    """A decay, how much of it falls into a tick, and what a speed loses of its lack in one (below nought)."""
    return decay, decay * TICK_S, math.expm1(-decay * TICK_S)


def _to_leg_end(control: Control) -> int:
    return control.leg_end - control.count if control.move is None and control.legs else NEVER


def _winds_on(control: Control, spindle: Spindle) -> bool:
    return (
        control.mode is Mode.TRACK
        and control.sense == 1
        and spindle.speed > 0.0
        and control.edges_known >= EDGES_KNOWN
        and not control.boost
        and not control.suspicion.backward.weight
    )


def _law(c: Control, tick: int) -> _Asks:
    """The control loop: takes edges, the time of the last, and the tick's duty and brake; gives the torque and the
    speed that are asked for next, or None and is as it was, where the tick is not ordinary."""
    suspicion, silence, braking = c.suspicion, c.suspicion.silence, c.suspicion.braking
    top, creep, change, hardest = c.top, c.creep, c.accel * TICK_S, max(c.accel, c.slow_accel)
    margin, stop_accel, brake_duty = c.margin, c.stop_accel, c.brake_duty
    reference, reference_way, now_s = c.reference, c.reference_way, c.way_from_s
    edge_s, edge_way, rate, seen, to_cut = c.edge_s, c.edge_way, c.rate, 0, c.to_cut
    integral, proportional, saturated_s = c.integral, c.proportional, c.saturated_s
    asked: tuple[float, float] | None = None
    try:
        while True:
            edges, seen_s, duty, brake = yield asked
            asked, next_way, next_s = None, reference_way + reference * TICK_S, (tick + 1) * TICK_S
            if edges:
                way, stretch = reference_way + reference * (seen_s - now_s), seen_s - edge_s
                if stretch <= 0.0:
                    continue
                fresh = edges / stretch
                if suspicion.cause(edges, stretch, fresh, top if top > reference else reference):
                    continue
                suspicion.remember(edges, stretch, fresh)
                error, rate = (way - edge_way) / stretch - fresh, fresh
                if not held(error, duty, brake, brake_duty):
                    integral += error * share_kept(stretch)
                proportional = error * share_now(stretch)
                edge_s, edge_way, seen, to_cut = seen_s, way, seen + edges, to_cut - edges
            else:
                since, late = next_s - edge_s, next_way - edge_way - 1.0
                speed, far = silence.after(duty, brake * braking, TICK_S)
                if duty >= 1.0 or (late > 1.5 and since > SILENT_S) or far > SILENT_COUNTS:
                    continue
                silence.speed, silence.way = speed, far
                if late > 0.5:
                    proportional = late / since * share_now(since)
                saturated_s = next_s
            tick, now_s, reference_way = tick + 1, next_s, next_way
            ahead = reference * (now_s - edge_s)
            left = to_cut - (ahead if ahead < 1.0 else 1.0) - margin
            wanted = speed_wanted(reference, change, top, left, creep, stop_accel)
            slope = (wanted - reference) / TICK_S
            slope = hardest if slope > hardest else -hardest if slope < -hardest else slope
            reference = wanted
            torque = c.friction_duty + (slope + proportional) / c.cps2_per_duty
            asked = torque + integral / c.cps_per_duty + 0.0, reference
    finally:
        c.count, c.to_cut, c.to_stop = c.count + seen, to_cut, c.to_stop - seen
        c.edges_known, c.edge_s, c.edge_way, c.rate = c.edges_known + seen, edge_s, edge_way, rate
        c.reference, c.reference_way, c.way_from_s, c.now_s = reference, reference_way, now_s, now_s
        c.integral, c.proportional, c.saturated_s = integral, proportional, saturated_s
