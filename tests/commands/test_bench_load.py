"""``winder bench load``: what is said before anything is written, and every way that it ends badly."""

from __future__ import annotations

import io
import os

import pytest

from winder.commands.main import main
from winder.links.port_lock import PortLock
from winder.links.ports import names_of

# A stand-in for the tool: it notes how it was called and does what its variable says.
TOOL = """#!/bin/sh
echo "$@" >> "$TOLD"
case "$DOES" in
absent) echo 'avrdude: stk500_getsync(): attempt 10 of 10: not in sync: resp=0x00'; exit 1;;
half) echo 'avrdude: writing flash (8404 bytes):'; echo 'avrdude error: verification error'; exit 1;;
gone) rm "$PORT_LINK"; echo 'avrdude error: unable to read'; exit 1;;
old) case "$*" in *57600*) exit 0;; *) echo 'not in sync'; exit 1;; esac;;
esac
exit 0
"""


@pytest.fixture
def port(tmp_path, monkeypatch):
    """A pseudo-terminal with nobody behind it, and a tool that writes down what it is asked."""
    master, other = os.openpty()
    tool = tmp_path / "bin" / "avrdude"
    tool.parent.mkdir()
    tool.write_text(TOOL)
    tool.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tool.parent}{os.pathsep}/usr/bin{os.pathsep}/bin")
    monkeypatch.setenv("TOLD", str(tmp_path / "told"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    yield os.ttyname(other)
    os.close(master)
    os.close(other)


def load(capsys, *words):
    code = main(["bench", "load", *words])
    said = capsys.readouterr()
    return code, said.out, said.err


def told(tmp_path) -> list[str]:
    path = tmp_path / "told"
    return path.read_text().splitlines() if path.exists() else []


def test_it_says_what_it_will_do_and_a_no_writes_nothing(capsys, monkeypatch, tmp_path, port):
    monkeypatch.setattr("sys.stdin", io.StringIO("no\n"))
    code, out, err = load(capsys, "--port", port, "--board", "winding")
    assert code == 1 and err == ""
    assert "drives a motor" in out and "Disconnect the motor's supply first" in out
    assert "Nothing was loaded." in out and told(tmp_path) == []


def test_no_answer_at_both_speeds_writes_nothing_and_says_so(capsys, monkeypatch, tmp_path, port):
    monkeypatch.setenv("DOES", "absent")
    code, _, err = load(capsys, "--port", port, "--board", "counting", "--yes")
    assert code == 1 and "no boot loader answered at 115200 or 57600" in err
    assert "nothing was written" in err and err.count("\n") == 1
    assert [("-b 115200" in line, "-b 57600" in line) for line in told(tmp_path)] == [
        (True, False),
        (False, True),
    ]
    assert all("-D" in line and "counting.hex" in line for line in told(tmp_path))


def test_a_load_that_breaks_off_is_not_tried_at_another_speed(capsys, monkeypatch, tmp_path, port):
    monkeypatch.setenv("DOES", "half")
    code, _, err = load(capsys, "--port", port, "--board", "counting", "--yes")
    assert code == 1 and "may hold half a program" in err and "load it again" in err
    assert len(told(tmp_path)) == 1


def test_a_port_that_goes_away_is_said_and_not_tried_again(capsys, monkeypatch, tmp_path, port):
    link = tmp_path / "port"
    link.symlink_to(port)
    monkeypatch.setenv("DOES", "gone")
    monkeypatch.setenv("PORT_LINK", str(link))
    code, _, err = load(capsys, "--port", str(link), "--board", "counting", "--yes")
    assert code == 1 and "the port went away; nothing was written" in err and err.count("\n") == 1
    assert len(told(tmp_path)) == 1


def test_a_board_that_is_loaded_and_then_silent_is_not_called_good(capsys, monkeypatch, port):
    monkeypatch.setenv("DOES", "old")
    code, out, err = load(capsys, "--port", port, "--board", "counting", "--yes")
    assert code == 1 and "at 57600 baud" in out
    assert "the firmware is loaded, but the board does not answer" in err


def test_without_the_tool_the_one_command_is_printed(capsys, monkeypatch, tmp_path, port):
    monkeypatch.setenv("PATH", str(tmp_path))
    code, _, err = load(capsys, "--port", port, "--board", "winding", "--yes")
    assert code == 1 and "avrdude is not installed" in err
    assert f"avrdude -p atmega328p -c arduino -P {port} -b 115200 -D -U flash:w:" in err


def test_a_port_in_use_is_left_alone(capsys, tmp_path, port):
    lock = PortLock()
    lock.take(names_of(port))
    try:
        code, _, err = load(capsys, "--port", port, "--board", "winding", "--yes")
    finally:
        lock.release()
    assert code == 1 and "is in use by" in err and told(tmp_path) == []


@pytest.mark.parametrize(
    ("port_name", "board", "said"),
    [
        ("sim", "winding", "has no chip to load"),
        ("socket://localhost:7000", "winding", "has no chip to load"),
        ("/dev/none", "winding", "does not exist"),
        ("/dev/null", "sewing", "there is no firmware called 'sewing'"),
    ],
)
def test_what_cannot_be_loaded_is_one_clear_error(capsys, port_name, board, said):
    code, out, err = load(capsys, "--port", port_name, "--board", board, "--yes")
    assert (code, out) == (2, "") and said in err and err.count("\n") == 1
