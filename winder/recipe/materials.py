"""The fields of a recipe that say what is on the bench: wire, bobbin, spool; with their limits."""

from __future__ import annotations

from winder.files.dimensions import AREA, LENGTH, MASS, RESISTANCE_PER_LENGTH
from winder.files.fields import Choice, Field, Gauge, Measure, Section, Text, Whole

ROUND = "round"
OBROUND = "obround"
ROUNDED_RECTANGLE = "rounded rectangle"
CUSTOM = "custom"
SIZINGS = ("table", "definition")

_CORE = Measure(LENGTH, 0.5e-3, 200e-3)

WIRE = Section(
    "wire",
    "Enamelled copper wire: a gauge with its film, a bare diameter with its grade (see the spool's label), or both measured diameters.",
    (
        Field(
            "wire.gauge",
            Gauge(10, 50),
            "American wire gauge, with film; or imperial standard wire gauge (SWG), with grade. They are different "
            "wires: the spool's label says which.",
            '"42 AWG"',
            needed=False,
            when="With film or grade, unless a diameter is given or measured.",
        ),
        Field(
            "wire.film",
            Choice(("single", "heavy")),
            "How thick the enamel is: single or heavy build.",
            '"single"',
            needed=False,
            when="With a gauge in AWG.",
        ),
        Field(
            "wire.sizing",
            Choice(SIZINGS),
            "Which bare diameter the gauge means: the rounded one of the wire tables, or the one of the gauge's definition. They differ by up to 3 % in resistance; wire is made to the table.",
            '"table"',
            needed=False,
            when="With a gauge in AWG. Left out: table.",
            in_template=False,
        ),
        Field(
            "wire.diameter",
            Measure(LENGTH, 0.018e-3, 1.8e-3),
            "Nominal diameter of the bare copper, a size of IEC 60317-0-1.",
            '"0.063 mm"',
            needed=False,
            when="With grade, unless a gauge is given.",
            in_template=False,
        ),
        Field(
            "wire.grade",
            Whole(1, 3),
            "How thick the enamel is, by IEC 60317-0-1.",
            "1",
            needed=False,
            when="With diameter, or a gauge in SWG.",
            in_template=False,
        ),
        Field(
            "wire.bare",
            Measure(LENGTH, 0.01e-3, 3e-3),
            "Measured diameter of the copper, its enamel taken off.",
            '"0.064 mm"',
            needed=False,
            when="With overall, instead of a gauge or a diameter.",
            in_template=False,
        ),
        Field(
            "wire.overall",
            Measure(LENGTH, 0.01e-3, 3.3e-3),
            "Measured diameter over the enamel.",
            '"0.071 mm"',
            needed=False,
            when="With bare.",
            in_template=False,
        ),
        Field(
            "wire.ohms_per_length",
            Measure(RESISTANCE_PER_LENGTH, 1e-3, 1000.0),
            "Resistance of the wire at 20 C by its maker; takes the place of the table's nominal.",
            '"5.44 ohm/m"',
            needed=False,
            when="Left out: the table's, or that of copper of the measured diameter.",
            in_template=False,
        ),
        Field(
            "wire.overcoat",
            Measure(LENGTH, 0.0, 0.1e-3),
            "Thickness of a bonding layer over the enamel (self-bonding wire), on one side.",
            '"0.003 mm"',
            needed=False,
            when="Left out: none. With bare and overall it is in the measure already.",
            in_template=False,
        ),
    ),
)

BOBBIN = Section(
    "bobbin",
    "What the wire goes on. Measure the core where the wire will lie, and between the flanges.",
    (
        Field(
            "bobbin.shape",
            Choice((ROUND, OBROUND, ROUNDED_RECTANGLE, CUSTOM)),
            "Cross-section of the core. Obround is two half circles joined by straight sides; custom is any "
            "shape without hollows, measured.",
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
            "bobbin.perimeter",
            Measure(LENGTH, 1.5e-3, 800e-3),
            "Once around the core: the length of a strip of paper laid round it.",
            '"57 mm"',
            needed=False,
            when="With shape custom.",
            in_template=False,
        ),
        Field(
            "bobbin.area",
            Measure(AREA, 0.1e-6, 0.04),
            "Area of the core's cross-section: from a drawing, or squares counted on graph paper.",
            '"220 mm2"',
            needed=False,
            when="With shape custom.",
            in_template=False,
        ),
        Field(
            "bobbin.width",
            Measure(LENGTH, 0.2e-3, 200e-3),
            "Between the flanges, along the axis; where they taper, at the core.",
            '"9.5 mm"',
        ),
        Field(
            "bobbin.rim_width",
            Measure(LENGTH, 0.2e-3, 200e-3),
            "Between the flanges at their rims, wider or narrower than at the core, where they taper."
            " A flange leans by no more than 45 degrees.",
            '"11 mm"',
            needed=False,
            when="Left out: straight flanges, the same as width.",
            in_template=False,
        ),
        Field(
            "bobbin.flange_height",
            Measure(LENGTH, 0.05e-3, 100e-3),
            "How far the flanges stand above the core: the deepest winding that fits.",
            '"6 mm"',
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
        Field(
            "bobbin.tape_under",
            Measure(LENGTH, 0.0, 20e-3),
            "Thickness of the tape between the core and the wire, all its layers.",
            '"0.05 mm"',
            needed=False,
            when="Left out: none.",
            in_template=False,
        ),
        Field(
            "bobbin.tape_over",
            Measure(LENGTH, 0.0, 20e-3),
            "Thickness of the tape over the winding, all its layers; it must fit below the flanges.",
            '"0.1 mm"',
            needed=False,
            when="Left out: none.",
            in_template=False,
        ),
    ),
)

SPOOL = Section(
    "spool",
    "What the wire comes from, to work out what will be left. One of the three, or leave the section out.",
    (
        Field(
            "spool.name",
            Text(1, 60),
            "A spool of the logbook, as 'winder spool new' called it: what is left on it is kept there.",
            '"red"',
            needed=False,
            when="Unless a length or a mass is given.",
            in_template=False,
        ),
        Field(
            "spool.length",
            Measure(LENGTH, 1.0, 1e6),
            "Wire on the spool.",
            '"4000 m"',
            needed=False,
            when="Unless a mass is given.",
            in_template=False,
        ),
        Field(
            "spool.mass",
            Measure(MASS, 0.1e-3, 100.0),
            "Mass of the wire on the spool: weigh it and take off the empty spool.",
            '"120 g"',
            needed=False,
            when="Unless a length is given.",
            in_template=False,
        ),
    ),
    needed=False,
)
