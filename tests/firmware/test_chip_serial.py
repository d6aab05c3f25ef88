"""The command line winds on the real binary: real pyserial, a pseudo-terminal, real time.

Few and short, because they take the time they take; what happens when is proved in virtual time
(``test_chip_faults.py``). What is asked here is that the whole chain stands: process, port, adapter, chip.
"""

from __future__ import annotations

import dataclasses
import re
import signal

import pytest
from emulator.bench_process import BoardProcess, WinderProcess
from emulator.board import FOUR_EDGES, ONE_PULSE, bench
from emulator.builds import needs_cross_tools

pytestmark = needs_cross_tools
BENCH = bench(20, FOUR_EDGES).profile
BOUNDS = re.compile(r" of \d+ turns, [\d.]+ to [\d.]+: ")  # of a count in doubt, and why after them


def last_turns(wind: WinderProcess) -> float:
    return [float(turns) for turns in re.findall(r"(\d+\.\d+) of \d+ turns", wind.told)][-1]


@pytest.mark.parametrize(
    ("counts", "sensor", "turns", "bound"),
    [(20, FOUR_EDGES, 5, 0.05), (1, ONE_PULSE, 5, 0.5)],
    ids=["20 counts a turn", "1 pulse a turn"],
)
def test_the_command_winds_a_coil_on_the_chip(tmp_path, counts, sensor, turns, bound):
    profile = bench(counts, sensor).profile
    with (
        BoardProcess(f"--counts={counts}", f"--sensor={sensor}") as board,
        WinderProcess(tmp_path, board, profile, turns) as wind,
    ):
        assert wind.end() == 0, wind.told
        facts = board.facts()
    assert "complete" in wind.told and "exact" in wind.lines[-1]
    assert facts["count"] == facts["edges"] == round(last_turns(wind) * counts)
    assert 0 <= facts["count"] / counts - turns <= bound
    assert facts["speed_cps"] == 0 and facts["duty"] == 0
    assert facts["resets"] == 1, "opening the port resets the board, and nothing else does"


def test_pause_and_continue_by_typed_words(tmp_path):
    with (
        BoardProcess("--counts=20") as board,
        WinderProcess(tmp_path, board, BENCH, 6) as wind,
    ):
        wind.until_turning(0.5)
        wind.type("pause")
        wind.until("^paused")
        assert board.facts()["speed_cps"] == 0
        wind.type("continue")
        assert wind.end() == 0, wind.told
        assert board.facts()["count"] == round(last_turns(wind) * 20)


def test_the_first_ctrl_c_pauses_and_the_second_leaves(tmp_path):
    with (
        BoardProcess("--counts=20") as board,
        WinderProcess(tmp_path, board, BENCH, 200) as wind,
    ):
        wind.until_turning(1)
        wind.process.send_signal(signal.SIGINT)
        wind.until("^paused")
        wind.process.send_signal(signal.SIGINT)
        assert wind.end() == 1
        facts = board.facts()
        assert facts["speed_cps"] == 0
        assert facts["count"] == round(last_turns(wind) * 20)


def test_a_board_that_is_reset_while_winding_is_told_with_bounds(tmp_path):
    with (
        BoardProcess("--counts=20") as board,
        WinderProcess(tmp_path, board, BENCH, 200) as wind,
    ):
        wind.until_turning(2)
        board.say("reset")
        assert wind.end() == 1
        facts = board.facts()
    assert facts["speed_cps"] == 0
    assert "reset" in wind.told
    assert BOUNDS.search(wind.lines[-1])


def test_a_hung_board_is_told_and_heard_again_and_not_started(tmp_path):
    with (
        BoardProcess("--counts=20") as board,
        WinderProcess(tmp_path, board, BENCH, 40) as wind,
    ):
        wind.until_turning(2)
        board.signal(signal.SIGSTOP)
        wind.until("not heard")
        board.signal(signal.SIGCONT)
        wind.until("^paused")
        facts = board.facts()
        assert facts["speed_cps"] == 0
        wind.type("leave")
        assert wind.end() == 1
        assert facts["count"] == round(last_turns(wind) * 20)
        # What nobody heard is settled by the board's count; that it is left now is a doubt of its own.
        assert "not heard" not in wind.lines[-1]
        assert "turned while nobody counted" in wind.lines[-1]


def test_a_pulled_cable_ends_in_words_and_bounds(tmp_path):
    with (
        BoardProcess("--counts=20") as board,
        WinderProcess(tmp_path, board, BENCH, 200) as wind,
    ):
        wind.until_turning(2)
        board.signal(signal.SIGKILL)
        wind.until("not heard")
        wind.type("leave")  # it waits for the cable to come back, for as long as a person does
        assert wind.end() == 1
    assert "Traceback" not in wind.told
    assert "no signal" in wind.told and "check the cable" in wind.told
    assert BOUNDS.search(wind.lines[-1]), wind.told


def test_the_wrong_line_speed_is_an_error_with_its_remedy(tmp_path):
    with (
        BoardProcess("--counts=20", "--set", "line=1") as board,
        WinderProcess(tmp_path, board, BENCH, 3) as wrong,
    ):
        assert wrong.end() == 1
        assert "nothing on this port answers" in wrong.told and "--baud 115200" in wrong.told
        with WinderProcess(tmp_path, board, BENCH, 3, "--baud", "115200") as right:
            assert right.end() == 0, right.told


def test_a_hand_drill_and_the_counter_only_board_make_a_coil(tmp_path):
    drill = dataclasses.replace(
        bench(1, ONE_PULSE).profile, name="hand drill", motor=False, braking_rpm_s=None
    )
    with (
        BoardProcess("--counts=1", "--sensor=1", "--port=smallest") as board,
        WinderProcess(tmp_path, board, drill, 12) as wind,
    ):
        wind.until("^winding")
        board.say("force 6 12")
        assert wind.end() == 0, wind.told
        assert board.facts()["edges"] == 12
    assert last_turns(wind) == 12
