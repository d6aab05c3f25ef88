"""Two real ends wired back to back over a pretend link, and a body that does as it is told.

The link keeps order and spoils by seed: it loses, doubles, delays and corrupts whole writes. The body
is the simplest that is honest about time: it needs some milliseconds to slow down and some more until
its sensor has been quiet long enough to be called at rest. All times in milliseconds.
"""

from __future__ import annotations

import random
from collections import deque
from dataclasses import dataclass, replace

from firmware_protocol.body import Drive, Facts, Identity, KeptRecord, Order
from firmware_protocol.connection import NS_PER_MS, HostEnd
from firmware_protocol.device import DeviceEnd
from firmware_protocol.device_plan import checksum_of, leg_at, stop_leg_from
from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.heard import Answered
from firmware_protocol.messages import (
    Answer,
    EndAction,
    Has,
    OpenWind,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    Side,
    Verdict,
)

FULL_BOARD = Identity(
    board="pair",
    groups=(1, 1, 1, 1, 0, 1),
    has=int(Has.GUARD | Has.WIRE_SENSOR),
    legs_max=8,
    rate_max_mcps=5_000_000,
    edge_rate_max_cps=20_000,
    settings_hash=0xC0FFEE,
    cut_ms=2000,
    rest_ms=5000,
)
PEDAL_BOARD = replace(
    FULL_BOARD,
    groups=(1, 1, 1, 1, 1, 1),
    has=int(Has.GUARD | Has.WIRE_SENSOR | Has.PEDAL | Has.STOP_INPUT),
)
COUNTER_BOARD = replace(
    FULL_BOARD, groups=(1, 0, 0, 0, 0, 0), has=0, legs_max=0, cut_ms=0, rest_ms=0
)

SLOWING_MS = 80
QUIET_MS = 30  # from standstill until the sensor has been quiet for long enough
COUNTS_PER_MS = 2


def leg(index: int, end_count: int, end_action: EndAction, **changes: int) -> PlanLeg:
    """A sound leg; ``changes`` make it another, or an unsound one."""
    sound = PlanLeg(
        token=0,
        generation=1,
        index=index,
        end_action=end_action,
        spindle=1,
        end_count=end_count,
        rate_mcps=2_000_000,
        accel_mcps2=10_000_000,
        creep_mcps=10_000,
        coast_counts=0,
        pitch_nm=0,
        pitch_counts=4,
        left_um=0,
        right_um=5000,
        dwell_counts=0,
        scatter_seed=0,
    )
    return replace(sound, **changes)


TWO_LEGS = (leg(0, 400, EndAction.PAUSE), leg(1, 1000, EndAction.COMPLETE))
THREE_LEGS = (
    leg(0, 100, EndAction.CONTINUE),
    leg(1, 400, EndAction.PAUSE),
    leg(2, 1000, EndAction.COMPLETE),
)


FAR_MS = 400


class ScriptedBody:
    """A body with a count that runs at one speed, a guard, a wire and a guide."""

    def __init__(self, kept: KeptRecord | None = None) -> None:
        self.seen = Facts()
        self.drives: list[Drive] = []
        self.records: list[KeptRecord] = [kept] if kept else []
        self.deeds: list[str] = []  # orders and records in the order they came
        self.marks: list[tuple[Side, int]] = []
        self.moving = False  # as remembered beyond a reset
        self._coming_to_rest_ms = 0
        self._move_left = 0
        self._guide_left_ms = 0
        self._guide_by_um = 0

    @property
    def drive(self) -> Drive:
        return self.drives[-1]

    def obey(self, drive: Drive) -> None:
        self.drives.append(drive)
        self.deeds.append(drive.order.value)
        self.seen.arrived = False
        moving = not self.seen.at_rest
        if drive.order in (Order.WIND, Order.MOVE):
            self.seen.at_rest = False
            self._coming_to_rest_ms = 0
            if drive.move is not None:
                self._move_left = drive.move.counts
        elif moving and self._coming_to_rest_ms <= 0:  # a wheel that slows does not begin anew
            self._coming_to_rest_ms = SLOWING_MS + QUIET_MS
        self._guide_left_ms = 0

    def facts(self) -> Facts:
        return replace(self.seen)

    def zero_count(self) -> None:
        self.seen.count = 0
        self.seen.unattributed = self.seen.implausible = 0

    def mark_traverse(self, side: Side, at_um: int) -> None:
        self.marks.append((side, at_um))
        self.seen.traverse_um = at_um

    def step_traverse(self, distance_um: int) -> None:
        self.deeds.append("guide")
        self.seen.arrived = False
        self._guide_left_ms = 20
        self._guide_by_um = distance_um

    def lead_far(self, ask: TraverseHome | TraverseMove) -> None:
        home = isinstance(ask, TraverseHome)
        self.step_traverse(0 if home else ask.distance_um)
        self._guide_left_ms = FAR_MS
        if home:
            self._guide_by_um = ask.at_um - self.seen.traverse_um

    def keep(self, record: KeptRecord) -> None:
        self.deeds.append(f"keep {'at rest' if record.at_rest else 'started'}")
        self.records.append(record)

    def kept(self) -> KeptRecord:
        return self.records[-1] if self.records else KeptRecord()

    def keep_motion(self, moving: bool) -> None:
        self.deeds.append("in motion" if moving else "no motion")
        self.moving = moving

    def kept_motion(self) -> bool:
        return self.moving

    def advance(self, span_ms: int = 1) -> None:
        for _ in range(span_ms):
            self._advance_1_ms()

    def _advance_1_ms(self) -> None:
        order = self.drive.order
        if self._guide_left_ms:
            self._guide_left_ms -= 1
            if not self._guide_left_ms:
                self.seen.traverse_um += self._guide_by_um
                self.seen.arrived = True
        if self.seen.at_rest:
            return
        if self.seen.arrived or order in (Order.REST, Order.CUT, Order.OFF):
            if self._coming_to_rest_ms > QUIET_MS:
                self.seen.count += 1 if self._move_left >= 0 else -1
            self._coming_to_rest_ms -= 1
            if self._coming_to_rest_ms <= 0:
                self.seen.at_rest = True
                self._move_left = 0
        elif order is Order.WIND:
            self._wind_1_ms()
        elif order is Order.MOVE:
            step = max(-COUNTS_PER_MS, min(COUNTS_PER_MS, self._move_left))
            self.seen.count += step
            self._move_left -= step
            if self._move_left == 0:
                self._arrive()

    def _wind_1_ms(self) -> None:
        legs = self.drive.legs
        end = legs[stop_leg_from(legs, leg_at(legs, self.seen.count))].end_count
        self.seen.count = min(end, self.seen.count + COUNTS_PER_MS)
        if self.seen.count == end:
            self._arrive()

    def _arrive(self) -> None:
        self.seen.arrived = True
        self._coming_to_rest_ms = QUIET_MS


@dataclass
class Quality:
    """Shares, 0 to 1, of writes that are lost, doubled, corrupted; delay up to this long."""

    lost: float = 0.0
    doubled: float = 0.0
    corrupt: float = 0.0
    delay_ms: int = 0


class Way:
    """One direction of the link. Keeps order."""

    def __init__(self, chance: random.Random) -> None:
        self.quality = Quality()
        self._chance = chance
        self._waiting: deque[tuple[int, bytes]] = deque()

    def put(self, data: bytes, now_ms: int) -> None:
        if not data:
            return
        quality, chance = self.quality, self._chance
        if chance.random() < quality.lost:
            return
        if chance.random() < quality.corrupt:
            spoiled = bytearray(data)
            spoiled[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
            data = bytes(spoiled)
        due = now_ms + chance.randint(0, quality.delay_ms)
        if self._waiting:
            due = max(due, self._waiting[-1][0])
        self._waiting.append((due, data))
        if chance.random() < quality.doubled:
            self._waiting.append((due, data))

    def take(self, now_ms: int) -> bytes:
        parts = []
        while self._waiting and self._waiting[0][0] <= now_ms:
            parts.append(self._waiting.popleft()[1])
        return b"".join(parts)


class Pair:
    """Both ends, the link between them, the body, and the operator (alive or not)."""

    def __init__(
        self,
        seed: int = 0,
        identity: Identity = FULL_BOARD,
        token: int = 77,
        device_class: type[DeviceEnd] = DeviceEnd,
        host_class: type[HostEnd] = HostEnd,
    ) -> None:
        chance = random.Random(seed)
        self.now_ms = 0
        self.identity = identity
        self.body = ScriptedBody()
        self.boot = 5
        self.device_class = device_class
        self.device = device_class(self.body, identity, self.boot, 0)
        self.host = host_class(token)
        self.up = Way(chance)
        self.down = Way(chance)
        self.operator_alive = True
        self.heard: list = []

    @property
    def now_ns(self) -> int:
        return self.now_ms * NS_PER_MS

    @property
    def board(self):
        return self.device.board

    def set_quality(self, quality: Quality) -> None:
        self.up.quality = self.down.quality = quality

    def run(self, span_ms: int) -> list:
        """Let time pass; returns what the host heard meanwhile."""
        first = len(self.heard)
        for _ in range(span_ms):
            self.now_ms += 1
            self.body.advance()
            self.device.tick(self.now_ms)
            self.device.receive(self.up.take(self.now_ms), self.now_ms)
            self.down.put(self.device.data_to_send(), self.now_ms)
            self.heard += self.host.receive(self.down.take(self.now_ms), self.now_ns)
            if self.operator_alive:
                self.host.sign_of_life(self.now_ns)
            self.up.put(self.host.data_to_send(self.now_ns), self.now_ms)
        return self.heard[first:]

    def open(self) -> None:
        self.host.open(self.now_ns)
        self.run(60)

    def beliefs(self) -> dict[str, int]:
        """What a command carries: boot, wind and revision of the newest status heard."""
        status = self.host.newest_status
        return {
            "token": 0,
            "boot": status.boot,
            "wind": status.wind,
            "revision": status.revision,
        }

    def ask(self, command) -> Answer:
        """Send one command over a link that works and return its answer."""
        command = self.host.send(command, self.now_ns)
        for answered in self.run(70):
            if isinstance(answered, Answered) and answered.command is command:
                return answered.answer
        raise AssertionError(f"no answer to {command}")

    def load(self, legs: tuple[PlanLeg, ...] = TWO_LEGS, generation: int = 1) -> None:
        legs = tuple(replace(one, generation=generation) for one in legs)
        begin = PlanBegin(**self.beliefs(), generation=generation, legs=len(legs))
        commit = PlanCommit(**self.beliefs(), generation=generation, checksum=checksum_of(legs))
        for command in (begin, *legs, commit):
            answer = self.ask(command)
            assert answer.verdict is Verdict.DONE, (command, answer)

    def arm(self, legs: tuple[PlanLeg, ...] = TWO_LEGS, wind: int = 9) -> None:
        """From nothing to an armed board."""
        self.open()
        self.arm_opened(legs, wind)

    def arm_opened(self, legs: tuple[PlanLeg, ...], wind: int) -> None:
        beliefs = self.beliefs()
        del beliefs["wind"]
        assert self.ask(OpenWind(**beliefs, wind=wind)).verdict is Verdict.DONE
        self.load(legs)

    def reset_board(self, by_watchdog: bool = False) -> None:
        """Power gone and back: the body stands (after its coasting), only the record is kept."""
        self.boot += 1
        self.body = ScriptedBody(self.body.kept())
        self.device = self.device_class(
            self.body, self.identity, self.boot, self.now_ms, by_watchdog
        )
