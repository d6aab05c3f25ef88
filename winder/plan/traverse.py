"""How the guide lays the wire: pitch, turning points, the wait at each, and what the free length costs.

The guide advances ``LAY_PITCH`` overall diameters a turn (common practice, no source) between turning
points inset by half a diameter, e, so that the wire touches the margin; an inset of e takes a wait of
2 e / p turns at each side, or the edge stays half full (geometry: the turns that a guide turning at
the margin itself would lay beyond).

The wire does not lie below the guide. With a free length l and a turn of perimeter P the lay point x
follows the guide g by dx/ds = (g - x) / l along the wire: it lags p t behind a steady guide, t = l / P
turns, and after a wait of D turns turns back p t ln(1 + exp(-D / t)) short of it. The guide goes
beyond for that, but not all the way: lying slowly near its turning point the wire also crowds there.
``OVERTRAVEL_SHARE`` was found on the simulated lay, from t = 0.1 to 5: with it the edge is as high as the
middle. Never may it bring the wire into the margin, even at the leg's largest turn. Where the guide
must not or cannot go so far, a longer wait makes up for it: twice the missing way over the pitch.

Turns that fall on the same places in every layer pile up. The pitch is therefore trimmed until a stroke to and
fro takes a number of turns whose fraction is far from simple ones: that of the golden section.
"""

from __future__ import annotations

import bisect
import math
from dataclasses import replace

from firmware_protocol.records import dataclass
from winder.coil.model import Coil
from winder.coil.winding import LAY_PITCH, build_at
from winder.errors import UserMistake
from winder.files.quantities import show_length
from winder.machine.model import MachineProfile
from winder.plan.bands import LED_IN_TURNS, faces_of, narrowest_height_m

OVERTRAVEL_SHARE = 0.28  # of the lag p l / P; found on the simulated lay, see above
PITCH_LEAST, PITCH_MOST = 1.0, 1.1  # overall diameters; common practice, no source
GOLDEN = (math.sqrt(5) - 1) / 2  # the fraction that is farthest from simple ones
DWELL_COUNTS_MAX = 0xFFFF  # what a leg can say
FREE_TURNS_MOST = (
    4.0  # free length over perimeter; beyond, no turning point was found that lays evenly
)
# From count to count the guide is led by the speed: where that changes it may be off by one count's advance, which
# below this many counts a turn is more than a tenth of the wire.
FEW_COUNTS = 10


@dataclass(frozen=True, slots=True)
class Lay:
    """The guide's part of a leg. Places from the left flange; whole micrometres, as the board takes them."""

    pitch_m: float
    left_m: float
    right_m: float
    dwell_counts: int
    scatter_seed: int


STANDS = Lay(0.0, 0.0, 0.0, 0, 0)  # no guide leads the wire


@dataclass(frozen=True, slots=True)
class Strip:
    """What the lay of every leg shares: the strip that the middle of the wire may lie on, at the core."""

    left_m: float
    right_m: float
    overall_m: float
    travel_m: float | None  # None: guided by hand
    free_length_m: float
    counts_per_turn: int
    scatter_seed: int

    @property
    def width_m(self) -> float:
        return self.right_m - self.left_m

    @property
    def traversed(self) -> bool:
        """Whether the guide moves: there is one, and room for it."""
        return self.travel_m is not None and self.width_m >= LAY_PITCH * self.overall_m


def figure_strip(coil: Coil, machine: MachineProfile, scatter_seed: int) -> Strip:
    """The strip between the margins. ``UserMistake`` where the guide cannot reach all of it."""
    left_m, right_m = _strip_at(coil, coil.recipe.tape_under_m)
    top_m = narrowest_height_m(coil, coil.turns, coil.turns)
    reach_m = max(right_m, _strip_at(coil, top_m)[1])
    if machine.traverse_travel_m is not None and reach_m > machine.traverse_travel_m:
        raise UserMistake(
            f"the winding reaches {show_length(reach_m, 3)} from the left flange, the guide travels"
            f" {show_length(machine.traverse_travel_m)}",
            where=f"machine '{machine.name}'",
            remedy="guide the wire by hand (a profile without traverse) or take a narrower bobbin",
        )
    return Strip(
        left_m=left_m,
        right_m=right_m,
        overall_m=coil.wire.overall_m,
        travel_m=machine.traverse_travel_m,
        free_length_m=machine.free_length_m,
        counts_per_turn=machine.counts_per_turn,
        scatter_seed=scatter_seed,
    )


def _strip_at(coil: Coil, height_m: float) -> tuple[float, float]:
    """From where to where the middle of the wire may lie, this high above the core."""
    inset_m = coil.recipe.margin_m + coil.wire.overall_m / 2
    left_m, right_m = faces_of(coil).at(height_m)
    return left_m + inset_m, max(left_m + inset_m, right_m - inset_m)


def narrowest_strip_m(coil: Coil, begin: int, end: int) -> tuple[float, float]:
    """Where the middle of the wire may lie in every layer from turn ``begin`` to ``end``."""
    return _strip_at(coil, narrowest_height_m(coil, begin, end))


def figure_lay(strip: Strip, perimeter_m: float, perimeter_most_m: float) -> Lay:
    """The lay of a leg whose turns are ``perimeter_m`` long on average and ``perimeter_most_m`` at most."""
    if strip.travel_m is None:
        return Lay(0.0, strip.left_m, strip.right_m, 0, 0)
    if not strip.traversed:
        middle_m = (strip.left_m + strip.right_m) / 2
        return Lay(0.0, middle_m, middle_m, 0, 0)
    pitch_m = LAY_PITCH * strip.overall_m
    beyond_m, dwell_counts = _turning(strip, pitch_m, perimeter_m, perimeter_most_m)
    # Inward to the micrometre: rounding must not bring the wire into the margin.
    left_m = math.ceil((strip.left_m - beyond_m) * 1e6 - 1e-6) * 1e-6
    right_m = math.floor((strip.right_m + beyond_m) * 1e6 + 1e-6) * 1e-6
    dwell_turns = dwell_counts / strip.counts_per_turn
    pitch_m = _trimmed_m(pitch_m, strip.overall_m, right_m - left_m, dwell_turns)
    return Lay(pitch_m, left_m, right_m, dwell_counts, strip.scatter_seed)


def turning_short_m(
    pitch_m: float, dwell_turns: float, free_length_m: float, turn_m: float
) -> float:
    """How far short of the guide's turning point the wire turns back, on turns of ``turn_m``.

    Solution of dx/ds = (g - x) / l for a guide that comes steadily, waits and goes back.
    """
    lag_turns = free_length_m / turn_m
    return pitch_m * lag_turns * math.log1p(math.exp(-dwell_turns / lag_turns))


def _turning(
    strip: Strip, pitch_m: float, perimeter_m: float, perimeter_most_m: float
) -> tuple[float, int]:
    """How far the guide goes beyond the strip at either side, and how many counts it waits there.

    What matters for the height of the edge is the sum: turns waited and twice the way beyond over the
    pitch. So the wait makes up for a way that the guide must not or cannot go; it is whole counts.
    """
    assert strip.travel_m is not None
    free_m, cpt = strip.free_length_m, strip.counts_per_turn
    room_m = max(0.0, min(strip.left_m, strip.travel_m - strip.right_m))
    wait_turns = strip.overall_m / pitch_m  # 2 e / p
    wanted_turns = wait_turns + 2 * OVERTRAVEL_SHARE * free_m / perimeter_m

    def most_m(counts: int) -> float:
        least_m = PITCH_LEAST * strip.overall_m  # what trimming may make of the pitch
        return min(room_m, turning_short_m(least_m, counts / cpt, free_m, perimeter_most_m))

    def reached_turns(counts: int) -> float:  # rises with the counts
        return counts / cpt + 2 * most_m(counts) / pitch_m

    least = round(wait_turns * cpt)
    enough = bisect.bisect_left(range(DWELL_COUNTS_MAX), wanted_turns, lo=least, key=reached_turns)
    fewer = max(enough - 1, least)
    too_long = enough / cpt - wanted_turns
    counts = fewer if wanted_turns - reached_turns(fewer) < too_long else enough
    beyond_m = (wanted_turns - counts / cpt) * pitch_m / 2
    return min(max(beyond_m, 0.0), most_m(counts)), counts


def _trimmed_m(pitch_m: float, overall_m: float, way_m: float, dwell_turns: float) -> float:
    """The pitch nearest to ``pitch_m`` whose strokes to and fro fall between each other.

    Whole nanometres, as the board takes it. Too few turns for a choice: the pitch as it is.
    """
    to_and_fro = 2 * (way_m / pitch_m + dwell_turns)
    whole = math.floor(to_and_fro)
    fits = []
    for turns in range(whole - 1, whole + 2):
        for fraction in (1 - GOLDEN, GOLDEN):
            stroke_turns = (turns + fraction) / 2 - dwell_turns
            if stroke_turns > 0:
                fits.append(way_m / stroke_turns)
    allowed = [p for p in fits if PITCH_LEAST * overall_m <= p <= PITCH_MOST * overall_m]
    best_m = min(allowed, key=lambda p: abs(p - pitch_m), default=pitch_m)
    return round(best_m * 1e9) * 1e-9


def lay_remarks(coil: Coil, strip: Strip, lay: Lay, steps_per_mm: float | None) -> list[str]:
    """What a person should know of the lay, in sentences."""
    if strip.travel_m is None:
        return []
    if not strip.traversed:
        return ["the winding is too narrow to traverse: the guide stays in the middle"]
    told = []
    cpt = strip.counts_per_turn
    if cpt < FEW_COUNTS:
        jump_m = lay.pitch_m / cpt
        told.append(
            f"with {cpt} count{'s' if cpt > 1 else ''} per turn the guide is told of the spindle only every"
            f" {show_length(jump_m, 3)} of its way and its place between is guessed from the speed: the lay is a"
            f" little less even, most where the speed changes, and the wait at the sides is whole counts"
        )
    if steps_per_mm is not None and lay.pitch_m * 1e3 * steps_per_mm < 1:
        told.append(
            f"one step of the traverse is {show_length(1e-3 / steps_per_mm, 3)}, more than the pitch of"
            f" {show_length(lay.pitch_m, 3)}: turns will lie in heaps; gear the traverse down"
        )
    core_turns = strip.free_length_m / coil.core_perimeter_m
    if coil.layers >= 2 and core_turns > FREE_TURNS_MOST:
        told.append(
            f"the wire runs free for {show_length(strip.free_length_m)}, {core_turns:.3g} turns of the"
            f" core: it follows the guide slowly and the edges may come out round or high; bring the"
            f" guide nearer to the bobbin"
        )
    return told


def _turn_m(coil: Coil, turns: int) -> float:
    return coil.core_perimeter_m + 2 * math.pi * build_at(coil, turns).nominal


def lay_between(coil: Coil, strip: Strip, begin: int, end: int) -> Lay:
    """The lay of the leg from turn ``begin`` to ``end`` of the coil."""
    left_m, right_m = narrowest_strip_m(coil, begin, end)
    strip = replace(strip, left_m=left_m, right_m=right_m)
    return figure_lay(strip, _turn_m(coil, (begin + end) // 2), _turn_m(coil, end))


def lay_led_in(lay: Lay) -> Lay:
    """From zero to where ``lay`` begins within the turns of the leading in, then on as it does."""
    pitch_m = math.ceil(lay.left_m / LED_IN_TURNS * 1e9) * 1e-9
    return replace(lay, pitch_m=pitch_m, dwell_counts=0, scatter_seed=0)
