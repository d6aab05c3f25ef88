"""Every verb with its options, read from the parsers themselves: what completion and the reference are made of."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from firmware_protocol.records import dataclass


@dataclass(frozen=True, slots=True)
class Word:
    """An option, or a word in a place of its own (``names`` is empty then)."""

    names: tuple[str, ...]
    value: str  # what stands for its value in the help; "" for one that takes none
    choices: tuple[str, ...]
    means: str
    needed: bool


@dataclass(frozen=True, slots=True)
class Verb:
    """``path`` is what is typed after ``winder``; empty for ``winder`` alone."""

    path: tuple[str, ...]
    summary: str
    description: str
    epilog: str
    words: tuple[Word, ...]
    verbs: tuple[str, ...]  # that may follow

    @property
    def options(self) -> tuple[Word, ...]:
        return tuple(word for word in self.words if word.names)


def every_verb(
    parser: argparse.ArgumentParser, path: tuple[str, ...] = (), summary: str = ""
) -> Iterator[Verb]:
    """The verb of this parser and all below it, in the order of the help."""
    groups = [each for each in parser._actions if isinstance(each, argparse._SubParsersAction)]
    below = groups[0] if groups else None
    told = {each.dest: each.help or "" for each in below._choices_actions} if below else {}
    yield Verb(
        path,
        summary,
        parser.description or "",
        parser.epilog or "",
        tuple(_word(each) for each in parser._actions if each is not below),
        tuple(told),
    )
    for name in told:
        assert below is not None
        yield from every_verb(below.choices[name], (*path, name), told[name])


def _word(action: argparse.Action) -> Word:
    choices = tuple(str(each) for each in action.choices or ())
    takes = action.nargs != 0
    value = action.metavar or ("|".join(choices) if choices else action.dest.upper())
    needed = action.required if action.option_strings else action.nargs not in ("?", "*")
    means = (action.help or "").replace("%%", "%").replace("%(prog)s", "winder")
    return Word(
        tuple(action.option_strings), str(value) if takes else "", choices, means, bool(needed)
    )
