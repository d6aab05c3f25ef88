"""How a plan gets into a board: leg by leg, checked, proved by its checksum, in force only then."""

from __future__ import annotations

import zlib
from dataclasses import replace

import pytest
from pair import COUNTS_PER_MS, FULL_BOARD, THREE_LEGS, TWO_LEGS, leg
from raw_board import TOKEN, RawBoard, legs_of

from firmware_protocol.device_plan import checksum_of, leg_at
from firmware_protocol.framing import encode_message
from firmware_protocol.messages import (
    COUNT_MAX,
    NO_LEG,
    CloseWind,
    EndAction,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    State,
    Verdict,
)
from firmware_protocol.wire import LAYOUT_OF, pack


def with_wind() -> RawBoard:
    bench = RawBoard()
    bench.hello()
    bench.open_wind()
    return bench


def give_leg(bench: RawBoard, one: PlanLeg):
    return bench.ask(replace(one, token=TOKEN))


def name_of(detail: int) -> str:
    return LAYOUT_OF[PlanLeg].fields[detail].name


UNSOUND_FIRST_LEGS = [
    ("generation", {"generation": 2}),
    ("index", {"index": 1}),
    ("end_action", {"end_action": EndAction.COMPLETE}),  # not the last
    ("end_action", {"end_action": 3}),
    ("spindle", {"spindle": 0}),
    ("spindle", {"spindle": 2}),
    ("end_count", {"end_count": 0}),
    ("end_count", {"end_count": COUNT_MAX + 1}),
    ("rate_mcps", {"rate_mcps": 0}),
    ("rate_mcps", {"rate_mcps": FULL_BOARD.rate_max_mcps + 1}),
    ("accel_mcps2", {"accel_mcps2": 0}),
    ("creep_mcps", {"creep_mcps": 0}),
    ("creep_mcps", {"creep_mcps": 3999}),  # fewer than four edges a second
    ("creep_mcps", {"creep_mcps": 2_000_001}),  # faster than the leg
    ("pitch_counts", {"pitch_counts": 0}),
    ("right_um", {"left_um": 5001}),
]


@pytest.mark.parametrize("field, change", UNSOUND_FIRST_LEGS, ids=str)
def test_an_unsound_leg_is_refused_by_the_name_of_its_field(field: str, change: dict) -> None:
    bench = with_wind()
    bench.begin(legs=2)
    said = give_leg(bench, replace(TWO_LEGS[0], **change))
    assert (said.verdict, name_of(said.detail)) == (Verdict.BAD_VALUE, field)
    # Nothing of it stayed: the sound leg is still the first.
    assert give_leg(bench, TWO_LEGS[0]).verdict is Verdict.DONE


@pytest.mark.parametrize(
    "field, second",
    [
        ("index", leg(0, 1000, EndAction.PAUSE)),
        ("end_action", leg(1, 1000, EndAction.PAUSE)),  # the last must complete
        ("spindle", leg(1, 1000, EndAction.COMPLETE, spindle=-1)),
        ("end_count", leg(1, 400, EndAction.COMPLETE)),  # does not rise
    ],
    ids=str,
)
def test_a_leg_must_fit_the_one_before(field: str, second: PlanLeg) -> None:
    bench = with_wind()
    bench.begin(legs=2)
    give_leg(bench, TWO_LEGS[0])
    said = give_leg(bench, second)
    assert (said.verdict, name_of(said.detail)) == (Verdict.BAD_VALUE, field)


def test_a_slow_leg_may_creep_at_its_own_speed_and_no_slower() -> None:
    bench = with_wind()
    bench.begin(legs=1)
    slow = leg(0, 100, EndAction.COMPLETE, rate_mcps=1500, creep_mcps=1499)
    assert name_of(give_leg(bench, slow).detail) == "creep_mcps"
    assert give_leg(bench, replace(slow, creep_mcps=1500)).verdict is Verdict.DONE


def test_a_board_without_a_traverse_takes_no_pitch() -> None:
    bench = RawBoard(replace(FULL_BOARD, groups=(1, 1, 0, 1, 0, 0)))
    bench.hello()
    bench.open_wind()
    bench.begin(legs=1)
    said = give_leg(bench, leg(0, 100, EndAction.COMPLETE, pitch_nm=1))
    assert name_of(said.detail) == "pitch_nm"


def test_a_leg_too_many_is_refused() -> None:
    bench = with_wind()
    bench.begin(legs=1)
    give_leg(bench, leg(0, 100, EndAction.COMPLETE))
    said = give_leg(bench, leg(1, 200, EndAction.PAUSE))
    assert name_of(said.detail) == "index"


def test_only_a_whole_plan_with_the_hosts_checksum_comes_into_force() -> None:
    bench = with_wind()
    assert give_leg(bench, TWO_LEGS[0]).verdict is Verdict.PLAN_INCOMPLETE
    commit = bench.make(PlanCommit, generation=1, checksum=0)
    assert bench.verdict(commit) is Verdict.PLAN_INCOMPLETE
    bench.begin(legs=2)
    give_leg(bench, TWO_LEGS[0])
    assert bench.verdict(commit) is Verdict.PLAN_INCOMPLETE
    give_leg(bench, TWO_LEGS[1])
    assert bench.ask(replace(commit, generation=2)).verdict is Verdict.BAD_VALUE
    said = bench.ask(commit)
    payloads = b"".join(pack(one)[4:] for one in TWO_LEGS)  # without the four bytes of token
    assert (said.verdict, said.detail) == (Verdict.WRONG_CHECKSUM, zlib.crc32(payloads))
    assert bench.board.state is State.STILL and bench.board.generation == 0
    assert bench.verdict(replace(commit, checksum=said.detail)) is Verdict.DONE
    assert (bench.board.state, bench.board.generation) == (State.ARMED, 1)


def test_the_checksum_takes_no_notice_of_tokens() -> None:
    assert checksum_of(TWO_LEGS) == checksum_of(tuple(replace(one, token=9) for one in TWO_LEGS))
    assert checksum_of(TWO_LEGS) != checksum_of(legs_of(TWO_LEGS, 2))


@pytest.mark.parametrize(
    "field, values",
    [
        ("generation", {"generation": 0, "legs": 2}),
        ("generation", {"generation": 1, "legs": 2}),  # that of the plan in force
        ("legs", {"generation": 2, "legs": 0}),
        ("legs", {"generation": 2, "legs": 9}),
    ],
)
def test_a_plan_needs_a_new_generation_and_legs_that_fit(field: str, values: dict) -> None:
    bench = RawBoard()
    bench.arm()
    said = bench.ask(bench.make(PlanBegin, **values))
    assert said.verdict is Verdict.BAD_VALUE
    assert LAYOUT_OF[PlanBegin].fields[said.detail].name == field


def test_the_plan_in_force_stays_until_the_new_one_is_whole() -> None:
    bench = RawBoard()
    bench.arm()
    bench.begin(legs=3, generation=2)
    give_leg(bench, replace(THREE_LEGS[0], generation=2))
    assert bench.start() is Verdict.DONE
    assert len(bench.body.drive.legs) == 2


def test_no_plan_is_loaded_without_a_wind_or_in_motion() -> None:
    bench = RawBoard()
    bench.hello()
    assert bench.begin(legs=1).verdict is Verdict.WRONG_STATE
    bench.open_wind()
    bench.load()
    bench.live()
    bench.start()
    assert bench.begin(legs=1, generation=2).verdict is Verdict.WRONG_STATE


def test_a_new_session_or_a_closed_wind_forgets_a_half_loaded_plan() -> None:
    bench = with_wind()
    bench.begin(legs=2)
    bench.hello(token=TOKEN + 1)
    bench.hello(token=TOKEN)
    assert give_leg(bench, TWO_LEGS[0]).verdict is Verdict.PLAN_INCOMPLETE
    bench.begin(legs=2)
    bench.verdict(bench.make(CloseWind))
    bench.open_wind(10)
    assert give_leg(bench, TWO_LEGS[0]).verdict is Verdict.PLAN_INCOMPLETE


def test_a_plan_replaced_at_the_end_lets_the_wind_go_on() -> None:
    bench = RawBoard()
    bench.arm((leg(0, 100, EndAction.COMPLETE),))
    bench.start()
    bench.run(100 // COUNTS_PER_MS + 50, alive=True)
    assert bench.board.state is State.COMPLETE
    bench.load((leg(0, 60, EndAction.COMPLETE),), generation=2)  # already passed
    assert bench.board.state is State.PAUSED
    assert bench.start(generation=2) is Verdict.WRONG_STATE
    bench.load((leg(0, 140, EndAction.COMPLETE),), generation=3)
    assert bench.start(generation=3) is Verdict.DONE


def test_the_current_leg_is_the_first_whose_end_lies_beyond_the_count() -> None:
    for count, index in ((-5, 0), (0, 0), (99, 0), (100, 1), (399, 1), (400, 2), (999, 2)):
        assert leg_at(THREE_LEGS, count) == index
    assert leg_at(THREE_LEGS, 1000) == NO_LEG
    assert leg_at((), 0) == NO_LEG


def test_a_leg_fits_a_frame_to_the_last_byte_but_few() -> None:
    assert len(encode_message(replace(TWO_LEGS[0], token=0xFFFF_FFFF), 255)) <= 64
