"""Simulated links: virtual time to the nanosecond, the line between, and its faults by seed."""

from __future__ import annotations

import itertools
import random
import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol.seam import LinkLost
from winder.clock import NS_PER_S, HandClock, HurriedClock, SystemClock
from winder.links.line import Line, LineFaults, LinkFaults
from winder.links.simulated_link import HurriedLink, PacedLink, SimulatedLink

MS = 1_000_000


# --- virtual time --------------------------------------------------------------------------------


def test_silence_moves_clock_and_machine_by_exactly_the_timeout(machine):
    clock = HandClock()
    link = SimulatedLink(machine, clock)
    for timeout_s, now_ns in ((0.05, 50 * MS), (0.0, 50 * MS), (1e-9, 50 * MS + 1)):
        assert link.read(timeout_s) == b""
        assert (clock.now_ns(), machine.now_ns) == (now_ns, now_ns)


def test_bytes_end_a_read_at_the_moment_they_were_sent(machine):
    clock = HandClock()
    link = SimulatedLink(machine, clock)
    machine.say(b"status", 30 * MS)
    machine.say(b"later", 40 * MS)
    assert link.read(10.0) == b"status"
    assert clock.now_ns() == 30 * MS
    assert link.read(0.0) == b""
    assert link.read(10.0) == b"later"
    assert clock.now_ns() == 40 * MS


def test_what_is_written_reaches_the_board_now(machine):
    clock = HandClock()
    link = SimulatedLink(machine, clock)
    link.read(0.02)
    link.write(b"stop")
    assert (bytes(machine.heard), machine.heard_at) == (b"stop", [20 * MS])


def test_a_machine_and_a_clock_with_other_origins_go_together(new_machine):
    machine, clock = new_machine(now_ns=700 * MS), HandClock(100 * MS)
    link = SimulatedLink(machine, clock)
    machine.say(b"x", 730 * MS)
    assert link.read(1.0) == b"x"
    assert clock.now_ns() == 130 * MS


def test_a_clock_that_others_moved_is_caught_up_with(machine):
    """The host slept: the machine lives through that time too, and nothing is written in the past."""
    clock = HandClock()
    link = SimulatedLink(machine, clock)
    machine.say(b"while asleep", 10 * MS)
    clock.sleep_s(0.1)
    link.write(b"awake")
    assert machine.heard_at == [100 * MS]
    assert link.read(0.05) == b"while asleep"
    assert clock.now_ns() == 100 * MS
    assert link.read(0.05) == b""
    assert clock.now_ns() == 150 * MS


# --- paced time ----------------------------------------------------------------------------------


class WatchedClock(SystemClock):
    """Time of the test: sleeping moves it, and a little too far, as real sleeping does."""

    def __init__(self, pace: float) -> None:
        super().__init__(pace)
        self.time_ns = 0
        self.slept: list[float] = []

    def now_ns(self) -> int:
        return self.time_ns

    def sleep_s(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.time_ns += round(seconds * NS_PER_S) + MS


def test_a_paced_read_sleeps_until_the_bytes_are_due(machine):
    clock = WatchedClock(20.0)
    link = PacedLink(machine, clock)
    machine.say(b"status", 30 * MS)
    assert link.read(0.05) == b"status"
    assert clock.slept == [0.03]


def test_a_paced_machine_follows_the_clock_and_never_falls_behind(machine):
    clock = WatchedClock(1.0)
    link = PacedLink(machine, clock)
    for _ in range(20):
        assert link.read(0.01) == b""
    assert clock.time_ns - machine.now_ns == MS  # one oversleeping, not twenty
    machine.say(b"missed", 300 * MS)
    clock.time_ns = 500 * MS  # the host was busy
    slept = len(clock.slept)
    assert link.read(0.01) == b"missed"
    assert len(clock.slept) == slept  # what is due already is not waited for
    link.write(b"now")
    assert machine.heard_at == [500 * MS]


# --- the line ------------------------------------------------------------------------------------


def test_bytes_take_their_time_on_the_wire(machine):
    clock = HandClock()
    line = LineFaults(byte_time_s=20e-6, latency_s=0.001)
    link = SimulatedLink(machine, clock, LinkFaults(to_board=line, to_host=line))
    link.write(b"abc")
    assert link.read(0.01) == b""
    assert machine.heard_at == [MS + 20_000, MS + 40_000, MS + 60_000]
    machine.say(b"xy", 10 * MS)
    assert link.read(0.01) == b"x"
    assert clock.now_ns() == 11 * MS + 20_000
    assert link.read(0.01) == b"y"
    assert clock.now_ns() == 11 * MS + 40_000


def test_a_busy_wire_makes_the_next_burst_wait():
    line = Line(LineFaults(byte_time_s=1e-3), random.Random(1))
    line.send(b"abc", 0)
    line.send(b"d", MS)
    assert line.take(3 * MS) == b"abc"
    assert line.next_ns() == 4 * MS
    assert line.take(4 * MS) == b"d"
    assert line.next_ns() is None


@given(
    bursts=st.lists(
        st.tuples(st.binary(min_size=1, max_size=80), st.integers(0, 20 * MS)), max_size=20
    ),
    faults=st.builds(
        LineFaults,
        byte_time_s=st.sampled_from([0.0, 20e-6, 1e-3]),
        latency_s=st.floats(0, 0.02),
        jitter_s=st.floats(0, 0.02),
    ),
    seed=st.integers(0, 1 << 64),
)
def test_a_line_without_loss_delivers_everything_in_order_and_never_early(bursts, faults, seed):
    line = Line(faults, random.Random(seed))
    now_ns, sent, came = 0, b"", b""
    for data, gap_ns in bursts:
        now_ns += gap_ns
        line.send(data, now_ns)
        sent += data
        came += line.take(now_ns)
        if (due_ns := line.next_ns()) is not None:
            assert due_ns > now_ns
    for _ in range(len(sent)):
        if (due_ns := line.next_ns()) is None:
            break
        assert line.take(due_ns - 1) == b""
        came += line.take(due_ns)
    assert came == sent


def through(faults: LineFaults, seed: int, data: bytes) -> bytes:
    line = LinkFaults(seed=seed, to_board=faults).lines()[0]
    line.send(data, 0)
    return line.take(NS_PER_S)


def test_faults_come_from_the_seed():
    faults = LineFaults(loss=0.1, corruption=0.1)
    data = bytes(2000)
    assert through(faults, 7, data) == through(faults, 7, data)
    assert through(faults, 7, data) != through(faults, 8, data)


def test_loss_and_corruption_are_as_frequent_as_asked_for():
    """2000 bytes at 10 %: 200, standard deviation 13.4 (binomial); five of them are allowed."""
    lossy = through(LineFaults(loss=0.1), 7, bytes(2000))
    assert abs(2000 - len(lossy) - 200) < 67
    bent = through(LineFaults(corruption=0.1), 7, bytes(2000))
    assert len(bent) == 2000
    wrong = [byte for byte in bent if byte]
    assert abs(len(wrong) - 200) < 67
    assert all(byte.bit_count() == 1 for byte in wrong)
    assert through(LineFaults(loss=1.0), 7, bytes(2000)) == b""


def test_one_directions_traffic_does_not_change_the_others_faults():
    faults = LineFaults(loss=0.2)
    quiet, busy = (LinkFaults(3, faults, faults).lines() for _ in range(2))
    busy[0].send(bytes(500), 0)
    for lines in (quiet, busy):
        lines[1].send(bytes(range(200)), 0)
    assert quiet[1].take(1) == busy[1].take(1)


def test_a_whole_exchange_repeats_byte_for_byte(new_machine):
    def exchange() -> list[tuple[int, bytes]]:
        machine, clock = new_machine(), HandClock()
        line = LineFaults(20e-6, 0.002, 0.014, 0.02, 0.02)
        link = SimulatedLink(machine, clock, LinkFaults(5, line, line))
        for tick in range(40):
            machine.say(bytes(range(45)), tick * 50 * MS)
        seen = []
        for _ in range(400):
            seen.append((clock.now_ns(), link.read(0.05)))
            link.write(b"alive")
        return [*seen, (0, bytes(machine.heard))]

    assert exchange() == exchange()


# --- the cable -----------------------------------------------------------------------------------


def test_a_pulled_cable_loses_the_link_at_that_moment_and_keeps_what_came_before(machine):
    clock = HandClock()
    link = SimulatedLink(machine, clock, LinkFaults(cut_at_s=0.1))
    machine.say(b"before", 90 * MS)
    machine.say(b"after", 110 * MS)
    assert link.read(1.0) == b"before"
    with pytest.raises(LinkLost, match="cable"):
        link.read(1.0)
    assert clock.now_ns() == 100 * MS
    for _ in itertools.repeat(None, 2):
        with pytest.raises(LinkLost, match="cable"):
            link.write(b"x")
    assert machine.heard == b""


def test_the_machine_lives_on_behind_a_pulled_cable(machine):
    """A new link to the same machine: it was alive all the while."""
    clock = HandClock()
    link = SimulatedLink(machine, clock, LinkFaults(cut_at_s=0.1))
    with pytest.raises(LinkLost):
        for _ in range(10):
            link.read(0.05)
    machine.say(b"to nobody", 500 * MS)
    clock.sleep_s(2.0)
    again = link.plugged_in_again()
    again.write(b"hello")
    assert machine.heard_at == [clock.now_ns()]
    assert again.read(0.05) == b""
    with pytest.raises(LinkLost):
        link.read(0.05)


def test_a_hurried_machine_waits_for_a_host_that_is_held_up(new_machine):
    clock = HurriedClock(pace=1000.0)
    link = HurriedLink(new_machine(), clock)
    before_ns = clock.now_ns()
    threading.Event().wait(0.02)  # 20 s of the machine's time, had it run on
    assert clock.now_ns() == before_ns
    link.read(0.05)
    assert clock.now_ns() - before_ns <= 0.05 * NS_PER_S


def test_a_hurried_machine_never_outruns_its_pace(new_machine):
    clock, world = HurriedClock(pace=10.0), SystemClock()
    link = HurriedLink(new_machine(), clock)
    before_ns, began_ns = clock.now_ns(), world.now_ns()
    for _ in range(100):
        link.read(0.05)
        if clock.now_ns() - before_ns >= NS_PER_S:
            break
    assert world.now_ns() - began_ns >= 0.1 * NS_PER_S * 0.99
