"""The board's end of the protocol: bytes and ticks in, bytes and orders out. The reference of every board.

Integers only, no clock of its own: whoever drives it gives the milliseconds. The body's facts are
looked at before every whole frame and at every tick, so an answer never rests on older facts. What is
not a whole frame is dropped in silence; a kind of a board's own (0x80 and above) too, for it can only
be an echo, and answering echoes would never end.

A numbered command passes, in this order: MALFORMED, UNSUPPORTED, NO_SESSION, CONFLICT, STALE (boot,
wind, revision), WRONG_STATE, then what the command itself needs (``device_commands``). A kind that this
board does not speak has no known length, hence is never MALFORMED. The first three use up no number and
are not remembered; a CONFLICT leaves number and remembered answer as they were.
"""

from __future__ import annotations

from typing import Any

from .body import DeviceBody, Identity
from .device_board import Board
from .device_commands import COMMANDS, Outcome
from .device_table import ALLOWED, NEEDS_NO_WIND, NEEDS_WIND
from .framing import Frame, FrameReader, encode_frame, encode_message
from .messages import (
    BASE_VERSION,
    LEASE_MS,
    NO_WIND,
    STATUS_PERIOD_MS,
    Alive,
    Answer,
    Cut,
    Flag,
    Hello,
    Kept,
    Status,
    Stop,
    Verdict,
    Welcome,
)
from .pedal import PedalStatus
from .settings import ReadSettings, Settings
from .wire import LAYOUT_OF, REGISTER, Group, MessageLayout, PayloadError, pack, unpack

FIRST_BOARD_KIND = 0x80
NO_TOKEN = 0
_ALIVE_KIND = LAYOUT_OF[Alive].kind
_ANSWER_KIND = LAYOUT_OF[Answer].kind
_STATUS = LAYOUT_OF[Status]
_I32_MAX = 0x7FFF_FFFF
# As plain numbers: a status is told 20 times a second, and far more often in rehearsals.
_LEASE_LIVE, _DRIVEN, _GUARD_OPEN = int(Flag.LEASE_LIVE), int(Flag.DRIVEN), int(Flag.GUARD_OPEN)
_WIRE_PRESENT, _REFERENCED = int(Flag.WIRE_PRESENT), int(Flag.REFERENCED)
_RIGHTWARD, _BRAKE_ON = int(Flag.TRAVERSE_RIGHTWARD), int(Flag.BRAKE_ON)
_STOP_PRESSED = int(Flag.STOP_PRESSED)


class DeviceEnd:
    """One boot of one board. ``boot`` rises by one with every boot; times in milliseconds."""

    def __init__(
        self,
        body: DeviceBody,
        identity: Identity,
        boot: int,
        now_ms: int,
        by_watchdog: bool = False,
    ) -> None:
        self.identity = identity
        self.boot = boot
        self.board = Board(body, identity, now_ms, by_watchdog)
        self.token = NO_TOKEN  # of the open session
        self._has_pedal, self._has_guide = self._speaks(Group.PEDAL), self._speaks(Group.TRAVERSE)
        self._reader = FrameReader()
        self._to_send = bytearray()
        self._alive_number = 0
        self._alive_ms: int | None = None  # the last valid sign of life; None: lease not live
        self._status_due_ms = now_ms
        self._last_sequence = 0
        self._last_content: tuple[int, bytes] | None = None
        self._last_answer = b""

    # --- for whoever drives it ----------------------------------------------------------------

    def receive(self, data: bytes, now_ms: int) -> None:
        """Take bytes of the link, any number of them."""
        for frame in self._reader.feed(data):
            self._look(now_ms)
            self._take(frame)

    def tick(self, now_ms: int) -> None:
        """Look at the body, the lease and the time. Callable at any rate; see ``next_tick_ms``."""
        self._look(now_ms)
        if now_ms >= self._status_due_ms:
            self._status_due_ms += STATUS_PERIOD_MS
            if self._status_due_ms <= now_ms:  # nobody ticked for a while: do not catch up
                self._status_due_ms = now_ms + STATUS_PERIOD_MS
            payload = _STATUS.struct.pack(*self._told())
            self._to_send += encode_frame(_STATUS.kind, 0, payload)
            if self._has_pedal:
                self._send(PedalStatus(self.board.pedal.flags(), self.board.revision))

    def data_to_send(self) -> bytes:
        if not self._to_send:
            return b""
        data = bytes(self._to_send)
        self._to_send.clear()
        return data

    def next_tick_ms(self) -> int:
        """When a tick is needed even if no fact changes: the next status, the lease's end, a settled pedal."""
        due_ms = self._status_due_ms
        settles_ms = self.board.pedal.settles_ms if self._has_pedal else None
        if self._alive_ms is not None:
            due_ms = min(due_ms, self._alive_ms + LEASE_MS)
        return due_ms if settles_ms is None else min(due_ms, settles_ms)

    @property
    def lease_live(self) -> bool:
        return self._alive_ms is not None

    @property
    def renews(self) -> Settings | None:
        """Settings that were accepted: whoever drives it keeps them, and makes the next boot with them."""
        return self.board.renews

    def status(self) -> Status:
        """The whole truth, as of the last look."""
        return Status(*self._told())

    def _told(self) -> tuple[Any, ...]:
        """The fields of a status, in their order."""
        board = self.board
        facts = board.facts
        return (
            board.state,
            board.reason,
            board.trip,
            self._flags(),
            facts.count,
            min(facts.unattributed, 0xFFFF),
            max(-_I32_MAX, min(facts.rate_mcps, _I32_MAX)),
            facts.traverse_um if self._has_guide else 0,
            board.leg,
            board.generation,
            board.wind,
            self.boot,
            board.uptime_ms,
            board.revision,
            min(facts.implausible, 0xFFFF),
        )

    def _flags(self) -> int:
        board = self.board
        facts = board.facts
        return (
            (_LEASE_LIVE if self.lease_live else 0)
            | (_DRIVEN if board.in_motion else 0)
            | (_GUARD_OPEN if facts.guard_open else 0)
            | (_WIRE_PRESENT if facts.wire_present else 0)
            | (_REFERENCED if board.referenced else 0)
            | (_RIGHTWARD if facts.traverse_rightward else 0)
            | (_BRAKE_ON if facts.brake_on else 0)
            | (_STOP_PRESSED if facts.stop_pressed else 0)
        )

    # --- time ---------------------------------------------------------------------------------

    def _look(self, now_ms: int) -> None:
        if self._alive_ms is not None and now_ms - self._alive_ms >= LEASE_MS:
            self._alive_ms = None
        self.board.look(now_ms, self.lease_live)

    # --- frames -------------------------------------------------------------------------------

    def _take(self, frame: Frame) -> None:
        if frame.kind >= FIRST_BOARD_KIND:
            return
        layout = REGISTER.get(frame.kind)
        if layout is None or not self._speaks(layout.group, layout.version):
            self._answer(frame, Outcome(Verdict.UNSUPPORTED))
            return
        try:
            message = unpack(frame.kind, frame.payload)
        except PayloadError:
            if frame.kind != _ALIVE_KIND:  # a sign of life is never answered
                self._answer(frame, Outcome(Verdict.MALFORMED))
            return
        if layout.numbered:
            self._take_numbered(frame, layout, message)
        elif isinstance(message, Stop):
            self.board.stop()
            self._send(Answer(frame.kind, Verdict.DONE, self.board.revision, 0))
        elif isinstance(message, Cut):
            self.board.cut()
            self._send(Answer(frame.kind, Verdict.DONE, self.board.revision, 0))
        elif isinstance(message, ReadSettings):
            self._send(self.identity.settings)
        elif isinstance(message, Alive):
            self._take_alive(message)
        elif isinstance(message, Hello):
            self._take_hello(frame, message)

    def _take_alive(self, alive: Alive) -> None:
        if self._is_open(alive.token) and alive.number > self._alive_number:
            self._alive_number = alive.number
            self._alive_ms = self.board.now_ms

    def _take_hello(self, frame: Frame, hello: Hello) -> None:
        if hello.base_version == BASE_VERSION and not self._is_open(hello.token):
            if hello.token == NO_TOKEN:
                self._send(Answer(frame.kind, Verdict.BAD_VALUE, self.board.revision, 1))
                return
            if self.lease_live:
                self._send(Answer(frame.kind, Verdict.HELD, self.board.revision, 0))
                return
            self._open_session(hello.token)
        self._send(self._welcome(hello.token))

    def _open_session(self, token: int) -> None:
        self.token = token
        self._alive_number = 0
        self._last_sequence = 0
        self._last_content = None
        self.board.loading = None
        self.board.pedal.disarm()
        self.board.raise_revision()

    def _take_numbered(self, frame: Frame, layout: MessageLayout, command: Any) -> None:
        if not self._is_open(command.token):
            self._answer(frame, Outcome(Verdict.NO_SESSION))
            return
        content = (frame.kind, frame.payload)
        if frame.sequence == self._last_sequence and content == self._last_content:
            self._to_send += self._last_answer
            return
        if frame.sequence != self._last_sequence % 255 + 1:
            self._answer(frame, Outcome(Verdict.CONFLICT))
            return
        self._last_sequence = frame.sequence
        self._last_content = content
        self._last_answer = self._answer(frame, self._judge(command))

    def _judge(self, command: Any) -> Outcome:
        board = self.board
        cls = type(command)
        if self._is_stale(command):
            return Outcome(Verdict.STALE)
        wind_wrong = (cls in NEEDS_WIND and board.wind == NO_WIND) or (
            cls in NEEDS_NO_WIND and board.wind != NO_WIND
        )
        if board.state not in ALLOWED[cls] or wind_wrong:
            return Outcome(Verdict.WRONG_STATE)
        return COMMANDS[cls](board, self.identity, self.lease_live, command)

    def _is_stale(self, command: Any) -> bool:
        board = self.board
        if not hasattr(command, "boot"):  # moves nothing and binds nothing
            return False
        # A new wind's number is no belief about the old one.
        wind = board.wind if type(command) in NEEDS_NO_WIND else command.wind
        believed = (command.boot, wind, command.revision)
        return believed != (self.boot, board.wind, board.revision)

    def _is_open(self, token: int) -> bool:
        return token == self.token != NO_TOKEN

    def _speaks(self, group: Group, version: int = 1) -> bool:
        return group is Group.BASE or self.identity.groups[group - 1] >= version

    def _welcome(self, token: int) -> Welcome:
        kept = self.board.body.kept()
        flags = (Kept.VALID.value if kept.valid else 0) | (
            Kept.AT_REST.value if kept.at_rest else 0
        )
        identity = self.identity
        return Welcome(
            base_version=BASE_VERSION,
            token=token,
            boot=self.boot,
            uptime_ms=self.board.uptime_ms,
            board=identity.board,
            groups=bytes(identity.groups),
            has=identity.has,
            legs_max=identity.legs_max,
            rate_max_mcps=identity.rate_max_mcps,
            edge_rate_max_cps=identity.edge_rate_max_cps,
            settings_hash=identity.settings_hash,
            kept_wind=kept.wind,
            kept_count=kept.count,
            kept_flags=flags,
            cut_ms=identity.cut_ms,
            rest_ms=identity.rest_ms,
        )

    def _answer(self, frame: Frame, outcome: Outcome) -> bytes:
        """Answer a frame under its own number; returns the bytes, to be remembered."""
        message = Answer(frame.kind, outcome.verdict, self.board.revision, outcome.detail)
        data = encode_frame(_ANSWER_KIND, frame.sequence, pack(message))
        self._to_send += data
        return data

    def _send(self, message: Any) -> None:
        self._to_send += encode_message(message)
