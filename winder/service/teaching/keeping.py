"""What was found goes back into the board: its times, its highest speed, its shortest period, the guide's travel.

The person sees each figure as it was and as it will be, and says yes; then it is written, and read back from the boot
that follows.
"""

from __future__ import annotations

from dataclasses import replace

from firmware_protocol.settings import LEAST_PERIOD_SHARE_MOST, Settings
from firmware_protocol.vocabulary import Sensor

from .asking import yes
from .under_way import Lesson
from .wiring import LEAST_SHARE, REST_MORE_MS, STEP_PM_A_MM, TIMES_MOST_US, write

CUT_LEAST_MS = 1000  # a harder stop tears wire; our judgement, no source
CUT_MOST_MS = 2000  # a later one comes too late for a hand; our judgement, no source
SLOWING_SHARE = 0.6  # of the loss of speed that was measured: what a stop counts on
CUT_SHARE = 0.8  # of the cut time is what slowing down takes
REST_SHARE = 1.5
RATE_OFF_SHARE = 0.01  # by which the highest rate may be off what was reached and stays
SAID = {
    "cut_ms": ("cut time", "ms"),
    "rest_ms": ("rest time", "ms"),
    "rate_max_mcps": ("highest rate", "counts a second"),
    "least_period_us": ("shortest period", "us"),
    "bounce_us": ("bounce time", "us"),
    "travel_steps": ("guide's travel", "steps"),
}


def keep_figures(lesson: Lesson) -> None:
    before = lesson.board.read_settings()
    after = figures(lesson, before)
    changed = [name for name in SAID if getattr(before, name) != getattr(after, name)]
    if not changed:
        lesson.tell("The board's figures are right as they are.")
        return
    for name in changed:
        what, unit = SAID[name]
        per = 1000 if name == "rate_max_mcps" else 1
        now, then = getattr(before, name) / per, getattr(after, name) / per
        lesson.tell(f"{what}: {now:.0f} {unit} now, {then:.0f} as measured.")
    if not yes(lesson.person, "Write these into the board?"):
        lesson.tell("The board keeps its figures as they were.")
        return
    write(lesson.board, after)
    lesson.tell("Written into the board and read back.")


def figures(lesson: Lesson, before: Settings) -> Settings:
    """The settings as this lesson found that they should be."""
    learned = lesson.learned
    assert learned.speed_rpm_max is not None and lesson.slows_rpm_s
    slows_s = learned.speed_rpm_max / lesson.slows_rpm_s
    cut_ms = round(1000 * slows_s / SLOWING_SHARE / CUT_SHARE)
    cut_ms = min(max(cut_ms, CUT_LEAST_MS), CUT_MOST_MS)
    rest_ms = min(cut_ms + round(1000 * REST_SHARE * slows_s) + REST_MORE_MS, TIMES_MOST_US)
    rate = before.rate_max_mcps
    reached = round(learned.speed_rpm_max * lesson.per_rpm * 1000)
    if reached < (1 - RATE_OFF_SHARE) * rate:
        rate = reached
    after = replace(before, cut_ms=cut_ms, rest_ms=rest_ms, rate_max_mcps=rate)
    if before.sensor == Sensor.ONE_PULSE:
        least = min(int(LEAST_SHARE * 1e9 / rate), TIMES_MOST_US, LEAST_PERIOD_SHARE_MOST // rate)
        after = replace(after, least_period_us=least, bounce_us=min(before.bounce_us, least))
    if learned.travel_mm is not None and before.step_pm:
        steps = max(round(learned.travel_mm * STEP_PM_A_MM / before.step_pm), 1)
        after = replace(after, travel_steps=steps)
    return after
