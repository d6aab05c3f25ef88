"""From the plan's legs to the board's: counts of this wind, thousandths, and the checksum.

The plan says where the *coil* shall be at the end of a leg; the board counts the *wind*. Between the two
lies the offset: the coil's count when the wind's was zero. It is known better than the planner could
know it (half turns left over, a count that was settled), so the legs' ends are moved by it, and the
coil ends on exactly its turn. Legs that are already behind are left out.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence

from firmware_protocol.messages import (
    COUNT_MAX,
    CREEP_RATE_LEAST_MCPS,
    EndAction,
    Has,
    PlanLeg,
    Welcome,
)
from firmware_protocol.records import dataclass
from firmware_protocol.wire import Group, pack
from winder.machine.model import MachineProfile
from winder.plan.model import AtEnd, Leg, Plan

from .board import Board
from .deeds import Drive, Stretch

UNHELD = 1.6  # times the machine's highest speed: what its drive may do unloaded (our judgement, no source)
LEAST_RPM_S = 1.0  # a slower loss of speed is a profile that was not filled in
DIRECTION_SENSE = int(Has.DIRECTION_SENSE)  # as a plain number: asked at every status
TOKEN_BYTES = 4  # the first field of a leg's payload; not in the checksum
END_ACTIONS = {
    AtEnd.CONTINUE: EndAction.CONTINUE,
    AtEnd.PAUSE: EndAction.PAUSE,
    AtEnd.COMPLETE: EndAction.COMPLETE,
}


@dataclass(frozen=True, slots=True)
class LoadedLeg:
    """A leg as this wind has it."""

    leg: Leg
    end_count: int  # of the wind, as the board counts

    @property
    def stops(self) -> bool:
        return self.leg.at_end is not AtEnd.CONTINUE


def legs_of_wind(plan: Plan, offset: int, count: int) -> tuple[LoadedLeg, ...]:
    """The legs that are still ahead of ``count``, with the coil's count ``offset`` at the wind's zero."""
    shift = plan.first_turn * plan.counts_per_turn - offset
    loaded = (LoadedLeg(leg, leg.end_counts + shift) for leg in plan.legs)
    return tuple(leg for leg in loaded if leg.end_count > count)


def rate_mcps(speed_rpm: float, counts_per_turn: int) -> int:
    """Thousandths of a count per second."""
    return round(speed_rpm * counts_per_turn * 1000 / 60)


def leg_message(loaded: LoadedLeg, index: int, plan: Plan, generation: int) -> PlanLeg:
    """One leg as the board takes it; the token is left to the host end."""
    leg, cpt = loaded.leg, plan.counts_per_turn
    speed = rate_mcps(leg.speed_rpm, cpt)
    return PlanLeg(
        token=0,
        generation=generation,
        index=index,
        end_action=END_ACTIONS[leg.at_end],
        spindle=plan.spindle,
        end_count=loaded.end_count,
        rate_mcps=speed,
        accel_mcps2=max(1, rate_mcps(leg.acceleration_rpm_s, cpt)),
        creep_mcps=min(speed, max(CREEP_RATE_LEAST_MCPS, rate_mcps(leg.creep_rpm, cpt))),
        coast_counts=leg.coast_counts,
        pitch_nm=round(leg.pitch_m * 1e9),
        pitch_counts=cpt,
        left_um=round(leg.left_m * 1e6),
        right_um=round(leg.right_m * 1e6),
        dwell_counts=leg.dwell_counts,
        scatter_seed=leg.scatter_seed & 0xFFFF,
    )


def checksum(legs: Sequence[PlanLeg]) -> int:
    """CRC-32 over the legs' payloads without their tokens, in order (the protocol's plan checksum)."""
    crc = 0
    for leg in legs:
        crc = zlib.crc32(pack(leg)[TOKEN_BYTES:], crc)
    return crc


def drive_of(loaded: Sequence[LoadedLeg], machine: MachineProfile, board: Board) -> Drive:
    """How far these legs can go without being heard, in counts of the wind."""
    if not machine.motor:
        return Drive()
    per_rpm = machine.counts_per_turn / 60
    stretches = tuple(
        Stretch(
            one.end_count,
            one.stops,
            one.leg.speed_rpm * per_rpm,
            max(one.leg.acceleration_rpm_s, LEAST_RPM_S) * per_rpm,
        )
        for one in loaded
    )
    coasting = max(machine.coasting_rpm_s, LEAST_RPM_S) * per_rpm
    most = machine.speed_rpm_max * UNHELD * per_rpm
    return Drive(stretches, coasting, board.rest_s, most)


def drives_traverse(plan: Plan) -> bool:
    return any(leg.pitch_m > 0 for leg in plan.legs)


def unfitness(plan: Plan, machine: MachineProfile, welcome: Welcome) -> str:
    """Why this board cannot do this plan, in words; empty if it can."""
    groups = welcome.groups
    if not groups[Group.COUNTING - 1]:
        return "this board does not count winds; load firmware with the counting group"
    top_mcps = max(rate_mcps(leg.speed_rpm, plan.counts_per_turn) for leg in plan.legs)
    top_cps = top_mcps / 1000
    if top_cps > welcome.edge_rate_max_cps and welcome.edge_rate_max_cps:
        return (
            f"the plan brings {top_cps:.0f} counts a second and this board counts"
            f" {welcome.edge_rate_max_cps} without loss; wind slower"
        )
    if plan.target_counts > COUNT_MAX:
        return f"the target of {plan.target_counts} counts is beyond what a board can count"
    if not machine.motor:
        return ""
    if not (groups[Group.MOTOR - 1] and groups[Group.LEGS - 1]):
        return "this board drives no motor; use a machine file without a motor, or another board"
    if drives_traverse(plan) and not groups[Group.TRAVERSE - 1]:
        return "the plan drives a guide and this board has none; take the guide out of the machine file"
    if len(plan.legs) > welcome.legs_max:
        return f"the plan has {len(plan.legs)} legs and this board holds {welcome.legs_max}; ask for fewer pauses"
    if top_mcps > welcome.rate_max_mcps:
        return (
            f"the plan winds at {top_cps:.0f} counts a second and this board drives"
            f" {welcome.rate_max_mcps / 1000:.0f}; wind slower"
        )
    return ""


def has_direction_sense(machine: MachineProfile, welcome: Welcome | None) -> bool:
    """Only if the profile and the board both say so: the doubt is the safe side."""
    return machine.direction_sense and welcome is not None and bool(welcome.has & DIRECTION_SENSE)
