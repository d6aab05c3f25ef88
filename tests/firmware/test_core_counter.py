"""The core built without a motor: docs/protocol/counting.md on this computer."""

from __future__ import annotations

import ctypes
from dataclasses import replace

import pytest
from host.core import Core, needs_compiler
from host.scripted import CFacts

from firmware_protocol.framing import FrameReader, encode_message
from firmware_protocol.messages import (
    NO_LEG,
    Answer,
    ClearTrip,
    CloseWind,
    Cut,
    Hello,
    Kept,
    Move,
    OpenWind,
    PlanBegin,
    SetTarget,
    SettleNumber,
    State,
    Status,
    Stop,
    Verdict,
    Welcome,
)
from firmware_protocol.settings import Settings, write_of
from firmware_protocol.vocabulary import Driver, Sensor
from firmware_protocol.wire import unpack

pytestmark = needs_compiler

TOKEN, WIND = 77, 9


class Counter:
    def __init__(self, direction_sense: bool = False) -> None:
        self.core = Core("libcounter.so")
        self.core.host.direction_sense = direction_sense
        self.sequence = 0
        self.reader = FrameReader()
        self.boot()

    def boot(self, by_watchdog: bool = False) -> None:
        self.core.boot(by_watchdog)
        self.sequence = 0
        self.welcome = next(m for m in self.say(Hello(1, TOKEN)) if isinstance(m, Welcome))

    def say(self, message, sequence: int = 0) -> list:
        self.core.receive(b"\0" + encode_message(message, sequence))
        return self.take()

    def take(self) -> list:
        frames = self.reader.feed(self.core.data_to_send())
        return [unpack(frame.kind, frame.payload) for frame in frames]

    def ask(self, command) -> Answer:
        self.sequence += 1
        return next(m for m in self.say(command, self.sequence) if isinstance(m, Answer))

    def status(self) -> Status:
        self.core.pass_ms(51)
        return [m for m in self.take() if isinstance(m, Status)][-1]

    def open(self) -> None:
        status = self.status()
        answer = self.ask(OpenWind(TOKEN, status.boot, status.revision, WIND))
        assert answer.verdict is Verdict.DONE

    def beliefs(self) -> tuple[int, int, int, int]:
        status = self.status()
        return TOKEN, status.boot, status.wind, status.revision

    def edges(self, number: int, gap_ms: int = 2, backward: bool = False) -> None:
        for _ in range(number):
            self.core.edge(backward)
            self.core.pass_ms(gap_ms)


def test_it_says_what_it_is():
    welcome = Counter().welcome
    assert welcome.groups == bytes((1, 0, 0, 0, 0, 1))
    assert (welcome.legs_max, welcome.rate_max_mcps, welcome.kept_flags) == (0, 0, 0)


def test_every_edge_of_an_open_wind_is_counted_and_no_other():
    counter = Counter()
    counter.edges(5)
    counter.open()
    counter.edges(1000)
    status = counter.status()
    assert (status.count, status.unattributed, status.wind) == (1000, 0, WIND)
    assert (status.state, status.leg, status.generation) == (State.STILL, NO_LEG, 0)
    assert counter.ask(CloseWind(*counter.beliefs())).verdict is Verdict.DONE
    counter.edges(7)
    assert counter.status().count == 1000


def test_a_sense_of_direction_counts_down_too():
    counter = Counter(direction_sense=True)
    counter.edges(4)
    counter.open()
    counter.edges(20)
    counter.edges(6, backward=True)
    status = counter.status()
    assert status.count == 14 and status.rate_mcps < 0


def test_the_rate_is_that_of_the_edges_and_ends_with_them():
    counter = Counter()
    counter.open()
    for gap_ms, rate_mcps in ((10, 100_000), (100, 10_000), (400, 2_500)):
        counter.edges(5, gap_ms)
        assert counter.status().rate_mcps == pytest.approx(rate_mcps, rel=0.02)
    counter.core.pass_ms(1100)
    assert counter.status().rate_mcps == 0


def test_a_second_of_rest_is_kept_and_the_next_edge_takes_it_back():
    counter = Counter()
    counter.open()
    counter.edges(25)
    counter.core.pass_ms(1200)
    counter.boot()
    welcome = counter.welcome
    assert (welcome.boot, welcome.kept_wind, welcome.kept_count) == (2, WIND, 25)
    assert welcome.kept_flags == Kept.VALID | Kept.AT_REST
    counter.edges(1)
    counter.core.pass_ms(20)
    counter.boot()
    assert counter.welcome.kept_flags == Kept.VALID


def test_it_stops_nothing_trips_nothing_and_moves_nothing():
    counter = Counter()
    answers = counter.say(Stop())
    assert answers[-1] == Answer(0x03, Verdict.DONE, counter.status().revision, 0)
    assert counter.say(Cut()) == [Answer(0x23, Verdict.UNSUPPORTED, counter.status().revision, 0)]
    beliefs = counter.beliefs()
    move = Move(*beliefs, 10, 1000, 1000)
    assert counter.ask(move).verdict is Verdict.UNSUPPORTED
    counter.sequence -= 1  # a kind that is not known uses up no number
    assert counter.ask(ClearTrip(*beliefs, 0)).verdict is Verdict.WRONG_STATE
    counter.boot(by_watchdog=True)
    assert counter.status().state is State.STILL
    assert counter.ask(SettleNumber(TOKEN)).verdict is Verdict.DONE


def test_a_stale_boot_is_refused():
    counter = Counter()
    status = counter.status()
    stale = OpenWind(TOKEN, status.boot + 1, status.revision, WIND)
    assert counter.ask(stale).verdict is Verdict.STALE
    assert counter.ask(replace(stale, boot=status.boot)).verdict is Verdict.DONE


def test_an_edge_that_was_looked_at_late_tells_no_speed_that_never_was():
    """Edges 266 ms apart, the first seen 5 ms late: the port's clock of 16 bits went round once in between."""
    counter = Counter()
    counter.open()
    counter.edges(1)
    counter.core.pass_ms(300)
    counter.core.edge()
    counter.core.host.clock += 5 * 250  # its ticks a millisecond
    counter.core.pass_ms(261)
    counter.core.edge()
    counter.core.pass_ms(60)
    assert 3000 < counter.status().rate_mcps < 4500


class CFactsSeen(ctypes.Structure):
    """Of body.h, where neither pedal nor stop switch is built in."""

    _fields_ = tuple(each for each in CFacts._fields_ if not each[0].endswith("_pressed"))


class CBoard(ctypes.Structure):
    """Of board.h, up to the target: what the port looks at to call out."""

    _fields_ = (
        ("facts", CFactsSeen),
        ("now_ms", ctypes.c_uint32),
        ("booted_ms", ctypes.c_uint32),
        ("wind", ctypes.c_uint32),
        ("target", ctypes.c_int32),
    )


def test_a_target_is_called_out_at_its_count_and_once():
    counter = Counter()
    board = CBoard.in_dll(counter.core.library, "board")
    counter.open()
    target = SetTarget(*counter.beliefs(), count=30, warn_before=0)
    assert counter.ask(target).verdict is Verdict.DONE
    counter.edges(29)
    assert (board.wind, board.facts.count, board.target) == (WIND, 29, 30)
    counter.edges(1)
    assert (board.facts.count, board.target) == (30, 0)
    counter.edges(5)
    assert (board.facts.count, board.target) == (35, 0)


def test_settings_of_a_driver_are_refused_where_there_is_no_motor():
    counter = Counter()
    ask = Settings(
        number=5, sensor=Sensor.ONE_PULSE, driver=Driver.ENABLE_AND_DIRECTION, dead_ms=1,
        rate_max_mcps=1000, full_rate_mcps=1000, full_accel_mcps2=1000, cut_ms=1, rest_ms=2,
    )  # fmt: skip
    before = bytes(counter.core.host.nv)
    status = counter.status()
    answer = counter.ask(write_of(ask, TOKEN, status.boot, status.revision))
    assert (answer.verdict, answer.detail) == (Verdict.BAD_VALUE, 8)
    assert bytes(counter.core.host.nv) == before
    assert counter.welcome.groups == bytes((1, 0, 0, 0, 0, 1))


def test_a_port_that_claims_a_motor_by_mistake_moves_nothing():
    """Its identity says MOTOR and LEGS, its core has neither: commands are refused, and a cut finds nothing to cut."""
    counter = Counter()
    counter.open()
    counter.edges(12)
    counter.core.identity.groups[1] = counter.core.identity.groups[2] = 1
    counter.core.identity.groups[3] = 1
    counter.core.identity.legs_max = 8
    cut = counter.say(Cut())[-1]
    assert (cut.to, cut.verdict) == (0x23, Verdict.DONE)
    for command in (
        Move(*counter.beliefs(), 10, 1000, 1000),
        PlanBegin(*counter.beliefs(), generation=1, legs=1),
    ):
        assert counter.ask(command).verdict is Verdict.WRONG_STATE
    status = counter.status()
    assert (status.state, status.count, counter.core.host.duty_permille) == (State.STILL, 12, 0)
