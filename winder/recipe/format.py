"""The fields of a recipe file, with their limits.

The limits keep out what cannot be a small coil and catch a slip of the unit; they are set wide by
judgement (common practice, no source) where nothing else is said. Wire sizes are those of the
tables: AWG 30 to 46 (NEMA MW 1000, single and heavy film) and 0.018 to 0.200 mm (IEC 60317-0-1,
grades 1 and 2); whether a size within the range is one of theirs is the coil's matter.
"""

from __future__ import annotations

from winder.fields import Choice, Field, Gauge, Measure, RisingTurns, Section, Text, Whole
from winder.quantities import LENGTH, RESISTANCE, SPEED

TURNS_MAX = 1_000_000
PAUSES_MAX = 20  # a person stands by at each; a board holds only a handful of legs

ROUND = "round"
OBROUND = "obround"
ROUNDED_RECTANGLE = "rounded rectangle"

_CORE = Measure(LENGTH, 0.5e-3, 200e-3)

_ABOUT = Section(
    "",
    "What the coil is called.",
    (
        Field(
            "name",
            Text(1, 80),
            "What you call this coil.",
            '"my coil"',
        ),
        Field(
            "note",
            Text(0, 2000, lines=True),
            "Anything you want to remember about it.",
            '"which instrument, which spool, what to watch for"',
            needed=False,
            when="May be left out.",
            in_template=False,
        ),
    ),
)

_WIRE = Section(
    "wire",
    "Enamelled copper wire: either a gauge with its film, or a bare diameter with its grade. "
    "The words are on the label of the spool.",
    (
        Field(
            "wire.gauge",
            Gauge(30, 46),
            "American wire gauge.",
            '"42 AWG"',
            needed=False,
            when="With film, unless a diameter is given.",
        ),
        Field(
            "wire.film",
            Choice(("single", "heavy")),
            "How thick the enamel is: single or heavy build.",
            '"single"',
            needed=False,
            when="With gauge.",
        ),
        Field(
            "wire.diameter",
            Measure(LENGTH, 0.018e-3, 0.2e-3),
            "Nominal diameter of the bare copper, a size of IEC 60317-0-1.",
            '"0.063 mm"',
            needed=False,
            when="With grade, unless a gauge is given.",
            in_template=False,
        ),
        Field(
            "wire.grade",
            Whole(1, 2),
            "How thick the enamel is, by IEC 60317-0-1.",
            "1",
            needed=False,
            when="With diameter.",
            in_template=False,
        ),
    ),
)

_BOBBIN = Section(
    "bobbin",
    "What the wire goes on. Measure the core where the wire will lie, and between the flanges.",
    (
        Field(
            "bobbin.shape",
            Choice((ROUND, OBROUND, ROUNDED_RECTANGLE)),
            "Cross-section of the core. Obround is two half circles joined by straight sides.",
            '"obround"',
        ),
        Field(
            "bobbin.diameter",
            _CORE,
            "Diameter of a round core.",
            '"8 mm"',
            needed=False,
            when="With shape round.",
            in_template=False,
        ),
        Field(
            "bobbin.length",
            _CORE,
            "The longer measure of the core's cross-section, over all.",
            '"24 mm"',
            needed=False,
            when="With shape obround or rounded rectangle.",
        ),
        Field(
            "bobbin.thickness",
            _CORE,
            "The shorter measure of the core's cross-section.",
            '"4 mm"',
            needed=False,
            when="With shape obround or rounded rectangle.",
        ),
        Field(
            "bobbin.corner_radius",
            Measure(LENGTH, 0.05e-3, 100e-3),
            "Radius of the corners, at most half the thickness. A sharp edge cuts the enamel.",
            '"1 mm"',
            needed=False,
            when="With shape rounded rectangle.",
            in_template=False,
        ),
        Field(
            "bobbin.width",
            Measure(LENGTH, 0.2e-3, 200e-3),
            "Between the flanges, along the axis.",
            '"9.5 mm"',
        ),
        Field(
            "bobbin.flange_height",
            Measure(LENGTH, 0.05e-3, 100e-3),
            "How far the flanges stand above the core: the deepest winding that fits.",
            '"4 mm"',
        ),
        Field(
            "bobbin.margin",
            Measure(LENGTH, 0.0, 50e-3),
            "Kept free of wire at each flange.",
            '"0.2 mm"',
            needed=False,
            when="Left out: none.",
            in_template=False,
        ),
    ),
)

_TARGET = Section(
    "target",
    "When the coil is finished: after so many turns, or at a resistance. One of the two.",
    (
        Field(
            "target.turns",
            Whole(
                1,
                TURNS_MAX,
                why_whole="turns are counted whole",
                remedy_whole="write the nearest whole number of turns",
            ),
            "How many turns.",
            "5000",
            needed=False,
            when="Unless a resistance is given.",
        ),
        Field(
            "target.resistance",
            Measure(RESISTANCE, 0.1, 1e6),
            "Resistance between the leads at 20 degrees C.",
            '"1.2 kohm"',
            needed=False,
            when="Unless turns are given.",
            in_template=False,
        ),
    ),
)

_WINDING = Section(
    "winding",
    "How it is wound.",
    (
        Field(
            "winding.direction",
            Choice(("clockwise", "counter-clockwise")),
            "Which way the wire goes round, from start to finish, seen from the top of the coil.",
            '"clockwise"',
        ),
        Field(
            "winding.speed",
            Measure(SPEED, 10.0, 20000.0),
            "The most the spindle may turn.",
            '"900 rpm"',
            needed=False,
            when="Left out: as fast as the machine and the wire allow.",
            in_template=False,
        ),
        Field(
            "winding.pauses",
            RisingTurns(TURNS_MAX, PAUSES_MAX),
            "Turns at which to stop and wait for you, for a tap or to measure.",
            "[1000, 2500]",
            needed=False,
            when="Left out: none.",
            in_template=False,
        ),
    ),
)

SECTIONS = (_ABOUT, _WIRE, _BOBBIN, _TARGET, _WINDING)
