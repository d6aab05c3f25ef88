"""Two hosts never talk to one board: who has a port, who is told, and what a dead process leaves."""

from __future__ import annotations

import contextlib
import os
import re
import select
import socket
import stat
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

import winder
from winder.errors import WinderError
from winder.links.port_lock import PortBusy, PortLock
from winder.links.port_lock import lock_folder as lock_folder_of_user
from winder.links.serial_link import open_serial

ROOT = Path(winder.__file__).parent.parent


def refusal(port: str, folder: Path) -> WinderError:
    with pytest.raises(WinderError) as refused:
        open_serial(port, lock_folder=folder)
    return refused.value


def test_a_port_that_is_open_is_refused_and_free_again_afterwards(pty, lock_folder):
    link = open_serial(pty.path, lock_folder=lock_folder)
    error = refusal(pty.path, lock_folder)
    assert re.search(rf"is in use by .+ \(process {os.getpid()}\)", error.what)
    assert error.where == pty.path
    link.close()
    open_serial(pty.path, lock_folder=lock_folder).close()


def test_another_name_of_the_same_port_is_the_same_port(pty, tmp_path, lock_folder):
    name = tmp_path / "usb-board"
    name.symlink_to(pty.path)
    link = open_serial(str(name), lock_folder=lock_folder)
    assert "in use" in refusal(pty.path, lock_folder).what
    link.close()


def first_line(holder: subprocess.Popen[str]) -> str:
    assert select.select([holder.stdout], [], [], 30)[0], "it never said anything"
    return holder.stdout.readline()


HOLD = """
import sys
from pathlib import Path
from typing import ClassVar
from winder.links.serial_link import open_serial
link = open_serial(sys.argv[1], lock_folder=Path(sys.argv[2]))
print("open", flush=True)
sys.stdin.read()
"""


def test_a_lock_names_who_holds_it_and_dies_with_them(pty, lock_folder):
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, pty.path, str(lock_folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    ) as holder:
        assert first_line(holder) == "open\n"
        assert f"(process {holder.pid})" in refusal(pty.path, lock_folder).what
        holder.kill()
        holder.wait(30)
    (left_behind,) = lock_folder.iterdir()
    assert left_behind.read_text().startswith(str(holder.pid))
    open_serial(pty.path, lock_folder=lock_folder).close()


FOREIGN = """
import fcntl, os, sys
port = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY)
fcntl.flock(port, fcntl.LOCK_EX)
print("open", flush=True)
sys.stdin.read()
"""


def test_a_foreign_program_that_holds_the_port_is_named(pty, lock_folder):
    with subprocess.Popen(
        [sys.executable, "-c", FOREIGN, pty.path],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as holder:
        assert first_line(holder) == "open\n"
        assert f"(process {holder.pid})" in refusal(pty.path, lock_folder).what
        holder.communicate("", timeout=30)
    open_serial(pty.path, lock_folder=lock_folder).close()


def test_locks_lie_in_the_runtime_folder_or_else_the_temporary_one(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    assert lock_folder_of_user() == tmp_path / "exact-turns"
    monkeypatch.setenv("XDG_RUNTIME_DIR", __file__)  # no folder can be made in a file
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    assert lock_folder_of_user() == tmp_path / f"exact-turns-{os.getuid()}"
    monkeypatch.setattr(tempfile, "tempdir", __file__)
    with pytest.raises(WinderError, match="nowhere to keep a port's lock"):
        lock_folder_of_user()


# --- what a stranger can plant in a shared temporary folder ---------------------------------------


@pytest.fixture
def shared(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where our folder of locks would be made, in a place that everybody can write to."""
    monkeypatch.delenv("XDG_RUNTIME_DIR", raising=False)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    return tmp_path / f"exact-turns-{os.getuid()}"


def refused_here(port: str) -> WinderError:
    with pytest.raises(WinderError) as refused:
        open_serial(port)
    return refused.value


def test_a_folder_made_here_is_entered_by_nobody_else(pty, shared):
    open_serial(pty.path).close()
    assert stat.S_IMODE(shared.stat().st_mode) == 0o700
    open_serial(pty.path).close()  # and is used again


def test_a_folder_that_is_a_link_is_not_followed(pty, shared, tmp_path):
    elsewhere = tmp_path / "somebody's"
    elsewhere.mkdir(mode=0o700)
    shared.symlink_to(elsewhere)
    error = refused_here(pty.path)
    assert (error.where, "is a link" in error.what) == (str(shared), True)
    assert list(elsewhere.iterdir()) == []


def test_a_file_in_place_of_the_folder_is_told(pty, shared):
    shared.write_text("mine")
    assert "not a folder" in refused_here(pty.path).what
    assert shared.read_text() == "mine"


def test_a_folder_that_others_can_enter_or_own_is_not_used(pty, shared):
    shared.mkdir()
    shared.chmod(0o777)
    assert "can be entered by others" in refused_here(pty.path).what
    assert list(shared.iterdir()) == []
    shared.rmdir()
    if os.getuid() == 0:
        shared.mkdir(mode=0o700)
        os.chown(shared, 65534, 65534)
    else:
        shared = Path("/usr")
    with pytest.raises(WinderError, match="belongs to somebody else"):
        open_serial(pty.path, lock_folder=shared)


def test_a_safe_folder_is_taken_where_the_first_is_not(pty, shared, tmp_path, monkeypatch):
    runtime = tmp_path / "runtime"
    runtime.mkdir()
    (runtime / "exact-turns").symlink_to(tmp_path)
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(runtime))
    assert lock_folder_of_user() == shared


def planted_link(place: Path, victim: Path) -> None:
    place.symlink_to(victim)


def planted_second_name(place: Path, victim: Path) -> None:
    place.hardlink_to(victim)


def planted_fifo(place: Path, _: Path) -> None:
    os.mkfifo(place)


def planted_folder(place: Path, _: Path) -> None:
    place.mkdir()


def planted_socket(place: Path, _: Path) -> None:
    with socket.socket(socket.AF_UNIX) as planted, contextlib.chdir(place.parent):
        planted.bind(place.name)  # a whole path may be too long for a socket


@pytest.mark.parametrize(
    "plant", [planted_link, planted_second_name, planted_fifo, planted_folder, planted_socket]
)
def test_no_file_of_somebodys_is_emptied_through_a_lock(pty, lock_folder, tmp_path, plant):
    victim = tmp_path / "diary.txt"
    victim.write_text("years of work")
    open_serial(pty.path, lock_folder=lock_folder).close()
    (place,) = lock_folder.iterdir()
    place.unlink()
    plant(place, victim)
    error = refusal(pty.path, lock_folder)
    assert "so no lock can be kept there" in error.what
    assert error.where == str(place)
    assert victim.read_text() == "years of work"


def test_a_lock_file_of_somebody_else_is_not_written(pty, lock_folder, monkeypatch):
    open_serial(pty.path, lock_folder=lock_folder).close()
    (place,) = lock_folder.iterdir()
    place.write_text("theirs")
    if os.getuid() == 0:
        os.chown(place, 65534, 65534)
    else:  # only root can give a file away: have the system say that it was
        facts = list(os.stat(place))
        facts[stat.ST_UID] += 1
        really = os.fstat
        monkeypatch.setattr(
            os,
            "fstat",
            lambda file: (
                os.stat_result(facts) if stat.S_ISREG(really(file).st_mode) else really(file)
            ),
        )
    assert "not a lock of ours" in refusal(pty.path, lock_folder).what
    assert place.read_text() == "theirs"


# --- several names --------------------------------------------------------------------------------


def test_all_names_are_held_or_none(tmp_path):
    holder, other = PortLock(tmp_path), PortLock(tmp_path)
    holder.take(["second"])
    with pytest.raises(PortBusy):
        other.take(["first", "second"])
    third = PortLock(tmp_path)
    third.take(["first"])  # what the refused one had begun to hold is free
    with pytest.raises(PortBusy):
        third.take(["second"])
    with pytest.raises(PortBusy):  # and what the third held before the refusal is still its own
        other.take(["first"])
    third.take(["third"])
    other.take(["first"])
    for lock in (holder, other, third):
        lock.release()
        lock.release()
    PortLock(tmp_path).take(["first", "second", "third"])


def test_a_full_disk_leaves_the_lock_without_a_name(tmp_path, monkeypatch):
    def full(*_: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "pwrite", full)
    holder = PortLock(tmp_path)
    holder.take(["port"])
    with pytest.raises(PortBusy, match="another process"):
        PortLock(tmp_path).take(["port"])
    holder.release()


def test_a_failed_opening_leaves_no_lock(lock_folder):
    for _ in range(2):
        assert "not a serial port" in refusal("/dev/null", lock_folder).what
