"""The guide led home by typed words: the command at a terminal of its own, the core as a process, a limit switch at it."""

from __future__ import annotations

import time

from host.core import needs_compiler
from test_host_board_pedal import MACHINE, Bench, Terminal, program, statuses

from firmware_protocol.messages import Flag, Reason, State

__all__ = ["program"]  # a fixture
pytestmark = needs_compiler
FLANGE_MM = 5.0
GUIDED = (
    MACHINE.replace("pedal = true\n", "")
    + f"""\
[traverse]
travel = "100 mm"
limit_switch = true
switch_to_flange = "{FLANGE_MM:g} mm"
"""
)
SEEKS_S = 25.0  # nine eighths of 105 mm at 10 mm/s, and slow computers


def test_home_is_found_behind_every_fault_of_the_switch(program, tmp_path):
    """Never met, loose, stuck, stopped on the way; then sound, and the coil can be wound."""
    with Bench(program, "--guide") as bench, Terminal(tmp_path, bench.path, GUIDED) as wind:
        wind.until("type: .*guide home")
        for fault, words in (
            ("loose", "loose or stuck"),
            ("stuck", "loose or stuck"),
            ("never", r"was not met in 1\d\d mm"),
        ):
            bench.do(f"limit {fault}")
            time.sleep(0.1)
            wind.type("guide home")
            wind.until("finding home")
            wind.until(
                f"tripped: the limit switch (is )?{words}.*then find its home again", SEEKS_S
            )
            wind.until("type: .*clear trip")
            time.sleep(2.0)  # it trips with the drive cut, and looks for rest
            wind.type("clear trip")
            wind.until(f"guide referenced: home not found, the limit switch (is )?{words}")
        bench.do("limit sound")
        wind.type("guide home")
        wind.until("home found: look that it is at the left flange", SEEKS_S)
        wind.type("guide 60")  # some seconds from the switch
        wind.until("home found; send it back to the start")
        wind.until("type: .*guide home")
        wind.type("guide home")
        wind.until("finding home")
        wind.type("pause")
        wind.until("home not found, stopped")
        wind.until("type: .*guide home")
        wind.type("guide home")
        wind.until("home found: look that it is at the left flange", SEEKS_S)
        wind.type("guide stands")
        wind.until(r"\[x\] guide referenced")
        wind.type("set up already")
        wind.until("ready: ")
        wind.type("guide home")
        wind.until("pull the wire aside")
        wind.type("leave")
        assert wind.process.wait(10) in (0, 1)
        status = statuses(bench.path, 0.3)[-1]
        assert status.flags & Flag.REFERENCED and status.traverse_um == 0


def test_a_program_killed_on_the_way_leaves_a_guide_at_rest_and_the_coil_goes_on(program, tmp_path):
    with Bench(program, "--guide") as bench:
        bench.do("limit never")  # it is on its way for long
        with Terminal(tmp_path, bench.path, GUIDED) as wind:
            wind.until("type: .*guide home")
            wind.type("guide home")
            wind.until("finding home")
            time.sleep(0.5)
            wind.process.kill()
        time.sleep(2.0)  # the lease, and its ramp
        first, *_, last = statuses(bench.path, 0.5)
        assert (last.state, last.reason) == (State.STILL, Reason.LEASE_LOST)
        assert first.traverse_um == last.traverse_um < 0 and not last.flags & Flag.REFERENCED
        bench.do("limit sound")
        with Terminal(tmp_path, bench.path, GUIDED, ("--continue", "1")) as wind:
            wind.until("type: .*guide home")
            wind.type("guide home")
            wind.until("home found: look that it is at the left flange", SEEKS_S)
            wind.type("set up already")
            wind.until("ready: ")
            wind.type("start")
            wind.until("complete: ", 30.0)
        assert statuses(bench.path, 0.3)[-1].flags & Flag.REFERENCED
