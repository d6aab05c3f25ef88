"""The pair over a link that loses, doubles, delays and corrupts, driven by anything a person may do.

Time runs in milliseconds with the scripted body, so counts, coasting and repetitions are real here where
the exhaustive walk abstracts them. Whatever was done, a link that works again brings everything to rest
within a stated time and the host to the truth. The legs are long, so that nothing ends by itself before
the rules have had their chance; planted faults show that the rules bite.
"""

from __future__ import annotations

import pytest
from hypothesis import Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from pair import FULL_BOARD, QUIET_MS, SLOWING_MS, Pair, Quality, leg
from planted_faults import (
    DropsStops,
    ForgetsTheLease,
    ForgetsTheTrip,
    StartsByItself,
)

from firmware_protocol.body import Order
from firmware_protocol.connection import HostEnd, HostState
from firmware_protocol.device import DeviceEnd
from firmware_protocol.heard import Answered, Troubled
from firmware_protocol.messages import (
    LEASE_MS,
    ClearTrip,
    EndAction,
    Move,
    SettleNumber,
    Start,
    State,
    Trip,
    Verdict,
)
from firmware_protocol.wire import LAYOUT_OF, unpack

REST_MS = SLOWING_MS + QUIET_MS
QUALITIES = (
    Quality(),
    Quality(),
    Quality(lost=0.2, doubled=0.2, corrupt=0.1, delay_ms=30),
    Quality(doubled=0.8, delay_ms=60),
    Quality(lost=0.6, delay_ms=120),
    Quality(delay_ms=700),
    Quality(lost=1.0),
)
DELAY_MAX_MS = 700
LONG_LEGS = (leg(0, 20_000, EndAction.PAUSE), leg(1, 1_000_000, EndAction.COMPLETE))
DRIVING = (Order.WIND, Order.MOVE)
CLEAR_KIND = LAYOUT_OF[ClearTrip].kind


class PairMachine(RuleBasedStateMachine):
    device_class: type[DeviceEnd] = DeviceEnd
    host_class: type[HostEnd] = HostEnd

    @initialize(seed=st.integers(0, 2**32 - 1))
    def arm(self, seed: int) -> None:
        self.pair = Pair(seed, FULL_BOARD, 77, self.device_class, self.host_class)
        self.pair.arm(LONG_LEGS)
        self.asked: list = []
        self.first_report = len(self.pair.heard)
        self.silent_ms = 0  # since the operator's last sign of life
        self.count_before = 0
        self.tokens = 77
        self.begun: set = set()  # commands that moved: token, number, boot

    def run_ms(self, span_ms: int) -> None:
        for _ in range(span_ms):
            self.run_1_ms()

    def run_1_ms(self) -> None:
        pair = self.pair
        drives, state = len(pair.body.drives), pair.board.state
        pair.run(1)
        self.silent_ms = 0 if pair.operator_alive else self.silent_ms + 1
        new = [drive.order for drive in pair.body.drives[drives:]]
        if any(order in DRIVING for order in new):
            self.look_at_the_start(state)
        if state is State.TRIPPED and pair.board.state is not state:
            kind, _ = pair.device._last_content or (0, b"")
            assert kind == CLEAR_KIND, "a trip ended without its clearing"
        driven = pair.body.drive.order in DRIVING and not pair.body.seen.arrived
        assert not (driven and self.silent_ms > LEASE_MS + DELAY_MAX_MS)
        if driven and pair.body.drive.order is Order.WIND:
            assert pair.body.seen.count >= self.count_before
        self.count_before = pair.body.seen.count

    def look_at_the_start(self, state: State) -> None:
        """Nothing starts but under a live lease, by a command that a person gave, and once."""
        device = self.pair.device
        assert state is not State.TRIPPED
        assert device.lease_live
        kind, payload = device._last_content
        command = unpack(kind, payload)
        assert isinstance(command, Start | Move)
        assert command.boot == device.boot
        content = (command.token, device._last_sequence, device.boot)
        assert content not in self.begun, "a command moved twice"
        self.begun.add(content)

    @property
    def may_send(self) -> bool:
        return self.pair.host.state is HostState.OPEN

    def ask(self, command) -> None:
        self.asked.append(self.pair.host.send(command, self.pair.now_ns))

    @rule(span_ms=st.integers(1, 400))
    def time_passes(self, span_ms: int) -> None:
        self.run_ms(span_ms)

    @rule(up=st.sampled_from(QUALITIES), down=st.sampled_from(QUALITIES))
    def the_link_changes(self, up: Quality, down: Quality) -> None:
        self.pair.up.quality, self.pair.down.quality = up, down

    @precondition(lambda self: self.may_send)
    @rule(what=st.sampled_from(("start", "move", "read", "clear")))
    def a_person_asks(self, what: str) -> None:
        beliefs = self.pair.beliefs()
        if what == "start":
            self.ask(Start(**beliefs, generation=1))
        elif what == "move":
            self.ask(Move(**beliefs, counts=-60, rate_mcps=1000, accel_mcps2=1000))
        elif what == "clear":
            self.ask(ClearTrip(**beliefs, trip=self.pair.host.newest_status.trip))
        else:
            self.ask(SettleNumber(0))

    @precondition(lambda self: self.may_send and self.pair.host.newest_status is not None)
    @rule(span_ms=st.integers(50, 500))
    def a_person_starts_and_watches(self, span_ms: int) -> None:
        self.ask(Start(**self.pair.beliefs(), generation=1))
        self.run_ms(span_ms)

    @rule()
    def a_person_stops(self) -> None:
        self.pair.host.stop(self.pair.now_ns)

    @rule()
    def a_person_cuts(self) -> None:
        self.pair.host.cut(self.pair.now_ns)

    @precondition(lambda self: self.pair.board.in_motion)
    @rule(up=st.sampled_from(QUALITIES), span_ms=st.integers(1, 300), cut=st.booleans())
    def a_person_stops_what_moves(self, up: Quality, span_ms: int, cut: bool) -> None:
        self.pair.up.quality = up
        if cut:
            self.pair.host.cut(self.pair.now_ns)
        self.pair.host.stop(self.pair.now_ns)
        self.run_ms(span_ms)

    @rule()
    def the_operator_is_gone_for_long(self) -> None:
        alive, self.pair.operator_alive = self.pair.operator_alive, False
        self.run_ms(LEASE_MS + DELAY_MAX_MS + 100)
        self.pair.operator_alive = alive

    @rule(alive=st.booleans())
    def the_operator_comes_or_goes(self, alive: bool) -> None:
        self.pair.operator_alive = alive

    @rule(guard_open=st.booleans(), trip=st.sampled_from((Trip.NONE, Trip.NONE, Trip.OVERSPEED)))
    def the_body_changes(self, guard_open: bool, trip: Trip) -> None:
        self.pair.body.seen.guard_open = guard_open
        self.pair.body.seen.trip = trip

    @precondition(lambda self: self.pair.boot < 6)  # once at most: resets crowd out all else
    @rule(by_watchdog=st.booleans())
    def the_board_is_reset(self, by_watchdog: bool) -> None:
        self.pair.reset_board(by_watchdog)
        self.count_before = 0

    @precondition(lambda self: self.pair.host.state is HostState.LOST)
    @rule()
    def a_new_session_begins(self) -> None:
        pair = self.pair
        self.reports_are_whole()
        self.tokens += 1
        pair.host = self.host_class(self.tokens)
        pair.set_quality(Quality())
        self.run_ms(LEASE_MS + DELAY_MAX_MS)  # what was delayed arrives, and no lease lives on
        self.first_report = len(pair.heard)
        pair.open()
        self.asked = []
        if pair.board.state is State.STILL:
            pair.arm_opened(LONG_LEGS, wind=self.tokens)
            self.first_report = len(pair.heard)
            self.count_before = 0

    @invariant()
    def a_tripped_board_is_not_driven(self) -> None:
        if hasattr(self, "pair") and self.pair.board.state is State.TRIPPED:
            assert self.pair.body.drive.order in (Order.CUT, Order.OFF)

    def reports_are_whole(self) -> None:
        """Every command that was taken is reported once and truly."""
        self.pair.heard += self.pair.host.receive(b"", self.pair.now_ns)
        reports = [
            one
            for one in self.pair.heard[self.first_report :]
            if isinstance(one, Answered | Troubled) and one.command is not None
        ]
        told = [id(one.command) for one in reports]
        assert len(told) == len(set(told))
        pending = self.pair.host._queue or self.pair.host._out
        if not pending:
            assert set(told) == {id(command) for command in self.asked}

    def teardown(self) -> None:
        if not hasattr(self, "pair"):
            return
        pair = self.pair
        pair.set_quality(Quality())
        self.run_ms(800)  # what was delayed arrives
        if not pair.host.stopping:  # a stop that was asked for must not need asking again
            pair.host.stop(pair.now_ns)
        self.run_ms(2500 + REST_MS)
        assert pair.board.state not in (State.WINDING, State.SLOWING, State.SETTING_UP)
        assert pair.body.seen.at_rest and not pair.host.stopping
        seen = pair.host.newest_status
        assert (seen.state, seen.count) == (pair.board.state, pair.body.seen.count)
        assert not pair.host._queue
        self.reports_are_whole()


PairMachine.TestCase.settings = settings(max_examples=40, stateful_step_count=25, deadline=None)
test_whatever_is_done_the_pair_keeps_its_promises = PairMachine.TestCase


@pytest.mark.parametrize(
    "fault",
    [
        DropsStops,
        ForgetsTheLease,
        ForgetsTheTrip,
        StartsByItself,
    ],
)
def test_a_planted_fault_breaks_a_promise(fault: type) -> None:
    role = "device_class" if issubclass(fault, DeviceEnd) else "host_class"
    machine = type(fault.__name__, (PairMachine,), {role: fault})
    keen = settings(
        max_examples=200,
        stateful_step_count=25,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        report_multiple_bugs=False,
    )
    with pytest.raises(AssertionError):
        run_state_machine_as_test(machine, settings=keen)


def test_a_wind_over_a_bad_link_is_counted_to_the_end() -> None:
    """A whole wind, started and continued by a person who asks again when nothing happened."""
    for seed in range(6):
        pair = Pair(seed)
        pair.arm()
        pair.set_quality(Quality(lost=0.15, doubled=0.1, corrupt=0.1, delay_ms=20))
        for _ in range(200):
            status = pair.host.newest_status
            if status.state is State.COMPLETE:
                break
            idle = pair.host._out is None and not pair.host.stopping
            if idle and status.state in (State.ARMED, State.PAUSED):
                pair.host.send(Start(**pair.beliefs(), generation=1), pair.now_ns)
            pair.run(200)
        assert pair.host.newest_status.count == 1000 == pair.body.seen.count
        done = [a for a in pair.heard if isinstance(a, Answered) and isinstance(a.command, Start)]
        moved = sum(drive.order is Order.WIND for drive in pair.body.drives)
        assert sum(a.answer.verdict is Verdict.DONE for a in done) <= moved


def test_the_longest_motion_after_the_last_sign_of_life_is_a_second_and_the_slowing() -> None:
    pair = Pair()
    pair.arm()
    pair.body.seen.count = -100_000  # far from any end
    assert pair.ask(Start(**pair.beliefs(), generation=1)).verdict is Verdict.DONE
    pair.run(300)
    pair.operator_alive = False
    moved_ms = 0
    while not pair.body.seen.at_rest and moved_ms < 10 * LEASE_MS:
        pair.run(1)
        moved_ms += 1
    assert LEASE_MS - 200 <= moved_ms <= LEASE_MS + REST_MS + 1
    assert pair.board.state is State.PAUSED
    assert pair.body.kept().at_rest and pair.body.kept().count == pair.body.seen.count
