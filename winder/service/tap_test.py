"""What a person is told and asked in a tap test, on the screen and without one (``docs/pairs.md``).

Steel pulled off a magnet's pole makes the coil on it give a kick, and a meter shows which way. With a compass
beside it that says how the coil is wound, whatever anybody remembers.
"""

from __future__ import annotations

from firmware_protocol.records import dataclass

METER = """\
Meter: lowest DC volts, or ohms on a digital meter
(a needle meter may have red negative on ohms)."""
COIL = f"""\
Tap test of one coil. Put it on its magnet, or on any
magnet you can lay a screwdriver on.
{METER}
Red lead on the finish (F), black on the start (S)."""
JOINED = f"""\
Tap test of a joined pair. Leave it soldered as it is, and
keep the meter across its output the same way round for both taps.
{METER}"""
EACH = f"""\
Tap test of a stack. Tap the pole at the string, the meter
first on one coil alone, then on the other.
{METER}
Red lead on the finish (F), black on the start (S)."""
POLE = """\
Hold a compass near the pole{which},
not too close. A south pole draws the end of the needle
that is marked north, a north pole pushes it away.
Which pole is it?"""
KICK = """\
Lay a screwdriver on the pole{which},
let the reading settle, then pull it off quickly.
Which way did the reading jump?"""
SIDE = """\
Which side of the coil is that pole on?
(top: the face you called the top when you wound it)"""
POLES, KICKS, SIDES = ("north", "south"), ("up", "down"), ("top", "away")
COILS = (" of the first coil", " of the second coil")
METERS = (", meter on the first coil", ", meter on the second coil")


@dataclass(frozen=True, slots=True)
class Question:
    words: str
    answers: tuple[str, ...]


def coil_questions() -> tuple[Question, ...]:
    """Pole, side and kick of one coil."""
    return (
        Question(f"{COIL}\n\n{POLE.format(which='')}", POLES),
        Question(SIDE, SIDES),
        Question(KICK.format(which=""), KICKS),
    )


def coil_reading(pole: str, side: str, kick: str) -> str:
    """The answers as a reading is typed."""
    return f"tap, {kick}, {pole}" + (", top away" if side == "away" else "")


def pair_questions(*, stacked: bool, poles_known: bool) -> tuple[Question, ...]:
    """The poles first, where nobody told them yet and they count; then both kicks."""
    poles = () if stacked or poles_known else COILS
    first, *rest = (
        *(Question(POLE.format(which=each), POLES) for each in poles),
        *(Question(KICK.format(which=each), KICKS) for each in (METERS if stacked else COILS)),
    )
    return (Question(f"{EACH if stacked else JOINED}\n\n{first.words}", first.answers), *rest)
