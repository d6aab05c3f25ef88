"""A host at a bench: the real host end talks to the C core, which turns the model of a spindle. Virtual time."""

from __future__ import annotations

from typing import Any

from firmware_protocol.connection import NS_PER_MS, HostEnd
from firmware_protocol.device_plan import checksum_of
from firmware_protocol.heard import Answered
from firmware_protocol.messages import (
    Answer,
    EndAction,
    OpenWind,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    Start,
    State,
    Status,
    Verdict,
)

from .core import Machine

MOVING = (State.WINDING, State.SLOWING, State.SETTING_UP)
WIND = 9


def leg(index: int, end_count: int, end_action: EndAction, **changes: int) -> PlanLeg:
    """A leg for a machine of 16 counts a turn; ``changes`` make it another."""
    fields = {
        "token": 0,
        "generation": 1,
        "index": index,
        "end_action": end_action,
        "spindle": 1,
        "end_count": end_count,
        "rate_mcps": 500_000,
        "accel_mcps2": 400_000,
        "creep_mcps": 10_000,
        "coast_counts": 0,
        "pitch_nm": 0,
        "pitch_counts": 16,
        "left_um": 0,
        "right_um": 0,
        "dwell_counts": 0,
        "scatter_seed": 0,
    }
    return PlanLeg(**(fields | changes))


class Bench:
    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.now_ms = 0
        self.host = HostEnd(77)
        self.operator_alive = True
        self.heard: list[Any] = []
        machine.boot()

    @property
    def status(self) -> Status:
        status = self.host.newest_status
        assert status is not None
        return status

    def run(self, span_ms: int) -> list[Any]:
        first = len(self.heard)
        for _ in range(span_ms):
            self.now_ms += 1
            now_ns = self.now_ms * NS_PER_MS
            self.machine.pass_ms()
            self.heard += self.host.receive(self.machine.data_to_send(), now_ns)
            if self.operator_alive:
                self.host.sign_of_life(now_ns)
            self.machine.receive(self.host.data_to_send(now_ns))
        return self.heard[first:]

    def beliefs(self) -> dict[str, int]:
        status = self.status
        return {
            "token": 0,
            "boot": status.boot,
            "wind": status.wind,
            "revision": status.revision,
        }

    def ask(self, command: Any) -> Answer:
        command = self.host.send(command, self.now_ms * NS_PER_MS)
        for heard in self.run(70):
            if isinstance(heard, Answered) and heard.command is command:
                return heard.answer
        raise AssertionError(f"no answer to {command}")

    def do(self, command: Any) -> None:
        answer = self.ask(command)
        assert answer.verdict is Verdict.DONE, (command, answer)

    def open(self) -> None:
        self.host.open(self.now_ms * NS_PER_MS)
        self.run(60)
        beliefs = self.beliefs()
        del beliefs["wind"]
        self.do(OpenWind(**beliefs, wind=WIND))

    def load(self, *legs: PlanLeg) -> None:
        self.do(PlanBegin(**self.beliefs(), generation=1, legs=len(legs)))
        for one in legs:
            self.do(one)
        self.do(PlanCommit(**self.beliefs(), generation=1, checksum=checksum_of(legs)))

    def start(self) -> None:
        self.run(60)
        self.do(Start(**self.beliefs(), generation=1))

    def stop(self) -> None:
        self.host.stop(self.now_ms * NS_PER_MS)
        self.run(100)

    def cut(self) -> None:
        self.host.cut(self.now_ms * NS_PER_MS)
        self.run(1)

    def to_rest(self, most_ms: int = 60_000) -> Status:
        """Until the board says that nothing moves."""
        end_ms = self.now_ms + most_ms
        self.run(60)
        while self.status.state in MOVING:
            assert self.now_ms < end_ms, self.status
            self.run(50)
        return self.status


def wound(machine: Machine, *legs: PlanLeg) -> Bench:
    """A bench whose plan runs."""
    bench = Bench(machine)
    bench.open()
    bench.load(*legs)
    bench.start()
    return bench
