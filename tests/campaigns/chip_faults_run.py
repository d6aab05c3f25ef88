"""One fault on one emulated machine: a wind, what happens to it, and a row that says how it ended.

Virtual time, the unmodified binary. A case says what the machine is, when the fault strikes and what has to come of
it; the run drives it and compares what the board told with what truly passed the sensor.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Any

from firmware_protocol.messages import OpenWind, PlanLeg, State, Trip
from tests.firmware.emulator.board import Bench, EmulatedBoard, bench, times_of
from tests.firmware.emulator.chip import RESET_POWER
from tests.firmware.emulator.loaders import large_loader, small_loader

from .chip_faults_claim import MOVING, claim
from .chip_faults_host import WIND, ChipHost, Refused, leg_of

RPM_MAX = 1500.0
PEAK, PEAK_ONE = 1.10, 1.20  # of the machine's highest speed; at one count a turn
WIND_S = 4.0  # at speed
END_S = 12.0  # after the fault, until something must have come of it
REST_S = 0.4  # so long nothing moved: it rests
SILENT_S = 5.0  # of a board that says nothing; then somebody switches it off and on
SENSOR_NAMES = {0: "counter", 1: "one pulse", 2: "two edges", 4: "four edges"}
LOADERS = {"small": small_loader, "large": large_loader}


Name = tuple[str, str, int, float]  # fault, sensor, counts a turn, rpm: no two rows have the same


class When(Enum):
    """When the fault strikes."""

    BEFORE = "before the start"
    RUNNING = "running"
    CUT = "at the cut"
    REST = "at rest"


class Must(Enum):
    """What has to come of it, besides a truth within what is claimed and a bounded speed."""

    TRIP = "trip"
    EXACT = "no trip, exact"
    HOLD = "hold"


@dataclass(frozen=True)
class Case:
    """One row to be made. ``act`` is done at the machine; ``sensor`` 1, 2 or 4, or 0: the counter-only board."""

    fault: str
    act: Callable[[Scene], None]
    when: When
    must: Must
    sensor: int
    counts_per_turn: int
    rpm: float
    unseeable: str = ""  # what to do about it, where no board could see it
    brake: bool = True
    turns: float = 0.0  # 0: as many as last WIND_S
    creep_rpm: float = 60.0
    accel_rpm_s: float = 600.0
    build: tuple[tuple[str, Any], ...] = ()  # changes of the machine's body
    settings: tuple[tuple[str, int], ...] = ()
    prepare: Callable[[Scene], None] | None = None  # before power-up is over
    loader: str = ""
    aftermath_s: float = END_S

    @property
    def name(self) -> Name:
        return self.fault, SENSOR_NAMES[self.sensor], self.counts_per_turn, self.rpm


@dataclass(frozen=True)
class Row:
    """How it ended. Speeds in rpm, turns and counts of the wind."""

    fault: str
    sensor: str
    counts_per_turn: int
    rpm: float
    tripped: bool
    cause: str
    after_s: float | None
    peak_rpm: float
    turns_past: float
    shown: int
    certainty: str
    low: int
    high: int
    true: int
    holds: bool
    why: str  # it does not hold; or what to do about what nobody could see

    @property
    def case(self) -> Name:
        return self.fault, self.sensor, self.counts_per_turn, self.rpm


class Scene:
    """The machine of one case, its host, and what a fault may do to it."""

    def __init__(self, case: Case) -> None:
        self.case = case
        machine = bench(
            case.counts_per_turn, case.sensor or 1, brake=case.brake, changes=dict(case.build)
        )
        self.board = self._board(machine, dict(case.settings))
        self.chip = self.board.chip
        self.chip.sensor.seed(len(case.fault) * 7919 + case.counts_per_turn)
        if case.loader:
            self.board.install(LOADERS[case.loader]())
        if case.prepare:
            case.prepare(self)
        self.host = ChipHost(self.board)
        self.acted_s = 0.0
        self.acted_turns = 0.0
        self.peak_cps = 0.0

    def _board(self, machine: Bench, settings: dict[str, int]) -> Any:
        port = "atmega328p"
        if not self.case.sensor:
            port = "smallest"
            settings |= times_of(math.ceil(RPM_MAX / 60 * self.case.counts_per_turn) * 1000)
        return EmulatedBoard(machine, port, **settings)

    @property
    def turns(self) -> float:
        return self.chip.place / self.case.counts_per_turn

    def act(self) -> None:
        self.peak_cps = max(self.peak_cps, self.chip.take_peak_cps())
        self.acted_s, self.acted_turns = self.host.now_s, self.turns
        self.case.act(self)

    def until_edge(self, share: float) -> None:
        """On to this share of the way from the newest count to the next."""
        chip, before = self.chip, self.chip.true_count
        while chip.true_count == before:
            chip.run_until(chip.now + 160)
        begun, before = chip.now, chip.true_count
        while chip.true_count == before:
            chip.run_until(chip.now + 160)
        chip.run_until(chip.now + round((chip.now - begun) * share))


def _wind(scene: Scene) -> None:
    """Up to speed, the fault in its moment, and on until it has ended or nothing more comes of it."""
    case, host = scene.case, scene.host
    turns = case.turns or max(case.rpm / 60 * (WIND_S + case.rpm / case.accel_rpm_s), 2)
    leg: PlanLeg = leg_of(
        case.counts_per_turn,
        turns,
        case.rpm,
        accel_rpm_s=case.accel_rpm_s,
        creep_rpm=case.creep_rpm,
    )
    host.open()
    host.load(leg)
    if case.when is When.BEFORE:
        scene.act()
    host.start()
    to_speed_s = (
        case.rpm / case.accel_rpm_s
        + 1.0
        + 60 / max(case.rpm, 15) / max(case.counts_per_turn / 4, 1)
    )
    if case.when is When.RUNNING:
        host.until(lambda: host.status.state not in MOVING, to_speed_s)
        scene.act()
    elif case.when in (When.CUT, When.REST):
        # The edge cuts the drive; the host learns of it a status later.
        host.until(lambda: host.status.state in MOVING and scene.chip.duty > 0, 3)
        host.until(lambda: scene.chip.duty == 0 and host.status.count >= leg.end_count - 1, 60)
        if case.when is When.REST:
            host.until(lambda: host.status.state not in MOVING, 10)
            host.live(1.0)
        scene.act()
    _aftermath(scene)


def _aftermath(scene: Scene) -> None:
    """Until it rests for good, or for as long as something may come of it."""
    host, chip = scene.host, scene.chip
    least_s = 3.0 if scene.case.when in (When.CUT, When.REST) else 1.0

    def over() -> bool:
        still = chip.speed_cps == 0 and (chip.now - chip.moved_at) / 16e6 > REST_S
        said = host.status.state not in MOVING and host.now_s - host.heard[-1].at_s < 0.5
        return still and said and host.now_s - scene.acted_s > least_s

    def silent() -> bool:
        return bool(host.heard) and host.now_s - host.heard[-1].at_s > SILENT_S

    host.until(lambda: over() or silent(), scene.case.aftermath_s)
    if silent():  # what a person does with a board that says nothing more
        chip.reset(RESET_POWER, held_s=0.5)
        host.until(over, scene.case.aftermath_s)
    host.live(0.2)


def _count(scene: Scene) -> None:
    """The counter-only board: a person's drill, at an even speed."""
    case, host = scene.case, scene.host
    host.open()
    host.do(OpenWind(0, 0, 0, WIND))
    if case.when is When.BEFORE:
        scene.act()
    cps = case.rpm / 60 * case.counts_per_turn
    scene.chip.force(cps, round(cps * WIND_S))
    host.live(1.0)
    if case.when is not When.BEFORE:
        scene.act()
    host.live(WIND_S + 0.5)
    scene.chip.let_go()
    host.live(0.5)


def _why(scene: Scene, row: Row, refused: str) -> str:
    """The first thing that does not hold; empty: all does."""
    case, chip = scene.case, scene.chip
    most = RPM_MAX * (PEAK_ONE if case.counts_per_turn == 1 else PEAK)
    moves = case.sensor and (chip.speed_cps != 0 or (chip.now - chip.moved_at) / 16e6 < 0.3)
    if refused:
        return refused
    if row.peak_rpm > most:
        return f"{row.peak_rpm:.0f} rpm is more than {most:.0f}"
    if moves and not row.tripped:
        return "still turns, no alarm"
    if moves and chip.push and not chip.contactor_open and row.cause != "NOT_STOPPED":
        return "still turns"
    if not row.low <= row.true <= row.high:
        return f"{row.true} is not within {row.low} to {row.high}"
    if case.must is Must.TRIP and not row.tripped:
        return "no trip"
    if case.must is Must.EXACT and row.tripped:
        return "tripped without a fault"
    if case.must is Must.EXACT and row.certainty != "exact":
        return "doubted without a fault"
    if case.must is Must.EXACT and case.when in (When.BEFORE, When.RUNNING) and case.sensor:
        return "" if scene.host.status.state == State.COMPLETE else "did not end"
    return ""


def run(case: Case, scene_of: type[Scene] = Scene) -> Row:
    """One row."""
    scene, refused = scene_of(case), ""
    try:
        _wind(scene) if case.sensor else _count(scene)
    except Refused as trouble:
        refused = str(trouble)
    host, chip = scene.host, scene.chip
    per_rpm = case.counts_per_turn / 60
    if host.heard:
        tripped = next((h for h in host.heard if h.status.trip and h.at_s >= scene.acted_s), None)
        last = host.status
    else:
        tripped, last = None, None
    rate_max_cps = RPM_MAX * (PEAK_ONE if case.counts_per_turn == 1 else PEAK) * per_rpm
    ours = any(h.status.wind == WIND for h in host.heard)
    one_channel = case.sensor in (0, 1)
    told = claim(host.heard, WIND, rate_max_cps, 3.0, one_channel=one_channel) if ours else None
    peak = max(scene.peak_cps, chip.take_peak_cps()) / per_rpm
    row = Row(
        fault=case.fault,
        sensor=SENSOR_NAMES[case.sensor],
        counts_per_turn=case.counts_per_turn,
        rpm=case.rpm,
        tripped=tripped is not None,
        cause=Trip(tripped.status.trip).name if tripped else "NONE",
        after_s=round(tripped.at_s - scene.acted_s, 2) if tripped else None,
        peak_rpm=round(peak, 1),
        turns_past=round(scene.turns - scene.acted_turns, 2),
        shown=last.count if last else 0,
        certainty=told.certainty if told else "none",
        low=told.low if told else 0,
        high=told.high if told else 0,
        true=chip.true_count,
        holds=False,
        why="",
    )
    why = _why(scene, row, refused)
    if why and case.unseeable:
        return dataclasses.replace(row, holds=True, why=f"unseeable: {case.unseeable}")
    return dataclasses.replace(row, holds=not why, why=why)
