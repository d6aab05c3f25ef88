"""``winder bench teach``, ``list`` and ``new --kind``; and ``winder wind`` on the machine that was taught."""

from __future__ import annotations

import io
import json
import os

import pytest

from winder.commands.main import main
from winder.machine.reader import read_machine
from winder.service.known_machines import Known, remember


@pytest.fixture(autouse=True)
def own_data_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return tmp_path / "data" / "exact-turns"


def bench(capsys, *words) -> tuple[int, str, str]:
    code = main(["bench", *map(str, words)])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_leaving_writes_nothing(capsys, monkeypatch, tmp_path):
    file = tmp_path / "bench.toml"
    monkeypatch.setattr("sys.stdin", io.StringIO("my bench\nleave\n"))
    code, out, err = bench(capsys, "teach", "--port", "sim", "--machine", file)
    assert code == 1 and "you left the lesson" in err and not file.exists()
    assert "not an emergency stop" in out.replace("\n", " ")


def test_the_end_of_input_is_a_leave(capsys, monkeypatch, tmp_path):
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    code, _, err = bench(capsys, "teach", "--port", "sim", "--machine", tmp_path / "b.toml")
    assert code == 1 and "left" in err


def test_a_file_that_is_there_is_not_written_over_and_no_port_is_opened(capsys, tmp_path):
    file = tmp_path / "bench.toml"
    file.write_text("mine")
    code, out, err = bench(capsys, "teach", "--port", "/dev/none", "--machine", file)
    assert (
        (code, out) == (2, "")
        and "already exists and is not overwritten" in err
        and file.read_text() == "mine"
    )


def lines(*answers: str) -> io.StringIO:
    return io.StringIO("".join(f"{answer}\n" for answer in answers))


def test_the_simulated_bench_is_taught_by_lines_with_hands_that_are_lent(
    capsys, monkeypatch, tmp_path
):
    file = tmp_path / "b.toml"
    by_hand = ["my bench", "20", "", "", "", "", "", ""]  # ten turns twice, guard, wire
    runs = ["y", "y", "y", "", "y", "", "y", ""]  # slow start, speed, steady, three speeds
    guide = ["", "y", "20", "50", "30", "", "", ""]  # 20 mm, its travel, no bobbin
    monkeypatch.setattr("sys.stdin", lines(*by_hand, *runs, *guide, "y", "y", "y"))
    code, out, err = bench(capsys, "teach", "--port", "sim", "--machine", file, "--plain")
    assert code == 0, (out, err)
    machine = read_machine(file)
    assert machine.counts_per_turn == 20 and machine.steady_rpm is not None
    assert machine.traverse_travel_m == pytest.approx(0.1)
    for step in ("Name", "Guard", "Three speeds", "The board's settings", "25 turns"):
        assert f"\n{step}\n" in out
    assert "Keep this? (Enter keeps it, again measures" in out


@pytest.mark.parametrize("kind", ["drill", "motor", "guide"])
def test_a_new_file_of_each_kind_is_valid_as_it_stands(capsys, tmp_path, kind):
    file = tmp_path / f"{kind}.toml"
    assert bench(capsys, "new", file, "--kind", kind)[0] == 0
    machine = read_machine(file)
    assert machine.motor is (kind != "drill")
    assert (machine.traverse_travel_m is not None) is (kind == "guide")
    assert bench(capsys, "check", file)[0] == 0


def test_a_drills_file_has_at_most_six_lines_that_matter(capsys, tmp_path):
    file = tmp_path / "drill.toml"
    bench(capsys, "new", file, "--kind", "drill")
    matter = [line for line in file.read_text().splitlines() if line and line[0] not in "#["]
    assert len(matter) <= 6, matter
    assert not any("coasting" in line or "acceleration" in line for line in matter)


def test_a_motors_file_still_needs_what_its_count_rests_on(capsys, tmp_path):
    file = tmp_path / "bench.toml"
    file.write_text(
        'name = "x"\n[sensor]\ncounts_per_turn = 4\nsenses_direction = true\n[spindle]\nmotor = true\n'
    )
    code, _, err = bench(capsys, "check", file)
    assert code == 2
    for key in ("speed_max", "acceleration", "coasting"):
        assert f"spindle.{key}" in err


def test_the_list_shows_what_is_known_and_opens_nothing(capsys, monkeypatch, tmp_path):
    code, out, _ = bench(capsys, "list")
    assert code == 0 and "No machine has been taught here yet" in out
    master, other = os.openpty()
    try:
        port = os.ttyname(other)
        remember(Known(port, "winding", "/here.toml", 0x1A2B))
        remember(Known("/dev/serial/by-id/usb-gone", "counting", "/gone.toml"))
        monkeypatch.setattr(
            "serial.Serial.open", lambda self: pytest.fail("a port was opened"), raising=True
        )
        _, out, _ = bench(capsys, "list")
        assert f"/here.toml: board 'winding', number 00001a2b, on {port}, plugged in\n" in out
        gone = "board 'counting', which has no number, on /dev/serial/by-id/usb-gone, not here"
        assert f"/gone.toml: {gone}\n" in out
        told = json.loads(bench(capsys, "list", "--json")[1])["machines"]
        assert [(one["plugged_in"], one["number"]) for one in told] == [
            (True, "00001a2b"),
            (False, None),
        ]
        remember(Known(port, "winding", "/too.toml", 0x1A2C))
        _, out, _ = bench(capsys, "list")
        assert out.count("plugged in, this board or another that was seen there") == 2
    finally:
        os.close(master)
        os.close(other)
