"""``winder bench home``: a simulated machine with a limit switch, and one without."""

from __future__ import annotations

import io
import sys

import pytest

from firmware_protocol.far import TraverseHome
from firmware_protocol.messages import Flag, TraverseStep, Trip
from winder.clock import HandClock
from winder.commands.main import main
from winder.errors import WinderError
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.service.bodies import simulated_machine
from winder.service.homing import clear_limit_trip, home, require_switch, words_of
from winder.service.teaching.bench import TaughtBoard, Tripped
from winder.simulator.build import ROOM_M

ROOM_MM = ROOM_M * 1000  # from the simulated flange to the switch


@pytest.fixture
def machine_file(tmp_path):
    path = tmp_path / "kalimba.toml"
    assert main(["bench", "new", str(path)]) == 0
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("[traverse]", "[traverse]\nlimit_switch = true"), encoding="utf-8")
    return path


def bench_home(capsys, *words: str) -> tuple[int, str, str]:
    capsys.readouterr()
    code = main(["bench", "home", "--port", "sim", *words])
    told = capsys.readouterr()
    return code, told.out, told.err


def board_with_switch() -> tuple[TaughtBoard, object]:
    import dataclasses

    machine = simulated_machine(dataclasses.replace(SIMULATED_BENCH, limit_switch=True), None, 1)
    clock = HandClock()
    return TaughtBoard(SimulatedLink(machine, clock), clock, "sim", "look at it"), machine


def test_it_ends_at_the_flange_and_says_so(capsys, machine_file):
    code, out, err = bench_home(
        capsys, "--machine", str(machine_file), "--flange", f"{ROOM_MM:g}", "--yes"
    )
    assert (code, err) == (0, "")
    assert "is not an emergency stop" in " ".join(out.split())
    assert out.rstrip().endswith("where the left flange is.")


def test_the_guide_truly_stands_at_the_flange_and_the_board_knows_it():
    board, machine = board_with_switch()
    machine.body.carriage.step(30_000)
    machine.body.carriage.walk(1e9)
    said: list[str] = []
    home(board, ROOM_MM, 20.0, said.append)
    assert machine.body.true_guide_m == pytest.approx(0.0, abs=1e-9)
    assert board.newest.traverse_um == 0 and board.newest.flags & Flag.REFERENCED
    assert len(said) == 2
    board.close()


def test_nobody_agreed_nothing_moves(capsys, machine_file, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.StringIO("no\n"))
    code, out, _ = bench_home(capsys, "--machine", str(machine_file), "--flange", "0")
    assert code == 1 and "Nothing was moved" in out


def test_the_flange_is_where_the_machine_file_says(capsys, machine_file):
    text = machine_file.read_text(encoding="utf-8")
    line = 'limit_switch = true\nswitch_to_flange = "12.5 mm"'
    machine_file.write_text(text.replace("limit_switch = true", line, 1), encoding="utf-8")
    code, out, err = bench_home(capsys, "--machine", str(machine_file), "--yes")
    assert (code, err) == (0, "")
    assert "12.5 mm to the right" in out


def test_where_nobody_says_how_far_the_flange_is_nothing_is_opened(capsys, machine_file):
    for words in ((), ("--machine", str(machine_file))):
        code, out, err = bench_home(capsys, *words, "--yes")
        assert code == 2 and out == ""
        assert "--flange" in err and "measure it" in err


def test_a_board_without_a_switch_is_told_before_anybody_is_asked(capsys):
    code, out, err = bench_home(capsys, "--flange", "5")
    assert code == 1 and out == ""
    assert "no guide with a limit switch" in err and "Traceback" not in err


@pytest.mark.parametrize(
    "words",
    [
        ("--flange", "-1"),
        ("--flange", "1001"),
        ("--speed", "0", "--flange", "1"),
        ("--speed", "nan", "--flange", "1"),
    ],
)
def test_nonsense_is_a_mistake_of_the_command(capsys, words):
    code, _, err = bench_home(capsys, *words)
    assert code == 2 and words[0] in err


def test_a_switch_that_cannot_be_trusted_is_told_and_its_trip_cleared():
    board, machine = board_with_switch()
    machine.body.carriage.at_limit = False
    board.hear(0.2)
    require_switch(board)

    def meets_what_it_should_not(ask: TraverseHome) -> None:
        machine.body.carriage.at_limit = True

    machine.body.lead_far = meets_what_it_should_not
    with pytest.raises(Tripped) as tripped:
        home(board, 5.0, 20.0, lambda _: None)
    told = words_of(tripped.value, board)
    assert (
        isinstance(told, WinderError) and "limit switch" in told.what and "--clear" in told.remedy
    )
    assert board.newest.trip is Trip.TRAVERSE_LIMIT
    clear_limit_trip(board)
    assert board.newest.trip is Trip.NONE
    clear_limit_trip(board)  # nothing to clear
    board.close()


@pytest.mark.parametrize("um", [1, 40, 900])
def test_a_move_that_is_over_between_two_statuses_is_over(um):
    board, machine = board_with_switch()
    began_ns = board.clock.now_ns()
    board.move(lambda: board.make(TraverseStep, distance_um=um), 30.0)
    assert (board.clock.now_ns() - began_ns) / 1e9 < 5.0
    assert machine.body.true_guide_m == pytest.approx(um * 1e-6, abs=1e-9)
    board.close()
