"""The file itself: opened once for writing, never taken for what it is not, never overwritten."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

import winder
from winder.errors import UserMistake, WinderError
from winder.shelf import Logbook, access, default_path, logbook, schema
from winder.shelf.schema import APPLICATION_ID, VERSION, bring_up_to_date
from winder.wind.model import SessionEvent

FIRST_VERSION = Path(__file__).parent / "fixtures" / "logbook_of_the_first_version.sqlite"
ROOT = Path(winder.__file__).parent.parent
COUNTED = SessionEvent("count", 1, "turn 1", 20)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file but those that SQLite lays beside a database while it looks."""
    aside = ("-wal", "-shm")
    return {
        path.name: path.read_bytes() for path in folder.iterdir() if path.name[-4:] not in aside
    }


@pytest.fixture
def own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    return tmp_path


# --- opening -----------------------------------------------------------------------------------


def test_a_new_file_is_made_durable(file):
    with Logbook.open(file):
        pass
    connection = sqlite3.connect(file)
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    assert connection.execute("PRAGMA user_version").fetchone() == (VERSION,)
    strict = connection.execute("SELECT name, strict FROM pragma_table_list WHERE schema = 'main'")
    assert {name for name, is_strict in strict if is_strict} == {"coils", "runs", "journal"}
    connection.close()


def test_every_commit_waits_for_the_disk(file):
    with Logbook.open(file) as opened:
        assert opened._connection.execute("PRAGMA synchronous").fetchone()[0] == 2  # FULL


def test_the_default_file_is_made_with_its_folder_when_written(own_data):
    assert default_path() == own_data / "exact-turns" / "logbook.sqlite"
    with Logbook.open(read_only=True) as opened:
        assert opened.coils() == []
    assert not default_path().parent.exists()  # looking makes nothing
    with Logbook.open():
        assert default_path().exists()


def test_an_empty_file_becomes_a_logbook(file):
    file.touch()
    with Logbook.open(file, read_only=True) as opened:
        assert opened.coils() == []
    assert file.read_bytes() == b""
    with Logbook.open(file) as opened:
        assert opened.coils() == []


def test_strange_file_names_are_only_names(tmp_path, made):
    for name in (":memory:", "a?mode=memory", "50%25 #1", "blank and 'quote'"):
        with Logbook.open(tmp_path / name) as opened:
            made.begin(opened)
        assert (tmp_path / name).is_file()


def test_what_was_closed_says_so(file, made):
    opened = Logbook.open(file)
    run_id = made.begin(opened)
    opened.close()
    opened.close()
    for call in (lambda: opened.write(run_id, [COUNTED]), opened.coils):
        with pytest.raises(WinderError, match="closed already"):
            call()


# --- not a logbook -----------------------------------------------------------------------------


def foreign_database(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE contacts (name)")
    connection.commit()
    connection.close()


def newer_logbook(path: Path) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    bring_up_to_date(connection)
    connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    connection.close()


def text_file(path: Path) -> None:
    path.write_text("name = 'tine sensor'\n" * 100)


def short_text_file(path: Path) -> None:
    path.write_text("x")


def half_a_logbook(path: Path) -> None:
    Logbook.open(path).close()
    path.write_bytes(path.read_bytes()[:3000])


@pytest.mark.parametrize(
    ("make", "kind", "words"),
    [
        (foreign_database, UserMistake, "another program"),
        (newer_logbook, WinderError, "newer version"),
        (text_file, UserMistake, "is not a logbook"),
        (short_text_file, UserMistake, "is not a logbook"),
        (half_a_logbook, WinderError, "damaged"),
    ],
)
@pytest.mark.parametrize("read_only", [False, True])
def test_what_is_not_a_logbook_of_ours_is_refused_and_left_as_it_is(
    file, make, kind, words, read_only
):
    make(file)
    before = contents(file.parent)
    with pytest.raises(kind, match=words) as refused:
        Logbook.open(file, read_only=read_only)
    assert refused.value.where == str(file)
    assert refused.value.remedy
    assert contents(file.parent) == before


def test_a_logbook_damaged_in_the_middle_is_told_when_it_is_read(file, made):
    with Logbook.open(file) as opened:
        run_id = made.begin(opened)
        opened.write(run_id, [COUNTED] * 2000)
    data = bytearray(file.read_bytes())
    data[8192:] = b"\xa5" * (len(data) - 8192)
    file.write_bytes(data)
    with Logbook.open(file, read_only=True) as opened, pytest.raises(WinderError, match="damaged"):
        opened.coil(1)
        opened.coils()
    assert file.read_bytes() == data


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("", "is a folder"),
        ("missing/logbook.sqlite", "there is no folder"),
        ("zero\0byte", "zero byte"),
    ],
)
def test_a_place_that_cannot_be_is_a_mistake_of_the_user(tmp_path, name, words):
    with pytest.raises(UserMistake, match=words):
        Logbook.open(tmp_path / name if name else tmp_path)


@pytest.mark.parametrize("read_only", [False, True])
def test_a_place_the_system_refuses_is_told(tmp_path, read_only):
    with pytest.raises(WinderError, match="cannot be opened"):
        Logbook.open(tmp_path / ("n" * 300), read_only=read_only)


def test_a_missing_file_is_not_made_by_reading(file):
    with pytest.raises(UserMistake, match="no such logbook"):
        Logbook.open(file, read_only=True)
    assert contents(file.parent) == {}


def test_a_full_disk_is_told_and_loses_nothing_committed(file, made):
    with Logbook.open(file) as opened:
        run_id = made.begin(opened)
        opened.write(run_id, [COUNTED])
        (pages,) = opened._connection.execute("PRAGMA page_count").fetchone()
        opened._connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(WinderError, match="make room on the disk"):
            opened.write(run_id, [COUNTED] * 5000)
        assert len(opened.coil(1).runs[0].lines) == 1
        opened._connection.execute("PRAGMA max_page_count = 100000")
        opened.write(run_id, [COUNTED])
        assert [line.number for line in opened.coil(1).runs[0].lines] == [1, 2]


# --- who else has it -----------------------------------------------------------------------------

HOLD = """
import sys
from winder.shelf import Logbook
with Logbook.open(sys.argv[1]):
    print("open", flush=True)
    sys.stdin.read()
"""


def test_a_second_program_cannot_write_and_is_told_who_does(file, made):
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, file],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    ) as holder:
        assert holder.stdout.readline() == "open\n"
        with pytest.raises(WinderError, match=f"in use by process {holder.pid} since") as refused:
            Logbook.open(file)
        assert refused.value.where == str(file)
        holder.kill()  # a lock must not outlive who held it
        holder.wait()
        with Logbook.open(file) as opened:
            made.begin(opened)


def test_the_same_program_cannot_open_it_twice_for_writing(file):
    with Logbook.open(file), pytest.raises(WinderError, match="in use by process"):
        Logbook.open(file)
    Logbook.open(file).close()


def test_the_shelf_can_be_read_while_a_wind_is_written(file, made):
    with Logbook.open(file) as writer:
        run_id = made.begin(writer)
        with Logbook.open(file, read_only=True) as reader:
            writer.write(run_id, [COUNTED])
            assert len(reader.coil(1).runs[0].lines) == 1
            writer.write(run_id, [COUNTED])
            assert len(reader.coil(1).runs[0].lines) == 2
            with pytest.raises(WinderError, match="cannot be opened for writing"):
                reader.write(run_id, [COUNTED])


def test_threads_take_turns(file, made):
    with Logbook.open(file) as opened:
        run_id = made.begin(opened)
        troubles: list[Exception] = []

        def write() -> None:
            try:
                for _ in range(50):
                    opened.write(run_id, [COUNTED, COUNTED])
                    opened.coils()
            except Exception as trouble:
                troubles.append(trouble)

        threads = [threading.Thread(target=write) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert troubles == []
        assert [line.number for line in opened.coil(1).runs[0].lines] == list(range(1, 401))


# --- steps of the format -------------------------------------------------------------------------


def test_a_step_that_fails_leaves_the_file_as_it_was(file, monkeypatch):
    shutil.copy(FIRST_VERSION, file)

    def fails_half_way(connection: sqlite3.Connection) -> None:
        connection.execute("ALTER TABLE coils ADD COLUMN low INTEGER")
        connection.execute("ALTER TABEL wrong")

    with monkeypatch.context() as patched:
        patched.setattr(schema, "take_second_step", fails_half_way)
        with pytest.raises(WinderError):
            Logbook.open(file)
    connection = sqlite3.connect(file)
    assert connection.execute("PRAGMA user_version").fetchone() == (1,)
    columns = {row[1] for row in connection.execute("PRAGMA table_info (coils)")}
    assert "low" not in columns
    connection.close()
    with Logbook.open(file) as opened:
        assert opened.coils()


def test_each_step_is_gone_through_once(file):
    for _ in range(3):
        Logbook.open(file).close()
    connection = sqlite3.connect(file)
    assert connection.execute("PRAGMA user_version").fetchone() == (VERSION,)
    connection.close()


def test_the_rooms_modules_agree_on_what_a_logbook_is():
    assert access.APPLICATION_ID == APPLICATION_ID
    assert logbook.IN_MEMORY
