"""The device end in Python and the one in C give the same bytes and ask the same of their bodies.

Two writers read one specification; whatever they understood differently shows here. Thousands of dialogues by
seed over a bad line; each step is compared byte for byte.
"""

from __future__ import annotations

import functools

import pytest
from emulator.rp2040_scripted import Rp2040Scripted
from emulator.rp2040_tools import needs_rp2040_tools
from host.core import needs_compiler
from host.dialogue import Tally, play
from host.scripted import ScriptedCore

from firmware_protocol.messages import Reason, State, Trip, Verdict

pytestmark = needs_compiler

DIALOGUES, STEPS, BLOCKS = 250, 90, 8
DIALOGUES_ON_CHIP = 12


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


@needs_rp2040_tools
def test_the_chips_own_code_gives_them_too():
    """The same dialogues, but the C end is compiled for the RP2040's core and runs in its emulator. A few of them; by
    ``python -m tests.campaigns.rp2040_answers NUMBER`` as many as you like."""
    chip, tally = Rp2040Scripted(), Tally()
    try:
        for seed in range(DIALOGUES_ON_CHIP):
            play(seed, chip, STEPS, tally)
    finally:
        chip.close()
    assert set(tally.states) == set(State), tally.states
