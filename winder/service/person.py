"""What a person's words do at the simulated bench: the same hands press the keys and hold the wire.

Only words that the session took are followed, and only those that say what was done by hand: the wire is joined,
turns came off uncounted, the drill is taken up or laid down. On a board with a motor the drill's words mean nothing
here, for there the board moves. A simulated board in another process hears none of this.
"""

from __future__ import annotations

from winder.simulator.machine import SimulatedMachine
from winder.wind.model import Asked, Intent, TurnsOff

BEGINS = frozenset((Intent.START, Intent.CONTINUE))
LAYS_DOWN = frozenset((Intent.PAUSE, Intent.CUT, Intent.WIRE_BROKE, Intent.END_HERE, Intent.LEAVE))


class BenchPerson:
    """Call it with every intent that was taken."""

    def __init__(self, machine: SimulatedMachine) -> None:
        self._machine = machine
        if machine.drill is not None:
            machine.drill.listen()

    def __call__(self, asked: Asked) -> None:
        machine, intent = self._machine, asked.intent
        if intent is Intent.WIRE_JOINED:
            machine.join_wire()
        elif intent is Intent.TURNS_OFF:
            assert isinstance(asked.value, TurnsOff)
            machine.pull_off(asked.value.turns)
        elif machine.drill is None:
            return
        elif intent in BEGINS:
            machine.drill.begin()
        elif intent in LAYS_DOWN:
            machine.drill.lay_down()
