"""Foot pedal and stop switch: asked for at every teaching.

A board says only what is wired, so whoever said no the last time is asked again. What it has no pin for is told, and
not asked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from firmware_protocol.settings import Settings
from firmware_protocol.vocabulary import Wired

from .asking import yes
from .dialogue import Person

FOOT = Wired.PEDAL | Wired.STOP_INPUT
CALLED = {
    Wired.PEDAL: "a foot pedal",
    Wired.STOP_INPUT: "a stop switch",
    FOOT: "a foot pedal and a stop switch",
}


def foot_asked(person: Person, content: Settings, pins: Wired) -> Settings:
    """The same wiring, with what the person says of the two."""
    inputs = Wired(content.inputs) & ~FOOT
    if FOOT & ~pins:
        person.tell(f"This board has no pin for {CALLED[FOOT & ~pins]}: it does without.")
    if Wired.PEDAL & pins and yes(person, "Is there a foot pedal?"):
        inputs |= Wired.PEDAL
    if Wired.STOP_INPUT & pins and yes(person, "Is there a stop switch that the board reads?"):
        inputs |= Wired.STOP_INPUT
    return replace(content, inputs=int(inputs))


def foot_anew(person: Person, before: Settings, pins: Callable[[], Wired]) -> Settings:
    """What a board that was taught before says of the two, and whether it is still so."""
    known = CALLED.get(Wired(before.inputs) & FOOT, "no foot pedal and no stop switch")
    same = yes(person, f"By its settings there is {known}. Is that right?")
    return before if same else foot_asked(person, before, pins())
