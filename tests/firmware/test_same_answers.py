"""The device end in Python and the one in C give the same bytes and ask the same of their bodies.

Two writers read one specification; whatever they understood differently shows here. Thousands of dialogues by
seed over a bad line; each step is compared byte for byte.
"""

from __future__ import annotations

import functools

import pytest
from host.core import needs_compiler
from host.dialogue import Tally, play
from host.scripted import ScriptedCore

from firmware_protocol.messages import Reason, State, Trip, Verdict

pytestmark = needs_compiler

DIALOGUES, STEPS, BLOCKS = 250, 90, 8


@functools.cache
def core() -> ScriptedCore:
    return ScriptedCore()


@pytest.mark.parametrize("block", range(BLOCKS))
def test_both_ends_give_the_same_answers(block):
    tally = Tally()
    for number in range(DIALOGUES):
        seed = block * DIALOGUES + number
        try:
            play(seed, core(), STEPS, tally)
        except AssertionError as difference:
            raise AssertionError(f"dialogue {seed}: {difference}") from None
    assert set(tally.states) == set(State), tally.states
    assert set(tally.trips) == set(Trip), tally.trips
    assert set(tally.reasons) == set(Reason), tally.reasons
    # HELD goes to a hello, and the first three use up no number; the rest are remembered answers.
    unnumbered = {Verdict.HELD, Verdict.UNSUPPORTED, Verdict.NO_SESSION, Verdict.CONFLICT}
    assert set(tally.verdicts) >= set(Verdict) - unnumbered - {Verdict.MALFORMED}, tally.verdicts
