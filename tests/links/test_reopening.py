"""A port that was lost and came back: opened again, but never too early and never too often."""

from __future__ import annotations

import itertools
import os
import threading

import pytest
import serial
from pulled_adapter import heard, lost, not_before, pass_time

from firmware_protocol.seam import LinkLost
from winder.clock import NS_PER_S, HandClock, SystemClock
from winder.errors import UserMistake
from winder.links import reopening
from winder.links.reopening import ReopeningLink
from winder.links.serial_link import BAUD, BAUD_FALLBACK, open_serial

REST_S = 2.5  # lease, stopping and writing, say


@pytest.fixture
def tries(clock: HandClock, monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """When an opening was begun, in seconds of the clock."""
    begun: list[float] = []
    really = reopening.open_device

    def noted(*given: object) -> serial.SerialBase:
        begun.append(clock.now_ns() / NS_PER_S)
        return really(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(reopening, "open_device", noted)
    return begun


# --- going and coming back ------------------------------------------------------------------------


def test_unplugged_and_back_fifty_times(link, adapter, clock, tries):
    files = len(os.listdir("/proc/self/fd"))
    devices = set()
    for times in range(1, 51):
        adapter.say(b"status")
        assert heard(link, 6) == b"status"
        devices.add(adapter.device)
        lost(link, adapter)
        link.write(b"lost with the cable")
        held_back = os.openpty() if times % 2 else ()  # so that it comes back under another name
        earliest_s = not_before(link, clock, REST_S)
        pass_time(link, 1.0)
        adapter.plug()
        for end in held_back:
            os.close(end)
        pass_time(link, 5.0)
        assert (link.open, link.reopened, link.why_closed) == (True, times, "")
        assert tries[-1] >= earliest_s
        link.write(b"hello")
        assert adapter.hear() == b"hello"
    assert len(devices) > 1, "the device name never changed: nothing was shown"
    assert len(os.listdir("/proc/self/fd")) == files


def test_while_it_is_away_reading_takes_its_time_and_gives_nothing(link, adapter, clock):
    lost(link, adapter)
    for timeout_s in (0.0, 0.05, 3.0):
        before_ns = clock.now_ns()
        assert link.read(timeout_s) == b""
        assert clock.now_ns() - before_ns == round(timeout_s * NS_PER_S)
    assert not link.open


def test_in_real_time_too(adapter, lock_folder):
    clock = SystemClock()
    link = ReopeningLink(str(adapter.name), clock, lock_folder=lock_folder)
    adapter.unplug()
    for timeout_s in (0.05, 0.0, 0.05):
        before_ns = clock.now_ns()
        assert link.read(timeout_s) == b""
        assert clock.now_ns() - before_ns >= timeout_s * NS_PER_S
    adapter.plug()
    link.not_before_ns = 0
    assert link.read(1.5) == b""
    assert link.open
    link.close()


def test_what_is_written_into_a_dead_port_is_a_loss_and_no_error(link, adapter):
    adapter.unplug()
    link.write(b"x" * 100_000)
    assert not link.open


# --- never too early, never too often ----------------------------------------------------------------


def test_without_a_word_of_the_caller_nothing_is_opened_again(link, adapter, tries):
    lost(link, adapter)
    adapter.plug()
    pass_time(link, 3600.0)
    assert (link.open, tries) == (False, [])


@pytest.mark.parametrize("rest_s", [0.0, 0.4, 1.0, 2.5, 60.0])
@pytest.mark.parametrize("step_s", [0.0005, 0.05, 0.7])
def test_nothing_is_opened_before_the_board_has_had_its_time(
    link, adapter, clock, tries, rest_s, step_s
):
    earliest_s = max(not_before(link, clock, rest_s), clock.now_ns() / NS_PER_S + 1.0)
    lost(link, adapter)
    adapter.plug()
    for _ in range(round((rest_s + 1.0) / step_s) + 2):
        if link.open:
            break
        link.read(step_s)
    assert link.open
    (opened_s,) = tries
    assert earliest_s <= opened_s <= earliest_s + step_s


def test_a_word_that_comes_later_holds_the_opening_back_further(link, adapter, clock, tries):
    not_before(link, clock, 2.0)
    lost(link, adapter)
    pass_time(link, 1.5)
    later_s = not_before(link, clock, 10.0)
    adapter.plug()
    pass_time(link, 20.0)
    assert tries == [pytest.approx(later_s, abs=0.051)]


def test_a_port_that_stays_away_is_tried_once_a_second(link, adapter, clock, tries):
    not_before(link, clock)
    lost(link, adapter)
    for _ in range(10_000):
        link.read(0.001)
    assert len(tries) == 10
    assert min(b - a for a, b in itertools.pairwise(tries)) >= 1.0
    assert "does not exist" in link.why_closed


def test_a_port_that_opens_and_dies_at_once_is_not_hammered(
    link, adapter, clock, monkeypatch, tries
):
    noted = reopening.open_device

    def dying(*given: object) -> serial.SerialBase:
        adapter.plug()
        device = noted(*given)  # type: ignore[arg-type]
        adapter.unplug(name_too=False)
        return device

    monkeypatch.setattr(reopening, "open_device", dying)
    not_before(link, clock)
    lost(link, adapter)
    files = len(os.listdir("/proc/self/fd"))
    for _ in range(200):
        assert link.read(0.1) == b""
    assert 18 <= len(tries) <= 20
    assert min(b - a for a, b in itertools.pairwise(tries)) >= 1.0
    assert (link.open, link.reopened) == (False, len(tries))
    assert len(os.listdir("/proc/self/fd")) == files


def test_it_is_opened_as_at_first_and_dtr_is_left_alone(adapter, clock, lock_folder, monkeypatch):
    opened_at, dtr = [], []
    really = serial.Serial._reconfigure_port

    def configured(self: serial.Serial, force_update: bool = False) -> None:
        opened_at.append(self._baudrate)
        if self._baudrate == BAUD:
            raise ValueError("Failed to set custom baud rate (500000): [Errno 22]")
        really(self, force_update)

    monkeypatch.setattr(serial.Serial, "_reconfigure_port", configured)
    monkeypatch.setattr(
        serial.Serial, "_update_dtr_state", lambda self: dtr.append(self._dtr_state)
    )
    link = ReopeningLink(str(adapter.name), clock, lock_folder=lock_folder)
    assert link.baud == BAUD_FALLBACK
    first = list(opened_at)
    assert first[:2] == [BAUD, BAUD_FALLBACK]
    opened_at.clear()
    not_before(link, clock)
    lost(link, adapter)
    adapter.plug()
    pass_time(link, 5.0)
    assert link.open
    assert set(opened_at) == {BAUD_FALLBACK}  # not another speed than the board was spoken to at
    assert dtr == [True, True]
    link.close()
    with pytest.raises(UserMistake, match="erase themselves"):
        ReopeningLink(str(adapter.name), clock, 1200, lock_folder=lock_folder)


# --- closing --------------------------------------------------------------------------------------


@pytest.mark.parametrize("away", [False, True])
def test_after_closing_both_raise_and_nothing_is_opened_again(
    link, adapter, clock, tries, lock_folder, away
):
    not_before(link, clock)
    if away:
        lost(link, adapter)
        adapter.plug()
    link.close()
    link.close()
    for call in (lambda: link.read(5.0), lambda: link.write(b"x")):
        with pytest.raises(LinkLost, match="closed"):
            call()
    assert (link.open, tries) == (False, [])
    open_serial(str(adapter.name), lock_folder=lock_folder).close()


def test_closing_under_a_waiting_reader_ends_the_reader(adapter, lock_folder):
    link = ReopeningLink(str(adapter.name), SystemClock(), lock_folder=lock_folder)
    link.not_before_ns = 0
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
    assert link.reopened == 0


def test_a_port_that_cannot_be_had_at_first_is_told_and_leaves_no_lock(
    tmp_path, clock, lock_folder
):
    for _ in range(2):
        with pytest.raises(UserMistake, match="does not exist"):
            ReopeningLink(str(tmp_path / "none"), clock, lock_folder=lock_folder)
        with pytest.raises(UserMistake, match="is not a serial port"):
            ReopeningLink("/dev/null", clock, lock_folder=lock_folder)
