"""The fields of a recipe file, with their limits.

The limits keep out what cannot be a small coil and catch a slip of the unit; they are set wide by
judgement (common practice, no source) where nothing else is said. Wire sizes are those of the
tables: AWG 10 to 50 (NEMA MW 1000, single and heavy film) and 0.018 to 1.800 mm (IEC 60317-0-1,
grades 1 and 2); whether a size within the range is one of theirs is the coil's matter.
"""

from __future__ import annotations

from winder.files.dimensions import (
    CAPACITANCE,
    FLUX_DENSITY,
    FORCE,
    INDUCTANCE,
    LENGTH,
    MASS,
    RESISTANCE,
    SPEED,
    TEMPERATURE,
)
from winder.files.fields import (
    Choice,
    Field,
    Flag,
    Measure,
    MeasureOr,
    Ratio,
    RisingTurns,
    Section,
    Text,
    Whole,
)
from winder.recipe.materials import BOBBIN, SPOOL, WIRE
from winder.recipe.measured import KNOWN

TURNS_MAX = 1_000_000
BY_FEEL = "by feel"
SCATTER_SEED_MAX = 0xFFFF  # what a leg has room for
PAUSES_MAX = 20  # a person stands by at each; a board holds only a handful of legs

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

_TARGET = Section(
    "target",
    "When the coil is finished. One of turns, resistance, build, full, wire_length and inductance.",
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
            when="Unless another target is given.",
        ),
        Field(
            "target.resistance",
            Measure(RESISTANCE, 0.1, 1e6),
            "Resistance between the leads, at the temperature below.",
            '"1.2 kohm"',
            needed=False,
            when="Instead of turns.",
            in_template=False,
        ),
        Field(
            "target.build",
            Measure(LENGTH, 0.02e-3, 100e-3),
            "Full to this height above the core or the tape on it.",
            '"3.5 mm"',
            needed=False,
            when="Instead of turns.",
            in_template=False,
        ),
        Field(
            "target.full",
            Measure(LENGTH, 0.0, 50e-3),
            "Full, but for this much left below the rims of the flanges (and the tape over the winding). On flat sides the winding is higher than at the ends; the flat sides decide.",
            '"0.3 mm"',
            needed=False,
            when="Instead of turns.",
            in_template=False,
        ),
        Field(
            "target.wire_length",
            Measure(LENGTH, 0.01, 100e3),
            "As many whole turns as this much wire makes, leads included.",
            '"300 m"',
            needed=False,
            when="Instead of turns.",
            in_template=False,
        ),
        Field(
            "target.inductance",
            Measure(INDUCTANCE, 1e-9, 1e4),
            "Inductance at low frequency, with nothing but air inside.",
            '"2.5 H"',
            needed=False,
            when="Instead of turns.",
            in_template=False,
        ),
        Field(
            "target.temperature",
            Measure(TEMPERATURE, -40.0, 150.0),
            "Temperature of the copper at which the resistance is meant and shown. 1 C is 0.39 %.",
            '"23 C"',
            needed=False,
            when="Left out: 20 C.",
            in_template=False,
        ),
        Field(
            "target.wind_long",
            Flag(),
            "Wind enough turns to reach the resistance for certain, then measure and take off the extra.",
            "true",
            needed=False,
            when="With resistance. Left out: false, the turns that come nearest.",
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
            "How fast the spindle turns; only the machine and its board limit it. The sheet warns where that is fast for the wire.",
            '"900 rpm"',
            needed=False,
            when="Left out: as fast as the machine and the wire allow.",
            in_template=False,
        ),
        Field(
            "winding.tension",
            MeasureOr(Measure(FORCE, 0.001, 50.0), BY_FEEL),
            "Tension of the wire as you measured it, winding slowly. It stretches the wire, which raises the "
            "resistance; by feel it is more than you think.",
            '"14 cN"',
            needed=False,
            when='Left out: "by feel".',
            in_template=False,
        ),
        Field(
            "winding.lead_outs",
            Measure(LENGTH, 0.0, 100.0),
            "Wire left free at both ends together; it adds to length and resistance.",
            '"0.3 m"',
            needed=False,
            when="Left out: none.",
            in_template=False,
        ),
        Field(
            "winding.pauses",
            RisingTurns(TURNS_MAX, PAUSES_MAX),
            "Turns at which to stop and wait for you, and what for: the screen says it there.",
            '[1000, {at = 2500, for = "measure"}]',
            needed=False,
            when="Left out: none.",
            in_template=False,
        ),
        Field(
            "winding.scatter",
            Whole(
                1,
                SCATTER_SEED_MAX,
                why_whole="this must be a whole number",
                remedy_whole="write any whole number, as in scatter = 7",
            ),
            "Scattered lay: each pass of the guide at a pitch of its own, set by this number. The"
            " same number gives the same lay.",
            "7",
            needed=False,
            when="Left out: even lay.",
            in_template=False,
        ),
    ),
)

_SHEET = Section(
    "sheet",
    "What the sheet assumes. May be left out.",
    (
        Field(
            "sheet.core_factor",
            Ratio(0.1, 10_000.0),
            "Inductance with the iron or magnets inside over that without, as you measured it on a coil.",
            "1.8",
            needed=False,
            when="Left out: 1, nothing but air.",
            in_template=False,
        ),
        Field(
            "sheet.cable",
            Measure(CAPACITANCE, 1e-12, 1e-6),
            "Capacitance of the cable and what it feeds.",
            '"500 pF"',
            needed=False,
            when="Left out: resonance of the coil alone.",
            in_template=False,
        ),
        Field(
            "sheet.field",
            Measure(FLUX_DENSITY, 1e-12, 1.0),
            "Alternating field along the axis, rms, for the hum voltage: about 0.1 uT in a room, 1 uT "
            "near a transformer. A field in any direction has less along the axis.",
            '"0.1 uT"',
            needed=False,
            when="Left out: 0.1 uT.",
            in_template=False,
        ),
        Field(
            "sheet.filled",
            Flag(),
            "Whether the coil will be filled with wax or varnish, which raises its own capacitance.",
            "true",
            needed=False,
            when="Left out: false, air between the wires.",
            in_template=False,
        ),
        Field(
            "sheet.tensioner_mass",
            Measure(MASS, 0.01e-3, 1.0),
            "Mass that moves with the wire when its speed changes: dancer, roller, arm at the wire.",
            '"2 g"',
            needed=False,
            when="Left out: what the machine file says.",
            in_template=False,
        ),
    ),
    needed=False,
)

SECTIONS = (_ABOUT, WIRE, BOBBIN, _TARGET, _WINDING, SPOOL, KNOWN, _SHEET)
