"""What the session asks of the board, and what a person's intents lead to. Still no I/O: a list of requests.

``Orders`` is the half of the session that wants something. It makes the only ``Start`` there is, repeats
stops, closes winds, sends the pace, and ends the run.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from firmware_protocol.messages import LEASE_MS, ClearTrip, CloseWind, Pace, Start, Stop
from winder.clock import NS_PER_S
from winder.machine.model import MachineProfile
from winder.plan.model import Plan

from .beliefs import MOVING_PHASES, PACE_STEP, Beliefs
from .loading import legs_of_wind
from .model import Asked, CountTruth, Estimate, Intent, Phase
from .setting_up import SetUp
from .truth import LEAST_RPM_S, is_sharp, words

LAST_WORD_NS = 3 * NS_PER_S  # wait for the board's last word: closing, leaving, a lost session
REACTION_S = 2.0  # from what happens to the key; our judgement, no source
FRESH_WORD_NS = NS_PER_S // 2  # ten statuses: one of them will come
FOREVER_NS = 1 << 62
# Whose end moves when the count is settled or turns come off; a tripped wind's once the trip is cleared.
RELOADED = (Phase.READY, Phase.PAUSED, Phase.TRIPPED)


class Orders(Beliefs):
    """Requests and events pile up here until the service takes them."""

    def __init__(
        self,
        plan: Plan,
        machine: MachineProfile,
        wind: int,
        earlier: CountTruth | None,
        last_kept: tuple[int, int] | None,
        set_up: SetUp | None = None,
        estimate: Estimate | None = None,
    ) -> None:
        super().__init__(plan, machine, wind, earlier, last_kept, set_up, estimate)
        self._requests: list[Any] = []
        self._pace_sent = self.pace_permille
        self._stop_ns = 0
        self._committed_ns = 0  # when the count was last told
        self._finish_by_ns = FOREVER_NS  # end the run then, whatever the board says
        self._leave_by_ns = FOREVER_NS

    # --- intents ----------------------------------------------------------------------------

    def _obey(self, asked: Asked, now_ns: int) -> None:
        intent = asked.intent
        if intent in (Intent.START, Intent.CONTINUE):
            self._start()
        elif intent is Intent.PAUSE:
            self._stop(now_ns)
        elif intent is Intent.END_HERE:
            self._close("here")
        elif intent is Intent.CLEAR_TRIP:
            self._clear_trip()
        elif intent is Intent.ACCEPT_CAUTIONS:
            self.cautions_accepted = True
        elif intent in (Intent.SLOWER, Intent.FASTER):
            self.pace_permille += PACE_STEP if intent is Intent.FASTER else -PACE_STEP
            self._send_pace()
        elif intent in (Intent.SETTLE_COUNT, Intent.VOUCH_UNMOVED):
            self._settle(asked, now_ns)
        elif intent is Intent.LEAVE:
            self._leave(now_ns)

    def _start(self) -> None:
        self.asked = True
        self.sense.begin(self.count)
        self.whole_until = self.count
        if not self.counter_only:
            self.set_off = True
            board, generation = self.board, self.preparation.generation
            self._do(lambda: Start(0, board.boot, self.wind, board.revision, generation))

    def _close(self, why: str) -> None:
        self.closing = why
        board = self.board
        self._do(lambda: CloseWind(0, board.boot, self.wind, board.revision))

    def _clear_trip(self) -> None:
        assert self.status is not None
        board, wind, trip = self.board, self.status.wind, self.status.trip
        self._do(lambda: ClearTrip(0, board.boot, wind, board.revision, trip))

    def _send_pace(self) -> None:
        """One at a time; the newest wish goes out when the one before is answered."""
        if self.errands.idle and self.pace_permille != self._pace_sent and not self.counter_only:
            self._pace_sent = pace = self.pace_permille
            board = self.board
            self._do(lambda: Pace(0, board.boot, self.wind, board.revision, pace))

    def _settle(self, asked: Asked, now_ns: int) -> None:
        if asked.intent is Intent.VOUCH_UNMOVED:
            self.tally.vouch_unmoved(asked.by, self.count, self.rocks)
        else:
            assert asked.value is not None
            counts = round(asked.value * self.plan.counts_per_turn)
            why = asked.text.strip() or "counted by the person"
            self.tally.settle(counts, asked.by, why, self.count, self.rocks)
        self._tell("settled", now_ns, f"count {self._words()}", by=asked.by)
        if self.phase in RELOADED:
            self._reload()
            self.whole_until = self.count

    def _reload(self, *, in_doubt: bool = False) -> None:
        """The coil shall still end on its turn: legs or target anew if the offset has changed.

        ``in_doubt``: by the best guess, for what came off shifts whatever the count is.
        """
        offset = self.tally.offset
        if self.preparation.offset == offset or not (in_doubt or is_sharp(self.truth)):
            return
        if legs_of_wind(self.plan, offset, self.count):
            self.preparation.in_force = False  # the next status leads to PREPARING
        else:
            self.advice = "the coil has all its turns already: end here"

    def _leave(self, now_ns: int) -> None:
        self.leaving = True
        driven = self.stepping or self.unwinding
        if self.was_moving or self.stopping or driven or self.phase in MOVING_PHASES:
            self._stop(now_ns)
            self._leave_by_ns = now_ns + self.rest_wait_ns()
            self._finish_by_ns = min(self._finish_by_ns, self._leave_by_ns)
        else:  # one status more, if one can come: the last count is the newest one
            deaf = self.status is None or self.phase in (Phase.UNHEARD, Phase.COMPLETE)
            self._finish_by_ns = min(self._finish_by_ns, now_ns + (0 if deaf else FRESH_WORD_NS))

    def rest_wait_ns(self) -> int:
        """Longest time to rest: the lease, slowing down from the fastest leg, and a margin."""
        slowing_s = max(
            leg.speed_rpm / max(leg.acceleration_rpm_s, LEAST_RPM_S) for leg in self.plan.legs
        )
        return round((1.5 * slowing_s + LEASE_MS / 1000) * NS_PER_S) + LAST_WORD_NS

    # --- sending ----------------------------------------------------------------------------

    def _do(self, *builds: Callable[[], Any]) -> None:
        self.errands.put(*builds)
        self._send_next()

    def _send_next(self) -> None:
        command = self.errands.next()
        if command is not None:
            self._requests.append(command)

    def _reacted_count(self) -> int:
        """The count when a person may have seen first what they answer to now."""
        rate = abs(self.status.rate_mcps) / 1000 if self.status is not None else 0.0
        return max(self.whole_until, self.count - round(rate * REACTION_S))

    def _stop(self, now_ns: int) -> None:
        if self.asked and self.phase in MOVING_PHASES:
            self.whole_until = self._reacted_count()
        self.asked = False
        self.stopping = True
        self._send_stop(now_ns)

    def _send_stop(self, now_ns: int) -> None:
        self._stop_ns = now_ns
        self._requests.append(Stop())

    def _tell(self, kind: str, now_ns: int, text: str, **facts: Any) -> None:
        self.diary.tell(kind, now_ns, text, count=self.count, truth=self.truth, **facts)

    def _words(self) -> str:
        return words(self.truth, self.plan.counts_per_turn)

    def _finish(self, how: str, now_ns: int) -> None:
        """The run is over: the last event, and no request after it but a stop."""
        if self.finished:
            return
        self.errands.clear()
        self._tell("ended", now_ns, f"run over, {how}; {self._words()}", how=how)
        self.finished = True
        self.stopping = False
