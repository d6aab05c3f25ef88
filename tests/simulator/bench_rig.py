"""A bench for the simulator's tests: a small planner of its own, and a host that winds through the real ends.

The planner speaks ``PlanLeg`` and knows what a careful host knows: the profile's numbers (``Told``), never
the body's. It shares no code with ``winder.plan``, so that neither can hide the other's mistakes.
"""

from __future__ import annotations

import dataclasses
import math
import zlib
from dataclasses import dataclass, field

from firmware_protocol.connection import HostEnd
from firmware_protocol.heard import Answered
from firmware_protocol.messages import (
    Answer,
    EndAction,
    OpenWind,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    Side,
    Start,
    State,
    Status,
    TraverseMark,
    Verdict,
)
from firmware_protocol.wire import pack
from winder.simulator.build import Build
from winder.simulator.draw import Told
from winder.simulator.machine import SimulatedMachine

MS = 1_000_000
WIND = 77
TOKEN = 4711
SLOWING_SHARE = 0.6


def motion_of(told: Told, speed_rpm: float) -> tuple[float, float, float, int]:
    """Speed, acceleration, creep (turns, seconds) and coast counts, as a careful planner sets them."""
    counts = told.counts_per_turn
    slowing = SLOWING_SHARE * (told.braking_rpm_s or told.coasting_rpm_s) / 60
    accel = min(told.acceleration_rpm_s / 60, slowing)
    speed = min(speed_rpm, told.speed_rpm_max) / 60
    creep = max(min(1.0, speed, math.sqrt(2 * accel * 0.03)), 4 / counts)
    coast_turns = creep**2 / (2 * slowing)
    coast_counts = math.ceil(2 * coast_turns * counts) if coast_turns > 0.25 else 0
    return max(speed, creep), accel, creep, coast_counts


def leg(
    told: Told,
    index: int,
    end_turns: int,
    speed_rpm: float,
    end: EndAction = EndAction.COMPLETE,
    *,
    pitch_um: float = 0.0,
    left_um: int = 0,
    right_um: int = 0,
    dwell_counts: int = 0,
    scatter_seed: int = 0,
) -> PlanLeg:
    speed, accel, creep, coast_counts = motion_of(told, speed_rpm)
    counts = told.counts_per_turn
    return PlanLeg(
        token=TOKEN,
        generation=1,
        index=index,
        end_action=end,
        spindle=1,
        end_count=end_turns * counts,
        rate_mcps=round(speed * counts * 1000),
        accel_mcps2=round(accel * counts * 1000),
        creep_mcps=round(creep * counts * 1000),
        coast_counts=coast_counts,
        pitch_nm=round(pitch_um * 1000),
        pitch_counts=counts,
        left_um=left_um,
        right_um=right_um,
        dwell_counts=dwell_counts,
        scatter_seed=scatter_seed,
    )


def checksum_of(legs: tuple[PlanLeg, ...]) -> int:
    return zlib.crc32(b"".join(pack(one)[4:] for one in legs))


@dataclass
class Bench:
    """A host at a simulated machine. ``slice_ns`` is how often the host looks."""

    machine: SimulatedMachine
    slice_ns: int = 50 * MS
    sent_by_board: bytearray = field(default_factory=bytearray)
    sent_by_host: list[tuple[int, bytes]] = field(default_factory=list)  # when, what

    def __post_init__(self) -> None:
        self.host = HostEnd(TOKEN)
        self.alive = True
        self.statuses: list[Status] = []
        self.host.open(self.machine.now_ns)
        self.run(0.2)

    @property
    def status(self) -> Status:
        return self.statuses[-1]

    def _exchange(self) -> list[object]:
        machine, host = self.machine, self.host
        data = machine.take_bytes()
        self.sent_by_board += data
        heard = host.receive(data, machine.now_ns)
        self.statuses += [one for one in heard if isinstance(one, Status)]
        if self.alive:
            host.sign_of_life(machine.now_ns)
        out = host.data_to_send(machine.now_ns)
        if out:
            self.sent_by_host.append((machine.now_ns, out))
            machine.receive(out)
        return heard

    def run(self, seconds: float) -> None:
        end_ns = self.machine.now_ns + round(seconds * 1e9)
        while self.machine.now_ns < end_ns:
            self.machine.run_until(min(end_ns, self.machine.now_ns + self.slice_ns))
            self._exchange()

    def ask(self, command: object) -> Verdict:
        """Send one command and wait for its answer."""
        sent = self.host.send(command, self.machine.now_ns)
        for _ in range(200):
            self.machine.run_until(self.machine.now_ns + self.slice_ns)
            for one in self._exchange():
                if isinstance(one, Answered) and one.command == sent:
                    assert isinstance(one.answer, Answer)
                    self.revision = one.answer.revision
                    return Verdict(one.answer.verdict)
        raise AssertionError(f"no answer to {command}")

    def beliefs(self) -> dict[str, int]:
        return {
            "token": TOKEN,
            "boot": self.machine.boot,
            "wind": self.status.wind,
            "revision": self.status.revision,
        }

    def fresh(self) -> dict[str, int]:
        """Beliefs after a new status."""
        self.run(0.11)
        return self.beliefs()

    def load(self, legs: tuple[PlanLeg, ...]) -> None:
        """Open a wind and put a plan in force."""
        beliefs = self.fresh()
        assert self.ask(OpenWind(**{**beliefs, "wind": WIND})) == Verdict.DONE
        assert self.ask(PlanBegin(**self.fresh(), generation=1, legs=len(legs))) == Verdict.DONE
        for one in legs:
            assert self.ask(one) == Verdict.DONE
        commit = PlanCommit(**self.fresh(), generation=1, checksum=checksum_of(legs))
        assert self.ask(commit) == Verdict.DONE

    def mark_left(self) -> None:
        mark = TraverseMark(**self.fresh(), side=Side.LEFT, at_um=0)
        assert self.ask(mark) == Verdict.DONE

    def start(self) -> None:
        assert self.ask(Start(**self.fresh(), generation=1)) == Verdict.DONE
        self.run(0.11)

    def run_to_rest(self, most_s: float = 600.0) -> Status:
        """Until the board rests, or ``most_s`` have passed."""
        end_ns = self.machine.now_ns + round(most_s * 1e9)
        moving = (State.WINDING, State.SLOWING, State.SETTING_UP)
        while self.status.state in moving and self.machine.now_ns < end_ns:
            self.machine.run_until(self.machine.now_ns + self.slice_ns)
            self._exchange()
        return self.status

    def wind(self, legs: tuple[PlanLeg, ...]) -> Status:
        self.load(legs)
        self.start()
        return self.run_to_rest()


# The default build, as its owner measured it.
TOLD = Told(20, True, 1500.0, 600.0, 700.0, 5000.0, 0.1)


def bench_with(*faults, turns: int = 60, told: Told = TOLD, legs=None, **changes) -> Bench:
    """A bench with a plan in force, not started."""
    build = dataclasses.replace(Build(), counts_per_turn=told.counts_per_turn, **changes)
    bench = Bench(SimulatedMachine(build, 1, faults))
    bench.load(legs or (leg(told, 0, turns, 1000.0),))
    return bench
