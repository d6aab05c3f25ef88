"""Two hosts never talk to one board: who has a port, who is told, and what a dead process leaves."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

import winder
from winder.errors import WinderError
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
        assert holder.stdout.readline() == "open\n"
        assert f"(process {holder.pid})" in refusal(pty.path, lock_folder).what
        holder.kill()
        holder.wait()
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
        assert holder.stdout.readline() == "open\n"
        assert f"(process {holder.pid})" in refusal(pty.path, lock_folder).what
        holder.communicate("")
    open_serial(pty.path, lock_folder=lock_folder).close()


def test_locks_lie_in_the_runtime_folder_or_else_the_temporary_one(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    assert lock_folder_of_user() == tmp_path / "exact-turns"
    monkeypatch.setenv("XDG_RUNTIME_DIR", __file__)  # no folder can be made in a file
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    assert lock_folder_of_user() == tmp_path / f"exact-turns-{os.getuid()}"
    monkeypatch.setattr(tempfile, "tempdir", __file__)
    with pytest.raises(WinderError, match="no place to keep the lock"):
        lock_folder_of_user()


def test_a_failed_opening_leaves_no_lock(lock_folder):
    for _ in range(2):
        assert "not a serial port" in refusal("/dev/null", lock_folder).what
