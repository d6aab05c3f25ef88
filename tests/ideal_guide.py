"""Where the guide should stand, worked out a second time: for tests only.

A leg's way is a triangular wave of the count with a wait at each turning point; where it is in it is one division
with remainder, in fractions. It shares nothing with the simulated guide, which keeps a list of strokes, nor with the
firmware, which keeps one and goes on from there. Even lay only: how a scattered one is drawn is free.
"""

from __future__ import annotations

from fractions import Fraction

from firmware_protocol.messages import PlanLeg

Place = tuple[Fraction, bool]  # micrometres, rightward


def place_in_leg(leg: PlanLeg, gone: Fraction, entry: Place) -> Place:
    """After so many counts of this leg, entered at this place and in this direction."""
    place, rightward = entry
    if leg.pitch_nm == 0 or leg.right_um == leg.left_um or gone < 0:
        return entry
    per_um = Fraction(1000 * leg.pitch_counts, leg.pitch_nm)  # counts
    if (leg.right_um - leg.left_um) * per_um < 1:
        return entry
    if not leg.left_um <= place <= leg.right_um:
        rightward = place < leg.left_um
    ahead, behind = (leg.right_um, leg.left_um) if rightward else (leg.left_um, leg.right_um)
    sign = 1 if rightward else -1
    first = abs(ahead - place) * per_um
    if gone < first:
        return place + sign * gone / per_um, rightward
    turns_back, rest = divmod(gone - first, (ahead - behind) * sign * per_um + leg.dwell_counts)
    if turns_back % 2:
        ahead, sign, rightward = behind, -sign, not rightward
    if rest < leg.dwell_counts:
        return Fraction(ahead), rightward
    return ahead - sign * (rest - leg.dwell_counts) / per_um, not rightward


def ideal_place(
    legs: tuple[PlanLeg, ...],
    count: float | Fraction,
    *,
    begun_at: int = 0,
    place_um: float = 0.0,
    rightward: bool = True,
) -> Place:
    """The place at a count (or between two) of a plan that the guide began at this count and place."""
    entry: Place = (Fraction(place_um), rightward)
    begin = begun_at
    for leg in legs:
        if leg.end_count <= begin and leg is not legs[-1]:
            continue
        if Fraction(count) < leg.end_count or leg is legs[-1]:
            return place_in_leg(leg, Fraction(count) - begin, entry)
        entry = place_in_leg(leg, Fraction(leg.end_count - begin), entry)
        begin = leg.end_count
    raise AssertionError("a plan without legs")
