"""The plan of a coil of which only the turns are known: speed and stops by the machine alone, the guide stands."""

from __future__ import annotations

from winder.errors import UserMistake
from winder.machine.model import MachineProfile
from winder.plan.duration import duration_s
from winder.plan.facing import Facing
from winder.plan.model import AtEnd, Leg, Plan
from winder.plan.motion import figure_motion, speed_ceiling
from winder.plan.planner import COUNTS_MAX, Stretch, leg_of, pieces_that_fit
from winder.plan.traverse import STANDS
from winder.recipe.counted import CountOnly
from winder.recipe.model import Direction

GUIDE_BY_HAND = "wire and bobbin are not known: the guide stays still, so lead the wire by hand"


def plan_counted(
    job: CountOnly,
    machine: MachineProfile,
    *,
    legs_max: int = 8,
    edge_rate_max_cps: float | None = None,
    first_turn: int = 0,
    facing: Facing | None = None,
) -> Plan:
    """Like ``make_plan``, for a coil without wire and bobbin. ``UserMistake`` where it cannot be counted."""
    cpt = machine.counts_per_turn
    counts = (job.turns - first_turn) * cpt
    if not 0 < counts <= COUNTS_MAX:
        raise UserMistake(
            f"{first_turn} of {job.turns} turns are wound already, at {cpt} counts a turn",
            where="--count",
            remedy=f"ask for more turns than are on it, and at most {COUNTS_MAX // cpt}",
        )
    spindle = 1 if job.direction is Direction.CLOCKWISE else -1
    spindle = spindle if facing is None else facing.spindle
    if not machine.motor:
        speed_rpm, remarks = speed_ceiling(job, machine, edge_rate_max_cps)
        leg = Leg(
            name="body",
            end_counts=counts,
            at_end=AtEnd.COMPLETE,
            speed_rpm=speed_rpm,
            acceleration_rpm_s=machine.acceleration_rpm_s,
            creep_rpm=0.0,  # nothing drives
            coast_counts=0,
            pitch_m=0.0,
            left_m=0.0,
            right_m=0.0,
            dwell_counts=0,
            scatter_seed=0,
        )
        seconds = 60 * (job.turns - first_turn) / speed_rpm
        return Plan((leg,), cpt, spindle, first_turn, job.turns, seconds, tuple(remarks))
    motion = figure_motion(job, machine, edge_rate_max_cps)
    told = [GUIDE_BY_HAND] if machine.traverse_travel_m else []
    stretches = [Stretch(first_turn, job.turns, AtEnd.COMPLETE)]
    pieces = pieces_that_fit(stretches, motion, cpt, legs_max, told)
    legs = tuple(leg_of(piece, motion, STANDS, cpt, first_turn) for piece in pieces)
    seconds = duration_s(legs, cpt)
    return Plan(legs, cpt, spindle, first_turn, job.turns, seconds, (*motion.remarks, *told))
