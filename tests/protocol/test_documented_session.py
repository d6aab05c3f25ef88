"""The session worked out in the specification, played against the reference device end.

The bytes of the host are fed in as the page shows them; what the board sends must be the page's bytes.
The body is a puppet: it says what the test says, so only the protocol's own rules answer here.
"""

from dataclasses import replace

import pytest
from golden_reading import documented_frames

from firmware_protocol.body import Drive, Facts, Identity, KeptRecord, Order
from firmware_protocol.device import DeviceEnd
from firmware_protocol.framing import encode_message
from firmware_protocol.messages import Alive, Flag, Has, State, Verdict

FRAMES = documented_frames()
BENCH = Identity(
    board="bench",
    groups=(1, 1, 1, 1, 0, 0),
    has=Has.BRAKE | Has.GUARD | Has.WIRE_SENSOR,
    legs_max=8,
    rate_max_mcps=2_000_000,
    edge_rate_max_cps=20_000,
    settings_hash=0xCAFEBABE,
    cut_ms=2000,
    rest_ms=5000,
)


class Puppet:
    """A body that is told what is so and remembers what it was asked."""

    def __init__(self) -> None:
        self.now = Facts()
        self.record = KeptRecord(wind=0xDEADBEEF, count=2000, valid=True, at_rest=True)
        self.drives: list[Drive] = []
        self.marks: list[tuple[int, int]] = []
        self.far: list[object] = []

    def obey(self, drive: Drive) -> None:
        self.drives.append(drive)

    def facts(self) -> Facts:
        return self.now

    def zero_count(self) -> None:
        self.now.count = 0

    def mark_traverse(self, side: int, at_um: int) -> None:
        self.marks.append((side, at_um))

    def step_traverse(self, distance_um: int) -> None:
        raise AssertionError("nobody asked for a step")

    def lead_far(self, ask: object) -> None:
        self.far.append(ask)

    def keep(self, record: KeptRecord) -> None:
        self.record = record

    def kept(self) -> KeptRecord:
        return self.record

    def keep_motion(self, moving: bool) -> None:
        self.moving = moving

    def kept_motion(self) -> bool:
        return False


@pytest.fixture
def bench() -> tuple[DeviceEnd, Puppet]:
    puppet = Puppet()
    return DeviceEnd(puppet, BENCH, boot=7, now_ms=0), puppet


def ask(device: DeviceEnd, name: str, now_ms: int) -> bytes:
    device.receive(FRAMES[name], now_ms)
    return device.data_to_send()


def load_and_start(device: DeviceEnd) -> None:
    assert ask(device, "hello", 1000) == FRAMES["welcome"]
    assert ask(device, "open-wind", 1010) == FRAMES["open-answer"]
    for name in ("traverse-mark", "plan-begin", "plan-leg-0", "plan-leg-1"):
        assert ask(device, name, 1020) != b""
    assert ask(device, "plan-commit", 1030) == FRAMES["commit-answer"]
    assert ask(device, "alive", 1040) == b""
    assert ask(device, "start", 1050) == FRAMES["start-answer"]


def live_on(device: DeviceEnd, from_ms: int, to_ms: int) -> None:
    """Signs of life twice a second, numbered by the time."""
    for now_ms in range(from_ms, to_ms, 500):
        device.receive(encode_message(Alive(0x12345678, now_ms)), now_ms)


def test_the_board_answers_the_specifications_bytes(bench):
    device, puppet = bench
    load_and_start(device)
    assert puppet.marks == [(0, 0)]
    puppet.now.at_rest = False
    live_on(device, 1500, 58_000)
    puppet.now.count, puppet.now.leg = 1600, 1
    live_on(device, 58_000, 61_000)
    puppet.now.count, puppet.now.rate_mcps = 8000, 1_999_500
    puppet.now.traverse_um, puppet.now.traverse_rightward = 7535, False
    device.data_to_send()
    device.tick(61_000)
    assert device.data_to_send() == FRAMES["status"]
    assert ask(device, "settle-number", 61_010) == FRAMES["settle-answer"]
    assert ask(device, "start-again", 61_020) == FRAMES["refused"]
    assert ask(device, "stop", 61_030) == FRAMES["stop-answer"]
    assert puppet.drives[-1].order is Order.REST
    assert ask(device, "cut", 61_040) == FRAMES["cut-answer"]
    assert puppet.drives[-1].order is Order.CUT


def test_the_kept_rest_is_taken_back_before_the_start(bench):
    device, puppet = bench
    load_and_start(device)
    assert not puppet.record.at_rest
    assert puppet.drives[-1].order is Order.WIND


def test_a_command_that_arrives_again_is_answered_again_and_not_executed(bench):
    device, puppet = bench
    load_and_start(device)
    asked = len(puppet.drives)
    assert ask(device, "start", 1060) == FRAMES["start-answer"]
    assert len(puppet.drives) == asked
    assert device.status().state is State.WINDING


def test_the_pedal_winds_by_the_specifications_bytes():
    pedal = replace(BENCH, groups=(1, 1, 1, 1, 1, 0))
    puppet = Puppet()
    device = DeviceEnd(puppet, pedal, boot=7, now_ms=0)
    device.tick(100)  # the pedal was seen released for long enough
    device.data_to_send()
    assert ask(device, "hello", 1000) != b""
    for name in ("open-wind", "traverse-mark", "plan-begin", "plan-leg-0", "plan-leg-1"):
        assert ask(device, name, 1020) != b""
    assert ask(device, "plan-commit", 1030) == FRAMES["commit-answer"]
    assert ask(device, "alive", 1040) == b""
    assert ask(device, "arm-pedal", 1050) == FRAMES["arm-answer"]
    device.tick(1100)
    assert device.data_to_send().endswith(FRAMES["pedal-ready"])
    puppet.now.pedal_pressed = True
    device.tick(1110)
    assert device.status().state is State.ARMED
    device.tick(1135)
    assert device.status().state is State.WINDING and puppet.drives[-1].order is Order.WIND
    device.data_to_send()
    device.tick(1200)
    assert device.data_to_send().endswith(FRAMES["pedal-winds"])


def test_a_guide_finds_its_switch_by_the_specifications_bytes():
    puppet = Puppet()
    device = DeviceEnd(puppet, replace(BENCH, groups=(1, 1, 2, 1, 0, 0)), boot=7, now_ms=0)
    for name in ("hello", "open-wind"):
        assert ask(device, name, 1000) != b""
    assert ask(device, "alive", 1010) == b""
    assert ask(device, "traverse-home", 1020) == FRAMES["home-answer"]
    assert not device.status().flags & Flag.REFERENCED
    puppet.now.arrived = True
    device.tick(1030)
    puppet.now.arrived = False
    assert (device.status().state, device.status().revision) == (State.STILL, 5)
    assert device.status().flags & Flag.REFERENCED
    device.data_to_send()
    assert ask(device, "traverse-move", 1040) == FRAMES["move-answer"]
    assert len(puppet.far) == 2


def test_a_guide_without_a_switch_knows_neither_command(bench):
    device, _ = bench
    assert ask(device, "hello", 1000) != b""
    for name in ("traverse-home", "traverse-move"):
        answer = ask(device, name, 1010)
        assert Verdict(answer[4]) is Verdict.UNSUPPORTED
