"""The machine looked at with a person's hands: a good one passes, each wrong sensor, guard or wire is named."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import pytest
from board_link import BoardLink, VirtualClock
from reference_board import COUNTER_BOARD, FULL_BOARD, PEDAL_BOARD, CarefulBody, ReferenceBoard

from firmware_protocol.body import Order
from firmware_protocol.conformance.by_hand import TURNS, Deed, look_at_machine
from firmware_protocol.conformance.clauses import Outcome
from firmware_protocol.framing import FrameReader, encode_frame
from firmware_protocol.messages import Has, Move, Start, State, TraverseStep, Trip
from firmware_protocol.pedal import ArmPedal, PedalStatus
from firmware_protocol.wire import LAYOUT_OF

TOKEN = 0x1A2B3C4D
COUNTS = 4  # a turn
MS_A_COUNT = 200
SENSING = replace(FULL_BOARD, has=FULL_BOARD.has | Has.DIRECTION_SENSE)
BY_FOOT = replace(PEDAL_BOARD, has=PEDAL_BOARD.has | Has.DIRECTION_SENSE)
SWITCHED: dict[Deed, tuple[str, bool]] = {  # which contact each deed moves, and where to
    Deed.OPEN_GUARD: ("guard_open", True),
    Deed.SHUT_GUARD: ("guard_open", False),
    Deed.TAKE_WIRE: ("wire_present", False),
    Deed.PUT_WIRE: ("wire_present", True),
    Deed.PRESS_PEDAL: ("pedal_pressed", True),
    Deed.LIFT_PEDAL: ("pedal_pressed", False),
    Deed.PRESS_STOP: ("stop_pressed", True),
    Deed.PULL_STOP: ("stop_pressed", False),
}
NO_FOOT = {"pedal", "stop"}
HAND_COUNTER = replace(COUNTER_BOARD, has=int(Has.DIRECTION_SENSE))

Step = Callable[[CarefulBody], None]


def count(by: int) -> Step:
    def step(body: CarefulBody) -> None:
        body.seen.count += by

    return step


UP, DOWN = count(1), count(-1)


def unattributed(body: CarefulBody) -> None:
    body.seen.unattributed += 1


def implausible(body: CarefulBody) -> None:
    body.seen.implausible += 1


def nothing(body: CarefulBody) -> None:
    """An edge that no channel sees."""


@dataclass
class Machine:
    """A reference board whose spindle a person turns: what each edge of the two stretches does to its count."""

    identity: object = SENSING
    there: Step = UP
    back: Step = DOWN
    edges: tuple[int, int] = (TURNS * COUNTS, TURNS * COUNTS)
    beside: list[tuple[int, Step]] = field(default_factory=list)  # at ms from the look's begin
    deaf: tuple[Deed, ...] = ()  # what a broken wire hides from the board
    stuck: tuple[str, ...] = ()  # contacts that are closed from the beginning
    skips: tuple[Deed, ...] = ()
    asked: list[Deed] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.board = ReferenceBoard(self.identity)
        for contact in self.stuck:
            setattr(self.board.body.seen, contact, True)
        self.due: list[tuple[int, Step]] = []
        self.now_ms = 1000
        self.begun_ms: int | None = None

    # --- a person -------------------------------------------------------------------------

    def ready(self, deed: Deed) -> bool:
        self.asked.append(deed)
        return deed not in self.skips

    def act(self, deed: Deed) -> None:
        seen = self.board.body.seen
        if deed in self.deaf:
            return
        if deed in SWITCHED:
            setattr(seen, *SWITCHED[deed])
        else:
            first = deed is Deed.CLOCKWISE
            step, edges = (self.there, self.edges[0]) if first else (self.back, self.edges[1])
            self.due += [(self.now_ms + (n + 1) * MS_A_COUNT, step) for n in range(edges)]

    # --- a board at a link ----------------------------------------------------------------

    def receive(self, data: bytes, now_ms: int) -> None:
        self.board.receive(data, now_ms)

    def tick(self, now_ms: int) -> None:
        self.now_ms = now_ms
        if self.beside and self.board.device.board.wind:
            self.due += [(now_ms + ms, step) for ms, step in self.beside]
            self.beside = []
        while self.due and self.due[0][0] <= now_ms:
            self.due.pop(0)[1](self.board.body)
        self.board.tick(now_ms)

    def data_to_send(self) -> bytes:
        return self.board.data_to_send()


def looked(machine: Machine, *, hands: bool = True) -> dict[str, tuple[Outcome, str]]:
    clock = VirtualClock()
    link = BoardLink(machine, clock)
    seen = look_at_machine(link, clock, TOKEN, machine if hands else None)
    found = {one.look.name: (one.outcome, one.found) for one in seen}
    kinds = {frame.kind for frame in FrameReader().feed(bytes(link.written))}
    assert not kinds & {LAYOUT_OF[each].kind for each in (Start, Move, TraverseStep, ArmPedal)}
    drives = {drive.order for drive in machine.board.body.drives}
    assert not drives & {Order.WIND, Order.MOVE}, "something was driven"
    return found


def outcomes(found: dict[str, tuple[Outcome, str]]) -> dict[str, str]:
    return {name: outcome.value for name, (outcome, _) in found.items()}


def to_and_fro() -> Step:
    """The edges of one channel, while the other is silent."""
    ways: Iterator[Step] = iter([UP, DOWN] * TURNS * COUNTS)
    return lambda body: next(ways)(body)


ONE_CHANNEL = {"there": unattributed, "back": unattributed}


@pytest.mark.parametrize(
    ("machine", "untested"),
    [
        (Machine(), NO_FOOT),
        (Machine(FULL_BOARD, **ONE_CHANNEL), {"direction"} | NO_FOOT),
        (Machine(HAND_COUNTER), {"guard", "wire"} | NO_FOOT),
        (Machine(COUNTER_BOARD, UP, UP), {"direction", "guard", "wire"} | NO_FOOT),
        (Machine(SENSING, DOWN, UP), NO_FOOT),
        (Machine(HAND_COUNTER, edges=(TURNS, TURNS)), {"guard", "wire"} | NO_FOOT),
        (Machine(BY_FOOT), set()),
        (Machine(replace(BY_FOOT, has=BY_FOOT.has & ~Has.STOP_INPUT)), {"stop"}),
        (Machine(BY_FOOT, stuck=("pedal_pressed", "stop_pressed")), set()),
    ],
    ids=[
        *("two channels", "one channel", "hand, two", "hand, one", "the other way", "one a turn"),
        *("by foot", "by foot, no switch", "pressed as it is asked, and let go"),
    ],
)
def test_a_good_machine_passes(machine, untested):
    found = outcomes(looked(machine))
    assert {name for name, outcome in found.items() if outcome == "not tested"} == untested
    assert "failed" not in found.values()


def test_it_says_which_way_counts_up():
    assert looked(Machine())["direction"][1] == "clockwise counts up"
    other = looked(Machine(SENSING, DOWN, UP))["direction"][1]
    assert 'plus = "counter-clockwise"' in other


@pytest.mark.parametrize(
    ("machine", "fails", "said"),
    [
        (Machine(beside=[(2000, UP)]), "rest", "1 edges in 5 s"),
        (Machine(beside=[(500, UP), (600, DOWN)]), "rest", "2 edges in 5 s"),
        (Machine(FULL_BOARD, beside=[(900, unattributed)], **ONE_CHANNEL), "rest", "1 edges"),
        (Machine(beside=[(900, implausible)]), "rest", "1 edges"),
        (Machine(there=nothing), "sensor", "no edge came"),
        (Machine(there=to_and_fro()), "sensor", "to and fro"),
        (Machine(there=unattributed), "sensor", "jumped over"),
        (Machine(COUNTER_BOARD, UP, UP, (3, 3)), "sensor", "only 3 edges in 5 turns"),
        (Machine(back=UP), "direction", "do not tell the direction"),
        (Machine(edges=(20, 14)), "direction", "+20 and came back -14"),
        (Machine(COUNTER_BOARD, UP, UP, (20, 26)), "bounce", "gave 20 and 26 edges"),
        (Machine(COUNTER_BOARD, UP, implausible), "bounce", "20 edges came too soon"),
        (Machine(deaf=(Deed.OPEN_GUARD,)), "guard", "did not see it within 30 s: open the guard"),
        (Machine(deaf=(Deed.SHUT_GUARD,)), "guard", "shut the guard"),
        (Machine(deaf=(Deed.TAKE_WIRE,)), "wire", "take the wire out"),
        (Machine(deaf=(Deed.PUT_WIRE,)), "wire", "put the wire back"),
        (Machine(BY_FOOT, deaf=(Deed.PRESS_PEDAL,)), "pedal", "30 s: press the foot pedal"),
        (Machine(BY_FOOT, deaf=(Deed.LIFT_PEDAL,)), "pedal", "take your foot off the pedal"),
        (
            Machine(BY_FOOT, stuck=("pedal_pressed",), deaf=(Deed.LIFT_PEDAL,)),
            "pedal",
            "30 s: take your foot off the pedal",
        ),
        (Machine(BY_FOOT, deaf=(Deed.PRESS_STOP,)), "stop", "30 s: press the stop switch"),
        (Machine(BY_FOOT, deaf=(Deed.PULL_STOP,)), "stop", "pull the stop switch out again"),
    ],
)
def test_what_is_wrong_fails_by_its_name(machine, fails, said):
    found = looked(machine)
    assert found[fails][0] is Outcome.FAILED and said in found[fails][1]


def test_without_hands_only_the_rest_is_looked_at_and_nobody_is_asked():
    machine = Machine()
    found = outcomes(looked(machine, hands=False))
    assert found.pop("rest") == "passed" and set(found.values()) == {"not tested"}
    assert machine.asked == []


def test_a_stuck_pedal_is_asked_for_once_and_the_stop_switch_still_comes():
    stuck = Machine(BY_FOOT, stuck=("pedal_pressed",), deaf=(Deed.LIFT_PEDAL,))
    found = outcomes(looked(stuck))
    assert found["pedal"] == "failed" and found["stop"] == "passed"
    assert stuck.asked.count(Deed.LIFT_PEDAL) == 1 and Deed.PRESS_PEDAL not in stuck.asked


def test_a_board_that_tells_of_no_pedal_fails_it_by_the_clause():
    class TellsNothing(ReferenceBoard):
        def data_to_send(self) -> bytes:
            frames = FrameReader().feed(super().data_to_send())
            pedal = LAYOUT_OF[PedalStatus].kind
            told = (f for f in frames if f.kind != pedal)
            return b"".join(encode_frame(f.kind, f.sequence, f.payload) for f in told)

    machine = Machine(BY_FOOT)
    machine.board = TellsNothing(BY_FOOT)
    found = looked(machine)
    assert found["pedal"][0] is Outcome.FAILED and "(see 22.1)" in found["pedal"][1]
    assert found["stop"][0] is Outcome.PASSED


def test_what_is_left_out_is_not_tested_and_the_rest_goes_on():
    found = outcomes(looked(Machine(skips=(Deed.CLOCKWISE, Deed.TAKE_WIRE))))
    assert found["guard"] == "passed"
    assert {found[name] for name in ("sensor", "direction", "bounce", "wire")} == {"not tested"}


def test_a_trip_by_a_fast_hand_is_said_and_cleared():
    def trips(body: CarefulBody) -> None:
        body.seen.trip = Trip.TURNED_UNDRIVEN
        machine.due += [(machine.now_ms + 500, rests)]

    def rests(body: CarefulBody) -> None:
        body.seen.trip = Trip.NONE

    machine = Machine(there=trips, edges=(1, 20))
    found = looked(machine)
    assert found["sensor"][0] is Outcome.NOT_TESTED and "turn it more slowly" in found["sensor"][1]
    assert found["guard"][0] is Outcome.PASSED
    assert machine.board.device.board.state is State.STILL


def test_a_board_that_is_in_the_middle_of_something_is_left_alone():
    machine = Machine()
    machine.board.body.seen.trip = Trip.NOT_STOPPED
    found = outcomes(looked(machine))
    assert set(found.values()) == {"not tested"} and machine.asked == []
