"""A wind without a screen ends carefully: asked to end, its terminal or reader gone, its logbook gone."""

from __future__ import annotations

import codecs
import json
import os
import pty
import re
import select
import signal
import subprocess
import sys

import pytest
from running import AT_ONCE, short_recipe_file, winder

from winder.clock import NS_PER_S, SystemClock

PATIENCE_S = 60.0  # only so that a hang ends
COUNTS = re.compile(r"^ +(\d+\.\d+) of \d+ turns", re.MULTILINE)


class PlainWind:
    """``winder wind --plain`` of a long coil, started at once; its output is a pipe or a terminal."""

    def __init__(self, folder, *, on_terminal: bool = False) -> None:
        self.book = folder / "book.sqlite"
        self._clock = SystemClock()
        recipe = short_recipe_file(folder, turns=4000)
        words = ["wind", str(recipe), "--port", "sim?pace=3", *AT_ONCE, "--logbook", str(self.book)]
        self.reader, writer = pty.openpty() if on_terminal else os.pipe()
        if on_terminal:
            words.remove("--start")
        self.process = subprocess.Popen(
            [sys.executable, "-u", "-m", "winder", *words],
            stdin=writer if on_terminal else subprocess.DEVNULL,
            stdout=writer, stderr=subprocess.DEVNULL,
            start_new_session=True,
            preexec_fn=_take_terminal if on_terminal else None,
        )  # fmt: skip
        os.close(writer)
        self.seen = ""
        self._decoder = codecs.getincrementaldecoder("utf-8")()  # a read may end within a letter

    def until(self, holds) -> None:
        end_ns = self._clock.now_ns() + round(PATIENCE_S * NS_PER_S)
        while not holds(self.seen):
            assert self._clock.now_ns() < end_ns, self.seen
            if select.select([self.reader], [], [], 0.2)[0]:
                self.seen += self._decoder.decode(os.read(self.reader, 65536))

    def until_it_turns(self) -> float:
        self.until(lambda seen: any(float(turns) > 3 for turns in COUNTS.findall(seen)))
        return float(COUNTS.findall(self.seen)[-1])

    def type(self, line: str) -> None:
        os.write(self.reader, f"{line}\n".encode())

    def rest(self) -> str:
        """All that it still says, and its end."""
        try:
            while data := os.read(self.reader, 65536):
                self.seen += self._decoder.decode(data)
        except OSError:  # a terminal without a writer
            pass
        return self.seen

    def coil(self) -> dict:
        (coil,) = json.loads(winder("shelf", "list", "--json", "--logbook", str(self.book)).stdout)
        return coil


def _take_terminal() -> None:
    """The standard input becomes the terminal of this session, so that closing it hangs up."""
    import fcntl
    import termios

    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


@pytest.fixture
def ended():
    """Winds that are over when the test is, whatever happened."""
    winds: list[PlainWind] = []
    yield winds
    for wind in winds:
        wind.process.kill()
        wind.process.wait()


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGQUIT"])
def test_asked_to_end_it_stops_writes_down_and_leaves_at_rest(tmp_path, ended, name):
    wind = PlainWind(tmp_path)
    ended.append(wind)
    turns = wind.until_it_turns()
    wind.process.send_signal(getattr(signal, name))
    said = wind.rest()
    assert wind.process.wait(PATIENCE_S) == 1
    assert f"{name}: stopping the spindle, then leaving" in said
    assert f"--logbook {wind.book} --continue 1" in said
    last = float(COUNTS.findall(said)[-1])
    low, high = wind.coil()["turns"]
    assert turns <= last and low <= last <= high <= low + 2
    shown = json.loads(winder("shelf", "show", "1", "--json", "--logbook", str(wind.book)).stdout)
    assert shown["runs"][0]["how"] == "left"


def test_asked_to_end_again_and_again_it_still_ends_at_rest_and_on_record(tmp_path, ended):
    wind = PlainWind(tmp_path)
    ended.append(wind)
    turns = wind.until_it_turns()
    wind.process.send_signal(signal.SIGTERM)
    wind.until(lambda seen: "SIGTERM: stopping the spindle" in seen)
    for name in ("SIGHUP", "SIGTERM", "SIGQUIT"):  # as a closing terminal and its shell send them
        wind.process.send_signal(getattr(signal, name))
    wind.rest()
    assert wind.process.wait(PATIENCE_S) == 1
    coil = wind.coil()
    assert coil["state"] == "unfinished"
    low, high = coil["turns"]
    assert turns <= high and low + 1 <= high <= low + 2, "it was heard to come to rest"


@pytest.mark.parametrize("on_terminal", [False, True], ids=["pipe", "terminal"])
def test_an_output_that_nobody_takes_ends_the_wind_at_rest_and_on_record(
    tmp_path, ended, on_terminal
):
    wind = PlainWind(tmp_path, on_terminal=on_terminal)
    ended.append(wind)
    if on_terminal:
        for word in ("lead fixed", "set up already"):
            wind.type(word)
        wind.until(lambda seen: "ready:" in seen)
        wind.type("start")
    turns = wind.until_it_turns()
    os.close(wind.reader)
    assert wind.process.wait(PATIENCE_S) == 1
    coil = wind.coil()
    assert coil["state"] == "unfinished"
    low, high = coil["turns"]
    assert turns <= high and low + 1 <= high <= low + 2, "it was heard to come to rest"


def test_ctrl_c_slows_cuts_and_leaves(tmp_path, ended):
    wind = PlainWind(tmp_path)
    ended.append(wind)
    wind.until_it_turns()
    wind.process.send_signal(signal.SIGINT)
    wind.until(lambda seen: "Ctrl-C again cuts the power to the motor" in seen)
    wind.process.send_signal(signal.SIGINT)
    wind.until(lambda seen: "the power to the motor is cut; Ctrl-C again leaves" in seen)
    wind.process.send_signal(signal.SIGINT)
    said = wind.rest()
    assert wind.process.wait(PATIENCE_S) == 1
    assert "left at rest; to go on" in said
    shown = json.loads(winder("shelf", "show", "1", "--json", "--logbook", str(wind.book)).stdout)
    asked = [line["text"] for line in shown["runs"][0]["lines"] if line["kind"] == "intent"]
    assert [word for text in asked for word in ("pause", "cut", "leave") if word in text] == [
        "pause", "cut", "leave",
    ]  # fmt: skip


def test_a_logbook_that_was_deleted_stops_the_wind(tmp_path, ended):
    wind = PlainWind(tmp_path)
    ended.append(wind)
    wind.until_it_turns()
    wind.book.unlink()
    said = wind.rest()
    assert wind.process.wait(PATIENCE_S) == 1
    assert "slowing" in said and "left at rest" in said
