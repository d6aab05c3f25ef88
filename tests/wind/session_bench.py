"""A session, a real host end, a real device end and a body of a few lines, joined by bytes.

The body knows its true count, also of edges that came while its board was dead; so a test can ask whether
what the session says is so. Time goes in steps of 5 ms; the machine is invented: 20 counts a turn, legs at
600 and 1200 rpm (200 and 400 counts/s), slowing 40 counts in 200 ms.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from small_bodies import SmallBody as SmallBody
from small_bodies import TurningBackBody as TurningBackBody

from firmware_protocol.body import Identity
from firmware_protocol.connection import HostEnd
from firmware_protocol.device import DeviceEnd
from firmware_protocol.heard import Trouble, Troubled
from firmware_protocol.messages import Cut, Has, Start, State, Stop
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


def brought(
    low: int, high: int | None = None, by: str = "", why: str = "as told", best: int | None = None
) -> Account:
    """A coil with turns from elsewhere on it, counts; the best guess is the lower bound, unless told."""
    high = low if high is None else high
    return Account(CPT).take(Brought(low, low if best is None else best, high, CPT, by, why))


def folded(events: Iterable[SessionEvent], account: Account | None = None) -> Account:
    """The account that a journal tells."""
    account = Account(CPT) if account is None else account
    for event in events:
        for deed in event.deeds:
            account = account.take(deed)
    return account


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
