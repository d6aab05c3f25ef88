"""``winder bench check --port``: a board judged clause by clause, and what a person sees of it."""

from __future__ import annotations

import io
import json

import pytest

from winder.commands.main import main


def check(capsys, *words) -> tuple[int, str, str]:
    code = main(["bench", "check", *words])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_the_simulated_bench_keeps_every_clause(capsys):
    code, out, _ = check(capsys, "--port", "sim", "--may-move", "--yes", "--json")
    told = json.loads(out)
    outcomes = {each["clause"]: (each["outcome"], each["why"]) for each in told["clauses"]}
    assert code == 0 and told["good"]
    assert {n: o for n, o in outcomes.items() if o[0] != "passed"} == {}


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
