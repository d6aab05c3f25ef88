"""The fields of a machine file, with their limits.

The limits catch a slip of the pen and are set wide by judgement (common practice, no source).
"""

from __future__ import annotations

from winder.fields import Field, Flag, Measure, Section, Text, Whole
from winder.quantities import ACCELERATION, LENGTH, SPEED

_CHANGE = Measure(ACCELERATION, 1.0, 100_000.0)

_ABOUT = Section(
    "",
    "What the machine is called.",
    (Field("name", Text(1, 80), "What you call this machine.", '"simulated bench"'),),
)

_SENSOR = Section(
    "sensor",
    "What counts the turns.",
    (
        Field(
            "sensor.counts_per_turn",
            Whole(
                1,
                10_000,
                why_whole="a turn cannot give a fraction of a count: the sensor sits before a belt "
                "or gears, and a count through them can never be exact",
                remedy_whole="put the sensor on the spindle that carries the bobbin, so that every "
                "turn gives the same whole number of counts",
            ),
            "Counts that the sensor gives for one turn of the bobbin. Turn the bobbin ten times by "
            "hand and divide by ten; a remainder means that you miscounted or that a belt lies "
            "between.",
            "20",
        ),
        Field(
            "sensor.senses_direction",
            Flag(),
            "Whether the sensor tells which way the spindle turns (two channels do, one does not).",
            "true",
        ),
    ),
)

_SPINDLE = Section(
    "spindle",
    "What turns the bobbin. Measure with a bobbin mounted, and keep clear of what turns.",
    (
        Field(
            "spindle.motor",
            Flag(),
            "Whether the board drives the spindle. Without, it only counts what a hand or a drill "
            "turns.",
            "true",
            needed=False,
            when="Left out: true.",
        ),
        Field(
            "spindle.speed_max",
            Measure(SPEED, 1.0, 20_000.0),
            "The most the spindle may ever turn.",
            '"1500 rpm"',
        ),
        Field(
            "spindle.acceleration",
            _CHANGE,
            "What the drive can be relied on for, speeding up and slowing down.",
            '"600 rpm/s"',
            needed=False,
            when="With a motor.",
        ),
        Field(
            "spindle.coasting",
            _CHANGE,
            "How fast the spindle loses speed by friction alone, with the drive off. Measured.",
            '"700 rpm/s"',
        ),
        Field(
            "spindle.braking",
            _CHANGE,
            "How fast it loses speed with the brake on and the drive off. Measured.",
            '"5000 rpm/s"',
            needed=False,
            when="Left out: there is no brake.",
        ),
    ),
)

_TRAVERSE = Section(
    "traverse",
    "The guide that lays the wire. Leave the section out when you guide the wire by hand.",
    (
        Field(
            "traverse.travel",
            Measure(LENGTH, 1e-3, 1.0),
            "How far the guide can go from end to end.",
            '"100 mm"',
        ),
    ),
    needed=False,
)

SECTIONS = (_ABOUT, _SENSOR, _SPINDLE, _TRAVERSE)
