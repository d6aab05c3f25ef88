"""The group SETTINGS: what differs from machine to machine, kept by the board itself.

One content, read and written whole. ``fault_in`` is what a board must refuse: first each field by its own
limits, in their order, then the contradictions, in theirs. Values in the units of their names.
"""

import dataclasses
from dataclasses import dataclass
from typing import Annotated, NamedTuple

from .vocabulary import Driver, LineSpeed, Low, Sensor, Wired
from .wire import U8, U16, U32, Group, Sender, message

BAUD_OF = {LineSpeed.FAST: 500_000, LineSpeed.SLOW: 115_200}


@message(0x60, Group.SETTINGS, Sender.HOST)
@dataclass(frozen=True, slots=True)
class ReadSettings:
    """Asks for the settings in force. Needs no session; answered by ``Settings``."""


@message(0xE0, Group.SETTINGS, Sender.BOARD)
@dataclass(frozen=True, slots=True)
class Settings:
    """The settings in force. A board that was never taught has zeros, which drive nothing."""

    number: Annotated[int, U32, "", "the board's own lasting number, random, not 0"] = 0
    sensor: Annotated[Sensor, U8, "", ""] = Sensor.FOUR_EDGES
    filter_us: Annotated[int, U8, "us", "a level must have lasted so long before it counts"] = 0
    bounce_us: Annotated[
        int, U16, "us", "ONE_PULSE: an edge so soon after another is its bounce"
    ] = 0
    least_period_us: Annotated[
        int, U16, "us", "ONE_PULSE: an edge that comes sooner is not counted but told; 0: any"
    ] = 0
    driver: Annotated[Driver, U8, "", ""] = Driver.NONE
    low: Annotated[int, U8, "bits", "outputs that are on while low", Low] = 0
    inputs: Annotated[int, U8, "bits", "what is wired", Wired] = 0
    line: Annotated[LineSpeed, U8, "", ""] = LineSpeed.FAST
    dead_ms: Annotated[int, U8, "ms", "drive and brake are both off for longer in between"] = 0
    rate_max_mcps: Annotated[int, U32, "0.001 counts/s", "fastest the board will drive"] = 0
    full_rate_mcps: Annotated[
        int, U32, "0.001 counts/s", "speed of the motor without load at full duty"
    ] = 0
    full_accel_mcps2: Annotated[
        int, U32, "0.001 counts/s2", "speeding up from rest at full duty, friction apart"
    ] = 0
    friction_permille: Annotated[int, U16, "0.001", "share of full duty that keeps it turning"] = 0
    brake_permille: Annotated[
        int, U16, "0.001", "pull of the full brake as a share of full_accel_mcps2; 0: no brake"
    ] = 0
    cut_ms: Annotated[int, U16, "ms", "told in the welcome"] = 0
    rest_ms: Annotated[int, U16, "ms", "told in the welcome"] = 0
    step_pm: Annotated[int, U32, "pm", "one step of the guide; 0: there is no guide"] = 0
    travel_steps: Annotated[int, U32, "steps", "from the left mark"] = 0
    steps_a_ms: Annotated[int, U8, "steps/ms", "the guide's fastest"] = 0


UNTAUGHT = Settings()


@dataclass(frozen=True)
class _Believed:
    token: Annotated[int, U32, "", "the session's token"]
    boot: Annotated[int, U16, "", "boot number the host believes in"]
    revision: Annotated[int, U16, "", "board's revision the host believes in"]


@message(0x61, Group.SETTINGS, Sender.HOST, numbered=True)
@dataclass(frozen=True)
class WriteSettings(Settings, _Believed):
    """Keeps other settings and boots anew with them. At rest, no wind open."""

    @property
    def content(self) -> Settings:
        return Settings(**{f.name: getattr(self, f.name) for f in dataclasses.fields(Settings)})


def write_of(content: Settings, token: int, boot: int, revision: int) -> WriteSettings:
    """The command that writes this content."""
    fields = {f.name: getattr(content, f.name) for f in dataclasses.fields(Settings)}
    return WriteSettings(token=token, boot=boot, revision=revision, **fields)


class Limit(NamedTuple):
    """A field's number has at most ``bits`` bits. ``when`` says in which contents it is looked at; else it is 0."""

    field: str
    bits: int
    not_zero: bool = False
    when: str = ""  # "driver": only with one; "guide": only with a driver and a step

    def allows(self, content: Settings) -> bool:
        number: int = getattr(content, self.field)
        idle = (self.when and not content.driver) or (self.when == "guide" and not content.step_pm)
        if idle:
            return number == 0
        return number >> self.bits == 0 and (number > 0 or not self.not_zero)


LIMITS = (
    Limit("number", 32, not_zero=True),
    Limit("sensor", 2),
    Limit("filter_us", 5),
    Limit("bounce_us", 16),
    Limit("least_period_us", 16),
    Limit("driver", 1),
    Limit("low", 5),
    Limit("inputs", len(Wired)),
    Limit("line", 1),
    Limit("dead_ms", 7, not_zero=True, when="driver"),
    Limit("rate_max_mcps", 31, not_zero=True, when="driver"),
    Limit("full_rate_mcps", 31, not_zero=True, when="driver"),
    Limit("full_accel_mcps2", 31, not_zero=True, when="driver"),
    Limit("friction_permille", 10, when="driver"),
    Limit("brake_permille", 15, when="driver"),
    Limit("cut_ms", 16, not_zero=True, when="driver"),
    Limit("rest_ms", 16, not_zero=True, when="driver"),
    Limit("step_pm", 27, when="driver"),
    Limit("travel_steps", 24, not_zero=True, when="guide"),
    Limit("steps_a_ms", 5, not_zero=True, when="guide"),
)
ALL_PINS = (1 << len(Wired)) - 1
LEAST_PERIOD_SHARE_MOST = 500_000_000  # half a period at the highest rate, in mcps times us


def fault_in(content: Settings, edge_rate_max_cps: int, pins: int = ALL_PINS) -> str | None:
    """The field that a board refuses, or None. ``edge_rate_max_cps``: what it counts with this sensor; ``pins``: its
    inputs."""
    for limit in LIMITS:
        if not limit.allows(content) or (limit.field == "inputs" and content.inputs & ~pins):
            return limit.field
    if content.sensor not in Sensor.__members__.values():
        return "sensor"
    if content.bounce_us > content.least_period_us:
        return "bounce_us"
    if not content.driver:
        return None
    if content.rate_max_mcps // 1000 > edge_rate_max_cps:
        return "rate_max_mcps"
    if content.rate_max_mcps * content.least_period_us > LEAST_PERIOD_SHARE_MOST:
        return "least_period_us"
    if content.full_rate_mcps < content.rate_max_mcps:
        return "full_rate_mcps"
    return "rest_ms" if content.rest_ms <= content.cut_ms else None
