"""Numbers and states in words, as the person at the bench reads them.

Whole turns only: a turn counts when it is complete, and what is left is rounded up, so that the two
figures always add up to the target. Nothing here invents certainty: a count that is not exact is
written with its bounds.
"""

from __future__ import annotations

import math

from winder.session.model import Certainty, Phase, WindView

LINK_AGE_WORTH_SAYING_S = 0.7  # a status comes every 0.05 s
SILENT_BOARD = "Without a sign of life the board slows to rest by itself and keeps its count."
LANDING_TURNS = 200  # from here on the hand waits for what is left

TURNING = frozenset({Phase.STARTING, Phase.WINDING, Phase.SLOWING})
MAY_MOVE = TURNING | {Phase.UNHEARD}
WAITING = frozenset({Phase.READY, Phase.PAUSED, Phase.COMPLETE, Phase.BROKEN_OFF, Phase.TRIPPED})
AT_REST = frozenset({Phase.READY, Phase.PAUSED, Phase.COMPLETE, Phase.ENDED})

_TURN_PART = 1e-9  # below any count; a quotient of two whole numbers may miss by less


def number(value: int) -> str:
    """Thousands set apart: ``12 400``."""
    return f"{value:,}".replace(",", " ")


def duration(seconds: float) -> str:
    whole = max(0, round(seconds))
    if whole < 60:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes} min {rest:02d} s"
    return f"{minutes // 60} h {minutes % 60:02d} min"


def ohms(value: float) -> str:
    """Three digits or more, never more than can be measured."""
    if value < 10:
        return f"{value:.2f}"
    return f"{value:.1f}" if value < 100 else number(round(value))


def count_bounds(view: WindView) -> tuple[int, int]:
    """Whole turns of the coil: the lowest and the highest they can be."""
    if view.truth.certainty is not Certainty.BETWEEN:
        turns = math.floor(view.turns + _TURN_PART)
        return turns, turns
    per_turn = max(1, view.counts_per_turn)
    return view.truth.low // per_turn, -(-view.truth.high // per_turn)


def counted(view: WindView) -> str:
    """The count and how sure it is: ``3 106 turns, exact``."""
    low, high = count_bounds(view)
    if low != high:
        return f"between {number(low)} and {number(high)} turns"
    return f"{number(low)} turns, {certainty(view)}"


def certainty(view: WindView) -> str:
    truth = view.truth
    if truth.certainty is Certainty.VOUCHED:
        return f"vouched for by {truth.by}" if truth.by else "vouched for"
    return "exact" if truth.certainty is Certainty.EXACT else "between these two"


def doubt(view: WindView) -> str:
    """Why the count is not exact, as a sentence; empty when it is."""
    truth = view.truth
    if truth.certainty is Certainty.EXACT or not truth.why:
        return ""
    lead = "Not exact" if truth.certainty is Certainty.BETWEEN else "Vouched for"
    return f"{lead}: {truth.why.rstrip('.')}."


def landing(view: WindView) -> bool:
    """The last turns, in which what is left matters more than the count."""
    return 0 < view.remaining_turns <= LANDING_TURNS and view.phase in MAY_MOVE | {Phase.PAUSED}


def sentence(text: str) -> str:
    """Advice and reasons come as clauses: a capital at the front, a stop at the end."""
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def link_notice(view: WindView) -> str:
    """How long ago the board was heard, only when that is worth saying."""
    if view.link_age_s is None:
        return "Nothing heard from the board yet." if view.phase is Phase.CONNECTING else ""
    if view.link_age_s > LINK_AGE_WORTH_SAYING_S and view.phase is not Phase.ENDED:
        if view.phase is Phase.UNHEARD:
            rest = "" if "by itself" in view.advice else f" {SILENT_BOARD}"
            return f"The board was last heard {duration(view.link_age_s)} ago.{rest}"
        return f"The board was last heard {view.link_age_s:.1f} s ago."
    return ""
