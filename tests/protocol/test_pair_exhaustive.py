"""What the pair of ends can never reach, by looking at every state they can; and that the look is keen.

Bounds: each walk below is exhaustive within its budget (how many starts, stops, losses, resets ... on one
way), with at most three frames on their way to the board and two to the host, in order. Run with ``-s``
to see how many states that were.
"""

from __future__ import annotations

import dataclasses

import pytest
from pair_walk import Walk, WalkHost, walk
from pair_world import Budget, armed_world, winding_world

from firmware_protocol.device import DeviceEnd
from firmware_protocol.device_commands import Outcome
from firmware_protocol.framing import Frame
from firmware_protocol.host_command import Outstanding
from firmware_protocol.messages import Start, State, Status, Verdict

fields_of_outstanding = dataclasses.fields(Outstanding)
NOTHING = Budget(*(0 for _ in dataclasses.fields(Budget)))


def budget(**changes: int) -> Budget:
    return dataclasses.replace(NOTHING, **changes)


WALKS = {
    "the link loses": (armed_world, budget(starts=1, stops=1, losses=1), 8_000),
    "the link doubles": (armed_world, budget(starts=1, stops=1, doubles=1), 8_000),
    "a trip and a new start": (winding_world, budget(starts=1, causes=1, clears=1), 20_000),
    "the board is reset": (winding_world, budget(starts=1, stops=1, board_resets=1), 12_000),
    "the host is started anew": (armed_world, budget(starts=1, host_resets=1), 12_000),
    "a move at the bench": (armed_world, budget(moves=1, stops=1, doubles=1), 8_000),
    "another host": (armed_world, budget(stops=1, other_frames=3), 2_000),
}


@pytest.mark.parametrize("name", WALKS)
def test_no_reachable_state_is_wrong(name: str) -> None:
    root_of, allowance, states_least = WALKS[name]
    found = walk(budget=allowance, root_of=root_of)
    print(f"\n{name}: {found.text()}")
    assert not found.wrong, _story(found)
    assert found.exhausted
    # A walk that shrank has lost its reach, whatever it did not find.
    assert found.states >= states_least


def test_the_walks_reach_every_state_of_the_board() -> None:
    seen: set[State] = set()
    for root_of, allowance in (
        (winding_world, budget(causes=1)),
        (winding_world, budget(starts=1)),
        (armed_world, budget(moves=1, board_resets=1)),
    ):
        seen |= set(walk(budget=allowance, root_of=root_of).board_states)
    assert seen == set(State)


def _story(found: Walk) -> str:
    return "\n  ".join((found.wrong, *found.way))


# --- planted faults: each must be met -------------------------------------------------------------


class ForgetsTheLease(DeviceEnd):
    def _look(self, now_ms: int) -> None:
        self.board.look(now_ms, lease_live=True)


class StartsWithoutLease(DeviceEnd):
    def _judge(self, command) -> Outcome:
        alive_ms, self._alive_ms = self._alive_ms, self.board.now_ms
        outcome = super()._judge(command)
        self._alive_ms = alive_ms
        return outcome


class LeaseByAnyNumber(DeviceEnd):
    """A repeated sign of life renews the lease."""

    def _take_alive(self, alive) -> None:
        if self._is_open(alive.token):
            self._alive_ms = self.board.now_ms


class ExecutesAgain(DeviceEnd):
    def _take_numbered(self, frame: Frame, layout, command) -> None:
        self._last_sequence = (frame.sequence - 2) % 255 + 1
        self._last_content = None
        super()._take_numbered(frame, layout, command)


class ExecutesAgainWhatIsStale(ExecutesAgain):
    def _is_stale(self, command) -> bool:
        return False


class TakesStale(DeviceEnd):
    def _is_stale(self, command) -> bool:
        return False


class DropsStops(DeviceEnd):
    def _take(self, frame: Frame) -> None:
        if frame.kind != 0x03:
            super()._take(frame)


class ForgetsTheTrip(DeviceEnd):
    def _look(self, now_ms: int) -> None:
        super()._look(now_ms)
        if self.board.state is State.TRIPPED and self.board.facts.at_rest:
            self.board.clear_trip()


class StartsByItself(DeviceEnd):
    """Winds on when the sign of life comes back."""

    def _take_alive(self, alive) -> None:
        was_live = self.lease_live
        super()._take_alive(alive)
        if self.lease_live and not was_live and self.board.state is State.PAUSED:
            self.board.start()


class ServesAnySession(DeviceEnd):
    """A start of a host whose session is over is as good as any."""

    def _take_numbered(self, frame: Frame, layout, command) -> None:
        if isinstance(command, Start) and not self._is_open(command.token):
            self._answer(frame, self._judge(command))
        else:
            super()._take_numbered(frame, layout, command)


class SaysDoneToEverything(DeviceEnd):
    def _judge(self, command) -> Outcome:
        return dataclasses.replace(super()._judge(command), verdict=Verdict.DONE)


class Obstinate(Outstanding):
    """A command that goes on being sent after it was withdrawn."""

    __slots__ = ()

    def withdraw(self, now_ns: int) -> None:
        pass


class ResendsAfterStop(WalkHost):
    def _advance(self, now_ns: int) -> None:
        super()._advance(now_ns)
        if type(self._out) is Outstanding:
            self._out = Obstinate(*(getattr(self._out, f.name) for f in fields_of_outstanding))


class DropsTheNumber(WalkHost):
    """Forgets the command that a stop overtook, instead of settling its number."""

    def stop(self, now_ns: int) -> None:
        super().stop(now_ns)
        self._out = None


class BelievesTheFirstRest(WalkHost):
    def _settle_stop(self, status: Status) -> None:
        if status.state in (State.ARMED, State.PAUSED):
            self._stop_due_ns = None


class StopsOnce(WalkHost):
    def data_to_send(self, now_ns: int) -> bytes:
        if self._stop_sent and self.stopping:
            self._stop_due_ns = now_ns + 1_000_000_000_000
        return super().data_to_send(now_ns)


LINK = budget(starts=1, stops=1, losses=1, doubles=1)
PLANTED_IN_THE_BOARD = {
    ForgetsTheLease: (budget(starts=1), "without a live lease"),
    StartsWithoutLease: (budget(starts=1), "without a live lease"),
    LeaseByAnyNumber: (budget(starts=1, doubles=2), "without a live lease"),
    ExecutesAgain: (budget(starts=1, losses=1), "was answered"),
    ExecutesAgainWhatIsStale: (budget(starts=1, stops=1, doubles=1), "repeated command"),
    TakesStale: (budget(starts=2), "stale command"),
    DropsStops: (budget(starts=1, stops=1), "never brings the board to rest"),
    ForgetsTheTrip: (budget(starts=2, causes=1), "after a trip"),
    StartsByItself: (budget(starts=1, stops=1), "other than a start"),
    ServesAnySession: (budget(host_resets=1, other_frames=3), "session that is over"),
    SaysDoneToEverything: (budget(starts=1), "was answered"),
}
PLANTED_IN_THE_HOST = {
    ResendsAfterStop: (LINK, "holds for settled"),
    DropsTheNumber: (LINK, "holds for settled"),
    BelievesTheFirstRest: (LINK, "holds for settled"),
    StopsOnce: (LINK, "never brings the board to rest"),
}


@pytest.mark.parametrize("fault", PLANTED_IN_THE_BOARD)
def test_a_fault_planted_in_the_board_is_found(fault: type) -> None:
    allowance, told = PLANTED_IN_THE_BOARD[fault]
    found = walk(device_class=fault, budget=allowance, states_max=60_000)
    print(f"\n{fault.__name__}: {_story(found)}\n  after {found.text()}")
    assert found.wrong and told in found.wrong, found.text()


@pytest.mark.parametrize("fault", PLANTED_IN_THE_HOST)
def test_a_fault_planted_in_the_host_is_found(fault: type) -> None:
    allowance, told = PLANTED_IN_THE_HOST[fault]
    found = walk(host_class=fault, budget=allowance, states_max=60_000)
    print(f"\n{fault.__name__}: {_story(found)}\n  after {found.text()}")
    assert found.wrong and told in found.wrong, found.text()
