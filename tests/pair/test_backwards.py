"""Asked backwards: every single swap of every good pair is among those told, and its cure restores the pair.

The taps are checked against voltages summed over turns (``faraday``): steel pulled off a pole is a string
that moves away.
"""

from __future__ import annotations

import itertools

import pytest
from faraday import PLACES, across, signal_v

from winder.pair.backwards import (
    Cure,
    Heard,
    Pair,
    Proof,
    Swap,
    cured,
    explain,
    swapped,
    tapped_sign,
    taps,
)
from winder.pair.signs import Circuit, Join, Pole, joins, outcome


def good_pairs() -> list[Pair]:
    """Quiet and full side by side, quiet stacks; every direction, mounting, magnet and join."""
    every = [
        Pair(one, other, join, stacked)
        for one, other in itertools.product(PLACES, PLACES)
        for circuit in Circuit
        for join in joins(circuit)
        for stacked in (False, True)
        if not stacked or one.pole is other.pole
    ]
    return [
        pair
        for pair in every
        if pair.outcome.hum_cancels and (pair.stacked or pair.outcome.signals_add)
    ]


GOOD = good_pairs()


def test_there_are_as_many_good_pairs_as_the_truth_table_has():
    """A quarter of 512 side by side; of 256 stacks, half."""
    assert sum(not pair.stacked for pair in GOOD) == 128
    assert sum(pair.stacked for pair in GOOD) == 128
    assert all(pair.heard is Heard.QUIET_FULL for pair in GOOD)


@pytest.mark.parametrize("swap", Swap)
@pytest.mark.parametrize("coil", [0, 1])
def test_every_single_swap_is_told_and_its_cure_restores_the_pair(swap, coil):
    changed = 0
    for pair in GOOD:
        spoiled = swapped(pair, swap, coil)
        assert swapped(spoiled, swap, coil) == pair
        verdict = explain(spoiled.heard, stacked=pair.stacked)
        if spoiled.heard is Heard.QUIET_FULL:  # the one magnet of a stack may be either way
            assert pair.stacked and swap is Swap.MAGNET
            assert verdict.cure is Cure.NOTHING
            continue
        changed += 1
        assert swap in verdict.swaps
        assert verdict.outcome is not None
        assert verdict.outcome.hum_cancels is spoiled.outcome.hum_cancels
        for either in (0, 1):
            assert cured(spoiled, verdict.cure, either).heard is Heard.QUIET_FULL
    assert changed == (128 if swap is Swap.MAGNET else 256)


def test_what_is_told_is_what_was_swapped_and_nothing_else():
    for heard in Heard:
        for stacked in (False, True):
            verdict = explain(heard, stacked=stacked)
            for pair in GOOD:
                if pair.stacked is not stacked:
                    continue
                sounds = {swap for swap in Swap if swapped(pair, swap).heard is verdict.heard}
                if verdict.heard not in (Heard.QUIET_FULL, Heard.AS_ONE):
                    assert set(verdict.swaps) == sounds


def test_cures_are_those_of_the_bench():
    """Common practice, no source: swapped leads as the first cure; a turned magnet keeps the leads."""
    side = {heard: explain(heard, stacked=False) for heard in Heard}
    assert side[Heard.QUIET_THIN].swaps == (Swap.MAGNET,)
    assert side[Heard.QUIET_THIN].cure is Cure.TURN_MAGNET
    assert side[Heard.HUMS_THIN].swaps == (Swap.LEADS, Swap.WOUND, Swap.TURNED)
    assert side[Heard.HUMS_THIN].cure is Cure.SWAP_LEADS
    assert side[Heard.HUMS_FULL].swaps == (Swap.TURNED_WITH_MAGNET,)
    assert side[Heard.HUMS_FULL].two_swaps
    assert side[Heard.HUMS_FULL].cure is Cure.BOTH
    assert side[Heard.AS_ONE].cure is Cure.OHMMETER
    assert side[Heard.AS_ONE].proof is Proof.OHMS
    stack = explain(Heard.HUMS_FULL, stacked=True)
    assert stack.cure is Cure.SWAP_LEADS
    assert stack.proof is Proof.ONE_TAP_EACH


def kicks(pair: Pair) -> tuple[int, int]:
    """Signs of the meter's jump at the pair's output, steel pulled off each pole: voltages over turns."""
    found = []
    for tapped in (0, 1):
        v = [0.0, 0.0]
        v[tapped] = signal_v((pair.one, pair.other)[tapped])
        join = pair.join
        first = join.first.other if join.circuit is Circuit.SERIES else join.first
        found.append(1 if across(first, v[0]) + across(join.second, v[1]) > 0 else -1)
    return found[0], found[1]


def test_two_taps_and_a_compass_decide_everything():
    count = 0
    for one, other in itertools.product(PLACES, PLACES):
        for join in [*joins(Circuit.SERIES), *joins(Circuit.PARALLEL)]:
            pair = Pair(one, other, join, False)
            assert taps(*kicks(pair), one.pole, other.pole) == outcome(one, other, join)
            count += 1
    assert count == 512


@pytest.mark.parametrize("placed", PLACES, ids=str)
def test_one_tap_and_a_compass_give_the_hum_sign(placed):
    kick = 1 if signal_v(placed) > 0 else -1
    assert tapped_sign(kick, placed.pole) == placed.hum_sign
    assert tapped_sign(-kick, placed.pole) == -placed.hum_sign


def test_a_swap_of_leads_is_the_join_turned():
    pair = GOOD[0]
    assert swapped(pair, Swap.LEADS).join == Join(
        pair.join.circuit, pair.join.first, pair.join.second.other
    )
    assert {each.pole for each in (pair.one, pair.other)} <= set(Pole)
