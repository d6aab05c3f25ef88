"""The board's end by itself: sessions, numbers, and the order of refusals.

What is expected here is written from ``docs/design.md`` ("The board's rules") and the sentences in
``firmware_protocol/messages.py``, not from the code.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from pair import COUNTER_BOARD, THREE_LEGS
from raw_board import BOOT, TOKEN, WIND, RawBoard

from firmware_protocol.body import KeptRecord, Order
from firmware_protocol.framing import encode_frame
from firmware_protocol.messages import (
    Alive,
    Answer,
    CloseWind,
    Kept,
    Move,
    OpenWind,
    SettleNumber,
    Start,
    State,
    Verdict,
    Welcome,
)
from firmware_protocol.wire import LAYOUT_OF, REGISTER, pack

# --- sessions ---------------------------------------------------------------------------------


def test_a_hello_opens_a_session_and_the_same_hello_changes_nothing() -> None:
    bench = RawBoard(kept=KeptRecord(wind=4, count=-7, valid=True, at_rest=True))
    welcome = bench.hello()
    assert isinstance(welcome, Welcome)
    assert (welcome.token, welcome.boot, welcome.board) == (TOKEN, BOOT, "pair")
    assert (welcome.kept_wind, welcome.kept_count) == (4, -7)
    assert welcome.kept_flags == Kept.VALID | Kept.AT_REST
    revision = bench.board.revision
    assert bench.hello() == welcome
    assert bench.board.revision == revision


def test_another_host_is_held_off_while_the_lease_lives_and_not_after() -> None:
    bench = RawBoard()
    bench.hello()
    bench.live()
    revision = bench.board.revision
    bench.run(999)
    said = bench.hello(token=88)
    assert said == Answer(0x01, Verdict.HELD, revision, 0)
    bench.run(1)
    assert bench.hello(token=88).token == 88
    assert bench.verdict(SettleNumber(TOKEN), sequence=1) is Verdict.NO_SESSION


def test_another_base_version_is_told_ours_and_opens_nothing() -> None:
    bench = RawBoard()
    welcome = bench.hello(token=5, base_version=2)
    assert (welcome.base_version, welcome.token) == (1, 5)
    assert bench.verdict(SettleNumber(5), sequence=1) is Verdict.NO_SESSION


def test_a_hello_without_a_token_is_refused() -> None:
    assert RawBoard().hello(token=0) == Answer(0x01, Verdict.BAD_VALUE, 0, 1)


# --- numbers ----------------------------------------------------------------------------------


def test_the_same_number_with_the_same_content_is_answered_again_and_not_executed() -> None:
    bench = RawBoard()
    bench.hello()
    command = OpenWind(TOKEN, BOOT, bench.board.revision, WIND)
    first = bench.ask(command, sequence=1)
    assert first.verdict is Verdict.DONE
    bench.body.seen.count = 30
    assert bench.ask(command, sequence=1) == first
    assert bench.board.facts.count == 30  # not zeroed again


def test_a_refusal_is_remembered_too() -> None:
    bench = RawBoard()
    bench.arm()
    bench.body.seen.guard_open = True
    start = bench.make(Start, generation=1)
    assert bench.verdict(start) is Verdict.GUARD_OPEN
    bench.body.seen.guard_open = False
    assert bench.verdict(start, sequence=bench.sequence) is Verdict.GUARD_OPEN
    assert bench.board.state is State.ARMED


def test_other_content_or_another_number_is_a_conflict_and_leaves_the_memory_alone() -> None:
    bench = RawBoard()
    bench.hello()
    first = bench.ask(SettleNumber(TOKEN), sequence=1)
    other = CloseWind(TOKEN, 5, 0, 0)
    assert bench.verdict(other, sequence=1) is Verdict.CONFLICT
    for number in (0, 3, 255):
        assert bench.verdict(SettleNumber(TOKEN), sequence=number) is Verdict.CONFLICT
    assert bench.ask(SettleNumber(TOKEN), sequence=1) == first
    assert bench.verdict(SettleNumber(TOKEN), sequence=2) is Verdict.DONE


def test_numbers_wrap_from_255_to_1() -> None:
    bench = RawBoard()
    bench.hello()
    for _ in range(255):
        bench.ask(SettleNumber(TOKEN))
    assert bench.sequence == 255
    assert bench.verdict(SettleNumber(TOKEN), sequence=1) is Verdict.DONE
    assert bench.verdict(CloseWind(TOKEN, 5, 0, 0), sequence=1) is Verdict.CONFLICT


def test_a_wrong_token_uses_up_no_number() -> None:
    bench = RawBoard()
    bench.hello()
    assert bench.verdict(SettleNumber(78), sequence=1) is Verdict.NO_SESSION
    assert bench.verdict(SettleNumber(TOKEN), sequence=1) is Verdict.DONE


# --- the order of refusals ---------------------------------------------------------------------


def test_refusals_come_in_their_order() -> None:
    bench = RawBoard()
    bench.hello()
    bench.open_wind()
    right = dict(bench.beliefs(), counts=0, rate_mcps=0, accel_mcps2=0)
    kind = LAYOUT_OF[Move].kind
    # Everything is wrong at once; one thing after the other is put right.
    wrong = {"token": 1, "boot": 1, "wind": 1, "revision": 1}
    short = pack(Move(**{**right, **wrong}))[:-1]
    assert bench.unknown(kind, short, 9)[0][1].verdict is Verdict.MALFORMED
    assert bench.verdict(Move(**{**right, **wrong}), sequence=9) is Verdict.NO_SESSION
    wrong.pop("token")
    assert bench.verdict(Move(**{**right, **wrong}), sequence=9) is Verdict.CONFLICT
    for belief in ("boot", "wind", "revision"):
        assert bench.verdict(Move(**{**right, **wrong})) is Verdict.STALE
        wrong.pop(belief)
    assert bench.ask(Move(**right)) == Answer(kind, Verdict.BAD_VALUE, bench.board.revision, 4)
    assert bench.ask(Move(**{**right, "counts": 5})).detail == 5
    sound = {**right, "counts": 5, "rate_mcps": 1000, "accel_mcps2": 1}
    bench.body.seen.guard_open = True
    assert bench.verdict(Move(**sound)) is Verdict.NO_LEASE
    bench.live()
    assert bench.verdict(Move(**sound)) is Verdict.GUARD_OPEN
    bench.body.seen.guard_open = False
    assert bench.verdict(Move(**sound)) is Verdict.DONE
    # In motion the state is wrong before the value is.
    assert bench.verdict(Move(**{**right, "revision": bench.board.revision})) is Verdict.WRONG_STATE


def test_a_start_looks_at_guard_wire_and_guide_in_this_order() -> None:
    bench = RawBoard()
    bench.arm(tuple(replace(one, pitch_nm=60_000) for one in THREE_LEGS))
    bench.body.seen.guard_open = True
    bench.body.seen.wire_present = False
    assert bench.start() is Verdict.GUARD_OPEN
    bench.body.seen.guard_open = False
    assert bench.start() is Verdict.WIRE_LOST
    bench.body.seen.wire_present = True
    assert bench.start() is Verdict.NOT_REFERENCED
    assert bench.start(generation=2) is Verdict.BAD_VALUE
    assert bench.body.drive.order is Order.OFF


@pytest.mark.parametrize("kind", [k for k in REGISTER if k < 0x80 and REGISTER[k].group > 1])
def test_a_counter_answers_unsupported_to_what_it_has_not(kind: int) -> None:
    bench = RawBoard(COUNTER_BOARD)
    bench.hello()
    for payload in (b"", bytes(56)):
        ((sequence, said),) = bench.unknown(kind, payload, sequence=1)
        assert (sequence, said.to, said.verdict) == (1, kind, Verdict.UNSUPPORTED)
    assert bench.verdict(SettleNumber(TOKEN), sequence=1) is Verdict.DONE  # no number was used up


def test_unknown_kinds_are_unsupported_and_echoes_are_not_answered() -> None:
    bench = RawBoard()
    assert bench.unknown(0x7F, b"", 3)[0][1] == Answer(0x7F, Verdict.UNSUPPORTED, 0, 0)
    assert bench.unknown(0x82, bytes(56), 3) == []
    assert bench.unknown(0x83, bytes(8), 3) == []
    assert bench.unknown(LAYOUT_OF[Alive].kind, b"", 0) == []  # a sign of life is never answered


def test_a_longer_payload_is_read_to_the_known_length() -> None:
    bench = RawBoard()
    bench.hello()
    longer = encode_frame(0x13, 1, pack(SettleNumber(TOKEN)) + b"news")
    assert bench.give(longer)[0][1].verdict is Verdict.DONE
