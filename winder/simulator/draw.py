"""Machines by seed, over the whole range that is supported, and what their owners would write of them.

Every number is drawn by itself; the profile's numbers (``Told``) are what a person would have measured, and
friction and brake may have changed by 30 % since. The board's own set-up (``Learned``) is off as well. A brake
is one worth the name (2500 rpm/s and more), and a spindle without one loses at least 300 rpm/s by itself:
beyond that a stop within half a turn at one or a few counts a turn is not to be had.
"""

from __future__ import annotations

import dataclasses
import math
import random

from firmware_protocol.records import dataclass

from .build import COUNTS_PER_TURN_MAX, RAD_S_PER_RPM, Build, Learned

FRICTION_CHANGE = 0.30


@dataclass(frozen=True, slots=True)
class Told:
    """What the machine's profile says: measured by a person, with the bobbin on."""

    counts_per_turn: int
    direction_sense: bool
    speed_rpm_max: float
    acceleration_rpm_s: float
    coasting_rpm_s: float
    braking_rpm_s: float | None
    traverse_travel_m: float | None


def _log_uniform(chance: random.Random, low: float, high: float) -> float:
    return math.exp(chance.uniform(math.log(low), math.log(high)))


def _off(chance: random.Random, share: float) -> float:
    return chance.uniform(1 - share, 1 + share)


def draw_machine(
    seed: int,
    *,
    core_perimeter_m: float = 0.0314,
    width_m: float = 0.008,
    wire_overall_m: float = 75e-6,
    ohm_per_m: float = 5.36,
    packing: float = 0.78,
) -> tuple[Build, Told]:
    """One machine with this bobbin and wire, and its profile's numbers."""
    chance = random.Random(seed)
    speed_rpm = _log_uniform(chance, 300.0, 3000.0)
    counts = round(_log_uniform(chance, 1.0, COUNTS_PER_TURN_MAX))
    counts = min(counts, int(90_000 / (speed_rpm / 60)))
    told = Told(
        counts_per_turn=counts,
        direction_sense=chance.random() < 0.5,
        speed_rpm_max=speed_rpm,
        acceleration_rpm_s=_log_uniform(chance, 200.0, 1500.0),
        coasting_rpm_s=(coasting_rpm_s := _log_uniform(chance, 300.0, 1500.0)),
        braking_rpm_s=(
            coasting_rpm_s + _log_uniform(chance, 2500.0, 8000.0) if chance.random() < 0.5 else None
        ),
        traverse_travel_m=0.1 if chance.random() < 0.7 else None,
    )
    build = _body_of(chance, told)
    return dataclasses.replace(
        build,
        core_perimeter_m=core_perimeter_m,
        width_m=width_m,
        wire_overall_m=wire_overall_m,
        ohm_per_m=ohm_per_m,
        packing=packing,
    ), told


def _body_of(chance: random.Random, told: Told) -> Build:
    """A body that was once as its profile says, and a board that learned it so."""
    inertia = _log_uniform(chance, 2.5e-5, 1e-4)
    per_rpm_s = inertia * RAD_S_PER_RPM  # torque for 1 rpm/s
    no_load_rpm = told.speed_rpm_max * chance.uniform(1.25, 2.0)
    viscous_share = chance.uniform(0.0, 0.2)  # of the friction at half the highest speed
    friction = told.coasting_rpm_s * per_rpm_s
    viscous = friction * viscous_share / (told.speed_rpm_max / 2 * RAD_S_PER_RPM)
    coulomb = friction * (1 - viscous_share)
    at_most = 1 - told.speed_rpm_max / no_load_rpm  # of the stall torque is left at full speed
    need = told.acceleration_rpm_s * per_rpm_s * 1.2 + 1.3 * friction * (1 + viscous_share)
    stall = need / at_most
    brake = None
    if told.braking_rpm_s is not None:
        brake = (told.braking_rpm_s - told.coasting_rpm_s) * per_rpm_s
    once = Build(
        inertia_kg_m2=inertia,
        coulomb_nm=coulomb,
        viscous_nm_s=viscous,
        stall_nm=stall,
        no_load_rpm=no_load_rpm,
        torque_limit_nm=max(need, stall * chance.uniform(0.5, 1.0)),
        brake_nm=brake,
        speed_rpm_max=told.speed_rpm_max,
        counts_per_turn=told.counts_per_turn,
        direction_sense=told.direction_sense,
        traverse_travel_m=told.traverse_travel_m,
    )
    known = once.learned_truly()
    learned = Learned(
        rpm_per_duty=known.rpm_per_duty * _off(chance, 0.05),
        friction_duty=known.friction_duty * _off(chance, 0.05),
        full_torque_rpm_s=known.full_torque_rpm_s * _off(chance, 0.15),
        brake_duty=known.brake_duty,
    )
    change = _off(chance, FRICTION_CHANGE)
    return dataclasses.replace(
        once,
        coulomb_nm=coulomb * change,
        viscous_nm_s=viscous * change,
        brake_nm=None if brake is None else brake * _off(chance, FRICTION_CHANGE),
        learned=learned,
    )
