"""Where the wind stands: happenings looked up in the table, and what entering a phase asks for.

``_go`` is the only place that changes the phase. Entering a phase tells the journal, stops what nobody
asked for, and closes or ends what is over.
"""

from __future__ import annotations

from firmware_protocol.messages import Trip
from winder.clock import NS_PER_S

from .beliefs import RESTING_PHASES
from .model import Phase
from .orders import LAST_WORD_NS, Orders
from .table import TABLE, Happening, Seen
from .wording import trip_words

GIVE_UP_NS = 60 * NS_PER_S  # a board that is not heard for so long ends the run
# What ends the run once the complete wind is written down.
LAST_WORDS = frozenset((Seen.CLOSED, Seen.SILENT, Seen.RESET, Seen.TAKEN))


class Phases(Orders):
    """The transition table at work."""

    def _go(self, happening: Happening, now_ns: int, advice: str = "") -> None:
        """Look up where a happening leads; a missing entry changes nothing."""
        after = TABLE.get((self.phase, happening))
        if after is None:
            return
        if after is not self.phase:
            before, self.phase = self.phase, after
            self.advice = advice
            self._enter(before, happening, now_ns)
        elif after is Phase.COMPLETE and happening in LAST_WORDS and not self.finished:
            self._finish("complete", now_ns)

    def _enter(self, before: Phase, happening: Happening, now_ns: int) -> None:
        phase = self.phase
        if before is Phase.UNHEARD and phase is not Phase.BROKEN_OFF:
            self._finish_by_ns = self._leave_by_ns
            self._tell("link", now_ns, "the board is heard again")
        if phase in RESTING_PHASES:
            self.asked = False
        if phase is Phase.WINDING:
            self._committed_ns = now_ns
            leg = self.status.leg if self.status is not None else 0
            self._tell("started", now_ns, "winding", leg=leg)
        elif happening is Seen.UNASKED:
            self._tell("doubt", now_ns, "the board moves and nobody asked for it; it is stopped")
            self._stop(now_ns)
        elif phase is Phase.TRIPPED:
            self._enter_tripped(now_ns)
        elif phase is Phase.COMPLETE:
            self._enter_complete(now_ns)
        elif phase is Phase.UNHEARD:
            self._enter_unheard(now_ns)
        elif phase is Phase.BROKEN_OFF:
            self._enter_broken_off(happening, now_ns)
        elif phase is Phase.ENDED:
            self._finish("here", now_ns)

    def _enter_tripped(self, now_ns: int) -> None:
        assert self.status is not None
        self.errands.clear()
        trip = self.status.trip
        self._tell("trip", now_ns, f"trip: {trip_words(trip)[0]}; {self._words()}", trip=int(trip))
        if trip == Trip.WIRE_LOST and self.wire_broke_at is None:
            self.wire_broke_at = (self.tally.offset + self.count) / self.plan.counts_per_turn
            self._tell("wire", now_ns, f"wire broke at about turn {self.wire_broke_at:.0f}")

    def _enter_complete(self, now_ns: int) -> None:
        """At rest at the end: write it down, and close the wind so that nothing can start it."""
        overrun = self.count - self.preparation.target_count
        self.asked = False
        self.finding = ""  # it spoke of what was still to be done
        self._tell("complete", now_ns, f"complete; {self._words()}", overrun=overrun)
        self._close("complete")
        self._finish_by_ns = now_ns + LAST_WORD_NS

    def _enter_unheard(self, now_ns: int) -> None:
        """A motion that nobody sees is ended from here too, should the board still hear us."""
        self._tell("link", now_ns, f"the board is not heard; {self._words()}")
        self.errands.clear()
        self._finish_by_ns = min(self._finish_by_ns, now_ns + GIVE_UP_NS)
        if self.was_moving or self.asked or self.stepping or self.unwinding:
            self._stop(now_ns)

    def _enter_broken_off(self, happening: Happening, now_ns: int) -> None:
        if happening is Seen.TAKEN and self.opened:
            self._finish_by_ns = now_ns + LAST_WORD_NS  # a last status says what became of the wind
            if self.was_moving:
                self._stop(now_ns)
        else:
            self._break_off(happening, now_ns)

    def _break_off(self, happening: Happening | None, now_ns: int) -> None:
        """The wind is over without its end: what is left is what the count may be.

        ``None``: the board was seen at rest with our wind, and nothing is in doubt.
        """
        if happening is Seen.RESET:
            welcome = self.welcome
            fresh = welcome is not None and welcome.boot != self.board.boot
            self.doubt_reset(welcome if fresh else None)
            self._tell("doubt", now_ns, f"the board was reset; {self._words()}")
        elif happening in (Seen.TAKEN, Seen.GIVEN_UP) and self.opened:
            self.doubt_unheard("the board was not heard to come to rest")
            self._tell("doubt", now_ns, f"the wind was lost; {self._words()}")
        self._finish("broken off", now_ns)

    def _finish_unheard(self, now_ns: int) -> None:
        """A wait has ended without the board's last word."""
        if self.phase is Phase.COMPLETE:
            self._finish("complete", now_ns)
        elif self.phase is Phase.BROKEN_OFF:
            self._break_off(Seen.TAKEN, now_ns)
        elif self.leaving:
            self.doubt_unheard("the board was not heard to come to rest")
            self._finish("left", now_ns)
        else:
            self._go(Seen.GIVEN_UP, now_ns)
