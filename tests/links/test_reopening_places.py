"""A port that comes back: at its lasting name, never at a wrong place, and nobody slips in meanwhile."""

from __future__ import annotations

import fcntl
import os
import signal
import socket
import tempfile
from pathlib import Path

import pytest
from pulled_adapter import Adapter, heard, lost, not_before, pass_time

from winder.clock import HandClock
from winder.errors import WinderError
from winder.links import serial_link
from winder.links.reopening import ReopeningLink
from winder.links.serial_link import open_serial

# --- never at the wrong place ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("target", "words"),
    [
        ("/dev/null", "is not a serial port"),
        ("/dev", "is a folder"),
        (__file__, "is a file, not a serial port"),
        ("fifo", "is a file, not a serial port"),
        ("nowhere", "does not exist"),
        ("usb-board", "could not be opened"),  # leads to itself
    ],
)
def test_a_name_that_leads_elsewhere_is_told_and_tried_on(
    link, adapter, clock, tmp_path, target, words
):
    os.mkfifo(tmp_path / "fifo")
    not_before(link, clock)
    lost(link, adapter)
    adapter.point_to(target)
    pass_time(link, 3.0)
    assert not link.open
    assert words in link.why_closed
    adapter.plug()
    pass_time(link, 3.0)
    assert (link.open, link.reopened) == (True, 1)


def test_another_board_under_the_same_name_is_a_reopening_for_the_caller_to_greet(
    link, adapter, clock, tmp_path
):
    other = Adapter(tmp_path / "other")
    not_before(link, clock)
    adapter.unplug()
    adapter.point_to(other.device)
    link.read(0.0)
    pass_time(link, 3.0)
    assert link.reopened == 1
    other.say(b"who is there")
    assert heard(link, 12) == b"who is there"
    other.unplug()


def test_a_device_is_found_again_by_its_lasting_name(tmp_path, clock, lock_folder):
    by_id = tmp_path / "by-id"
    by_id.mkdir()
    adapter = Adapter(by_id / "usb-board-if00")
    first = adapter.device
    link = ReopeningLink(first, clock, lock_folder=lock_folder, by_id=by_id)
    assert link.port == str(adapter.name)
    not_before(link, clock)
    adapter.unplug()
    stranger = Adapter(
        tmp_path / "stranger"
    )  # takes the device name, if the system deals it out again
    adapter.plug()
    assert adapter.device != first
    link.read(0.0)
    pass_time(link, 3.0)
    adapter.say(b"mine")
    assert heard(link, 4) == b"mine"
    link.close()
    stranger.unplug()
    adapter.unplug()


def test_a_device_without_a_lasting_name_is_found_by_its_own(adapter, clock, lock_folder, tmp_path):
    link = ReopeningLink(adapter.device, clock, lock_folder=lock_folder, by_id=tmp_path / "none")
    assert link.port == adapter.device
    link.close()


# --- nobody slips in ------------------------------------------------------------------------------


def test_our_lock_is_held_over_the_gap(link, adapter, clock, lock_folder):
    lost(link, adapter)
    adapter.plug()
    with pytest.raises(WinderError, match=rf"in use by .+ \(process {os.getpid()}\)"):
        open_serial(str(adapter.name), lock_folder=lock_folder)
    not_before(link, clock)
    pass_time(link, 3.0)
    with pytest.raises(WinderError, match="in use"):  # nor by the new device's name
        open_serial(adapter.device, lock_folder=lock_folder)
    link.close()
    open_serial(str(adapter.name), lock_folder=lock_folder).close()


def test_another_name_of_it_is_no_way_in_either(tmp_path, clock, lock_folder):
    by_id = tmp_path / "by-id"
    by_id.mkdir()
    adapter = Adapter(by_id / "usb-board-if00")
    ours = ReopeningLink(adapter.device, clock, lock_folder=lock_folder, by_id=by_id)
    adapter.unplug()
    ours.read(0.0)
    held_back = os.openpty()
    adapter.plug()
    with pytest.raises(WinderError, match="in use"):
        ReopeningLink(adapter.device, clock, lock_folder=lock_folder, by_id=by_id)
    ours.close()
    for end in held_back:
        os.close(end)
    adapter.unplug()


def test_a_device_that_another_host_holds_is_not_opened(
    link, adapter, clock, lock_folder, tmp_path
):
    """The name now leads to a board that another wind of ours is using: opening might reset it."""
    other = Adapter(tmp_path / "other")
    theirs = open_serial(other.device, lock_folder=lock_folder)
    not_before(link, clock)
    adapter.unplug()
    adapter.point_to(other.device)
    link.read(0.0)
    pass_time(link, 3.0)
    assert not link.open
    assert "is in use by" in link.why_closed
    adapter.plug()
    pass_time(link, 3.0)
    assert link.open
    theirs.close()
    other.unplug()


def test_a_port_that_a_foreign_program_took_is_waited_for(link, adapter, clock):
    not_before(link, clock)
    lost(link, adapter)
    adapter.plug()
    foreign = os.open(adapter.device, os.O_RDWR | os.O_NOCTTY)
    fcntl.flock(foreign, fcntl.LOCK_EX)
    pass_time(link, 3.0)
    assert not link.open
    assert "is in use" in link.why_closed
    os.close(foreign)
    pass_time(link, 3.0)
    assert link.open


def test_a_right_that_was_lost_and_given_again(clock):
    """The host in a process that is not root's, for root may open anything; it says when to go on."""
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        locks = Path(folder) / "locks"
        locks.mkdir(mode=0o700)
        adapter = Adapter(Path(folder) / "usb-board")
        if os.getuid() == 0:
            os.chown(locks, 65534, 65534)
            os.chown(adapter.device, 65534, 65534)
        here, there = socket.socketpair()
        here.settimeout(30)
        child = os.fork()
        if child == 0:
            signal.alarm(60)
            adapter.unplug(name_too=False)  # its copies of the ends, only
            _host_without_rights(adapter, clock, locks, there)
        assert here.recv(100) == b"open"
        adapter.unplug()
        adapter.plug()
        os.chmod(adapter.device, 0o000)
        here.send(b".")
        refused = here.recv(1000).decode()
        os.chmod(adapter.device, 0o666)
        here.send(b".")
        assert here.recv(1000) == b"True "
        os.waitpid(child, 0)
        adapter.unplug()
        here.close()
        there.close()
    assert refused.startswith("False ")
    assert "you may not use this port" in refused


def _host_without_rights(
    adapter: Adapter, clock: HandClock, locks: Path, there: socket.socket
) -> None:
    """Never returns."""
    try:
        if os.getuid() == 0:
            os.setgid(65534)
            os.setuid(65534)
        link = ReopeningLink(str(adapter.name), clock, lock_folder=locks)
        there.send(b"open")
        for _ in range(2):
            there.recv(1)
            link.read(0.0)
            not_before(link, clock)
            pass_time(link, 3.0)
            there.send(f"{link.open} {link.why_closed}".encode())
    except BaseException as error:
        there.send(repr(error).encode())
    finally:
        os._exit(0)


# --- addresses ------------------------------------------------------------------------------------


def test_an_address_that_went_and_came_back(clock, lock_folder):
    listener = socket.create_server(("127.0.0.1", 0))
    listener.settimeout(30)
    place = listener.getsockname()[:2]
    link = ReopeningLink(f"socket://127.0.0.1:{place[1]}", clock, lock_folder=lock_folder)
    board, _ = listener.accept()
    for times in range(1, 4):
        board.close()
        listener.close()
        not_before(link, clock)
        heard(link, 1)
        assert not link.open
        pass_time(link, 2.0)
        assert not link.open
        assert "could not be opened" in link.why_closed
        listener = socket.create_server(place)
        listener.settimeout(30)
        pass_time(link, 3.0)
        board, _ = listener.accept()
        board.sendall(b"status")
        assert heard(link, 6) == b"status"
        assert link.reopened == times
    link.close()
    board.close()
    listener.close()


def test_an_address_that_swallows_everything_holds_nothing_up_for_long():
    """Where nobody answers, pyserial itself would wait five seconds in every try."""
    assert serial_link.protocol_socket.POLL_TIMEOUT == serial_link.CONNECT_WAIT_S <= 2.0
