"""The picture of a wired pair as SVG: coils in their places, poles, leads, and what is soldered to what.

Side by side the coils stand beside each other and their leads go down; of a stack they stand one above the
other and the leads go to the right. A dot is soldered, a bow passes over. Poles differ by letter and by
shade, leads by mark and by the colour's name, so that no colour has to be seen. Deterministic: the same
pair always gives the same text.
"""

from __future__ import annotations

from xml.sax.saxutils import escape

from winder.pair.drawing import Drawing, Drawn, distance_words, nodes, order, plain
from winder.pair.leads import End
from winder.pair.mounting import Stacked
from winder.pair.signs import Lead, Pole

INK, BODY, WIRE, PAPER = "#222222", "#f3e3d0", "#c8793a", "#ffffff"
POLE_SHADES = {Pole.NORTH: "#d9d9d9", Pole.SOUTH: "#8f8f8f"}
BOX_WIDE, BOX_HIGH = 230, 130
LETTER = 15
BOW = 7  # radius of a line that passes over another
NAME_LETTERS = 22

Point = tuple[float, float]


def wiring_svg(drawing: Drawing) -> str:
    """One SVG document, at most 720 units wide."""
    stacked = isinstance(drawing.mounting, Stacked)
    corners: list[Point] = [(40, 100), (40, 290)] if stacked else [(40, 100), (400, 100)]
    wide, high = (640, 500) if stacked else (670, 460)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}"'
        f' viewBox="0 0 {wide} {high}" font-family="sans-serif" font-size="{LETTER}" fill="{INK}">',
        f"<title>{escape(_title(drawing))}</title>",
        f'<rect width="{wide}" height="{high}" fill="{PAPER}"/>',
        *_string(BOX_WIDE + 60 if stacked else wide - 20),
    ]
    starts: dict[End, Point] = {}
    for place, number in enumerate(order(drawing.mounting)):
        coil, (x, y) = drawing.coils[number], corners[place]
        parts += _coil(coil, number, x, y)
        if not (stacked and place):
            parts += _pole(coil.placed.pole, x, y)
        parts += _leads(coil, number, x, y, stacked, starts)
    between = (45.0, 265.0) if stacked else (40.0, high - 12.0)
    parts.append(_text(*between, distance_words(drawing.mounting)))
    parts += _circuit(drawing, starts, stacked)
    return "\n".join([*parts, "</svg>"]) + "\n"


def _title(drawing: Drawing) -> str:
    one, other = (plain(coil.name, NAME_LETTERS) for coil in drawing.coils)
    return f"{one} and {other} in {drawing.wiring.join.circuit.value}"


def _string(to_x: float) -> list[str]:
    return [
        f'<line x1="20" y1="30" x2="{_n(to_x)}" y2="30" stroke="{INK}" stroke-width="3"/>',
        _text(20, 20, "string"),
    ]


def _coil(coil: Drawn, number: int, x: float, y: float) -> list[str]:
    """The box, its words, and an arrow for the way the wire goes from start to finish."""
    sweep = 0 if coil.placed.hum_sign > 0 else 1  # of an SVG arc: 1 is clockwise as drawn
    cx, cy, r = x + BOX_WIDE - 38, y + 62, 24
    begin, end = ((cx - r, cy), (cx, cy - r)) if sweep == 0 else ((cx - r, cy), (cx, cy + r))
    tip = 9 if sweep == 0 else -9
    return [
        f'<rect x="{_n(x)}" y="{_n(y)}" width="{BOX_WIDE}" height="{BOX_HIGH}" fill="{BODY}"'
        f' stroke="{INK}"/>',
        _text(x + 12, y + 26, f"{number + 1}: {plain(coil.name, NAME_LETTERS)}"),
        _text(x + 12, y + 52, coil.facing),
        _text(x + 12, y + 78, coil.turning),
        _text(x + 12, y + 98, "S to F, seen from"),
        _text(x + 12, y + 116, "the string"),
        f'<path d="M {_n(begin[0])} {_n(begin[1])} A {r} {r} 0 1 {sweep} {_n(end[0])} {_n(end[1])}"'
        f' fill="none" stroke="{WIRE}" stroke-width="3"/>',
        f'<polygon points="{_n(end[0] - tip)},{_n(end[1])} {_n(end[0] + tip / 3)},{_n(end[1] - 6)}'
        f' {_n(end[0] + tip / 3)},{_n(end[1] + 6)}" fill="{WIRE}"/>',
    ]


def _pole(pole: Pole, x: float, y: float) -> list[str]:
    middle = x + BOX_WIDE / 2
    letter = "N" if pole is Pole.NORTH else "S"
    return [
        f'<rect x="{_n(middle - 22)}" y="{_n(y - 48)}" width="44" height="48"'
        f' fill="{POLE_SHADES[pole]}" stroke="{INK}"/>',
        _text(middle - 5, y - 18, letter),
        _text(middle + 28, y - 18, f"{pole.value} up"),
    ]


def _leads(
    coil: Drawn, number: int, x: float, y: float, stacked: bool, starts: dict[End, Point]
) -> list[str]:
    """Marks S and F with their colours, and where their lines begin."""
    parts = []
    for place, lead in enumerate(Lead):
        words = f"{lead.value}  {coil.colour(lead)}".strip()
        if stacked:
            at = (x + BOX_WIDE, y + 35 + 60 * place)
            starts[End(number, lead)] = at
            parts.append(_text(at[0] + 8, at[1] - 6, words))
        else:
            at = (x + 50 + 120 * place, y + BOX_HIGH)
            starts[End(number, lead)] = at
            parts.append(_text(at[0] + 6, at[1] + 18, words))
    return parts


def _circuit(drawing: Drawing, starts: dict[End, Point], stacked: bool) -> list[str]:
    """Every node on a track of its own, beyond all leads: tracks run down for a stack, across otherwise."""
    parts: list[str] = []
    tracks = {}
    for place, node in enumerate(nodes(drawing.wiring)):
        track = (430 if stacked else 290) + 45.0 * place
        for end in node.ends:
            tracks[end] = track
    spans = {}
    for node in nodes(drawing.wiring):
        along = sorted(starts[end][1 if stacked else 0] for end in node.ends)
        last = along[-1] if node.name == "joined" else (460.0 if stacked else 590.0)
        spans[tracks[node.ends[0]]] = (along[0], last)
        parts += _track(node.name, tracks[node.ends[0]], along, last, stacked)
    for end, (x, y) in starts.items():
        here, ahead = (y, x) if stacked else (x, y)
        passed = [
            track
            for track, (begin, last) in sorted(spans.items())
            if ahead < track < tracks[end] and begin < here < last
        ]
        parts.append(_lead_line(here, ahead, tracks[end], passed, stacked))
    return parts


def _track(name: str, track: float, along: list[float], last: float, stacked: bool) -> list[str]:
    def at(place: float) -> Point:
        return (track, place) if stacked else (place, track)

    (x1, y1), (x2, y2) = at(along[0]), at(last)
    parts = [_line(x1, y1, x2, y2)]
    parts += [f'<circle cx="{_n(x)}" cy="{_n(y)}" r="4"/>' for x, y in map(at, along)]
    if name != "joined":
        parts.append(_text(*((x2 - 14, y2 + 20) if stacked else (x2 + 8, y2 + 5)), name))
    return parts


def _lead_line(here: float, ahead: float, track: float, passed: list[float], stacked: bool) -> str:
    """From a lead to its track, with a bow over every track on the way."""

    def at(place: float) -> str:
        return f"{_n(place)} {_n(here)}" if stacked else f"{_n(here)} {_n(place)}"

    steps = [f"M {at(ahead)}"]
    for each in passed:
        steps.append(f"L {at(each - BOW)} A {BOW} {BOW} 0 0 1 {at(each + BOW)}")
    steps.append(f"L {at(track)}")
    return f'<path d="{" ".join(steps)}" fill="none" stroke="{INK}" stroke-width="2"/>'


def _line(x1: float, y1: float, x2: float, y2: float) -> str:
    return (
        f'<line x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}" stroke="{INK}"'
        ' stroke-width="2"/>'
    )


def _text(x: float, y: float, words: str) -> str:
    return f'<text x="{_n(x)}" y="{_n(y)}">{escape(words)}</text>'


def _n(number: float) -> str:
    return f"{number:.1f}".rstrip("0").rstrip(".")
