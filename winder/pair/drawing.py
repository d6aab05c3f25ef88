"""What a picture of a wired pair shows, and the picture as terminal text.

Two boxes with their leads, S the start and F the finish, each with the colour the person told; the pole at
the string; and one line for each node of the circuit. A cross of two lines (+) is soldered, a line through
another (|) only passes. The same pair always gives the same text. Names and colours are a person's words: what cannot be printed is
replaced, what is too long is cut.
"""

from __future__ import annotations

from firmware_protocol.records import dataclass
from winder.files.quantities import show_length
from winder.pair.leads import End, Wiring
from winder.pair.mounting import Mounting, Stacked
from winder.pair.signs import Lead, Mounted, Placed, Pole

NAME_LETTERS, COLOUR_LETTERS = 22, 10


@dataclass(frozen=True, slots=True)
class Drawn:
    """One coil in the picture."""

    name: str
    placed: Placed
    colours: tuple[str, str] = ("", "")  # of start and finish; "": not told

    def colour(self, lead: Lead) -> str:
        return plain(self.colours[0 if lead is Lead.START else 1], COLOUR_LETTERS)

    @property
    def turning(self) -> str:
        """From start to finish, seen from the string's side."""
        return "counter-clockwise" if self.placed.hum_sign > 0 else "clockwise"

    @property
    def facing(self) -> str:
        return "top up" if self.placed.mounted is Mounted.TOP_TO_STRING else "top down"


@dataclass(frozen=True, slots=True)
class Drawing:
    """A pair in its places, wired. The first coil of a stack need not be the near one."""

    coils: tuple[Drawn, Drawn]
    mounting: Mounting
    wiring: Wiring


@dataclass(frozen=True, slots=True)
class Node:
    """Ends that are one point of the circuit."""

    name: str  # "joined", "hot", "ground"
    ends: tuple[End, ...]


def plain(text: str, letters: int) -> str:
    """A person's words without what would steer a terminal, cut to fit."""
    shown = "".join(c if c.isprintable() else "?" for c in text)
    return shown if len(shown) <= letters else shown[: letters - 3] + "..."


def nodes(wiring: Wiring) -> tuple[Node, ...]:
    """From the join to the output."""
    found = [Node("joined", wiring.joined)] if wiring.joined else []
    return (*found, Node("hot", wiring.hot), Node("ground", wiring.ground))


def order(mounting: Mounting) -> tuple[int, int]:
    """Which coil is drawn first: of a stack the one at the string."""
    return (0, 1) if mounting.near == 0 else (1, 0)


def distance_words(mounting: Mounting) -> str:
    if isinstance(mounting, Stacked):
        return f"below, {show_length(mounting.gap_m, 3)} between the windings"
    return f"beside, {show_length(mounting.apart_m, 3)} from axis to axis"


def pole_words(pole: Pole) -> str:
    return f"[{'N' if pole is Pole.NORTH else 'S'}] {pole.value} pole to the string"


BOX, LEAD_AT, FIRST_LINE_AT, LINES_APART = 28, 46, 50, 8


def text_picture(drawing: Drawing) -> str:
    """At most 80 columns."""
    rows, rows_of_ends = _boxes(drawing)
    for place, node in enumerate(nodes(drawing.wiring)):
        column = FIRST_LINE_AT + place * LINES_APART
        at = sorted(rows_of_ends[end] for end in node.ends)
        for row in at:
            _across(rows, row, column)
        last = at[-1] if node.name == "joined" else len(rows)
        _down(rows, column, at, last)
    caption = [" "] * 80
    for place, node in enumerate(nodes(drawing.wiring)):
        column = FIRST_LINE_AT + place * LINES_APART
        if node.name != "joined":
            _write(caption, column - 2, node.name)
    return "\n".join("".join(row).rstrip() for row in [*rows, caption]) + "\n"


def _boxes(drawing: Drawing) -> tuple[list[list[str]], dict[End, int]]:
    """The boxes with their leads, no lines between them yet; and in which row each lead ends."""
    lines: list[str] = ["  = = = = = = =  string  = = = = = = ="]
    rows_of_ends = {}
    stacked = isinstance(drawing.mounting, Stacked)
    for place, number in enumerate(order(drawing.mounting)):
        coil = drawing.coils[number]
        if place:
            lines += ["", f"  {distance_words(drawing.mounting)}"]
        if not (stacked and place):
            lines.append(f"  {pole_words(coil.placed.pole)}")
        edge = f" +{'-' * BOX}+"
        inside = (
            (f"{number + 1}: {plain(coil.name, NAME_LETTERS)}", Lead.START),
            (coil.facing, None),
            (f"{coil.turning}, S to F,", None),
            ("seen from the string", Lead.FINISH),
        )
        lines.append(edge)
        for words, lead in inside:
            line = f" | {words:{BOX - 2}} |"
            if lead is not None:
                line += f"--{lead.value}  {coil.colour(lead)} "
                rows_of_ends[End(number, lead)] = len(lines)
            lines.append(line)
        lines.append(edge)
    lines.append("")
    return [list(line.ljust(80)) for line in lines], rows_of_ends


def _across(rows: list[list[str]], row: int, column: int) -> None:
    begin = max(place for place, letter in enumerate(rows[row][:LEAD_AT]) if letter != " ") + 2
    for place in range(begin, column):
        if rows[row][place] == " ":
            rows[row][place] = "-"


def _down(rows: list[list[str]], column: int, ends: list[int], last: int) -> None:
    for row in range(ends[0], last):
        rows[row][column] = "|"
    for row in ends:
        rows[row][column] = "+"


def _write(row: list[str], column: int, words: str) -> None:
    row[column : column + len(words)] = words
