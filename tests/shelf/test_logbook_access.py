"""The file under the logbook: what is no file never holds anything up, and a file that went is noticed."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

import winder
from winder.errors import UserMistake, WinderError
from winder.shelf import Logbook
from winder.shelf.access import BESIDE, identity_of, still_there
from winder.wind.model import SessionEvent

ROOT = Path(winder.__file__).parent.parent
COUNTED = SessionEvent("count", 1, "turn 1", 20)

# --- what is no file ------------------------------------------------------------------------------

OPEN = """
import sys
from winder.errors import WinderError
from winder.shelf import Logbook
try:
    Logbook.open(sys.argv[1], read_only=sys.argv[2] == "read").close()
except WinderError as error:
    print(type(error).__name__, error)
"""


def said_of(path: Path | str, how: str) -> str:
    """What opening it says, in a process of its own that is given 20 s; it must never need them."""
    done = subprocess.run(
        [sys.executable, "-c", OPEN, str(path), how],
        capture_output=True, text=True, timeout=20, cwd=ROOT, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    assert done.stderr == ""
    return done.stdout


def pipe(place: Path) -> None:
    os.mkfifo(place)


def link_to_pipe(place: Path) -> None:
    os.mkfifo(place.with_name("pipe"))
    place.symlink_to("pipe")


def local_socket(place: Path) -> None:
    with socket.socket(socket.AF_UNIX) as made, contextlib.chdir(place.parent):
        made.bind(place.name)


@pytest.mark.parametrize("how", ["read", "write"])
@pytest.mark.parametrize(
    ("make", "words"),
    [(pipe, "is a pipe"), (link_to_pipe, "is a pipe"), (local_socket, "is a socket")],
)
def test_what_is_no_file_is_told_at_once(file, make, words, how):
    make(file)
    said = said_of(file, how)
    assert said.startswith(f"UserMistake {file}: {words}, not a file of a logbook; name another")


@pytest.mark.parametrize("device", ["/dev/null", "/dev/zero", "/dev/ptmx", "/dev/stdin"])
def test_a_device_is_no_logbook(device):
    for how in ("read", "write"):
        assert "is a device" in said_of(device, how)


@pytest.mark.parametrize("ending", BESIDE)
def test_a_pipe_where_the_database_lays_its_files_is_told_at_once(file, ending):
    Logbook.open(file).close()
    beside = Path(f"{file}{ending}")
    beside.unlink(missing_ok=True)
    os.mkfifo(beside)
    for how in ("read", "write"):
        assert said_of(file, how).startswith(f"UserMistake {beside}: is a pipe")


def test_a_folder_beside_is_told(file):
    Path(f"{file}.lock").mkdir()
    with pytest.raises(UserMistake, match="is a folder, not a file of a logbook"):
        Logbook.open(file)


# --- what went while it was in use ----------------------------------------------------------------


def deleted(file: Path) -> None:
    file.unlink()


def log_deleted(file: Path) -> None:
    Path(f"{file}-wal").unlink()


def moved_away(file: Path) -> None:
    file.rename(file.with_name("old"))


def replaced(file: Path) -> None:
    other = file.with_name("restored")
    sqlite3.connect(other).execute("CREATE TABLE something (x)").connection.close()
    other.replace(file)


def folder_deleted(file: Path) -> None:
    for each in file.parent.iterdir():
        each.unlink()
    file.parent.rmdir()


def folder_moved(file: Path) -> None:
    file.parent.rename(file.parent.with_name("elsewhere"))


def folder_replaced_by_a_file(file: Path) -> None:
    folder_moved(file)
    file.parent.write_text("in the way")


@pytest.mark.parametrize(
    ("happens", "words"),
    [
        (deleted, "deleted or moved"),
        (log_deleted, "-wal was deleted or moved"),
        (moved_away, "deleted or moved"),
        (replaced, "was replaced by another file"),
        (folder_deleted, "deleted or moved"),
        (folder_moved, "deleted or moved"),
        (folder_replaced_by_a_file, "can no longer be reached"),
    ],
)
def test_a_file_that_went_is_noticed_though_commits_still_succeed(
    tmp_path: Path, made, happens: Callable[[Path], None], words: str
):
    file = tmp_path / "folder" / "logbook.sqlite"
    file.parent.mkdir()
    with Logbook.open(file) as opened:
        identity = identity_of(file)
        assert {ending for ending, _, _ in identity.files} == {"", "-wal", "-shm"}
        run_id = made.begin(opened)
        opened.book.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        opened.write(run_id, [COUNTED])
        still_there(file, identity)  # neither commits nor a checkpoint are taken for a loss
        happens(file)
        with pytest.raises(WinderError, match=words) as lost:
            still_there(file, identity)
        assert lost.value.where == str(file)
        assert "note the count" in lost.value.remedy
        assert lost.value.exit_code == 1


def test_a_reader_and_its_end_are_no_loss(file, made):
    with Logbook.open(file) as opened:
        identity = identity_of(file)
        with Logbook.open(file, read_only=True) as reader:
            reader.coils()
        made.begin(opened)
        still_there(file, identity)


def test_a_missing_file_has_no_identity(file):
    with pytest.raises(WinderError, match="cannot be opened"):
        identity_of(file)


def _no_writing(file: Path) -> None:
    file.chmod(0o444)


def _no_writing_in_folder(file: Path) -> None:
    file.parent.chmod(0o555)


def _no_entering(file: Path) -> None:
    file.parent.chmod(0o000)


@pytest.mark.parametrize(
    ("happens", "words"),
    [
        (_no_writing, "it can no longer be written"),
        (_no_writing_in_folder, "its folder can no longer be written"),
        (_no_entering, "can no longer be reached"),
    ],
)
def test_a_right_that_was_taken_away_is_noticed(happens: Callable[[Path], None], words: str):
    """In a process that is not root's, for root may do everything."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "logbook.sqlite"
        said, says = os.pipe()
        if os.getuid() == 0:
            os.chown(folder, 65534, 65534)
        child = os.fork()
        if child == 0:
            text = "not noticed"
            signal.alarm(30)
            try:
                if os.getuid() == 0:
                    os.setgroups([])
                    os.setgid(65534)
                    os.setuid(65534)
                Logbook.open(file).close()
                identity = identity_of(file)
                still_there(file, identity)
                happens(file)
                still_there(file, identity)
            except Exception as error:
                text = str(error)
            finally:
                os.write(says, text.encode())
                os._exit(0)
        os.close(says)
        with os.fdopen(said) as pipe_end:
            text = pipe_end.read()
        os.waitpid(child, 0)
        os.chmod(folder, 0o700)
    assert words in text


def test_a_name_that_is_no_text_is_only_a_name(tmp_path, made):
    name = os.fsdecode(b"book\xff \x1b[31m")
    with Logbook.open(tmp_path / name) as opened:
        made.begin(opened)
        still_there(tmp_path / name, identity_of(tmp_path / name))
    with Logbook.open(tmp_path / name, read_only=True) as opened:
        assert len(opened.coils()) == 1
