"""What turning by hand shows: counts of a turn, and whether the sensor's edges can be believed."""

from __future__ import annotations

from dataclasses import replace

from firmware_protocol.messages import State
from firmware_protocol.settings import Settings
from firmware_protocol.vocabulary import Sensor
from winder.errors import WinderError

from .asking import done, number_or_none, yes
from .dialogue import Deed
from .turns import TURNS_FIRST, Stretch, judge_turns
from .under_way import Lesson
from .wiring import Speeds, timed, write

BOUNCE_TURNS = 3
BOUNCES_US = (100, 200, 400, 800, 1600, 3200, 6400, 12800)
FILTERS_US = (4, 12, 31)
MORE_SHARE = 1.25  # of the time that was enough: contacts wear; our judgement, no source


def learn_counts(lesson: Lesson) -> None:
    """Counts of a turn. Raises ``WinderError`` where no whole number is left."""
    told = number_or_none(
        lesson.person,
        "Counts a turn, if they are printed on the sensor or in its data sheet (else just Enter):",
    )
    if told is not None and (told != int(told) or not 1 <= told <= 10_000):
        raise WinderError(
            f"a turn cannot give {told:g} counts",
            where="counts a turn",
            remedy="it is a whole number from 1 to 10000; the sensor belongs on the bobbin's spindle",
        )
    printed = None if told is None else int(told)
    lesson.learned.counts_per_turn = counts = _counts(lesson, printed)
    lesson.tell(f"So a turn gives {counts} count{'s' if counts > 1 else ''}.")
    if lesson.told is not None and lesson.told.counts != counts:
        _correct_guess(lesson, replace(lesson.told, counts=counts))


def _counts(lesson: Lesson, printed: int | None) -> int:
    stretches: list[Stretch] = []
    turns = TURNS_FIRST
    while True:
        stretches.append(_turned(lesson, turns))
        verdict = judge_turns(stretches, printed)
        lesson.tell(f"{stretches[-1].counts} counts in {turns} turns.")
        if verdict.counts is not None:
            return verdict.counts
        if verdict.refused:
            raise WinderError(
                verdict.refused,
                where="counts a turn",
                remedy="no machine file was written; then teach it again",
            )
        turns = verdict.more
        lesson.tell("More turns are needed to be sure." if len(stretches) > 1 else "Now check it:")


def _turned(lesson: Lesson, turns: int) -> Stretch:
    board = lesson.board
    board.fresh_wind()
    done(
        lesson.person,
        f"Put a mark on the spindle. Turn it by hand, slowly, {turns} whole turns the way it winds, "
        "from the mark to the mark; then press Enter:",
        Deed.TURN,
        turns,
    )
    board.hear(1.5)
    status = board.newest
    if status.state is State.TRIPPED:
        raise board.trouble("the board tripped: it was turned too fast, or the sensor misread")
    if status.count < 0:
        raise WinderError(
            "the sensor counts backward as it winds",
            where=board.port,
            remedy="exchange its channels A and B (with the power off), and teach it again",
        )
    lesson.implausible += status.implausible
    if status.implausible:
        lesson.tell(
            f"{status.implausible} pulses came too close together and were left out: contacts bounce, or the cable needs a screen."
        )
    return Stretch(turns, status.count + status.unattributed)


def _correct_guess(lesson: Lesson, speeds: Speeds) -> None:
    """The board's speeds are in counts; they were written by a guess."""
    content = lesson.board.read_settings()
    if yes(
        lesson.person,
        f"Its speeds were set for about {lesson.told.counts if lesson.told else 0:g} counts a turn. Correct them?",
    ):
        lesson.told = speeds
        write(lesson.board, timed(content, speeds))


# --- bounce -----------------------------------------------------------------------------------------


def learn_bounce(lesson: Lesson) -> None:
    """Longer and longer times written into the board, until no edge comes too soon."""
    board, before = lesson.board, lesson.board.read_settings()
    one = before.sensor == Sensor.ONE_PULSE
    if one and not before.least_period_us:
        lesson.tell("The board does not know how close true edges may come, so it stays as it is.")
        return
    now = before.bounce_us if one else before.filter_us
    most = before.least_period_us if one else FILTERS_US[-1]
    tried = [us for us in (BOUNCES_US if one else FILTERS_US) if now < us < most]
    quiet_from = now
    for us in [*tried, most]:
        write(board, _waiting(before, us))
        if not _soon(lesson, us):
            kept = min(round(MORE_SHARE * us), most)
            write(board, _waiting(before, kept))
            lesson.tell(
                f"Its contacts bounce for {quiet_from} to {us} us. {kept} us are written into the board."
            )
            return
        quiet_from = us
    lesson.tell(
        f"Edges still come too soon after {most} us, the most that the highest speed leaves room for. That is written, "
        "on the cautious side. Put a capacitor at the sensor, or a screen on its cable."
    )


def _soon(lesson: Lesson, us: int) -> int:
    """Edges too soon in a few turns by hand."""
    lesson.board.fresh_wind()
    done(
        lesson.person,
        f"The board now waits {us} us. Turn the spindle {BOUNCE_TURNS} turns by hand, slowly; then press Enter:",
        Deed.TURN,
        BOUNCE_TURNS,
    )
    lesson.board.hear(1.5)
    soon = lesson.board.newest.implausible
    lesson.tell(f"{soon} too soon.")
    return soon


def _waiting(before: Settings, us: int) -> Settings:
    """So long after an edge; with two channels, so long for a level."""
    if before.sensor == Sensor.ONE_PULSE:
        return replace(before, bounce_us=us)
    return replace(before, filter_us=us)
