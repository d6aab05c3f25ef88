"""What passed over a link is written down as it passed, and a recording replays as a link."""

from __future__ import annotations

import threading

import pytest

from firmware_protocol.connection import HostEnd
from firmware_protocol.seam import LinkLost
from winder.clock import NS_PER_MS, HandClock
from winder.errors import UserMistake
from winder.links import recording
from winder.links.recording import (
    FIRST_LINE,
    Passed,
    RecordedLink,
    ReplayedLink,
    is_recording,
    read_recording,
    recorded,
)
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.service.bodies import simulated_machine
from winder.service.greeting import greet

TOKEN = 77


def greeted(path):
    """The greeting of a simulated board, recorded."""
    clock = HandClock()
    link = recorded(SimulatedLink(simulated_machine(SIMULATED_BENCH), clock), clock, path)
    met = greet(link, clock, HostEnd(TOKEN), "sim")
    link.close()
    return met


def test_a_recording_replays_as_a_link_with_the_same_words_at_the_same_times(tmp_path):
    path = tmp_path / "wind.record"
    met = greeted(path)
    clock = HandClock()
    assert greet(ReplayedLink(path, clock), clock, HostEnd(TOKEN), "replay") == met
    said = [one for one in read_recording(path) if one.from_board]
    assert clock.now_ns() == said[-1].at_ms * NS_PER_MS


def test_a_replay_waits_as_the_board_did_and_ends_as_a_lost_link(tmp_path):
    path = tmp_path / "r"
    path.write_text(f"{FIRST_LINE}\n5 > 0102\n30 < 0a00\n")
    clock = HandClock()
    link = ReplayedLink(path, clock)
    assert link.read(0.02) == b"" and clock.now_ns() == 20 * NS_PER_MS
    assert link.read(0.02) == b"\x0a\x00" and clock.now_ns() == 30 * NS_PER_MS
    link.write(b"\x01")
    with pytest.raises(LinkLost, match="the recording ended"):
        link.read(0.02)
    link.close()
    with pytest.raises(LinkLost, match="closed"):
        link.write(b"\x01")


def test_both_directions_are_written_in_their_order(tmp_path):
    path = tmp_path / "r"
    greeted(path)
    passed = list(read_recording(path))
    assert not passed[0].from_board and passed[0].data.startswith(b"\0")
    assert any(one.from_board for one in passed)
    assert [one.at_ms for one in passed] == sorted(one.at_ms for one in passed)
    assert is_recording(path) and not is_recording(tmp_path / "none")


def test_a_file_that_is_there_is_left_alone(tmp_path):
    path = tmp_path / "mine"
    path.write_text("mine")
    with pytest.raises(UserMistake, match="cannot be written here"):
        recorded(SimulatedLink(simulated_machine(SIMULATED_BENCH), HandClock()), HandClock(), path)
    assert path.read_text() == "mine"


class FullDisk:
    def __init__(self) -> None:
        self.lines = 0

    def write(self, line: str) -> None:
        self.lines += 1
        if self.lines > 2:
            raise OSError(28, "No space left on device")

    def flush(self) -> None: ...

    def __enter__(self):
        return self

    def __exit__(self, *_) -> None: ...


def board_recorded(disk) -> tuple[RecordedLink, HandClock]:
    clock = HandClock()
    return RecordedLink(
        SimulatedLink(simulated_machine(SIMULATED_BENCH), clock), clock, disk
    ), clock


def test_a_full_disk_ends_the_recording_and_not_the_link():
    link, clock = board_recorded(FullDisk())
    assert greet(link, clock, HostEnd(TOKEN), "sim").welcome.board == "simulated"
    link.close()
    assert link.why_ended == "No space left on device"


class HangingDisk:
    """Takes its first line, and the next ones when it is let go."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.goes_on = threading.Event()

    def write(self, line: str) -> None:
        if self.lines:
            assert self.goes_on.wait(30)
        self.lines.append(line)

    def flush(self) -> None: ...

    def __enter__(self):
        return self

    def __exit__(self, *_) -> None: ...


def test_a_disk_that_hangs_holds_up_no_word_to_the_board():
    disk, greeted = HangingDisk(), []
    link, clock = board_recorded(disk)
    greeting = threading.Thread(
        target=lambda: greeted.append(greet(link, clock, HostEnd(TOKEN), "sim")), daemon=True
    )
    greeting.start()
    greeting.join(20)
    assert greeted, "the link waits for the disk"
    disk.goes_on.set()
    link.close()
    assert not link.why_ended
    assert len(disk.lines) > 3
    times = [int(line.split()[0]) for line in disk.lines[1:]]
    assert times == sorted(times)


def test_a_disk_that_hangs_for_ever_holds_up_no_end(monkeypatch):
    monkeypatch.setattr(recording, "CLOSE_WAIT_S", 0.1)
    disk = HangingDisk()
    link, clock = board_recorded(disk)
    greet(link, clock, HostEnd(TOKEN), "sim")
    link.close()
    assert "does not answer" in link.why_ended
    disk.goes_on.set()


@pytest.mark.parametrize(
    "line", ["x", "5 < 0", "5 < zz", "-1 < 00", "5 = 00", "1 < 00", "5 < ", "9" * 13 + " < 00"]
)
def test_a_line_that_is_none_is_named(tmp_path, line):
    path = tmp_path / "r"
    path.write_text(f"{FIRST_LINE}\n3 < 00\n{line}\n4 < 00\n")
    with pytest.raises(UserMistake) as refused:
        list(read_recording(path))
    assert refused.value.where == f"{path}:3"


def test_a_last_line_that_was_cut_short_is_left_out(tmp_path):
    path = tmp_path / "r"
    path.write_text(f"{FIRST_LINE}\n3 < 00\n7 < 0")
    assert list(read_recording(path)) == [Passed(3, True, b"\0")]


@pytest.mark.parametrize("text", ["", "something else\n", "\0" * 100])
def test_another_file_is_no_recording(tmp_path, text):
    path = tmp_path / "r"
    path.write_text(text)
    with pytest.raises(UserMistake, match="is not a recording"):
        list(read_recording(path))
