"""The steps of a lesson one by one: what each finds, what it does where nothing is found, and what stops it."""

from __future__ import annotations

import re

import pytest
from taught_machines import Hands, counter, driven, taught

from firmware_protocol.messages import State, Status
from firmware_protocol.settings import Settings
from firmware_protocol.vocabulary import Wired
from winder.clock import HandClock
from winder.errors import WinderError
from winder.links.simulated_link import SimulatedLink
from winder.service.teaching import motor
from winder.service.teaching.bench import TaughtBoard
from winder.service.teaching.dialogue import Kind, Question, Step
from winder.service.teaching.lesson import teach
from winder.simulator.build import Build
from winder.simulator.machine import SimulatedMachine

GUIDED = driven(100, traverse_travel_m=0.1)
WIRED = {
    "The sensor: 1 for": "4",
    "Top speed for the spindle": "1500",
    "About how many counts": "4",
    "For how many seconds": "1.5",
    "while their pin is LOW": "",
    "step motor that guides": "no",
}


def settings_of(hands: Hands) -> Settings:
    content = hands.machine._identity.settings
    assert content is not None
    return content


def test_each_machine_is_led_through_the_steps_that_it_has():
    assert taught(counter(4))[1].steps == [Step.NAME, Step.WIRING, Step.COUNTS, Step.DIRECTION]
    bounces = taught(counter(2, bounce_us=900))[1].steps
    assert bounces == [Step.NAME, Step.WIRING, Step.COUNTS, Step.BOUNCE, Step.DIRECTION]
    every = [step for step in Step if step not in (Step.BOUNCE, Step.DIRECTION)]
    assert taught(GUIDED)[1].steps == every
    bare = taught(driven(20, guard=False, wire_sensor=False))[1].steps
    assert bare == [step for step in every if step not in (Step.GUARD, Step.WIRE, Step.GUIDE)]


# --- agreed to, kept or measured again, stopped -----------------------------------------------------------


class Watching(Hands):
    """Nothing may have moved but after a yes to a movement, or a distance typed for the guide."""

    moved = 0

    def ask(self, question: Question) -> str:
        told = super().ask(question)
        self.agreed = question.kind is Kind.MOVE or "Lead the guide" in question.text
        return told

    def watch(self, status: Status | None) -> bool:
        if status is not None:
            assert self.agreed
            self.moved += 1
        return super().watch(status)


def lesson(build: Build, hands_class: type[Hands] = Hands, **how):
    machine, clock = SimulatedMachine(build, 1), HandClock()
    hands = hands_class(machine, **how)
    board = TaughtBoard(SimulatedLink(machine, clock), clock, "sim")
    try:
        return teach(board, hands), hands
    finally:
        board.close()
        assert not machine.moving and machine.wind == 0


def test_nothing_moves_but_what_was_agreed_to():
    assert lesson(GUIDED, Watching)[1].moved > 1000


@pytest.mark.parametrize("refused", range(6))
def test_no_to_any_movement_ends_the_lesson_at_rest(refused):
    class Refuses(Hands):
        def ask(self, question: Question) -> str:
            if question.kind is Kind.MOVE and self.kinds.count(Kind.MOVE) == refused:
                return "no"
            return super().ask(question)

    with pytest.raises(WinderError, match="you did not agree"):
        lesson(GUIDED, Refuses)


def test_what_was_found_is_measured_again_when_the_person_wants_it():
    once, twice = taught(driven(20))[1], taught(driven(20), keeps=["again", "keep", "a"])[1]
    for part, more in (("the fastest that the board drives", 1), ("slower and slower", 1)):
        counted = [len([q for q in hands.asked if part in q]) for hands in (once, twice)]
        assert counted[1] - counted[0] == more, part


def test_what_moves_can_be_stopped_and_measured_again():
    class StopsOnce(Hands):
        def watch(self, status: Status | None) -> bool:
            running = status is not None and abs(status.rate_mcps) > 200_000
            return not running or any("stopped it" in q for q in self.asked)

    learned, hands = lesson(driven(20), StopsOnce)
    assert learned.counts_per_turn == 20
    assert len([q for q in hands.asked if "You stopped it" in q]) == 1
    with pytest.raises(WinderError, match="you stopped it"):
        lesson(driven(20), StopsOnce, says={"You stopped it": "no"})


@pytest.mark.parametrize("lets", [1, 5, 15, 16, 17, 18, 20, 30, 60])
def test_a_stop_at_any_moment_of_the_slow_start_ends_the_lesson_at_rest(lets):
    with pytest.raises(WinderError, match="you stopped it"):
        lesson(driven(20), lets=lets)


# --- guard and wire ------------------------------------------------------------------------------------------


def test_a_guard_that_is_not_seen_is_tried_again_and_then_refused():
    with pytest.raises(
        WinderError, match="does not see it open: the guard's switch protects nobody"
    ):
        lesson(driven(20), guard_works=False, says={"Try it again": "no"})


def test_a_wire_sensor_that_sees_nothing_is_taken_off_the_board_and_that_is_said():
    _, hands = lesson(driven(20), wire_sensor_works=False, says={"Try it again": "no"})
    assert not settings_of(hands).inputs & Wired.WIRE_SENSOR
    assert settings_of(hands).inputs & Wired.GUARD
    assert any("on the cautious side. A broken wire will not stop" in t for t in hands.told)


# --- how slowly it still turns --------------------------------------------------------------------------------


def moving(*rates_mcps: int) -> list[Status]:
    return [status(rate) for rate in (0, *rates_mcps, 0)]


def status(rate_mcps: int) -> Status:
    values = dict.fromkeys(Status.__dataclass_fields__, 0)
    return Status(**values | {"state": State.SETTING_UP, "rate_mcps": rate_mcps})


def test_how_far_a_speed_strays_is_half_its_span_over_its_middle():
    assert motor.spread_of(moving(*[1000, 1000, 1200, 800, 1000, 1000, 1000])) == pytest.approx(0.2)
    assert motor.spread_of(moving(*[1000] * 9)) == 0
    assert motor.spread_of(moving(*[1000, 1000, 0, 0, 1000, 1000])) == 1  # it stood
    assert motor.spread_of([]) == 1


@pytest.mark.parametrize(
    ("spreads", "rpm", "cautious"),
    [
        ([0.1, 0.1, 0.1, 0.1, 0.1], 12.0, False),
        ([0.1, 0.1, 0.3], 96.0, False),
        ([0.1, 0.1, None], 96.0, False),  # it tripped
        ([0.4], 192.0, True),
        ([None], 192.0, True),
    ],
)
def test_the_slowest_even_speed_is_the_last_before_one_that_is_not(
    monkeypatch, spreads, rpm, cautious
):
    left = list(spreads)
    monkeypatch.setattr(motor, "_spread_at", lambda *_: left.pop(0))
    learned, hands = lesson(driven(20))
    assert learned.steady_rpm == rpm and not left
    said = any("No slower speed was even" in line for line in hands.told)
    assert said is cautious


def test_the_speed_that_was_found_steady_is_so_by_the_true_spindle():
    learned, hands = lesson(driven(20))
    machine, clock = SimulatedMachine(hands.machine.build, 2), HandClock()
    board = TaughtBoard(SimulatedLink(machine, clock), clock, "sim")
    seen: list[float] = []

    def watch(newest: Status | None) -> bool:
        if newest is not None and newest.count > 10:
            seen.append(machine.body.spindle.speed)
        return True

    board.watch = watch
    rate = round(learned.steady_rpm * 20 / 60 * 1000)
    board.fresh_wind()
    board.move(lambda: board.make(motor.Move, counts=40, rate_mcps=rate, accel_mcps2=rate), 60.0)
    board.close()
    middle = seen[len(seen) // 4 : -len(seen) // 4]
    assert (max(middle) - min(middle)) / (max(middle) + min(middle)) < motor.STEADY_SHARE


# --- bounce ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("truly_us", [150, 700, 1500, 6000])
def test_a_bounce_is_measured_between_two_times_and_written(truly_us):
    _, hands = lesson(counter(2, bounce_us=truly_us))
    assert truly_us <= settings_of(hands).bounce_us <= 2.5 * truly_us
    found = next(line for line in hands.told if "contacts bounce for" in line)
    low, high = re.findall(r"for (\d+) to (\d+) us", found)[0]
    assert int(low) <= truly_us <= int(high)


def test_a_bounce_longer_than_the_speed_leaves_room_for_is_told_and_the_most_is_written():
    _, hands = lesson(counter(4, bounce_us=20_000))
    kept = settings_of(hands)
    assert kept.bounce_us == kept.least_period_us > 0
    assert any("on the cautious side. Put a capacitor" in line for line in hands.told)


def test_two_channels_have_their_filter_measured():
    _, hands = lesson(counter(36, sense=True, bounce_us=9))
    assert 9 <= settings_of(hands).filter_us <= 31 and settings_of(hands).bounce_us == 0


# --- guide -----------------------------------------------------------------------------------------------------


def test_a_guide_led_beyond_its_end_is_stopped_by_the_board_and_its_travel_is_that():
    class TooFar(Hands):
        def lead(self, question: str) -> str:
            led = super().lead(question)
            return "30" if not led and "right end" in question and not self.over() else led

        def over(self) -> bool:
            return any("end of its travel" in q for q in self.asked)

    learned, hands = lesson(GUIDED, TooFar)
    assert learned.travel_mm == pytest.approx(100.0)
    assert any("as far as the board lets it go" in line for line in hands.told)


def test_a_guide_and_a_caliper_that_disagree_at_the_flanges_are_told():
    _, hands = lesson(GUIDED, says={"between the flanges": "8.4"})
    assert any("0.40 mm apart" in line for line in hands.told)
    assert any("Look for play" in line for line in hands.told)
    _, hands = lesson(GUIDED, says={"between the flanges": ""})
    assert any("Not tried" in line for line in hands.told)


# --- what goes back into the board -------------------------------------------------------------------------------


def test_no_leaves_the_boards_figures_as_they_were():
    _, hands = lesson(driven(20), says={"Write these into the board": "no"})
    assert settings_of(hands).cut_ms == 2000
    assert any("keeps its figures as they were" in line for line in hands.told)


def test_each_figure_is_told_as_it_was_and_as_it_will_be_before_it_is_written():
    before = settings_of(Hands(SimulatedMachine(driven(20), 1)))
    _, hands = lesson(driven(20))
    after = settings_of(hands)
    assert f"cut time: {before.cut_ms} ms now, {after.cut_ms} as measured." in hands.told
    assert f"rest time: {before.rest_ms} ms now, {after.rest_ms} as measured." in hands.told
    assert hands.told[-1] == "Written into the board and read back."


def test_a_wrong_guess_of_the_counts_is_corrected_in_the_boards_speeds():
    learned, hands = taught(driven(20), wiring=True, says=WIRED)
    assert learned.counts_per_turn == 20 and learned.speed_rpm_max == pytest.approx(1500, rel=0.1)
    assert settings_of(hands).rate_max_mcps == pytest.approx(500_000, rel=0.1)
