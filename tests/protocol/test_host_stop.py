"""The stop as the host's end sees to it: overtaking, repeating, settling what it overtook."""

from __future__ import annotations

from dataclasses import replace

import pytest
from host_bench import MOVE, START, STATUS, TOKEN, WELCOME, HostBench

from firmware_protocol.connection import NS_PER_MS, HostState
from firmware_protocol.heard import Answered, Trouble, Troubled
from firmware_protocol.messages import (
    Answer,
    Cut,
    Pace,
    SettleNumber,
    State,
    Stop,
    Verdict,
)

# --- stop ---------------------------------------------------------------------------------------------


def test_a_stop_is_repeated_until_a_status_after_it_shows_rest() -> None:
    bench = HostBench()
    bench.hear_status(State.WINDING)
    bench.stop()
    bench.hear_status(State.ARMED)  # heard before the stop was even sent: proves nothing
    assert bench.host.stopping
    for state in (State.WINDING, State.SLOWING, State.SETTING_UP):
        assert bench.sent() == [(0, Stop())]
        bench.hear(Answer(0x03, Verdict.DONE, 5, 0))
        bench.hear_status(state)
        assert bench.host.next_deadline_ns() == bench.now_ns + 100 * NS_PER_MS
        bench.later(100)
    bench.sent()
    bench.hear(replace(STATUS, state=State.PAUSED, uptime_ms=bench.uptime_ms))  # a repeated one
    assert bench.host.stopping
    bench.hear_status(State.PAUSED)
    assert not bench.host.stopping and bench.host.next_deadline_ns() is None


def test_a_stop_withdraws_what_waits_and_what_was_not_yet_sent() -> None:
    bench = HostBench()
    moving = bench.send(START)
    waiting = bench.send(SettleNumber(0))
    withdrawn = bench.stop()
    assert {one.command for one in withdrawn} == {moving, waiting}
    assert {one.trouble for one in withdrawn} == {Trouble.WITHDRAWN}
    assert bench.sent() == [(0, Stop())]


@pytest.mark.parametrize("command", [START, MOVE])
def test_a_moving_command_is_never_sent_again_after_a_stop(command) -> None:
    bench = HostBench()
    command = bench.send(command)
    bench.sent()
    assert bench.stop() == []
    for _ in range(30):
        kinds = [type(message) for _, message in bench.sent()]
        assert type(command) not in kinds
        bench.later(100)
        bench.hear_status(State.ARMED)
        assert bench.host.stopping  # the start may still be on its way


@pytest.mark.parametrize(
    "verdict, told", [(Verdict.DONE, "never took effect"), (Verdict.CONFLICT, "had reached")]
)
def test_the_question_under_its_number_settles_an_overtaken_start(verdict, told) -> None:
    bench = HostBench()
    command = bench.send(START)
    bench.sent()
    bench.stop()
    assert bench.sent() == [(0, Stop()), (1, SettleNumber(TOKEN))]
    (report,) = bench.hear(Answer(0x13, verdict, 5, 0), 1)
    assert (report.trouble, report.command) == (Trouble.WITHDRAWN, command)
    assert told in report.text
    bench.hear_status(State.ARMED)
    assert not bench.host.stopping
    bench.send(SettleNumber(0))
    assert bench.sent()[0] == (2, SettleNumber(TOKEN))


def test_a_late_answer_to_an_overtaken_start_settles_it_too() -> None:
    bench = HostBench()
    command = bench.send(START)
    bench.sent()
    bench.stop()
    bench.sent()
    (answered,) = bench.answer(START, Verdict.DONE, 1)
    assert answered == Answered(command, answered.answer)
    # The question's own answer comes behind it and belongs to nothing any more.
    assert bench.hear(Answer(0x13, Verdict.CONFLICT, 5, 0), 1) == []
    assert bench.host.state is HostState.OPEN


def test_what_moves_nothing_stays_on_its_way_through_a_stop() -> None:
    bench = HostBench()
    command = bench.send(Pace(0, 3, 9, 5, 500))
    bench.sent()
    bench.stop()
    bench.later(200)
    assert bench.sent() == [(0, Stop()), (1, command)]


def test_nothing_that_moves_is_taken_while_a_stop_is_unconfirmed() -> None:
    bench = HostBench()
    bench.stop()
    command = bench.send(START)
    assert bench.later(0) == [Troubled(Trouble.WITHDRAWN, "the stop is not yet confirmed", command)]
    assert bench.sent() == [(0, Stop())]


# --- cut ----------------------------------------------------------------------------------------------


def test_a_cut_goes_out_in_the_stops_place_until_rest() -> None:
    bench = HostBench()
    bench.hear_status(State.WINDING)
    bench.stop()
    assert bench.sent() == [(0, Stop())]
    bench.cut()
    for state in (State.WINDING, State.SLOWING, State.SLOWING):
        assert bench.sent() == [(0, Cut())]
        bench.stop()  # a later stop does not take the cut back
        assert bench.sent() == [(0, Cut())]
        bench.hear(Answer(0x23, Verdict.DONE, 5, 0))
        bench.hear_status(state)
        bench.later(100)
    bench.sent()
    bench.hear_status(State.PAUSED)
    assert not bench.host.stopping
    bench.stop()
    assert bench.sent() == [(0, Stop())]  # the next stop slows down again


def test_a_cut_overtakes_what_a_stop_overtakes() -> None:
    bench = HostBench()
    command = bench.send(START)
    bench.sent()
    bench.cut()
    assert bench.sent() == [(0, Cut()), (1, SettleNumber(TOKEN))]
    (report,) = bench.hear(Answer(0x13, Verdict.DONE, 5, 0), 1)
    assert (report.trouble, report.command) == (Trouble.WITHDRAWN, command)


def test_a_board_without_a_motor_is_sent_the_stop_in_the_cuts_place() -> None:
    bench = HostBench(opened=False)
    bench.host.open(0)
    bench.sent()
    bench.hear(replace(WELCOME, groups=b"\1\0\0\0\0\0"))
    bench.cut()
    assert bench.sent() == [(0, Stop())]


def test_a_board_that_does_not_know_the_cut_is_sent_the_stop_at_once() -> None:
    bench = HostBench()
    bench.hear_status(State.WINDING)
    bench.cut()
    assert bench.sent() == [(0, Cut())]
    bench.hear(Answer(0x23, Verdict.UNSUPPORTED, 5, 0))
    assert bench.sent() == [(0, Stop())]
    bench.later(100)
    assert bench.sent() == [(0, Stop())]


def test_a_cut_goes_out_even_before_a_welcome() -> None:
    bench = HostBench(opened=False)
    bench.cut()
    assert bench.sent() == [(0, Cut())]
