"""A device end on a bench of its own: frames in by hand, frames out read back; no host end between."""

from __future__ import annotations

from dataclasses import replace

from pair import FULL_BOARD, TWO_LEGS, ScriptedBody

from firmware_protocol.body import Identity, KeptRecord
from firmware_protocol.device import DeviceEnd
from firmware_protocol.device_plan import checksum_of
from firmware_protocol.framing import FrameReader, encode_frame, encode_message
from firmware_protocol.messages import (
    Alive,
    Answer,
    Cut,
    Hello,
    OpenWind,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    Start,
    Status,
    Stop,
    Verdict,
)
from firmware_protocol.pedal import ArmPedal, PedalStatus
from firmware_protocol.wire import LAYOUT_OF, unpack

TOKEN = 77
BOOT = 5
WIND = 9


class RawBoard:
    """One boot; the time stands until ``run``."""

    def __init__(
        self,
        identity: Identity = FULL_BOARD,
        kept: KeptRecord | None = None,
        by_watchdog: bool = False,
    ) -> None:
        self.now_ms = 1000
        self.body = ScriptedBody(kept)
        self.device = DeviceEnd(self.body, identity, BOOT, self.now_ms, by_watchdog)
        self.reader = FrameReader()
        self.sequence = 0
        self.alive_number = 0
        self.statuses: list[Status] = []
        self.pedals: list[PedalStatus] = []

    @property
    def board(self):
        return self.device.board

    def give(self, data: bytes) -> list[tuple[int, object]]:
        """Bytes to the board; its answers with their numbers, statuses set aside."""
        self.device.receive(data, self.now_ms)
        return self.take()

    def take(self) -> list[tuple[int, object]]:
        said = []
        for frame in self.reader.feed(self.device.data_to_send()):
            message = unpack(frame.kind, frame.payload)
            if isinstance(message, Status):
                self.statuses.append(message)
            elif isinstance(message, PedalStatus):
                self.pedals.append(message)
            else:
                said.append((frame.sequence, message))
        return said

    def run(self, span_ms: int, alive: bool = False) -> list[tuple[int, object]]:
        said = []
        for _ in range(span_ms):
            self.now_ms += 1
            if alive and self.now_ms % 200 == 0:
                self.live()
            self.body.advance()
            self.device.tick(self.now_ms)
            said += self.take()
        return said

    def hello(self, token: int = TOKEN, base_version: int = 1):
        ((sequence, said),) = self.give(encode_message(Hello(base_version, token)))
        assert sequence == 0
        self.sequence = 0
        return said

    def live(self, token: int = TOKEN) -> None:
        self.alive_number += 1
        assert self.give(encode_message(Alive(token, self.alive_number))) == []

    def ask(self, command, sequence: int | None = None):
        """A numbered command in turn (or under the given number) and the one thing said to it."""
        if sequence is None:
            sequence = self.sequence = self.sequence % 255 + 1
        ((answered, said),) = self.give(encode_message(command, sequence))
        assert answered == sequence
        if isinstance(said, Answer):
            assert said.to == LAYOUT_OF[type(command)].kind
        return said

    def verdict(self, command, sequence: int | None = None) -> Verdict:
        return self.ask(command, sequence).verdict

    def unknown(self, kind: int, payload: bytes, sequence: int = 1):
        return self.give(encode_frame(kind, sequence, payload))

    def stop(self) -> None:
        ((sequence, said),) = self.give(encode_message(Stop()))
        assert sequence == 0 and said.verdict is Verdict.DONE and said.to == 0x03

    def cut(self) -> None:
        ((sequence, said),) = self.give(encode_message(Cut(), sequence=7))
        assert sequence == 0 and said.verdict is Verdict.DONE and said.to == 0x23

    # --- commands that believe what is so -------------------------------------------------------

    def beliefs(self) -> dict[str, int]:
        return {
            "token": TOKEN,
            "boot": BOOT,
            "wind": self.board.wind,
            "revision": self.board.revision,
        }

    def make(self, cls: type, **values: int):
        return cls(**self.beliefs(), **values)

    def open_wind(self, wind: int = WIND) -> None:
        command = OpenWind(TOKEN, BOOT, self.board.revision, wind)
        assert self.verdict(command) is Verdict.DONE

    def begin(self, legs: int, generation: int = 1):
        return self.ask(self.make(PlanBegin, generation=generation, legs=legs))

    def load(self, legs: tuple[PlanLeg, ...] = TWO_LEGS, generation: int = 1) -> None:
        assert self.begin(len(legs), generation).verdict is Verdict.DONE
        for one in legs:
            one = replace(one, token=TOKEN, generation=generation)
            assert self.verdict(one) is Verdict.DONE
        commit = self.make(
            PlanCommit, generation=generation, checksum=checksum_of(legs_of(legs, generation))
        )
        assert self.verdict(commit) is Verdict.DONE

    def arm(self, legs: tuple[PlanLeg, ...] = TWO_LEGS) -> None:
        self.hello()
        self.open_wind()
        self.load(legs)
        self.live()

    def start(self, generation: int = 1) -> Verdict:
        return self.verdict(self.make(Start, generation=generation))

    def arm_pedal(self, generation: int = 1) -> Verdict:
        return self.verdict(self.make(ArmPedal, generation=generation))


def legs_of(legs: tuple[PlanLeg, ...], generation: int) -> tuple[PlanLeg, ...]:
    return tuple(replace(one, generation=generation) for one in legs)
