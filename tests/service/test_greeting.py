"""What is at the port instead of a board of ours: one clear error each, and the port is closed again."""

from __future__ import annotations

import dataclasses
import os
import subprocess
import sys

import pytest
from opened_winds import open_on
from workshop_recipes import RECIPE_TEXT, short_recipe

from firmware_protocol.framing import FrameReader, encode_message
from firmware_protocol.messages import (
    BASE_VERSION,
    Answer,
    Hello,
    Verdict,
    Welcome,
)
from firmware_protocol.seam import LinkLost
from firmware_protocol.wire import LAYOUT_OF, unpack
from winder.clock import HandClock
from winder.errors import UserMistake, WinderError
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.service.bodies import simulated_machine
from winder.service.opening import Numbers, Order, Station, open_wind
from winder.shelf import Logbook

COIL = short_recipe(turns=150)
HELLO = LAYOUT_OF[Hello].kind


class Port:
    """A port in virtual time with something of the test's own behind it."""

    def __init__(self, clock, answers) -> None:
        self._clock = clock
        self._answers = answers
        self._reader = FrameReader()
        self._out = b""
        self.closed = False

    def read(self, timeout_s: float) -> bytes:
        data, self._out = self._out, b""
        if not data:
            self._clock.sleep_s(timeout_s)
        return data

    def write(self, data: bytes) -> None:
        for frame in self._reader.feed(data):
            if frame.kind == HELLO:
                self._out += self._answers(unpack(frame.kind, frame.payload))

    def close(self) -> None:
        self.closed = True


def welcome(hello: Hello, version: int) -> bytes:
    return encode_message(
        Welcome(version, hello.token, 1, 100, "strange", bytes(6), 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
    )


def held(_hello: Hello) -> bytes:
    return encode_message(Answer(HELLO, Verdict.HELD, 0, 0))


def gone(_hello: Hello) -> bytes:
    raise LinkLost("the cable was pulled")


@pytest.mark.parametrize(
    ("answers", "says", "remedy"),
    [
        (lambda _hello: b"", "nothing on this port answers", "--baud 115200"),
        (lambda _hello: b"hello? 12 ok\r\n" * 9, "nothing on this port answers", "firmware"),
        (lambda hello: welcome(hello, BASE_VERSION + 1), "another version", "firmware"),
        (held, "another program is winding", "end the wind there"),
        (gone, "the port closed", "cable"),
    ],
)
def test_what_is_no_board_of_ours_is_one_clear_error(answers, says, remedy):
    clock = HandClock()
    port = Port(clock, answers)
    with Logbook.in_memory() as book:
        with pytest.raises(WinderError) as trouble:
            open_wind(
                Station(port, clock, "/dev/test"), Order(short_recipe(20), SIMULATED_BENCH), book,
                Numbers.from_seed(1),
            )  # fmt: skip
        assert book.coils() == [], "nothing was begun"
    assert says in trouble.value.what
    assert remedy in trouble.value.remedy
    assert trouble.value.where == "/dev/test"
    assert trouble.value.exit_code == 1
    assert port.closed


def test_a_terminal_that_echoes_is_no_board(tmp_path):
    """Across the real serial road: a pseudo-terminal that sends back what it hears."""
    import pty
    import threading
    import tty

    master, slave = pty.openpty()
    tty.setraw(slave)
    recipe = tmp_path / "coil.toml"
    recipe.write_text(RECIPE_TEXT.format(turns=20))
    stop = threading.Event()

    def echo() -> None:
        os.set_blocking(master, False)
        while not stop.wait(0.01):
            try:
                os.write(master, os.read(master, 1024))
            except (BlockingIOError, OSError):
                continue

    thread = threading.Thread(target=echo)
    thread.start()
    try:
        done = subprocess.run(
            [
                sys.executable, "-m", "winder", "wind", str(recipe), "--port", os.ttyname(slave),
                "--start", "--top", "operator", "--tension", "12 cN",
                "--logbook", str(tmp_path / "book"),
            ],
            capture_output=True, text=True, input="", timeout=60, check=False,
        )  # fmt: skip
    finally:
        stop.set()
        thread.join()
        os.close(master)
        os.close(slave)
    assert done.returncode == 1
    assert "nothing on this port answers as a winding board" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_board_of_somebodys_own_needs_a_machine_of_its_own():
    """What counts a turn nobody may guess: with the simulated bench's figures the coil would be wrong."""
    body = simulated_machine(SIMULATED_BENCH, COIL, 1)
    body._identity = dataclasses.replace(body._identity, board="my lathe")
    body._start_board()
    with Logbook.in_memory() as book:
        with pytest.raises(UserMistake, match=r"my lathe.*bench new.*--machine"):
            opened_on(body, book, machine_named=False)
        assert book.coils() == []
        assert opened_on(body, book, machine_named=True).welcome.board == "my lathe"


def opened_on(body, book, **more):
    clock = HandClock()
    return open_on(SimulatedLink(body, clock), clock, COIL, book, **more)  # fmt: skip
