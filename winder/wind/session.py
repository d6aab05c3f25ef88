"""The wind under way: messages and time in, messages and events out. No I/O, no clock, no thread.

``WindSession`` is composed of parts, each with its own state (``course``, ``motion``, ``set_up``, ``wire``, ``readings``,
``ending``, ``watch``), and routes a message, an intent or a tick to them. What may happen in which phase, and under
which guards, stands in ``phases.TABLE``; ``seen.conclude`` says *what* was seen, ``_go`` looks up where it leads, and
``entering.enter`` does what the new phase asks for. Everything that moves the spindle passes ``ask``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from firmware_protocol.heard import Answered, Heard, Trouble, Troubled
from firmware_protocol.messages import Status, Welcome
from firmware_protocol.pedal import PedalStatus
from firmware_protocol.records import dataclass
from firmware_protocol.settings import Settings
from winder.clock import NS_PER_S
from winder.machine.model import MachineProfile
from winder.plan.model import Plan

from .account import Account, whole_counts
from .answers import answered, withdrawn
from .commands import STARTS
from .course import Course
from .deeds import COMMIT_GAP_S, Deed, Unmoved, Vouch
from .ending import LAST_WORD_NS, Ending
from .entering import enter
from .guards import fit
from .hearing import Hearing
from .laying import Laying
from .loading import legs_of_wind
from .model import Asked, Estimate, How, Intent, Phase, SessionEvent, WindView
from .motion import PACE_STEP, Motion
from .phases import INTENTS_IN, TABLE, Happening
from .readings import Readings
from .same_board import NOT_TOLD, SameBoard
from .seen import Seen, at_end
from .set_up import SetUp
from .set_up_list import SetUpList
from .storm import Storms
from .telling import tell_intent
from .viewing import Shown, Viewer
from .watch import Watch
from .wire import Wire
from .wire_place import WirePlace, WireWay
from .wording import not_now

UNHEARD_AFTER_NS = NS_PER_S
# Whose end moves when the count is settled or turns come off; a tripped wind's once the trip is cleared.
RELOADED = (Phase.READY, Phase.PAUSED, Phase.TRIPPED, Phase.TAKING_OFF)
# What ends the run once the complete wind is written down.
LAST_WORDS = (Seen.CLOSED, Seen.SILENT, Seen.RESET, Seen.TAKEN)
UNREACHED = {
    Trouble.NO_WELCOME: "no board answers; check port, cable and firmware, then try again",
    Trouble.OTHER_VERSION: "the board speaks another version of the protocol; load firmware that fits",
    Trouble.HELD: "another program is winding with this board; end it there first",
}


@dataclass(frozen=True, slots=True)
class Wound:
    """What a session is made of. ``account`` is the coil's so far; ``settings_hash`` the board's by which it was counted."""

    plan: Plan
    machine: MachineProfile
    wind: int
    account: Account
    shown: Shown
    todo: SetUpList | None = None  # the list to go through before anything is armed
    estimate: Estimate | None = None
    laying: Laying | None = None
    settings_hash: int | None = None
    board_number: int | None = None  # of the board that was greeted; None: it was not asked
    cautions_accepted: bool = False
    laid: tuple[WirePlace, ...] = ()  # where the guide laid the wire in earlier winds, turns rising
    deeds: tuple[Deed, ...] = ()  # what was said of the coil just now, by the person and the board


class WindSession:
    """One wind. Feed it with ``hear``, ``ask`` and ``tick``; then take events, journal, call ``recorded``, take requests."""

    def __init__(self, wound: Wound) -> None:
        self.course = Course(wound.plan, wound.machine, wound.wind, wound.account)
        self.course.way = WireWay(wound.laid)
        for deed in wound.deeds:
            self.course.take(deed)
        self.motion = Motion(self.course)
        self.wire = Wire(self.course, self.motion)
        self.set_up = SetUp(self.course, self.motion, wound.todo)
        self._find_wire()
        self.readings = Readings(self.course, wound.estimate)
        if wound.todo is not None and wound.todo.tension_cn is not None:  # it was said beforehand
            self.readings.set_tension(wound.todo.tension_cn)
        self.ending = Ending(self.course)
        self.watch = Watch(self.course, self.motion, self.wire, self.ending)
        self.storms = Storms(self.course)
        self.cautions_accepted = wound.cautions_accepted
        self.same_board = SameBoard(self.course, wound.board_number)
        self._lost_is_over = False  # but for the number of the board, which is asked
        self.hearing = Hearing(self, wound.settings_hash, wound.laying)
        self.told_ns = self._recorded_ns = (
            0  # when the newest count that was told, and is on record, was heard
        )
        self.early_turns = wound.shown.early_turns
        self._viewer = Viewer(self, wound.shown, wound.laying)

    def _find_wire(self) -> None:
        """A coil that goes on: its wire is not at the left flange, but where it was left."""
        place, todo = self.set_up.wire_place(), self.set_up.list
        self.course.preparation.wire = place
        if place is not None and todo is not None:
            way = "right" if place.rightward else "left"
            todo.wire_said = f"the wire is at {place.place_um / 1000:.2f} mm, going {way}"

    # --- in and out -------------------------------------------------------------------------

    @property
    def phase(self) -> Phase:
        return self.course.phase

    @property
    def finished(self) -> bool:
        return self.course.finished

    def take_events(self) -> list[SessionEvent]:
        """What is worth the journal. Commit it before sending what ``take_requests`` gives, then call ``recorded``."""
        events = self.course.log.take()
        if events:
            self.told_ns = self.course.board.heard_ns or 0
        return events

    def recorded(self, told_ns: int) -> None:
        """What ``take_events`` gave is on the disk, up to what had this mark (``told_ns``)."""
        self._recorded_ns = told_ns

    def take_requests(self) -> list[Any]:
        """Commands with token 0, one outstanding at a time; ``Stop()`` means stop now."""
        requests, self.course.requests = self.course.requests, []
        return requests

    def may_live(self, now_ns: int) -> bool:
        """Whether a sign of life may be sent: not in an alarm, and in motion only while the record is fresh."""
        if self.phase is Phase.ALARM:
            return False
        return not self.motion.may_move or now_ns - self._recorded_ns < COMMIT_GAP_S * NS_PER_S

    def view(self, now_ns: int) -> WindView:
        return self._viewer.make(now_ns)

    def may(self) -> frozenset[Intent]:
        """The intents that ``ask`` takes now (with a fit value, where one goes with them)."""
        return frozenset(intent for intent in INTENTS_IN[self.phase] if not self.objection(intent))

    def objection(self, intent: Intent) -> str:
        """Why this intent cannot be taken, whatever goes with it."""
        step = TABLE.get((self.phase, intent))
        if step is None:
            return not_now(self.phase, intent)
        return next((why for guard in step.guards if (why := guard(self))), "")

    def ask(self, asked: Asked, now_ns: int) -> str:
        """Take an intent: "" if taken, else one plain sentence why not, and nothing has changed."""
        self.course.now_ns = now_ns
        reason = self.objection(asked.intent) or fit(self, asked)
        if reason:
            return reason
        if asked.intent in (Intent.START, Intent.CONTINUE, Intent.PEDAL, Intent.TAKE_OFF):
            self.motion.say_moving(back=asked.intent is Intent.TAKE_OFF)
        tell_intent(self, asked)
        self._obey(asked)
        self.go(asked.intent)
        return ""

    def hear(self, heard: Heard, now_ns: int) -> None:
        """Take one thing the host end reports."""
        self.course.now_ns = now_ns
        if type(heard) is Status:
            self.hearing.status(heard)
        elif type(heard) is PedalStatus:
            self.motion.hear_pedal(heard)
        elif type(heard) is Answered:
            answered(self, heard)
        elif type(heard) is Troubled:
            self._hear_trouble(heard)
        elif type(heard) is Welcome:
            self.hearing.welcome(heard)
        elif type(heard) is Settings:
            self._hear_number(heard.number)

    def tick(self, now_ns: int) -> None:
        """Let time pass: silence, stops to repeat, waits that end."""
        course = self.course
        course.now_ns = now_ns
        if course.finished:
            return
        self.watch.tick()
        self.motion.tick()
        self.set_up.home.tick()
        if not self.same_board.tick():
            self._part(NOT_TOLD)
        heard_ns = course.board.heard_ns
        if heard_ns is not None and now_ns - heard_ns >= UNHEARD_AFTER_NS:
            self._fall_silent()
        if now_ns >= self.ending.by_ns:
            self._finish_unheard()

    def reopened(self, now_ns: int) -> None:
        """The port was lost and is open again; the board is being greeted anew."""
        self.course.now_ns = now_ns
        self.course.board.heard_ns = now_ns  # its silence is counted from here
        self.course.tell("link", "the port is open again; waiting for the board to say who it is")
        self.go(Seen.REOPENED)

    # --- intents ----------------------------------------------------------------------------

    def _obey(self, asked: Asked) -> None:
        obey = _OBEY.get(asked.intent)
        if obey is not None:
            obey(self, asked)
        elif asked.intent not in (Intent.NOTE, Intent.ACKNOWLEDGE):
            self.set_up.obey(asked)
        if asked.intent is Intent.ACKNOWLEDGE:
            self.course.tell("alarm", f"alarm acknowledged; {self.course.words()}", by=asked.by)
            self.watch.alarm = ""

    def set_tension(self, asked: Asked) -> None:
        self.set_up.obey(asked)
        assert isinstance(asked.value, float)
        self.readings.set_tension(asked.value)

    def accept_cautions(self, _: Asked) -> None:
        self.cautions_accepted = True

    def settle(self, asked: Asked) -> None:
        """A person vouches: by a number, or by having seen that the spindle stood."""
        course = self.course
        if asked.intent is Intent.VOUCH_UNMOVED:
            newest = course.account.newest
            uptime_ms = -1 if newest is None else newest.word.uptime_ms
            course.take(Unmoved(asked.by, course.place_now, uptime_ms))
        else:
            assert isinstance(asked.value, float)
            counts = whole_counts(asked.value, course.per_turn)
            why = "counted by the person"
            number = course.account.number(Vouch)
            course.take(Vouch(counts, course.per_turn, asked.by, why, course.place, number))
        course.tell("settled", f"count {course.words()}", by=asked.by)
        self._after_settling()

    def turns_off(self, asked: Asked) -> None:
        self.wire.turns_off(asked)
        self.set_up.wire_moved()
        self._after_settling()

    def _after_settling(self) -> None:
        """The coil shall still end on its turn: legs or target anew if the offset has changed."""
        course = self.course
        if course.phase not in RELOADED:
            return
        self.motion.whole_until = course.count
        offset = course.account.offset(course.wind)
        if course.preparation.offset == offset:
            return
        if legs_of_wind(course.plan, offset, course.count):
            course.preparation.in_force = False  # the next status leads to PREPARING
        else:
            course.advice = "the coil has all its turns already: end here"

    def wire_broke(self, _: Asked) -> None:
        self.wire.broke()
        self.set_up.wire_moved()

    def leave(self, _: Asked) -> None:
        motion = self.motion
        driven = self.set_up.stepping or self.wire.unwinding
        moving = motion.may_move or motion.stopping or driven or self.phase.moves
        if moving:
            motion.stop()
        self.ending.leave(moving=moving)

    def end_here(self, asked: Asked) -> None:
        if self.phase is Phase.TAKING_OFF:
            self.course.tell("note", f"kept as it is; {self.course.words()}", by=asked.by)
        self.ending.close(How.HERE)

    # --- phases -----------------------------------------------------------------------------

    def go(self, happening: Happening, advice: str = "") -> None:
        """Look up where a happening leads; a missing entry changes nothing."""
        step, course = TABLE.get((self.phase, happening)), self.course
        if step is None:
            return
        if step.to is not course.phase:
            before, course.phase = course.phase, step.to
            course.advice = advice
            enter(self, before, happening)
        elif step.to is Phase.COMPLETE and happening in LAST_WORDS and not course.finished:
            self.finish(How.COMPLETE)

    def finish(self, how: How) -> None:
        self.course.heard = False  # from now on; a wind that is closed needs no hearing
        if how is How.COMPLETE and at_end(self) is not Seen.COMPLETE:
            how, self.course.phase = How.LEFT, Phase.ENDED  # its last word was another
        self.set_up.give_up("nobody heard its end")
        self.ending.finish(how)
        self.motion.stopping = False

    def finish_lost(self) -> None:
        """As soon as it is known which board is there now."""
        self._lost_is_over = self.same_board.holds
        if self.same_board.holds:
            self.ending.wait_until(self.course.now_ns + LAST_WORD_NS)
        else:
            self.finish(How.LOST)

    def _hear_number(self, number: int) -> None:
        course, held = self.course, self.same_board.holds
        other = "" if course.finished else self.same_board.hear(number)
        if other:
            course.tell("link", other, other_number=number)
            self._part(other)
        elif held and self.phase is not Phase.LOST and course.board.welcome is not None:
            self.hearing.go_on(course.board.welcome)
        elif self._lost_is_over:
            self.finish(How.LOST)

    def _part(self, advice: str) -> None:
        """With the board that is at the port now, this wind does not go on."""
        self.go(Seen.OTHER, advice)
        if self.phase is Phase.LOST and not self.finished:
            self.course.advice = advice
            self.finish(How.LOST)

    def _finish_unheard(self) -> None:
        """A wait has ended without the board's last word."""
        if self.phase is Phase.COMPLETE:
            self.finish(How.COMPLETE)
        elif self.phase is Phase.LOST:
            self.finish(How.LOST)
        elif self.ending.leaving:
            self.finish(How.LEFT)
        else:
            self.go(Seen.GIVEN_UP)

    # --- trouble ----------------------------------------------------------------------------

    def _hear_trouble(self, heard: Troubled) -> None:
        trouble, commands = heard.trouble, self.course.commands
        command = commands.answered(heard.command)
        if trouble is Trouble.WITHDRAWN:
            withdrawn(self, command)
            return
        if type(command) in STARTS:
            self.motion.start_unanswered()
        commands.clear()
        if trouble in UNREACHED:
            if self.course.board.welcome is None:
                self.go(Seen.UNREACHED, UNREACHED[trouble])
            else:
                self._fall_silent()
        elif trouble is Trouble.SESSION_LOST:
            self.course.give_up_commands()
            self.go(Seen.TAKEN, f"this wind is over: {heard.text or trouble.value}")
        else:
            if trouble is Trouble.LINK_LOST:
                self.course.give_up_commands()
            self._fall_silent()

    def _fall_silent(self) -> None:
        """In an alarm too the count is not known any more."""
        self.course.heard = False
        self.go(Seen.SILENT)


_Obey = Callable[[WindSession, Asked], None]
_OBEY: dict[Intent, _Obey] = {
    Intent.START: lambda session, _: session.motion.start(),
    Intent.CONTINUE: lambda session, _: session.motion.start(),
    Intent.PEDAL: lambda session, _: session.motion.start_by_pedal(),
    Intent.PAUSE: lambda session, _: session.motion.stop(),
    Intent.CUT: lambda session, _: session.motion.cut(),
    Intent.END_HERE: WindSession.end_here,
    Intent.CLEAR_TRIP: lambda session, _: session.motion.clear_trip(),
    Intent.ACCEPT_CAUTIONS: WindSession.accept_cautions,
    Intent.SET_TENSION: WindSession.set_tension,
    Intent.SLOWER: lambda session, _: session.motion.change_pace(-PACE_STEP),
    Intent.FASTER: lambda session, _: session.motion.change_pace(PACE_STEP),
    Intent.SETTLE_COUNT: WindSession.settle,
    Intent.VOUCH_UNMOVED: WindSession.settle,
    Intent.LEAVE: WindSession.leave,
    Intent.WIRE_BROKE: WindSession.wire_broke,
    Intent.WIRE_JOINED: lambda session, asked: session.wire.mended(asked),
    Intent.WIRE_WHOLE: lambda session, asked: session.wire.mended(asked),
    Intent.TURNS_OFF: WindSession.turns_off,
    Intent.TAKE_OFF: lambda session, asked: session.wire.unwind(asked),
    Intent.MEASURED: lambda session, asked: session.readings.take(asked),
    Intent.ADOPT_TURNS: lambda session, asked: session.readings.adopt(asked),
}
