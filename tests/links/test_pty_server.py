"""The simulated bench as a serial port: opening resets, clients come and go, nobody blocks it."""

from __future__ import annotations

import os
import select
import subprocess
import sys
import termios
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from firmware_protocol.seam import LinkLost
from winder.clock import NS_PER_S, SystemClock
from winder.links.pty_server import TICK_S, PtyServer
from winder.links.serial_link import open_serial

WAIT_S = 30.0  # for anything that only a fault can hold up


@pytest.fixture
def server(machine) -> Iterator[PtyServer]:
    with PtyServer(machine, SystemClock()) as made:
        yield made


@contextmanager
def client(server: PtyServer) -> Iterator[int]:
    """A program that opens the port as a plain file, without touching its settings."""
    port = os.open(server.path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    try:
        yield port
    finally:
        os.close(port)


def read(port: int) -> bytes:
    """All that waits, after the other end's last step."""
    data = b""
    while select.select([port], [], [], 0)[0] and len(data) < 1 << 20:
        data += os.read(port, 4096)
    return data


def step_until(server: PtyServer, so: Callable[[], object]) -> None:
    for _ in range(round(WAIT_S / TICK_S)):
        if so():
            return
        server.step()
    raise AssertionError("it never came to be so")


def test_the_path_is_a_terminal_of_its_own(server):
    assert os.path.exists(server.path)
    with client(server) as port:
        assert os.isatty(port)


def test_opening_the_port_resets_the_board_once(server, machine):
    server.step()
    assert machine.resets == 0
    for times in (1, 2):
        with client(server) as port:
            step_until(server, lambda: machine.resets)
            for _ in range(5):
                server.step()
            assert machine.resets == times
            assert read(port) == b"boot"
        server.step()


def test_a_board_that_is_not_reset_by_opening_goes_on(machine):
    with PtyServer(machine, SystemClock(), resets_on_open=False) as server, client(server):
        for _ in range(5):
            server.step()
        assert machine.resets == 0


def test_what_the_board_said_to_nobody_or_to_the_last_client_is_not_heard_by_the_next(
    server, machine
):
    machine.say(b"to nobody")
    server.step()
    with client(server):
        server.step()
        machine.say(b"unread", machine.now_ns)
        server.step()
    server.step()
    machine.say(b"to nobody again", machine.now_ns)
    server.step()
    with client(server) as port:
        server.step()
        server.step()
        assert read(port) == b"boot"


def test_every_byte_passes_untouched_even_for_clients_that_set_nothing(server, machine):
    every_byte = bytes(range(256))
    for _ in range(2):  # the kernel forgets the settings when the last client closes
        machine.heard.clear()
        with client(server) as port:
            step_until(server, lambda: machine.resets)
            server.step()
            os.write(port, every_byte)
            step_until(server, lambda: len(machine.heard) >= 256)
            assert machine.heard == every_byte
            read(port)
            machine.say(every_byte, machine.now_ns)
            server.step()
            server.step()
            assert read(port) == every_byte  # and no echo of what was written
        server.step()
        machine.resets = 0


def test_a_client_that_does_not_read_blocks_nothing_and_loses_what_is_old(server, machine):
    with client(server) as port:
        server.step()
        for number in range(3000):  # 60 kB, more than the kernel holds
            machine.say(b"status %013d" % number, machine.now_ns)
            server.step()
        data = read(port)
        assert len(data) < 60_000
        assert data.endswith(b"status 0000000002999")
        os.write(port, b"still here")
        step_until(server, lambda: machine.heard)
        assert machine.heard == b"still here"


def test_the_machine_follows_the_clock_without_and_with_a_client(server, machine):
    before_ns = machine.now_ns
    step_until(server, lambda: machine.now_ns - before_ns > NS_PER_S // 50)
    with client(server):
        before_ns = machine.now_ns
        step_until(server, lambda: machine.now_ns - before_ns > NS_PER_S // 50)


def test_serving_ends_when_told_and_closing_takes_the_port_away(machine, lock_folder: Path):
    stop = threading.Event()
    server = PtyServer(machine, SystemClock(20.0))
    serving = threading.Thread(target=server.serve, args=(stop,))
    serving.start()
    link = open_serial(server.path, lock_folder=lock_folder)
    for _ in range(30_000):
        if server.has_client and machine.resets:
            break
        stop.wait(0.001)
    machine.say(b"hello")
    data = b""
    for _ in range(100):  # opening may have dropped what the boot said
        data += link.read(1.0)
        if data.endswith(b"hello"):
            break
    stop.set()
    serving.join(WAIT_S)
    assert not serving.is_alive()
    server.close()
    server.close()
    with pytest.raises(LinkLost):
        link.read(1.0)
    link.close()
    assert not os.path.exists(server.path)


def test_the_last_word_of_a_client_reaches_the_board(server, machine):
    with client(server) as port:
        server.step()
        os.write(port, b"stop" * 1000)
    server.step()
    assert machine.heard == b"stop" * 1000
    with client(server) as port:  # however short the visit was
        os.write(port, b"stop")
    server.step()
    assert machine.heard == b"stop" * 1001


OPEN_AND_DIE = """
import os, sys
port = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY)
os.write(port, b"last")
os.kill(os.getpid(), 9)
"""


def test_a_client_that_dies_makes_room_for_the_next(server, machine):
    dying = subprocess.Popen([sys.executable, "-c", OPEN_AND_DIE, server.path])
    step_until(server, lambda: dying.poll() is not None)
    server.step()
    before = machine.resets  # the short visit may have gone unnoticed
    with client(server) as port:
        step_until(server, lambda: machine.resets > before)
        machine.say(b"hello", machine.now_ns)
        server.step()
        server.step()
        assert read(port).endswith(b"hello")


def test_no_pseudo_terminal_to_be_had_is_told(machine, monkeypatch):
    from winder.errors import WinderError

    def refused() -> tuple[int, int]:
        raise OSError(24, "Too many open files")

    monkeypatch.setattr(os, "openpty", refused)
    with pytest.raises(WinderError, match="Too many open files"):
        PtyServer(machine, SystemClock())


def test_the_other_end_is_raw(server):
    with client(server) as port:
        flags = termios.tcgetattr(port)
        assert not flags[3] & (termios.ECHO | termios.ICANON | termios.ISIG)
        assert not flags[1] & termios.OPOST
        assert not flags[0] & (termios.ICRNL | termios.IXON)
