"""What readings leave of the doubt, as a table and as JSON."""

from __future__ import annotations

from typing import Any

from winder.coil.known import (
    Known,
    expected_words,
    observation_words,
    ohm_words,
    target_words,
)
from winder.commands.plain_lines import print_lines
from winder.commands.plain_table import print_ruled


def print_known(known: Known) -> None:
    rows = [("nothing yet", "", ohm_words(known.ohm_before))]
    for told in known.told:
        words = observation_words(told.observation)
        rows.append(
            (
                words if told.made else f"would: {words}",
                expected_words(told.observation, told.expected),
                ohm_words(told.ohm_after),
            )
        )
    titles = ("known", "expected of it", "the coil's ohms at 20 C then")
    print_ruled(titles, rows, numbers=False)
    print_lines(*target_words(known))


def known_facts(known: Known) -> dict[str, Any]:
    """For other programs; documented with the sheet's fields."""
    off = known.take_off
    return {
        "readings": [
            {
                "reading": observation_words(told.observation),
                "made": told.made,
                "expected": told.expected.facts(),
                "resistance_ohm_20c": told.ohm_after.facts(),
            }
            for told in known.told
        ],
        "ohm_per_m": known.ohm_per_m.facts(),
        "resistance_ohm_20c": known.ohm.facts(),
        "turns_for_target": None
        if known.turns_for_target is None
        else known.turns_for_target.facts(),
        "wind_long_turns": known.wind_long_turns,
        "take_off_turns": None
        if off is None
        else {"nominal": off.turns, "low": off.low, "high": off.high, "whole": off.whole},
    }
