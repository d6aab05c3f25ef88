"""The one who asks: whole frames to a board and what came back, with a limit on every wait.

It has no opinion of its own: it sends what a clause gives it, also what no host may send, and hands back answers
and statuses. What a noisy line swallowed is sent again, as every host does; all times are the link's own clock's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from firmware_protocol.records import dataclass

from ..framing import FrameReader, encode_frame, encode_message
from ..messages import (
    ANSWER_WAIT_MS,
    BASE_VERSION,
    LEASE_MS,
    NO_WIND,
    WELCOME_WAIT_MS,
    Alive,
    Answer,
    CloseWind,
    Flag,
    Hello,
    OpenWind,
    State,
    Status,
    Stop,
    Verdict,
    Welcome,
)
from ..pedal import PedalStatus
from ..seam import Clock, Link
from ..wire import LAYOUT_OF, REGISTER, Group, PayloadError, pack, unpack
from .clauses import Breach, Unready

NS_PER_S = 1_000_000_000
# Twice what a host waits, for adapters gather bytes; and no multiple of a status's period, or a board that leaves
# an answer out because a status was just under way would leave it out each time.
ANSWER_WAIT_S = (2 * ANSWER_WAIT_MS + 27) / 1000
HELLO_REPEAT_S = 0.233
SENDINGS = 3  # of what a noisy line may have swallowed
STATUS_WAIT_S = 1.0  # a slow board says two a second
LEASE_WAIT_S = 5.0
SILENCE_S = 0.15  # so long nothing must come where nothing is due
READ_WAIT_S = 0.02
USES_NO_NUMBER = (Verdict.MALFORMED, Verdict.UNSUPPORTED, Verdict.NO_SESSION, Verdict.CONFLICT)
LEASE_OVER_S = LEASE_MS * 1.05 / 1000 + 0.1


@dataclass(frozen=True, slots=True)
class Said:
    """A frame of the board that is no status."""

    kind: int
    sequence: int
    message: Any  # None: a kind that nobody knows, or a payload too short for it
    payload: bytes


class Examiner:
    """One board at the end of a link. ``first_token`` is random: tokens and winds are counted up from it."""

    def __init__(self, link: Link, clock: Clock, first_token: int) -> None:
        self.link = link
        self.clock = clock
        self.reader = FrameReader()
        self.welcome: Welcome | None = None
        self.newest: Status | None = None
        self.statuses: list[tuple[int, Status]] = []  # heard at ns, of the present clause
        self.pedals: list[PedalStatus] = []  # of the present clause
        self.raw = bytearray()  # the newest bytes, for a board that nobody understands
        self.sequence = 0
        self.sent_again = 0
        self.beside: Callable[[], None] | None = None  # called while something is awaited
        self.restarted: tuple[Welcome, Status, Status]  # after a restart, and the status before it
        self._last_number = first_token & 0xFFFF_FFFF
        self._token = 0
        self._alive_number = 0
        self._alive_ns: int | None = None

    # --- bytes ------------------------------------------------------------------------------

    @property
    def now_s(self) -> float:
        return self.clock.now_ns() / NS_PER_S

    def fresh_number(self) -> int:
        """A token or wind that was never used here; not 0."""
        self._last_number = self._last_number % 0xFFFF_FFFF + 1
        return self._last_number

    def say(self, *frames: bytes) -> None:
        self.link.write(b"".join(frames))

    def hear(self, span_s: float, until: Callable[[Said], bool] | None = None) -> list[Said]:
        """What is said in this time, statuses of board and pedal set aside; at most up to the first that ``until`` holds for."""
        said: list[Said] = []
        end_ns = self.clock.now_ns() + round(span_s * NS_PER_S)
        while True:
            left_ns = max(end_ns - self.clock.now_ns(), 0)
            fresh = self._understand(self.link.read(min(left_ns / NS_PER_S, READ_WAIT_S)))
            said += fresh
            if left_ns == 0 or (until is not None and any(until(one) for one in fresh)):
                return said
            if self.beside is not None:
                self.beside()

    def _understand(self, data: bytes) -> list[Said]:
        self.raw = (self.raw + data)[-1024:]
        said = []
        for frame in self.reader.feed(data):
            message: Any = None
            if frame.kind in REGISTER:
                try:
                    message = unpack(frame.kind, frame.payload)
                except PayloadError:
                    message = None
            if isinstance(message, Status):
                self.newest = message
                self.statuses.append((self.clock.now_ns(), message))
            elif isinstance(message, PedalStatus):
                self.pedals.append(message)
            else:
                said.append(Said(frame.kind, frame.sequence, message, frame.payload))
        return said

    def silence(self, after: str, span_s: float = SILENCE_S) -> None:
        """``Breach`` if anything but a status comes."""
        for one in self.hear(span_s):
            raise Breach(f"{after}: the board sent {words(one)}, where nothing is due")

    # --- asking -----------------------------------------------------------------------------

    def reply(self, frame: bytes, to: int) -> Said:
        """The first welcome to a hello or answer to ``to``. ``Breach`` where none comes."""
        self.hear(0.0)
        for sending in range(SENDINGS):
            self.sent_again += sending > 0
            self.say(b"\0", frame)
            said = self.hear(ANSWER_WAIT_S, lambda one: _answers(one, to))
            for one in said:
                if _answers(one, to):
                    return one
        raise Breach(f"no answer to {name_of(to)} after {SENDINGS} sendings")

    def ask(self, command: Any, sequence: int | None = None) -> Answer:
        """A numbered command under the next number, or under the given one, and its answer."""
        if sequence is None:
            sequence = self.next_sequence
        answer = self.answer_to(LAYOUT_OF[type(command)].kind, sequence, pack(command))
        if answer.verdict not in USES_NO_NUMBER:
            self.sequence = sequence
        return answer

    def answer_to(self, kind: int, sequence: int, payload: bytes) -> Answer:
        """The answer to any frame; under another number than the frame's it is a ``Breach``."""
        said = self.reply(encode_frame(kind, sequence, payload), kind)
        if not isinstance(said.message, Answer):
            raise Breach(f"{name_of(kind)} was answered by {words(said)}")
        if said.sequence != sequence:
            raise Breach(
                f"{name_of(kind)} under number {sequence} was answered under {said.sequence}"
            )
        return said.message

    @property
    def next_sequence(self) -> int:
        return self.sequence % 255 + 1

    def expect(self, command: Any, verdict: Verdict, detail: int | None = None) -> Answer:
        """``Breach`` where the answer is another one."""
        answer = self.ask(command)
        wrong = answer.verdict != verdict or (detail is not None and answer.detail != detail)
        if wrong:
            wanted = verdict.name if detail is None else f"{verdict.name} with detail {detail}"
            raise Breach(f"{words_of(command)} was answered {verdict_words(answer)}, not {wanted}")
        return answer

    def stop(self) -> Said:
        return self.reply(encode_message(Stop()), LAYOUT_OF[Stop].kind)

    def hello(self, token: int, base_version: int = BASE_VERSION) -> Any:
        """The welcome or answer to a hello."""
        said = self.reply(encode_message(Hello(base_version, token)), LAYOUT_OF[Hello].kind)
        return said.message

    def live(self, number: int | None = None, token: int | None = None) -> None:
        """A sign of life, of the open session and rising unless told otherwise."""
        self._alive_number = self._alive_number + 1 if number is None else number
        self._alive_ns = self.clock.now_ns()
        self.say(encode_message(Alive(self._token if token is None else token, self._alive_number)))

    # --- where a clause begins ----------------------------------------------------------------

    def status(self, wait_s: float = STATUS_WAIT_S) -> Status:
        """The next status. Of what was said before it, the board has judged everything."""
        self.hear(0.0)
        heard = len(self.statuses)
        end_s = self.now_s + wait_s
        while len(self.statuses) == heard and self.now_s < end_s:
            self.hear(READ_WAIT_S)
        if len(self.statuses) == heard:
            raise Unready("no status came within a second (see 8.1)")
        return self.statuses[-1][1]

    def settled(self) -> Status:
        """A status that began to be sent after all that was asked so far."""
        self.status()
        return self.status()

    def first_welcome(self) -> Welcome:
        """Meet a board that may still be starting. ``Breach`` when nothing answers."""
        self._token = self.fresh_number()
        end_s = self.now_s + WELCOME_WAIT_MS / 1000
        while self.now_s < end_s:
            self.say(b"\0", encode_message(Hello(BASE_VERSION, self._token)))
            for one in self.hear(HELLO_REPEAT_S, self._is_ours):
                if isinstance(one.message, Welcome):
                    self.welcome = one.message
                if self._is_ours(one):
                    return self._met(one.message)
        if self.welcome is not None:
            raise Breach(f"token {self._token:#x} was answered with {self.welcome.token:#x}")
        raise Breach(f"no welcome within {WELCOME_WAIT_MS} ms")

    def _is_ours(self, said: Said) -> bool:
        return isinstance(said.message, Welcome) and said.message.token == self._token

    def _met(self, welcome: Welcome) -> Welcome:
        self.welcome = welcome
        self.sequence = 0
        self._alive_number = 0
        return welcome

    def begin(self) -> None:
        """A fresh session, its lease not live, no wind open, the spindle at rest."""
        self.beside = None
        self._let_lease_end()
        try:
            self.open_session()
            status = self.status()
            if status.wind != NO_WIND:
                self.close_wind()
                status = self.status()
        except Breach as breach:
            raise Unready(f"no fresh session could be had: {breach}") from None
        if status.state is not State.STILL or status.wind != NO_WIND:
            raise Unready(f"the board is {name(status.state)} with wind {status.wind}, not STILL")
        self.statuses.clear()
        self.pedals.clear()

    def _let_lease_end(self) -> None:
        """Wait for it as long as a board could think of; one that never ends is told by the hello."""
        if self._alive_ns is not None:
            over_s = self._alive_ns / NS_PER_S + LEASE_OVER_S
            self.hear(max(over_s - self.now_s, 0.0))
            self._alive_ns = None
        end_s = self.now_s + LEASE_WAIT_S
        while self.now_s < end_s and self.status().flags & Flag.LEASE_LIVE:
            pass

    def open_session(self) -> Welcome:
        token = self.fresh_number()
        met = self.hello(token)
        if not isinstance(met, Welcome):
            raise Breach(f"a hello was answered {verdict_words(met)}")
        self._token = token
        return self._met(met)

    @property
    def token(self) -> int:
        return self._token

    @token.setter
    def token(self, token: int) -> None:
        """Another session than the one that was opened here last."""
        self._token = token

    def has(self, *groups: Group) -> bool:
        welcome = self.welcome
        return welcome is not None and all(welcome.groups[group - 1] > 0 for group in groups)

    def make(self, cls: type, **values: int) -> Any:
        """A command that believes what the newest status says; ``values`` may say otherwise."""
        status = self.newest
        if status is None or self.welcome is None:
            raise Unready("no status came (see 8.1)")
        believed = {
            "token": self._token,
            "boot": status.boot,
            "wind": status.wind,
            "revision": status.revision,
        }
        known = LAYOUT_OF[cls].names
        return cls(**{k: v for k, v in believed.items() if k in known} | values)

    def open_wind(self) -> int:
        """A wind of our own. ``Unready`` where it cannot be had."""
        wind = self.fresh_number()
        self.status()
        answer = self.ask(self.make(OpenWind, wind=wind))
        status = self.status()
        if answer.verdict is not Verdict.DONE or status.wind != wind:
            raise Unready(f"no wind could be opened: {verdict_words(answer)} (see 5.20)")
        return wind

    def close_wind(self) -> None:
        self.status()
        answer = self.ask(self.make(CloseWind))
        if answer.verdict is not Verdict.DONE:
            raise Unready(f"the wind could not be closed: {verdict_words(answer)} (see 5.22)")
        self.status()


def changed(message: Any, **values: int) -> Any:
    return replace(message, **values)


def _answers(said: Said, to: int) -> bool:
    if isinstance(said.message, Welcome):
        return to == LAYOUT_OF[Hello].kind
    return isinstance(said.message, Answer) and said.message.to == to


def name(word: Any) -> str:
    return str(getattr(word, "name", word))


def name_of(kind: int) -> str:
    layout = REGISTER.get(kind)
    return layout.cls.__name__ if layout else f"kind 0x{kind:02x}"


def verdict_words(answer: Any) -> str:
    if not isinstance(answer, Answer):
        return f"by {type(answer).__name__}"
    detail = f" with detail {answer.detail}" if answer.detail else ""
    return f"{name(answer.verdict)}{detail}"


def words(said: Said) -> str:
    """A frame in a few words."""
    if said.message is None:
        return f"a frame of kind 0x{said.kind:02x} with {len(said.payload)} bytes of payload"
    if isinstance(said.message, Answer):
        return f"an answer {name(said.message.verdict)} to {name_of(said.message.to)}"
    return f"a {type(said.message).__name__}"


def words_of(command: Any) -> str:
    """A command with the values that are its own."""
    common = ("token", "boot", "revision")
    own = [f"{n} {getattr(command, n)}" for n in LAYOUT_OF[type(command)].names if n not in common]
    return " ".join([type(command).__name__, *own[:4]])
