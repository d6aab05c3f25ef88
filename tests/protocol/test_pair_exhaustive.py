"""What the pair of ends can never reach, by looking at every state they can; and that the look is keen.

Bounds: each walk below is exhaustive within its budget (how many starts, stops, losses, resets ... on one
way), with at most three frames on their way to the board and two to the host, in order. Run with ``-s``
to see how many states that were.
"""

from __future__ import annotations

import dataclasses

import pytest
from foot_world import foot_world
from pair_walk import Walk, WalkHost, walk
from pair_world import Budget, armed_world, winding_world
from planted_faults import (
    BelievesTheFirstRest,
    DropsStops,
    DropsTheNumber,
    ExecutesAgain,
    ExecutesAgainWhatIsStale,
    ForgetsTheLease,
    ForgetsTheTrip,
    LeaseByAnyNumber,
    ResendsAfterStop,
    SaysDoneToEverything,
    ServesAnySession,
    StartsByItself,
    StartsWithoutLease,
    StopsOnce,
    TakesStale,
)
from wrong_pedals import ArmedBeyondTheLease, ArmedForEver, GoesAtArming, GoesOnByItself

from firmware_protocol.messages import State

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
    "a foot goes, comes off and goes": (foot_world, budget(arms=1, feet=3), 6_000),
    "a foot, and a stop on a link that loses": (
        foot_world,
        budget(arms=1, feet=1, stops=1, losses=1),
        14_000,
    ),
    "a foot on a link that doubles": (foot_world, budget(arms=1, feet=2, doubles=1), 16_000),
    "a foot and a trip": (foot_world, budget(arms=1, feet=2, causes=1, clears=1), 5_000),
    "a foot, and the board is reset": (foot_world, budget(arms=1, feet=1, board_resets=1), 5_000),
    "a foot, and the host is started anew": (
        foot_world,
        budget(arms=1, feet=1, host_resets=1),
        28_000,
    ),
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


class TakesRestForObeyed(WalkHost):
    """Looks at the state alone: a stop that was lost leaves an armed pedal behind."""

    def _hear_status(self, status, heard) -> None:
        super()._hear_status(status, heard)
        if self._stopping._rested:
            self._stopping.end()


PLANTED_AT_THE_PEDAL = {
    GoesAtArming: (budget(arms=1, feet=1), "nothing before it was seen released"),
    GoesOnByItself: (budget(arms=1, feet=2), "though the foot came off"),
    ArmedForEver: (budget(arms=1, stops=1), "turned the pedal on"),
    ArmedBeyondTheLease: (budget(arms=1, feet=1), "turned the pedal on"),
}


@pytest.mark.parametrize("fault", PLANTED_AT_THE_PEDAL)
def test_a_fault_planted_at_the_pedal_is_found(fault: type) -> None:
    allowance, told = PLANTED_AT_THE_PEDAL[fault]
    found = walk(device_class=fault, budget=allowance, states_max=60_000, root_of=foot_world)
    print(f"\n{fault.__name__}: {_story(found)}\n  after {found.text()}")
    assert found.wrong and told in found.wrong, found.text()


def test_a_host_that_forgets_an_armed_pedal_is_found() -> None:
    allowance = budget(arms=1, feet=1, stops=1, losses=1)
    found = walk(
        host_class=TakesRestForObeyed, budget=allowance, states_max=60_000, root_of=foot_world
    )
    print(f"\n{_story(found)}\n  after {found.text()}")
    assert "holds for settled" in found.wrong, found.text()


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
