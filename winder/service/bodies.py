"""Simulated machines built from plain numbers, so that the simulator need not know coil or plan.

What a profile says is taken as true of the bench that stands for it; what no profile can say (this
spool's ohms per metre, this wind's packing) is drawn by seed within the practice ranges that the
simulator states for itself, or within what a person's readings leave open of them.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable

from firmware_protocol.records import dataclass
from winder.coil.feed import tension_n
from winder.coil.mass import wire_kg_per_m
from winder.coil.model import Coil
from winder.errors import UserMistake
from winder.links.names import PortChoice
from winder.machine.instruments import Instruments
from winder.machine.model import MachineProfile
from winder.machine.tensioner import FELT, moving_kg
from winder.recipe.model import ObroundCore, RoundedRectangleCore
from winder.simulator.build import RAD_S_PER_RPM, ROOM_M, Build
from winder.simulator.carriage import Switch
from winder.simulator.draw import Told, draw_machine
from winder.simulator.faults import Fault
from winder.simulator.machine import SimulatedMachine
from winder.simulator.meter import BenchOhmmeter
from winder.simulator.spool import WITHIN_95, as_delivered
from winder.simulator.strain import (
    FLAT_LEAST_M,
    drawn_bulge,
    drawn_strain,
    drawn_warmth_k,
    parting_rpm,
)

INERTIA_KG_M2 = 5e-5  # a small chuck and bobbin
PACKING = 0.64  # wire over its enamel, share of the winding: 0.815 of square lay's pi/4
PACKING_SHARE = 0.10  # from wind to wind, 95 %: common practice, no source
HABIT_SHARE = 0.11  # and of the bench, 95 %: both together 15 %, the practice range
EDGE_RATE_MAX_CPS = 100_000  # of the simulated board, where the profile knows of no slower sensor
VISCOUS_SHARE = 0.1  # of the friction that a coasting test finds


def ohmmeter_of(told: Instruments, seed: int) -> BenchOhmmeter:
    """A meter and a thermometer that keep the limits which their owner told, with errors of their own by seed."""
    return BenchOhmmeter(
        seed,
        counts=told.counts,
        gain_share=told.gain_share,
        digits=told.digits,
        leads_ohm=told.leads_ohm,
        kelvin=told.thermometer_k,
    )


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
    return SimulatedMachine(_with_bobbin(_build_of(machine), machine, coil, seed), seed, faults)


def bend_switch(body: SimulatedMachine, choice: PortChoice) -> None:
    """The guide's limit switch is as bad as the port says. Raises ``UserMistake`` where there is none."""
    if not choice.switch:
        return
    if not body.build.limit_switch:
        raise UserMistake(
            "this machine has no limit switch",
            where=choice.address,
            remedy="write limit_switch = true under [traverse] in its file, and name it with --machine",
        )
    body.bend_switch(Switch[choice.switch.upper()])


def drawn_machine(coil: Coil, seed: int) -> tuple[MachineProfile, SimulatedMachine]:
    """Another machine for each seed, and the profile its owner would have written."""
    build, told = draw_machine(seed)
    machine = _profile_of(told, seed)
    return machine, SimulatedMachine(_with_bobbin(build, machine, coil, seed), seed)


def bobbin_build(machine: MachineProfile, coil: Coil, seed: int) -> Build:
    """The body with this coil's bobbin and spool, for the lay alone."""
    return _with_bobbin(_build_of(machine), machine, coil, seed)


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
        pedal=machine.pedal,
        limit_switch=machine.limit_switch,
        room_m=ROOM_M if machine.switch_to_flange_m is None else machine.switch_to_flange_m,
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


def _with_bobbin(build: Build, machine: MachineProfile, coil: Coil | None, seed: int) -> Build:
    if coil is None:
        return build
    spread = spread_of(coil)
    flats_m = _flats_m(coil)
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
        stretch=_stretch(coil, seed),
        bulge=drawn_bulge(seed) if flats_m else 0.0,
        flats_m=flats_m,
        warm_k=drawn_warmth_k(seed),
        parts_rpm=_parts_rpm(coil, machine),
    )
    return as_delivered(
        bobbin,
        seed,
        ohm_factors=spread.ohm_factors,
        packing_share=spread.packing_share,
        packing_by_ohm=spread.packing_by_ohm,
        habit_share=spread.habit_share,
    )


def _flats_m(coil: Coil) -> tuple[float, ...]:
    """The core's flat sides, as plain numbers."""
    core = coil.recipe.core
    if not isinstance(core, ObroundCore | RoundedRectangleCore):
        return ()
    round_m = core.thickness_m if isinstance(core, ObroundCore) else 2 * core.corner_radius_m
    sides = (core.length_m - round_m, core.thickness_m - round_m)
    return tuple(side for side in sides for _ in range(2) if side >= FLAT_LEAST_M)


def _bend_radius_m(coil: Coil) -> float:
    core = coil.recipe.core
    if isinstance(core, RoundedRectangleCore):
        return core.corner_radius_m + coil.build_m / 2
    if isinstance(core, ObroundCore):
        return core.thickness_m / 2 + coil.build_m / 2
    return coil.core_perimeter_m / (2 * math.pi) + coil.build_m / 2


def _stretch(coil: Coil, seed: int) -> float:
    return drawn_strain(seed, coil.recipe.tension_n, coil.wire.bare_m, _bend_radius_m(coil))


def _parts_rpm(coil: Coil, machine: MachineProfile) -> float:
    """By what the person told of the tensioner; by feel the tension is what such wire is usually wound with."""
    told_kg = coil.recipe.surroundings.tensioner_kg
    told_kg = machine.tensioner_kg if told_kg is None else told_kg
    moving = moving_kg(machine.tensioner, told_kg, wire_kg_per_m(coil.wire).nominal)
    tension = coil.recipe.tension_n or tension_n(coil.wire.bare_m).nominal
    return parting_rpm(tension, coil.wire.bare_m, moving, max(_flats_m(coil), default=0.0) / 2)


@dataclass(frozen=True, slots=True)
class Spread:
    """How spool and wind are drawn: the middle of the packing, and 95 % limits as shares."""

    ohm_factors: tuple[float, float]  # down and up
    packing: float = PACKING
    packing_share: float = PACKING_SHARE
    habit_share: float = HABIT_SHARE
    packing_by_ohm: float = 0.0


def spread_of(coil: Coil) -> Spread:
    """By the simulator's own ranges; where something was measured, by what that leaves open of them.

    Else the simulated spool would contradict the readings of the real one. What was learnt of ohms and packing
    together (an earlier coil: more of one means less of the other) ties the two draws.
    """
    knowledge, table = coil.knowledge, coil.wound.wire.ohm_per_m
    by_table = (table.low / table.nominal, table.high / table.nominal)
    if knowledge is None or not knowledge.observations:
        return Spread(by_table)
    (ohms, both), (_, areas) = knowledge.two_by_two
    left = areas - both * both / ohms  # of the packing once the ohms are drawn
    left_ohm = math.exp(WITHIN_95 * math.sqrt(ohms))
    area_m2 = coil.area_per_turn_m2.nominal
    return Spread(
        ohm_factors=(max(by_table[0], 1 / left_ohm), min(by_table[1], left_ohm)),
        packing=math.pi / 4 * coil.wire.overall_m**2 / area_m2,
        packing_share=min(
            math.hypot(PACKING_SHARE, HABIT_SHARE),
            math.expm1(WITHIN_95 * math.sqrt(max(left, 0.0))),
        ),
        habit_share=0.0,
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
        tensioner=FELT,
    )
