"""Verbs that were spelled otherwise before: each answers with one line that names the new spelling.

Nothing is done in their place. A script that still says the old word is to be changed, not guessed at.
"""

from __future__ import annotations

from collections.abc import Sequence

from winder.errors import UserMistake

# What was typed after ``winder``, and what to type now.
OLD_SPELLINGS: dict[tuple[str, ...], str] = {
    ("lay",): "plan --compare-lays",
    ("bench", "check-profile"): "bench check FILE",
}
_TAKE_A_VALUE = frozenset({"--logbook", "--machine"})  # options that may stand before the verb


def refuse_old_spelling(words: Sequence[str]) -> None:
    """``UserMistake`` where the verb is spelled the old way; else nothing."""
    verbs = tuple(_verbs(words))
    for old, new in OLD_SPELLINGS.items():
        if verbs[: len(old)] == old:
            raise UserMistake(
                f"this is now: winder {new}",
                where=f"winder {' '.join(old)}",
                remedy=f"see winder {' '.join(verb_of(new))} --help",
            )


def verb_of(spelling: str) -> tuple[str, ...]:
    """The verb alone, without options and what stands for a file."""
    words = spelling.partition(" --")[0].split()
    return tuple(word for word in words if word.islower())


def _verbs(words: Sequence[str]) -> list[str]:
    """The words that are neither options before the verb nor their values."""
    found: list[str] = []
    skips = False
    for word in words:
        if skips:
            skips = False
        elif word.startswith("-") and not found:
            skips = word in _TAKE_A_VALUE
        else:
            found.append(word)
    return found
