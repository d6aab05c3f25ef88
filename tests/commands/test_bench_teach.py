"""``winder bench teach``, ``list`` and ``new --kind``; and ``winder wind`` on the machine that was taught."""

from __future__ import annotations

import io
import json
import os
from pathlib import Path

import pytest

from winder.commands.main import main
from winder.machine.reader import read_machine
from winder.service.known_machines import remember


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


def test_a_board_without_a_turn_is_refused_and_left_without_a_wind(capsys, monkeypatch, tmp_path):
    monkeypatch.setattr("sys.stdin", io.StringIO("my bench\n20\n\n"))
    code, _, err = bench(capsys, "teach", "--port", "sim", "--machine", tmp_path / "b.toml")
    assert code == 1 and "no count came" in err and not (tmp_path / "b.toml").exists()


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
        remember(port, "winding", tmp_path / "here.toml")
        remember("/dev/serial/by-id/usb-gone", "counting", tmp_path / "gone.toml")
        monkeypatch.setattr(
            "serial.Serial.open", lambda self: pytest.fail("a port was opened"), raising=True
        )
        _, out, _ = bench(capsys, "list")
        assert f"here.toml: board 'winding' on {port}, plugged in" in out
        assert "gone.toml: board 'counting' on /dev/serial/by-id/usb-gone, not here" in out
        told = json.loads(bench(capsys, "list", "--json")[1])
        assert [one["plugged_in"] for one in told["machines"]] == [True, False]
    finally:
        os.close(master)
        os.close(other)


def test_a_wind_without_a_port_goes_to_the_machine_that_was_taught(capsys, tmp_path):
    recipe = ["wind", "kalimba", "--plain", "--start", "--top", "operator", "--tension", "12 cN"]
    assert main(recipe) == 2
    assert "no machine has been taught here yet" in capsys.readouterr().err
    master, other = os.openpty()
    try:
        port = os.ttyname(other)
        file = tmp_path / "taught.toml"
        main(["bench", "new", str(file), "--kind", "drill"])
        remember(port, "counting", file)
        capsys.readouterr()
        main(recipe)  # nobody answers there; but it was found, and named first
        said = capsys.readouterr()
        assert f"machine {file}, board 'counting' on {port}" in said.out
    finally:
        os.close(master)
        os.close(other)


def test_what_is_named_overrules_what_is_known(capsys, monkeypatch, tmp_path):
    from winder.commands.wind import _port_and_machine

    master, other = os.openpty()
    try:
        port = os.ttyname(other)
        remember(port, "winding", Path("/taught.toml"))

        class Named:
            def __init__(self, port, machine):
                self.port, self.machine = port, machine

        assert _port_and_machine(Named(None, None)) == (port, "/taught.toml")
        assert _port_and_machine(Named(port, None)) == (port, "/taught.toml")
        assert _port_and_machine(Named(None, "mine.toml")) == (port, "mine.toml")
        assert _port_and_machine(Named("sim", None)) == ("sim", None)
        assert _port_and_machine(Named("sim", "mine.toml")) == ("sim", "mine.toml")
    finally:
        os.close(master)
        os.close(other)
