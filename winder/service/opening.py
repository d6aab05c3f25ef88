"""From a recipe and a port to a wind that waits for its start.

Order matters: recipe and fit are judged before anything is opened; the board is greeted before the
plan is made, because its limits bound the plan; the run is in the logbook before the first command.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from firmware_protocol.connection import HostEnd
from firmware_protocol.messages import NO_WIND, Status, Welcome
from firmware_protocol.records import dataclass
from firmware_protocol.seam import Clock, Link
from winder.coil.lay import HeightProfile
from winder.coil.model import Coil
from winder.coil.window import widest_m
from winder.errors import UserMistake
from winder.machine.model import MachineProfile
from winder.plan.counting import plan_counted
from winder.plan.facing import Facing, face
from winder.plan.lane import hand_lane
from winder.plan.model import Plan
from winder.recipe.counted import CountOnly
from winder.service.going_on import Earlier, GoesOn, earlier_winds
from winder.service.greeting import Met, greet, number_of
from winder.service.journals import Journal, RunJournal
from winder.service.person import BenchPerson
from winder.service.planning import LEGS_USUAL, plan_wind
from winder.service.recovery import words_of_unfinished
from winder.service.setting_up import NOTHING_DECLARED as NOTHING_DECLARED
from winder.service.setting_up import Declared as Declared
from winder.service.setting_up import set_up_list, wanted
from winder.service.wind import Wind
from winder.shelf.logbook import Logbook
from winder.simulator.machine import BOARD_NAME as SIMULATED_BOARD
from winder.simulator.machine import SimulatedMachine
from winder.wind.account import Account
from winder.wind.board import stands
from winder.wind.deeds import Deed
from winder.wind.hearing import evidence
from winder.wind.laying import Laying
from winder.wind.loading import drives_traverse
from winder.wind.model import Asked, How, Intent
from winder.wind.session import WindSession, Wound
from winder.wind.truth import words
from winder.wind.viewing import Shown, Supply


@dataclass(frozen=True, slots=True)
class Numbers:
    """What must not repeat between winds, drawn once: session token and wind number."""

    token: int
    wind: int

    @classmethod
    def draw(cls) -> Numbers:
        import secrets  # nothing is drawn where a seed is given

        return cls(secrets.randbelow(0xFFFF_FFFF) + 1, secrets.randbelow(0xFFFF_FFFF) + 1)

    @classmethod
    def from_seed(cls, seed: int) -> Numbers:
        """The same numbers for the same seed: rehearsals repeat byte for byte."""
        mixed = (seed * 2_654_435_761 + 97) & 0xFFFF_FFFF
        return cls(mixed | 1, (mixed ^ 0x5BD1_E995) | 1)


@dataclass(frozen=True, slots=True)
class Station:
    """Where a wind takes place: a link, the clock it lives by, and the simulated body behind it, if there is one."""

    link: Link
    clock: Clock
    port: str
    seed: int | None = None
    simulated: SimulatedMachine | None = None
    keeps: Callable[[RunJournal], Journal] = (
        RunJournal.itself
    )  # how what is written gets to the disk


@dataclass(frozen=True, slots=True)
class Order:
    """What shall be wound, and how it is begun."""

    coil: Coil | CountOnly
    machine: MachineProfile
    goes_on: GoesOn | None = None  # a coil of the shelf that is not done; None: a new coil
    declared: Declared = NOTHING_DECLARED
    cautions_accepted: bool = False
    machine_named: bool = (
        True  # a person named this machine; else it is good for the simulated board only
    )
    close_unknown: bool = False  # a wind that this logbook does not know may be closed on the board
    early_turns: float = 0.0  # a hand drill ran on so far in its last winds
    supply: Supply | None = None  # of its spool, for the screen; None: nobody told of one
    command: str = ""  # as it was typed, without what names a coil; "": nobody typed one
    machine_words: tuple[str, ...] = ()  # which taught machine was found, and how it was told apart

    def next_words(self, coil_id: int) -> str:
        """What to type to go on with this coil."""
        return f"{self.command} --continue {coil_id}" if self.command else ""


class UnknownWind(UserMistake):
    """The board has a wind open that this logbook does not know: only a person may have it closed."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A wind that waits, with what it was made of."""

    wind: Wind
    coil: Coil | CountOnly
    plan: Plan
    welcome: Welcome
    coil_id: int
    run_id: int
    simulated: SimulatedMachine | None
    told: tuple[str, ...]  # winds without an end on record, and what is known of them
    facing: Facing | None  # which way round the bobbin was declared to be mounted


def open_wind(at: Station, order: Order, logbook: Logbook, numbers: Numbers) -> Opened:
    """Greet the board, plan within its limits, enter the run, and hand back the waiting wind. Closes the link if it raises."""
    host_end = HostEnd(numbers.token)
    try:
        met = greet(at.link, at.clock, host_end, at.port)
        if not order.machine_named:
            _refuse_stranger(met.welcome, at.port)
        earlier = None
        if order.goes_on is not None:
            _refuse_a_moving_count(order.goes_on, met.status)
            earlier = earlier_winds(logbook, order.goes_on, wanted(order.coil), order.machine)
        number = None
        if earlier is not None and earlier.board_number is not None:
            number = number_of(at.link, at.clock, host_end, met.welcome, at.port)
            _look_at_board(earlier, number, order, at.port)
        wind = _wind_number(met, earlier, numbers)
        account, deeds = _account(order, earlier, met)
        if met.status.wind not in (NO_WIND, wind):
            _look_at_stranger(met.status, at.port, logbook, order)
        wound, coil, facing = _wound(at, order, met.welcome, earlier, account, wind)
        session = WindSession(replace(wound, deeds=deeds, board_number=number))
        coil_id, run_id = _enter_run(at, order, logbook, earlier, coil, wound)
        session.ending.next_words = order.next_words(coil_id)
    except BaseException:
        at.link.close()
        raise
    told = tuple(words_of_unfinished(logbook, coil_id))
    _begin(session, order, met.welcome, at.clock.now_ns(), told)
    person = BenchPerson(at.simulated) if at.simulated else None
    running = Wind(
        at.link, at.clock, host_end, session, at.keeps(RunJournal(logbook, run_id)), person
    )
    return Opened(
        running, coil, wound.plan, met.welcome, coil_id, run_id, at.simulated, told, facing
    )


def _wind_number(met: Met, earlier: Earlier | None, numbers: Numbers) -> int:
    """A wind of this coil that is still open on the board goes on as that wind; else a new number is drawn."""
    if earlier is not None:
        entry = earlier.account.entry(met.status.wind)
        same = entry is not None and not entry.final and entry is earlier.account.newest
        same = same and entry is not None and entry.boot == met.welcome.boot
        if same and entry is not None and entry.may_follow(met.status.uptime_ms):
            return entry.wind
    return numbers.wind


def _refuse_a_moving_count(wish: GoesOn, status: Status) -> None:
    """Turns were counted before this; a spindle that turns now is somewhere else already."""
    if wish.turns is not None and not (stands(status) and status.rate_mcps == 0):
        raise UserMistake(
            "the spindle is turning, so the number you counted no longer holds",
            where="--turns",
            remedy="stop it, count the turns on the coil, and try again",
        )


def _account(order: Order, earlier: Earlier | None, met: Met) -> tuple[Account, tuple[Deed, ...]]:
    """The coil's account, and what was said of it just now, by the person and by the board."""
    if earlier is None:
        return Account(order.machine.counts_per_turn), ()
    deeds = (*earlier.deeds, *evidence(earlier.account, met.welcome, met.status))
    account = earlier.account.take_all(deeds)
    truth = account.truth(met.status.wind)
    if order.declared.by and not truth.is_sharp:
        raise UserMistake(
            f"the count of this coil is in doubt: {words(truth, account.per_turn)}",
            where="--continue",
            remedy="count the turns on it and add --turns N",
        )
    return earlier.account, deeds


def _look_at_board(earlier: Earlier, number: int, order: Order, port: str) -> None:
    """Boards with equal settings look alike, and another board may be another machine, with another coil on it."""
    counted = order.goes_on is not None and order.goes_on.turns is not None
    if number != earlier.board_number and not counted:
        raise UserMistake(
            f"this is another board, number {number:08x}; number {earlier.board_number:08x} counted this coil",
            where=port,
            remedy="plug that one in, or count the turns on the coil here and add --turns N",
        )


def _look_at_stranger(status: Status, port: str, logbook: Logbook, order: Order) -> None:
    """Another wind is open: one of this logbook's gets its last word before it is closed, another only a person closes."""
    if logbook.coil_of_wind(status.wind) is None and not order.close_unknown:
        raise UnknownWind(
            f"the board has a wind open that this logbook does not know, at a count of {status.count}",
            where=port,
            remedy="write the count down if it matters, then add --close-unknown",
        )


def _wound(
    at: Station,
    order: Order,
    welcome: Welcome,
    earlier: Earlier | None,
    account: Account,
    wind: int,
) -> tuple[Wound, Coil | CountOnly, Facing | None]:
    """The plan within the board's limits and all that the session is made of."""
    machine, top, job = order.machine, order.declared.top, order.coil
    facing = None
    if top is not None:
        facing = face(wanted(job).direction, top, plus_clockwise=machine.plus_clockwise)
    first_turn = 0
    if earlier is not None:
        account = account.take_all(earlier.deeds)
        on_it = account.truth(wind).best // machine.counts_per_turn
        first_turn = min(on_it, job.turns - 1)  # with more there is only to take off
    if isinstance(job, CountOnly):
        return _counted(order, job, welcome, earlier, wind, first_turn, facing), job, facing
    coil, plan, estimate = plan_wind(
        job,
        machine,
        welcome,
        earlier=earlier,
        facing=facing,
        first_turn=first_turn,
        seed=at.seed,
    )
    window_mm = (
        widest_m(coil.recipe) * 1e3,
        coil.recipe.height_m * 1e3,
        coil.build_m * 1e3,
    )
    shown = Shown(
        coil.recipe.name,
        coil.recipe.direction.value,
        coil.layers,
        estimate.resistance,
        window_mm,
        order.early_turns,
        order.supply,
    )
    wound = Wound(
        plan,
        machine,
        wind,
        earlier.account if earlier else Account(machine.counts_per_turn),
        shown,
        todo=set_up_list(job, machine, order.declared, plan, goes_on=earlier is not None),
        estimate=estimate,
        laying=_laying(coil, plan, machine),
        laid=earlier.laid if earlier else (),
        settings_hash=earlier.settings_hash if earlier else None,
        cautions_accepted=order.cautions_accepted,
    )
    return wound, coil, facing


def _counted(
    order: Order,
    job: CountOnly,
    welcome: Welcome,
    earlier: Earlier | None,
    wind: int,
    first_turn: int,
    facing: Facing | None,
) -> Wound:
    """The same for a coil without wire and bobbin: nothing is drawn, figured or led."""
    plan = plan_counted(
        job,
        order.machine,
        legs_max=welcome.legs_max or LEGS_USUAL,
        edge_rate_max_cps=welcome.edge_rate_max_cps or None,
        first_turn=first_turn,
        facing=facing,
    )
    return Wound(
        plan,
        order.machine,
        wind,
        earlier.account if earlier else Account(order.machine.counts_per_turn),
        Shown(job.name, job.direction.value, 0.0, early_turns=order.early_turns),
        todo=set_up_list(job, order.machine, order.declared, plan, goes_on=earlier is not None),
        settings_hash=earlier.settings_hash if earlier else None,
        cautions_accepted=order.cautions_accepted,
    )


def _enter_run(
    at: Station,
    order: Order,
    logbook: Logbook,
    earlier: Earlier | None,
    coil: Coil | CountOnly,
    wound: Wound,
) -> tuple[int, int]:
    """The coil's and the run's numbers; in the logbook before the first command is sent."""
    if earlier is not None:
        coil_id = earlier.coil_id
        logbook.close_stale_runs(coil_id)
    elif isinstance(coil, CountOnly):
        coil_id = logbook.begin_counted(coil)
    else:
        coil_id = logbook.begin_coil(coil.recipe, coil, wound.plan)
    run_id = logbook.begin_run(
        coil_id,
        wind=wound.wind,
        plan=wound.plan,
        machine=order.machine,
        port=at.port,
        simulated_seed=at.seed,
        next_words=order.next_words(coil_id),
    )
    return coil_id, run_id


def _begin(
    session: WindSession, order: Order, welcome: Welcome, now_ns: int, told: Sequence[str]
) -> None:
    session.hear(welcome, now_ns)
    if order.declared.by:
        session.ask(Asked(Intent.DECLARE_SET_UP, by=order.declared.by), now_ns)
    for sentence in (*told, *order.machine_words):
        session.ask(Asked(Intent.NOTE, sentence, by="logbook"), now_ns)


def _refuse_stranger(welcome: Welcome, port: str) -> None:
    """What counts a turn nobody may guess: without a machine file only the simulated board is known."""
    if welcome.board != SIMULATED_BOARD:
        raise UserMistake(
            f"the board calls itself '{welcome.board[:40]}', and there is no machine file for it",
            where=port,
            remedy="write one with 'winder bench new bench.toml' and name it with --machine bench.toml",
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
    ohm, at_c = session.readings.measured or (None, None)
    how = session.ending.how or How.LOST
    logbook.end_run(opened.run_id, how, measured_ohm=ohm, measured_at_c=at_c)
