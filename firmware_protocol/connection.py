"""The host's end of the protocol: bytes in, what was heard out. No I/O, no clock, no thread.

Commands go out one at a time, numbered, and are sent again unchanged until they are answered. Every
command that ``send`` took is reported exactly once: ``Answered``, or ``Troubled`` with the command.

A stop overtakes everything. What waited in the queue is withdrawn. A command that was sent and could
move something is never sent again; but it may still be on its way, so its number is used up by a
harmless question (``SettleNumber``): either the question takes the number, and the late command is
refused as a conflict for ever, or the board reports a conflict, and the command had arrived before.
Only when no number is in doubt may a status that shows rest end the repeating of the stop.
The same question settles a number that stayed unanswered, before anything else is sent. A command
that moves and stayed unanswered brings about a stop by itself: a slow link may yet deliver it.
"""

from __future__ import annotations

import dataclasses
from collections import deque
from typing import Any

from .far import TraverseHome, TraverseMove
from .framing import Frame, FrameReader, encode_frame, encode_message
from .heard import Answered, Heard, Trouble, Troubled
from .host_command import Outstanding
from .host_stopping import NS_PER_MS, Stopping
from .host_table import HOST_TABLE, HostState, HostStep, LocalProtocolError, RemoteProtocolError
from .messages import (
    ALIVE_PERIOD_MS,
    ANSWER_WAIT_MS,
    BASE_VERSION,
    SENDINGS_MAX,
    WELCOME_WAIT_MS,
    Alive,
    Answer,
    Cut,
    Hello,
    Move,
    SettleNumber,
    Start,
    Status,
    TraverseStep,
    Verdict,
    Welcome,
)
from .pedal import ArmPedal, PedalStatus
from .settings import ReadSettings, Settings
from .wire import LAYOUT_OF, REGISTER, PayloadError, pack, unpack

# No multiple of the status period: a board that leaves its welcome out for a status just under way would do so each time.
HELLO_REPEAT_MS = 233
MOVING = (
    Start,
    Move,
    TraverseStep,
    TraverseHome,
    TraverseMove,
    ArmPedal,
)  # the commands after which something moves
UNNUMBERED_VERDICTS = (Verdict.MALFORMED, Verdict.UNSUPPORTED)  # these use up no number

_HELLO_KIND = LAYOUT_OF[Hello].kind
_SETTLE_KIND = LAYOUT_OF[SettleNumber].kind
_CUT_KIND = LAYOUT_OF[Cut].kind
_STATUS_KIND = LAYOUT_OF[Status].kind


class HostEnd:
    """One session with one board. All times in nanoseconds of the caller's clock.

    Call ``receive`` (with ``b""`` if nothing came) and then write ``data_to_send`` at least at every
    ``next_deadline_ns``. ``token`` is the session's, random, 1 to 2**32 - 1, never used twice.
    """

    sendings_max = SENDINGS_MAX

    def __init__(self, token: int) -> None:
        if not 0 < token <= 0xFFFF_FFFF:
            raise LocalProtocolError("a token is 1 to 4294967295")
        self.token = token
        self.state = HostState.NEW
        self.welcome: Welcome | None = None
        self.newest_status: Status | None = None
        self.resent = 0  # commands sent again
        self.unreadable = 0  # whole frames that were no message of ours
        self.unasked = 0  # answers that belonged to nothing outstanding
        self.last_heard_ns: int | None = None  # the last whole frame
        self._reader = FrameReader()
        self._reports: list[Heard] = []  # troubles found between two calls of receive
        self._queue: deque[Any] = deque()
        self._out: Outstanding | None = None
        self._sequence = 0  # the last number used up
        self._hello_due_ns = 0
        self._welcome_until_ns = 0
        self._held = False  # the newest answer to our hello
        self._stopping = Stopping()
        self._question = b""
        self._alive_number = 0
        self._alive_due = False
        self._alive_from_ns: int | None = None  # not before this; None: at once

    # --- what the caller asks ---------------------------------------------------------------

    @property
    def stopping(self) -> bool:
        """A stop was asked for and no status has yet shown that the board rests."""
        return self._stopping.due_ns is not None

    @property
    def frames_good(self) -> int:
        return self._reader.counts.good

    @property
    def frames_damaged(self) -> int:
        """Delimited runs of bytes that were no frame, overlong ones included."""
        return self._reader.counts.damaged + self._reader.counts.overlong

    def open(self, now_ns: int) -> None:
        """Say hello until a welcome comes, or ``WELCOME_WAIT_MS`` have passed."""
        self._step(HostStep.OPEN)
        self._hello_due_ns = now_ns
        self._welcome_until_ns = now_ns + WELCOME_WAIT_MS * NS_PER_MS
        self._held = False

    def send(self, command: Any, now_ns: int) -> Any:
        """Queue a numbered command; returned with our token, as ``Answered`` will carry it.

        While a stop is being repeated, a command that moves is withdrawn at once.
        """
        layout = LAYOUT_OF.get(type(command))
        if layout is None or not layout.numbered:
            raise LocalProtocolError(f"{type(command).__name__} is no numbered command")
        if (self.state, HostStep.SEND) not in HOST_TABLE:
            raise LocalProtocolError(f"nothing can be sent while the session is {self.state.value}")
        command = dataclasses.replace(command, token=self.token)
        try:
            pack(command)
        except PayloadError as trouble:
            raise LocalProtocolError(str(trouble)) from None
        if self.stopping and isinstance(command, MOVING):
            self._report(Trouble.WITHDRAWN, "the stop is not yet confirmed", command)
            return command
        self._queue.append(command)
        self._advance(now_ns)
        return command

    def cut(self, now_ns: int) -> None:
        """Ask for the drive off and the brake on, now and again until a status shows rest."""
        self._stopping.ask(now_ns, cutting=True)
        self._overtake(now_ns)

    def stop(self, now_ns: int) -> None:
        """Ask the board to come to rest, now and again until a status shows it. In every state.

        A cut that is not yet confirmed goes on as a cut.
        """
        self._stopping.ask(now_ns, cutting=False)
        self._overtake(now_ns)

    def _overtake(self, now_ns: int) -> None:
        self._drop_queue("a stop overtook it")
        out = self._out
        if out is not None and not out.withdrawn and isinstance(out.command, MOVING):
            if out.sendings == 0:
                self._out = None
                self._report(
                    Trouble.WITHDRAWN, "a stop overtook it before it was sent", out.command
                )
            else:
                out.withdraw(now_ns)
        self._wake(now_ns)

    def sign_of_life(self, now_ns: int) -> None:
        """The operator's screen is alive. Call as often as you like; sent every ALIVE_PERIOD_MS."""
        if self.state is not HostState.OPEN:
            return
        if self._alive_from_ns is None or now_ns >= self._alive_from_ns:
            self._alive_due = True
            self._alive_from_ns = now_ns + ALIVE_PERIOD_MS * NS_PER_MS

    def read_settings(self) -> None:
        """Ask for the settings once; ``receive`` returns them as they come. May be asked again."""
        self._question = encode_message(ReadSettings())

    def data_to_send(self, now_ns: int) -> bytes:
        """The bytes that are due now; taken as sent."""
        parts = [self._stopping.bytes_due(now_ns, self.welcome)]
        if self._alive_due:
            self._alive_due = False
            self._alive_number += 1
            parts.append(encode_message(Alive(self.token, self._alive_number)))
        parts.append(self._question)
        self._question = b""
        if self.state is HostState.ASKING and self._hello_due_ns <= now_ns < self._welcome_until_ns:
            parts.append(b"\0" + encode_message(Hello(BASE_VERSION, self.token)))
            self._hello_due_ns = now_ns + HELLO_REPEAT_MS * NS_PER_MS
        out = self._out
        if out is not None and out.is_due(now_ns) and out.sendings < self.sendings_max:
            if out.sendings or out.withdrawn:
                parts.append(b"\0")
                self.resent += 1
            parts.append(out.frame)
            out.sendings += 1
            out.due_ns = now_ns + ANSWER_WAIT_MS * NS_PER_MS
        return b"".join(parts)

    def next_deadline_ns(self) -> int | None:
        """When ``receive`` and ``data_to_send`` must be called at the latest; None: only for bytes.

        A time that has passed means at once.
        """
        times = []
        if self._alive_due or self._question or self._reports:
            times.append(0)
        if self._stopping.due_ns is not None:
            times.append(self._stopping.due_ns)
        if self.state is HostState.ASKING:
            times.append(min(self._hello_due_ns, self._welcome_until_ns))
        if self._out is not None and self._out.due_ns is not None:
            times.append(self._out.due_ns)
        return min(times, default=None)

    # --- what the board says ----------------------------------------------------------------

    def receive(self, data: bytes, now_ns: int) -> list[Heard]:
        """Take bytes, return what they and the passing of time mean, in order. Never raises."""
        self._look_at_clock(now_ns)
        heard, self._reports = self._reports, []
        for frame in self._reader.feed(data):
            self.last_heard_ns = now_ns
            try:
                message = _message_of(frame)
            except RemoteProtocolError:
                self.unreadable += 1
                continue
            if frame.kind == _STATUS_KIND:
                self._hear_status(message, heard)
            elif isinstance(message, Welcome):
                self._hear_welcome(message, heard)
            elif isinstance(message, Settings):
                heard.append(message)
            elif isinstance(message, PedalStatus):
                heard.append(message)
                self._stopping.hear_pedal(message)
            elif isinstance(message, Answer):
                self._hear_answer(frame.sequence, message, now_ns)
            if self._reports:
                heard += self._reports
                self._reports.clear()
            self._advance(now_ns)
        return heard

    def _hear_status(self, status: Status, heard: list[Heard]) -> None:
        if self.stopping:
            in_doubt = self._out is not None and self._out.withdrawn
            self._stopping.hear(status, self.newest_status, self.welcome, in_doubt=in_doubt)
        self.newest_status = status
        if self.welcome is None:
            return
        if status.boot != self.welcome.boot and self.state is HostState.OPEN:
            self._lose("the board was reset")
            heard += self._reports
            self._reports.clear()
        heard.append(status)

    def _hear_welcome(self, welcome: Welcome, heard: list[Heard]) -> None:
        if welcome.token != self.token:
            return
        if self.state is HostState.OPEN:
            if self.welcome is not None and welcome.boot != self.welcome.boot:
                self._lose("the board was reset")
            return
        if self.state is not HostState.ASKING:
            return
        if welcome.base_version != BASE_VERSION:
            self._step(HostStep.GIVEN_UP)
            text = (
                f"the board speaks base version {welcome.base_version}, this program {BASE_VERSION}"
            )
            self._report(Trouble.OTHER_VERSION, text)
            return
        self._step(HostStep.WELCOMED)
        self.welcome = welcome
        heard.append(welcome)

    def _hear_answer(self, sequence: int, message: Answer, now_ns: int) -> None:
        to = message.to
        if to == _HELLO_KIND and self.state is HostState.ASKING:
            self._held = message.verdict == Verdict.HELD
            return
        out = self._out
        if sequence == 0:  # to a stop or a cut: only a status proves rest
            if to == _CUT_KIND and message.verdict == Verdict.UNSUPPORTED:
                self._stopping.take_refusal(now_ns)
            return
        if out is None or sequence != out.sequence or (out.sendings == 0 and not out.withdrawn):
            self.unasked += 1
        elif to == out.kind and not out.reported:
            self._settle(out, message)
        elif out.withdrawn and to in (out.kind, _SETTLE_KIND):
            self._settle_doubt(out, message)
        else:
            self.unasked += 1

    def _settle(self, out: Outstanding, message: Answer) -> None:
        verdict = message.verdict
        if verdict == Verdict.NO_SESSION:
            self._lose("the board does not know this session any more")
        elif verdict == Verdict.CONFLICT:
            self._lose("the board and this program count their commands differently")
        else:
            self._out = None
            if verdict not in UNNUMBERED_VERDICTS:
                self._sequence = out.sequence
            self._reports.append(Answered(out.command, message))

    def _settle_doubt(self, out: Outstanding, message: Answer) -> None:
        verdict = message.verdict
        if verdict == Verdict.NO_SESSION or verdict in UNNUMBERED_VERDICTS:
            self._lose("the board does not know this session any more")
            return
        self._out = None
        self._sequence = out.sequence
        if not out.reported:
            late = verdict == Verdict.CONFLICT
            text = "it had reached the board before the stop" if late else "it never took effect"
            self._report(Trouble.WITHDRAWN, text, out.command)

    # --- the inside -------------------------------------------------------------------------

    def _step(self, step: HostStep) -> None:
        try:
            self.state = HOST_TABLE[self.state, step]
        except KeyError:
            raise LocalProtocolError(
                f"a session that is {self.state.value} cannot be: {step.value}"
            ) from None

    def _report(self, trouble: Trouble, text: str, command: Any = None) -> None:
        self._reports.append(Troubled(trouble, text, command))

    def _look_at_clock(self, now_ns: int) -> None:
        if self.state is HostState.ASKING and now_ns >= self._welcome_until_ns:
            self._step(HostStep.GIVEN_UP)
            if self._held:
                self._report(Trouble.HELD, "another program's session is alive on this board")
            else:
                self._report(Trouble.NO_WELCOME, "nothing that speaks this protocol answered")
        out = self._out
        if out is None or not out.is_due(now_ns) or out.sendings < self.sendings_max:
            return
        if not out.reported:
            self._report(Trouble.SILENT, f"not answered after {out.sendings} sendings", out.command)
            out.reported = True
            self._drop_queue("the board is silent")
            if isinstance(out.command, MOVING):
                self.stop(now_ns)
        out.withdraw(now_ns)
        if not self.stopping and not self._queue:
            out.due_ns = None

    def _advance(self, now_ns: int) -> None:
        """Take the next command from the queue, once the number before it is settled."""
        self._wake(now_ns)
        if self._out is None and self._queue:
            command = self._queue.popleft()
            kind = LAYOUT_OF[type(command)].kind
            sequence = self._sequence % 255 + 1
            frame = encode_frame(kind, sequence, pack(command))
            self._out = Outstanding(command, kind, sequence, frame, now_ns)

    def _wake(self, now_ns: int) -> None:
        out = self._out
        if out is not None and out.due_ns is None and (self._queue or self.stopping):
            out.due_ns = now_ns

    def _drop_queue(self, text: str) -> None:
        for command in self._queue:
            self._report(Trouble.WITHDRAWN, text, command)
        self._queue.clear()

    def _lose(self, text: str) -> None:
        out, self._out = self._out, None
        self._step(HostStep.FORGOTTEN)
        command = out.command if out is not None and not out.reported else None
        self._report(Trouble.SESSION_LOST, text, command)
        self._drop_queue("the session is lost")
        self._alive_due = False


def _message_of(frame: Frame) -> Any:
    """The message of a whole frame. Raises ``RemoteProtocolError``."""
    if frame.kind not in REGISTER:
        raise RemoteProtocolError(f"unknown kind 0x{frame.kind:02x}")
    try:
        return unpack(frame.kind, frame.payload)
    except PayloadError as trouble:
        raise RemoteProtocolError(str(trouble)) from None
