"""Another board with equal settings in the place of the one that counted: met, told by its number, and never gone on with."""

from __future__ import annotations

from dataclasses import replace

import pytest
from session_bench import BOARD, LONG_PLAN, Bench
from test_set_up import list_of

from firmware_protocol.connection import HostEnd
from firmware_protocol.device import DeviceEnd
from firmware_protocol.settings import ReadSettings, Settings
from winder.wind.model import How, Intent, Phase
from winder.wind.same_board import ASKS_MOST

MINE, OTHER = 0x1A2B3C4D, 0x5E6F7081


def kept(number: int):
    return replace(BOARD, groups=(1, 1, 1, 1, 0, 1), settings=Settings(number=number))


class Swapped(Bench):
    """A bench whose cable can be put to another board."""

    def __init__(self, number: int = MINE, **more) -> None:
        super().__init__(LONG_PLAN, identity=kept(number), **more)

    def take_cable(self) -> None:
        self.unplug()
        self.run(7000)

    def put_to(self, number: int, boot: int) -> None:
        """The port is open again, and a board greets that says it is this one."""
        self.body.forget()
        self.boot, self.identity = boot, kept(number)
        self.device = DeviceEnd(self.body, self.identity, boot, self.now_ms)
        self.plug_in()

    def plug_in(self) -> None:
        self.cable = True
        self.host = HostEnd(self.host.token + 1)
        self.host.open(self.now_ns)
        self.session.reopened(self.now_ns)

    def paused(self) -> Swapped:
        self.run_until(Phase.READY)
        self.ask(Intent.START)
        self.run_to_count(300)
        self.ask(Intent.PAUSE)
        self.run_until(Phase.PAUSED)
        return self

    @property
    def said(self) -> str:
        return "; ".join(event.text for event in self.journal)


def asked(bench: Bench) -> int:
    return sum(isinstance(request, ReadSettings) for request in bench.sent)


def test_the_number_is_asked_once_and_on_record_when_the_wind_is_opened():
    bench = Swapped().run_until(Phase.READY)
    opened = next(event for event in bench.journal if event.kind == "opened")
    assert dict(opened.facts)["board_number"] == MINE and asked(bench) == 1


@pytest.mark.parametrize("boot", [5, 6, 40], ids=["the same boot", "the next", "another"])
def test_another_board_at_the_port_is_told_by_its_number_and_the_wind_is_held(boot):
    bench = Swapped().paused()
    before = bench.truth
    bench.take_cable()
    bench.put_to(OTHER, boot)
    bench.run_until(Phase.LOST).run(500)
    assert bench.session.finished and bench.session.ending.how is How.LOST
    words = f"this is another board, number {OTHER:08x}; number {MINE:08x} counted this coil"
    assert words in bench.said and words in bench.view().advice
    assert not bench.truth.is_sharp and bench.truth.low <= before.best <= bench.truth.high
    assert Intent.CONTINUE not in bench.session.may()
    assert not any(
        dict(event.facts).get("board_number") == OTHER for event in bench.journal
    )  # it counted nothing of this coil


def test_the_same_board_after_its_port_was_opened_again_goes_on():
    bench = Swapped().paused()
    bench.take_cable()
    bench.plug_in()
    bench.run_until(Phase.PAUSED)
    assert bench.truth.is_sharp and "another board" not in bench.said and asked(bench) == 2


def test_the_same_board_after_a_reset_is_not_called_another():
    bench = Swapped().paused()
    bench.reset()
    bench.run_until(Phase.LOST).run(3500)
    assert bench.session.finished and "another board" not in bench.said


def test_a_board_swapped_behind_an_open_port_is_told_too():
    """An adapter that stays, and the board behind it is changed: nothing but a boot of another number."""
    bench = Swapped().paused()
    bench.body.forget()
    bench.identity = kept(OTHER)
    bench.device = DeviceEnd(bench.body, bench.identity, 40, bench.now_ms)
    bench.run_until(Phase.LOST).run(3500)
    assert bench.session.finished and f"number {OTHER:08x}" in bench.view().advice


def test_a_board_without_a_number_in_the_place_of_one_that_has_is_another():
    bench = Swapped().paused()
    bench.take_cable()
    bench.put_to(0, 5)
    bench.run_until(Phase.LOST).run(500)
    assert "this is another board, number 00000000" in bench.said


def test_a_swap_while_the_list_is_gone_through_is_noticed():
    """No wind is open yet, so nothing but the number tells them apart."""
    bench = Swapped(todo=list_of())
    bench.run_until(Phase.SETTING_UP).run(300)
    assert not bench.session.course.board.opened
    bench.take_cable()
    bench.put_to(OTHER, 5)
    bench.run(1500)
    assert bench.session.phase is Phase.LOST and "another board" in bench.said


class Mute(DeviceEnd):
    """Greets, and never tells its settings."""

    def _send(self, message) -> None:
        if not isinstance(message, Settings):
            super()._send(message)


def test_a_board_that_does_not_tell_its_number_is_not_gone_on_with():
    bench = Swapped().paused()
    bench.take_cable()
    bench.device = Mute(bench.body, kept(MINE), 5, bench.now_ms)
    bench.plug_in()
    bench.run_until(Phase.LOST, limit_ms=6000)
    assert "does not tell its number" in bench.view().advice
    assert asked(bench) == 1 + ASKS_MOST


def test_a_board_that_never_told_its_number_winds_as_before():
    bench = Swapped()
    bench.device = Mute(bench.body, kept(MINE), 5, 0)
    bench.paused().run(5000)
    assert asked(bench) == ASKS_MOST and bench.truth.is_sharp


@pytest.mark.parametrize("seed", range(10))
def test_over_a_line_that_loses_a_third_the_same_board_goes_on(seed):
    bench = Swapped(seed=seed).paused()
    bench.take_cable()
    bench.lost = 0.3
    bench.plug_in()
    bench.run_until(Phase.PAUSED, limit_ms=10_000)
    assert "another board" not in bench.said


def test_a_board_that_keeps_no_settings_is_asked_nothing():
    bench = Bench(LONG_PLAN).run_until(Phase.READY)
    assert asked(bench) == 0
