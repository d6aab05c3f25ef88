"""The host's end by itself: its opening, one command at a time, the stop, and what it reports."""

from __future__ import annotations

from dataclasses import replace

import pytest
from host_bench import MOVE, START, STATUS, TOKEN, WELCOME, HostBench

from firmware_protocol.connection import NS_PER_MS, HostEnd, HostState, LocalProtocolError
from firmware_protocol.framing import encode_frame, encode_message
from firmware_protocol.heard import Answered, Trouble, Troubled
from firmware_protocol.host_table import HOST_TABLE, HostStep
from firmware_protocol.messages import (
    Alive,
    Answer,
    Hello,
    OpenWind,
    SetTarget,
    SettleNumber,
    Status,
    Stop,
    Verdict,
)

# --- opening ------------------------------------------------------------------------------------


def test_hello_is_repeated_until_the_welcome_with_our_token() -> None:
    bench = HostBench(opened=False)
    bench.host.open(0)
    hello = [(0, Hello(1, TOKEN))]
    assert bench.sent() == hello
    assert bench.host.next_deadline_ns() == 233 * NS_PER_MS
    bench.later(232)
    assert bench.sent() == []
    bench.later(1)
    assert bench.sent_bytes()[:1] == b"\0"  # ends what a broken frame began
    assert bench.hear(replace(WELCOME, token=1)) == []
    assert bench.hear_status() == []
    assert bench.hear(WELCOME) == [WELCOME]
    bench.later(233)
    assert bench.sent() == [] and bench.host.next_deadline_ns() is None
    assert bench.hear(WELCOME) == []  # said twice


@pytest.mark.parametrize(
    "said, trouble",
    [
        (None, Trouble.NO_WELCOME),
        (Answer(0x01, Verdict.HELD, 0, 0), Trouble.HELD),
        (replace(WELCOME, base_version=2), Trouble.OTHER_VERSION),
    ],
)
def test_an_opening_that_fails_says_why_once_and_may_be_tried_again(said, trouble) -> None:
    bench = HostBench(opened=False)
    bench.host.open(0)
    bench.later(2999)
    heard = bench.hear(said) if said is not None else []
    heard += bench.later(1) + bench.later(10)
    assert [one.trouble for one in heard] == [trouble]
    assert bench.host.state is HostState.UNANSWERED
    bench.host.open(bench.now_ns)
    assert bench.sent() == [(0, Hello(1, TOKEN))]
    assert bench.hear(WELCOME) == [WELCOME]


def test_a_host_that_was_held_gets_in_when_the_other_lease_ends() -> None:
    bench = HostBench(opened=False)
    bench.host.open(0)
    bench.hear(Answer(0x01, Verdict.HELD, 0, 0))
    bench.later(1000)
    assert bench.sent() == [(0, Hello(1, TOKEN))]
    assert bench.hear(WELCOME) == [WELCOME]


def test_the_callers_illegal_moves_change_nothing() -> None:
    bench = HostBench(opened=False)
    with pytest.raises(LocalProtocolError):
        bench.send(START)
    bench.host.open(0)
    with pytest.raises(LocalProtocolError):
        bench.host.open(0)
    opened = HostBench()
    for wrong in (Alive(0, 1), Hello(1, 1), STATUS, "start", replace(START, revision=1 << 16)):
        with pytest.raises(LocalProtocolError):
            opened.send(wrong)
    assert opened.sent() == []
    for token in (0, 1 << 32):
        with pytest.raises(LocalProtocolError):
            HostEnd(token)


def test_the_table_has_a_way_to_every_state() -> None:
    assert set(HOST_TABLE.values()) | {HostState.NEW} == set(HostState)
    assert {step for _, step in HOST_TABLE} == set(HostStep)


# --- commands -------------------------------------------------------------------------------------


def test_one_command_at_a_time_in_order_numbered_from_1() -> None:
    bench = HostBench()
    first = bench.send(SettleNumber(0))
    second = bench.send(SetTarget(0, 3, 9, 5, 100, 5))
    assert first == SettleNumber(TOKEN) and second.token == TOKEN
    assert bench.sent() == [(1, first)]
    answer = Answer(0x13, Verdict.DONE, 5, 0)
    assert bench.hear(answer, 1) == [Answered(first, answer)]
    assert bench.sent() == [(2, second)]
    (answered,) = bench.answer(second, Verdict.WRONG_STATE, 2)
    assert answered.command is second and answered.answer.verdict is Verdict.WRONG_STATE


def test_an_unanswered_command_is_sent_again_unchanged_behind_a_zero() -> None:
    bench = HostBench()
    bench.send(START)
    first = bench.sent_bytes()
    for _ in range(9):
        bench.later(199)
        assert bench.sent_bytes() == b""
        bench.later(1)
        assert bench.sent_bytes() == b"\0" + first
    assert bench.host.resent == 9


def test_a_silent_board_is_reported_once_and_a_moving_command_then_brings_a_stop() -> None:
    bench = HostBench()
    command = bench.send(START)
    waiting = bench.send(SettleNumber(0))
    heard = []
    for _ in range(10):
        bench.sent()
        heard += bench.later(200)
    assert heard == [
        Troubled(Trouble.SILENT, "not answered after 10 sendings", command),
        Troubled(Trouble.WITHDRAWN, "the board is silent", waiting),
    ]
    assert bench.host.stopping
    assert [type(message) for _, message in bench.sent()] == [Stop, SettleNumber]


def test_after_silence_the_open_number_is_settled_before_the_next_command() -> None:
    bench = HostBench()
    bench.send(OpenWind(0, 3, 5, 9))
    for _ in range(10):
        bench.sent()
        bench.later(200)
    assert bench.sent() == [] and bench.host.next_deadline_ns() is None
    command = bench.send(SetTarget(0, 3, 9, 5, 100, 5))
    assert bench.sent() == [(1, SettleNumber(TOKEN))]
    assert bench.hear(Answer(0x13, Verdict.CONFLICT, 5, 0), 1) == []  # the first had arrived
    assert bench.sent() == [(2, command)]


def test_answers_that_belong_to_nothing_outstanding_are_ignored() -> None:
    bench = HostBench()
    assert bench.answer(START, Verdict.DONE, 1) == []
    command = bench.send(START)
    bench.sent()
    assert bench.answer(START, Verdict.DONE, 2) == []  # another number
    assert bench.answer(MOVE, Verdict.DONE, 1) == []  # another kind
    assert bench.hear(Answer(0x13, Verdict.DONE, 5, 0), 1) == []  # no question was asked
    assert bench.host.unasked == 4
    assert bench.answer(START, Verdict.DONE, 1)[0].command is command


@pytest.mark.parametrize("verdict", [Verdict.UNSUPPORTED, Verdict.MALFORMED])
def test_an_answer_that_used_up_no_number_leaves_it_for_the_next(verdict: Verdict) -> None:
    bench = HostBench()
    command = bench.send(START)
    bench.sent()
    assert bench.answer(START, verdict, 1)[0].command is command
    bench.send(SettleNumber(0))
    assert bench.sent() == [(1, SettleNumber(TOKEN))]


def test_numbers_wrap_from_255_to_1() -> None:
    bench = HostBench()
    for number in [*range(1, 256), 1]:
        bench.send(SettleNumber(0))
        assert bench.sent()[0][0] == number
        assert len(bench.answer(SettleNumber(0), Verdict.DONE, number)) == 1


# --- the session ends --------------------------------------------------------------------------------


@pytest.mark.parametrize("verdict", [Verdict.NO_SESSION, Verdict.CONFLICT])
def test_a_lost_session_is_reported_with_the_command_and_ends_all_sending(verdict) -> None:
    bench = HostBench()
    command = bench.send(START)
    waiting = bench.send(SettleNumber(0))
    bench.sent()
    heard = bench.answer(START, verdict, 1)
    assert [(one.trouble, one.command) for one in heard] == [
        (Trouble.SESSION_LOST, command),
        (Trouble.WITHDRAWN, waiting),
    ]
    with pytest.raises(LocalProtocolError):
        bench.send(START)
    with pytest.raises(LocalProtocolError):
        bench.host.open(0)
    bench.host.sign_of_life(bench.now_ns)
    assert bench.sent() == []


def test_another_boot_number_is_a_lost_session_told_before_the_status() -> None:
    bench = HostBench()
    heard = bench.hear_status(boot=4)
    assert heard[0] == Troubled(Trouble.SESSION_LOST, "the board was reset")
    assert isinstance(heard[1], Status)
    assert [type(one) for one in bench.hear_status(boot=4)] == [Status]  # told once
    by_welcome = HostBench()
    assert by_welcome.hear(replace(WELCOME, boot=4))[0].trouble is Trouble.SESSION_LOST


def test_a_stop_goes_out_even_without_a_session() -> None:
    for bench in (HostBench(opened=False), HostBench()):
        bench.hear_status(boot=4)
        bench.stop()
        assert bench.sent() == [(0, Stop())]


# --- signs of life, bytes ---------------------------------------------------------------------------------


def test_signs_of_life_rise_and_keep_their_distance() -> None:
    bench = HostBench()
    numbers = []
    for _ in range(100):
        bench.host.sign_of_life(bench.now_ns)
        numbers += [message.number for _, message in bench.sent()]
        bench.later(10)
    assert numbers == [1, 2, 3, 4, 5]  # five a second


def test_a_screen_that_hung_is_not_made_up_for() -> None:
    bench = HostBench()
    bench.host.sign_of_life(bench.now_ns)
    assert len(bench.sent()) == 1
    bench.later(5000)
    assert bench.sent() == []
    for _ in range(3):
        bench.host.sign_of_life(bench.now_ns)
    assert bench.sent() == [(0, Alive(TOKEN, 2))]


def test_nothing_that_comes_in_raises_and_all_of_it_is_counted() -> None:
    bench = HostBench()
    bench.now_ms = 7
    bad = bytearray(encode_message(STATUS))
    bad[5] ^= 1
    strange = encode_frame(0xEE, 0, b"?") + encode_frame(0x82, 0, b"short")
    foreign = encode_message(Hello(1, 5))
    heard = bench.host.receive(
        bytes(bad) + strange + b"x" * 200 + b"\0" + foreign + encode_message(STATUS), bench.now_ns
    )
    assert heard == [STATUS]
    assert (bench.host.frames_damaged, bench.host.unreadable) == (2, 2)
    assert bench.host.frames_good == 1 + 2 + 1 + 1
    assert bench.host.last_heard_ns == bench.now_ns


def test_bytes_may_come_one_at_a_time() -> None:
    bench = HostBench()
    heard = []
    for byte in encode_message(STATUS):
        heard += bench.host.receive(bytes((byte,)), 0)
    assert heard == [STATUS]
