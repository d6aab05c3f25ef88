"""A session, a real host end, a real device end and a body of a few lines, joined by bytes.

The body knows its true count, also of edges that came while its board was dead; so a test can ask whether
what the session says is so. Time goes in steps of 5 ms; the machine is invented: 20 counts a turn, legs at
600 and 1200 rpm (200 and 400 counts/s), slowing 40 counts in 200 ms.
"""

from __future__ import annotations

import copy
import random
from collections import deque
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from firmware_protocol.body import Drive, Facts, Identity, KeptRecord, Order
from firmware_protocol.connection import HostEnd
from firmware_protocol.device import DeviceEnd
from firmware_protocol.heard import Trouble, Troubled
from firmware_protocol.messages import Cut, Has, PlanLeg, Side, Start, State, Stop
from winder.machine.model import MachineProfile
from winder.plan.model import AtEnd, Leg, Plan
from winder.wind.account import Account
from winder.wind.deeds import Brought
from winder.wind.model import Asked, CountTruth, Intent, Phase, SessionEvent, Value, WindView
from winder.wind.session import WindSession, Wound
from winder.wind.viewing import Shown

CPT = 20
WIND = 0x0BADF00D
STEP_MS = 5
NS_PER_MS = 1_000_000
SLOWING_MS = 200
QUIET_MS = 40
HAND_SEEN_MS = 100

MACHINE = MachineProfile(
    name="invented bench",
    counts_per_turn=CPT,
    direction_sense=True,
    speed_rpm_max=1500.0,
    acceleration_rpm_s=6000.0,
    coasting_rpm_s=6000.0,
    braking_rpm_s=None,
    traverse_travel_m=0.1,
)
BLIND_MACHINE = replace(MACHINE, direction_sense=False)
HAND_DRILL = replace(MACHINE, motor=False, direction_sense=False, traverse_travel_m=None)

BOARD = Identity(
    board="invented",
    groups=(1, 1, 1, 1, 0, 0),
    has=int(Has.DIRECTION_SENSE | Has.GUARD | Has.WIRE_SENSOR),
    legs_max=8,
    rate_max_mcps=2_000_000,
    edge_rate_max_cps=20_000,
    settings_hash=0xC0FFEE,
    cut_ms=2000,
    rest_ms=5000,
)
BLIND_BOARD = replace(BOARD, has=int(Has.GUARD))
COUNTER = replace(
    BOARD, groups=(1, 0, 0, 0, 0, 0), has=0, legs_max=0, rate_max_mcps=0, cut_ms=0, rest_ms=0
)


def leg(name: str, end_turns: int, at_end: AtEnd, speed_rpm: float, pitch_m: float = 5e-5) -> Leg:
    return Leg(
        name=name,
        end_counts=end_turns * CPT,
        at_end=at_end,
        speed_rpm=speed_rpm,
        acceleration_rpm_s=6000.0,
        creep_rpm=60.0,
        coast_counts=0,
        pitch_m=pitch_m,
        left_m=0.5e-3,
        right_m=8e-3,
        dwell_counts=2,
        scatter_seed=0,
    )


def plan_of(*legs: Leg, first_turn: int = 0) -> Plan:
    target = first_turn + legs[-1].end_counts // CPT
    return Plan(legs, CPT, 1, first_turn, target, 10.0)


# 10 turns slowly, 30 more and a pause, then to turn 60.
PLAN = plan_of(
    leg("bedding", 10, AtEnd.CONTINUE, 600.0),
    leg("body", 40, AtEnd.PAUSE, 1200.0),
    leg("landing", 60, AtEnd.COMPLETE, 600.0),
)
LONG_PLAN = plan_of(leg("body", 2000, AtEnd.COMPLETE, 1200.0))


SHOWN = Shown(
    "kalimba coil (invented)",
    "clockwise",
    3.4,
    resistance=lambda turns: (turns, turns * 0.9, turns * 1.1),
)


def session_of(plan: Plan = PLAN, machine: MachineProfile = MACHINE, **more: Any) -> WindSession:
    """A session of this plan; ``more`` are other parts of what a session is made of."""
    estimate = more.get("estimate")
    shown = SHOWN if estimate is None else replace(SHOWN, resistance=estimate.resistance)
    made = {"wind": WIND, "account": Account(CPT), "shown": shown, "cautions_accepted": True}
    return WindSession(Wound(plan, machine, **{**made, **more}))


def brought(low: int, high: int | None = None, by: str = "", why: str = "as told") -> Account:
    """A coil with turns from elsewhere on it, counts."""
    high = low if high is None else high
    return Account(CPT).take(Brought(low, low, high, CPT, by, why))


def folded(events: Iterable[SessionEvent], account: Account | None = None) -> Account:
    """The account that a journal tells."""
    account = Account(CPT) if account is None else account
    for event in events:
        for deed in event.deeds:
            account = account.take(deed)
    return account


class SmallBody:
    """A spindle that runs at the leg's speed at once and needs 200 ms to stop; the sensor is perfect."""

    def __init__(self, direction_sense: bool = True) -> None:
        self.seen = Facts()
        self.true_count = 0  # of this bobbin, whoever counted
        self.true_at_open = 0  # when the newest wind was opened
        self.marks: list[tuple[Side, int]] = []
        self.starts = 0  # orders that set a spindle at rest in motion
        self.direction_sense = direction_sense
        self.coasting = 0.2  # counts a millisecond, coming to rest
        self._record = KeptRecord()
        self._drive = Drive(Order.OFF)
        self._part = 0.0
        self._rest_ms = 0
        self._now_ms = 0
        self._by_hand: deque[tuple[int, int]] = deque()  # when, counts

    # --- what a device end asks for

    def obey(self, drive: Drive) -> None:
        before, self._drive = self._drive.order, drive
        self.seen.arrived = False
        if drive.order is Order.WIND:
            self.starts += self.seen.at_rest
            self.seen.at_rest = False
        elif not self.seen.at_rest and drive.order is not before:
            self._rest_ms = SLOWING_MS + QUIET_MS

    def facts(self) -> Facts:
        return copy.copy(self.seen)

    def zero_count(self) -> None:
        self.seen.count = self.seen.unattributed = 0
        self.true_at_open = self.true_count

    def mark_traverse(self, side: Side, at_um: int) -> None:
        self.marks.append((side, at_um))

    def step_traverse(self, distance_um: int) -> None:
        raise AssertionError("no wind steps the guide")

    def keep(self, record: KeptRecord) -> None:
        self._record = record

    def kept(self) -> KeptRecord:
        return self._record

    def keep_motion(self, moving: bool) -> None:
        """No memory for it: the board comes back still."""

    def kept_motion(self) -> bool:
        return False

    # --- what time and hands do

    def forget(self) -> None:
        """Memory is lost; the spindle goes on coasting and the guide is nowhere."""
        if not self.seen.at_rest and self._drive.order is Order.WIND and not self.seen.arrived:
            self._rest_ms = SLOWING_MS + QUIET_MS
        self.seen = Facts(at_rest=self.seen.at_rest)
        self._drive = Drive(Order.OFF)

    def turn_by_hand(self, counts: int) -> None:
        self.true_count += counts
        self._by_hand.append((self._now_ms, counts))
        if self.direction_sense:
            self.seen.count += counts
        else:
            self.seen.unattributed += abs(counts)

    def advance(self, span_ms: int, counted: bool = True) -> None:
        self._now_ms += span_ms
        if self.seen.at_rest:
            self.seen.rate_mcps = self._hand_mcps()
            return
        for _ in range(span_ms):
            self._advance_1_ms(counted)

    def _hand_mcps(self) -> int:
        """What a sensor shows of a hand: the edges of the last tenth of a second."""
        while self._by_hand and self._now_ms - self._by_hand[0][0] > HAND_SEEN_MS:
            self._by_hand.popleft()
        counts = sum(counts for _, counts in self._by_hand)
        return round((counts if self.direction_sense else abs(counts)) * 1_000_000 / HAND_SEEN_MS)

    def _advance_1_ms(self, counted: bool) -> None:
        if self.seen.at_rest:
            self.seen.rate_mcps = 0
            return
        legs = self._drive.legs
        if self.seen.arrived or self._drive.order is not Order.WIND:
            self._rest_ms -= 1
            if self._rest_ms > QUIET_MS:
                self._turn(self.coasting, counted)
            elif self._rest_ms <= 0:
                self.seen.at_rest = True
            else:
                self.seen.rate_mcps = 0
            return
        index = leg_of(legs, self.seen.count)
        self.seen.leg = index
        end = next(one.end_count for one in legs[index:] if one.end_action)
        speed = legs[index].rate_mcps * self._drive.pace_permille / 1_000_000_000
        self._turn(min(speed, end - self.seen.count - self._part), counted)
        if self.seen.count >= end:
            self.seen.arrived = True
            self._rest_ms = QUIET_MS
            self._part = 0.0

    def _turn(self, counts: float, counted: bool) -> None:
        self._part += counts
        whole = int(self._part + 1e-9)
        self._part -= whole
        self.true_count += whole
        self.seen.rate_mcps = round(counts * 1_000_000)
        if counted:
            self.seen.count += whole


class TurningBackBody(SmallBody):
    """Obeys a move too: at its rate, to its end, then at rest."""

    def obey(self, drive) -> None:
        super().obey(drive)
        if drive.order is Order.MOVE:
            self._goal = self.seen.count + drive.move.counts
            self._span_ms = round(1_000_000 / drive.move.rate_mcps)  # from count to count
            self._left_ms = self._span_ms
            self.seen.at_rest = False

    def _advance_1_ms(self, counted: bool) -> None:
        if self._drive.order is not Order.MOVE or self.seen.arrived:
            super()._advance_1_ms(counted)
            return
        self._left_ms -= 1
        if self._left_ms:
            return
        self._left_ms = self._span_ms
        self.true_count -= 1
        self.seen.count -= counted
        self.seen.rate_mcps = -round(1_000_000 / self._span_ms)
        if self.seen.count <= self._goal:
            self.seen.arrived = True
            self._part, self._rest_ms = 0.0, 40


def leg_of(legs: tuple[PlanLeg, ...], count: int) -> int:
    for index, one in enumerate(legs):
        if count < one.end_count:
            return index
    return len(legs) - 1


class Bench:
    """All of it together. ``lost`` is the share of writes that do not arrive, by seed."""

    def __init__(
        self,
        plan: Plan = PLAN,
        machine: MachineProfile = MACHINE,
        identity: Identity = BOARD,
        body: SmallBody | None = None,
        seed: int = 1,
        boot: int = 5,
        **more: Any,
    ) -> None:
        self.session = session_of(plan, machine, **more)
        sense = bool(identity.has & Has.DIRECTION_SENSE)
        self.body = body or SmallBody(sense)
        self.identity = identity
        self.boot = boot
        self.now_ms = 0
        self.device: DeviceEnd | None = DeviceEnd(self.body, identity, boot, 0)
        self.host = HostEnd(77 + boot)
        self.host.open(0)
        self.lost = 0.0
        self.cable = True
        self.alive = True
        self.journal: list[SessionEvent] = []
        self.sent: list[Any] = []
        self.told_before_start = True  # an intent was on record before every start
        self._chance = random.Random(seed)
        self._boot_at_ms: int | None = None
        self._plugged = True

    # --- time

    @property
    def now_ns(self) -> int:
        return self.now_ms * NS_PER_MS

    def run(self, span_ms: int) -> Bench:
        for _ in range(max(1, span_ms // STEP_MS)):
            self._step()
        return self

    def run_until(self, *phases: Phase, limit_ms: int = 30_000) -> Bench:
        until = self.now_ms + limit_ms
        while self.session.phase not in phases:
            assert self.now_ms < until, f"still {self.session.phase} at {self.now_ms} ms"
            self._step()
        return self

    def run_to_count(self, count: int) -> Bench:
        until = self.now_ms + 60_000
        while self.body.seen.count < count:
            assert self.now_ms < until, f"still at {self.body.seen.count}"
            self._step()
        return self

    def _step(self) -> None:
        self.now_ms += STEP_MS
        self.body.advance(STEP_MS, counted=self.device is not None)
        if self._boot_at_ms is not None and self.now_ms >= self._boot_at_ms:
            self._boot_at_ms = None
            self.device = DeviceEnd(self.body, self.identity, self.boot, self.now_ms)
        up = b""
        if self.device is not None:
            self.device.tick(self.now_ms)
            up = self._carried(self.device.data_to_send())
        for heard in self.host.receive(up, self.now_ns):
            self.session.hear(heard, self.now_ns)
        self.session.tick(self.now_ns)
        if self.alive and self.session.may_live(self.now_ns):
            self.host.sign_of_life(self.now_ns)
        self._send()

    def _send(self) -> None:
        events = self.session.take_events()
        self.journal += events
        self.session.recorded()
        for request in self.session.take_requests():
            self.sent.append(request)
            if isinstance(request, Stop):
                self.host.stop(self.now_ns)
                continue
            if isinstance(request, Cut):
                self.host.cut(self.now_ns)
                continue
            if isinstance(request, Start):
                last = [e for e in self.journal if e.kind in ("intent", "started", "refused")][-1]
                asked = dict(last.facts).get("intent")
                self.told_before_start &= asked in ("start", "continue")
            self.host.send(request, self.now_ns)
        down = self._carried(self.host.data_to_send(self.now_ns))
        if self.device is not None and down:
            self.device.receive(down, self.now_ms)

    def _carried(self, data: bytes) -> bytes:
        return b"" if not self.cable or self._chance.random() < self.lost else data

    # --- what people do and what befalls

    def ask(self, intent: Intent, value: Value = None, by: str = "operator") -> str:
        said = self.session.ask(Asked(intent, value, by), self.now_ns)
        self._send()
        return said

    def reset(self, dead_ms: int = 300) -> None:
        self.device = None
        self.boot += 1
        self.body.forget()
        self._boot_at_ms = self.now_ms + dead_ms

    def by_hand(self, counts: int, every_ms: int = 20) -> Bench:
        """A hand turns the spindle, a count at a time."""
        for _ in range(abs(counts)):
            self.body.turn_by_hand(1 if counts > 0 else -1)
            self.run(every_ms)
        return self.run(200)

    def unplug(self) -> None:
        self.cable = False
        self.session.hear(Troubled(Trouble.LINK_LOST, "cable out"), self.now_ns)

    # --- what is so

    @property
    def truth(self) -> CountTruth:
        return self.session.course.truth

    def view(self) -> WindView:
        return self.session.view(self.now_ns)

    @property
    def moving(self) -> bool:
        return not self.body.seen.at_rest

    def state(self) -> State:
        assert self.device is not None
        return State(self.device.status().state)

    def kinds(self, *left_out: str) -> list[str]:
        return [e.kind for e in self.journal if e.kind not in left_out]

    def ready(self) -> Bench:
        return self.run_until(Phase.READY)

    def winding(self) -> Bench:
        self.ready()
        assert self.ask(Intent.START) == ""
        return self.run_until(Phase.WINDING)


def holds(truth: CountTruth, true_count: int) -> bool:
    """Whether a truth is one."""
    return truth.low <= true_count <= truth.high
