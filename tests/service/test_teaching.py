"""Machines of unknown figures are taught by a person whose hand errs by five degrees at each end."""

from __future__ import annotations

import pytest
from taught_machines import Hands, counter, driven, taught

from firmware_protocol.settings import Settings
from firmware_protocol.vocabulary import Sensor
from winder.clock import HandClock
from winder.errors import WinderError
from winder.links.simulated_link import SimulatedLink
from winder.machine.reader import read_machine_text
from winder.service.teaching.bench import TaughtBoard
from winder.service.teaching.dialogue import Kind, Question
from winder.service.teaching.lesson import teach
from winder.service.teaching.turns import Stretch, judge_turns
from winder.service.teaching.written import SAFE_SHARE, Learned, machine_text
from winder.simulator.build import RAD_S_PER_RPM, Build
from winder.simulator.machine import SimulatedMachine

TOLERANCE = 0.10

COUNTERS = {
    "a magnet": counter(1),
    "four magnets": counter(4),
    "a disc that knows the way": counter(36, sense=True),
    "a fine disc": counter(100),
    "a very fine disc": counter(400, sense=True),
    "a reed that bounces": counter(2, bounce_us=900),
}
MOTORS = {
    "twenty counts, a brake": driven(20),
    "no brake": driven(20, brake_nm=None),
    "no sense of direction": driven(20, direction_sense=False),
    "four counts": driven(4),
    "a hundred counts, a guide": driven(100, traverse_travel_m=0.1),
    "a heavy chuck": driven(40, inertia_kg_m2=1.5e-4, torque_limit_nm=0.035),
    "four hundred counts": driven(400, speed_rpm_max=900.0),
    "a weak motor": driven(20, no_load_rpm=1200.0),
    "a contact that bounces": driven(4, direction_sense=False, bounce_us=700),
}


@pytest.mark.parametrize("build", COUNTERS.values(), ids=COUNTERS)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_machine_without_a_motor_is_taught_in_three_questions(build, seed):
    learned, hands = taught(build, seed)
    assert learned.counts_per_turn == build.counts_per_turn
    assert learned.senses_direction == build.direction_sense
    assert len([kind for kind in hands.kinds if kind is not Kind.DONE]) == 3
    text = machine_text(learned, "a port", "a board")
    matters = [line for line in text.splitlines() if "=" in line]
    assert len(matters) <= 6 and not any("coasting" in line for line in matters)
    machine = read_machine_text(text, "taught.toml")
    assert not machine.motor and machine.counts_per_turn == build.counts_per_turn


@pytest.mark.parametrize("build", MOTORS.values(), ids=MOTORS)
def test_a_motor_is_taught_within_a_tenth(build):
    learned, hands = taught(build)
    assert learned.counts_per_turn == build.counts_per_turn, hands.told
    rpm_s = RAD_S_PER_RPM * build.inertia_kg_m2
    # Torque over inertia, friction at the middle of the stretch that was looked at.
    half = top_rpm(build) / 2 * RAD_S_PER_RPM
    friction_nm = build.coulomb_nm + build.viscous_nm_s * half
    per_count = 60 / build.counts_per_turn
    near(learned.speed_rpm_max, top_rpm(build), per_count)
    if build.brake_nm is None:
        assert learned.braking_rpm_s is None
        near(learned.coasting_rpm_s, friction_nm / rpm_s, per_count)
    else:
        assert learned.coasting_rpm_s is not None  # not seen, so on the cautious side, and said
        assert 0 < learned.coasting_rpm_s <= friction_nm / rpm_s
        assert any("on the cautious side" in line for line in hands.told)
        near(learned.braking_rpm_s, (friction_nm + build.brake_nm) / rpm_s, per_count)
    assert learned.acceleration_rpm_s is not None
    most = (build.torque_limit_nm - build.coulomb_nm) / rpm_s
    assert 0 < learned.acceleration_rpm_s <= SAFE_SHARE * most * (1 + TOLERANCE)
    told = read_machine_text(machine_text(learned, "a port", "a board"), "taught.toml")
    assert told.motor and told.steady_rpm == pytest.approx(learned.steady_rpm)
    board_knows(hands.machine._identity.settings, build, learned)


def board_knows(kept: Settings, build: Build, learned: Learned) -> None:
    """What was measured of the body is in its board, within a tenth or one count a second."""
    rpm_s = RAD_S_PER_RPM * build.inertia_kg_m2
    friction_nm = build.coulomb_nm + build.viscous_nm_s * top_rpm(build) / 2 * RAD_S_PER_RPM
    slows_s = top_rpm(build) / ((friction_nm + (build.brake_nm or 0.0)) / rpm_s)
    assert 1000 <= kept.cut_ms <= 2000
    near((kept.rest_ms - kept.cut_ms - 3000) / 1500, slows_s, 60 / build.counts_per_turn / 60)
    near(kept.rate_max_mcps / 1000, build.counts_per_s(top_rpm(build)), 1.0)
    if kept.sensor == Sensor.ONE_PULSE:
        period_us = 1e9 / kept.rate_max_mcps
        assert 0.4 * period_us < kept.least_period_us < 0.5 * period_us
        assert build.bounce_us <= kept.bounce_us <= max(2.5 * build.bounce_us, 0)
    if build.traverse_travel_m is not None:
        near(kept.travel_steps * kept.step_pm * 1e-9, build.traverse_travel_m * 1e3, 0.0)
        assert learned.travel_mm == pytest.approx(build.traverse_travel_m * 1e3, abs=0.1)


def top_rpm(build: Build) -> float:
    """Where the motor's pull is what friction takes: stall (1 - w / w0) = coulomb + viscous w."""
    no_load = build.no_load_rpm * RAD_S_PER_RPM
    freely = (build.stall_nm - build.coulomb_nm) / (build.stall_nm / no_load + build.viscous_nm_s)
    return min(freely / RAD_S_PER_RPM, build.speed_rpm_max)


def near(found: float | None, truly: float, one_count: float) -> None:
    assert found is not None
    assert abs(found - truly) <= max(TOLERANCE * truly, one_count), (found, truly)


def test_every_movement_was_agreed_to_before_it_was_made():
    with pytest.raises(WinderError, match="did not agree"):
        taught(driven(20), says={"fastest that the board drives": "no"})


@pytest.mark.parametrize("ratio", [0.67, 1.33, 0.93])
def test_a_belt_between_is_refused_with_the_reason(ratio):
    with pytest.raises(WinderError, match="belt"):
        taught(counter(20), ratio=ratio)


def test_a_printed_number_is_confirmed_by_turns_and_a_wrong_one_refused():
    learned, hands = taught(counter(400), printed="400")
    assert learned.counts_per_turn == 400
    assert len([q for q in hands.asked if "whole turns" in q]) == 2
    with pytest.raises(WinderError, match="not 100"):
        taught(counter(400), printed="100")


def test_without_a_printed_number_more_turns_are_asked_for_until_one_is_left():
    learned, hands = taught(counter(400))
    assert learned.counts_per_turn == 400
    made = [int(q.split("slowly, ")[1].split()[0]) for q in hands.asked if "whole turns" in q]
    assert sum(made) > 20, made


@pytest.mark.parametrize("counts", [1, 2, 3, 7, 20, 64, 100, 256, 400])
@pytest.mark.parametrize("error", [-10, -5, 0, 5, 10])
def test_the_true_number_is_never_ruled_out_and_no_other_one_taken(counts, error):
    """Ten degrees in all is the most that the hand may err; floor and ceiling are what a sensor may give."""
    stretches = []
    turns = 10
    for _ in range(6):
        true = (turns + error / 360) * counts
        stretches.append(Stretch(turns, int(true)))
        verdict = judge_turns(stretches)
        assert not verdict.refused or verdict.refused.startswith("after"), verdict
        if verdict.counts is not None:
            assert verdict.counts == counts
            return
        if verdict.refused:
            return
        turns = verdict.more
    raise AssertionError("no end of turns")


def test_nothing_is_learned_from_a_sensor_that_gives_nothing():
    with pytest.raises(WinderError, match="no count came"):
        taught(counter(20), ratio=0.0)


def test_a_sensor_that_counts_backward_is_told_with_the_remedy():
    with pytest.raises(WinderError, match="exchange its channels A and B"):
        taught(counter(20, sense=True), ratio=-1.0)


def test_a_guide_whose_steps_are_off_is_mended_in_the_board():
    learned, hands = taught(driven(100, traverse_travel_m=0.1), caliper_mm="19.0")
    assert any("it now knows how long they are" in line for line in hands.told)
    kept = hands.machine._identity.settings
    assert kept.step_pm == 2_500_000 * 19 // 20  # 400 steps made 19 mm for 20
    assert kept.travel_steps == round(0.1e12 / kept.step_pm)
    assert learned.travel_mm == 100


@pytest.mark.parametrize("step", range(3))
def test_leaving_at_any_question_learns_nothing(step):
    """A third of all questions each; with a guide, so that every step is among them."""
    build = driven(100, traverse_travel_m=0.1)
    questions = len(taught(build)[1].asked)
    for number in range(step, questions, 3):
        with pytest.raises(WinderError, match="left"):
            _leaving_at(build, number)


def _leaving_at(build, number: int):
    class Leaves(Hands):
        def ask(self, question: Question) -> str:
            return "leave" if len(self.asked) == number else super().ask(question)

    machine, clock = SimulatedMachine(build, 1), HandClock()
    board = TaughtBoard(SimulatedLink(machine, clock), clock, "sim")
    try:
        return teach(board, Leaves(machine))
    finally:
        board.close()
        assert not machine.moving and machine.wind == 0
