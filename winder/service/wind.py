"""One wind, step by step: the loop that joins link, host end, session and journal.

The loop is the same in virtual and in real time; only the link and the clock differ. Whatever the
session wants kept is on the disk before whatever it wants sent goes out, so the record can lag the
board but never the other way round. The disk has its own time (``journals``): while something may move, only
what follows from a line waits for it; a stop waits for nothing, and takes back what still waits. The sign of life is sent only while the caller says that the
operator's screen is alive.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import Protocol, runtime_checkable

from firmware_protocol.connection import HostEnd
from firmware_protocol.heard import Trouble, Troubled
from firmware_protocol.messages import LEASE_MS, Cut, Stop
from firmware_protocol.seam import Clock, Link, LinkLost
from firmware_protocol.settings import ReadSettings
from winder.clock import NS_PER_MS
from winder.errors import WinderError
from winder.service.journals import Journal
from winder.wind.commands import MOVING
from winder.wind.deeds import TakenOff, Unmoved, Vouch, WireWhole
from winder.wind.guards import NOT_ANSWERED
from winder.wind.model import Asked, Intent, WindView
from winder.wind.session import WindSession

STEP_S = 0.05  # longest wait for bytes; one status period
ANSWER_WAIT_NS = 300 * NS_PER_MS  # an intent waits so long for the answer to the command before it
SAID = (Vouch, TakenOff, Unmoved, WireWhole)  # by a person, of what is on the coil
STOPS = (Intent.PAUSE, Intent.CUT, Intent.LEAVE)


@runtime_checkable
class Reopening(Protocol):
    """A link that opens its port again by itself."""

    not_before_ns: int | None
    why_closed: str

    @property
    def open(self) -> bool: ...

    @property
    def reopened(self) -> int: ...


@runtime_checkable
class Recorded(Protocol):
    """A link whose words are written down."""

    @property
    def why_ended(self) -> str: ...


Listener = Callable[[Asked], None]  # is told every intent that was taken


class Wind:
    """A wind under way. Call ``step`` until ``finished``; not safe for several threads."""

    def __init__(
        self,
        link: Link,
        clock: Clock,
        host_end: HostEnd,
        session: WindSession,
        journal: Journal,
        listener: Listener | None = None,
    ) -> None:
        self.link = link
        self.clock = clock
        self.host_end = host_end
        self.session = session
        # Told once, oldest first: why an intent was not taken, or that recording stopped.
        self.refusals: list[str] = []
        self.journal_lost: WinderError | None = None  # why nothing more could be kept
        self._waiting: list[tuple[Asked, int]] = []  # until when each may wait
        self._journal = journal
        self._unkept: deque[tuple[int, int]] = (
            deque()
        )  # number in the journal, and the session's mark of it
        self._held: deque[tuple[int, object]] = (
            deque()
        )  # what is sent once the journal is kept so far
        self._listener = listener
        self._link_open = True
        self._reopening = link if isinstance(link, Reopening) else None
        self._port_open, self._reopened = True, 0
        self._recorded = link if isinstance(link, Recorded) else None

    @property
    def finished(self) -> bool:
        return self.session.finished

    def ask(self, asked: Asked) -> None:
        """Hand an intent to the session; a refusal is kept for whoever asked."""
        if asked.intent in STOPS:
            self._waiting.clear()
        self._take(asked, self.clock.now_ns() + ANSWER_WAIT_NS)
        self._settle()

    def step(self, wait_s: float = STEP_S, *, alive: bool = True) -> None:
        """Wait at most ``wait_s`` of the link's time for bytes, and do all that follows from them."""
        data = self._read(wait_s)
        now_ns = self.clock.now_ns()
        self._look_at_port(now_ns)
        self._look_at_recording()
        for heard in self.host_end.receive(data, now_ns):
            if isinstance(heard, Troubled) and heard.trouble is not Trouble.WITHDRAWN:
                self._held.clear()  # the session gives it up by itself
            self.session.hear(heard, now_ns)
        self.session.tick(now_ns)
        self._take_waiting()
        if alive and self.session.may_live(now_ns):
            self.host_end.sign_of_life(now_ns)
            self._may_reopen_after(now_ns)
        self._settle()

    def _take(self, asked: Asked, until_ns: int) -> None:
        """What only comes too soon after another command waits a moment for its answer; a stop forgets it."""
        now_ns = self.clock.now_ns()
        refusal = self.session.ask(asked, now_ns)
        if refusal == NOT_ANSWERED and now_ns < until_ns:
            self._waiting.append((asked, until_ns))
        elif refusal:
            self.refusals.append(refusal)
        elif self._listener is not None:
            self._listener(asked)

    def _take_waiting(self) -> None:
        waiting, self._waiting = self._waiting, []
        for asked, until_ns in waiting:
            self._take(asked, until_ns)

    def view(self) -> WindView:
        return self.session.view(self.clock.now_ns())

    def close(self) -> None:
        """Commit what is left and close the link."""
        self._settle()
        if self._link_open:
            self._link_open = False
            self.link.close()
            self._look_at_recording()  # its last lines may have found no room
            self._settle()
        if self.journal_lost is None:
            self._journal.close()

    def _settle(self) -> None:
        """Journal, then send: in this order, always; but a stop waits for no disk."""
        now_ns = self.clock.now_ns()
        requests = self._without_stops(self.session.take_requests(), now_ns)
        waits = self._keep(now_ns)
        requests += self._without_stops(self.session.take_requests(), now_ns)
        self._held.extend((self._journal.number, request) for request in requests)
        kept = self._kept(now_ns, waits=waits)
        while self._held and self._held[0][0] <= kept:
            request = self._held.popleft()[1]
            if isinstance(request, ReadSettings):
                self.host_end.read_settings()
            elif self.journal_lost is None or not isinstance(request, MOVING):
                self.host_end.send(request, now_ns)
        self._send(now_ns)

    def _without_stops(self, requests: list[object], now_ns: int) -> list[object]:
        """Stops are on their way when it returns; what waited for the disk is withdrawn by them."""
        others = [request for request in requests if not self._stopped(request, now_ns)]
        if len(others) < len(requests):
            self._send(now_ns)
            self._withdraw(now_ns, "a stop overtook it")
        return others

    def _withdraw(self, now_ns: int, why: str) -> None:
        """What waits for the disk is not sent any more, and the session is told so."""
        held, self._held = self._held, deque()
        for number, request in held:
            if isinstance(request, ReadSettings):  # a question: nothing follows from it
                self._held.append((number, request))
            else:
                self.session.hear(Troubled(Trouble.WITHDRAWN, why, request), now_ns)

    def _stopped(self, request: object, now_ns: int) -> bool:
        """Whether this was a stop, which is on its way then."""
        if isinstance(request, Cut):
            self.host_end.cut(now_ns)
        elif isinstance(request, Stop):
            self.host_end.stop(now_ns)
        else:
            return False
        return True

    def _send(self, now_ns: int) -> None:
        data = self.host_end.data_to_send(now_ns)
        if data and self._link_open:
            try:
                self.link.write(data)
            except LinkLost as lost:
                self._lose_link(lost)

    def _keep(self, now_ns: int) -> bool:
        """Hand events to the journal. A logbook that cannot keep them ends the wind: stop, and start no more.

        Whether to wait for the disk: where nothing moves, and for what a person states, which is shown once it is kept.
        """
        events, strangers = self.session.take_events(), self.session.course.log.strangers
        if self.journal_lost is not None or not (events or strangers):
            return False
        try:
            self._journal.write(events)
            while strangers:
                self._journal.say_for_other(strangers.pop(0))
            self._unkept.append((self._journal.number, self.session.told_ns))
        except WinderError as trouble:
            self._lose_journal(trouble, now_ns)
            return False
        moves = self.session.motion.may_move or self.session.phase.moves
        return not moves or any(isinstance(deed, SAID) for event in events for deed in event.deeds)

    def _kept(self, now_ns: int, *, waits: bool) -> int:
        """How far the journal is on the disk; the session is told."""
        if self.journal_lost is not None:
            return self._journal.number
        try:
            if waits:
                self._journal.wait()
            kept = self._journal.kept()
        except WinderError as trouble:
            self._lose_journal(trouble, now_ns)
            return self._journal.number
        while self._unkept and self._unkept[0][0] <= kept:
            self.session.recorded(self._unkept.popleft()[1])
        return kept

    def _lose_journal(self, trouble: WinderError, now_ns: int) -> None:
        self.journal_lost = trouble
        self.host_end.stop(now_ns)
        self.session.ask(Asked(Intent.LEAVE, by="a logbook that cannot be written"), now_ns)

    def _read(self, wait_s: float) -> bytes:
        if self._link_open:
            try:
                return self.link.read(wait_s)
            except LinkLost as lost:
                self._lose_link(lost)
        else:
            self.clock.sleep_s(wait_s)
        return b""

    def _may_reopen_after(self, now_ns: int) -> None:
        """Opening a port resets many boards: not before lease, stopping and writing have had their time."""
        if self._reopening is not None and self._port_open:
            wait_ns = self.session.ending.rest_wait_ns() + LEASE_MS * NS_PER_MS
            self._reopening.not_before_ns = now_ns + wait_ns

    def _look_at_recording(self) -> None:
        if self._recorded is not None and (why := self._recorded.why_ended):
            self._recorded = None
            goes_on = "" if self.finished else "; the wind goes on"
            said = f"recording stopped ({why}){goes_on}"
            self.session.course.tell("note", said)
            self.refusals.append(said)

    def _look_at_port(self, now_ns: int) -> None:
        """A port that was lost and is open again: the board is asked anew who it is."""
        link = self._reopening
        if link is None:
            return
        if self._port_open and not link.open:
            self._port_open = False
            self._held.clear()
            self.session.hear(Troubled(Trouble.LINK_LOST, link.why_closed), now_ns)
        elif link.open and link.reopened != self._reopened:
            self._port_open, self._reopened = True, link.reopened
            self.host_end = HostEnd(
                self.host_end.token % 0xFFFF_FFFE + 1
            )  # the old one's lease is over
            self.host_end.open(now_ns)
            self.session.reopened(now_ns)

    def _lose_link(self, lost: LinkLost) -> None:
        self._link_open = False
        self.link.close()
        self._held.clear()
        self.session.hear(Troubled(Trouble.LINK_LOST, str(lost)), self.clock.now_ns())
