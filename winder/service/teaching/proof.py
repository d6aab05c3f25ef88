"""The end of a lesson: 25 turns without wire, and they must end on the turn."""

from __future__ import annotations

from firmware_protocol.messages import CREEP_RATE_LEAST_MCPS, Start
from winder.errors import WinderError

from .asking import agree, yes
from .runs import leg_of
from .under_way import Lesson

PROOF_TURNS = 25
ON_THE_TURN = 20  # a twentieth of a turn beyond its end, or one count


def prove(lesson: Lesson) -> None:
    """Raises ``WinderError`` where it does not end on the turn."""
    board, learned = lesson.board, lesson.learned
    counts = PROOF_TURNS * learned.counts_per_turn
    most = board.welcome.rate_max_mcps
    agree(
        lesson.person,
        f"Last: set the mark. It makes {PROOF_TURNS} turns and must stop on the mark.",
    )
    assert learned.acceleration_rpm_s is not None and learned.coasting_rpm_s is not None
    safe = min(learned.acceleration_rpm_s, learned.braking_rpm_s or learned.coasting_rpm_s)
    accel = max(round(safe / 2 * lesson.per_rpm * 1000), 1)
    rate = max(most // 2, min(CREEP_RATE_LEAST_MCPS, most))
    board.fresh_wind()
    generation = board.load(
        leg_of(counts, rate, accel, creep_mcps=min(CREEP_RATE_LEAST_MCPS, rate))
    )
    heard = board.move(lambda: board.make(Start, generation=generation), 180.0)
    over = heard[-1].count - counts
    allowed = max(1, learned.counts_per_turn // ON_THE_TURN)
    if not 0 <= over <= allowed:
        raise board.trouble(f"it stopped {over} counts from the {PROOF_TURNS}th turn")
    if not yes(
        lesson.person,
        f"It counted {heard[-1].count} of {counts}. Is the mark back at its place?",
    ):
        raise WinderError(
            f"{PROOF_TURNS} turns did not end on the turn",
            where="counts a turn",
            remedy="the sensor does not sit on the bobbin's spindle, or misses counts; no machine file was written",
        )
