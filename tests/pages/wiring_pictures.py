"""The wiring pictures of ``docs/build_a_board.md``: ``python -m tests.pages.wiring_pictures [--check]``.

Which pin does what is read from the headers that the firmware is compiled from; what hangs on it is said here, by kind.
A pin that moves in the firmware moves in the picture, and a pin that is drawn and not there is an error.
"""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from html import escape
from pathlib import Path

ROOT = Path(__file__).parents[2]
PORTS = ROOT / "firmware_protocol" / "firmware" / "ports"
DOCS = ROOT / "docs"
_PIN = re.compile(r"#define PIN_(\w+) _BV\((P[BCD][0-7])\)")
_GP = re.compile(r"#define GP_(\w+) (\d+)u")
ROW, TOP, CHIP_X, CHIP_WIDTH, PART_X, PART_WIDTH = 62, 96, 40, 120, 330, 590
SERIAL = (
    ("PD0", "the adapter's TX", "serial line; ground to ground"),
    ("PD1", "the adapter's RX", "serial line; ground to ground"),
)
USB = (("USB", "the computer", "its serial line; GP0 (TX) and GP1 (RX) are another, of 3.3 V"),)


@dataclass(frozen=True, slots=True)
class Wire:
    """A pin by the firmware's own name, and what it goes to, in one or two lines."""

    pin: str
    part: str
    how: str


@dataclass(frozen=True, slots=True)
class Picture:
    file: str
    title: str
    header: Path
    wires: tuple[Wire, ...]
    chip: str = "ATmega328P"
    line: tuple[tuple[str, str, str], ...] = SERIAL


DRILL = Picture(
    "wiring_drill.svg",
    "a: a counter for a hand drill or a treadle (the counting firmware)",
    PORTS / "smallest" / "port.h",
    (
        Wire(
            "SENSOR",
            "Hall switch, reed or light barrier, output to ground",
            "2.2 kilohm up to 5 V, 10 nF to ground at the pin, screened cable; its supply 5 V and ground",
        ),
        Wire(
            "BEEP",
            "beeper with a tone of its own, its other end to ground",
            "through a small transistor where it takes more than 20 mA",
        ),
    ),
)
MOTOR = Picture(
    "wiring_motor.svg",
    "b: a motor (the winding firmware)",
    PORTS / "atmega328p" / "port.h",
    (
        Wire("A", "sensor, channel A", "2.2 kilohm up to 5 V, 1 nF to ground, Schmitt inverter before the pin"),
        Wire("B", "sensor, channel B", "the same; nothing here with one channel"),
        Wire("ENABLE", "motor driver: enable", "10 kilohm down to ground at the driver, so that a floating pin is off"),
        Wire("DUTY", "motor driver: speed input", "20 kHz; a driver of two inputs takes it at one of them"),
        Wire("BACKWARD", "motor driver: direction input", "with two inputs: chooses which of them gets the speed"),
        Wire("BRAKE", "brake switch", "10 kilohm down to ground; nothing here without a brake"),
        Wire("CONTACTOR", "transistor of the contactor's coil", "10 kilohm down to ground, a diode across the coil; the contactor is in the motor's supply"),
        Wire("GUARD", "guard switch to ground", "closed while the guard is shut; a broken wire reads as open"),
        Wire("WIRE", "wire sensor", "pulls to ground while the wire is there; nothing here without one"),
    ),
)  # fmt: skip
GUIDE = Picture(
    "wiring_guide.svg",
    "c: the guide, beside all of b",
    PORTS / "atmega328p" / "port.h",
    (
        Wire("STEP", "step motor driver: step", "steps as the pin rises; ground to ground"),
        Wire("STEP_RIGHT", "step motor driver: direction", "high is to the right; set the current before its supply is on"),
    ),
)  # fmt: skip
RP2040 = Picture(
    "wiring_rp2040.svg",
    "b and c with an RP2040 (its inputs bear 3.3 V and no more)",
    PORTS / "rp2040" / "port.h",
    (
        Wire("A", "sensor, channel A, output to ground", "2.2 kilohm up to 3.3 V, 1 nF to ground, Schmitt inverter at 3.3 V before the pin"),
        Wire("B", "sensor, channel B", "the same; nothing here with one channel"),
        Wire("ENABLE", "motor driver: enable", "10 kilohm down to ground at the driver; an HCT buffer between where it wants 5 V"),
        Wire("DUTY", "motor driver: speed input", "20 kHz; a driver of two inputs takes it at one of them"),
        Wire("BACKWARD", "motor driver: direction input", "with two inputs: chooses which of them gets the speed"),
        Wire("BRAKE", "brake switch", "10 kilohm down to ground; nothing here without a brake"),
        Wire("CONTACTOR", "transistor of the contactor's coil", "10 kilohm down to ground, a diode across the coil; the contactor is in the motor's supply"),
        Wire("GUARD", "guard switch to ground", "closed while the guard is shut; a broken wire reads as open"),
        Wire("WIRE", "wire sensor", "pulls to ground while the wire is there; nothing here without one"),
        Wire("STEP", "step motor driver: step", "steps as the pin rises; ground to ground"),
        Wire("STEP_RIGHT", "step motor driver: direction", "high is to the right; set the current before its supply is on"),
        Wire("PEDAL", "foot pedal to ground, closed while it is pressed", "2.2 kilohm up to 3.3 V, 10 nF to ground, screened cable; nothing here without one"),
        Wire("STOP", "stop switch to ground, a latching contact that opens", "the same; a cable that breaks stops; never instead of the hard-wired emergency stop"),
        Wire("LIMIT", "limit switch at the guide's left end, to ground", "opens while the guide is there; 2.2 kilohm up to 3.3 V, 10 nF to ground"),
    ),
    "RP2040",
    USB,
)  # fmt: skip
PICTURES = (DRILL, MOTOR, GUIDE, RP2040)


def pins_of(header: str) -> dict[str, str]:
    """The chip's pin of each name, as the firmware is compiled. ``ValueError`` for one pin used twice."""
    found = dict(_PIN.findall(header))
    found |= {name: f"GP{number}" for name, number in _GP.findall(header)}
    if len(set(found.values())) != len(found):
        raise ValueError("two names share a pin")
    return found


def drawn(picture: Picture, header: str) -> str:
    """The picture as SVG. ``KeyError`` for a pin that the firmware does not have."""
    pins = pins_of(header)
    rows = [(pins[wire.pin], wire.part, wire.how) for wire in picture.wires]
    rows += picture.line
    height = TOP + ROW * len(rows) + 40
    body = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 960 {height}" font-family="sans-serif" font-size="14">',
        f"<title>{escape(picture.title)}</title>",
        f'<rect width="960" height="{height}" fill="white"/>',
        f'<text x="40" y="34" font-size="18">{escape(picture.title)}</text>',
        '<text x="40" y="60">Motor supply off while you wire. Every ground meets in one point.</text>',
        f'<rect x="{CHIP_X}" y="{TOP - 14}" width="{CHIP_WIDTH}" height="{ROW * len(rows)}" fill="none" stroke="black"/>',
        f'<text x="{CHIP_X + 10}" y="{TOP + 4}" font-size="12">{picture.chip}</text>',
    ]
    for number, (pin, part, how) in enumerate(rows):
        y = TOP + 22 + number * ROW
        body += [
            f'<text x="{CHIP_X + CHIP_WIDTH - 46}" y="{y + 5}" font-weight="bold">{pin}</text>',
            f'<line x1="{CHIP_X + CHIP_WIDTH}" y1="{y}" x2="{PART_X}" y2="{y}" stroke="black"/>',
            f'<rect x="{PART_X}" y="{y - 22}" width="{PART_WIDTH}" height="44" fill="none" stroke="black"/>',
            f'<text x="{PART_X + 10}" y="{y - 4}">{escape(part)}</text>',
            f'<text x="{PART_X + 10}" y="{y + 14}" font-size="12">{escape(how)}</text>',
        ]
    return "\n".join([*body, "</svg>", ""])


def due(picture: Picture) -> str:
    return drawn(picture, picture.header.read_text(encoding="utf-8"))


def main(words: list[str]) -> int:
    stale = 0
    for picture in PICTURES:
        place = DOCS / picture.file
        if words == ["--check"]:
            stale += not place.exists() or place.read_text(encoding="utf-8") != due(picture)
        else:
            place.write_text(due(picture), encoding="utf-8", newline="\n")
    return int(stale > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
