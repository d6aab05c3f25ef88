"""What a person may write where a port is asked for.

``sim`` is the simulated bench, optionally faster (``pace``), with a seed that makes a wind repeatable
(``seed``), with a wire that parts at a turn
(``break``), and with a limit switch that is bad (``switch``): ``sim?pace=20&seed=7&break=1200&switch=never``. Everything else is a serial port: a device path or an
address such as ``socket://host:port``. A file that happens to be called ``sim`` is reached as
``./sim``. Nothing is opened here.

What a serial port is called differs between systems. They are known by name only: this program runs on
Linux, and winding through a port of Windows or macOS is untested.
"""

from __future__ import annotations

import math
import re
import sys

from firmware_protocol.records import dataclass
from winder.errors import UserMistake
from winder.files.nearest import nearest

SIMULATED = "sim"
PACE_MIN = 0.01
PACE_MAX = 1000.0  # beyond this the host's own loop is the slower one
SEED_MAX = (1 << 63) - 1  # what the logbook can keep

TURN_MAX = 10_000_000  # nobody winds more

SWITCHES = ("never", "loose", "stuck")
_OPTIONS = ("pace", "seed", "break", "switch")
_NUMBER = re.compile(r"[0-9]+(\.[0-9]+)?", re.ASCII)
_WHOLE = re.compile(r"[0-9]+", re.ASCII)
_PORTS = {
    "Linux": re.compile(r"/dev/(serial/by-(id|path)/[^/]+|tty[A-Z]+[0-9]+|rfcomm[0-9]+)"),
    "macOS": re.compile(r"/dev/(cu|tty)\.[^/]+"),  # cu calls out; tty waits to be called
    "Windows": re.compile(r"(\\\\\.\\)?COM[1-9][0-9]{0,2}", re.IGNORECASE),  # \\.\ from COM10 on
}
_SYSTEMS = {"linux": "Linux", "darwin": "macOS", "win32": "Windows"}  # as sys.platform says
_MEANT_SIMULATED = ("simulated", "simulator", "simulation", "simulate")


@dataclass(frozen=True, slots=True)
class PortChoice:
    """A port as it was asked for. ``pace`` and ``seed`` mean something only when simulated."""

    address: str  # as written; for a serial port what to open
    simulated: bool
    pace: float = 1.0  # seconds of the machine in one second of the world
    seed: int | None = None  # None: not asked for; whoever chooses one must show it
    break_turn: float | None = None  # of the bobbin, where the wire parts; None: it holds
    switch: str = ""  # what is wrong with the guide's limit switch, one of ``SWITCHES``


def parse_port(text: str) -> PortChoice:
    """Read a port. Raises ``UserMistake`` for an empty one and for options ``sim`` does not have."""
    text = text.strip()
    if not text:
        raise UserMistake("no port was named", where="port", remedy=_REMEDY)
    name, mark, options = text.partition("?")
    if name != SIMULATED:
        if name.lower() in _MEANT_SIMULATED or name.lower() == SIMULATED:
            raise UserMistake(
                f"there is no port '{name}'", where=text, remedy=f"did you mean '{SIMULATED}'?"
            )
        return PortChoice(address=text, simulated=False)
    chosen = _read_options(text, options) if mark else {}
    return PortChoice(
        address=text,
        simulated=True,
        pace=read_pace(chosen["pace"], where=text) if "pace" in chosen else 1.0,
        seed=read_seed(chosen["seed"], where=text) if "seed" in chosen else None,
        break_turn=read_turn(chosen["break"], where=text) if "break" in chosen else None,
        switch=_read_switch(chosen["switch"], where=text) if "switch" in chosen else "",
    )


def foreign_system(port: str, platform: str = sys.platform) -> str:
    """The system that calls its ports so, if that is not this one; else ""."""
    own = _SYSTEMS.get(platform, "")
    if own and _PORTS[own].fullmatch(port):
        return ""
    return next((each for each, name in _PORTS.items() if each != own and name.fullmatch(port)), "")


_REMEDY = "give 'sim' for the simulated bench, or a serial port such as /dev/serial/by-id/..."


def _read_options(text: str, options: str) -> dict[str, str]:
    chosen: dict[str, str] = {}
    for part in options.split("&"):
        key, equals, value = part.partition("=")
        if key not in _OPTIONS:
            near = nearest(key, _OPTIONS)
            others = "it has 'pace', 'seed', 'break' and 'switch'"
            remedy = f"did you mean '{near}'?" if near else others
            raise UserMistake(f"'sim' has no option '{key}'", where=text, remedy=remedy)
        if not equals or not value:
            raise UserMistake(
                f"option '{key}' has no value", where=text, remedy=f"write it as {key}=7"
            )
        if key in chosen:
            raise UserMistake(
                f"option '{key}' is there twice", where=text, remedy="keep one of them"
            )
        chosen[key] = value
    return chosen


def _read_switch(value: str, where: str) -> str:
    if value in SWITCHES:
        return value
    raise UserMistake(
        f"a limit switch cannot be '{value[:40]}'",
        where=where,
        remedy=f"it is {', '.join(SWITCHES[:-1])} or {SWITCHES[-1]}",
    )


def read_pace(value: str, where: str) -> float:
    """How much faster than the world. Raises ``UserMistake``."""
    pace = float(value) if _NUMBER.fullmatch(value) else math.nan
    if not PACE_MIN <= pace <= PACE_MAX:
        raise UserMistake(
            f"pace '{value[:40]}' is not a number from {PACE_MIN:g} to {PACE_MAX:g}",
            where=where,
            remedy="write it with a point and without a unit, as in 20 or 0.5",
        )
    return pace


def read_seed(value: str, where: str) -> int:
    """A seed that the logbook can keep. Raises ``UserMistake``."""
    # The length first: Python refuses to read thousands of digits with an error of its own.
    if len(value) > 19 or not _WHOLE.fullmatch(value) or int(value) > SEED_MAX:
        raise UserMistake(
            f"seed '{value[:40]}' is not a whole number from 0 to {SEED_MAX}",
            where=where,
            remedy="write it with digits only, as in 7",
        )
    return int(value)


def read_turn(value: str, where: str) -> float:
    """A turn of a coil, or a place between two. Raises ``UserMistake``."""
    turn = float(value) if _NUMBER.fullmatch(value) else math.nan
    if not 0 <= turn <= TURN_MAX:
        raise UserMistake(
            f"turn '{value[:40]}' is not a number from 0 to {TURN_MAX}",
            where=where,
            remedy="write it without a unit, as in 1200",
        )
    return turn
