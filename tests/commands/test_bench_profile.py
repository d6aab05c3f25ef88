"""``winder bench new`` and ``check FILE``: a file to begin with, and its judge."""

from __future__ import annotations

import json

import pytest

from tests.pages.machine_page import PAGE
from winder.commands.main import main
from winder.machine.model import SIMULATED_BENCH
from winder.machine.reader import read_machine


def bench(capsys, *words) -> tuple[int, str, str]:
    code = main(["bench", *map(str, words)])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_a_new_profile_is_valid_commented_and_the_simulated_benchs(capsys, tmp_path):
    path = tmp_path / 'my "bench"\\1.toml'
    code, out, err = bench(capsys, "new", path)
    assert (code, err) == (0, "") and "bench check" in out
    machine = read_machine(path)
    assert machine.name == path.stem
    assert machine.counts_per_turn == SIMULATED_BENCH.counts_per_turn
    assert sum(line.startswith("#") for line in path.read_text().splitlines()) > 20


def test_a_profile_is_never_written_over_another_file(capsys, tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text("mine")
    code, out, err = bench(capsys, "new", path)
    assert (code, out) == (2, "") and "nothing was written" in err
    assert path.read_text() == "mine"
    code, _, err = bench(capsys, "new", tmp_path / "none" / "bench.toml")
    assert code == 2 and "cannot be written here" in err


def test_a_good_profile_is_told_with_what_it_comes_to(capsys, tmp_path):
    """1500 rpm are 25 turns/s: 500 counts/s; coasting 25^2 / (2 x 700/60) = 26.8, braked 3.75 turns."""
    path = tmp_path / "bench.toml"
    bench(capsys, "new", path)
    code, out, err = bench(capsys, "check", path)
    assert (code, err) == (0, "")
    assert "20 counts per turn, 500 a second at 1500 rpm" in out
    assert "coasting 26.8 turns, braked 3.75 turns" in out
    assert "runs free for 50 mm" in out and "only the wire itself moves" in out
    assert "note:" not in out


def test_the_old_spelling_names_the_new_one(capsys):
    code, out, err = bench(capsys, "check-profile", "bench.toml")
    assert (code, out) == (2, "") and "winder bench check FILE" in err
    assert err.count("\n") == 1


def test_json_is_as_documented(capsys, tmp_path):
    path = tmp_path / "bench.toml"
    bench(capsys, "new", path)
    code, out, _ = bench(capsys, "check", path, "--json")
    told = json.loads(out)
    assert code == 0 and told["good"] and told["complaints"] == told["remarks"] == []
    assert told["counts_per_s_at_speed_max"] == 500.0
    assert told["braking_turns_from_speed_max"] == pytest.approx(3.75)
    page = PAGE.read_text()
    assert all(f"`{name}`" in page for name in told)
    path.write_text(path.read_text().replace("per_turn = 20", "per_turn = 8.57"))
    code, out, err = bench(capsys, "check", path, "--json")
    told = json.loads(out)
    (complaint,) = told["complaints"]
    assert (code, err, told["good"]) == (2, "", False)
    assert "belt" in complaint["what"] and complaint["line"] > 0
    assert all(f"`{name}`" in page for name in complaint)


def test_all_complaints_come_with_line_cause_and_remedy(capsys, tmp_path):
    path = tmp_path / "bench.toml"
    bench(capsys, "new", path)
    text = path.read_text().replace("per_turn = 20", 'per_turn = "60/7"')
    path.write_text(text.replace('"1500 rpm"', '"1500"').replace("true", '"yes"'))
    code, out, err = bench(capsys, "check", path)
    assert (code, out) == (2, "")
    lines = err.splitlines()
    assert len(lines) == 4 and all(line.startswith(f"{path}:") and "; " in line for line in lines)


REMARKS = {
    "few counts": ("per_turn = 20", "per_turn = 2", "few counts per turn:"),
    "no brake": ('braking = "5000 rpm/s"', "", "without a brake"),
    "slow motor": ('# motor_speed_max = "3000 rpm"', 'motor_speed_max = "900 rpm"', "allows 900 rpm"),
    "slow sensor": ("# edge_rate_max = 20000", "edge_rate_max = 100", "allow 300 rpm"),
    "nothing drives": ("motor = true", "motor = false", "lead the wire by hand"),
}  # fmt: skip


@pytest.mark.parametrize(("old", "new", "words"), REMARKS.values(), ids=REMARKS.keys())
def test_what_holds_a_machine_back_is_remarked(capsys, tmp_path, old, new, words):
    path = tmp_path / "bench.toml"
    bench(capsys, "new", path)
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new))
    code, out, _ = bench(capsys, "check", path)
    (line,) = [line for line in out.splitlines() if line.startswith("note: ")]
    assert code == 0 and words in line
