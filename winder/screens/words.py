"""Numbers and states in words, as the person at the bench reads them.

Whole turns only: a turn counts when it is complete, and what is left is rounded up, so that the two
figures always add up to the target. Nothing here invents certainty: a count that is not exact is
written with its bounds.
"""

from __future__ import annotations

import math

from winder.files.digits import show_duration
from winder.wind.deeds import PERSON
from winder.wind.model import Certainty, Intent, Phase, WindView
from winder.wind.truth import OPEN
from winder.wind.wording import WOUND

LINK_AGE_WORTH_SAYING_S = 0.7  # a status comes every 0.05 s
SILENT_BOARD = "With no signal the board stops the spindle by itself and keeps its count."
SILENT_COUNTER = "Stop turning: with no signal nothing is sure to be counted."
NOT_AT_REST = "Leaving: stop turning first."
CUTS = "Stop again to cut the motor's power."
LANDING_TURNS = 200  # from here on the hand waits for what is left

TURNING = frozenset(phase for phase in Phase if phase.moves)
MAY_MOVE = TURNING | {Phase.UNHEARD, Phase.ALARM}
WAITING = frozenset(phase for phase in Phase if phase.waits) | {Phase.COMPLETE, Phase.LOST}
AT_REST = WAITING - {Phase.LOST, Phase.TRIPPED, Phase.ALARM} | {Phase.ENDED}

FINISHED = frozenset({Phase.COMPLETE, Phase.ENDED})
MEASURE = "measure"
AT_THE_END = (
    *WOUND,
    (MEASURE, "m: enter ohms and temperature"),
    ("leave", "q: the coil stays on the shelf"),
)
_TURN_PART = 1e-9  # below any count; a quotient of two whole numbers may miss by less


def moves(view: WindView) -> bool:
    """Something moves or may move: there is something to stop."""
    return view.phase in MAY_MOVE or view.motion.guide_moves or view.motion.unwinds


def turns_now(view: WindView) -> bool:
    """The spindle is known to turn, or is just asked to."""
    return view.phase in TURNING or view.motion.unwinds


def number(value: int) -> str:
    """Digits only, as it would be typed: ``12400``. The one style of every screen, line and page."""
    return str(value)


def ohms(value: float) -> str:
    """Three digits or more, never more than can be measured."""
    if value < 10:
        return f"{value:.2f}"
    return f"{value:.1f}" if value < 100 else number(round(value))


def count_bounds(view: WindView) -> tuple[int, int]:
    """Whole turns of the coil: the lowest and the highest they can be."""
    if view.count.truth.certainty is not Certainty.BETWEEN:
        turns = math.floor(view.count.turns + _TURN_PART)
        return turns, turns
    per_turn = max(1, view.coil.counts_per_turn)
    if view.count.truth.is_open:
        return view.count.truth.low // per_turn, OPEN
    return view.count.truth.low // per_turn, -(-view.count.truth.high // per_turn)


def counted(view: WindView) -> str:
    """The count and how sure it is: ``3106 turns, exact``."""
    low, high = count_bounds(view)
    if high >= OPEN:
        return f"at least {number(low)} turns"
    if low != high:
        return f"between {number(low)} and {number(high)} turns"
    return f"{number(low)} turns, {certainty(view)}"


def certainty(view: WindView) -> str:
    truth = view.count.truth
    if truth.certainty is Certainty.VOUCHED:
        return "as you counted them" if truth.by == PERSON else f"vouched for by {truth.by}"
    return "exact" if truth.certainty is Certainty.EXACT else "between these two"


def doubt(view: WindView) -> str:
    """Why the count is not exact, as a sentence; empty when it is."""
    truth = view.count.truth
    if truth.certainty is Certainty.EXACT or not truth.why:
        return ""
    lead = "Not exact" if truth.certainty is Certainty.BETWEEN else "Vouched for"
    return f"{lead}: {truth.why.rstrip('.')}."


def landing(view: WindView) -> bool:
    """The last turns, in which what is left matters more than the count."""
    return 0 < view.count.remaining_turns <= LANDING_TURNS and view.phase in MAY_MOVE | {
        Phase.PAUSED
    }


def off_figure(view: WindView) -> tuple[int, str]:
    """Turns to take off as a whole figure, a part of a turn rounded up, and the words for it."""
    off = view.count.off_turns or 0.0
    whole = math.ceil(abs(off) - _TURN_PART)
    part = "" if whole == abs(off) else f", exactly {abs(off):g}"
    if off < 0:
        return whole, f"turns too many were taken off{part}"
    most = " at most" if view.count.truth.certainty is Certainty.BETWEEN else ""
    return whole, f"turns to take off{most}{part}"


def finding_notices(view: WindView) -> tuple[str, ...]:
    """A broken wire, what follows from a reading, and the target it offers, unless said already."""
    told = []
    if view.count.wire_broke_at is not None and "broke" not in view.advice:
        told.append(f"The wire broke at about turn {number(round(view.count.wire_broke_at))}.")
    if view.ohm.finding and view.ohm.finding not in view.advice:
        told.append(sentence(view.ohm.finding))
    offered = view.ohm.offered_turns
    if offered is not None and Intent.ADOPT_TURNS in view.may:
        wind_to = f"ind to {number(offered)} turns"
        if wind_to not in view.advice:
            told.append(f"Press y to w{wind_to} instead of {number(view.coil.target_turns)}.")
    return tuple(told)


def wire_notice(view: WindView) -> str:
    """Where the wire is, at a pause: what the guide has to be put to, or to be left at."""
    lay = view.lay
    if lay.wire_mm is None or view.phase not in (Phase.PAUSED, Phase.READY):
        return ""
    way = "right" if lay.wire_rightward else "left"
    said = f"The wire is at {lay.wire_mm:.2f} mm in layer {lay.layer}, going {way}"
    if not lay.wire_open:
        return f"{said}."
    return f"{said}: p takes up the guide, Left and Right step it there, z says it is there."


def sentence(text: str) -> str:
    """Advice and reasons come as clauses: a capital at the front, a stop at the end."""
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def silence_means(view: WindView) -> str:
    """What a board does that nobody hears: one that only counts stops nothing."""
    return SILENT_BOARD if view.board_stops else SILENT_COUNTER


def link_notice(view: WindView) -> str:
    """How long ago the board was heard, only when that is worth saying."""
    if view.trouble.link_age_s is None:
        return ""
    over = view.phase in FINISHED or view.phase is Phase.LOST  # nobody listens any more
    if view.trouble.link_age_s > LINK_AGE_WORTH_SAYING_S and not over:
        if view.phase is Phase.UNHEARD:
            told = "by itself" in view.advice or "stop turning" in view.advice
            rest = "" if told else f" {silence_means(view)}"
            return f"The board was last heard {show_duration(view.trouble.link_age_s)} ago.{rest}"
        return f"The board was last heard {view.trouble.link_age_s:.1f} s ago."
    return ""
