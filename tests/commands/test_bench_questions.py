"""The bench's facts are asked once, in one breath, and kept in the machine file with every other line as it was."""

from __future__ import annotations

import io
import sys

import pytest

from winder.commands.bench_questions import ask_bench, purposes_of, wants_instruments
from winder.commands.main import main
from winder.errors import UserMistake
from winder.machine.asking import QUESTIONS, Purpose
from winder.machine.instruments import Instruments
from winder.machine.reader import read_machine
from winder.recipe.observations import BuildCaliper, SpoolTail
from winder.recipe.samples import example_recipes

PLAIN = """# mine
name = "my bench"

[sensor]
counts_per_turn = 20   # slotted wheel
senses_direction = true

[spindle]
speed_max = "1500 rpm"
acceleration = "600 rpm/s"
coasting = "700 rpm/s"
"""
ALL = (Purpose.WINDING, Purpose.OHMS)


class Person:
    """Types these words, then nothing more."""

    def __init__(self, *words: str) -> None:
        self.words, self.asked, self.heard = list(words), [], []

    def read(self, prompt: str) -> str:
        self.asked.append(prompt)
        if not self.words:
            raise EOFError
        return self.words.pop(0)


def asked(tmp_path, *words, purposes=ALL, text=PLAIN):
    path = tmp_path / "bench.toml"
    if not path.exists():
        path.write_text(text)
    person = Person(*words)
    ask_bench(str(path), purposes, person.read, person.heard.append)
    return person, path


def test_enter_takes_the_usual_values_and_nothing_is_asked_again(tmp_path):
    person, path = asked(tmp_path, *[""] * 6)
    machine = read_machine(path)
    assert machine.tensioner == "felt or fingers"
    assert machine.instruments == Instruments(leads_ohm=0.2)
    assert "counts_per_turn = 20   # slotted wheel" in path.read_text()
    assert len(person.asked) == 6 and "[1]" in person.asked[0] and "6 things" in person.heard[0]
    again, _ = asked(tmp_path)
    assert again.asked == again.heard == []


def test_keys_and_values_are_taken_alike(tmp_path):
    _, path = asked(tmp_path, "3", "6000", "1", "2", "0.15 ohm", "1 K")
    machine = read_machine(path)
    assert machine.tensioner == "arm or dancer"
    assert machine.instruments == Instruments(6000, 0.005, 2, 0.15, 1.0)


def test_what_is_no_answer_is_asked_again_with_the_remedy(tmp_path):
    person, path = asked(tmp_path, "9", "string", "2", purposes=(Purpose.WINDING,))
    assert read_machine(path).tensioner == "small roller"
    assert len(person.asked) == 3 and all("felt or fingers" in each for each in person.heard[1:])


def test_who_leaves_keeps_what_was_said_and_is_asked_the_rest_next_time(tmp_path):
    person, path = asked(tmp_path, "4", "4000")
    assert "no more questions" in person.heard[-1]
    machine = read_machine(path)
    assert machine.tensioner == "turning spool" and machine.instruments.counts == 4000
    assert "instruments.leads" not in machine.told
    assert len(asked(tmp_path)[0].asked) == 1


def test_after_so_many_wrong_answers_the_usual_value_is_taken_this_once(tmp_path):
    person, path = asked(tmp_path, *["x"] * 5, purposes=(Purpose.WINDING,))
    assert len(person.asked) == 5 and read_machine(path).tensioner is None


def test_a_file_that_cannot_be_written_is_one_clear_mistake(tmp_path, monkeypatch):
    def refuses(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("winder.files.whole_file.os.replace", refuses)
    with pytest.raises(UserMistake, match="cannot be saved: Permission denied"):
        asked(tmp_path, "1")
    assert (tmp_path / "bench.toml").read_text() == PLAIN
    assert [each.name for each in tmp_path.iterdir()] == ["bench.toml"]


def test_only_what_a_wind_needs_is_asked():
    tail, build = SpoolTail(20.0, 108.0), BuildCaliper(100.0, 1e-3)
    assert wants_instruments(None, []) == (False, False)
    assert wants_instruments(None, [tail]) == (True, False)
    assert wants_instruments(None, [build]) == (False, True)
    assert wants_instruments("no such file", [tail]) == (False, False)
    examples = dict(example_recipes())
    assert wants_instruments(str(examples["kalimba"]), []) == (True, False), "it pauses to measure"
    assert wants_instruments(str(examples["sensor"]), []) == (True, False), "it asks for ohms"
    assert purposes_of(False, False) == (Purpose.WINDING,)
    assert purposes_of(True, True) == (Purpose.WINDING, Purpose.OHMS, Purpose.CALIPER)


def test_the_workbench_asks_in_one_breath_before_its_first_screen(tmp_path, monkeypatch, capsys):
    path = tmp_path / "bench.toml"
    path.write_text(PLAIN)

    def screen(bench, calling):
        assert bench.machine().tensioner == "felt or fingers", "asked before"
        return 0

    typed = io.StringIO("\n" * len(QUESTIONS))
    monkeypatch.setattr("sys.stdin", typed)
    for stream in (typed, sys.stdout):
        monkeypatch.setattr(stream, "isatty", lambda: True, raising=False)
    monkeypatch.setattr("winder.screens.run_workbench", screen)
    assert main(["--machine", str(path)]) == 0
    assert "lacks 7 things about your bench" in capsys.readouterr().out and typed.read() == ""
    assert main(["--machine", str(path)]) == 0
    assert capsys.readouterr().out == "", "nothing is asked twice"


def test_a_machine_that_was_taught_is_asked_what_brakes_its_wire(tmp_path, monkeypatch):
    path = tmp_path / "bench.toml"

    def taught(wish, person):
        wish.file.write_text(PLAIN)
        return "written"

    monkeypatch.setattr("winder.service.teaching.at_port.teach_at", taught)
    monkeypatch.setattr("sys.stdin", io.StringIO("2\n"))
    assert main(["bench", "teach", "--port", "sim", "--machine", str(path)]) == 0
    assert read_machine(path).tensioner == "small roller"
