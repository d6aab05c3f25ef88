"""Simulated machines built from plain numbers, so that the simulator need not know coil or plan.

What a profile says is taken as true of the bench that stands for it; what no profile can say (this
spool's ohms per metre, this wind's packing) is drawn by seed within the practice ranges that the
simulator states for itself, or within what a person's readings leave open of them.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable

from winder.coil.model import Coil
from winder.machine.model import MachineProfile
from winder.simulator.build import RAD_S_PER_RPM, Build
from winder.simulator.draw import Told, draw_machine
from winder.simulator.faults import Fault
from winder.simulator.machine import SimulatedMachine
from winder.simulator.spool import WITHIN_95, as_delivered

INERTIA_KG_M2 = 5e-5  # a small chuck and bobbin
PACKING = 0.64  # wire over its enamel, share of the winding: 0.815 of square lay's pi/4
PACKING_SHARE = 0.10  # from wind to wind, 95 %: common practice, no source
OHM_SHARE = (
    0.05  # wire tolerance, 95 %: the widest the IEC limits allow at these sizes is twice that
)
EDGE_RATE_MAX_CPS = 100_000  # of the simulated board, where the profile knows of no slower sensor
VISCOUS_SHARE = 0.1  # of the friction that a coasting test finds


def simulated_machine(
    machine: MachineProfile,
    coil: Coil | None = None,
    seed: int = 1,
    *,
    faults: Iterable[Fault] = (),
) -> SimulatedMachine:
    """A machine as its profile says, with this coil's bobbin and spool on it.

    A profile without a motor gives a board that only counts, and a person with a drill.
    """
    return SimulatedMachine(_with_bobbin(_build_of(machine), coil, seed), seed, faults)


def drawn_machine(coil: Coil, seed: int) -> tuple[MachineProfile, SimulatedMachine]:
    """Another machine for each seed, and the profile its owner would have written."""
    build, told = draw_machine(seed)
    return _profile_of(told, seed), SimulatedMachine(_with_bobbin(build, coil, seed), seed)


def bobbin_build(machine: MachineProfile, coil: Coil, seed: int) -> Build:
    """The body with this coil's bobbin and spool, for the lay alone."""
    return _with_bobbin(_build_of(machine), coil, seed)


def _build_of(machine: MachineProfile) -> Build:
    if not machine.motor:
        return _counter_of(machine)
    per_rpm_s = INERTIA_KG_M2 * RAD_S_PER_RPM  # torque for 1 rpm/s
    friction_nm = machine.coasting_rpm_s * per_rpm_s
    no_load_rpm = machine.speed_rpm_max * 1.6
    need_nm = machine.acceleration_rpm_s * per_rpm_s * 1.2 + 1.2 * friction_nm
    brake_nm = None
    if machine.braking_rpm_s is not None:
        brake_nm = max(machine.braking_rpm_s - machine.coasting_rpm_s, 1.0) * per_rpm_s
    return Build(
        inertia_kg_m2=INERTIA_KG_M2,
        coulomb_nm=friction_nm * (1 - VISCOUS_SHARE),
        viscous_nm_s=friction_nm * VISCOUS_SHARE / (machine.speed_rpm_max / 2 * RAD_S_PER_RPM),
        stall_nm=need_nm / (1 - machine.speed_rpm_max / no_load_rpm),
        no_load_rpm=no_load_rpm,
        torque_limit_nm=need_nm,
        brake_nm=brake_nm,
        speed_rpm_max=machine.speed_rpm_max,
        counts_per_turn=machine.counts_per_turn,
        direction_sense=machine.direction_sense,
        edge_rate_max_cps=round(machine.edge_rate_max_cps or EDGE_RATE_MAX_CPS),
        traverse_travel_m=machine.traverse_travel_m,
        free_length_m=machine.free_length_m,
    )


def _counter_of(machine: MachineProfile) -> Build:
    """A sensor and a small board; the wire is led by hand, and nothing watches it."""
    return Build(
        motor=False,
        brake_nm=None,
        speed_rpm_max=machine.speed_rpm_max,
        counts_per_turn=machine.counts_per_turn,
        direction_sense=machine.direction_sense,
        edge_rate_max_cps=round(machine.edge_rate_max_cps or EDGE_RATE_MAX_CPS),
        guard=False,
        wire_sensor=False,
        traverse_travel_m=None,
        free_length_m=machine.free_length_m,
    )


def _with_bobbin(build: Build, coil: Coil | None, seed: int) -> Build:
    if coil is None:
        return build
    spread = spread_of(coil)
    bobbin = dataclasses.replace(
        build,
        core_perimeter_m=coil.core_perimeter_m,
        width_m=coil.recipe.width_m,
        rim_width_m=coil.recipe.rim_width_m,
        flange_height_m=coil.recipe.height_m,
        raised_m=coil.recipe.tape_under_m,
        margin_m=coil.recipe.margin_m,
        wire_overall_m=coil.wire.overall_m,
        ohm_per_m=coil.wire.ohm_per_m.nominal,
        packing=spread.packing,
    )
    return as_delivered(
        bobbin,
        seed,
        ohm_share=spread.ohm_share,
        packing_share=spread.packing_share,
        packing_by_ohm=spread.packing_by_ohm,
    )


@dataclasses.dataclass(frozen=True, slots=True)
class Spread:
    """How spool and wind are drawn: the middle of the packing, and 95 % limits as shares."""

    packing: float = PACKING
    ohm_share: float = OHM_SHARE
    packing_share: float = PACKING_SHARE
    packing_by_ohm: float = 0.0


def spread_of(coil: Coil) -> Spread:
    """By the simulator's own ranges; where something was measured, by what that leaves open of them.

    Else the simulated spool would contradict the readings of the real one. What was learnt of ohms and packing
    together (an earlier coil: more of one means less of the other) ties the two draws.
    """
    knowledge = coil.knowledge
    if knowledge is None or not knowledge.observations:
        return Spread()
    (ohms, both), (_, areas) = knowledge.two_by_two
    left = areas - both * both / ohms  # of the packing once the ohms are drawn
    area_m2 = coil.area_per_turn_m2.nominal
    return Spread(
        packing=math.pi / 4 * coil.wire.overall_m**2 / area_m2,
        ohm_share=min(OHM_SHARE, math.expm1(WITHIN_95 * math.sqrt(ohms))),
        packing_share=min(PACKING_SHARE, math.expm1(WITHIN_95 * math.sqrt(max(left, 0.0)))),
        packing_by_ohm=-both / ohms,  # packing is one over the area
    )


def _profile_of(told: Told, seed: int) -> MachineProfile:
    return MachineProfile(
        name=f"machine drawn with seed {seed}",
        counts_per_turn=told.counts_per_turn,
        direction_sense=told.direction_sense,
        speed_rpm_max=told.speed_rpm_max,
        acceleration_rpm_s=told.acceleration_rpm_s,
        coasting_rpm_s=told.coasting_rpm_s,
        braking_rpm_s=told.braking_rpm_s,
        traverse_travel_m=told.traverse_travel_m,
        tensioner_kg=0.0,  # felt pads: nothing moves with the wire, which then bears any speed
    )
