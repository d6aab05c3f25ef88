"""The account of a coil's count: the one object that owns it, and the only place where counts are added.

One *entry* for each wind number holds the board's latest word; beside the entries stand *statements*, in the order
in which they were made: doubts, numbers that a person vouched for, turns that came off, looks that found the wire
whole or the spindle unmoved. A later word replaces an earlier one and a statement its namesake; nothing is ever added
as a difference, so nothing can be added twice. What the board *kept* of its last rest is evidence, not a word. What
may have come since the last word is computed when somebody asks, and never stored.

An account changes by *deeds*, which are plain values: ``account.take(deed)``. The journal keeps the deeds, and taking
them again in their order gives the same account: live, after a crash, and next year. ``truth`` is what everybody shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from firmware_protocol.records import dataclass

from .deeds import (
    COMMIT_GAP_S,
    HAND_RPM,
    LEASE_S,
    PERSON,
    TOUCH_TURNS,
    UNDRIVEN_MAX,
    Brought,
    Deed,
    Doubt,
    Drives,
    Entry,
    Keeps,
    Opens,
    Place,
    Says,
    Statement,
    TakenOff,
    Unmoved,
    Vouch,
    WireWhole,
)
from .truth import OPEN, CountTruth, made_truth

TURNED_MEANWHILE = "the spindle may have been turned while nobody counted"
RAN_ON = "the board was not heard to come to rest"
LOST_COMMITS = "the board had counted more than was recorded"
TURNED_BY_HAND = "turned by hand, in one direction only"
TAKEN_OFF = "turns were taken off by hand"
UNMOVED = "the spindle was not turned meanwhile"
SOONER = "edges came sooner than a spindle can turn, or pulses were too short"
COUNTER_FULL = "the board's counter of undriven edges is full"


@dataclass(frozen=True, slots=True)
class Account:
    """One coil's. ``per_turn``: counts a turn by which it is told."""

    per_turn: int
    entries: tuple[Entry, ...] = ()
    statements: tuple[Statement, ...] = ()

    # --- deeds ------------------------------------------------------------------------------

    def take(self, deed: Deed) -> Account:
        """The account after a deed. What says nothing new changes nothing."""
        if isinstance(deed, Opens):
            if self.entry(deed.wind) is not None:
                return self
            fresh = Entry(deed.wind, deed.boot, deed.per_turn, deed.sense, deed.driven)
            account = replace(self, per_turn=deed.per_turn, entries=(*self.entries, fresh))
            return account._placed(Place(deed.wind, 0))
        if isinstance(deed, Says):
            return self._said(deed)
        if isinstance(deed, Drives):
            return self._changed(deed.wind, drive=deed.drive)
        if isinstance(deed, Keeps):
            return self._changed(deed.wind, kept=(deed.count, deed.at_rest))
        account = self
        if isinstance(deed, Vouch | Brought):
            account = replace(self, per_turn=deed.per_turn)
        if isinstance(deed, Vouch) and deed.place is None:  # one that has found its place keeps it
            same = (said for said in account.statements if said.name == deed.name)
            deed = next((said for said in same if isinstance(said, Vouch)), deed)
        others = tuple(said for said in account.statements if said.name != deed.name)
        return replace(account, statements=(*others, deed))

    def take_all(self, deeds: Iterable[Deed]) -> Account:
        """The account after these deeds, in their order."""
        account = self
        for deed in deeds:
            account = account.take(deed)
        return account

    def _said(self, deed: Says) -> Account:
        entry, word = self.entry(deed.wind), deed.word
        if entry is None or entry.final or not entry.may_follow(word.uptime_ms):
            return self
        account = self._with(entry.saying(word, final=deed.final))
        if (
            not account.statements or word.uptime_ms == entry.word.uptime_ms
        ):  # the latter: looked at anew
            return account
        return account._placed(Place(deed.wind, word.count, word.undriven, word.sooner))

    def _changed(self, wind: int, **facts: object) -> Account:
        entry = self.entry(wind)
        if entry is None:
            return replace(self)
        return self._with(replace(entry, **facts))  # type: ignore[arg-type]

    def _with(self, changed: Entry) -> Account:
        """The entry of its wind, anew."""
        entries = self.entries
        if entries[-1].wind == changed.wind:
            return Account(self.per_turn, (*entries[:-1], changed), self.statements)
        anew = tuple(changed if entry.wind == changed.wind else entry for entry in entries)
        return Account(self.per_turn, anew, self.statements)

    def _placed(self, place: Place) -> Account:
        """A number that waited for a word has its place now."""
        if not any(isinstance(said, Vouch) and said.place is None for said in self.statements):
            return self
        return replace(
            self,
            statements=tuple(
                replace(said, place=place)
                if isinstance(said, Vouch) and said.place is None
                else said
                for said in self.statements
            ),
        )

    def number(self, kind: type[Vouch] | type[TakenOff]) -> int:
        """For the next statement of this kind: how many there are."""
        return sum(isinstance(said, kind) for said in self.statements)

    # --- questions --------------------------------------------------------------------------

    def entry(self, wind: int) -> Entry | None:
        for entry in reversed(self.entries):
            if entry.wind == wind:
                return entry
        return None

    @property
    def newest(self) -> Entry | None:
        return self.entries[-1] if self.entries else None

    @property
    def place(self) -> Place | None:
        """Where the newest wind stands, by the board's latest word; None before the first."""
        entry = self.newest
        if entry is None:
            return None
        return Place(entry.wind, entry.word.count, entry.word.undriven, entry.word.sooner)

    def truth(self, live: int = 0, since_s: float | None = None) -> CountTruth:
        """Counts of the coil and how sure they are. ``live``: the wind that is heard now; ``since_s``: how long the
        newest one was not heard, where that is known (it bounds what a hand can have turned)."""
        return _Sum(self, live, since_s).truth()

    def counts_as(self, other: Account, live: int) -> bool:
        """Whether another account's truth is this one's too: the same, but that the wind heard was heard again."""
        if self.statements is not other.statements or not self.entries or not other.entries:
            return False
        entry, before = self.entries[-1], other.entries[-1]
        if self.entries[:-1] != other.entries[:-1] or not entry.wind == before.wind == live:
            return False
        word, said = entry.word, before.word
        now, then = (
            (word.count, word.undriven, word.sooner),
            (said.count, said.undriven, said.sooner),
        )
        return now == then

    def offset(self, wind: int) -> int:
        """The coil's best count where this wind's is zero: by it the legs are loaded."""
        entry = self.entry(wind)
        return self.truth(wind).best - (entry.counted() if entry is not None else 0)

    def can_vouch_unmoved(self, live: int) -> bool:
        """Whether it would settle something to know that the spindle was not turned."""
        return _Sum(self, live, None).unmoved_would_settle


class _Sum:
    """The one addition: the last number vouched for, and what every entry counted beyond it."""

    def __init__(self, account: Account, live: int, since_s: float | None) -> None:
        self.low, self.best, self.high = 0, 0, 0
        self.by, self.why = "", ""
        self.doubts: list[str] = []
        self.unmoved_would_settle = False
        self._account, self._live, self._since_s = account, live, since_s
        self._vouch: Vouch | None = None
        self._look: Unmoved | None = None
        after = self._begin_with(account.statements) if account.statements else ()
        for entry in self._entries_beyond():
            self._add(entry)
        for at, one in enumerate(after):
            if isinstance(one, Doubt) and not self._taken_back(one, after[at + 1 :]):
                self._doubt(one)
            elif isinstance(one, TakenOff):
                self._take_off(one)
        if self._look is not None and not self.by:
            self.by, self.why = self._look.by, UNMOVED

    def _begin_with(self, said: tuple[Statement, ...]) -> tuple[Statement, ...]:
        """The last number vouched for, or what was brought; what was said after it."""
        vouches = [at for at, one in enumerate(said) if isinstance(one, Vouch)]
        after = said[vouches[-1] + 1 :] if vouches else said
        self._vouch = said[vouches[-1]] if vouches else None  # type: ignore[assignment]
        if self._vouch is not None:
            self.low = self.best = self.high = self._vouch.counts
            self.by, self.why = self._vouch.by, self._vouch.why
        else:
            self._bring(next((one for one in said if isinstance(one, Brought)), None))
        looks = [at for at, one in enumerate(after) if isinstance(one, Unmoved)]
        self._look = after[looks[-1]] if looks else None  # type: ignore[assignment]
        return after

    def _bring(self, brought: Brought | None) -> None:
        if brought is None:
            return
        known = made_truth(brought.low, brought.best, brought.high)
        self.low, self.best, self.high = known.low, known.best, known.high
        self.by = brought.by
        if not known.is_sharp:
            self.doubts.append(brought.why)
        else:
            self.why = brought.why

    def truth(self) -> CountTruth:
        why = "; ".join(dict.fromkeys(self.doubts)) or self.why
        return made_truth(self.low, self.best, self.high, self.by, why)

    def _entries_beyond(self) -> tuple[Entry, ...]:
        entries, vouch = self._account.entries, self._vouch
        if vouch is None:
            return entries
        if vouch.place is None:  # nothing was heard since
            return ()
        winds = [entry.wind for entry in entries]
        return entries[winds.index(vouch.place.wind) :] if vouch.place.wind in winds else ()

    def _begin(self, entry: Entry) -> Place:
        """The place from which this entry counts."""
        vouch = self._vouch
        if vouch is not None and vouch.place is not None and vouch.place.wind == entry.wind:
            return vouch.place
        return Place(entry.wind, 0)

    def _add(self, entry: Entry) -> None:
        begin, word = self._begin(entry), entry.word
        counts = entry.counted() - entry.counted(begin)
        self.low += counts
        self.best += counts
        self.high += counts
        self._add_undriven(entry, begin, counts)
        sooner = word.sooner - begin.sooner
        if sooner > 0:
            self._widen(sooner, sooner, SOONER)
        if entry.wind != self._live and not entry.final:
            self._add_unheard(entry)

    def _add_undriven(self, entry: Entry, begin: Place, counts: int) -> None:
        if entry.word.undriven >= UNDRIVEN_MAX:
            self._widen(UNDRIVEN_MAX if entry.driven else 0, OPEN, COUNTER_FULL)
        elif entry.by_hand:
            if counts > 0 and not self.by:
                self.by, self.why = PERSON, TURNED_BY_HAND
        else:  # a sensor that knows the direction tells none, unless it missed one or does not know it
            edges = max(entry.word.undriven - begin.undriven, 0) - self._explained(entry)
            if edges > 0:
                self.unmoved_would_settle = True
                number = "1 edge" if edges == 1 else f"{edges} edges"
                self._widen(edges, edges, f"{number} came while nothing drove the spindle")

    def _explained(self, entry: Entry) -> int:
        """Undriven edges of this entry that a person has accounted for since the number they vouched for."""
        vouch_at = self._account.statements.index(self._vouch) if self._vouch else -1
        explained = 0
        for said in self._account.statements[vouch_at + 1 :]:
            if isinstance(said, TakenOff) and said.place.wind == entry.wind:
                explained += said.explains
            elif isinstance(said, Unmoved) and said.place.wind == entry.wind:
                explained = said.place.undriven - self._begin(entry).undriven
        return explained

    def _add_unheard(self, entry: Entry) -> None:
        """What may have come since the last word: computed, never stored."""
        word, turn = entry.word, TOUCH_TURNS * entry.per_turn
        if entry.kept is not None and self._add_kept(entry, *entry.kept):
            return
        if not entry.driven:
            most = OPEN
            if self._since_s is not None and entry is self._account.newest:
                most = math.ceil(HAND_RPM / 60 * entry.per_turn * self._since_s) + turn
            self._widen(most if entry.sense else turn, most, TURNED_MEANWHILE)
        elif not word.moving:
            self._settle_or_widen(entry, turn, turn)
        elif word.back:
            back = entry.drive.reach_back(entry.per_turn, COMMIT_GAP_S + LEASE_S)
            self._widen(back, turn, RAN_ON)
        else:
            reach = entry.drive.reach(word.count, entry.per_turn, COMMIT_GAP_S + LEASE_S)
            self._widen(0, reach, RAN_ON)

    def _add_kept(self, entry: Entry, kept: int, at_rest: bool) -> bool:
        """Evidence of the last rest; whether it bounds what came after the last word."""
        word, turn = entry.word, TOUCH_TURNS * entry.per_turn
        beyond = kept - word.count
        if entry.by_hand:
            beyond = kept - entry.counted()
        if not at_rest:
            if beyond > 0:  # commits were lost: it goes on from there
                unseen_s, drive = COMMIT_GAP_S + LEASE_S, entry.drive
                more = drive.reach(kept, entry.per_turn, unseen_s) if entry.driven else 0
                self._widen(0, beyond + more, LOST_COMMITS)
            return False
        if word.moving or not entry.driven:
            if (beyond > 0 and word.back) or (beyond < 0 and not word.back and entry.driven):
                return False
            self.low += beyond
            self.best += beyond
            self.high += beyond
        else:
            self._widen(max(-beyond, 0), max(beyond, 0), TURNED_MEANWHILE)
        self._settle_or_widen(entry, turn, turn)
        return True

    def _settle_or_widen(self, entry: Entry, down: int, up: int) -> None:
        """A turn either way, unless a person saw the spindle stand after the last word."""
        look = self._look
        if look is not None:
            winds = [one.wind for one in self._account.entries]
            at = winds.index(look.place.wind) if look.place.wind in winds else len(winds)
            here = entry.wind == look.place.wind and entry.word.uptime_ms == look.uptime_ms
            if here or at > winds.index(entry.wind):
                return
        self.unmoved_would_settle = True
        self._widen(down, up, TURNED_MEANWHILE)

    def _taken_back(self, doubt: Doubt, later: tuple[Statement, ...]) -> bool:
        if doubt.of_wire and any(isinstance(one, WireWhole) for one in later):
            return True
        return doubt.unmoved and any(isinstance(one, Unmoved) for one in later)

    def _doubt(self, doubt: Doubt) -> None:
        """A vouch cuts a doubt at its place."""
        begin, down = self._vouch.place if self._vouch else None, doubt.down
        if begin is not None and begin.wind == doubt.end.wind and doubt.start.count < begin.count:
            down = min(down, max(0, doubt.end.count - begin.count))
        self.unmoved_would_settle |= doubt.unmoved
        if down or doubt.up:
            self._widen(down, doubt.up, doubt.why)

    def _take_off(self, off: TakenOff) -> None:
        self.low -= off.counts
        self.best -= off.counts
        self.high -= off.counts
        if not self.by:
            self.by, self.why = off.by, TAKEN_OFF

    def _widen(self, down: int, up: int, why: str) -> None:
        self.low -= max(0, down)
        self.high = min(self.high + max(0, up), OPEN)
        self.doubts.append(why)


def whole_counts(turns: float, per_turn: int) -> int:
    """Counts of so many turns, as a person said them."""
    return round(Fraction(turns) * per_turn)
