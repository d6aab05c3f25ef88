"""Hands at the simulated bench, where nobody stands: so a lesson can be tried without a machine."""

from __future__ import annotations

from collections.abc import Callable

from winder.simulator.machine import SimulatedMachine

from .dialogue import Deed, Question

PAST_THE_MARK = 0.01  # of a turn: a hand never ends on an edge


def lend_hands(machine: SimulatedMachine) -> Callable[[Question], None]:
    """Does what a question wants done by hand, once it was answered."""

    def do(question: Question) -> None:
        body, deed = machine.body, question.deed
        if deed is Deed.TURN:
            machine.turn_by_hand(question.turns + PAST_THE_MARK)
        elif deed in (Deed.OPEN_GUARD, Deed.CLOSE_GUARD):
            body.guard_open = deed is Deed.OPEN_GUARD
        elif deed is Deed.GUIDE_LEFT:
            machine.put_guide_left()
        elif deed in (Deed.WIRE_OUT, Deed.WIRE_IN):
            body.wire_present = deed is Deed.WIRE_IN

    return do
