"""Which leads join, which is hot, which goes to ground: one wiring for each of the four ways.

Two rules choose among wirings that do the same. The finish, on the outermost layer, goes to ground, with
cover and base plate: then the outer layer screens the inner ones (common practice, no source). And a pair
that plays beside another should have the same *sense*: hot positive while the string moves away.
"""

from __future__ import annotations

from firmware_protocol.records import dataclass
from winder.pair.signs import Circuit, Join, Lead, Outcome, Placed, outcome


@dataclass(frozen=True, slots=True)
class End:
    """One lead of one coil of the pair; coil 0 is the first."""

    coil: int
    lead: Lead


@dataclass(frozen=True, slots=True)
class Wiring:
    """A pair wired: what is soldered together, and the two ends of the output.

    In series ``joined`` are two ends; in parallel it is empty and hot and ground have two ends each.
    """

    join: Join
    hot: tuple[End, ...]
    ground: tuple[End, ...]
    joined: tuple[End, ...]
    outcome: Outcome
    sense: int  # +1: hot goes positive while the string moves away from the pole it is heard by
    outer_layer_hot: bool  # a finish is at the hot end: it hums by touch unless it is covered


def counted(wiring: Wiring, coil: int) -> int:
    """With which sign the coil's V_FS stands in hot against ground: walked along the wire."""
    for end in wiring.hot:
        if end.coil == coil:
            return 1 if end.lead is Lead.FINISH else -1
    (ground,) = (end for end in wiring.ground if end.coil == coil)
    return 1 if ground.lead is Lead.START else -1


def wire(one: Placed, other: Placed, join: Join, *, hot_coil: int = 0, near: int = 0) -> Wiring:
    """The pair soldered by ``join``, with its hot end at ``hot_coil``; ``near`` is the coil whose string counts."""
    first, second = End(0, join.first), End(1, join.second)
    first_free, second_free = End(0, join.first.other), End(1, join.second.other)
    joined: tuple[End, ...]
    sides: tuple[tuple[End, ...], tuple[End, ...]]
    if join.circuit is Circuit.SERIES:
        joined = (first, second)
        sides = ((first_free,), (second_free,))
    else:
        joined = ()
        sides = ((first, second), (first_free, second_free))
    hot, ground = sides if hot_coil == 0 else sides[::-1]
    made = Wiring(
        join,
        hot,
        ground,
        joined,
        outcome(one, other, join),
        0,
        any(end.lead is Lead.FINISH for end in hot),
    )
    sense = counted(made, near) * (one, other)[near].signal_sign
    return Wiring(join, hot, ground, joined, made.outcome, sense, made.outer_layer_hot)


def wirings(one: Placed, other: Placed, join: Join, *, near: int = 0) -> tuple[Wiring, ...]:
    """All that do what ``join`` does: soldered at the other leads, or with hot and ground changed."""
    opposite = Join(join.circuit, join.first.other, join.second.other)
    return tuple(
        wire(one, other, each, hot_coil=hot, near=near)
        for each in (join, opposite)
        for hot in (0, 1)
    )


def best_wiring(
    one: Placed, other: Placed, join: Join, *, sense: int | None = None, near: int = 0
) -> Wiring:
    """The one to solder: finishes away from the hot end, then the sense that is wanted."""
    return min(
        wirings(one, other, join, near=near),
        key=lambda each: (
            sum(end.lead is Lead.FINISH for end in each.hot),
            sense is not None and each.sense != sense,
        ),
    )


def four_ways(
    one: Placed, other: Placed, *, sense: int | None = None, near: int = 0
) -> tuple[Wiring, ...]:
    """Series, then parallel; of each first the join in which hum cancels, then the one that hums."""
    found = []
    for circuit in Circuit:
        plain = Join(circuit, Lead.FINISH, Lead.START)
        both = (plain, plain.turned)
        quiet_first = sorted(both, key=lambda join: not outcome(one, other, join).hum_cancels)
        found += [best_wiring(one, other, join, sense=sense, near=near) for join in quiet_first]
    return tuple(found)
