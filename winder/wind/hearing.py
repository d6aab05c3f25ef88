"""What is heard of the board: its welcome, every status, and what it still knows of earlier winds.

A status that follows the one before becomes the board's word in the account, with its doubt where it moved as no spindle
can; then is said what is new in it, where it leads, and what is due.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from firmware_protocol.messages import (
    NO_WIND,
    Kept,
    Move,
    Start,
    State,
    Status,
    Welcome,
)
from winder.clock import NS_PER_MS

from .account import Account
from .deeds import Deed, Doubt, Keeps, Opens, Place, Says, Word
from .guards import WRONG_WAY
from .laying import Laying
from .loading import unfitness
from .model import How, Intent, Phase
from .seen import Seen, conclude
from .sense import Sense
from .telling import tell_changes, tell_rest
from .watch import FROZEN_S, Follows

if TYPE_CHECKING:
    from .session import WindSession

COMMIT_EVERY_NS = 400 * NS_PER_MS  # of the count; one status later it is still within half a second
STRANGE_MAX = 2  # statuses in a row of another boot or wind before they are believed
PACED_PHASES = (Phase.READY, Phase.PEDAL, Phase.WINDING, Phase.PAUSED)
BEFORE_OPEN = "the spindle turned before this wind was open"
OTHER_SETTINGS = "the board's settings for counting have changed"


def evidence(account: Account, welcome: Welcome, status: Status | None) -> list[Deed]:
    """What a board that forgot a wind of this account kept of its last rest in it."""
    entry = account.entry(welcome.kept_wind)
    if entry is None or entry.final or not welcome.kept_flags & Kept.VALID:
        return []
    if status is not None and status.wind == entry.wind and welcome.boot == entry.boot:
        return []
    return [Keeps(entry.wind, welcome.kept_count, bool(welcome.kept_flags & Kept.AT_REST))]


class Hearing:
    """``met``: the first status after the first welcome was looked at; ``committed_ns``: when the count was last told."""

    def __init__(
        self, session: WindSession, settings_hash: int | None, laying: Laying | None
    ) -> None:
        self._session = session
        self._settings_hash = settings_hash  # by which the turns so far were counted
        self._laying = laying
        self.met = self.welcomed = False
        self.committed_ns = 0
        self._strange = 0  # statuses in a row of another boot or wind
        self._rest_told = True

    def welcome(self, welcome: Welcome) -> None:
        course, board = self._session.course, self._session.course.board
        before, board.welcome = board.welcome, welcome
        course.give_up_commands()
        if before is not None and welcome.boot != before.boot:
            self._session.go(Seen.RESET)
            return
        if before is not None and self._session.same_board.meet_again():
            return  # until it has told its number
        self._session.same_board.meet()
        self.go_on(welcome)

    def go_on(self, welcome: Welcome) -> None:
        """It is the board that it should be, as far as anyone can tell."""
        course, board = self._session.course, self._session.course.board
        board.boot = welcome.boot
        board.heard_ns = course.now_ns
        facts = {
            "board": welcome.board,
            "boot": welcome.boot,
            "settings_hash": welcome.settings_hash,
        }
        course.tell("link", f"board {welcome.board!r} answers", **facts)
        if not self.welcomed and self._session.set_up.list is not None:
            self._session.set_up.take_facing(self._session.set_up.list.top_by)
        self.welcomed = True
        if self.met:
            self._compare_settings(welcome)
        unfit = unfitness(course.plan, course.machine, welcome)
        if unfit:
            self._session.go(Seen.UNFIT, unfit)
        else:
            self._session.go(Seen.UNSET if self._session.set_up.pending else Seen.WELCOMED)

    def status(self, status: Status) -> None:
        course, board = self._session.course, self._session.course.board
        if board.welcome is None or course.finished:
            return
        if self._session.same_board.holds and self._session.phase is not Phase.LOST:
            board.heard_ns = course.now_ns
            return
        before = board.status
        if status.boot != board.boot:
            self._hear_strange(reset=True)
            return
        if not board.opened and status.wind == course.wind:
            self.opened_now()
            before = None
        if board.opened and status.wind != course.wind and not self._session.ending.closing:
            self._hear_strange(reset=False)
            return
        follows = self._session.watch.follows(status, before)
        if follows is Follows.OLD:
            self._hear_old()
            return
        self._strange = 0
        if follows is Follows.RESET:
            self._session.go(Seen.RESET)
            return
        closing = self._session.ending.closing is not None
        if before is not None and before.wind != status.wind and not closing:
            before = None
        if before is None or status.count != before.count:
            board.edge_uptime_ms = status.uptime_ms
        board.status = status
        board.heard_ns = board.word_ns = course.now_ns
        board.revision = status.revision
        self._look(status, before)

    def _hear_old(self) -> None:
        """What was said before; a board that says nothing else is not heard."""
        board = self._session.course.board
        news = self._session.course.heard or board.motor  # a counter raises no alarm
        if self._session.watch.frozen and board.opened and news and not self._session.watch.alarm:
            self._session.course.heard = False
            self._session.watch.clock_stands()
            self._session.course.tell(
                "doubt",
                f"the board has said nothing new for {FROZEN_S:g} s; {self._session.course.words()}",
            )
            self._session.go(Seen.DISOBEYED if self._session.course.board.motor else Seen.SILENT)

    def _hear_strange(self, *, reset: bool) -> None:
        """A status of another boot or wind: believed when it comes twice, or after a lost session."""
        self._strange += 1
        if self._strange < STRANGE_MAX and self._session.phase is not Phase.LOST:
            return
        if self._session.phase is Phase.LOST:
            self._session.finish_lost()
        else:
            self._session.go(Seen.RESET if reset else Seen.TAKEN)

    def _look(self, status: Status, before: Status | None) -> None:
        """A status that is believed: what is new in it, where it leads, what is due."""
        course = self._session.course
        if not self.met:
            self.met = True
            self._meet(status)
        rests = course.board.rests(status)
        if course.board.opened:
            self._count(status, before, rests=rests)
        elif before is not None:
            counts, edges = status.count - before.count, status.unattributed - before.unattributed
            self._turned_before_open(abs(counts) + abs(edges))
        self._session.motion.look(rests=rests)
        if rests:
            self._look_at_rest(status)
        if not course.board.opened:
            self._bid_farewell(status)
        self._session.watch.look_at_conduct(status, before)
        self._watch_sense(status)
        tell_changes(self._session, status, before)
        self._tell_rest(status, rests)
        seen = conclude(self._session, status)
        if seen is not None:
            self._session.go(seen)
        self._due(status, rests=rests)

    def _count(self, status: Status, before: Status | None, *, rests: bool) -> None:
        """The board's word into the account, with its doubt."""
        course, closed = self._session.course, status.wind == NO_WIND
        moving = (
            not rests
            or self._session.motion.by_pedal  # a foot may set it off before the next word
            or course.commands.is_outstanding(Start)
            or course.commands.is_outstanding(Move)
        )
        back = self._session.wire.unwinding
        word = Word(
            status.count,
            status.unattributed,
            status.implausible,
            status.uptime_ms,
            moving,
            moving and back,
        )
        course.heard = course.heard or before is not None
        course.take(Says(course.wind, word, final=closed and bool(self._session.ending.closing)))
        self._session.storms.look(status, before, rests=rests)
        if self._laying is not None:
            self._laying.see(course.count, status.traverse_um)
        if moving and not self._session.set_up.stepping:
            course.note_wire(status)
            self._session.set_up.wire_open = self._session.set_up.stepped = False
        if before is not None and self._session.watch.look_at_count(status, before):
            course.tell("doubt", f"count {course.words()}")
            if (
                self._session.motion.asked and course.board.motor
            ):  # what nobody can count is not wound on
                self._session.motion.stop()
                self._session.go(Intent.PAUSE)

    def _due(self, status: Status, *, rests: bool) -> None:
        course = self._session.course
        if not rests:
            if course.now_ns - self.committed_ns >= COMMIT_EVERY_NS and course.board.opened:
                self.committed_ns = course.now_ns
                turns = course.turns_words(course.truth.best)
                course.tell("count", f"{turns} turns", leg=status.leg, **course.guide_facts())
        elif self._session.phase is Phase.LOST:
            self._session.finish_lost()
        elif self._leaves_now() and not course.commands.is_outstanding(Start):
            self._session.finish(How.LEFT)
        if course.finished or course.commands.outstanding is not None:
            return
        again = course.commands.refreshed()
        if again is not None:
            course.requests.append(again)
        elif self._session.phase is Phase.PREPARING and course.commands.idle:
            self._prepare(status, rests=rests)
        elif self._session.phase in PACED_PHASES:
            self._session.motion.send_pace()

    def _leaves_now(self) -> bool:
        """Somebody leaves, and nothing is being closed whose last word may still come."""
        return self._session.ending.leaving and self._session.ending.closing is None

    def _look_at_rest(self, status: Status) -> None:
        commands = self._session.course.commands
        if not commands.leads_guide:
            self._session.set_up.guide_rests(status)
        self._session.wire.rest()
        if self._session.wire.unwinding and not commands.is_outstanding(Move):
            self._session.wire.unwound(status)

    def _tell_rest(self, status: Status, rests: bool) -> None:
        told, self._rest_told = self._rest_told, rests
        if rests and not told and self._session.course.board.opened:
            self._session.wire.came_to_rest()
            tell_rest(self._session, status)

    def _prepare(self, status: Status, *, rests: bool) -> None:
        if not rests:
            if self._session.set_up.stepping:
                return
            self._stop_from_before()
            return
        course = self._session.course
        steps = course.preparation.steps(status, course.account.offset(course.wind))
        if steps:
            course.do(*steps)

    def _stop_from_before(self) -> None:
        if not self._session.motion.stopping:
            self._session.course.tell("link", "the board still moves from before; it is stopped")
            self._session.motion.stop()

    # --- the board's earlier winds ----------------------------------------------------------

    def opened_now(self) -> None:
        course, board = self._session.course, self._session.course.board
        if board.opened:
            return
        board.opened = True
        board.status = None  # what it counts is another wind
        facts = Opens(course.wind, board.boot, course.per_turn, course.sense, course.machine.motor)
        course.heard = (
            course.account.entry(course.wind) is None
        )  # of an old one: at its second word
        course.take(facts)
        number = self._session.same_board.number
        told = {} if number is None else {"board_number": number}
        course.tell("opened", "wind opened", wind=course.wind, boot=board.boot, **told)

    def _meet(self, status: Status) -> None:
        """The first word of a board: what it still knows of the coil's earlier winds."""
        course, welcome = self._session.course, self._session.course.board.welcome
        assert welcome is not None
        if course.account.entries and not course.truth.is_sharp:
            course.tell("doubt", f"earlier turns {course.words()}")
        if course.board.motor and not course.board.rests(status):
            self._stop_from_before()
        self._compare_settings(welcome)

    def look_at_kept(self) -> None:
        """After a reset; a welcome of the boot before it tells of an older rest."""
        course, welcome = self._session.course, self._session.course.board.welcome
        entry = course.account.entry(course.wind)
        if welcome is not None and entry is not None and welcome.boot != entry.boot:
            for deed in evidence(course.account, welcome, None):
                course.take(deed)

    def _compare_settings(self, welcome: Welcome) -> None:
        before, self._settings_hash = self._settings_hash, welcome.settings_hash
        if before in (None, welcome.settings_hash):
            return
        course, place = self._session.course, self._session.course.place_now
        turn = course.per_turn
        course.take(Doubt(OTHER_SETTINGS, place, place, turn, turn, key=str(welcome.settings_hash)))
        course.tell("doubt", f"count {course.words()}")

    def _turned_before_open(self, counts: int) -> None:
        """Edges while no wind of ours is open: of a coil with turns on it nobody knows which way they went."""
        course = self._session.course
        if counts and (course.account.entries or course.account.statements):
            place = Place(course.wind, 0)
            known = next(
                (
                    one
                    for one in course.account.statements
                    if isinstance(one, Doubt) and one.why == BEFORE_OPEN
                ),
                None,
            )
            counts += known.up if known is not None else 0
            course.take(Doubt(BEFORE_OPEN, place, place, counts, counts, key=str(course.wind)))

    def _bid_farewell(self, status: Status) -> None:
        """Another wind that was open on the board is closed now: its last word, for whoever keeps its coil."""
        stranger = self._session.course.preparation.stranger
        if stranger is not None and status.wind == NO_WIND:
            self._session.course.preparation.stranger = None
            word = Word(status.count, status.unattributed, status.implausible, status.uptime_ms)
            said = Says(stranger, word, final=True)
            if (
                self._session.course.account.entry(stranger) is not None
            ):  # an earlier wind of this coil
                self._session.course.take(said)
                return
            self._session.course.log.other(said)

    def _watch_sense(self, status: Status) -> None:
        """A sensor that knows the direction contradicts what was declared: stop, and tell."""
        course, motion = self._session.course, self._session.motion
        winding = (
            self._session.phase in (Phase.STARTING, Phase.PEDAL, Phase.WINDING)
            and status.state == State.WINDING
        )
        if not (winding and course.sense and status.wind == course.wind and motion.asked):
            return
        seen = motion.way.look(status.count)
        if seen is None:
            return
        facing = self._session.set_up.list.facing if self._session.set_up.list is not None else None
        turning = facing.turning.value if facing is not None else ""
        if seen is Sense.DISAGREES:
            declared = f"{turning} was declared" if turning else "against the way of winding"
            text = f"by the sensor the spindle turns the wrong way: {declared}; it is stopped"
            course.tell("direction", text, sensor=seen.value, turning=turning)
            motion.stop()
            self._session.go(Intent.PAUSE, WRONG_WAY)
        elif turning:
            text = f"by the sensor the spindle turns {turning}, as declared"
            course.tell("direction", text, sensor=seen.value, turning=turning)
