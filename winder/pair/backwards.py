"""Asked backwards: what a joined pair sounds like, what explains it, one cure, one test.

A pair that was meant to be quiet and full (side by side: hum cancels, signals add; stacked: hum cancels)
is spoiled by one thing swapped. Each swap is done in the model of ``signs``; those that come out as what is
heard explain it. Several may: then no electrical test tells them apart, and one cure serves all of them.
"""

from __future__ import annotations

import enum
from dataclasses import replace

from firmware_protocol.records import dataclass
from winder.pair.signs import Circuit, Join, Lead, Mounted, Outcome, Placed, Pole, outcome
from winder.recipe.model import Direction


class Heard(enum.Enum):
    """What a person hears, against one coil alone."""

    QUIET_FULL = "quiet and full"
    QUIET_THIN = "quiet but thin"
    HUMS_FULL = "hums and is loud"
    HUMS_THIN = "hums and is thin"
    AS_ONE = "like one coil alone"


class Swap(enum.Enum):
    """One thing that may be the wrong way."""

    LEADS = "the leads of one coil are swapped"
    WOUND = "one coil was wound the other way"
    TURNED = "one coil is turned over, its magnet as before"
    MAGNET = "the magnet of one coil is the other way round"
    TURNED_WITH_MAGNET = "one coil is turned over together with its magnet"


class Cure(enum.Enum):
    NOTHING = "nothing"
    SWAP_LEADS = "swap the leads of one coil"
    TURN_MAGNET = "turn one magnet round"
    BOTH = "turn one magnet round and swap the leads of that coil"
    OHMMETER = "measure each coil's ohms: one is open or shorted"


class Proof(enum.Enum):
    """One test that shows which class it is."""

    TWO_TAPS = "pull steel off each pole in turn, the meter on the joined pair, a compass beside it"
    COMPASS = "a compass at each pole"
    ONE_TAP_EACH = "pull steel off the upper pole, the meter on each coil alone"
    OHMS = "ohms of each coil alone and of the pair"


@dataclass(frozen=True, slots=True)
class Pair:
    """Two coils in their places and how they are joined."""

    one: Placed
    other: Placed
    join: Join
    stacked: bool  # on one magnet: the pole is one and the same

    @property
    def outcome(self) -> Outcome:
        return outcome(self.one, self.other, self.join)

    @property
    def heard(self) -> Heard:
        return heard_as(self.outcome, stacked=self.stacked)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is behind a sound: more than one swap where they cannot be told apart."""

    heard: Heard
    outcome: Outcome | None  # None: not of the joins; a coil is dead
    swaps: tuple[Swap, ...]  # each by itself explains it
    two_swaps: bool  # a pair of ordinary coils, leads and magnet both, explains it too
    cure: Cure
    proof: Proof


def heard_as(made: Outcome, *, stacked: bool) -> Heard:
    """What an outcome sounds like. The far coil of a stack only shades the sound."""
    if made.hum_cancels:
        return Heard.QUIET_FULL if made.signals_add or stacked else Heard.QUIET_THIN
    return Heard.HUMS_FULL if made.signals_add or stacked else Heard.HUMS_THIN


def swapped(pair: Pair, swap: Swap, coil: int = 1) -> Pair:
    """The pair with one thing of one coil the other way; a stack's one magnet turns for both."""
    if swap is Swap.LEADS:
        return replace(pair, join=pair.join.turned)
    placed = (pair.one, pair.other)[coil]
    if swap is Swap.WOUND:
        placed = replace(placed, direction=_other_direction(placed.direction))
    if swap in (Swap.TURNED, Swap.TURNED_WITH_MAGNET):
        placed = replace(placed, mounted=_other_mounted(placed.mounted))
    if swap in (Swap.MAGNET, Swap.TURNED_WITH_MAGNET):
        placed = replace(placed, pole=_other_pole(placed.pole))
    one, other = (placed, pair.other) if coil == 0 else (pair.one, placed)
    if pair.stacked:  # one pole at the string, whichever coil it was turned with
        one, other = replace(one, pole=placed.pole), replace(other, pole=placed.pole)
    return Pair(one, other, pair.join, pair.stacked)


def cured(pair: Pair, cure: Cure, coil: int = 1) -> Pair:
    """The pair after the cure, done to either coil."""
    if cure in (Cure.TURN_MAGNET, Cure.BOTH):
        pair = swapped(pair, Swap.MAGNET, coil)
    if cure in (Cure.SWAP_LEADS, Cure.BOTH):
        pair = swapped(pair, Swap.LEADS, coil)
    return pair


def explain(heard: Heard, *, stacked: bool) -> Verdict:
    """What may be the matter with a pair that sounds like this, and what cures it."""
    if heard is Heard.AS_ONE:
        return Verdict(heard, None, (), False, Cure.OHMMETER, Proof.OHMS)
    if stacked and heard in (Heard.QUIET_THIN, Heard.HUMS_THIN):
        # The far coil cannot thin the sound; what hums is told by its hum alone.
        heard = Heard.QUIET_FULL if heard is Heard.QUIET_THIN else Heard.HUMS_FULL
    good = _good(stacked)
    if heard is Heard.QUIET_FULL:
        return Verdict(heard, good.outcome, (), False, Cure.NOTHING, _proof(heard, stacked))
    found = tuple(swap for swap in Swap if swapped(good, swap).heard is heard)
    cure = next(
        each
        for each in (Cure.SWAP_LEADS, Cure.TURN_MAGNET, Cure.BOTH)
        if all(cured(swapped(good, swap), each).heard is Heard.QUIET_FULL for swap in found)
    )
    spoiled = swapped(good, found[0])
    two = heard is Heard.HUMS_FULL and not stacked
    return Verdict(heard, spoiled.outcome, found, two, cure, _proof(heard, stacked))


def taps(kick: int, other_kick: int, pole: Pole, other_pole: Pole) -> Outcome:
    """A joined pair by two taps and a compass, nothing of its winding known.

    ``kick``: +1 if the meter's reading jumped up when steel was pulled off that pole, -1 if down; the meter
    stays on the pair's output the same way round.
    """
    poles_alike = pole is other_pole
    return Outcome(
        hum_cancels=(kick == other_kick) is not poles_alike, signals_add=kick == other_kick
    )


def tapped_sign(kick: int, pole: Pole) -> int:
    """The hum sign h of one coil from its tap (red at the finish) and its pole: h = s x m."""
    return kick if pole is Pole.NORTH else -kick


def tapped_direction(kick: int, pole: Pole, mounted: Mounted) -> Direction:
    """From start to finish, seen from the top, by a tap with red at the finish: d = h f."""
    sign = tapped_sign(kick, pole) * (1 if mounted is Mounted.TOP_TO_STRING else -1)
    return Direction.COUNTER_CLOCKWISE if sign > 0 else Direction.CLOCKWISE


def _good(stacked: bool) -> Pair:
    """A pair that is as it should be: wound alike, poles opposite, or both on one magnet."""
    one = Placed(Direction.CLOCKWISE, Mounted.TOP_TO_STRING, Pole.NORTH)
    other = one if stacked else replace(one, pole=Pole.SOUTH)
    return Pair(one, other, Join(Circuit.SERIES, Lead.FINISH, Lead.FINISH), stacked)


def _proof(heard: Heard, stacked: bool) -> Proof:
    if stacked:
        return Proof.ONE_TAP_EACH
    return Proof.COMPASS if heard is Heard.QUIET_THIN else Proof.TWO_TAPS


def _other_direction(direction: Direction) -> Direction:
    clockwise = direction is Direction.CLOCKWISE
    return Direction.COUNTER_CLOCKWISE if clockwise else Direction.CLOCKWISE


def _other_mounted(mounted: Mounted) -> Mounted:
    away = mounted is Mounted.TOP_AWAY
    return Mounted.TOP_TO_STRING if away else Mounted.TOP_AWAY


def _other_pole(pole: Pole) -> Pole:
    return Pole.SOUTH if pole is Pole.NORTH else Pole.NORTH
