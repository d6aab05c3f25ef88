"""What a plan is held against, figure by figure, and everything that refuses it.

A check sets what the plan asks for beside what machine, bobbin or wire can bear. Most of them hold by the way
a plan is made; they are there to be read by the person who knows the machine. A refusal stops the planner;
where several independent reasons would, all are told at once, each with its remedy.
"""

from __future__ import annotations

from collections.abc import Callable

from firmware_protocol.records import dataclass
from winder.coil.model import Coil
from winder.coil.winding import complaints, flats_build_at, room_m
from winder.errors import Complaint, UserMistake
from winder.machine.model import MachineProfile
from winder.plan.model import Plan
from winder.plan.motion import figure_motion, wire_advice
from winder.plan.planner import make_plan, refuse_pauses
from winder.plan.traverse import FREE_TURNS_MOST, figure_strip


@dataclass(frozen=True, slots=True)
class Check:
    """One figure of the plan beside its limit."""

    what: str
    value: float
    limit: float
    unit: str
    good: bool
    least: bool = False  # the limit is the least there must be; else the most there may be


def refusals(coil: Coil, machine: MachineProfile, *, legs_max: int = 8) -> tuple[Complaint, ...]:
    """Everything that keeps this coil from being wound on this machine; empty when nothing does."""
    found = list(complaints(coil))
    stages: list[Callable[[], object]] = []
    if machine.motor:
        stages = [
            lambda: figure_motion(coil.recipe, machine, None, wire_advice(coil, machine)),
            lambda: figure_strip(coil, machine, 0),
            lambda: refuse_pauses(coil, 0, legs_max),
        ]
    stages.append(lambda: make_plan(coil, machine, legs_max=legs_max))
    for stage in stages:
        try:
            stage()
        except UserMistake as mistake:
            told = Complaint(0, mistake.where, mistake.what, mistake.remedy)
            if told not in found:
                found.append(told)
    return tuple(found)


def checks(plan: Plan, coil: Coil, machine: MachineProfile) -> list[Check]:
    """The plan's figures beside their limits, in SI units, rpm and turns."""
    top_rpm = max(leg.speed_rpm for leg in plan.legs)
    build = flats_build_at(coil, coil.turns)
    found = [
        Check("build, laid loosely", build.high, room_m(coil.recipe), "m", coil.fits),
        _most("speed", top_rpm, machine.speed_rpm_max, "rpm"),
    ]
    advice = wire_advice(coil, machine)
    if machine.motor and advice.rpm is not None:
        found.append(_most("best speed for the wire", top_rpm, advice.rpm, "rpm"))
    if machine.motor and machine.motor_rpm_max is not None:
        found.append(_most("motor speed", top_rpm * machine.gear, machine.motor_rpm_max, "rpm"))
    if machine.edge_rate_max_cps is not None:
        rate_cps = top_rpm / 60 * plan.counts_per_turn
        found.append(_most("counts of the sensor", rate_cps, machine.edge_rate_max_cps, "1/s"))
    body = max(plan.legs, key=lambda leg: leg.end_counts)
    if body.pitch_m > 0 and machine.traverse_travel_m is not None:
        reach_m = max(leg.right_m for leg in plan.legs)
        found.append(_most("reach of the guide", reach_m, machine.traverse_travel_m, "m"))
        if machine.steps_per_mm is not None:
            steps = body.pitch_m * 1e3 * machine.steps_per_mm
            found.append(Check("traverse steps per turn", steps, 1.0, "", steps >= 1, least=True))
    free_turns = machine.free_length_m / coil.core_perimeter_m
    found.append(_most("free length of the wire", free_turns, FREE_TURNS_MOST, "turns of the core"))
    return found


def _most(what: str, value: float, limit: float, unit: str) -> Check:
    return Check(what, value, limit, unit, value <= limit * (1 + 1e-9))
