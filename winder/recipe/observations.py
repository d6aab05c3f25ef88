"""What a person can measure of a coil, before, during and after it is wound.

Each kind says what was measured, where, and how far the measuring can be trusted; all errors are 95 %
limits. A value that is ``None`` has not been measured yet: such an observation can be asked what it
*would* tell (``knowledge.would_buy``). Ohms are as the meter showed them, with the temperature the wire
had then; nothing is brought to 20 C beforehand.

What the instruments leave open is the bench's (``winder.machine.instruments``); what belongs to one reading stands with it.
"""

from __future__ import annotations

from dataclasses import field

from firmware_protocol.records import dataclass

# How far the place that was measured may stand above or below the winding's mean height; our judgement,
# no source. A winding guided by hand is thicker in the middle than at the flanges.
UNEVEN_EVEN_LAY = 0.03
UNEVEN_BY_HAND = 0.15
CALIPER_M = 50e-6  # what a caliper in careful hands leaves open; our judgement, no source
TAPE_MEASURE_M = 5e-3  # on a few metres of fine wire laid straight; our judgement, no source


@dataclass(frozen=True, slots=True)
class SpoolTail:
    """A few metres from this coil's spool, measured by themselves; 20 m of fine wire fix the ohms per metre."""

    length_m: float
    ohm: float | None = None
    temperature_c: float = 20.0
    length_error_m: float = TAPE_MEASURE_M
    step_ohm: float = field(default=0.0, compare=False)  # the last digit that was written down
    noted_c: bool = True  # False: nobody read a thermometer, 20 C is a guess


@dataclass(frozen=True, slots=True)
class BuildCaliper:
    """Height of the winding above what it lies on, after ``turns``; fixes the packing."""

    turns: float
    build_m: float | None = None
    error_m: float | None = None  # None: the bench's caliper
    uneven_share: float = UNEVEN_EVEN_LAY
    # Across flat sides, where the layers stand looser; None: as the core allows, at the rounded ends if it has any.
    on_flats: bool | None = None


@dataclass(frozen=True, slots=True)
class FinishedDiameter:
    """Outside of the winding, and the same place of the bare core (tape included): twice the build."""

    turns: float
    core_m: float
    outside_m: float | None = None
    error_m: float | None = None
    uneven_share: float = UNEVEN_EVEN_LAY
    on_flats: bool | None = None

    def build(self) -> BuildCaliper:
        """The same as a height."""
        height_m = None if self.outside_m is None else (self.outside_m - self.core_m) / 2
        error_m = None if self.error_m is None else self.error_m / 2
        return BuildCaliper(self.turns, height_m, error_m, self.uneven_share, self.on_flats)


@dataclass(frozen=True, slots=True)
class OhmReading:
    """The coil itself after ``turns`` turns, at a pause or finished, its leads included."""

    turns: float
    ohm: float | None = None
    temperature_c: float = 20.0
    rested_min: float | None = None  # since it was wound; None: just wound
    step_ohm: float = field(default=0.0, compare=False)
    noted_c: bool = True


@dataclass(frozen=True, slots=True)
class EarlierCoil:
    """A finished coil of the same spool on the same kind of bobbin, measured by the same meter, at rest for an hour.

    Its packing was its own: two winds of one recipe differ (``equations.WIND_TO_WIND``).
    """

    turns: float
    ohm: float | None = None
    temperature_c: float = 20.0
    build_m: float | None = None  # where it was measured too
    build_error_m: float | None = None
    uneven_share: float = UNEVEN_EVEN_LAY
    step_ohm: float = field(default=0.0, compare=False)
    noted_c: bool = True
    on_flats: bool | None = None


Observation = SpoolTail | BuildCaliper | FinishedDiameter | OhmReading | EarlierCoil


def is_made(observation: Observation) -> bool:
    """Whether anything of it has been measured."""
    if isinstance(observation, BuildCaliper):
        return observation.build_m is not None
    if isinstance(observation, FinishedDiameter):
        return observation.outside_m is not None
    if isinstance(observation, EarlierCoil):
        return observation.ohm is not None or observation.build_m is not None
    return observation.ohm is not None
