"""The wind under way: messages and time in, messages and events out. No I/O, no clock, no thread.

What may happen in which phase stands in ``table.TABLE``; ``Beliefs.seen_in`` concludes from a status *what*
was seen, ``_go`` looks up where it leads, ``_enter`` does what the new phase asks for. A missing entry
changes nothing. Everything that moves the spindle passes ``ask``: only there a ``Start`` is made, and
motion that was not asked for is answered with stops until the board rests. Stops are repeated here too,
beside the host end, because a start that was on its way may arrive after the first stop.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from firmware_protocol.heard import Answered, Heard, Trouble, Troubled
from firmware_protocol.messages import (
    LEASE_MS,
    STOP_REPEAT_MS,
    State,
    Status,
    Welcome,
)
from winder.clock import NS_PER_MS
from winder.machine.model import MachineProfile
from winder.plan.model import Plan

from .answers import Answers
from .asking import intent_words, objection, plain_ohms, value_objection
from .beliefs import IN_MOTION
from .judge import DROPPED_MAX
from .laying import Laying
from .loading import has_direction_sense, unfitness
from .model import Asked, CountTruth, Estimate, Intent, Phase, SessionEvent, WindView
from .setting_up import SetUp
from .table import INTENTS_IN, Seen
from .truth import turns_words
from .viewing import Viewer
from .wording import reason_words

COMMIT_EVERY_NS = 400 * NS_PER_MS  # of the count; one status later it is still within half a second
UNHEARD_AFTER_NS = LEASE_MS * NS_PER_MS
STRANGE_MAX = 2  # statuses in a row of another boot or wind before they are believed
PACED_PHASES = frozenset((Phase.READY, Phase.WINDING, Phase.PAUSED))
UNREACHED = {
    Trouble.NO_WELCOME: "no board answers here; check port, cable and firmware, then try again",
    Trouble.OTHER_VERSION: "the board speaks another version of the protocol; load firmware that fits",
    Trouble.HELD: "another program winds with this board; end it there first",
}


class WindSession(Answers):
    """One wind. Feed it with ``hear``, ``ask`` and ``tick``; then take events, journal, take requests.

    ``earlier`` is the coil's truth before this wind; ``last_kept`` the number of the coil's last wind and
    the count at which ``earlier`` was on record, so that a board which knows that wind can say more.
    ``resistance(turns)`` gives nominal, low and high ohms at 20 C; ``last_settings_hash``
    the one of the coil's last wind, if any; ``window_mm`` is handed on to the view as it is. ``set_up``
    is the list to go through before anything is armed; without it nobody is asked. ``estimate`` learns
    what is measured on the way; with it ``resistance`` is not asked. ``laying`` knows
    where the wire lies, for the view.
    """

    def __init__(
        self,
        plan: Plan,
        machine: MachineProfile,
        *,
        wind: int,
        recipe_name: str,
        direction: str,
        layers: float,
        resistance: Callable[[float], tuple[float, float, float]] | None,
        earlier: CountTruth | None = None,
        last_kept: tuple[int, int] | None = None,
        cautions_accepted: bool = False,
        last_settings_hash: int | None = None,
        window_mm: tuple[float, float, float] | None = None,
        set_up: SetUp | None = None,
        estimate: Estimate | None = None,
        laying: Laying | None = None,
    ) -> None:
        super().__init__(plan, machine, wind, earlier, last_kept, set_up, estimate)
        self.cautions_accepted = cautions_accepted
        wanted = estimate.wanted_turns() if estimate is not None else None
        if wanted is not None and wanted != plan.target_turns:
            self.offered_turns = wanted  # by what was measured before this wind
        self._settings_hash = last_settings_hash  # by which the turns so far were counted
        self._met = False  # the first status after the first welcome was looked at
        self._strange = 0  # statuses in a row of another boot or wind
        self._rest_told = True
        self._may: tuple[Any, frozenset[Intent]] = ((), frozenset())
        self._laying = laying
        self._viewer = Viewer(
            self,
            recipe_name=recipe_name,
            direction=direction,
            layers=layers,
            resistance=estimate.resistance if estimate is not None else resistance,
            window_mm=window_mm,
            laying=laying,
        )

    # --- in and out -------------------------------------------------------------------------

    def take_events(self) -> list[SessionEvent]:
        """What is worth the journal. Commit it before sending what ``take_requests`` gives."""
        return self.diary.take()

    def take_requests(self) -> list[Any]:
        """Commands with token 0, one outstanding at a time; ``Stop()`` means stop now."""
        requests, self._requests = self._requests, []
        return requests

    def view(self, now_ns: int) -> WindView:
        return self._viewer.make(now_ns)

    def may(self) -> frozenset[Intent]:
        """The intents that ``ask`` takes now (with a fit value, where one goes with them)."""
        key = (
            self.phase,
            self.finished,
            self.leaving,
            self.closing,
            self.cautions_accepted,
            self.pace_permille,
            self.errands.idle,
            self.stopping,
            self.preparation.in_force,
            self.sense.wrong,
            self.wire_broke_at,
            self.offered_turns,
            self.unwinding,
            self.tally.can_vouch_unmoved(self.rocks),
            self._set_up_key(),
        )
        if self._may[0] != key:
            self._may = (
                key,
                frozenset(i for i in INTENTS_IN[self.phase] if not objection(self, i)),
            )
        return self._may[1]

    def hear(self, heard: Heard, now_ns: int) -> None:
        """Take one thing the host end reports."""
        if type(heard) is Status:
            self._hear_status(heard, now_ns)
        elif type(heard) is Answered:
            self._hear_answer(heard, now_ns)
        elif type(heard) is Troubled:
            self._hear_trouble(heard, now_ns)
        elif type(heard) is Welcome:
            self._hear_welcome(heard, now_ns)

    def tick(self, now_ns: int) -> None:
        """Let time pass: silence, stops to repeat, waits that end."""
        if self.finished:
            return
        if self.stopping and now_ns - self._stop_ns >= STOP_REPEAT_MS * NS_PER_MS:
            self._send_stop(now_ns)
        if self.heard_ns is not None and now_ns - self.heard_ns >= UNHEARD_AFTER_NS:
            self._go(Seen.SILENT, now_ns)
        if now_ns >= self._finish_by_ns:
            self._finish_unheard(now_ns)

    def ask(self, asked: Asked, now_ns: int) -> str:
        """Take an intent: "" if taken, else one plain sentence why not, and nothing has changed."""
        asked = plain_ohms(asked)
        intent = asked.intent
        reason = objection(self, intent) or value_objection(self, asked)
        if reason:
            return reason
        kind = "note" if intent is Intent.NOTE else "intent"
        value = {} if asked.value is None else {"value": asked.value}
        self._tell(kind, now_ns, intent_words(asked), intent=intent.value, by=asked.by, **value)
        self._obey(asked, now_ns)
        self._go(intent, now_ns)
        return ""

    # --- hearing ----------------------------------------------------------------------------

    def _hear_welcome(self, welcome: Welcome, now_ns: int) -> None:
        before, self.welcome = self.welcome, welcome
        self.errands.clear()
        self.errands.give_up()
        if before is not None and welcome.boot != before.boot:
            self._go(Seen.RESET, now_ns)
            return
        self.board.boot = welcome.boot
        self.heard_ns = now_ns
        self.tally.direction_sense = has_direction_sense(self.machine, welcome)
        facts = {"board": welcome.board, "boot": welcome.boot}
        facts["settings_hash"] = welcome.settings_hash
        self._tell("link", now_ns, f"board {welcome.board!r} answers", **facts)
        if before is None and self.set_up is not None and self.set_up.facing is not None:
            self._take_facing(self.set_up.top_by, now_ns)
        if self._met:
            self._compare_settings(welcome, now_ns)
        unfit = unfitness(self.plan, self.machine, welcome)
        if unfit:
            self._go(Seen.UNFIT, now_ns, unfit)
        else:
            self._go(Seen.UNSET if self.setting_up else Seen.WELCOMED, now_ns)

    def _hear_status(self, status: Status, now_ns: int) -> None:
        if self.welcome is None or self.finished:
            return
        if not self.opened and status.wind == self.wind and status.boot == self.board.boot:
            self._opened_now(now_ns)
        self._watch_sense(status, now_ns)
        before = self.status
        if status.boot != self.board.boot or (self.opened and status.wind != self.wind):
            if not (status.boot == self.board.boot and self.closing):
                self._hear_strange(status, now_ns)
                return
        elif self._strange:
            self._strange = 0
        if before is not None and before.wind == status.wind == self.wind:
            if not self.judge.believes(status, before):
                if self.judge.in_a_row < DROPPED_MAX:
                    return
                self._believe_in_doubt(status, before, now_ns)
            if status.count != before.count:
                self.edge_uptime_ms = status.uptime_ms
        else:
            self.edge_uptime_ms = status.uptime_ms
        self.status = status
        self.heard_ns = now_ns
        self.board.revision = status.revision
        self._look(status, before, now_ns)

    def _hear_strange(self, status: Status, now_ns: int) -> None:
        """A status of another boot or wind: believed when it comes twice, or after a lost session."""
        self._strange += 1
        if self._strange < STRANGE_MAX and self.phase is not Phase.BROKEN_OFF:
            return
        reset = status.boot != self.board.boot
        if self.phase is Phase.BROKEN_OFF:
            self._break_off(Seen.RESET if reset else Seen.TAKEN, now_ns)
        else:
            self._go(Seen.RESET if reset else Seen.TAKEN, now_ns)

    def _believe_in_doubt(self, status: Status, before: Status, now_ns: int) -> None:
        """The board keeps telling what cannot be: go on with its word, but the count is doubtful."""
        jump = status.count - before.count
        why = f"the board's count jumped by {jump}"
        down, up = max(jump, 0), max(-jump, 0)
        self.status = status
        self.judge.in_a_row = 0
        self.tally.doubt(self.count, self.rocks, down=down, up=up, why=why)
        self._tell("doubt", now_ns, f"{why}; {self._words()}")

    def _look(self, status: Status, before: Status | None, now_ns: int) -> None:
        """A status that is believed: what is new in it, where it leads, what is due."""
        if not self._met:
            self._met = True
            self._meet(status, now_ns)
        if self._laying is not None and self.opened:
            self._laying.see(self.count, status.traverse_um)
        rests = self.rests(status)
        if rests and not self.errands.start_outstanding:
            self.set_off = self.stopping = False
        if rests and not self.errands.step_outstanding:
            self.stepping = False
        if rests:
            self._rest_after_break(now_ns)
            if self.unwinding and not self.errands.move_outstanding:
                self._tell_unwound(status, now_ns)
        if before is not None and before.wind == status.wind:
            self._compare(status, before, now_ns)
        self._tell_rest(status, rests, now_ns)
        seen = self.seen_in(status)
        if seen is not None:
            self._go(seen, now_ns)
        if not rests:
            if now_ns - self._committed_ns >= COMMIT_EVERY_NS and self.opened:
                self._commit(now_ns)
        elif self.phase is Phase.BROKEN_OFF:
            self._break_off(None, now_ns)
        elif self.leaving and not self.errands.start_outstanding:
            self._finish("left", now_ns)
        if not self.finished and self.errands.outstanding is None:
            self._errand_due(status, now_ns)

    def _compare(self, status: Status, before: Status, now_ns: int) -> None:
        """Events by what changed between two statuses."""
        rocked = status.unattributed != before.unattributed and self.rocks
        if rocked and not self.tally.direction_sense:
            self._tell("doubt", now_ns, f"edges while nothing drove: {self._words()}")
        slows = status.state == State.SLOWING and self.phase is not Phase.SETTING_UP
        if slows and status.state != before.state:
            reason = reason_words(status.reason)
            self._tell("slowing", now_ns, f"slowing: {reason}", reason=int(status.reason))
        known = status.leg < len(self.preparation.loaded)
        if status.leg != before.leg and known and status.state in IN_MOTION:
            name = self.preparation.loaded[status.leg].leg.name
            self._tell("leg", now_ns, f"leg {status.leg + 1}: {name}", leg=status.leg)
        tripped = status.state == State.TRIPPED and self.opened
        if tripped and self.doubt_trip(status, before):
            self._tell("doubt", now_ns, f"count {self._words()}")

    def _commit(self, now_ns: int) -> None:
        assert self.status is not None
        self._committed_ns = now_ns
        turns = turns_words(self.tally.offset + self.count, self.plan.counts_per_turn)
        self._tell("count", now_ns, f"{turns} turns", leg=self.status.leg)

    def _tell_rest(self, status: Status, rests: bool, now_ns: int) -> None:
        told, self._rest_told = self._rest_told, rests
        if rests and not told and self.opened:
            reason = reason_words(status.reason)
            text = f"at rest ({reason}); {self._words()}"
            self._tell("at rest", now_ns, text, reason=int(status.reason))

    def _errand_due(self, status: Status, now_ns: int) -> None:
        again = self.errands.refreshed()
        if again is not None:
            self._requests.append(again)
        elif self.phase is Phase.PREPARING and self.errands.idle:
            self._prepare(status, now_ns)
        elif self._pace_sent != self.pace_permille and self.phase in PACED_PHASES:
            self._send_pace()

    def _meet(self, status: Status, now_ns: int) -> None:
        assert self.welcome is not None
        doubt = self.tally.meet(self.welcome, status)
        if doubt:
            self._tell("doubt", now_ns, f"earlier turns {self._words()}")
        self._compare_settings(self.welcome, now_ns)

    def _compare_settings(self, welcome: Welcome, now_ns: int) -> None:
        before, self._settings_hash = self._settings_hash, welcome.settings_hash
        if before not in (None, welcome.settings_hash):
            self.doubt_settings()
            self._tell("doubt", now_ns, f"count {self._words()}")

    def _prepare(self, status: Status, now_ns: int) -> None:
        if not self.rests(status):
            if not self.stopping:
                self._tell("link", now_ns, "the board still moves from before; it is stopped")
                self._stop(now_ns)
            return
        steps = self.preparation.steps(status, self.tally.offset)
        if steps:
            self._do(*steps)
        else:
            self._go(Seen.UNFIT, now_ns, "the coil has all its turns already; nothing to wind")

    def _hear_trouble(self, heard: Troubled, now_ns: int) -> None:
        trouble = heard.trouble
        command = self.errands.answered(heard.command)
        if trouble is Trouble.WITHDRAWN:
            self._withdrawn(command, now_ns)
            return
        self.errands.clear()
        if trouble in UNREACHED:
            self._go(Seen.UNREACHED, now_ns, UNREACHED[trouble])
        elif trouble is Trouble.SESSION_LOST:
            self.errands.give_up()
            self._go(Seen.TAKEN, now_ns, f"this wind is over: {heard.text or trouble.value}")
        else:
            if trouble is Trouble.LINK_LOST:
                self.errands.give_up()
            self._go(Seen.SILENT, now_ns)
            if trouble is Trouble.LINK_LOST and not self.finished:
                self._finish_by_ns = min(self._finish_by_ns, now_ns + self.rest_wait_ns())
