"""Serial ports: opening them, what is said when that fails, and losing them."""

from __future__ import annotations

import errno
import grp
import os
import re
import signal
import socket
import threading
import tty
from pathlib import Path
from typing import ClassVar

import pytest
import serial

import winder
from firmware_protocol.seam import LinkLost
from winder.errors import UserMistake, WinderError
from winder.links import opening, serial_link
from winder.links.ports import PortFound, ports_found
from winder.links.serial_link import BAUD, BAUD_FALLBACK, SerialLink, open_serial

ROOT = Path(winder.__file__).parent.parent


def refusal(port: str, folder: Path) -> WinderError:
    with pytest.raises(WinderError) as refused:
        open_serial(port, lock_folder=folder)
    return refused.value


# --- what cannot be opened ---------------------------------------------------------------------


@pytest.fixture
def two_ports(monkeypatch: pytest.MonkeyPatch) -> None:
    found = [
        PortFound("/dev/ttyACM0", "/dev/serial/by-id/usb-board", "board"),
        PortFound("/dev/ttyS0", "", "n/a"),
    ]
    monkeypatch.setattr(opening, "ports_found", lambda: found)


def test_a_port_that_is_not_there_is_answered_with_those_that_are(two_ports, lock_folder):
    error = refusal("/dev/ttyACM9", lock_folder)
    assert isinstance(error, UserMistake)
    assert str(error) == (
        "/dev/ttyACM9: does not exist; "
        "here now: /dev/serial/by-id/usb-board (/dev/ttyACM0), /dev/ttyS0"
    )


def test_where_no_port_is_the_remedy_says_so(monkeypatch, lock_folder):
    monkeypatch.setattr(opening, "ports_found", list)
    assert "plug the board in" in refusal("/dev/ttyACM9", lock_folder).remedy


@pytest.mark.parametrize(
    ("port", "words"),
    [
        ("", "no port was named"),
        ("/dev", "is a folder, not a serial port"),
        (__file__, "is a file, not a serial port"),
        (f"{__file__}/deeper", "does not exist"),
        ("/dev/null", "is not a serial port"),
        ("zero\0byte", "no zero byte"),
        ("n" * 5000, "could not be opened"),
        ("nonsense://x", "not a known kind of address"),
        ("socket://host", "not a complete address"),
        ("socket://:7000", "not a complete address"),
        ("socket://host:port", "not a complete address"),
        ("socket://host:99999", "not a complete address"),
    ],
)
def test_what_is_no_serial_port_is_told_without_a_traceback(port, words, lock_folder):
    error = refusal(port, lock_folder)
    assert words in error.what
    assert error.where
    assert error.remedy


def test_an_address_where_nobody_answers_is_trouble_and_no_mistake(lock_folder):
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = f"socket://127.0.0.1:{listener.getsockname()[1]}"
    error = refusal(port, lock_folder)
    assert not isinstance(error, UserMistake)
    assert (error.where, error.exit_code) == (port, 1)
    assert "is running" in error.remedy


def test_a_missing_right_names_the_group_of_the_device_file(tmp_path, monkeypatch):
    device = tmp_path / "device"
    device.touch()
    records = {os.stat(device).st_gid: type("Group", (), {"gr_name": "dialout"})}
    monkeypatch.setattr(grp, "getgrgid", records.__getitem__)
    error = opening.opening_trouble(str(device), OSError(errno.EACCES, "Permission denied"))
    assert error.what == "you may not use this port"
    assert "belongs to the group dialout: run 'sudo usermod -aG dialout $USER'" in error.remedy


def test_a_port_of_another_users_is_told_as_such(pty, tmp_path):
    """For real: a process without the right tries to open the port."""
    os.chmod(pty.path, 0o000)
    said, says = os.pipe()
    child = os.fork()
    if child == 0:  # root may open anything, so be somebody else
        signal.alarm(30)  # so that whoever waits for it waits no longer
        if os.getuid() == 0:
            os.setgid(65534)
            os.setuid(65534)
        try:
            serial.serial_for_url(pty.path)
            text = "opened"
        except serial.SerialException as error:
            text = str(opening.opening_trouble(pty.path, error))
        os.write(says, text.encode())
        os._exit(0)
    os.close(says)
    with os.fdopen(said) as pipe:
        text = pipe.read()
    os.waitpid(child, 0)
    assert text.startswith(f"{pty.path}: you may not use this port; it belongs to the group ")


@pytest.mark.parametrize("baud", [1200, 300, 0, -1])
def test_slow_speeds_are_refused_before_anything_is_opened(pty, baud, lock_folder):
    with pytest.raises(UserMistake, match="erase themselves"):
        open_serial(pty.path, baud, lock_folder=lock_folder)
    with pytest.raises(UserMistake, match="erase themselves"):
        open_serial(pty.path, fallback_baud=1200, lock_folder=lock_folder)


# --- speed, DTR and what was there before --------------------------------------------------------


class StubbornPort(serial.Serial):
    """A port whose driver cannot do the exact speed."""

    opened_at: ClassVar[list[int]] = []

    def _reconfigure_port(self, force_update: bool = False) -> None:
        type(self).opened_at.append(self._baudrate)
        if self._baudrate == BAUD:
            raise ValueError("Failed to set custom baud rate (500000): [Errno 22]")
        super()._reconfigure_port(force_update)


@pytest.fixture
def stubborn(monkeypatch: pytest.MonkeyPatch) -> type[StubbornPort]:
    def unopened(port: str, **options: object) -> serial.Serial:
        options.pop("do_not_open")
        made = StubbornPort(**options)
        made.port = port
        return made

    StubbornPort.opened_at = []
    monkeypatch.setattr(serial_link.serial, "serial_for_url", unopened)
    return StubbornPort


def test_a_port_that_refuses_the_exact_speed_is_opened_at_the_fallback(pty, stubborn, lock_folder):
    link = open_serial(pty.path, lock_folder=lock_folder)
    assert link.baud == BAUD_FALLBACK == 115_200
    assert stubborn.opened_at[0] == BAUD == 500_000
    assert min(stubborn.opened_at) >= 9600
    link.close()


def test_without_a_fallback_a_refused_speed_is_told(pty, stubborn, lock_folder):
    with pytest.raises(WinderError, match="500000"):
        open_serial(pty.path, fallback_baud=None, lock_folder=lock_folder)


def test_dtr_is_never_held_low(pty, monkeypatch, lock_folder):
    states = []
    monkeypatch.setattr(
        serial.Serial, "_update_dtr_state", lambda self: states.append(self._dtr_state)
    )
    link = open_serial(pty.path, lock_folder=lock_folder)
    link.close()
    assert states == [True]


def test_what_came_before_the_opening_is_dropped(pty, lock_folder):
    os.write(pty.master, b"of another session")
    link = open_serial(pty.path, lock_folder=lock_folder)
    os.write(pty.master, b"new")
    assert link.read(1.0) == b"new"
    link.close()


# --- losing it -----------------------------------------------------------------------------------


def test_a_hang_up_is_a_lost_link_for_reading_and_for_writing(pty, lock_folder):
    for call in (lambda link: link.read(1.0), lambda link: link.write(b"x" * 100_000)):
        master, other_end = os.openpty()
        tty.setraw(other_end)
        link = open_serial(os.ttyname(other_end), lock_folder=lock_folder)
        os.close(other_end)
        os.close(master)
        with pytest.raises(LinkLost) as lost:
            call(link)
        with pytest.raises(LinkLost, match=re.escape(str(lost.value))):
            link.read(0.0)
        link.close()


def test_what_came_before_a_hang_up_is_still_read(lock_folder):
    with socket.create_server(("127.0.0.1", 0)) as listener:
        link = open_serial(
            f"socket://127.0.0.1:{listener.getsockname()[1]}", lock_folder=lock_folder
        )
        listener.settimeout(30)
        board, _ = listener.accept()
    board.sendall(b"last words")
    board.close()
    data = b""
    with pytest.raises(LinkLost):
        for _ in range(100):
            data += link.read(1.0)
    assert data == b"last words"
    link.close()


def test_closing_under_a_waiting_reader_ends_the_reader_with_a_lost_link(pty, lock_folder):
    link = open_serial(pty.path, lock_folder=lock_folder)
    ended: list[Exception] = []
    started = threading.Event()

    def read() -> None:
        started.set()
        try:
            link.read(30.0)
        except Exception as error:
            ended.append(error)

    reader = threading.Thread(target=read)
    reader.start()
    assert started.wait(30)
    link.close()
    reader.join(30)
    assert [type(error) for error in ended] == [LinkLost]


@pytest.mark.parametrize(
    "trouble",
    [
        serial.SerialException("gone"),
        OSError(5, "gone"),
        TypeError("gone"),
        ValueError("gone"),
        serial_link.termios.error(5, "gone"),
    ],
)
def test_every_way_a_port_fails_is_a_lost_link(trouble):
    class Failing(serial.Serial):
        is_open = True

        def read(self, size: int = 1) -> bytes:
            raise trouble

        def write(self, data: bytes) -> int:
            raise trouble

        def close(self) -> None:
            raise trouble

        def cancel_read(self) -> None:
            raise trouble

    for call in (lambda link: link.read(0.0), lambda link: link.write(b"x")):
        link = SerialLink(Failing(timeout=0.0), "port")
        with pytest.raises(LinkLost, match="gone"):
            call(link)
        link.close()


# --- looking for ports ---------------------------------------------------------------------------


def test_ports_are_found_with_their_lasting_names_and_without_opening_any(tmp_path, monkeypatch):
    device = tmp_path / "ttyACM0"
    device.touch()
    other = tmp_path / "ttyUSB7"
    other.touch()
    by_id = tmp_path / "by-id"
    by_id.mkdir()
    (by_id / "usb-board").symlink_to(device)
    (by_id / "usb-adapter").symlink_to(other)
    listed = [
        type("Info", (), {"device": str(device), "description": "board"}),
        type("Info", (), {"device": "/dev/ttyS0", "description": "n/a"}),
    ]
    monkeypatch.setattr("winder.links.ports.list_ports.comports", lambda: listed)
    opened = []
    monkeypatch.setattr(serial.Serial, "open", lambda self: opened.append(self.port))
    assert ports_found(by_id) == [
        PortFound("/dev/ttyS0", "", "n/a"),
        PortFound(str(other), str(by_id / "usb-adapter"), ""),
        PortFound(str(device), str(by_id / "usb-board"), "board"),
    ]
    assert ports_found(tmp_path / "missing")[0].best_name == "/dev/ttyS0"
    assert opened == []
