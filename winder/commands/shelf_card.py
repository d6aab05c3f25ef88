"""``winder shelf card``: one page to print and keep with the coil, HTML with the curve of its ohms as SVG.

The same coil gives the same page. A person's words are escaped.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from winder.files.digits import show_number

if TYPE_CHECKING:
    from winder.coil.model import Coil
    from winder.shelf.model import CoilRecord
    from winder.shelf.readings import Reading

WIDE, HIGH, EDGE = 560, 300, 48
POINTS = 24
STYLE = (
    "body{font-family:sans-serif;max-width:44em;margin:2em}th{text-align:left;padding-right:2em;"
    "vertical-align:top}td,th{padding-bottom:.3em}"
)


def print_card(arguments: argparse.Namespace) -> int:
    """Writes a new page. ``UserMistake`` for a coil on which nothing is wound, or a file that is there."""
    from winder.files.whole_file import write_new_file
    from winder.service.shelved import coil_as_begun, turns_on
    from winder.shelf import Logbook
    from winder.shelf.readings import Readings

    with Logbook.open(getattr(arguments, "logbook", None), read_only=True) as logbook:
        record = logbook.coil(arguments.coil)
        readings = Readings(logbook.book).of(record.row.coil_id)
    turns = turns_on(record)
    file: Path = arguments.html
    write_new_file(file, card_html(record, readings, coil_as_begun(record), turns), "card")
    print(f"the card of coil {record.row.coil_id} is {file}")
    return 0


def card_html(
    record: CoilRecord, readings: Sequence[Reading], coil: Coil, turns: tuple[float, float]
) -> str:
    """The whole page."""
    from winder.commands.shelf_show import direction_words, ohms_at_20c, splices
    from winder.service.shelved import expected_ohms, readings_on_the_way

    row, good = record.row, [each for each in readings if not each.struck]
    expected = expected_ohms(coil, turns)
    facts = [
        ("turns", f"{row.turns_text}, {row.truth_text}"),
        (
            "ohms at 20 C, expected",
            f"{show_number(expected.low, 4)} to {show_number(expected.high, 4)}",
        ),
    ]
    way = readings_on_the_way(record)
    for on_way in way:
        at_20c = ohms_at_20c(on_way.ohm, on_way.temperature_c)
        assert on_way.ohm is not None and at_20c is not None, "a reading on the way has ohms"
        shown = f"{show_number(on_way.ohm, 6)} ohm, {on_way.temperature_c:g} C: {show_number(at_20c, 4)} ohm at 20 C"
        facts.append((f"read at turn {on_way.turns:g}", shown))
    for each in good:
        at_20c = ohms_at_20c(each.measured.ohm, each.measured.temperature_c)
        value = "" if at_20c is None else f": {show_number(at_20c, 4)} ohm at 20 C"
        facts.append((f"read {each.date[:10]}", f"{each.measured.text}{value}"))
    facts += [
        ("direction, S to F", direction_words(row)),
        ("start lead (S), inner end", row.said.colours[0]),
        ("finish lead (F), outer end", row.said.colours[1]),
        ("wire", row.wire),
        ("spool", row.said.spool),
        ("splices", splices(record)),
        ("begun", row.date[:10]),
        ("place", row.said.place),
        ("note", row.said.note),
        ("spoiled", row.said.spoiled),
        ("simulated", "on the simulated machine" if row.simulated else ""),
    ]
    lines = [f"<tr><th>{escape(n)}</th><td>{_plain(v)}</td></tr>" for n, v in facts if v]
    title = f"{_plain(row.name)}, coil {row.coil_id}"
    dots = [(sum(turns) / 2, ohms_at_20c(e.measured.ohm, e.measured.temperature_c)) for e in good]
    dots += [(each.turns, ohms_at_20c(each.ohm, each.temperature_c)) for each in way]
    curve = curve_svg(coil, turns, [(n, ohm) for n, ohm in dots if ohm is not None])
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<meta charset="utf-8">\n<title>{title}</title>\n'
        f"<style>{STYLE}</style>\n<h1>{title}</h1>\n<table>\n" + "\n".join(lines) + "\n</table>\n"
        f"<p>Ohms at 20 C against turns: as expected, with limits at 95 %, and as read.</p>\n{curve}\n</html>\n"
    )


def curve_svg(coil: Coil, turns: tuple[float, float], dots: Sequence[tuple[float, float]]) -> str:
    """Expected ohms with their limits over the turns; ``dots``: turns and ohms at 20 C as read."""
    from winder.service.shelved import expected_ohms

    most = turns[1]
    steps = [most * n / POINTS for n in range(1, POINTS + 1)]
    bands = [expected_ohms(coil, (each, each)) for each in steps]
    top = max([bands[-1].high, *(ohm for _, ohm in dots)]) * 1.05

    def at(n: float, ohm: float) -> str:
        x = EDGE + (WIDE - 2 * EDGE) * n / most
        return f"{x:.1f},{HIGH - EDGE - (HIGH - 2 * EDGE) * ohm / top:.1f}"

    upper = [at(n, band.high) for n, band in zip(steps, bands, strict=True)]
    lower = [at(n, band.low) for n, band in zip(steps, bands, strict=True)]
    middle = [at(n, band.nominal) for n, band in zip(steps, bands, strict=True)]
    origin = at(0, 0)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDE}" height="{HIGH}" font-size="12">',
        f'<polygon points="{" ".join([*upper, *reversed(lower)])}" fill="#ddd"/>',
        f'<polyline points="{" ".join([origin, *middle])}" fill="none" stroke="#333"/>',
        f'<polyline points="{at(0, top)} {origin} {at(most, 0)}" fill="none" stroke="#333"/>',
        f'<text x="{EDGE}" y="{HIGH - 20}">0</text>',
        f'<text x="{WIDE - EDGE}" y="{HIGH - 20}" text-anchor="end">{most:.0f} turns</text>',
        f'<text x="{EDGE}" y="{EDGE - 8}">{show_number(top, 4)} ohm</text>',
    ]
    for n, ohm in dots:
        x, y = at(min(n, most), ohm).split(",")
        parts.append(f'<circle cx="{x}" cy="{y}" r="4" fill="#a00"/>')
    return "\n".join([*parts, "</svg>"])


def _plain(text: str) -> str:
    return escape("".join(c if c.isprintable() else " " for c in text))
