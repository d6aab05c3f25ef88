"""Two deliberate acts before the spindle moves: a key, then another on the other side of the keyboard, then a countdown.

A terminal tells nothing of a key's release, so nothing here rests on one that is held. The first key only arms; the
second has to come as a press of its own, not at once and not late; then the seconds are counted down, with the speed in
words, and any key calls it off. The second key is a digit at the right on every usual keyboard, and asks for nothing else.
"""

from __future__ import annotations

import dataclasses

from winder.clock import NS_PER_MS, NS_PER_S
from winder.screens.words import number
from winder.wind.model import Asked, Intent, Phase, WindView

SECOND_KEY = "0"
WITHIN_NS = 3 * NS_PER_S  # from the first key to the second
TOGETHER_NS = 150 * NS_PER_MS  # a hand laid on the keys, or text that was pasted
COUNTDOWN_S = 3

WHAT = {
    Intent.START: "start",
    Intent.CONTINUE: "continue",
    Intent.PEDAL: "turn the foot pedal on",
    Intent.TAKE_OFF: "turn back",
}


class Starting:
    """What was asked for and waits for its second key, or for the end of the countdown."""

    def __init__(self) -> None:
        self.asked: Asked | None = None
        self._since_ns = 0  # the first key, then the second
        self.counting = False
        self._told_s = 0  # of the countdown, as last ticked

    def arm(self, asked: Asked, now_ns: int) -> None:
        """The first key. It moves nothing."""
        self.asked, self._since_ns, self.counting = asked, now_ns, False

    def call_off(self) -> bool:
        """Whether there was something to call off."""
        pending, self.asked, self.counting = self.asked is not None, None, False
        return pending

    def press(self, name: str, now_ns: int, *, held: bool) -> str | None:
        """A key while something waits: None if it has a meaning of its own, else what to say of it ("": nothing)."""
        if self.asked is None:
            return None
        if self.counting:
            self.call_off()
            return "Cancelled: nothing was started."
        if held and name != SECOND_KEY:
            return ""  # the first key, not let go of yet
        if name != SECOND_KEY:
            self.call_off()
            return None
        if held or now_ns - self._since_ns < TOGETHER_NS:
            self.call_off()
            return "Too quick: press the two keys one after the other."
        self.counting, self._since_ns, self._told_s = True, now_ns, COUNTDOWN_S + 1
        return ""

    def look(self, view: WindView, now_ns: int, *, in_sight: bool) -> None:
        """Call off what is not possible any more, is not looked at, or was left waiting."""
        if self.asked is None:
            return
        late = not self.counting and now_ns - self._since_ns >= WITHIN_NS
        if late or not in_sight or self.asked.intent not in view.may:
            self.call_off()

    def seconds_left(self, now_ns: int) -> int:
        """Whole seconds of the countdown, rounded up."""
        return COUNTDOWN_S - (now_ns - self._since_ns) // NS_PER_S

    def ticks(self, now_ns: int) -> bool:
        """Whether another second of the countdown has begun, once for each."""
        if not self.counting or self.seconds_left(now_ns) >= self._told_s:
            return False
        self._told_s = self.seconds_left(now_ns)
        return self._told_s > 0

    def due(self, now_ns: int) -> Asked | None:
        """What is to be asked for now, once."""
        if self.asked is None or not self.counting or self.seconds_left(now_ns) > 0:
            return None
        asked = self.asked
        self.call_off()
        return asked

    def shown(self, view: WindView, now_ns: int) -> WindView:
        """The view with what waits, for drawing: about to turn, it looks like turning."""
        if self.asked is None:
            return view
        what = WHAT[self.asked.intent]
        if not self.counting:
            advice = f"hands clear? Press {SECOND_KEY} to {what}, within three seconds"
            return dataclasses.replace(view, advice=advice)
        left = self.seconds_left(now_ns)
        return dataclasses.replace(
            view,
            phase=Phase.STARTING,
            headline=f"in {left} s",
            advice=f"{what}: {self._to_speed(view)}. Any key cancels",
            may=frozenset(),
        )

    def _to_speed(self, view: WindView) -> str:
        assert self.asked is not None
        if self.asked.intent is Intent.TAKE_OFF:
            return f"{self.asked.value:g} turns, slowly, by the motor"
        if self.asked.intent is Intent.PEDAL:
            return "nothing turns until you press it"
        rpm = number(round(view.motion.planned_rpm))
        return f"slowly at first, then {rpm} rpm" if view.count.turns > 0 else f"to {rpm} rpm"
