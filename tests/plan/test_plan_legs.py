"""The planner: what holds for every coil and machine, hand-worked plans, and refusals."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from plan_makers import coil, coils, machine, machines

from firmware_protocol.messages import COUNT_MAX, CREEP_RATE_LEAST_MCPS, EndAction, PlanLeg
from firmware_protocol.wire import pack
from winder.errors import UserMistake
from winder.plan.model import AtEnd, Plan
from winder.plan.motion import CREEP_RATE_LEAST_CPS
from winder.plan.planner import COUNTS_MAX, make_plan
from winder.recipe.model import AwgWire, Direction


def planned(some_coil, some_machine, **asked) -> Plan:
    """The plan, or no example where the planner refuses in words."""
    try:
        return make_plan(some_coil, some_machine, **asked)
    except UserMistake as trouble:
        assert trouble.remedy
        assume(False)
        raise


def leg_turns(plan: Plan) -> list[float]:
    ends = [0, *(leg.end_counts for leg in plan.legs)]
    return [(end - begun) / plan.counts_per_turn for begun, end in itertools.pairwise(ends)]


@given(coils(), machines(), st.integers(4, 9), st.integers(0, 20))
def test_ends_are_whole_turns_rising_to_exactly_the_target(a_coil, a_machine, legs_max, first):
    plan = planned(a_coil, a_machine, legs_max=legs_max, first_turn=first)
    assert 1 <= len(plan.legs) <= legs_max
    assert all(turns > 0 and turns == int(turns) for turns in leg_turns(plan))
    assert plan.legs[-1].end_counts == plan.target_counts
    assert plan.target_counts == (a_coil.turns - first) * a_machine.counts_per_turn
    assert [leg.at_end is AtEnd.COMPLETE for leg in plan.legs] == [False] * (len(plan.legs) - 1) + [
        True
    ]


@given(coils(), machines())
def test_every_pause_asked_for_ends_a_leg_and_nothing_else_pauses(a_coil, a_machine):
    plan = planned(a_coil, a_machine)
    paused = [
        leg.end_counts // plan.counts_per_turn for leg in plan.legs if leg.at_end is AtEnd.PAUSE
    ]
    assert paused == [turn for turn in a_coil.recipe.pause_at_turns if turn < a_coil.turns]


@given(coils(), machines(), st.one_of(st.none(), st.floats(100, 1e5)))
def test_speeds_keep_every_limit(a_coil, a_machine, edge_rate):
    plan = planned(a_coil, a_machine, edge_rate_max_cps=edge_rate)
    safe = 0.6 * (a_machine.braking_rpm_s or a_machine.coasting_rpm_s)
    for leg in plan.legs:
        assert 0 < leg.creep_rpm <= leg.speed_rpm <= a_machine.speed_rpm_max
        assert a_coil.recipe.speed_rpm is None or leg.speed_rpm <= a_coil.recipe.speed_rpm
        if edge_rate is not None:
            assert leg.speed_rpm * plan.counts_per_turn / 60 <= edge_rate
        assert leg.creep_rpm * plan.counts_per_turn / 60 >= 4 - 1e-9
        assert leg.acceleration_rpm_s <= min(a_machine.acceleration_rpm_s, safe) * (1 + 1e-12)


@given(coils(), machines())
def test_no_leg_is_entered_too_fast_to_stop_at_its_end(a_coil, a_machine):
    """From the fastest it can be moving, slowing at the leg's acceleration ends within the leg."""
    plan = planned(a_coil, a_machine)
    floor = 4 / plan.counts_per_turn  # turns/s; the board cannot do less
    entered = 0.0
    for leg, turns in zip(plan.legs, leg_turns(plan), strict=True):
        acceleration = leg.acceleration_rpm_s / 60
        speed = leg.speed_rpm / 60
        if leg.at_end is AtEnd.CONTINUE:
            entered = speed
            continue
        coast = leg.coast_counts / plan.counts_per_turn
        assert coast < turns
        assert entered**2 / (2 * acceleration) + coast <= turns or entered <= floor * 1.0001
        if speed > floor * 1.0001:
            there_and_back = (max(speed**2 - entered**2, 0) + speed**2) / (2 * acceleration)
            assert there_and_back + coast <= turns * 1.0001 + 1e-9
        entered = 0.0


@given(coils(), machines())
def test_a_stop_overruns_little_or_is_cut_early_enough(a_coil, a_machine):
    """Coasting from creep at the safe loss of speed: at most a quarter turn, or ends short."""
    plan = planned(a_coil, a_machine)
    safe = 0.6 * (a_machine.braking_rpm_s or a_machine.coasting_rpm_s) / 60
    for leg in plan.legs:
        if leg.at_end is AtEnd.CONTINUE:
            continue
        coast_turns = (leg.creep_rpm / 60) ** 2 / (2 * safe)
        if leg.coast_counts == 0:
            assert coast_turns <= 0.25 * (1 + 1e-9)
        else:
            assert 2 * coast_turns <= leg.coast_counts / plan.counts_per_turn * (1 + 1e-9)


@given(coils(), machines())
def test_every_leg_fits_the_boards_message(a_coil, a_machine):
    plan = planned(a_coil, a_machine)
    per_rpm = plan.counts_per_turn / 60 * 1000
    for index, leg in enumerate(plan.legs):
        packed = pack(
            PlanLeg(
                token=1,
                generation=1,
                index=index,
                end_action=EndAction[leg.at_end.name],
                spindle=plan.spindle,
                end_count=leg.end_counts,
                rate_mcps=round(leg.speed_rpm * per_rpm),
                accel_mcps2=round(leg.acceleration_rpm_s * per_rpm),
                creep_mcps=round(leg.creep_rpm * per_rpm),
                coast_counts=leg.coast_counts,
                pitch_nm=round(leg.pitch_m * 1e9),
                pitch_counts=plan.counts_per_turn,
                left_um=round(leg.left_m * 1e6),
                right_um=round(leg.right_m * 1e6),
                dwell_counts=leg.dwell_counts,
                scatter_seed=leg.scatter_seed,
            )
        )
        assert packed
        assert round(leg.creep_rpm * per_rpm) >= CREEP_RATE_LEAST_MCPS


def test_limits_are_the_protocols():
    assert COUNTS_MAX == COUNT_MAX
    assert CREEP_RATE_LEAST_CPS * 1000 == CREEP_RATE_LEAST_MCPS


def test_a_plain_wind_on_the_simulated_bench_as_worked_by_hand():
    """600 rpm/s from 1500 rpm: 25^2 / (2 x 10) = 31.25 turns; landing 32 + 10 turns before 5000."""
    plan = make_plan(coil(5000), machine())
    assert [(leg.name, leg.end_counts, leg.speed_rpm) for leg in plan.legs] == [
        ("bedding", 10 * 20, 120.0),
        ("body", (5000 - 42) * 20, 1500.0),
        ("landing", 5000 * 20, 300.0),
    ]
    assert {leg.acceleration_rpm_s for leg in plan.legs} == {600.0}
    assert {leg.creep_rpm for leg in plan.legs} == {60.0}
    assert {leg.coast_counts for leg in plan.legs} == {0}
    assert plan.spindle == 1 and plan.remarks == ()


def test_counter_clockwise_turns_the_spindle_the_other_way():
    assert make_plan(coil(direction=Direction.COUNTER_CLOCKWISE), machine()).spindle == -1


def test_going_on_counts_from_zero_again():
    plan = make_plan(coil(5000, pause_at_turns=(500, 2000)), machine(), first_turn=1000)
    assert plan.legs[-1].end_counts == 4000 * 20
    paused = [leg.end_counts for leg in plan.legs if leg.at_end is AtEnd.PAUSE]
    assert paused == [1000 * 20]  # turn 2000; turn 500 is wound already


def test_a_winding_too_narrow_to_traverse_is_laid_in_the_middle():
    plan = make_plan(coil(20, width_m=0.0001, height_m=0.01), machine())
    assert plan.legs[0].pitch_m == 0
    assert plan.legs[0].left_m == plan.legs[0].right_m == pytest.approx(0.00005)
    assert any("too narrow" in remark for remark in plan.remarks)


@pytest.mark.parametrize("legs_max", [3, 4, 5])
def test_with_few_legs_landing_goes_first_then_bedding(legs_max: int):
    some_coil = coil(5000, pause_at_turns=(1000, 2000))
    plan = make_plan(some_coil, machine(), legs_max=legs_max)
    names = [leg.name for leg in plan.legs]
    assert (
        names
        == {
            5: ["bedding", "body", "body", "body", "landing"],
            4: ["bedding", "body", "body", "body"],
            3: ["body", "body", "body"],
        }[legs_max]
    )
    assert any("no slow first turns" in remark for remark in plan.remarks) == (legs_max == 3)


def test_too_many_pauses_are_refused_with_how_many_fit():
    pauses = tuple(range(500, 5000, 500))
    with pytest.raises(UserMistake, match="9 pauses split the wind into 10 legs") as caught:
        make_plan(coil(5000, pause_at_turns=pauses), machine(), legs_max=8)
    assert "at most 7 pauses" in caught.value.remedy


def test_a_pause_beyond_the_last_turn_is_left_out_and_said():
    plan = make_plan(coil(5000, pause_at_turns=(5000, 6000)), machine())
    assert all(leg.at_end is not AtEnd.PAUSE for leg in plan.legs)
    assert sum("left out" in remark for remark in plan.remarks) == 2


def test_a_short_stretch_is_wound_slowly():
    """Speeding up and slowing down take half: v = sqrt(10 x 40 / 2) = 14.14 turns/s."""
    plan = make_plan(coil(5000, pause_at_turns=(1000, 1040)), machine())
    short = plan.legs[2]
    assert short.speed_rpm == pytest.approx(60 * math.sqrt(200))
    assert any(remark.startswith("turns 1001 to 1040: 848.5 rpm") for remark in plan.remarks)


def test_a_coil_of_three_turns_is_one_slow_leg():
    plan = make_plan(coil(3), machine())
    assert [(leg.name, leg.end_counts) for leg in plan.legs] == [("bedding", 60)]
    assert plan.legs[0].speed_rpm == 120.0


@pytest.mark.parametrize(
    ("the_coil", "the_machine", "asked", "words"),
    [
        (coil(5000, height_m=0.001), machine(), {}, "flanges are 1 mm high"),
        (coil(5000), machine(), {"first_turn": 5000}, "nothing to wind"),
        (coil(5000), machine(), {"first_turn": -1}, "nothing to wind"),
        (coil(5000), machine(), {"legs_max": 0}, "cannot hold a plan"),
        (coil(5000), machine(traverse_travel_m=0.009), {}, "guide travels 9 mm"),
        (coil(5000, speed_rpm=100.0), machine(counts_per_turn=1), {}, "100 rpm"),
        (coil(5000), machine(), {"edge_rate_max_cps": 3.0}, "cannot see its speed"),
        (
            coil(5000, pause_at_turns=(1000, 1002)),
            machine(counts_per_turn=1, braking_rpm_s=None),
            {},
            "from turn 1000 to 1002 there are 2 turns",
        ),
        (
            coil(600_000, wire=AwgWire(46, "single"), height_m=2.0),
            machine(counts_per_turn=2400),
            {},
            "board counts to",
        ),
        (
            coil(5000),
            machine(braking_rpm_s=None, coasting_rpm_s=0.0),
            {},
            "does not say how fast the spindle slows",
        ),
    ],
)
def test_what_cannot_be_wound_is_refused_in_words(the_coil, the_machine, asked, words: str):
    with pytest.raises(UserMistake, match=words) as caught:
        make_plan(the_coil, the_machine, **asked)
    assert caught.value.remedy and caught.value.where


def test_a_fit_at_the_edge_of_the_band_is_planned_with_a_word():
    tight = coil(5000)
    plan = make_plan(coil(5000, height_m=tight.build_m * 1.3), machine())
    assert any("may reach the flange" in remark for remark in plan.remarks)


def test_a_counter_without_motor_gets_one_leg_to_the_target():
    plan = make_plan(
        coil(5000, pause_at_turns=(1000,)),
        machine(motor=False, counts_per_turn=4),
        legs_max=0,
        edge_rate_max_cps=40.0,
    )
    (leg,) = plan.legs
    assert (leg.end_counts, leg.at_end) == (20_000, AtEnd.COMPLETE)
    assert leg.speed_rpm == 600.0 and leg.creep_rpm == 0
    assert any("no faster than 600 rpm" in remark for remark in plan.remarks)
    assert any("pauses are yours to make: at turn 1000" in remark for remark in plan.remarks)


def test_a_landing_is_planned_only_where_the_body_is_at_least_as_long():
    """50 turns: 40 after bedding, 14.1 turns/s, landing 21: no. 60: 15.8 turns/s, landing 23: yes."""
    assert [leg.name for leg in make_plan(coil(50), machine()).legs] == ["bedding", "body"]
    ends = [leg.end_counts // 20 for leg in make_plan(coil(60), machine()).legs]
    assert ends == [10, 37, 60]
