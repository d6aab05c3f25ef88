"""A cross-section of the wound bobbin, drawn to scale, as SVG.

Left across the axis: core, tape and winding. Right along it, through the shorter side of the core: the
same between the flanges, with the 95 % limits of the build as dashed lines. Both in millimetres of one
scale, with a bar to measure by; the flanges' own thickness is not in a recipe and is drawn as a mark,
bent where they taper.
The same sheet always gives the same text.
"""

from __future__ import annotations

import math
from xml.sax.saxutils import escape

from winder.coil.core import Outline, core_outline
from winder.coil.sheet import Sheet
from winder.coil.window import slope_of, widest_m
from winder.files.quantities import show_length

CORE, TAPE, WIRE, FLANGE, INK = "#c9b99a", "#f0e2a8", "#c8793a", "#888888", "#222222"
PICTURE_PX = 900
HAIR = 1 / 14  # thickness of a line, in letter heights
GAP_SHARE = 0.12  # of the whole extent, around and between the views


def section_svg(sheet: Sheet) -> str:
    """The picture as one SVG document."""
    coil = sheet.coil
    recipe = coil.recipe
    core = core_outline(recipe.core)
    rim = core.swollen(max(recipe.height_m, sheet.build_m.high + recipe.tape_under_m))
    left_mm, high_mm = (1e3 * (side + 2 * rim.radius_m) for side in _straights(rim))
    widest_mm = 1e3 * widest_m(recipe)
    gap_mm = GAP_SHARE * max(left_mm + widest_mm, high_mm)
    letter_mm = gap_mm / 5
    wide_mm = left_mm + widest_mm + 3 * gap_mm
    tall_mm = high_mm + 3.2 * gap_mm
    middle_mm = gap_mm * 1.4 + high_mm / 2
    letters = int(1.7 * (wide_mm - 2 * gap_mm) / letter_mm)  # about what a line holds
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{PICTURE_PX}"'
        f' height="{round(PICTURE_PX * tall_mm / wide_mm)}"'
        f' viewBox="0 0 {_n(wide_mm)} {_n(tall_mm)}" font-family="sans-serif"'
        f' font-size="{_n(letter_mm)}" fill="{INK}">',
        f"<title>{escape(recipe.name)}: cross-section to scale</title>",
        f'<rect width="{_n(wide_mm)}" height="{_n(tall_mm)}" fill="#ffffff"/>',
        _text(gap_mm, gap_mm * 0.5, _cut(_what(sheet), letters)),
        _text(gap_mm, gap_mm * 0.9, _cut(_build_words(sheet), letters)),
        *_across(sheet, core, gap_mm + left_mm / 2, middle_mm, letter_mm * HAIR),
        *_along(sheet, core, 2 * gap_mm + left_mm + widest_mm / 2, middle_mm, letter_mm),
        *_scale_bar(gap_mm, tall_mm - gap_mm, wide_mm - 2 * gap_mm, letter_mm),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _straights(outline: Outline) -> tuple[float, float]:
    return outline.straight_m, outline.other_straight_m


def _what(sheet: Sheet) -> str:
    coil = sheet.coil
    return f"{coil.turns} turns of {coil.wire.label}: {coil.recipe.name}"


def _cut(words: str, letters: int) -> str:
    return words if len(words) <= letters else words[: letters - 3] + "..."


def _build_words(sheet: Sheet) -> str:
    build = sheet.build_m
    low, nominal, high = (show_length(b, 3) for b in (build.low, build.nominal, build.high))
    fits = (
        "fits" if sheet.coil.fits else "may not fit" if sheet.spare_m.high > 0 else "does not fit"
    )
    recipe = sheet.coil.recipe
    return (
        f"build {nominal} ({low} to {high}) under flanges of {show_length(recipe.height_m)}: {fits}"
    )


def _across(sheet: Sheet, core: Outline, x_mm: float, y_mm: float, hair_mm: float) -> list[str]:
    """The view along the axis: rings from the outside in."""
    recipe = sheet.coil.recipe
    under_m = recipe.tape_under_m
    wound_m = under_m + sheet.coil.build_m
    rings = [
        (recipe.height_m, "none", FLANGE),
        (wound_m + recipe.tape_over_m, TAPE, "none"),
        (wound_m, WIRE, "none"),
        (under_m, TAPE, "none"),
        (0.0, CORE, INK),
    ]
    return [_ring(core.swollen(by), x_mm, y_mm, fill, line, hair_mm) for by, fill, line in rings]


def _ring(outline: Outline, x_mm: float, y_mm: float, fill: str, line: str, hair_mm: float) -> str:
    radius = 1e3 * outline.radius_m
    wide, high = (1e3 * side + 2 * radius for side in _straights(outline))
    return (
        f'<rect x="{_n(x_mm - wide / 2)}" y="{_n(y_mm - high / 2)}" width="{_n(wide)}"'
        f' height="{_n(high)}" rx="{_n(radius)}" fill="{fill}" stroke="{line}"'
        f' stroke-width="{_n(hair_mm)}"/>'
    )


def _along(sheet: Sheet, core: Outline, x_mm: float, y_mm: float, letter_mm: float) -> list[str]:
    """The view through the axis, ``x_mm`` the middle between the flanges: the same above and below the core."""
    recipe = sheet.coil.recipe
    width, margin = 1e3 * recipe.width_m, 1e3 * recipe.margin_m
    slope, rim = slope_of(recipe), 1e3 * recipe.height_m
    half = 1e3 * (core.other_straight_m / 2 + core.radius_m)
    under, build = 1e3 * recipe.tape_under_m, 1e3 * sheet.coil.build_m
    over = 1e3 * recipe.tape_over_m
    mark, hair = letter_mm / 3, letter_mm * HAIR

    def half_width(height: float) -> float:
        return (width + slope * min(height, rim)) / 2

    parts = [_box(x_mm - width / 2, y_mm - half, width, 2 * half, CORE)]
    for side in (-1, 1):
        parts.append(_flange(x_mm, y_mm, side, (width / 2, half_width(rim)), half, rim, mark))
    for side in (-1, 1):
        layers = (
            (0.0, under, 0.0, TAPE),
            (under, build, margin, WIRE),
            (under + build, over, 0.0, TAPE),
        )
        for begin, height, inset, fill in layers:
            if height > 0:
                ends = (half_width(begin) - inset, half_width(begin + height) - inset)
                begun = y_mm + side * (half + begin)
                parts.append(_slab(x_mm, begun, side * height, ends, fill))
        for limit in (sheet.build_m.low, sheet.build_m.high):
            reach = half_width(under + 1e3 * limit)
            y = y_mm + side * (half + under + 1e3 * limit)
            parts.append(
                f'<line x1="{_n(x_mm - reach)}" x2="{_n(x_mm + reach)}" y1="{_n(y)}" y2="{_n(y)}"'
                f' stroke="{INK}" stroke-width="{_n(hair)}" stroke-dasharray="{_n(4 * hair)}"/>'
            )
    return parts


def _flange(
    x: float, y: float, side: int, ends: tuple[float, float], half: float, rim: float, mark: float
) -> str:
    """A mark along the face of one flange: straight, or bent at the core where the flanges taper."""
    core_x, rim_x = (x + side * end for end in ends)
    if core_x == rim_x:
        return _box(
            min(core_x, core_x + side * mark), y - half - rim, mark, 2 * (half + rim), FLANGE
        )
    face = [
        (rim_x, y - half - rim),
        (core_x, y - half),
        (core_x, y + half),
        (rim_x, y + half + rim),
    ]
    back = [(each_x + side * mark, each_y) for each_x, each_y in reversed(face)]
    return _polygon([*face, *back], FLANGE)


def _slab(x: float, y: float, height: float, ends: tuple[float, float], fill: str) -> str:
    """What lies between the flanges from ``y`` on, ``ends`` its half widths there and at its other side."""
    near, far = ends
    if near == far:
        return _box(x - near, min(y, y + height), 2 * near, abs(height), fill)
    top = y + height
    return _polygon([(x - near, y), (x + near, y), (x + far, top), (x - far, top)], fill)


def _polygon(corners: list[tuple[float, float]], fill: str) -> str:
    points = " ".join(f"{_n(x)},{_n(y)}" for x, y in corners)
    return f'<polygon points="{points}" fill="{fill}"/>'


def _scale_bar(x_mm: float, y_mm: float, room_mm: float, letter_mm: float) -> list[str]:
    """A bar of a round length, at most a third of the picture."""
    power = 10.0 ** math.floor(math.log10(room_mm / 3))
    length_mm = max(step * power for step in (1, 2, 5) if step * power <= room_mm / 3)
    return [
        _box(x_mm, y_mm, length_mm, letter_mm / 4, INK),
        _text(x_mm, y_mm + 1.4 * letter_mm, show_length(length_mm * 1e-3, 6)),
    ]


def _box(x: float, y: float, width: float, height: float, fill: str) -> str:
    return (
        f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}" fill="{fill}"/>'
    )


def _text(x: float, y: float, words: str) -> str:
    return f'<text x="{_n(x)}" y="{_n(y)}">{escape(words)}</text>'


def _n(number: float) -> str:
    """A number as the picture writes it: to a micrometre."""
    text = f"{number:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
