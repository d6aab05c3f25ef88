"""A bare host for one wind on one emulated board: the protocol's own host end, and a record of every status."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any, Protocol

from firmware_protocol.connection import HostEnd
from firmware_protocol.device_plan import checksum_of
from firmware_protocol.heard import Answered, Troubled
from firmware_protocol.messages import (
    EndAction,
    OpenWind,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    Start,
    State,
    Status,
    Verdict,
    Welcome,
)

from .chip_faults_claim import MOVING, Heard

STEP_NS = 4_000_000
WIND = 4711
NO_BELIEFS = {"token": 0, "boot": 0, "wind": 0, "revision": 0}


class Refused(Exception):
    """The board did not do what was asked."""


class Board(Protocol):
    """Bytes and a clock; cycles are sixteenths of a microsecond."""

    @property
    def now_ns(self) -> int: ...
    def run_until_cycle(self, cycle: int) -> None: ...
    def receive(self, data: bytes) -> None: ...
    def take_bytes(self) -> bytes: ...


class ChipHost:
    """``heard`` is every status of the chip's life so far; ``alive`` off: no sign of life any more."""

    def __init__(self, board: Board, token: int = 0x5EED) -> None:
        self.board = board
        self.end = HostEnd(token)
        self.heard: list[Heard] = []
        self.answers: list[Answered] = []
        self.troubles: list[Troubled] = []
        self.alive = True

    @property
    def now_s(self) -> float:
        return self.board.now_ns / 1e9

    @property
    def status(self) -> Status:
        return self.heard[-1].status

    @property
    def welcome(self) -> Welcome:
        assert self.end.welcome is not None
        return self.end.welcome

    def live(self, seconds: float) -> None:
        until_ns = self.board.now_ns + round(seconds * 1e9)
        while self.board.now_ns < until_ns:
            self._step()

    def until(self, holds: Callable[[], bool], within_s: float) -> bool:
        """Whether it came to hold."""
        until_ns = self.board.now_ns + round(within_s * 1e9)
        while not holds():
            if self.board.now_ns >= until_ns:
                return False
            self._step()
        return True

    def _step(self) -> None:
        self.board.run_until_cycle((self.board.now_ns + STEP_NS) * 2 // 125)
        now_ns = self.board.now_ns
        for item in self.end.receive(self.board.take_bytes(), now_ns):
            if isinstance(item, Status):
                self.heard.append(Heard(now_ns / 1e9, item))
            elif isinstance(item, Answered):
                self.answers.append(item)
            elif isinstance(item, Troubled):
                self.troubles.append(item)
        if self.alive:
            self.end.sign_of_life(now_ns)
        self.board.receive(self.end.data_to_send(now_ns))

    def open(self, within_s: float = 3.5) -> None:
        self.end.open(self.board.now_ns)
        if not self.until(lambda: self.end.welcome is not None and bool(self.heard), within_s):
            raise Refused("no welcome")
        self.live(0.3)

    def ask(self, command: Any) -> Verdict:
        """One command with the beliefs of the newest status; its verdict."""
        beliefs = {
            name: getattr(self.status, name)
            for name in ("boot", "wind", "revision")
            if hasattr(command, name) and not (name == "wind" and isinstance(command, OpenWind))
        }
        before = len(self.answers)
        self.end.send(dataclasses.replace(command, **beliefs), self.board.now_ns)
        if not self.until(lambda: len(self.answers) > before, 3.0):
            raise Refused(f"{type(command).__name__} was not answered")
        self.live(0.06)  # a status with the new revision
        return Verdict(getattr(self.answers[-1].answer, "verdict", Verdict.DONE))

    def do(self, command: Any) -> None:
        verdict = self.ask(command)
        if verdict is not Verdict.DONE:
            raise Refused(f"{type(command).__name__}: {verdict.name}")

    def load(self, *legs: PlanLeg) -> None:
        self.do(OpenWind(0, 0, 0, WIND))
        self.do(PlanBegin(**NO_BELIEFS, generation=1, legs=len(legs)))
        for one in legs:
            self.do(one)
        self.do(PlanCommit(**NO_BELIEFS, generation=1, checksum=checksum_of(legs)))

    def start(self) -> None:
        self.do(Start(**NO_BELIEFS, generation=1))

    def cut(self) -> None:
        """A person's second stop."""
        self.end.cut(self.board.now_ns)

    @property
    def resting(self) -> bool:
        return self.status.state not in MOVING and not self.status.rate_mcps


def leg_of(
    counts_per_turn: int,
    turns: float,
    rpm: float,
    *,
    accel_rpm_s: float = 600.0,
    creep_rpm: float = 60.0,
    index: int = 0,
    end: EndAction = EndAction.COMPLETE,
    coast_counts: int = 0,
) -> PlanLeg:
    """A leg without the guide, in turns and rpm."""
    mcps = counts_per_turn * 1000 / 60
    rate = round(rpm * mcps)
    return PlanLeg(
        token=0,
        generation=1,
        index=index,
        end_action=end,
        spindle=1,
        end_count=max(1, round(turns * counts_per_turn)),
        rate_mcps=rate,
        accel_mcps2=max(1, round(accel_rpm_s * mcps)),
        creep_mcps=min(rate, max(round(creep_rpm * mcps), 4000)),
        coast_counts=coast_counts,
        pitch_nm=0,
        pitch_counts=counts_per_turn,
        left_um=0,
        right_um=0,
        dwell_counts=0,
        scatter_seed=0,
    )


def ended(status: Status) -> bool:
    return status.state in (State.COMPLETE, State.TRIPPED)
