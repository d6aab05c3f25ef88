"""What a board's end tells unasked: statuses, its next tick; and pace, target and new winds."""

from __future__ import annotations

import itertools

from pair import COUNTER_BOARD, FULL_BOARD
from raw_board import RawBoard

from firmware_protocol.body import Order
from firmware_protocol.messages import (
    CloseWind,
    Pace,
    SetTarget,
    Verdict,
)

# --- statuses, pace, target -----------------------------------------------------------------


def test_a_status_comes_every_fifty_milliseconds_however_often_it_is_ticked() -> None:
    bench = RawBoard()
    bench.run(1000)
    uptimes = [status.uptime_ms for status in bench.statuses]
    assert len(uptimes) == 21  # the first at once
    assert {b - a for a, b in itertools.pairwise(uptimes[1:])} == {50}
    bench.now_ms += 5000
    bench.device.tick(bench.now_ms)
    bench.device.tick(bench.now_ms + 49)
    bench.take()
    assert len(bench.statuses) == 22  # what was missed is not made up for


def test_next_tick_is_the_next_status_or_the_end_of_the_lease() -> None:
    bench = RawBoard()
    bench.hello()
    bench.live()
    bench.device.tick(bench.now_ms)
    assert bench.device.next_tick_ms() == bench.now_ms + 50
    bench.run(970)
    assert bench.device.next_tick_ms() == 1000 + 1000


def test_pace_holds_for_the_order_in_force_and_the_next_start() -> None:
    bench = RawBoard()
    bench.arm()
    assert bench.verdict(bench.make(Pace, permille=99)) is Verdict.BAD_VALUE
    assert bench.verdict(bench.make(Pace, permille=600)) is Verdict.DONE
    bench.start()
    assert bench.body.drive.pace_permille == 600
    assert bench.verdict(bench.make(Pace, permille=300)) is Verdict.DONE
    assert (bench.body.drive.order, bench.body.drive.pace_permille) == (Order.WIND, 300)
    bench.stop()
    bench.run(150)
    assert bench.verdict(bench.make(CloseWind)) is Verdict.DONE
    bench.open_wind(10)
    assert bench.board.pace_permille == 1000


def test_a_counter_calls_out_once_at_its_target() -> None:
    bench = RawBoard(COUNTER_BOARD)
    bench.hello()
    bench.open_wind()
    assert bench.ask(bench.make(SetTarget, count=0, warn_before=0)).detail == 4
    assert bench.ask(bench.make(SetTarget, count=50, warn_before=51)).detail == 5
    assert bench.verdict(bench.make(SetTarget, count=50, warn_before=5)) is Verdict.DONE
    for count, left in ((49, 50), (50, 0), (51, 0)):
        bench.body.seen.count = count
        bench.run(10)
        assert bench.board.target == left  # what a body shows to the person
    assert bench.verdict(bench.make(CloseWind)) is Verdict.DONE
    assert bench.verdict(bench.make(CloseWind)) is Verdict.WRONG_STATE


def test_counts_that_nobody_can_place_are_told_up_to_65535() -> None:
    bench = RawBoard()
    bench.arm()
    bench.body.seen.unattributed, bench.body.seen.implausible = 3, 4
    bench.run(60)
    assert (bench.statuses[-1].unattributed, bench.statuses[-1].implausible) == (3, 4)
    bench.body.seen.unattributed = bench.body.seen.implausible = 70_000
    bench.run(60)
    assert (bench.statuses[-1].unattributed, bench.statuses[-1].implausible) == (65_535, 65_535)


def test_a_new_wind_begins_at_nought_without_a_plan() -> None:
    bench = RawBoard()
    bench.arm()
    bench.start()
    bench.run(50)
    bench.stop()
    bench.run(150)
    assert bench.verdict(bench.make(CloseWind)) is Verdict.DONE
    bench.run(60)
    assert bench.statuses[-1].count > 0 and bench.statuses[-1].wind == 0  # still readable
    bench.open_wind(10)
    bench.run(60)
    status = bench.statuses[-1]
    assert (status.count, status.generation, status.leg, status.wind) == (0, 0, 255, 10)


def test_the_welcome_lists_what_the_board_is() -> None:
    welcome = RawBoard(COUNTER_BOARD).hello()
    assert welcome.groups == bytes((1, 0, 0, 0, 0, 0)) and welcome.legs_max == 0
    assert (welcome.kept_flags, welcome.cut_ms, welcome.rest_ms) == (0, 0, 0)
    full = RawBoard(FULL_BOARD).hello()
    assert full.groups == bytes((1, 1, 1, 1, 0, 1))
    assert (full.cut_ms, full.rest_ms) == (2000, 5000)
