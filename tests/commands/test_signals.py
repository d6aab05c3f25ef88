"""Being asked to stop or to leave: a loop in a real process, real signals, terminals that really go."""

from __future__ import annotations

import os
import pty
import select
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

import winder
from winder.commands.signals import NOBODY_READS, TERMINAL_CLOSED, heard_requests

ROOT = Path(winder.__file__).parent.parent
WAIT_S = 30.0

LOOP = """
import signal, sys, threading
from pathlib import Path
from winder.clock import SystemClock
from winder.commands.signals import heard_requests, typed_lines

record, leave_wait_s, chatter = Path(sys.argv[1]), float(sys.argv[2]), int(sys.argv[3])
if "deaf to HUP" in sys.argv:
    signal.signal(signal.SIGHUP, signal.SIG_IGN)

def note(text):
    with record.open("a") as file:
        file.write(text + chr(10))

def listen():
    for line in typed_lines(requests):
        note("typed " + line)
    note("nothing more is typed")

clock = SystemClock()
with heard_requests(leave_wait_s) as requests:
    threading.Thread(target=listen, daemon=True).start()
    note("ready")
    while not requests.leaves and requests.stops < 2:
        clock.sleep_s(0.02)
        print("turns " * chatter, flush=True)
    for _ in range(10):  # the board slows down
        clock.sleep_s(0.02)
        print("slowing", flush=True)
    note(f"committed after {requests.stops} {requests.leaves > 0} {requests.left_by}")
print("last words", file=sys.stderr)
print("last words")
note("over")
sys.exit(1)
"""


@pytest.fixture
def record(tmp_path: Path) -> Path:
    return tmp_path / "record"


def words(record: Path, *more: str, leave_wait_s: float = 20.0, chatter: int = 1) -> list[str]:
    return [sys.executable, "-c", LOOP, str(record), str(leave_wait_s), str(chatter), *more]


def wait_until(so: Callable[[], object]) -> None:
    for _ in range(round(WAIT_S / 0.01)):
        if so():
            return
        time.sleep(0.01)
    raise AssertionError("it never came to be so")


def notes(record: Path) -> list[str]:
    return record.read_text().splitlines() if record.exists() else []


def begun(record: Path, *more: str, **streams: object) -> subprocess.Popen[str]:
    streams = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, **streams}
    process = subprocess.Popen(
        words(record, *more), text=True, cwd=ROOT, stderr=subprocess.PIPE, **streams
    )
    wait_until(lambda: "ready" in notes(record))
    return process


# --- signals --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGQUIT"])
def test_a_signal_to_leave_is_one_that_the_loop_follows(record, name):
    process = begun(record)
    process.send_signal(getattr(signal, name))
    said, wrong = process.communicate(timeout=WAIT_S)
    assert process.returncode == 1  # its own exit, and not the signal's
    assert notes(record)[-2:] == [f"committed after 0 True {name}", "over"]
    assert said.splitlines()[-1] == wrong.splitlines()[-1] == "last words"


def test_ctrl_c_is_counted_and_ends_nothing_by_itself(record):
    process = begun(record)
    process.send_signal(signal.SIGINT)
    for _ in range(5):
        assert process.stdout.readline().startswith("turns")
    assert process.poll() is None
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=WAIT_S)
    assert notes(record)[-2:] == ["committed after 2 False ", "over"]
    assert process.returncode == 1


def test_a_storm_of_signals_changes_nothing(record):
    process = begun(record)
    for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT, signal.SIGINT) * 50:
        if "over" not in notes(record):
            process.send_signal(number)
            time.sleep(0.001)
        if any(line.startswith("committed") for line in notes(record)):
            break
    process.communicate(timeout=WAIT_S)
    assert any(line.startswith("committed") for line in notes(record))


def test_a_hang_up_that_was_ignored_stays_ignored(record):
    process = begun(record, "deaf to HUP")
    process.send_signal(signal.SIGHUP)
    for _ in range(5):
        assert process.stdout.readline().startswith("turns")
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=WAIT_S)
    assert notes(record)[-2] == "committed after 0 True SIGTERM"


# --- output that nobody takes ------------------------------------------------------------------------


def test_a_reader_that_went_away_is_a_wish_to_leave(record):
    process = begun(record)
    process.stdout.close()
    wrong = process.stderr.read()
    process.wait(WAIT_S)
    assert notes(record)[-2:] == [f"committed after 0 True {NOBODY_READS}", "over"]
    assert process.returncode == 1
    assert wrong.splitlines() == ["last words"]  # and no complaint of the interpreter


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_terminal_that_was_halted_holds_nothing_up_for_ever(record, number):
    """Nobody reads, so that a print never returns: then the process ends all the same."""
    master, other_end = os.openpty()
    command = words(record, leave_wait_s=0.5, chatter=1000)
    process = subprocess.Popen(
        command, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=other_end, stderr=other_end
    )
    wait_until(lambda: "ready" in notes(record))
    time.sleep(0.5)  # until it is stuck in a print
    process.send_signal(number)
    assert process.wait(WAIT_S) == 1
    assert not any(line.startswith("committed") for line in notes(record))
    os.close(master)
    os.close(other_end)


# --- terminals --------------------------------------------------------------------------------------


def on_a_terminal(record: Path, *more: str) -> tuple[int, int]:
    """A process whose terminal it is, and the other end of that."""
    child, master = pty.fork()
    if child == 0:
        os.chdir(ROOT)
        command = words(record, *more)
        os.execv(command[0], command)
    wait_until(lambda: "ready" in notes(record))
    return child, master


def ended(child: int) -> int:
    found: list[int] = []

    def gone() -> bool:
        number, status = os.waitpid(child, os.WNOHANG)
        found.append(status)
        return number == child

    try:
        wait_until(gone)
    except AssertionError:
        os.kill(child, signal.SIGKILL)
        raise
    return os.waitstatus_to_exitcode(found[-1])


def hang_up(master: int, _child: int) -> None:
    os.close(master)


def hang_up_in_the_middle_of_a_line(master: int, _child: int) -> None:
    os.write(master, b"half a li")
    os.close(master)


@pytest.mark.parametrize("how", [hang_up, hang_up_in_the_middle_of_a_line])
def test_a_terminal_that_is_closed_is_a_wish_to_leave(record, how):
    child, master = on_a_terminal(record)
    how(master, child)
    assert ended(child) == 1
    (said,) = [line for line in notes(record) if line.startswith("committed")]
    assert said.split("True ")[1] in ("SIGHUP", TERMINAL_CLOSED, NOBODY_READS)
    assert notes(record)[-1] == "over"


def test_a_terminal_that_is_closed_is_noticed_by_a_program_that_is_deaf_to_the_hang_up(record):
    child, master = on_a_terminal(record, "deaf to HUP")
    os.close(master)
    assert ended(child) == 1
    (said,) = [line for line in notes(record) if line.startswith("committed")]
    assert said.split("True ")[1] in (TERMINAL_CLOSED, NOBODY_READS)
    assert notes(record)[-1] == "over"


def test_a_terminal_that_is_closed_is_noticed_by_what_is_typed_alone(record, tmp_path):
    """Its output goes into a file, and it hears no hang-up: only reading tells."""
    master, other_end = os.openpty()
    with (tmp_path / "output").open("w") as output:
        process = begun(record, "deaf to HUP", stdin=other_end, stdout=output)
    os.close(other_end)
    os.write(master, b"note a\nno")
    wait_until(lambda: "typed note a" in notes(record))
    os.close(master)
    process.communicate(timeout=WAIT_S)
    assert notes(record)[-2:] == [f"committed after 0 True {TERMINAL_CLOSED}", "over"]


@pytest.mark.parametrize("key", [b"\x03\x03", b"\x1c"], ids=["ctrl-c twice", "ctrl-backslash"])
def test_keys_that_a_terminal_turns_into_signals(record, key):
    child, master = on_a_terminal(record)
    for each in key:
        os.write(master, bytes([each]))
        time.sleep(0.1)
    read_on(master, child)
    assert notes(record)[-1] == "over"
    assert any(line.startswith("committed") for line in notes(record))


def read_on(master: int, child: int) -> None:
    """Take what the terminal shows until the process has ended, which it does with 1."""
    for _ in range(round(WAIT_S / 0.1)):
        if select.select([master], [], [], 0.1)[0]:
            try:
                os.read(master, 4096)
            except OSError:  # Linux says so when the last one closed the terminal
                break
    assert ended(child) == 1
    os.close(master)


# --- what is typed ----------------------------------------------------------------------------------


def test_the_end_of_what_is_typed_is_no_wish_to_leave(record):
    child, master = on_a_terminal(record)
    os.write(master, "note µ\n\x04".encode())  # Ctrl-D
    wait_until(lambda: "nothing more is typed" in notes(record))
    assert "typed note µ" in notes(record)
    time.sleep(0.2)
    assert notes(record)[-1] == "nothing more is typed"
    os.kill(child, signal.SIGTERM)
    read_on(master, child)
    assert "committed after 0 True SIGTERM" in notes(record)


def test_lines_of_a_pipe_are_read_to_their_end_whole_or_not(record):
    process = begun(record, stdin=subprocess.PIPE)
    os.write(process.stdin.fileno(), b"start\n\nnote \xff\xc3")
    os.write(process.stdin.fileno(), b"\xb6")
    process.stdin.close()
    wait_until(lambda: "nothing more is typed" in notes(record))
    assert notes(record)[1:4] == ["typed start", "typed ", "typed note \ufffd\u00f6"]
    assert process.poll() is None
    process.kill()
    process.wait(WAIT_S)


# --- in this process --------------------------------------------------------------------------------


@pytest.mark.parametrize("trouble", [None, RuntimeError])
def test_everything_is_as_before_afterwards(trouble):
    numbers = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT)
    before = [signal.getsignal(number) for number in numbers], sys.stdout, sys.stderr
    try:
        with heard_requests(1.0) as requests:
            signal.raise_signal(signal.SIGTERM)
            signal.raise_signal(signal.SIGINT)
            if trouble:
                raise trouble
    except RuntimeError:
        pass
    assert (requests.stops, requests.leaves, requests.left_by) == (1, 1, "SIGTERM")
    after = [signal.getsignal(number) for number in numbers], sys.stdout, sys.stderr
    assert before == after


def test_a_loop_that_never_comes_to_its_end_is_ended():
    ended_with: list[int] = []
    forced = threading.Event()

    def end_process(code: int) -> None:
        ended_with.append(code)
        forced.set()

    with heard_requests(0.0, end_process) as requests:
        assert not forced.wait(0.3)  # as long as nobody asks to leave
        requests.leave("test")
        assert forced.wait(WAIT_S)
    assert ended_with == [1]


def test_a_process_whose_output_is_dead_is_ended_a_moment_after_the_loop():
    forced = threading.Event()
    with heard_requests(WAIT_S, lambda _: forced.set()) as requests:
        requests.output_dead = True
    assert forced.wait(WAIT_S)


def test_no_standard_streams_at_all(monkeypatch):
    monkeypatch.setattr(sys, "stdout", None)
    monkeypatch.setattr(sys, "stderr", None)
    with heard_requests(1.0):
        print("to nobody")
    assert sys.stdout is None
