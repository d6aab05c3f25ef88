"""What people ask, answered in a few lines each: ``winder help TOPIC``, and the help on every screen.

One place for both, so that the terminal and the screen never say two things. Each answer fits a small
terminal; the pages in ``docs`` say the rest.
"""

from __future__ import annotations

from firmware_protocol.records import dataclass


@dataclass(frozen=True, slots=True)
class Topic:
    """``name`` is what is typed after ``winder help``; ``title`` the question."""

    name: str
    title: str
    text: str


TOPICS = (
    Topic(
        "start",
        "Where do I begin?",
        """\
Without a machine: winder rehearse winds an example in virtual time. Nothing
moves, nothing is written to your shelf.

For a coil of your own: winder opens the workbench. Press f there for the form:
type what you measured, watch turns, ohms and time change, save. Or write the
file yourself: winder recipe new bass.toml, then winder recipe check bass.toml.

Then winder wind bass.toml --port sim winds it on the simulated machine, with
the screens and questions of a real one.""",
    ),
    Topic(
        "count",
        "Why is the count not exact?",
        """\
The board counts the spindle. The count is exact as long as somebody was
counting whenever the spindle may have turned. It stops being exact when
  - the cable came out, or the program was killed, while it turned;
  - the board was reset or lost power while it turned;
  - somebody turned the spindle by hand and the sensor cannot tell which way;
  - the wire broke: some of the last turns may have gone round without wire.
You then see two numbers, the least and the most it can be, and the reason.

To settle it: v if nobody turned the spindle, or count the turns yourself and
press u. The count is then yours, and the shelf says that you counted.""",
    ),
    Topic(
        "wire",
        "The wire broke. What now?",
        """\
Press w (or type wire broke with --plain): whatever moves is stopped. A board
with a wire sensor stops by itself.

 1. Find both ends. Take off loose turns and press x to say how many, or let
    the motor turn them back with b.
 2. Count, if you can, and press u to set the count.
 3. Join the wire, insulate the joint, and press j. The splice is recorded.
 4. If the board tripped, t clears it. Then c goes on.
If it did not break after all, i takes the doubt back.

Wear eye protection: fine wire whips. To practise: --port 'sim?break=400'.""",
    ),
    Topic(
        "guide",
        "How does the guide find its place?",
        """\
By touch: p takes it up, Left and Right step it. Touch the left flange and press
[, touch the right one and press ], then h leads it back.

By its limit switch: 1 sends it home. It goes left by itself, fast, until it
meets the switch, then to the left flange. Look that it stands there; press f.
Keep fingers, hair and wire clear. Space stops it at once.

Home not found? Its place is not known then, and nothing is wound from it.
  - not met: is the switch at the left end, the cable whole, the motor on?
  - loose or stuck: look at the contact, its spring and its cable.
Press t to clear the trip, then 1 again; or touch the flanges.

The machine file needs limit_switch and switch_to_flange under [traverse]. To
practise: winder wind bass.toml --machine FILE --port 'sim?switch=never'.""",
    ),
    Topic(
        "pairs",
        "How do I make two coils that cancel hum?",
        """\
Wind the first coil, measure it, and wind its mate:
    winder wind --mate 12 --by hum --port PORT
Mark the top of each coil and note the colours of start and finish.

Then ask how to join them:
    winder shelf pair 12 13 --side-by-side '22 mm' --poles north,south
It draws the four ways to solder and says which one is quiet, how much hum is
left and how much signal you keep. It also says how many turns to take off, and
from which coil. More: docs/pairs.md.""",
    ),
    Topic(
        "readings",
        "How do I write what I measured?",
        """\
A number, one space, a unit; a point, not a comma.
    846.2 ohm, 21.5 C              the coil, and how warm it is
    build, 1.41 mm                 height of the winding, by caliper
    tail, 8 m, 43.1 ohm, 22 C      a piece of the spool
    outside, 8 mm, 10.9 mm         bare core, and over the wire
At a pause press m. For a coil on the shelf:
    winder shelf measure 12 '812 ohm, 23 C'
Before you wind:
    winder sheet bass.toml --known 'tail, 8 m, 43.1 ohm, 22 C'

Say how warm the coil is: 10 C change its ohms by 4 %. Hold the leads with
clips, not fingers, and take off what the meter shows with its tips together.""",
    ),
    Topic(
        "measuring",
        "What do I measure on the bobbin?",
        """\
With a caliper, in mm:
  core      where the wire will lie: length and thickness, or the diameter
  width     between the flanges, down at the core
  height    from the core to the rim of a flange
The wire: its gauge and enamel are on the spool's label. No label? winder desk
gauge finds it from a diameter or from the ohms of a measured piece.

A tenth of a millimetre on an 8 mm round core changes the ohms by about 1 %.
Measure three times and take the middle one.""",
    ),
    Topic(
        "boards",
        "Which board do I need?",
        """\
None to try it: --port sim.
To count: a small board with an ATmega328P, one sensor that sees a magnet, and a
magnet on the spindle. You turn by hand or with a drill; the board counts and
calls out.
To wind: the same chip with a motor driver, an encoder of two channels, and a
contactor that cuts the motor's supply. A driven guide and sensors for guard and
wire are extra.

Firmware, wiring and resistors that must not be missing: docs/firmware.md. How
to write a board of your own: docs/protocol/counting.md. Mains wiring and guards
follow local codes and are work for a licensed person where those say so.""",
    ),
    Topic(
        "safety",
        "What can hurt me?",
        """\
The chuck catches hair, sleeves, cords and gloves. Fine wire whips when it
breaks: wear eye protection. An iron is hot, and hot polyurethane enamel gives
off isocyanates: extract the fume where it rises.

Space, Escape and F9 stop the machine, from every screen. But a key on a
computer is not an emergency stop: fit a hard-wired switch that cuts the motor's
power, within reach.""",
    ),
)


def topic_named(name: str) -> Topic | None:
    """The topic of that name, or None."""
    return next((topic for topic in TOPICS if topic.name == name), None)
