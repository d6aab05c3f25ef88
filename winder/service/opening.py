"""From a recipe and a port to a wind that waits for its start.

Order matters: recipe and fit are judged before anything is opened; the board is greeted before the
plan is made, because its limits bound the plan; the run is in the logbook before the first command.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from firmware_protocol.connection import HostEnd
from firmware_protocol.messages import Welcome
from firmware_protocol.seam import Clock, Link
from winder.clock import HurriedClock, SystemClock
from winder.coil.known import coil_of, with_readings
from winder.coil.lay import HeightProfile
from winder.coil.model import Coil
from winder.coil.window import widest_m
from winder.errors import Complaint, FileComplaints, UserMistake, WinderError
from winder.files.tomlfile import read_toml_text
from winder.links.names import PortChoice
from winder.links.serial_link import open_serial
from winder.links.simulated_link import HurriedLink, PacedLink
from winder.machine.model import MachineProfile
from winder.machine.reader import read_machine
from winder.plan.facing import Facing, Top, face
from winder.plan.lane import hand_lane
from winder.plan.model import Plan
from winder.recipe.observations import Observation
from winder.recipe.reader import read_recipe
from winder.service.bodies import simulated_bench, simulated_machine
from winder.service.estimating import LiveEstimate
from winder.service.going_on import EarlierWinds, Wish, earlier_winds
from winder.service.greeting import greet
from winder.service.person import BenchPerson
from winder.service.planning import plan_wind
from winder.service.recovery import tell_unfinished
from winder.service.wind import Wind
from winder.shelf.logbook import Logbook
from winder.simulator.faults import Fault, WireBreak
from winder.simulator.machine import BOARD_NAME as SIMULATED_BOARD
from winder.simulator.machine import SimulatedMachine
from winder.wind.laying import Laying
from winder.wind.loading import drives_traverse
from winder.wind.model import Asked, CountTruth, Intent
from winder.wind.session import WindSession
from winder.wind.setting_up import SetUp


@dataclass(frozen=True, slots=True)
class Numbers:
    """What must not repeat between winds, drawn once: session token and wind number."""

    token: int
    wind: int

    @classmethod
    def draw(cls) -> Numbers:
        return cls(secrets.randbelow(0xFFFF_FFFF) + 1, secrets.randbelow(0xFFFF_FFFF) + 1)

    @classmethod
    def from_seed(cls, seed: int) -> Numbers:
        """The same numbers for the same seed: rehearsals repeat byte for byte."""
        mixed = (seed * 2_654_435_761 + 97) & 0xFFFF_FFFF
        return cls(mixed | 1, (mixed ^ 0x5BD1_E995) | 1)


@dataclass(frozen=True, slots=True)
class Opened:
    """A wind that waits, with what it was made of."""

    wind: Wind
    coil: Coil
    plan: Plan
    welcome: Welcome
    coil_id: int
    run_id: int
    simulated: SimulatedMachine | None
    told: tuple[str, ...]  # earlier winds that did not end properly, and what is known of them
    facing: Facing | None  # which way round the bobbin was declared to be mounted


def read_coil(
    recipe_path: str | Path,
    readings: Sequence[Observation] = (),
    machine: MachineProfile | None = None,
) -> Coil:
    """The coil a recipe file gives on this machine, by its readings and by these, which become part of it.

    Raises ``UserMistake`` for whatever is wrong with it, also where a reading of its own cannot be, and
    ``WinderError`` where one of ``readings`` cannot.
    """
    recipe = read_recipe(Path(recipe_path))
    try:
        coil = coil_of(recipe, machine)
    except UserMistake:
        raise
    except WinderError as wrong:  # a reading, which stands in the file
        line = read_toml_text(recipe.text, str(recipe_path)).line_of(tuple(wrong.where.split(".")))
        complaint = Complaint(line, wrong.where, wrong.what, wrong.remedy)
        raise FileComplaints(str(recipe_path), [complaint]) from None
    return with_readings(coil, readings)


def read_profile(machine_path: str | None) -> MachineProfile:
    return simulated_bench() if machine_path is None else read_machine(Path(machine_path))


def connect(
    choice: PortChoice, machine: MachineProfile, coil: Coil, baud: int, seed: int | None
) -> tuple[Link, Clock, SimulatedMachine | None]:
    """The link of a port and the clock it lives by."""
    if not choice.simulated:
        return open_serial(choice.address, baud), SystemClock(), None
    body = simulated_machine(machine, coil, seed or 1, faults=_faults_of(choice, coil))
    if choice.pace > 1:
        hurried = HurriedClock(choice.pace)
        return HurriedLink(body, hurried), hurried, body
    clock = SystemClock(choice.pace)
    return PacedLink(body, clock), clock, body


def _faults_of(choice: PortChoice, coil: Coil) -> tuple[Fault, ...]:
    """What shall go wrong on the simulated bench."""
    if choice.break_turn is None:
        return ()
    if choice.break_turn >= coil.turns:
        raise UserMistake(
            f"the wire cannot break at turn {choice.break_turn:g}: the coil ends at {coil.turns}",
            where=choice.address,
            remedy="name a turn before the end",
        )
    return (WireBreak(choice.break_turn),)


def open_wind(
    link: Link,
    clock: Clock,
    coil: Coil,
    machine: MachineProfile,
    logbook: Logbook,
    *,
    port: str,
    numbers: Numbers,
    seed: int | None = None,
    simulated: SimulatedMachine | None = None,
    cautions_accepted: bool = False,
    goes_on: Wish | None = None,
    top: Top | None = None,
    ask_set_up: bool = False,
    declared_by: str = "",
    machine_named: bool = True,
) -> Opened:
    """Greet the board, plan within its limits, enter the run, and hand back the waiting wind.

    ``top`` says which way round the bobbin is mounted; it is recorded with what follows from it.
    ``ask_set_up``: the list at the machine is gone through before anything is armed, or taken as done on
    the word of ``declared_by``.
    ``goes_on`` names a coil of the shelf that is not done; without it a new coil is begun.
    ``machine_named``: a person named this machine; else it is only good for the simulated board.
    """
    host_end = HostEnd(numbers.token)
    facing = None if top is None else _facing(coil, machine, top)
    try:
        welcome = greet(link, clock, host_end, port)
        if not machine_named:
            _refuse_stranger(welcome, port)
        told = tuple(tell_unfinished(logbook, welcome))
        earlier = earlier_winds(logbook, goes_on, coil, machine) if goes_on is not None else None
        coil, plan, estimate = plan_wind(
            coil, machine, welcome, earlier=earlier, facing=facing, seed=seed
        )
        coil_id = earlier.coil_id if earlier else logbook.begin_coil(coil.recipe, coil, plan)
        run_id = logbook.begin_run(
            coil_id, wind=numbers.wind, plan=plan, machine=machine, port=port, simulated_seed=seed
        )
    except BaseException:
        link.close()
        raise
    set_up = None
    if ask_set_up or top is not None:
        set_up = _set_up(coil, plan, machine, top, declared_by, goes_on=earlier is not None)
    session = _session(coil, plan, machine, numbers, earlier, cautions_accepted, set_up, estimate)
    session.hear(welcome, clock.now_ns())
    if set_up is not None and (declared_by or not ask_set_up):
        declared = Asked(Intent.DECLARE_SET_UP, by=declared_by or "the caller")
        session.ask(declared, clock.now_ns())
    for sentence in told:
        session.ask(Asked(Intent.NOTE, text=sentence, by="logbook"), clock.now_ns())
    person = BenchPerson(simulated) if simulated else None
    journal = partial(logbook.write, run_id)
    wind = Wind(link, clock, host_end, session, journal, person)
    return Opened(wind, coil, plan, welcome, coil_id, run_id, simulated, told, facing)


def _facing(coil: Coil, machine: MachineProfile, top: Top) -> Facing:
    return face(coil.recipe.direction, top, plus_clockwise=machine.plus_clockwise)


def _refuse_stranger(welcome: Welcome, port: str) -> None:
    """What counts a turn nobody may guess: without a machine file only the simulated board is known."""
    if welcome.board != SIMULATED_BOARD:
        raise UserMistake(
            f"the board calls itself '{welcome.board[:40]}', and no machine file says how it counts and moves",
            where=port,
            remedy="write one with 'winder bench new bench.toml' and name it with --machine bench.toml",
        )


def _set_up(
    coil: Coil,
    plan: Plan,
    machine: MachineProfile,
    top: Top | None,
    declared_by: str,
    *,
    goes_on: bool,
) -> SetUp:
    return SetUp(
        coil.recipe.direction,
        guide=machine.motor and drives_traverse(plan),
        plus_clockwise=machine.plus_clockwise,
        top=top,
        top_by=declared_by or "operator",
        width_m=widest_m(coil.recipe),
        goes_on=goes_on,
    )


def _session(
    coil: Coil,
    plan: Plan,
    machine: MachineProfile,
    numbers: Numbers,
    earlier: EarlierWinds | None,
    cautions_accepted: bool,
    set_up: SetUp | None,
    estimate: LiveEstimate,
) -> WindSession:
    return WindSession(
        plan,
        machine,
        wind=numbers.wind,
        recipe_name=coil.recipe.name,
        direction=coil.recipe.direction.value,
        layers=coil.layers,
        resistance=estimate.resistance,
        estimate=estimate,
        cautions_accepted=cautions_accepted,
        earlier=earlier.truth if earlier else None,
        last_kept=earlier.last_kept if earlier else None,
        last_settings_hash=earlier.settings_hash if earlier else None,
        window_mm=(widest_m(coil.recipe) * 1e3, coil.recipe.height_m * 1e3, coil.build_m * 1e3),
        set_up=set_up,
        laying=_laying(coil, plan, machine),
    )


def _laying(coil: Coil, plan: Plan, machine: MachineProfile) -> Laying:
    """The picture of the wire; it starts level for what earlier winds laid."""
    width_m, margin_m = widest_m(coil.recipe), coil.recipe.margin_m
    mean_turn_m = (coil.core_perimeter_m + coil.outer_turn_m) / 2
    profile = HeightProfile(
        width_m,
        coil.wire.overall_m,
        coil.area_per_turn_m2.nominal,
        margin_m=margin_m,
        lag_turns=machine.free_length_m / mean_turn_m,
    )
    return Laying(
        profile,
        coil.recipe.height_m,
        (margin_m / width_m, 1 - margin_m / width_m),
        None if drives_traverse(plan) else hand_lane(coil),
        plan.counts_per_turn,
    )


def end_run(opened: Opened, logbook: Logbook) -> None:
    """Write how the run ended, once, after its last event."""
    session = opened.wind.session
    truth: CountTruth = session.truth
    ohm, at_c = session.measured or (None, None)
    logbook.end_run(
        opened.run_id,
        session.phase.value,
        truth,
        truth.low / opened.plan.counts_per_turn,
        measured_ohm=ohm,
        measured_at_c=at_c,
    )
