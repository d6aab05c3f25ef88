"""The course of one wind: what its parts stand on. It owns the account and the phase, and sends nothing by itself.

Parts (the list before the wind, motion, wire, turning back, readings, the end) read it, take deeds into the account,
tell the log, and put commands into the queue.
"""

from __future__ import annotations

from typing import Any

from firmware_protocol.messages import NO_LEG, Cut, Flag, Status, Stop
from firmware_protocol.settings import ReadSettings
from winder.clock import NS_PER_S
from winder.machine.model import MachineProfile
from winder.plan.model import Plan

from .account import Account
from .board import Board
from .commands import Build, CommandQueue
from .deeds import Deed, Drives, Place, Says
from .loading import LoadedLeg, drive_of, drives_traverse, has_direction_sense
from .log import EventLog
from .model import CountTruth, Phase
from .preparing import Preparation
from .schedule import Ahead
from .truth import turns_words, words
from .wire_place import WirePlace, WireWay

PACE_FULL = 1000
AT_ANY_TIME = (Stop, Cut, ReadSettings)  # said without a session too

RIGHTWARD = int(Flag.TRAVERSE_RIGHTWARD)


class Course:
    """One wind under way. ``account`` is the coil's, of earlier winds too."""

    def __init__(self, plan: Plan, machine: MachineProfile, wind: int, account: Account) -> None:
        assert wind != 0 and plan.legs
        self.plan = plan
        self.machine = machine
        self.wind = wind
        self.account = account
        self.phase = Phase.CONNECTING
        self.advice = ""  # said instead of the phase's own, until the phase changes
        self.now_ns = 0
        self.lays_by_guide = machine.motor and drives_traverse(plan)  # not a hand, at any target
        self.finished = False
        self.heard = False  # our wind is heard: nothing can have come since the last word
        self.board = Board(motor=machine.motor)
        goes_on = bool(account.entries or account.statements)
        self.preparation = Preparation(plan, wind, self.board, motor=machine.motor, goes_on=goes_on)
        self.commands = CommandQueue()
        self.log = EventLog()
        self.requests: list[Any] = []
        self.way = WireWay()  # where the wire lies, by the record
        self.view_is_stale = False  # what is shown of ohms and target has changed
        self._known: tuple[Account, Any, CountTruth] | None = None
        self._counted: tuple[Account | None, int] = (None, 0)

    # --- the count --------------------------------------------------------------------------

    def take(self, deed: Deed) -> None:
        """A deed into the account, and into the journal with the next event."""
        before, account = self.account, self.account.take(deed)
        if account is before:
            return
        self.account = account
        self.log.did(deed)
        if isinstance(deed, Says) and account.statements is not before.statements:
            self.tell(
                "count", self.words()
            )  # a number found its place: on record before a later word

    @property
    def truth(self) -> CountTruth:
        """The coil's count and how sure it is, now."""
        since_s, word_ns = None, self.board.word_ns
        if self.board.opened and not (self.heard or self.finished) and word_ns is not None:
            since_s = max(0, self.now_ns - word_ns) / NS_PER_S
        key = self.heard, since_s if not self.machine.motor else None
        known = self._known
        if known is None or known[0] is not self.account or known[1] != key:
            live, account = self.wind if self.heard else 0, self.account
            if known is not None and known[1] == key and account.counts_as(known[0], live):
                truth = known[2]
            else:
                truth = account.truth(live, since_s)
            known = self._known = (account, key, truth)
        return known[2]

    @property
    def count(self) -> int:
        """Of this wind, as the board last counted it; 0 until our wind is open."""
        if self._counted[0] is not self.account:
            entry = self.account.entry(self.wind)
            self._counted = (self.account, 0 if entry is None else entry.counted())
        return self._counted[1]

    @property
    def turns(self) -> float:
        """The best guess of the turns on the coil."""
        return self.truth.best / self.per_turn

    @property
    def per_turn(self) -> int:
        return self.plan.counts_per_turn

    @property
    def sense(self) -> bool:
        return has_direction_sense(self.machine, self.board.welcome)

    @property
    def place(self) -> Place | None:
        """Where a statement about now has its place; None while our wind is not heard."""
        return self.account.place if self.heard and self.account.entry(self.wind) else None

    @property
    def place_now(self) -> Place:
        return self.account.place or Place(self.wind, 0)

    @property
    def next_pause(self) -> tuple[int, str] | None:
        """The turn of the coil where the next pause is, and what for."""
        turns = self.turns + 1e-9
        return next(((at, why) for at, why in self.plan.pauses if at > turns), None)

    # --- the plan ---------------------------------------------------------------------------

    @property
    def loaded_leg(self) -> LoadedLeg | None:
        """The leg the wind is in, the last one beyond the end; None before the plan is loaded."""
        loaded, status = self.preparation.loaded, self.board.status
        if status is None or not loaded:
            return None
        if status.leg < len(loaded) and self.board.motor:
            return loaded[status.leg]
        return next((leg for leg in loaded if self.count < leg.end_count), loaded[-1])

    def ahead(self, pace_permille: int) -> Ahead | None:
        """Times to the next stop and to the end; None before the plan is loaded."""
        status = self.board.status
        leg = status.leg if status is not None and self.board.opened else NO_LEG
        return self.preparation.schedule.ahead(leg, self.count, pace_permille)

    def in_force(self) -> None:
        """The plan was taken by the board: by its legs is bounded what nobody hears."""
        self.preparation.in_force = True
        self.take(Drives(self.wind, drive_of(self.preparation.loaded, self.machine, self.board)))

    def note_wire(self, status: Status) -> None:
        """The guide laid wire up to here."""
        if self.lays_by_guide:
            rightward = bool(status.flags & RIGHTWARD)
            self.way.note(WirePlace(self.turns, status.traverse_um, rightward))

    def guide_facts(self) -> dict[str, Any]:
        """Of the newest status, for the journal: so the wire is found again in another wind."""
        status = self.board.status
        if status is None or not self.lays_by_guide:
            return {}
        rightward = bool(status.flags & RIGHTWARD)
        return {"guide_um": status.traverse_um, "rightward": rightward}

    # --- telling and asking -------------------------------------------------------------------

    def tell(self, kind: str, text: str, **facts: Any) -> None:
        self.log.tell(kind, self.now_ns, text, self.count, facts)

    def words(self) -> str:
        return words(self.truth, self.per_turn)

    def turns_words(self, counts: int) -> str:
        return turns_words(counts, self.per_turn)

    def do(self, *builds: Build) -> None:
        """Commands for the board, one after the other."""
        self.commands.put(*builds)
        self.send_next()

    def send_next(self) -> None:
        command = self.commands.next()
        if command is not None:
            self.requests.append(command)

    def give_up_commands(self) -> None:
        """Whoever was to answer is gone: nothing waits any more, and what was asked for just now is not sent."""
        self.commands.clear()
        self.commands.give_up()
        self.requests = [one for one in self.requests if isinstance(one, AT_ANY_TIME)]

    def ask_board(self, kind: type, *values: Any) -> None:
        """A command that carries boot, wind and revision as they are when its turn comes."""
        board, wind = self.board, self.wind
        self.commands.put(lambda: kind(0, board.boot, wind, board.revision, *values), kind=kind)
        self.send_next()
