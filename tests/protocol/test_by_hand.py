"""The machine looked at with a person's hands: a good one passes, each wrong sensor, guard or wire is named."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import pytest
from board_link import BoardLink, VirtualClock
from reference_board import COUNTER_BOARD, FULL_BOARD, CarefulBody, ReferenceBoard

from firmware_protocol.body import Order
from firmware_protocol.conformance.by_hand import TURNS, Deed, look_at_machine
from firmware_protocol.conformance.clauses import Outcome
from firmware_protocol.framing import FrameReader
from firmware_protocol.messages import Has, Move, Start, State, TraverseStep, Trip
from firmware_protocol.wire import LAYOUT_OF

TOKEN = 0x1A2B3C4D
COUNTS = 4  # a turn
MS_A_COUNT = 200
SENSING = replace(FULL_BOARD, has=FULL_BOARD.has | Has.DIRECTION_SENSE)
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
    skips: tuple[Deed, ...] = ()
    asked: list[Deed] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.board = ReferenceBoard(self.identity)
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
        if deed in (Deed.OPEN_GUARD, Deed.SHUT_GUARD):
            seen.guard_open = deed is Deed.OPEN_GUARD
        elif deed in (Deed.TAKE_WIRE, Deed.PUT_WIRE):
            seen.wire_present = deed is Deed.PUT_WIRE
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
    assert not kinds & {LAYOUT_OF[each].kind for each in (Start, Move, TraverseStep)}
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
        (Machine(), set()),
        (Machine(FULL_BOARD, **ONE_CHANNEL), {"direction"}),
        (Machine(HAND_COUNTER), {"guard", "wire"}),
        (Machine(COUNTER_BOARD, UP, UP), {"direction", "guard", "wire"}),
        (Machine(SENSING, DOWN, UP), set()),
        (Machine(HAND_COUNTER, edges=(TURNS, TURNS)), {"guard", "wire"}),
    ],
    ids=["two channels", "one channel", "hand, two", "hand, one", "the other way", "one a turn"],
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
