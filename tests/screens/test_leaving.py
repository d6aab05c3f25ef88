"""Every way out is the careful one."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import sys
import termios
import time
from pathlib import Path

import pytest
from piloting import Stage, intents, on_stage

from tests.pages.scenes import SCENES, WINDING
from tests.pages.still import StillBench, StillRun
from winder.clock import NS_PER_S, SystemClock
from winder.errors import WinderError
from winder.screens.app import WinderApp
from winder.screens.farewell import say_farewell
from winder.screens.running import _in_words
from winder.wind.model import Intent

FAKE_BENCH = Path(__file__).parent / "fake_bench.py"
ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("key", ["ctrl+c", "ctrl+q"])
def test_leaving_a_wind_in_motion_stops_it_first_and_goes_at_rest(key):
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        await stage.press("n", "x")  # also with the focus in an input
        await stage.press(key)
        assert intents(run) == [Intent.LEAVE]
        assert "Leaving: the spindle stops first." in stage.text
        assert stage.app.return_code is None
        run.view = SCENES["paused"]
        await stage.tick()

    assert on_stage(play, run).return_code == 1, "the coil is not complete"


def test_a_complete_coil_is_left_with_exit_code_0():
    async def play(stage: Stage) -> None:
        await stage.press("q")

    assert on_stage(play, StillRun(SCENES["complete"])).return_code == 0


def test_asked_again_it_cuts_and_a_third_time_it_leaves_at_once_and_says_that_it_left_in_motion():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        await stage.press("ctrl+c")
        assert "Stop again to cut the motor's power." in stage.text
        await stage.press("ctrl+c")
        assert stage.app.return_code is None
        await stage.press("ctrl+c")

    assert on_stage(play, run).return_code == 1
    assert intents(run) == [Intent.LEAVE, Intent.CUT, Intent.CUT]


def test_a_tick_that_comes_after_the_way_out_does_nothing():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        await stage.tick()

    app = on_stage(play, run)
    signs_of_life = run.signs_of_life
    assert app.wind is not None and app.wind.is_mounted and not app.screen_stack
    app.tick()
    assert run.signs_of_life == signs_of_life


def test_a_held_ctrl_c_cuts_the_motor_and_never_leaves_a_wind_in_motion():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        for _ in range(4):
            await stage.send("ctrl+c")
            await stage.tick(0.1)
        assert stage.app.is_running
        assert stage.app.return_code is None

    on_stage(play, run)
    assert intents(run) == [Intent.LEAVE, Intent.CUT]


def test_the_toolkits_own_quit_is_the_careful_one():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        await stage.app.run_action("quit")
        assert stage.app.return_code is None

    on_stage(play, run)
    assert intents(run) == [Intent.LEAVE]
    assert not WinderApp.ENABLE_COMMAND_PALETTE


def test_stop_keys_still_stop_while_leaving():
    run = StillRun(WINDING)

    async def play(stage: Stage) -> None:
        await stage.press("ctrl+c")
        await stage.press("space")

    on_stage(play, run)
    assert intents(run) == [Intent.LEAVE, Intent.CUT]


def test_leaving_a_paused_wind_asks_first():
    run = StillRun(SCENES["paused"])

    async def play(stage: Stage) -> None:
        await stage.press("q")
        assert "Leave this wind? 3318 turns, exact, of 5000." in " ".join(stage.text.split())
        await stage.press("n")
        assert run.asked == []
        await stage.press("q")
        await stage.press("y")

    assert on_stage(play, run).return_code == 1
    assert intents(run) == [Intent.LEAVE]


def test_a_silent_board_can_be_left_and_that_is_trouble():
    run = StillRun(SCENES["unheard"])

    async def play(stage: Stage) -> None:
        await stage.press("q")
        assert "comes to rest by itself. Leave without it?" in stage.question
        await stage.press("y")

    assert on_stage(play, run).return_code == 1
    assert intents(run) == [Intent.LEAVE]


def test_from_the_workbench_a_wind_ends_at_the_workbench():
    bench = StillBench(SCENES["complete"])

    async def play(stage: Stage) -> None:
        await stage.press("w")
        assert stage.app.wind is not None
        run = stage.app.wind.run_of_wind
        await stage.press("q")
        assert stage.app.wind is None
        assert run.closed == 1
        assert "recipe" in stage.text and stage.app.return_code is None
        await stage.press("ctrl+c")

    assert on_stage(play, workbench=bench).return_code == 0


def test_a_farewell_stops_closes_and_ends_the_process_in_this_order():
    run = StillRun(WINDING)
    done: list[str] = []
    app = WinderApp(run)
    run.close = lambda wait_s: done.append("closed")  # type: ignore[method-assign]
    say_farewell(
        app, lambda code: done.append(f"ended {code}"), lambda s: done.append(f"waited {s}")
    )
    assert intents(run) == [Intent.PAUSE]
    assert done == ["closed", "waited 1.0", "ended 1"]


def test_a_farewell_ends_the_process_even_when_closing_fails():
    run = StillRun(WINDING)
    ended: list[int] = []

    def fail(wait_s: float) -> None:
        raise OSError("disk full")

    run.close = fail  # type: ignore[method-assign]
    say_farewell(WinderApp(run), ended.append, lambda s: None)
    assert ended == [1]


def test_what_ended_a_wind_early_becomes_words_with_a_remedy():
    told = _in_words(ValueError("bad\x1b[2J"))
    assert isinstance(told, WinderError)
    assert "\x1b" not in str(told) and "look on the shelf" in str(told)


class Terminal:
    """A real program on a pseudo-terminal."""

    def __init__(self, journal: Path) -> None:
        self.pid, self.handle = pty.fork()
        if self.pid == 0:
            os.environ.update(TERM="xterm-256color", PYTHONPATH=str(ROOT))
            os.execv(sys.executable, [sys.executable, str(FAKE_BENCH), "wind", str(journal)])
        fcntl.ioctl(self.handle, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self._clock = SystemClock()

    def read_until(self, word: str) -> None:
        """Take what it writes until ``word`` was seen; gives up after a while."""
        seen, end_ns = "", self._clock.now_ns() + 20 * NS_PER_S
        while word not in seen:
            assert self._clock.now_ns() < end_ns, f"never saw {word!r} in {seen[-500:]!r}"
            if select.select([self.handle], [], [], 0.1)[0]:
                seen += os.read(self.handle, 65536).decode("utf-8", "replace")

    def press(self, key: str) -> None:
        os.write(self.handle, key.encode())

    def wait_gone(self, *, reading: bool) -> int:
        end_ns = self._clock.now_ns() + 20 * NS_PER_S
        while self._clock.now_ns() < end_ns:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                return os.waitstatus_to_exitcode(status)
            if reading and select.select([self.handle], [], [], 0.05)[0]:
                try:
                    os.read(self.handle, 65536)
                except OSError:
                    reading = False
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        raise AssertionError("the program hung")


@pytest.mark.parametrize("how", ["terminal closed", signal.SIGTERM, signal.SIGINT, signal.SIGQUIT])
def test_a_wind_in_motion_is_closed_when_the_program_is_told_to_end(tmp_path, how):
    journal = tmp_path / "journal"
    terminal = Terminal(journal)
    terminal.read_until("eye protection")
    terminal.press("a")
    terminal.read_until("asked: accept cautions")
    terminal.press("s")
    terminal.read_until("Press 0 to start")
    time.sleep(0.3)
    terminal.press("0")
    terminal.read_until("W I N D I N G")
    if how == "terminal closed":
        os.close(terminal.handle)
    else:
        os.kill(terminal.pid, how)
    assert terminal.wait_gone(reading=how != "terminal closed") == 1
    assert journal.read_text().startswith("closed at 47")
