"""How fast this machine may turn this coil, and how it can be relied on to stop.

The board stops the spindle on the count by itself: it slows to a creep, cuts the drive at the count and
coasts the rest, w^2 / (2 alpha) turns (w in turns/s, alpha in turns/s^2). Slowing down can only be
relied on for a share of what was measured at set-up, because friction changes with warmth and bobbin;
without a brake nothing slows the spindle but friction.

The board knows its speed from edges alone, so it cannot hold a speed below a few edges a second. With
few counts per turn that floor makes the creep fast; where the coasting would then be long, the drive is
cut so many counts *before* the stop that even the longest plausible coasting ends short of it, and one
gentle nudge from rest does the remainder: short of the target is mended, beyond it is not.
"""

from __future__ import annotations

import math
from typing import Protocol

from firmware_protocol.records import dataclass
from winder.coil.feed import SpeedAdvice, bold_remark, speed_advice
from winder.coil.model import Coil
from winder.errors import UserMistake
from winder.files.digits import show_number
from winder.files.quantities import show_speed
from winder.machine.model import MachineProfile

SLOWING_SHARE = 0.6  # of the measured loss of speed that a stop may count on
OVERRUN_TURNS = 0.03  # aimed at: how far the spindle coasts beyond the count
COAST_TURNS_MAX = 0.25  # a longer coasting is not accepted as overrun: cut the drive early
CREEP_RPM_MAX = 60.0
CREEP_RATE_LEAST_CPS = 4.0  # below this the board cannot see its speed; the protocol's limit too
# The speed at the cut is known from few edges and may be 40 % high, which doubles the coasting.
COAST_DOUBT = 2.0


@dataclass(frozen=True, slots=True)
class Motion:
    """Limits of every leg. Speeds in rpm, accelerations in rpm per second."""

    speed_rpm: float  # ceiling
    floor_rpm: float  # slowest speed that board and spindle can hold
    acceleration_rpm_s: float  # serves both ways
    creep_rpm: float
    coast_counts: int
    remarks: tuple[str, ...]

    @property
    def acceleration_turns_s2(self) -> float:
        return self.acceleration_rpm_s / 60

    def slowing_turns(self, speed_rpm: float) -> float:
        """Turns from ``speed_rpm`` to rest at the leg's acceleration."""
        return (speed_rpm / 60) ** 2 / (2 * self.acceleration_turns_s2)

    def speed_for(self, turns: float) -> float:
        """Ceiling for a stretch from rest to rest: speeding up and slowing take at most half of it."""
        reached_rpm = 60 * math.sqrt(self.acceleration_turns_s2 * max(turns, 0.0) / 2)
        return max(self.floor_rpm, min(self.speed_rpm, reached_rpm))


class Wished(Protocol):
    """What says how fast somebody wants it wound: a recipe, or a bare number of turns."""

    @property
    def speed_rpm(self) -> float | None: ...


def figure_motion(
    recipe: Wished,
    machine: MachineProfile,
    edge_rate_max_cps: float | None,
    advice: SpeedAdvice | None = None,
) -> Motion:
    """What the planner may ask of the machine. ``UserMistake`` where it cannot wind like this."""
    cpt = machine.counts_per_turn
    speed_rpm, remarks = speed_ceiling(recipe, machine, edge_rate_max_cps)
    if advice is not None:
        speed_rpm = _heeded(speed_rpm, advice, recipe, machine, remarks)
    floor_rpm = 60 * CREEP_RATE_LEAST_CPS / cpt
    if speed_rpm < floor_rpm:
        raise UserMistake(
            f"{show_speed(speed_rpm, 4)} gives {speed_rpm * cpt / 60:.2g} counts a second; below"
            f" {CREEP_RATE_LEAST_CPS:g} the board cannot see its speed",
            where="winding.speed",
            remedy=f"wind at {show_speed(floor_rpm, 4)} or faster, or fit a sensor with more counts per turn",
        )
    allow = f"{counts_text(cpt)} allow"
    if (machine.steady_rpm or 0.0) > floor_rpm:
        floor_rpm, allow = min(machine.steady_rpm or 0.0, speed_rpm), "its steady_speed allows"
    safe_rpm_s = _safe_slowing(machine)
    safe_turns_s2 = safe_rpm_s / 60
    gentle_rpm = 60 * math.sqrt(2 * safe_turns_s2 * OVERRUN_TURNS)
    creep_rpm = max(floor_rpm, min(CREEP_RPM_MAX, speed_rpm, gentle_rpm))
    coast_turns = (creep_rpm / 60) ** 2 / (2 * safe_turns_s2)
    coast_counts = 0
    if coast_turns > COAST_TURNS_MAX:
        coast_counts = math.ceil(COAST_DOUBT * coast_turns * cpt)
        remarks.append(
            f"the slowest speed that {allow} is {show_speed(creep_rpm, 4)}, from which the"
            f" spindle may coast {coast_turns:.2g} turns: the drive is cut"
            f" {coast_counts} counts before a stop and the rest is nudged"
        )
    elif coast_turns > 1.01 * OVERRUN_TURNS:
        remarks.append(
            f"a stop may run over by up to {coast_turns:.2f} turn: {allow} no"
            f" creep slower than {show_speed(creep_rpm, 4)}; what it runs over is counted and shown"
        )
    return Motion(
        speed_rpm=speed_rpm,
        floor_rpm=floor_rpm,
        acceleration_rpm_s=min(machine.acceleration_rpm_s, safe_rpm_s),
        creep_rpm=creep_rpm,
        coast_counts=coast_counts,
        remarks=tuple(remarks),
    )


def counts_text(counts_per_turn: int) -> str:
    """``1 count per turn``, ``20 counts per turn``."""
    return f"{counts_per_turn} count{'s' if counts_per_turn != 1 else ''} per turn"


def speed_ceiling(
    recipe: Wished, machine: MachineProfile, edge_rate_max_cps: float | None
) -> tuple[float, list[str]]:
    """The fastest this may turn, rpm, and in words what holds it below what was asked for."""
    speed_rpm = machine.speed_rpm_max
    remarks: list[str] = []
    if recipe.speed_rpm is not None:
        if recipe.speed_rpm > speed_rpm:
            remarks.append(
                f"the recipe asks for {show_speed(recipe.speed_rpm)}, the machine is made"
                f" for {show_speed(speed_rpm)}: that it is"
            )
        speed_rpm = min(speed_rpm, recipe.speed_rpm)
    if machine.motor and machine.motor_rpm_max is not None:
        geared_rpm = machine.motor_rpm_max / machine.gear
        if geared_rpm < speed_rpm:
            speed_rpm = geared_rpm
            remarks.append(
                f"no faster than {show_speed(speed_rpm, 4)}: the motor is made for"
                f" {show_speed(machine.motor_rpm_max)} and turns {machine.gear:.6g} times as fast"
                " as the spindle"
            )
    for rate_max_cps, whose in (
        (machine.edge_rate_max_cps, "sensor gives"),
        (edge_rate_max_cps, "board counts"),
    ):
        if rate_max_cps is None:
            continue
        # Rounded down to a thousandth, so that rounding on the wire cannot pass the limit.
        countable_rpm = math.floor(60_000 * rate_max_cps / machine.counts_per_turn) / 1000
        if countable_rpm < speed_rpm:
            speed_rpm = countable_rpm
            remarks.append(
                f"no faster than {show_speed(speed_rpm, 4)}: the {whose} at most"
                f" {show_number(rate_max_cps, 6)} counts a second without loss, at"
                f" {machine.counts_per_turn} a turn"
            )
    return speed_rpm, remarks


def wire_advice(coil: Coil, machine: MachineProfile) -> SpeedAdvice:
    """How fast the wire should turn on this core with this tensioner."""
    return speed_advice(coil.outline, coil.wire, coil.recipe, machine)


def _heeded(
    speed_rpm: float,
    advice: SpeedAdvice,
    recipe: Wished,
    machine: MachineProfile,
    remarks: list[str],
) -> float:
    """A speed that the recipe names is wound, with a remark where it is bold; without one the advice is kept."""
    if recipe.speed_rpm is not None:
        if bold := bold_remark(recipe.speed_rpm, advice, machine):
            remarks.append(bold)
        return speed_rpm
    if advice.rpm is None or advice.rpm >= speed_rpm:
        return speed_rpm
    remarks.append(f"{show_speed(float(math.floor(advice.rpm)))} for the wire's sake: {advice.why}")
    return float(math.floor(advice.rpm))


def _safe_slowing(machine: MachineProfile) -> float:
    measured = machine.coasting_rpm_s if machine.braking_rpm_s is None else machine.braking_rpm_s
    if not measured > 0:
        raise UserMistake(
            "the machine file does not say how fast the spindle slows, so no stop can be planned",
            where=f"machine '{machine.name}'",
            remedy="measure how fast the spindle slows with the drive off, and enter it",
        )
    return SLOWING_SHARE * measured
