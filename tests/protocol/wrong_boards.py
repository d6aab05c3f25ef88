"""Boards that break one clause each, on top of the reference, and the clause that must be named."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace
from typing import ClassVar

from reference_board import COUNTER_BOARD, FULL_BOARD, CarefulBody, ReferenceBoard

from firmware_protocol.body import Drive, Identity, Order
from firmware_protocol.device import DeviceEnd
from firmware_protocol.device_commands import Outcome
from firmware_protocol.framing import Frame, cobs_decode, cobs_encode, encode_frame
from firmware_protocol.messages import (
    Alive,
    Answer,
    CloseWind,
    Hello,
    Move,
    OpenWind,
    PlanLeg,
    SetTarget,
    SettleNumber,
    Start,
    Stop,
    TraverseStep,
    Verdict,
)
from firmware_protocol.wire import LAYOUT_OF, unpack

COUNTER = replace(COUNTER_BOARD, rate_max_mcps=0)


class Sends(ReferenceBoard):
    """Something is done to each whole frame that the board sends."""

    def data_to_send(self) -> bytes:
        runs = super().data_to_send().split(b"\0")[:-1]
        return b"".join(self.sent(cobs_decode(run)) for run in runs)

    def sent(self, body: bytes) -> bytes:
        raise NotImplementedError


class BigEndianCrc(Sends):
    clause: ClassVar[str] = "3.1"

    def sent(self, body: bytes) -> bytes:
        return cobs_encode(body[:-4] + body[:-5:-1]) + b"\0"


class CrcWithoutNumber(Sends):
    clause: ClassVar[str] = "3.1"

    def sent(self, body: bytes) -> bytes:
        sum_of = zlib.crc32(body[:1] + body[2:-4]).to_bytes(4, "little")
        whole = body[1] == 0 and body[0] == 0x81
        return cobs_encode(body if whole else body[:-4] + sum_of) + b"\0"


class AnswersTwice(Sends):
    clause: ClassVar[str] = "5.1"

    def sent(self, body: bytes) -> bytes:
        frame = cobs_encode(body) + b"\0"
        return frame * (2 if body[0] == 0x83 and body[1] else 1)


class ShortStatus(Sends):
    clause: ClassVar[str] = "3.11"

    def sent(self, body: bytes) -> bytes:
        short = body[0] == 0x82
        return encode_frame(body[0], body[1], body[2 : -6 if short else -4])


class NumbersItsStatus(Sends):
    """A board that numbers its answers to a stop as they came."""

    clause: ClassVar[str] = "6.1"

    def sent(self, body: bytes) -> bytes:
        to_stop = body[:3] == b"\x83\x00\x03"
        return encode_frame(body[0], 5 if to_stop else body[1], body[2:-4])


class Ends(DeviceEnd):
    clause: ClassVar[str]
    identity_of: ClassVar[Identity] = FULL_BOARD


class TakesAnyCrc(Ends):
    """No subclassing here: frames are read without their check."""

    clause = "3.2"

    def receive(self, data: bytes, now_ms: int) -> None:
        mended = []
        for run in data.split(b"\0"):
            try:
                body = cobs_decode(run)
            except ValueError:
                body = b""
            if 6 <= len(body) <= 62:
                run = encode_frame(body[0], body[1], body[2:-4])[:-1]
            mended.append(run)
        super().receive(b"\0".join(mended), now_ms)


class ReadsInsideARun(Ends):
    """Forgets to go on dropping up to the next zero."""

    clause = "3.4"

    def receive(self, data: bytes, now_ms: int) -> None:
        parts = [run[-7:] if len(run) > 63 else run for run in data.split(b"\0")]
        super().receive(b"\0".join(parts), now_ms)


class RefusesLonger(Ends):
    clause = "3.6"

    def _take(self, frame: Frame) -> None:
        if frame.kind == 0x13 and len(frame.payload) > 4:
            self._answer(frame, Outcome(Verdict.MALFORMED))
        else:
            super()._take(frame)


class SilentAboutShort(Ends):
    clause = "3.7"

    def _take(self, frame: Frame) -> None:
        if frame.kind == 0x01 and len(frame.payload) < 5:
            return
        super()._take(frame)


class AnswersEchoes(Ends):
    clause = "3.9"

    def _take(self, frame: Frame) -> None:
        if frame.kind >= 0x80:
            self._answer(frame, Outcome(Verdict.UNSUPPORTED))
        else:
            super()._take(frame)


class ForgetsToken(Ends):
    clause = "4.1"

    def _welcome(self, token: int):
        return replace(super()._welcome(token), token=token >> 16)


class NewSessionEachHello(Ends):
    clause = "4.2"

    def _take_hello(self, frame: Frame, hello: Hello) -> None:
        if hello.base_version == 1 and hello.token and not self.lease_live:
            self._open_session(hello.token)
        super()._take_hello(frame, hello)


class OpensForAnyVersion(Ends):
    clause = "4.4"

    def _take_hello(self, frame: Frame, hello: Hello) -> None:
        super()._take_hello(frame, replace(hello, base_version=1))


class TakesTokenZero(Ends):
    clause = "4.5"

    def _take_hello(self, frame: Frame, hello: Hello) -> None:
        if hello.token == 0:
            self._send(self._welcome(0))
        else:
            super()._take_hello(frame, hello)


class GivesWay(Ends):
    """Hands a living session to whoever asks."""

    clause = "4.6"

    def _take_hello(self, frame: Frame, hello: Hello) -> None:
        if hello.base_version == 1 and hello.token not in (0, self.token):
            self._alive_ms = None
        super()._take_hello(frame, hello)


class ForgetsWind(Ends):
    clause = "4.8"

    def _open_session(self, token: int) -> None:
        super()._open_session(token)
        self.board.wind = 0


class ClaimsTooMuch(Ends):
    clause = "4.9"
    identity_of = replace(FULL_BOARD, edge_rate_max_cps=4000)


class DoesTwice(Ends):
    """Remembers no answer: what comes again is refused."""

    clause = "5.2"

    def _take_numbered(self, frame, layout, command) -> None:
        self._last_content = None
        super()._take_numbered(frame, layout, command)


class KeepsNoOrderOfNumbers(Ends):
    clause = "5.4"

    def _take_numbered(self, frame, layout, command) -> None:
        if frame.sequence != self._last_sequence:
            self._last_sequence = (frame.sequence - 2) % 255 + 1
        super()._take_numbered(frame, layout, command)


class WrapsToZero(Ends):
    clause = "5.5"

    def _take_numbered(self, frame, layout, command) -> None:
        if self._last_sequence == 255:
            self._answer(frame, Outcome(Verdict.CONFLICT))
        else:
            super()._take_numbered(frame, layout, command)


class RefusalsUseNoNumber(Ends):
    clause = "5.6"

    def _take_numbered(self, frame, layout, command) -> None:
        before = self._last_sequence, self._last_content, self._last_answer
        super()._take_numbered(frame, layout, command)
        answer = unpack(0x83, cobs_decode(bytes(self._to_send).split(b"\0")[-2])[2:-4])
        if answer.verdict is Verdict.BAD_VALUE:
            self._last_sequence, self._last_content, self._last_answer = before


class MalformedFirst(Ends):
    """Judges the length of what it does not know."""

    clause = "5.8"

    def _take(self, frame: Frame) -> None:
        if (
            frame.kind < 0x80
            and frame.kind != 2
            and len(frame.payload) == 0
            and frame.kind not in (3, 0x23)
        ):
            self._answer(frame, Outcome(Verdict.MALFORMED))
        else:
            super()._take(frame)


class StaleFirst(Ends):
    clause = "5.10"

    def _take_numbered(self, frame, layout, command) -> None:
        if self._is_open(command.token) and self._is_stale(command):
            self._answer(frame, Outcome(Verdict.STALE))
        else:
            super()._take_numbered(frame, layout, command)


class NeverStale(Ends):
    clause = "5.11"

    def _is_stale(self, command) -> bool:
        return False


class LooksAtWindByHalf(Ends):
    """Compares the lower 16 bits of a wind."""

    clause = "5.11"

    def _is_stale(self, command) -> bool:
        if hasattr(command, "wind") and not isinstance(command, OpenWind):
            low = command.wind & 0xFFFF == self.board.wind & 0xFFFF
            command = replace(command, wind=self.board.wind if low else command.wind)
        return super()._is_stale(command)


class ValuesBeforeState(Ends):
    clause = "5.12"

    def _judge(self, command) -> Outcome:
        if isinstance(command, OpenWind) and command.wind == 0:
            return Outcome(Verdict.BAD_VALUE, 3)
        return super()._judge(command)


class NamesAnotherField(Ends):
    clause = "5.13"

    def _judge(self, command) -> Outcome:
        outcome = super()._judge(command)
        if outcome.verdict is Verdict.BAD_VALUE and isinstance(command, SetTarget):
            return replace(outcome, detail=outcome.detail - 1)
        return outcome


class KeepsOldCount(Ends):
    """The count goes on from the wind before."""

    clause = "5.20"

    def status(self):
        return replace(super().status(), count=super().status().count + 3)


class TargetRaisesRevision(Ends):
    clause = "5.21"

    def _judge(self, command) -> Outcome:
        outcome = super()._judge(command)
        if isinstance(command, SetTarget) and outcome.verdict is Verdict.DONE:
            self.board.raise_revision()
        return outcome


class ClosingKeepsRevision(Ends):
    clause = "5.22"

    def _judge(self, command) -> Outcome:
        revision = self.board.revision
        outcome = super()._judge(command)
        if isinstance(command, CloseWind) and outcome.verdict is Verdict.DONE:
            self.board.revision = revision
        return outcome


class StopNeedsASession(Ends):
    clause = "6.4"

    def _take(self, frame: Frame) -> None:
        if frame.kind == LAYOUT_OF[Stop].kind and frame.sequence == 211:
            self._answer(Frame(frame.kind, 0, b""), Outcome(Verdict.DONE))
        else:
            super()._take(frame)


class CounterKnowsCut(Ends):
    clause = "6.2"
    identity_of = COUNTER

    def _take(self, frame: Frame) -> None:
        if frame.kind == 0x23:
            self._send(Answer(frame.kind, Verdict.DONE, self.board.revision, 0))
        else:
            super()._take(frame)


class LongLease(Ends):
    clause = "7.1"

    def _look(self, now_ms: int) -> None:
        alive, self._alive_ms = self._alive_ms, None
        if alive is not None and now_ms - alive < 1600:
            self._alive_ms = now_ms
        super()._look(now_ms)
        if self._alive_ms is not None:
            self._alive_ms = alive


class TakesOldLife(Ends):
    clause = "7.2"

    def _take_alive(self, alive: Alive) -> None:
        self._alive_number = 0
        super()._take_alive(alive)


class CommandsAreLife(Ends):
    clause = "7.3"

    def _take_numbered(self, frame, layout, command) -> None:
        super()._take_numbered(frame, layout, command)
        if isinstance(command, SettleNumber) and self._alive_ms is not None:
            self._alive_ms = self.board.now_ms


class SignedLife(Ends):
    """Compares the numbers of signs of life as if they had a sign."""

    clause = "7.4"

    def _take_alive(self, alive: Alive) -> None:
        if alive.number < 0x8000_0000:
            super()._take_alive(alive)


class RestartsWithLease(Ends):
    """Goes on by itself as the lease comes back."""

    clause = "7.5"
    ended = False

    def _take_alive(self, alive: Alive) -> None:
        was_live = self.lease_live
        super()._take_alive(alive)
        board = self.board
        if not was_live and board.reason == 2 and board._move is not None and board.state == 0:
            board.begin_move(board._move)


class IgnoresLease(Ends):
    clause = "7.5"

    def _look(self, now_ms: int) -> None:
        super()._look(now_ms)
        self.board.look(now_ms, True)

    def tick(self, now_ms: int) -> None:
        live = self._alive_ms
        if self.board.in_motion:
            self._alive_ms = now_ms
        super().tick(now_ms)
        self._alive_ms = live if live is not None and now_ms - live < 1000 else None


class FallsSilent(Ends):
    """Speaks when spoken to, and never of itself after the first second."""

    clause = "8.1"

    def tick(self, now_ms: int) -> None:
        if now_ms > 1200:
            self._status_due_ms = now_ms + 50
        super().tick(now_ms)


class SaysLittle(Ends):
    """A status every 700 ms."""

    clause = "8.1"

    def tick(self, now_ms: int) -> None:
        due = self._status_due_ms
        super().tick(now_ms)
        if self._status_due_ms != due:
            self._status_due_ms = due + 700


class FastClock(Ends):
    clause = "8.3"

    def status(self):
        status = super().status()
        return replace(status, uptime_ms=status.uptime_ms * 5 // 4)


class SaysLegZero(Ends):
    clause = "8.4"

    def status(self):
        status = super().status()
        return replace(status, leg=0 if status.leg == 255 else status.leg)


class SeesNoWire(Ends):
    clause = "8.5"
    identity_of = COUNTER

    def status(self):
        status = super().status()
        return replace(status, flags=status.flags & ~8)


class Doubts(Ends):
    clause = "8.6"
    identity_of = COUNTER

    def status(self):
        return replace(super().status(), unattributed=2)


class TakesLegsInAnyOrder(Ends):
    clause = "11.4"

    def _judge(self, command) -> Outcome:
        loading = self.board.loading
        if isinstance(command, PlanLeg) and loading is not None and not loading.complete:
            command = replace(command, index=len(loading.legs))
        return super()._judge(command)


class TrustsSums(Ends):
    clause = "11.5"

    def _judge(self, command) -> Outcome:
        outcome = super()._judge(command)
        if outcome.verdict is Verdict.WRONG_CHECKSUM:
            return replace(outcome, detail=0)
        return outcome


class KeepsHalfPlan(Ends):
    clause = "11.7"

    def _open_session(self, token: int) -> None:
        loading = self.board.loading
        super()._open_session(token)
        self.board.loading = loading


class MovesWithoutLease(Ends):
    clause = "13.2"

    def _judge(self, command) -> Outcome:
        if isinstance(command, Move | Start | TraverseStep) and not self.lease_live:
            self._alive_ms = self.board.now_ms
        return super()._judge(command)


class ShortOfTheCount(CarefulBody):
    """Arrives one count early."""

    clause = "12.1"

    def _wind_1_ms(self) -> None:
        super()._wind_1_ms()
        if self.seen.arrived:
            self.seen.count -= 1


class CutsGently(CarefulBody):
    """Does not stop at a cut."""

    clause = "6.5"

    def obey(self, drive: Drive) -> None:
        if drive.order is not Order.CUT:
            super().obey(drive)


@dataclass(frozen=True, slots=True)
class WrongBoard:
    name: str
    clause: str
    make: type

    def board(self):
        if issubclass(self.make, Sends):
            return self.make()
        if issubclass(self.make, CarefulBody):
            return ReferenceBoard(body=self.make())
        return ReferenceBoard(self.make.identity_of, self.make)


def _all(base: type) -> list[type]:
    found = []
    for each in base.__subclasses__():
        found += [each, *_all(each)]
    return found


WRONG_BOARDS = [
    WrongBoard(each.__name__, each.clause, each)
    for base in (Sends, Ends, CarefulBody)
    for each in _all(base)
]
