"""The tap test, step by step: a person at the bench answers, one question at a time.

Steel pulled off a magnet's pole makes the coil on it give a kick, and a meter shows which way. With a compass
beside it that says how the coil is wound, whatever anybody remembers (``docs/pairs.md``, "The tap test").
"""

from __future__ import annotations

from collections.abc import Sequence

from winder.errors import UserMistake

ASKED = "ask"  # instead of the answers
TRIES = 3
COIL = """\
Tap test of one coil. Put it on its magnet, or on any magnet you can lay a screwdriver on.
Meter: lowest DC volts, or ohms on a digital meter. Red lead on the finish (F), black on the start (S)."""
JOINED = """\
Tap test of a joined pair. Leave it as it is soldered, the meter across its output: lowest DC volts, or
ohms on a digital meter. Leave both leads where they are until you have tapped both poles."""
EACH = """\
Tap test of a stack. Tap the pole at the string, the meter first on one coil alone, then on the other:
lowest DC volts, or ohms on a digital meter. Red lead on the finish (F), black on the start (S)."""
POLE = """\
Hold a compass near the pole{which}, not too close. A south pole draws the end of the needle that is
marked north; a north pole pushes it away. Which pole is it?"""
KICK = """\
Lay a screwdriver on the pole{which}, let the reading settle, then pull it off quickly.
Which way did the reading jump?"""
SIDE = "Which side of the coil is that pole on: the coil's top, or away from it?"
NEEDLE = "(A needle meter may have red negative on ohms: use its volts.)"


def ask(question: str, answers: Sequence[str]) -> str:
    """One of the answers, typed in full or by its first letters. ``UserMistake`` if none comes."""
    print(question)
    for _ in range(TRIES):
        try:
            said = input(f"  {' or '.join(answers)}: ").strip().casefold()
        except EOFError:
            break
        found = [answer for answer in answers if said and answer.startswith(said)]
        if len(found) == 1:
            return found[0]
    raise UserMistake(
        "no answer that could be used",
        where="tap test",
        remedy=f"answer {' or '.join(answers)}; or give it all at once, see --help",
    )


def ask_tap() -> str:
    """The reading of one coil, as one would type it at once."""
    print(COIL)
    pole = ask(POLE.format(which=""), ("north", "south"))
    side = ask(SIDE, ("top", "away"))
    print(NEEDLE)
    kick = ask(KICK.format(which=""), ("up", "down"))
    return f"tap, {kick}, {pole}" + (", top away" if side == "away" else "")


def ask_taps(*, stacked: bool, poles: str | None) -> tuple[str, str]:
    """Both kicks and both poles of a pair, as ``--taps`` and ``--poles`` have them."""
    print(EACH if stacked else JOINED)
    print(NEEDLE)
    names = (" of the first coil", " of the second coil")
    if poles is None:
        which = ("",) if stacked else names
        poles = ",".join(ask(POLE.format(which=each), ("north", "south")) for each in which)
    where = (", meter on the first coil", ", meter on the second coil") if stacked else names
    kicks = [ask(KICK.format(which=each), ("up", "down")) for each in where]
    return ",".join(kicks), poles
