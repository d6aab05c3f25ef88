"""``winder bench check --port``: a board judged clause by clause, and what a person sees of it."""

from __future__ import annotations

import io
import json

import pytest

from winder.clock import HandClock
from winder.commands.bench_check import SIMULATED_HANDS
from winder.commands.main import main
from winder.links.simulated_link import SimulatedLink
from winder.service import bench_port
from winder.service.bench_port import BenchPort
from winder.simulator.build import Build
from winder.simulator.machine import SimulatedMachine


def check(capsys, *words) -> tuple[int, str, str]:
    code = main(["bench", "check", *words])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_the_simulated_bench_keeps_every_clause(capsys):
    code, out, _ = check(capsys, "--port", "sim", "--may-move", "--yes", "--json")
    told = json.loads(out)
    outcomes = {each["clause"]: (each["outcome"], each["why"]) for each in told["clauses"]}
    assert code == 0 and told["good"]
    other = {n: o for n, o in outcomes.items() if o[0] != "passed"}
    assert {o for n, o in other.items() if not n.startswith(("22.", "23."))} == set()
    assert {why for _, why in other.values()} <= {
        "the board has no PEDAL",  # its machine file has none
        "no stop switch is wired to this board",
        "no limit switch is wired to this board",
    }


def test_without_leave_nothing_moves_and_it_says_how_to_give_it(capsys):
    code, out, _ = check(capsys, "--port", "sim", "--section", "6")
    assert code == 0
    assert "6.1  passed" in out and "6.3  not tested" in out
    assert "--may-move tests what moves" in out


def test_each_movement_is_announced_and_a_no_is_kept(capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("no\nyes\n\n"))
    code, out, _ = check(capsys, "--port", "sim", "--may-move", "--section", "6")
    assert code == 0
    assert out.count("This moves the spindle, slowly forward") == 3
    assert "not an\nemergency stop" in out
    assert out.count("you did not agree to it") == 2
    assert "6.4  passed" in out


def test_without_hands_the_machine_is_only_watched_at_rest(capsys):
    code, out, _ = check(capsys, "--port", "sim")
    assert code == 0 and "rest  passed      Nothing is counted while nothing turns." in out
    assert "sensor  not tested" in out and "it takes your hands" in out
    assert "--by-hand also checks sensor, guard, wire, pedal and stop switch." in out


def test_by_hand_each_deed_is_asked_for_and_what_was_seen_is_said(capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("\n" * 6))
    code, out, _ = check(capsys, "--port", "sim", "--by-hand")
    assert code == 0 and "Switch the motor's power off" in out
    assert out.count("Press Enter, then do it; or type skip:") == 6
    assert "both channels are seen: 100 edges in 5 turns" in out
    machine = out[out.index("The machine:") :]
    assert machine.count("  passed  ") == 6 and "At the machine" not in machine


def test_pedal_and_stop_switch_are_asked_for_in_plain_words(capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("\n" * 10))
    bench = SimulatedMachine(Build(pedal=True), 1)
    clock = HandClock()
    at = BenchPort(SimulatedLink(bench, clock), clock, lambda: SimulatedLink(bench, clock), bench)
    monkeypatch.setattr(bench_port, "open_bench_port", lambda *_, **__: at)
    code, out, _ = check(capsys, "--port", "sim", "--by-hand", "--section", "2")
    assert code == 0, out
    for words in (
        "Now press the foot pedal and keep your foot on it.",
        "Now take your foot off the pedal.",
        "Now press the stop switch.",
        "Now pull the stop switch out again.",
    ):
        assert words in out
    machine = out[out.index("The machine:") :]
    assert machine.count("  passed  ") == 8


def test_what_the_machine_fails_is_exit_1_also_in_json(capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("\nskip\nskip\nskip\n"))
    monkeypatch.setitem(SIMULATED_HANDS, "CLOCKWISE", "nobody turns")
    code, out, err = check(capsys, "--port", "sim", "--by-hand", "--json")
    told = json.loads(out)
    looks = {each["look"]: (each["outcome"], each["found"]) for each in told["machine"]}
    assert code == 1 and told["good"] is False
    assert looks["sensor"][0] == "failed" and "no edge came" in looks["sensor"][1]
    assert looks["guard"] == looks["wire"] == ("not tested", "you left it out")
    assert "Now turn the spindle 5 whole turns by hand" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "name a machine file, or a port"),
        (("bench.toml", "--port", "sim"), "not both"),
        (("--port", "sim", "--section", "99"), "no clause is in section 99"),
        (("--port", "/dev/none"), "does not exist"),
        (("--port", "COM3"), "Windows"),
    ],
)
def test_what_cannot_be_asked_is_one_clear_error(capsys, words, said):
    code, out, err = check(capsys, *words)
    assert (code, out) == (2, "") and said in err
    assert err.count("\n") == 1
