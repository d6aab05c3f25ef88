"""``winder wind`` without ``--machine``: the board at the port says who it is, and its own file is taken or none."""

from __future__ import annotations

import io
import threading
from contextlib import ExitStack
from functools import partial

import pytest
from running import AT_ONCE, short_recipe_file

from winder.clock import SystemClock
from winder.commands.main import main
from winder.commands.typed_answers import ask_which
from winder.errors import UserMistake
from winder.links.pty_server import PtyServer
from winder.machine.model import SIMULATED_BENCH
from winder.machine.reader import read_machine
from winder.service.bodies import simulated_machine
from winder.service.known_machines import known_machines
from winder.service.recognising import find_machine, introduced, remember_taught
from winder.service.workbench import LocalWorkbench
from winder.shelf import Logbook

DRILL = """\
name = "drill"
[sensor]
counts_per_turn = 4
senses_direction = false
[spindle]
motor = false
"""


@pytest.fixture(autouse=True)
def own_data_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setattr("sys.stdin", io.StringIO())


@pytest.fixture
def boards(tmp_path):
    """A machine with a motor on the port ``a`` and a drill on the port ``b``, both taught; the links to their ports."""
    drill = tmp_path / "drill.toml"
    drill.write_text(DRILL)
    motor = tmp_path / "motor.toml"
    assert main(["bench", "new", str(motor), "--kind", "guide"]) == 0
    stop = threading.Event()
    with ExitStack() as stack:
        stack.callback(stop.set)
        for name, profile in (("a", SIMULATED_BENCH), ("b", read_machine(drill))):
            body = simulated_machine(profile, None, 1)
            server = stack.enter_context(PtyServer(body, SystemClock(), resets_on_open=False))
            thread = threading.Thread(target=server.serve, args=(stop,), daemon=True)
            thread.start()
            stack.callback(thread.join, 5.0)
            stack.callback(stop.set)
            (tmp_path / name).symlink_to(server.path)
        yield tmp_path / "a", tmp_path / "b"


def teach(port, file):
    """As the end of teaching does."""
    return remember_taught(str(port), introduced(str(port)), port.parent / file)


def exchange(one, other):
    """The two boards are plugged in the other way round."""
    here, there = one.readlink(), other.readlink()
    for name, target in ((one, there), (other, here)):
        name.unlink()
        name.symlink_to(target)


def wind(folder, *words):
    recipe = short_recipe_file(folder, turns=2)
    return main(["wind", str(recipe), *AT_ONCE, "--logbook", str(folder / "book"), *words])


def test_the_one_machine_is_found_named_first_and_winds(tmp_path, boards, capsys):
    assert teach(boards[0], "motor.toml") == ""
    capsys.readouterr()
    assert wind(tmp_path) == 0
    first, *rest = capsys.readouterr().out.splitlines()
    number = known_machines()[0].number
    assert first.startswith(f"machine {tmp_path / 'motor.toml'}, board '")
    assert f"number {number:08x} on {boards[0]}" in first
    assert "2.00 of 2 turns, exact" in rest[-1]


def test_a_board_exchanged_on_its_port_is_refused_before_anything_turns(tmp_path, boards, capsys):
    teach(boards[0], "motor.toml")
    exchange(*boards)
    for words in ((), ("--port", str(boards[0]))):
        assert wind(tmp_path, *words) == 2
        said = capsys.readouterr()
        assert "not the one that" in said.err and "motor.toml was taught with" in said.err
        assert said.err.count("\n") == 1 and "--machine" in said.err


def test_exchanged_boards_that_are_both_known_each_bring_their_file(tmp_path, boards, capsys):
    teach(boards[0], "motor.toml")
    teach(boards[1], "drill.toml")
    exchange(*boards)
    capsys.readouterr()
    assert wind(tmp_path, "--port", str(boards[1])) == 0
    assert f"machine {tmp_path / 'motor.toml'}, " in capsys.readouterr().out


def test_a_known_board_is_found_on_a_new_port_and_there_from_then_on(tmp_path, boards, capsys):
    teach(boards[0], "motor.toml")
    moved = tmp_path / "c"
    boards[0].rename(moved)
    capsys.readouterr()
    assert wind(tmp_path) == 2
    assert "none of the 1 known machines is plugged in where it was last" in capsys.readouterr().err
    assert wind(tmp_path, "--port", str(moved)) == 0
    assert known_machines()[0].port == str(moved)


def test_the_workbench_finds_it_too_and_notes_it_in_the_wind(tmp_path, boards):
    teach(boards[0], "motor.toml")
    recipe, book = short_recipe_file(tmp_path, turns=2), str(tmp_path / "book")
    run = LocalWorkbench(book).open_wind(str(recipe), str(boards[0]))
    run.close(20.0)
    with Logbook.open(book, read_only=True) as logbook:
        lines = logbook.coil(1).runs[0].lines
    notes = [line.text for line in lines if line.kind == "note"]
    assert notes[0].startswith(f"note: machine {tmp_path / 'motor.toml'}, board '")


def test_without_any_known_machine_it_says_how_to_begin(tmp_path, capsys):
    assert wind(tmp_path) == 2
    assert "no machine has been taught here yet" in capsys.readouterr().err


def test_of_two_that_are_plugged_in_a_person_names_one(tmp_path, boards, capsys):
    for port, file in zip(boards, ("motor.toml", "drill.toml"), strict=True):
        teach(port, file)
    capsys.readouterr()
    assert wind(tmp_path) == 2
    said = capsys.readouterr().err
    assert "2 ports of known machines are plugged in" in said
    assert all(f"--port {port}" in said for port in boards)


def test_on_a_terminal_it_is_asked_which_one(tmp_path, boards, monkeypatch, capsys):
    for port, file in zip(boards, ("motor.toml", "drill.toml"), strict=True):
        teach(port, file)
    monkeypatch.setattr("builtins.input", lambda prompt: "2")
    found = find_machine(None, None, choose=partial(ask_which, "machine", "Which machine?"))
    assert found.port == str(boards[1]) and found.machine == str(tmp_path / "drill.toml")
    asked = capsys.readouterr().out
    assert f"  1  {tmp_path / 'motor.toml'} on {boards[0]}" in asked
    with pytest.raises(UserMistake, match="2 ports of known machines"):
        find_machine(None, None, choose=lambda lines: None)


def test_what_is_named_overrules_what_is_known(tmp_path, boards, capsys):
    teach(boards[1], "drill.toml")
    capsys.readouterr()
    words = ("--port", str(boards[0]), "--machine", str(tmp_path / "motor.toml"))
    assert wind(tmp_path, *words) == 0
    assert "machine " not in capsys.readouterr().out.splitlines()[0]


def test_a_wrong_recipe_is_said_before_a_port_is_opened(tmp_path, boards, capsys, monkeypatch):
    teach(boards[0], "motor.toml")
    monkeypatch.setattr("serial.Serial.open", lambda self: pytest.fail("a port was opened"))
    capsys.readouterr()
    assert main(["wind", str(tmp_path / "none.toml"), *AT_ONCE]) == 2
    assert "none.toml" in capsys.readouterr().err
