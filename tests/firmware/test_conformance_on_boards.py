"""The examination of the project's own boards: both chip images in the emulator, and the host port."""

from __future__ import annotations

import json
import subprocess

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE, EmulatedBoard, bench
from emulator.builds import FIRMWARE, needs_cross_tools
from host.core import needs_compiler

from firmware_protocol.conformance.clauses import Outcome
from firmware_protocol.conformance.judging import Permission, judge
from tests.commands.running import winder
from winder.clock import HandClock
from winder.links.simulated_link import SimulatedLink

TOKEN = 0x0BADCAFE


@needs_cross_tools
@pytest.mark.parametrize(
    ("image", "machine"),
    [("atmega328p", bench(20, FOUR_EDGES)), ("smallest", bench(1, ONE_PULSE))],
    ids=["winding", "counting"],
)
def test_a_chip_image_keeps_every_clause_also_over_a_reset(image, machine):
    board, clock = EmulatedBoard(machine, image), HandClock()
    board.run_s(0.5)

    def again() -> SimulatedLink:
        board.reset()
        return SimulatedLink(board, clock)

    permission = Permission(lambda what: True, again)
    found = list(judge(SimulatedLink(board, clock), clock, TOKEN, permission))
    other = {f.clause.number: f.why for f in found if f.outcome is not Outcome.PASSED}
    if image == "smallest":
        other = {n: why for n, why in other.items() if "has no" not in why}
    assert other == {}


@needs_compiler
def test_the_host_port_keeps_every_clause_over_a_pseudo_terminal(tmp_path):
    target = tmp_path / "winder-host-board"
    words = ["make", "-C", str(FIRMWARE), f"BUILD={tmp_path}", str(target)]
    subprocess.run(words, check=True, capture_output=True)
    board = subprocess.Popen(
        [target, "--counts-per-turn", "20", "--brake"], stdout=subprocess.PIPE, text=True
    )
    try:
        assert board.stdout is not None
        port = board.stdout.readline().strip()
        done = winder(
            "bench", "check", "--port", port, "--may-move", "--yes", "--json", cwd=tmp_path
        )
    finally:
        board.terminate()
        board.communicate(timeout=10)
    told = json.loads(done.stdout)
    other = {c["clause"]: c["why"] for c in told["clauses"] if c["outcome"] != "passed"}
    assert done.returncode == 0 and told["good"]
    assert set(other) == {"10.1", "10.2", "10.3"}, other  # a process, which opening does not reset
