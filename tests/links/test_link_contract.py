"""What every link promises, run against every link there is.

The promises are those of ``firmware_protocol/seam.py``. A rig is a link with a board's end in the
hands of the test. Where time is real, only "not before" is asserted.
"""

from __future__ import annotations

import random
import re
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from firmware_protocol.seam import Clock, Link, LinkLost
from winder.clock import NS_PER_S, HandClock, HurriedClock, SystemClock
from winder.links.pty_server import PtyServer
from winder.links.reopening import ReopeningLink
from winder.links.serial_link import open_serial
from winder.links.simulated_link import (
    HurriedLink,
    LineFaults,
    LinkFaults,
    PacedLink,
    SimulatedLink,
)

CUT_S = 60.0  # when the simulated cables are pulled
PACE = 200.0
WAIT_S = 30.0  # for anything that only a fault can hold up


def within(so: Callable[[], object], limit_s: float = WAIT_S) -> None:
    """Wait until it is so."""
    ticks = threading.Event()
    for _ in range(round(limit_s / 0.001)):
        if so():
            return
        ticks.wait(0.001)
    raise AssertionError("it never came to be so")


@dataclass
class Rig:
    link: Link
    clock: Clock
    say: Callable[[bytes], object]  # the board sends this
    heard: Callable[[int], bytes]  # what the board got; waits for that many bytes
    vanish: Callable[[], object] | None  # the other end goes away for good


def _machine_rig(link: Link, clock: HandClock | SystemClock, machine: object) -> Rig:
    def heard(count: int) -> bytes:
        for _ in range(1000):
            if len(machine.heard) >= count:
                break
            assert link.read(0.5) == b""
        return bytes(machine.heard)

    def say(data: bytes) -> None:
        machine.say(data, machine.now_ns)

    return Rig(link, clock, say, heard, lambda: clock.sleep_s(CUT_S))


@contextmanager
def virtual(new_machine: Callable, _: Path) -> Iterator[Rig]:
    machine, clock = new_machine(), HandClock()
    link = SimulatedLink(machine, clock, LinkFaults(cut_at_s=CUT_S))
    yield _machine_rig(link, clock, machine)


@contextmanager
def virtual_slow_line(new_machine: Callable, _: Path) -> Iterator[Rig]:
    """Bytes take their time and bursts differ in latency; none is lost."""
    machine, clock = new_machine(now_ns=5 * NS_PER_S), HandClock(2 * NS_PER_S)
    line = LineFaults(byte_time_s=20e-6, latency_s=0.002, jitter_s=0.014)
    faults = LinkFaults(seed=7, to_board=line, to_host=line, cut_at_s=CUT_S)
    yield _machine_rig(SimulatedLink(machine, clock, faults), clock, machine)


@contextmanager
def paced(new_machine: Callable, _: Path) -> Iterator[Rig]:
    machine, clock = new_machine(), SystemClock(PACE)
    link = PacedLink(machine, clock, LinkFaults(cut_at_s=CUT_S))
    yield _machine_rig(link, clock, machine)


@contextmanager
def hurried(new_machine: Callable, _: Path) -> Iterator[Rig]:
    machine, clock = new_machine(), HurriedClock(PACE)
    link = HurriedLink(machine, clock, LinkFaults(cut_at_s=CUT_S))
    yield _machine_rig(link, clock, machine)


@contextmanager
def serial_to_pty_server(
    new_machine: Callable, lock_folder: Path, opened: Callable = open_serial
) -> Iterator[Rig]:
    machine, stop = new_machine(), threading.Event()
    server = PtyServer(machine, SystemClock(), resets_on_open=False)
    thread = threading.Thread(target=server.serve, args=(stop,))
    thread.start()

    def heard(count: int) -> bytes:
        within(lambda: len(machine.heard) >= count)
        return bytes(machine.heard)

    def vanish() -> None:
        stop.set()
        thread.join(WAIT_S)
        assert not thread.is_alive()
        server.close()

    link = opened(server.path, lock_folder=lock_folder)
    within(lambda: server.has_client)  # what is said before that is said to nobody
    yield Rig(link, SystemClock(), machine.say, heard, vanish)
    link.close()
    vanish()


class _Drain:
    """Takes all that comes from a descriptor, in a thread of its own."""

    def __init__(self, read: Callable[[int], bytes]) -> None:
        self._read = read
        self._data = bytearray()
        self._more = threading.Condition()
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self) -> None:
        while True:
            try:
                data = self._read(4096)
            except OSError:
                return
            if not data:
                return
            with self._more:
                self._data += data
                self._more.notify()

    def heard(self, count: int) -> bytes:
        with self._more:
            assert self._more.wait_for(lambda: len(self._data) >= count, WAIT_S)
            return bytes(self._data)


@contextmanager
def serial_over_socket(
    _: Callable, lock_folder: Path, opened: Callable = open_serial
) -> Iterator[Rig]:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
        link = opened(f"socket://127.0.0.1:{port}", lock_folder=lock_folder)
        listener.settimeout(WAIT_S)
        board, _address = listener.accept()
    board.settimeout(WAIT_S)
    drain = _Drain(board.recv)

    def vanish() -> None:
        board.shutdown(socket.SHUT_RDWR)
        board.close()

    yield Rig(link, SystemClock(), board.sendall, drain.heard, vanish)
    link.close()
    board.close()


def reopening(port: str, lock_folder: Path) -> ReopeningLink:
    return ReopeningLink(port, SystemClock(), lock_folder=lock_folder)


@contextmanager
def reopening_to_pty_server(new_machine: Callable, lock_folder: Path) -> Iterator[Rig]:
    with serial_to_pty_server(new_machine, lock_folder, reopening) as made:
        yield replace(made, vanish=None)  # it waits for the other end instead


@contextmanager
def reopening_over_socket(new_machine: Callable, lock_folder: Path) -> Iterator[Rig]:
    with serial_over_socket(new_machine, lock_folder, reopening) as made:
        yield replace(made, vanish=None)


@contextmanager
def serial_over_loop(_: Callable, lock_folder: Path) -> Iterator[Rig]:
    """The board's end is our own: whatever is written comes back. Nobody can go away."""
    link = open_serial("loop://", lock_folder=lock_folder)
    yield Rig(link, SystemClock(), link.write, lambda count: read_all(link, count), None)
    link.close()


RIGS = {
    "virtual": virtual,
    "virtual, slow line": virtual_slow_line,
    "paced": paced,
    "hurried": hurried,
    "serial to pty server": serial_to_pty_server,
    "serial over socket": serial_over_socket,
    "serial over loop": serial_over_loop,
    "reopening to pty server": reopening_to_pty_server,
    "reopening over socket": reopening_over_socket,
}
LOSABLE = list(RIGS)[:6]


@pytest.fixture(params=list(RIGS))
def rig(request: pytest.FixtureRequest, new_machine: Callable, lock_folder: Path) -> Iterator[Rig]:
    with RIGS[request.param](new_machine, lock_folder) as made:
        yield made


@pytest.fixture(params=LOSABLE)
def losable(
    request: pytest.FixtureRequest, new_machine: Callable, lock_folder: Path
) -> Iterator[Rig]:
    with RIGS[request.param](new_machine, lock_folder) as made:
        yield made


def read_all(link: Link, count: int) -> bytes:
    data = b""
    for _ in range(count + round(WAIT_S / 0.5)):  # some lines give a byte at a time
        data += link.read(0.5)
        if len(data) >= count:
            break
    return data


def burst(count: int) -> bytes:
    return random.Random(count).randbytes(count)


def test_silence_is_no_bytes_after_the_timeout_of_the_links_own_clock(rig: Rig) -> None:
    for timeout_s in (0.05, 0.05, 0.01, 0.0):
        before_ns = rig.clock.now_ns()
        assert rig.link.read(timeout_s) == b""
        assert rig.clock.now_ns() - before_ns >= timeout_s * NS_PER_S


def test_what_the_board_says_is_read_as_it_was_said(rig: Rig) -> None:
    rig.say(b"\x00\xff\x11\x13\x03\x04\r\n")  # bytes that terminals like to eat
    assert read_all(rig.link, 8) == b"\x00\xff\x11\x13\x03\x04\r\n"
    assert rig.link.read(0.01) == b""


def test_big_bursts_arrive_whole_and_in_order(rig: Rig) -> None:
    for size in (1, 64, 3000, 3001):
        rig.say(burst(size))
        assert read_all(rig.link, size) == burst(size)


def test_a_write_takes_everything(rig: Rig) -> None:
    rig.link.write(burst(3000))
    assert rig.heard(3000) == burst(3000)


def test_writing_nothing_does_no_harm(rig: Rig) -> None:
    rig.link.write(b"")
    assert rig.link.read(0.0) == b""


def test_after_closing_reading_and_writing_raise(rig: Rig) -> None:
    rig.link.close()
    with pytest.raises(LinkLost, match="closed"):
        rig.link.read(0.01)
    with pytest.raises(LinkLost, match="closed"):
        rig.link.write(b"x")
    rig.link.close()


def test_a_link_whose_other_end_went_away_says_so_from_then_on(losable: Rig) -> None:
    losable.link.write(b"hello")
    losable.heard(5)
    losable.vanish()
    with pytest.raises(LinkLost) as lost:
        for _ in range(100):
            losable.link.read(0.05)
    assert str(lost.value)
    for call in (lambda: losable.link.read(0.05), lambda: losable.link.write(b"x")):
        with pytest.raises(LinkLost, match=re.escape(str(lost.value))):
            call()
    losable.link.close()
    with pytest.raises(LinkLost):
        losable.link.read(0.0)
