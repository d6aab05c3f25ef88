"""The fields of a machine file, with their limits.

The limits catch a slip of the pen and are set wide by judgement (common practice, no source).
"""

from __future__ import annotations

from winder.files.dimensions import (
    ACCELERATION,
    FREQUENCY,
    LENGTH,
    MASS,
    RESISTANCE,
    SHARE,
    SPEED,
    WARMTH,
)
from winder.files.fields import Choice, Field, Flag, Measure, Ratio, Section, Text, Whole
from winder.machine.tensioner import TENSIONERS

_CHANGE = Measure(ACCELERATION, 1.0, 100_000.0)

_ABOUT = Section(
    "",
    "What the machine is called.",
    (
        Field(
            "name",
            Text(1, 80),
            "What you call this machine.",
            '"simulated bench"',
            fills="name",
        ),
    ),
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
                why_whole="a turn must give a whole number of counts; through a belt or gears the count can never be exact",
                remedy_whole="put the sensor on the spindle that carries the bobbin, so that every "
                "turn gives the same whole number of counts",
            ),
            "Counts that the sensor gives for one turn of the bobbin. Turn the bobbin ten times by "
            "hand and divide by ten; a remainder means that you miscounted or that a belt lies "
            "between.",
            "20",
            fills="counts_per_turn",
        ),
        Field(
            "sensor.senses_direction",
            Flag(),
            "Whether the sensor tells which way the spindle turns (two channels do, one does not).",
            "true",
            fills="direction_sense",
        ),
        Field(
            "sensor.edge_rate_max",
            Whole(1, 10_000_000),
            "Counts a second that the sensor can give without losing any; its data sheet says. The board reports its own limit.",
            "20000",
            needed=False,
            when="Left out: only the board's limit holds.",
            in_template=False,
            fills="edge_rate_max_cps",
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
            fills="motor",
        ),
        Field(
            "spindle.speed_max",
            Measure(SPEED, 1.0, 20_000.0),
            "The most the spindle may ever turn.",
            '"1500 rpm"',
            needed=False,
            when="With a motor. Without, left out: 1000 rpm, more than most drills make.",
            fills="speed_rpm_max",
        ),
        Field(
            "spindle.acceleration",
            _CHANGE,
            "What the drive manages for certain, speeding up and slowing down.",
            '"600 rpm/s"',
            needed=False,
            when="With a motor.",
            fills="acceleration_rpm_s",
        ),
        Field(
            "spindle.coasting",
            _CHANGE,
            "How fast the spindle loses speed by friction alone, with the drive off. Measured.",
            '"700 rpm/s"',
            needed=False,
            when="With a motor.",
            fills="coasting_rpm_s",
        ),
        Field(
            "spindle.braking",
            _CHANGE,
            "How fast it loses speed with the brake on and the drive off. Measured.",
            '"5000 rpm/s"',
            needed=False,
            when="Left out: there is no brake.",
            fills="braking_rpm_s",
        ),
        Field(
            "spindle.steady_speed",
            Measure(SPEED, 0.01, 1000.0),
            "The slowest that it still turns evenly; stops are approached no slower. Measured.",
            '"12 rpm"',
            needed=False,
            when="Left out: four counts a second, the slowest that a board can see.",
            in_template=False,
            fills="steady_rpm",
        ),
        Field(
            "spindle.gear",
            Ratio(0.01, 1000.0),
            "Turns of the motor for one turn of the spindle, by belt or gears. It limits the speed and has "
            "no part in the count: the sensor sits on the spindle.",
            "1",
            needed=False,
            when="Left out: 1, no gear.",
            fills="gear",
        ),
        Field(
            "spindle.motor_speed_max",
            Measure(SPEED, 1.0, 100_000.0),
            "The most the motor may turn; with a gear the spindle's limit follows from it too.",
            '"3000 rpm"',
            needed=False,
            when="Left out: speed_max is the only limit.",
            in_template=False,
            fills="motor_rpm_max",
        ),
        Field(
            "spindle.plus",
            Choice(("clockwise", "counter-clockwise")),
            "Which way the spindle turns when the motor is driven in its + direction, seen from the free end. Try it slowly, with nothing mounted.",
            '"clockwise"',
            needed=False,
            when="Left out: clockwise.",
            in_template=False,
        ),
        Field(
            "spindle.pedal",
            Flag(),
            "Whether a foot pedal is wired to the board: press to wind, let go to pause. The board must have it too.",
            "true",
            needed=False,
            when="Left out: false.",
            in_template=False,
            fills="pedal",
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
            fills="traverse_travel_m",
        ),
        Field(
            "traverse.steps_per_mm",
            Ratio(0.1, 100_000.0),
            "Steps that move the guide by one millimetre: steps per turn of its motor, microsteps included, "
            "over the millimetres that one turn moves it.",
            "400",
            needed=False,
            when="Left out: not known, and not checked.",
            in_template=False,
            fills="steps_per_mm",
        ),
        Field(
            "traverse.limit_switch",
            Flag(),
            "Whether a limit switch at the guide's left end is wired to the board. The board must have it too.",
            "true",
            needed=False,
            when="Left out: false.",
            in_template=False,
            fills="limit_switch",
        ),
        Field(
            "traverse.switch_to_flange",
            Measure(LENGTH, 0.0, 1.0),
            "How far the left flange of a bobbin on the spindle is to the right of where the guide stands at its limit switch.",
            '"12.5 mm"',
            needed=False,
            when="Left out: not known, and the guide is not led home before a wind.",
            in_template=False,
            fills="switch_to_flange_m",
        ),
    ),
    needed=False,
)

_FEED = Section(
    "feed",
    "How the wire comes to the bobbin. May be left out.",
    (
        Field(
            "feed.free_length",
            Measure(LENGTH, 1e-3, 5.0),
            "Wire that runs free from the guide (or the fingers) to the bobbin. The shorter, the better the "
            "wire follows the guide.",
            '"50 mm"',
            needed=False,
            when="Left out: 50 mm.",
            fills="free_length_m",
        ),
        Field(
            "feed.tensioner",
            Choice(TENSIONERS),
            "What puts tension on the wire. With felt or fingers only the wire moves. An arm, a dancer or a turning spool must follow a long core twice a turn.",
            '"felt or fingers"',
            needed=False,
            when="Left out: not known, and assumed to be an arm.",
            fills="tensioner",
        ),
        Field(
            "feed.tensioner_mass",
            Measure(MASS, 0.01e-3, 1.0),
            "Mass that moves with the wire when its speed changes: dancer, roller, arm at the wire.",
            '"2 g"',
            needed=False,
            when="Left out: what is usual for the kind.",
            in_template=False,
            fills="tensioner_kg",
        ),
        Field(
            "feed.tensioner_frequency",
            Measure(FREQUENCY, 0.5, 1000.0),
            "How often a spring arm swings by itself in a second, with the wire on it: flick it and count. It cannot "
            "follow near that pace.",
            '"17 Hz"',
            needed=False,
            when="Left out: no spring, or not known.",
            in_template=False,
            fills="tensioner_hz",
        ),
    ),
    needed=False,
)

_INSTRUMENTS = Section(
    "instruments",
    "What you measure with. They set how far a reading can be trusted. May be left out: an "
    "ordinary hand meter, its leads not deducted.",
    (
        Field(
            "instruments.meter_counts",
            Whole(200, 10_000_000),
            "How far the ohmmeter counts: a meter that shows 1999 at most has 2000.",
            "2000",
            needed=False,
            when="Left out: 2000.",
            fills="counts",
        ),
        Field(
            "instruments.meter_accuracy",
            Measure(SHARE, 0.0001e-2, 0.2),
            "Accuracy on ohms from its manual: the per cent.",
            '"0.8 %"',
            needed=False,
            when="Left out: 0.8 %.",
            fills="gain_share",
        ),
        Field(
            "instruments.meter_digits",
            Whole(0, 100),
            "Accuracy on ohms from its manual: the digits (counts) added.",
            "3",
            needed=False,
            when="Left out: 3.",
            fills="digits",
        ),
        Field(
            "instruments.leads",
            Measure(RESISTANCE, 0.0, 100.0),
            "What the meter shows with its test leads held together; it is deducted from every reading. "
            '"0 ohm" if the meter deducts it itself.',
            '"0.2 ohm"',
            needed=False,
            when="Left out: not known, between 0.1 and 0.3 ohm in every reading.",
            in_template=False,
            fills="leads_ohm",
        ),
        Field(
            "instruments.thermometer",
            Measure(WARMTH, 0.01, 20.0),
            "How far what the thermometer shows may be from the temperature beside the coil.",
            '"2 K"',
            needed=False,
            when="Left out: 2 K.",
            fills="thermometer_k",
        ),
        Field(
            "instruments.caliper",
            Measure(LENGTH, 1e-6, 1e-3),
            "How far a caliper on a winding may be off, either way, squeeze included.",
            '"0.05 mm"',
            needed=False,
            when="Left out: 0.05 mm.",
            fills="caliper_m",
        ),
        Field(
            "instruments.scale",
            Measure(MASS, 1e-6, 0.1),
            "How far the scale may be off.",
            '"0.02 g"',
            needed=False,
            when="Left out: 0.02 g.",
            fills="scale_kg",
        ),
    ),
    needed=False,
)

SECTIONS = (_ABOUT, _SENSOR, _SPINDLE, _TRAVERSE, _FEED, _INSTRUMENTS)
