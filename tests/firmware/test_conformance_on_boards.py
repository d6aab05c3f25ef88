"""The examination of the project's own boards: both chip images in the emulator, and the host port."""

from __future__ import annotations

import json
import subprocess

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE, EmulatedBoard, bench
from emulator.builds import FIRMWARE, needs_cross_tools
from host.core import needs_compiler

from firmware_protocol.conformance.by_hand import TURNS, Deed, look_at_machine
from firmware_protocol.conformance.clauses import Outcome
from firmware_protocol.conformance.judging import Permission, judge
from tests.commands.running import winder
from winder.clock import HandClock
from winder.links.simulated_link import SimulatedLink

TOKEN = 0x0BADCAFE
NOT_WIRED = {f"22.{number}" for number in range(1, 7)} | {
    f"23.{number}" for number in range(2, 5)
}  # pedal, stop switch and limit switch: none of these boards has them


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
    else:
        told = (
            "the board has no PEDAL",
            "no stop switch is wired to this board",
            "no limit switch is wired to this board",
        )
        assert {n for n, why in other.items() if why in told} == NOT_WIRED
        other = {n: why for n, why in other.items() if n not in NOT_WIRED}
    assert other == {}


class Hands:
    """Of a person at the emulated machine."""

    def __init__(self, board: EmulatedBoard) -> None:
        self.board, self.counts = board, board.bench.profile.counts_per_turn

    def ready(self, deed: Deed) -> bool:
        self.board.chip.let_go()
        return True

    def act(self, deed: Deed) -> None:
        if deed in (Deed.OPEN_GUARD, Deed.SHUT_GUARD):
            self.board.open_guard(deed is Deed.OPEN_GUARD)
        elif deed in (Deed.TAKE_WIRE, Deed.PUT_WIRE):
            self.board.lose_wire(deed is Deed.TAKE_WIRE)
        else:
            way = 1 if deed is Deed.CLOCKWISE else -1
            self.board.chip.force(way * 0.8 * self.counts, TURNS * self.counts)


@needs_cross_tools
@pytest.mark.parametrize(
    ("image", "machine", "untested"),
    [
        ("atmega328p", bench(20, FOUR_EDGES), {"pedal", "stop"}),
        ("smallest", bench(4, ONE_PULSE), {"direction", "guard", "wire", "pedal", "stop"}),
    ],
    ids=["winding", "counting"],
)
def test_the_machine_of_a_chip_is_seen_by_hand(image, machine, untested):
    board, clock = EmulatedBoard(machine, image), HandClock()
    board.run_s(0.5)
    link = SimulatedLink(board, clock)
    seen = {one.look.name: one for one in look_at_machine(link, clock, TOKEN, Hands(board))}
    other = {n: one.found for n, one in seen.items() if one.outcome is not Outcome.PASSED}
    assert set(other) == untested, other
    counts = TURNS * machine.profile.counts_per_turn
    assert f"{counts} edges in {TURNS} turns" in seen["sensor"].found


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
            *("bench", "check", "--port", port, "--may-move", "--yes", "--by-hand", "--json"),
            cwd=tmp_path,
            typed="skip\n",
        )
    finally:
        board.terminate()
        board.communicate(timeout=10)
    told = json.loads(done.stdout)
    other = {c["clause"]: c["why"] for c in told["clauses"] if c["outcome"] != "passed"}
    assert done.returncode == 0 and told["good"]
    assert set(other) == {"10.1", "10.2", "10.3"} | NOT_WIRED, (
        other
    )  # a process, which opening does not reset
    looks = {each["look"]: each["outcome"] for each in told["machine"]}
    assert looks.pop("rest") == "passed" and set(looks.values()) == {"not tested"}
