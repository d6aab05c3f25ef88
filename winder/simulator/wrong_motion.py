"""Wrong boards whose motion, wind or boot is not what they were asked for, or not what they say it is."""

from __future__ import annotations

import dataclasses
from typing import Any

from firmware_protocol.messages import Answer, Flag, Start, State, Status, Verdict, Welcome
from firmware_protocol.wire import LAYOUT_OF

from .between import is_stop
from .wrong_board import NS, OtherPlan, WrongBoard

ALIVE_S = 0.2
UPTIME_BACK_MS = 5000


class AnothersWind(WrongBoard):
    name = "another's wind"
    sentence = "From one status to the next, the open wind is one that this program never opened."
    sees = "a wind that is not ours"

    def alters(self, status: Status) -> Status | None:
        if not self.struck or not status.wind:
            return status
        return dataclasses.replace(status, wind=status.wind ^ 0x5A5A)


class TimeRunsBack(WrongBoard):
    name = "uptime goes back"
    sentence = (
        "The board's uptime falls by some seconds, as after a reset, and its boot stays the same."
    )
    sees = "an uptime that goes back within one boot"

    _back_ms = 0

    def strike(self, status: Status) -> bool:
        self._back_ms = min(UPTIME_BACK_MS, status.uptime_ms)
        return True

    def alters(self, status: Status) -> Status | None:
        if not self.struck:
            return status
        return dataclasses.replace(status, uptime_ms=max(0, status.uptime_ms - self._back_ms))


class ResetsInSecret(WrongBoard):
    name = "reset without a new boot number"
    sentence = "The board is reset, forgets its wind, and says it is the same boot as before."
    sees = "our wind is gone, and the uptime goes back"
    _boot = 0

    def strike(self, status: Status) -> bool:
        self._boot = status.boot
        self.machine.reset()
        return True

    def alters(self, status: Status) -> Status | None:
        return dataclasses.replace(status, boot=self._boot) if self.struck else status

    def welcomes(self, welcome: Welcome) -> Welcome:
        return dataclasses.replace(welcome, boot=self._boot) if self.struck else welcome


class Overruns(OtherPlan):
    name = "overrun, honestly told"
    sentence = "The board winds on past the end of the plan, and counts and tells every turn of it."
    sees = "driven past the end by more than the plan allows"
    drives_on = True

    def alters(self, status: Status) -> Status | None:
        self.struck = self.struck or 0 < self.end < status.count
        return status


class CompleteTooEarly(OtherPlan):
    name = "complete too early"
    sentence = "The board ends the plan several turns short of its end, and calls it complete."
    sees = "complete with fewer counts than the plan has"
    sign = -1

    def alters(self, status: Status) -> Status | None:
        self.struck = self.struck or status.state is State.COMPLETE
        return status


class IgnoresTheLease(WrongBoard):
    name = "ignores the lease"
    sentence = "The board winds on though no sign of life comes any more."
    sees = "motion that goes on after the signs of life have ended"
    needs_motor = True
    drives_on = True
    _next_ns = 0

    def live(self) -> None:
        if self.now_ns >= self._next_ns and self.machine.edges >= self.wrong.at_counts:
            self._next_ns = self.now_ns + round(ALIVE_S * NS)
            self.struck = True
            self.keep_alive()


class DeafToStop(WrongBoard):
    name = "deaf to stop"
    sentence = "The board answers that it stops, and does not."
    sees = "no slowing after a stop that was answered as taken"
    needs_motor = True
    drives_on = True

    @property
    def due(self) -> bool:
        """Only a stop shows it."""
        return False

    def hears(self, message: Any) -> Any:
        if not is_stop(message):
            return message
        revision = self.status.revision if self.status is not None else 0
        self.say(Answer(LAYOUT_OF[type(message)].kind, Verdict.DONE, revision, 0))
        self.struck = self.struck or self.machine.moving
        return None


class SlowsInWordsOnly(DeafToStop):
    name = "slows in words only"
    sentence = "The board answers a stop, tells that it is slowing, and goes on at full speed."
    sees = "a spindle that is not at rest within the stopping time"

    def alters(self, status: Status) -> Status | None:
        if self.struck and status.state is State.WINDING:
            return dataclasses.replace(status, state=State.SLOWING)
        return status


class SlowsForEver(WrongBoard):
    name = "slows for ever"
    sentence = "From some turn on the board tells that it is slowing, and goes on at full speed."
    sees = "a spindle that is not at rest within the stopping time, though nobody said stop"
    needs_motor = True
    drives_on = True

    def alters(self, status: Status) -> Status | None:
        if self.struck and status.state is State.WINDING:
            return dataclasses.replace(status, state=State.SLOWING)
        return status


class RestsInWordsOnly(DeafToStop):
    name = "rests in words only"
    sentence = "The board answers a stop, tells that it is paused and not driven, and winds on."
    sees = "a count that rises at rest faster than a hand can turn"

    def alters(self, status: Status) -> Status | None:
        if not self.struck or status.state not in (State.WINDING, State.SLOWING):
            return status
        flags = status.flags & ~int(Flag.DRIVEN)
        return dataclasses.replace(status, state=State.PAUSED, flags=flags, rate_mcps=0)


class RestartsByItself(WrongBoard):
    name = "restarts by itself"
    sentence = "At a pause, the board begins to wind again though nobody said so."
    sees = "motion that nobody asked for"
    needs_motor = True
    drives_on = True
    rests = True

    def strike(self, status: Status) -> bool:
        if status.state is not State.PAUSED or not status.flags & Flag.LEASE_LIVE:
            return False
        self.command(Start(0, 0, 0, 0, status.generation))
        return True


class ExecutesTwice(RestartsByItself):
    name = "executes twice"
    sentence = "The board carries out the last start a second time, as soon as the first has ended."
    rests = False

    @property
    def due(self) -> bool:
        status = self.status
        return (
            not self.struck
            and self.machine.edges >= self.wrong.at_counts
            and status is not None
            and status.state is State.PAUSED
        )


MOTION_KINDS: tuple[type[WrongBoard], ...] = (
    AnothersWind,
    TimeRunsBack,
    ResetsInSecret,
    Overruns,
    CompleteTooEarly,
    IgnoresTheLease,
    DeafToStop,
    SlowsInWordsOnly,
    SlowsForEver,
    RestsInWordsOnly,
    RestartsByItself,
    ExecutesTwice,
)
