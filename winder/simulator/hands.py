"""What somebody beside a simulated bench does by hand, as one line of text each, and what is true there.

A bench that is served on a port hears nothing that is typed at the program which winds. Who plays the person there
writes lines; each is done at once, or refused in one sentence and nothing has changed. Turns are of the spindle.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from typing import Any

from .carriage import Switch
from .machine import SimulatedMachine

TURNS_MOST = 1e6
TURNING = "the spindle is turning: wait until it rests"
NO_DRILL = "there is no drill here: this machine has a motor"
NO_LIMIT = (
    "there is no limit switch here: write limit_switch = true under [traverse] in the machine file"
)
NO_PEDAL = "there is no pedal here: write pedal = true under [spindle] in the machine file"


def _joined(machine: SimulatedMachine) -> str:
    machine.join_wire()
    return ""


def _broken(machine: SimulatedMachine) -> str:
    machine.break_wire()
    return ""


def _guard(machine: SimulatedMachine, *, is_open: bool) -> str:
    machine.open_guard(is_open=is_open)
    return ""


def _drill_on(machine: SimulatedMachine) -> str:
    if machine.drill is None:
        return NO_DRILL
    machine.drill.begin()
    return ""


def _drill_off(machine: SimulatedMachine) -> str:
    if machine.drill is None:
        return NO_DRILL
    machine.drill.lay_down()
    return ""


def _pressed(
    machine: SimulatedMachine, press: Callable[[SimulatedMachine, bool], None], *, pressed: bool
) -> str:
    """A foot on the pedal, a hand at the stop switch, or off it."""
    if not machine.build.pedal:
        return NO_PEDAL
    press(machine, pressed)
    return ""


def _bent(machine: SimulatedMachine, how: Switch) -> str:
    if not machine.build.limit_switch:
        return NO_LIMIT
    machine.bend_switch(how)
    return ""


def _pulled(machine: SimulatedMachine, turns: float) -> str:
    if machine.moving:
        return TURNING
    machine.pull_off(turns)
    return ""


def _turned(machine: SimulatedMachine, turns: float) -> str:
    if machine.moving:
        return TURNING
    machine.turn_by_hand(turns)
    return ""


DEEDS: dict[str, Callable[[SimulatedMachine], str]] = {
    "wire joined": _joined,
    "wire broken": _broken,
    "guard open": partial(_guard, is_open=True),
    "guard shut": partial(_guard, is_open=False),
    "drill on": _drill_on,
    "drill off": _drill_off,
    "pedal down": partial(_pressed, press=SimulatedMachine.press_pedal, pressed=True),
    "pedal up": partial(_pressed, press=SimulatedMachine.press_pedal, pressed=False),
    "stop pressed": partial(_pressed, press=SimulatedMachine.press_stop, pressed=True),
    "stop released": partial(_pressed, press=SimulatedMachine.press_stop, pressed=False),
    **{f"limit {how.name.lower()}": partial(_bent, how=how) for how in Switch},
}
NUMBERED: dict[str, Callable[[SimulatedMachine, float], str]] = {
    "pull off": _pulled,
    "turn on": _turned,
    "turn back": lambda machine, turns: _turned(machine, -turns),
}
LINES = (*DEEDS, *(f"{words} N" for words in NUMBERED))


def do_by_hand(machine: SimulatedMachine, line: str) -> str:
    """Do what a line says: "" if it was done, else why not."""
    words = " ".join(line.split())
    if words in DEEDS:
        return DEEDS[words](machine)
    name, _, number = words.rpartition(" ")
    if name not in NUMBERED:
        return f"say one of: {', '.join(LINES)}"
    turns = _turns_of(number)
    if turns is None:
        return f"'{number[:40]}' is not a number of turns; write it like: {name} 2.5"
    return NUMBERED[name](machine, turns)


def _turns_of(text: str) -> float | None:
    if not text.isascii() or not text.replace(".", "", 1).isdigit():
        return None
    turns = float(text)
    return turns if math.isfinite(turns) and 0 < turns <= TURNS_MOST else None


def truth_of(machine: SimulatedMachine) -> dict[str, Any]:
    """What is true at the bench now: turns by the spindle's angle, the rest as its board has it."""
    return {
        "t_s": round(machine.now_ns / 1e9, 3),
        "turns": round(machine.turns, 6),
        "counts": machine.count,
        "moving": machine.moving,
        "boot": machine.boot,
        "wind": machine.wind,
    }
