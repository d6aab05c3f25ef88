"""``winder bench load --board rp2040``: a folder that holds INFO_UF2.TXT stands for the board's drive."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from firmware_protocol.images import IMAGES
from firmware_protocol.images.uf2 import program_of
from winder.clock import HandClock
from winder.commands.main import main
from winder.errors import WinderError
from winder.links.ports import PortFound
from winder.service import loading_drive
from winder.service.loading_drive import drives_found, port_that_came

# What an RP2040's boot ROM writes there (from memory).
INFO = "UF2 Bootloader v3.0\r\nModel: Raspberry Pi RP2\r\nBoard-ID: RPI-RP2\r\n"
IMAGE = IMAGES["rp2040"]


@pytest.fixture
def drive(tmp_path, monkeypatch):
    """A drive; no other one is here, and no port."""
    folder = tmp_path / "a drive"
    folder.mkdir()
    (folder / "INFO_UF2.TXT").write_text(INFO)
    monkeypatch.setattr(loading_drive, "MOUNTS", tmp_path / "none")
    monkeypatch.setattr(loading_drive, "drives_found", list)
    monkeypatch.setattr(loading_drive, "ports_found", list)
    return folder


def load(capsys, *words):
    code = main(["bench", "load", "--board", "rp2040", *words])
    said = capsys.readouterr()
    return code, said.out, said.err


def copied(drive: Path) -> list[str]:
    return sorted(path.name for path in drive.iterdir() if path.name != "INFO_UF2.TXT")


def test_without_a_drive_it_says_how_to_bring_one(capsys, drive):
    code, out, err = load(capsys)
    assert (code, err) == (1, "")
    assert out.index("Disconnect the motor's supply") < out.index("BOOTSEL")
    assert "--drive FOLDER" in out and "No such drive is here now." in out


def test_a_drive_that_is_here_is_named_as_a_shell_wants_it(capsys, drive, monkeypatch):
    monkeypatch.setattr(loading_drive, "drives_found", lambda: [drive])
    _, out, _ = load(capsys)
    assert f"--drive '{drive}'" in out and f"here now: {drive}" in out


def test_a_no_copies_nothing(capsys, monkeypatch, drive):
    monkeypatch.setattr("sys.stdin", io.StringIO("no\n"))
    code, out, err = load(capsys, "--drive", str(drive))
    assert (code, err) == (1, "")
    assert "drives a motor" in out and "Disconnect the motor's supply first" in out
    assert "Nothing was loaded." in out and copied(drive) == []


def test_a_yes_copies_the_image_and_the_board_that_comes_is_greeted(
    capsys, monkeypatch, tmp_path, drive
):
    words = [sys.executable, "-u", "-m", "winder", "bench", "simulate"]
    board = subprocess.Popen(words, stdout=subprocess.PIPE, text=True, cwd=tmp_path)
    try:
        assert board.stdout is not None
        port = next(word for word in board.stdout.readline().split() if word.startswith("/dev/"))
        monkeypatch.setattr(
            loading_drive,
            "ports_found",
            lambda: [PortFound(port, "", "")] if copied(drive) else [],
        )
        monkeypatch.setattr(loading_drive.port_that_came, "__defaults__", (30.0,))
        monkeypatch.setattr("sys.stdin", io.StringIO("yes\n"))
        code, out, err = load(capsys, "--drive", str(drive))
    finally:
        board.terminate()
        board.communicate(timeout=20)
    assert (code, err) == (0, ""), out + err
    assert copied(drive) == ["rp2040.uf2"]
    assert (drive / "rp2040.uf2").read_bytes() == IMAGE.path.read_bytes()
    assert f"{len(program_of(IMAGE.path.read_bytes()))} bytes" in out
    assert "It answers as" in out and f"winder bench check --port {port}" in out


def test_no_port_that_comes_is_not_called_good(drive):
    with pytest.raises(WinderError, match="no port came within 5 s"):
        port_that_came(set(), HandClock(), 5.0)


def test_two_ports_that_come_are_not_guessed_between(monkeypatch, drive):
    two = [PortFound("/dev/ttyACM0", "", ""), PortFound("/dev/ttyACM1", "", "")]
    monkeypatch.setattr(loading_drive, "ports_found", lambda: two)
    with pytest.raises(WinderError, match="more than one port came"):
        port_that_came(set(), HandClock())
    assert port_that_came({"/dev/ttyACM0"}, HandClock()) == "/dev/ttyACM1"


def test_a_drive_that_is_full_is_one_clear_error(capsys, monkeypatch, drive):
    def full(_descriptor: int) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "fsync", full)
    code, _, err = load(capsys, "--drive", str(drive), "--yes")
    assert code == 1 and "did not take the program" in err and "load it again" in err
    assert err.count("\n") == 1


def test_a_drive_that_goes_away_behind_the_last_block_is_no_error_yet(monkeypatch, drive):
    def gone(_descriptor: int) -> None:
        (drive / "INFO_UF2.TXT").unlink()
        raise OSError(5, os.strerror(5))

    monkeypatch.setattr(os, "fsync", gone)
    loading_drive.copy_onto(loading_drive.Copy(IMAGE, drive))


@pytest.mark.parametrize(
    ("info", "said"),
    [
        (None, "is not the drive of a board that waits for its program"),
        ("Board-ID: RP2350\n", "is another chip's drive"),
        ("nothing\n", "says 'nothing of a board'"),
    ],
)
def test_a_folder_that_is_no_such_drive_is_left_alone(capsys, drive, info, said):
    (drive / "INFO_UF2.TXT").unlink()
    if info is not None:
        (drive / "INFO_UF2.TXT").write_text(info)
    code, out, err = load(capsys, "--drive", str(drive), "--yes")
    assert (code, out) == (2, "") and said in err and err.count("\n") == 1
    assert copied(drive) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ["--board", "rp2040", "--port", "/dev/null"],
            "loaded through a drive, not through a port",
        ),
        (["--board", "winding", "--drive", "/"], "loaded through a port, not through a drive"),
        (["--board", "winding"], "no port was named"),
        (["--board", "rp2040", "--drive", "/does/not/exist"], "is no folder"),
    ],
)
def test_the_wrong_way_to_a_board_is_one_clear_error(capsys, words, said):
    assert main(["bench", "load", *words, "--yes"]) == 2
    told = capsys.readouterr()
    assert said in told.err and told.err.count("\n") == 1 and told.out == ""


def test_drives_are_found_among_what_is_mounted(tmp_path):
    folder = tmp_path / "RPI RP2"
    folder.mkdir()
    (folder / "INFO_UF2.TXT").write_text(INFO)
    mounts = tmp_path / "mounts"
    escaped = str(folder).replace(" ", "\\040")
    mounts.write_text(
        f"/dev/sdb1 {escaped} vfat rw 0 0\n/dev/sda1 {tmp_path} ext4 rw 0 0\nbroken\n"
        "/dev/sdc1 /does/not/exist vfat rw 0 0\n"
    )
    assert drives_found(mounts) == [folder]
    assert drives_found(tmp_path / "none") == []


def test_the_list_shows_a_board_that_waits(capsys, monkeypatch, drive):
    monkeypatch.setattr(loading_drive, "drives_found", lambda: [drive])
    assert main(["bench", "list"]) == 0
    out = capsys.readouterr().out
    assert (
        f"a board waits for its firmware: winder bench load --board rp2040 --drive '{drive}'" in out
    )
