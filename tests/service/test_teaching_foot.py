"""Pedal and stop switch in a lesson: asked for at every teaching, whatever was said before, and tried by a foot."""

from __future__ import annotations

import pytest
from taught_machines import Hands, driven

from firmware_protocol.settings import Settings
from firmware_protocol.vocabulary import Wired
from winder.clock import HandClock
from winder.errors import WinderError
from winder.links.simulated_link import SimulatedLink
from winder.machine.reader import read_machine_text
from winder.service.teaching.bench import TaughtBoard
from winder.service.teaching.dialogue import Step
from winder.service.teaching.lesson import teach
from winder.service.teaching.writing import Refused
from winder.service.teaching.written import Learned, machine_text
from winder.simulator.machine import SimulatedMachine

STILL_SO = "Is that right?"
WIRED = {
    "The sensor: 1 for": "4",
    "Top speed for the spindle": "1500",
    "About how many counts": "20",
    "For how many seconds": "1.5",
    "while their pin is LOW": "",
    "step motor that guides": "no",
}


class Board(TaughtBoard):
    """Counts what is written into it; ``pins``: what it has pins for."""

    pins = Wired.GUARD | Wired.WIRE_SENSOR | Wired.PEDAL | Wired.STOP_INPUT
    writes = 0

    def write_settings(self, content: Settings) -> str | None:
        if Wired(content.inputs) & ~self.pins:
            return "inputs"
        self.writes += 1
        return super().write_settings(content)


class Bench:
    """One machine, taught as often as somebody likes."""

    def __init__(self, *, pins: Wired = Board.pins) -> None:
        self.machine = SimulatedMachine(driven(20), 1)
        self.clock = HandClock()
        self.pins = pins
        self.writes = 0

    def teach(self, *, anew: bool = False, **how) -> tuple[Learned, Hands]:
        says = how.pop("says", {}) | (WIRED if anew else {})
        hands = Hands(self.machine, says=says, **how)
        board = Board(SimulatedLink(self.machine, self.clock), self.clock, "sim")
        board.pins = self.pins
        try:
            return teach(board, hands, wiring=anew), hands
        finally:
            self.writes = board.writes
            board.close()

    @property
    def inputs(self) -> Wired:
        kept = self.machine._identity.settings.inputs
        return Wired(kept) & (Wired.PEDAL | Wired.STOP_INPUT)


def test_both_are_asked_of_a_board_that_knows_of_none_and_seen_and_written():
    bench = Bench()
    learned, hands = bench.teach(anew=True, pedal="yes", stop_switch="yes")
    assert bench.inputs == Wired.PEDAL | Wired.STOP_INPUT
    assert Step.FOOT in hands.steps and learned.pedal
    assert "The board sees the pedal pressed and let go." in hands.told
    assert "The board sees the stop switch pressed and pulled out." in hands.told
    assert read_machine_text(machine_text(learned, "p", "b"), "f").pedal


def test_who_said_no_is_asked_again_at_the_next_teaching_and_may_say_yes():
    bench = Bench()
    learned, hands = bench.teach(anew=True)
    assert not bench.inputs and not learned.pedal and Step.FOOT not in hands.steps
    learned, hands = bench.teach(says={STILL_SO: "no"}, pedal="yes")
    assert any("there is no foot pedal and no stop switch" in q for q in hands.asked)
    assert bench.inputs == Wired.PEDAL and learned.pedal and Step.FOOT in hands.steps
    # Asked of both questions with --wiring, too.
    learned, hands = bench.teach(anew=True, pedal="no", stop_switch="yes")
    assert bench.inputs == Wired.STOP_INPUT and not learned.pedal


def test_a_pedal_that_is_gone_is_unlearned():
    bench = Bench()
    bench.teach(anew=True, pedal="yes", stop_switch="yes")
    learned, hands = bench.teach(says={STILL_SO: "no"})
    assert any("there is a foot pedal and a stop switch" in q for q in hands.asked)
    assert not bench.inputs and not learned.pedal and Step.FOOT not in hands.steps


def test_what_is_still_so_is_not_written_again():
    bench = Bench()
    bench.teach(anew=True, pedal="yes")
    bench.teach(says={"Write these into": "no"})
    assert bench.inputs == Wired.PEDAL and bench.writes == 0


@pytest.mark.parametrize(
    ("pins", "left", "said"),
    [
        (Wired(0), Wired(0), "no pin for a foot pedal and a stop switch"),
        (Wired.PEDAL, Wired.PEDAL, "no pin for a stop switch"),
        (Wired.STOP_INPUT, Wired.STOP_INPUT, "no pin for a foot pedal:"),
    ],
)
def test_what_the_board_has_no_pin_for_is_left_out_and_told(pins, left, said):
    bench = Bench(pins=pins | Wired.GUARD | Wired.WIRE_SENSOR)
    learned, hands = bench.teach(anew=True, pedal="yes", stop_switch="yes")
    assert bench.inputs == left and learned.pedal is bool(left & Wired.PEDAL)
    assert any(said in line for line in hands.told)


def test_a_board_that_refuses_other_inputs_is_not_told_to_have_no_pedal():
    bench = Bench(pins=Wired.PEDAL | Wired.STOP_INPUT)  # the guard's pin is missing
    with pytest.raises(Refused, match="inputs"):
        bench.teach(anew=True, pedal="yes", stop_switch="yes")


def test_a_dead_pedal_is_tried_again_and_then_switched_off():
    bench = Bench()
    tried = {"does not see the pedal pressed": "no"}
    learned, hands = bench.teach(anew=True, pedal="yes", pedal_works=False, says=tried)
    assert not bench.inputs and not learned.pedal
    assert any("nothing starts by foot" in line for line in hands.told)
    assert "pedal" not in machine_text(learned, "p", "b")


def test_a_pedal_that_is_stuck_pressed_is_switched_off():
    class Stuck(Hands):
        def do(self, question) -> None:
            super().do(question)
            self.machine.body.pedal_pressed = True

    bench = Bench()
    bench.teach(anew=True, pedal="yes")
    hands = Stuck(bench.machine, says={"still sees the pedal pressed": "no"})
    board = TaughtBoard(SimulatedLink(bench.machine, bench.clock), bench.clock, "sim")
    learned = teach(board, hands)
    board.close()
    assert not learned.pedal and not bench.inputs


def test_a_stop_switch_that_is_not_seen_ends_the_lesson():
    bench = Bench()
    with pytest.raises(WinderError, match="does not see the stop switch: it would stop nothing"):
        bench.teach(
            anew=True, stop_switch="yes", stop_switch_works=False, says={"Try it again": "no"}
        )
    assert not bench.machine.moving and bench.machine.wind == 0
