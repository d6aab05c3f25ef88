"""Boards that go wrong with frames, sessions, numbers and winds: sections 3 to 6."""

from __future__ import annotations

from dataclasses import replace

from reference_board import FULL_BOARD
from wrong_frames import COUNTER, Ends, Tells

from firmware_protocol.device_commands import Outcome
from firmware_protocol.framing import Frame, cobs_decode, encode_frame
from firmware_protocol.messages import (
    Answer,
    CloseWind,
    Hello,
    OpenWind,
    SetTarget,
    Stop,
    Verdict,
)
from firmware_protocol.settings import Settings, WriteSettings
from firmware_protocol.wire import LAYOUT_OF, unpack


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


class KeepsOldCount(Tells):
    """The count goes on from the wind before."""

    clause = "5.20"

    def told(self, status):
        return replace(status, count=status.count + 3)


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


class TellsOtherSettingsEachTime(Ends):
    clause = "21.1"
    times = 0

    def _send(self, message) -> None:
        if isinstance(message, Settings):
            self.times += 1
            message = replace(message, dead_ms=self.times)
        super()._send(message)


class KeepsWhatContradictsItself(Ends):
    clause = "21.2"

    def _judge(self, command) -> Outcome:
        outcome = super()._judge(command)
        if isinstance(command, WriteSettings) and command.bounce_us > command.least_period_us:
            return Outcome(Verdict.DONE)
        return outcome


class KeepsSettingsInAWind(Ends):
    clause = "21.3"

    def _judge(self, command) -> Outcome:
        outcome = super()._judge(command)
        if isinstance(command, WriteSettings) and outcome.verdict is Verdict.WRONG_STATE:
            return Outcome(Verdict.DONE)
        return outcome
