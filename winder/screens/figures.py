"""Big figures and block letters, drawn by us pixel by pixel.

A terminal cell is about twice as high as wide, so half a cell is a square: every glyph is a small
picture of ``#`` and ``.`` whose rows are folded in pairs into upper and lower half blocks. All
digits of one size have one width, so that a running count does not jump. Only block elements leave
this file; every common terminal font has them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

_LARGE = """
.######. ...####. .######. .######. ##....## ######## .######. ######## .######. .######.
######## ..#####. ######## ######## ##....## ######## ######## ######## ######## ########
##....## .###.##. ##....## ##....## ##....## ##...... ##....## ......## ##....## ##....##
##....## .##..##. ......## ......## ##....## ##...... ##...... .....### ##....## ##....##
##....## .....##. ......## ......## ##....## ##...... ##...... .....##. ##....## ##....##
##....## .....##. .....### ......## ##....## #######. ##...... ....###. ##....## ##....##
##....## .....##. ....###. ..#####. ######## ######## #######. ....##.. .######. ########
##....## .....##. ...###.. ..#####. ######## ......## ######## ...###.. .######. .#######
##....## .....##. ..###... ......## ......## ......## ##....## ...##... ##....## ......##
##....## .....##. .###.... ......## ......## ......## ##....## ..###... ##....## ......##
##....## .....##. ###..... ......## ......## ......## ##....## ..##.... ##....## ......##
##....## .....##. ##...... ##....## ......## ##....## ##....## ..##.... ##....## ##....##
######## ######## ######## ######## ......## ######## ######## ..##.... ######## ########
.######. ######## ######## .######. ......## .######. .######. ..##.... .######. .######.
"""

_MIDDLE = """
.####. ..###. .####. .####. ##..## ###### .####. ###### .####. .####.
###### .####. ###### ###### ##..## ###### ###### ###### ###### ######
##..## ##.##. ##..## ##..## ##..## ##.... ##..## ....## ##..## ##..##
##..## ...##. ....## ....## ##..## ##.... ##.... ...##. ##..## ##..##
##..## ...##. ...### ..###. ###### #####. #####. ...##. .####. ######
##..## ...##. ..###. ..###. ###### .##### ###### ..##.. .####. .#####
##..## ...##. .###.. ....## ....## ....## ##..## ..##.. ##..## ....##
##..## ...##. ###... ##..## ....## ##..## ##..## .##... ##..## ##..##
###### ###### ###### ###### ....## ###### ###### .##... ###### ######
.####. ###### ###### .####. ....## .####. .####. .##... .####. .####.
"""

_SMALL = """
.###. .##.. .###. .###. ##.## ##### .###. ##### .###. .###.
##.## ###.. ##.## ##.## ##.## ##... ##... ...## ##.## ##.##
##.## .##.. ...## ..##. ##### ####. ####. ..##. .###. ##.##
##.## .##.. ..##. ...## ...## ...## ##.## ..##. ##.## .####
##.## .##.. .##.. ##.## ...## ##.## ##.## .##.. ##.## ...##
.###. ####. ##### .###. ...## .###. .###. .##.. .###. .###.
"""

_LETTERS = (
    (
        "ABCDEFGHIJKLM",
        """
.###. ####. .#### ####. ##### ##### .#### ##.## #### ...## ##.## ##... ##...##
##.## ##.## ##... ##.## ##... ##... ##... ##.## .##. ...## ##.## ##... ###.###
##.## ####. ##... ##.## ####. ####. ##.## ##### .##. ...## ####. ##... #######
##### ##.## ##... ##.## ##... ##... ##.## ##.## .##. ...## ####. ##... ##.#.##
##.## ##.## ##... ##.## ##... ##... ##.## ##.## .##. ##.## ##.## ##... ##...##
##.## ####. .#### ####. ##### ##... .#### ##.## #### .###. ##.## ##### ##...##
""",
    ),
    (
        "NOPQRSTUVWXYZ",
        """
##..## .###. ####. .###. ####. .#### ###### ##.## ##.## ##...## ##.## ##..## #####
###.## ##.## ##.## ##.## ##.## ##... ..##.. ##.## ##.## ##...## ##.## ##..## ...##
###### ##.## ##.## ##.## ##.## .###. ..##.. ##.## ##.## ##.#.## .###. .####. ..##.
##.### ##.## ####. ##.## ####. ...## ..##.. ##.## ##.## ####### .###. ..##.. .##..
##..## ##.## ##... ##.## ##.## ...## ..##.. ##.## .###. ###.### ##.## ..##.. ##...
##..## .###. ##... .#### ##.## ####. ..##.. .###. ..#.. ##...## ##.## ..##.. #####
""",
    ),
)

_HALVES = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}


def _fold(picture: str) -> list[list[str]]:
    """The glyphs of one picture: for each, its rows of half blocks."""
    rows = [line.split(" ") for line in picture.strip("\n").splitlines()]
    glyphs = []
    for column in zip(*rows, strict=True):
        pairs = zip(column[0::2], column[1::2], strict=True)
        glyphs.append(
            ["".join(_HALVES[a + b] for a, b in zip(up, low, strict=True)) for up, low in pairs]
        )
    return glyphs


@dataclass(frozen=True)
class Figures:
    """One size of digits: ``rows`` high, ``width`` columns each, ``gap`` columns between."""

    rows: int
    width: int
    gap: int
    glyphs: dict[str, list[str]]

    def draw(self, number: int) -> list[str]:
        """Rows of a whole number, all equally wide."""
        return [
            (" " * self.gap).join(line) for line in zip(*map(self._glyph, str(number)), strict=True)
        ]

    def _glyph(self, sign: str) -> list[str]:
        if sign == "-":
            return [
                ("▀" if row == self.rows // 2 else " ") * self.width for row in range(self.rows)
            ]
        return self.glyphs[sign]


def _figures(picture: str, gap: int) -> Figures:
    glyphs = dict(zip("0123456789", _fold(picture), strict=True))
    return Figures(len(glyphs["0"]), len(glyphs["0"][0]), gap, glyphs)


LARGE = _figures(_LARGE, 2)
MIDDLE = _figures(_MIDDLE, 1)
SMALL = _figures(_SMALL, 1)
SIZES = (LARGE, MIDDLE, SMALL)


def draw_bounds(size: Figures, bounds: tuple[int, int]) -> list[str]:
    """A number, or where the bounds differ both of them with a small "to" between."""
    low, high = bounds
    if low == high:
        return size.draw(low)
    first, second = size.draw(low), size.draw(high)
    between = ["    "] * (size.rows - 1) + [" to "]
    return [a + b + c for a, b, c in zip(first, between, second, strict=True)]


_ALPHABET = {
    letter: glyph
    for letters, picture in _LETTERS
    for letter, glyph in zip(letters, _fold(picture), strict=True)
} | SMALL.glyphs
WORD_ROWS = 3


@lru_cache(maxsize=64)
def draw_word(word: str) -> tuple[str, ...] | None:
    """Three rows of block letters, or None where a sign has no picture here."""
    word = word.upper()
    if not word or any(sign != " " and sign not in _ALPHABET for sign in word):
        return None
    blank = ["  "] * WORD_ROWS
    glyphs = [blank if sign == " " else _ALPHABET[sign] for sign in word]
    return tuple(" ".join(line) for line in zip(*glyphs, strict=True))
