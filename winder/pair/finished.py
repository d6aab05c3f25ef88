"""A coil as it lies on the shelf: what its recipe figured, the turns as wound, and its reading.

Of a finished coil the turns are those on it now, not those planned; its turns-area and wire follow from
them. Their doubt is split by cause (``coil.doubts``), so that two coils of one kind can be compared: how this
bench packs such a bobbin is common to both and drops out of their difference.
"""

from __future__ import annotations

import math
from dataclasses import field, replace

from firmware_protocol.records import dataclass
from winder.coil.bands import Band, exact
from winder.coil.core import Section
from winder.coil.doubts import Doubtful
from winder.coil.equations import reading_log
from winder.coil.model import Coil
from winder.coil.turns_area import growth, packing_slopes
from winder.coil.winding import figure_coil
from winder.errors import UserMistake
from winder.files.digits import show_number
from winder.files.quantities import COPPER_ALPHA20_PER_K, copper_factor
from winder.machine.instruments import Instruments
from winder.recipe.observations import OhmReading

# Area per turn of one coil against another of the same recipe, 95 %; our judgement, no source.
PACKING_DIFFERENCE = 0.03
# In ohms, of two coils wound by one bench with the same tension, 95 %; our judgement, no source.
STRETCH_DIFFERENCE = 0.002
# How far two coils that lay side by side may differ in temperature, 95 %; our judgement, no source.
SITTING_KELVIN = 0.3


@dataclass(frozen=True, slots=True)
class FinishedCoil:
    """``turns`` as wound, 95 % or hard limits; ``spool`` is any name, the same for the same spool.

    ``coil`` is what the recipe gives before this coil's own reading is learnt: the reading comes beside it.
    """

    name: str
    coil: Coil
    turns: Band
    reading: OhmReading | None = None  # of the finished coil; None: not measured
    instruments: Instruments = field(default_factory=Instruments)  # that it was read with
    spool: str = ""  # "": not known, so another one than any other coil's

    @property
    def kind(self) -> tuple[object, ...]:
        """What two coils of one recipe have in common: the wire, and what it lies on."""
        return (self.coil.wire.label, self.coil.ground, self.coil.recipe.leads_m)

    @property
    def ohm_20c(self) -> float | None:
        """As read, the meter's leads taken off, at 20 C."""
        if self.reading is None or self.reading.ohm is None:
            return None
        shown = self.reading.ohm - self.instruments.leads_band_ohm[0]
        return shown / copper_factor(self.reading.temperature_c)


def finished_coil(
    name: str,
    coil: Coil,
    turns: float | tuple[float, float],
    *,
    ohm: float | None = None,
    temperature_c: float = 20.0,
    instruments: Instruments | None = None,
    spool: str = "",
) -> FinishedCoil:
    """A coil with its turns (or their limits) and what the meter showed. ``UserMistake`` for the impossible."""
    low, high = (turns, turns) if isinstance(turns, int | float) else turns
    if not 0 < low <= high < math.inf:
        raise UserMistake(
            f"{name} has {low:g} to {high:g} turns",
            where="turns",
            remedy="give the turns that are on the coil, more than nothing",
        )
    instruments = instruments or coil.instruments
    if ohm is not None and not 0 < ohm - instruments.leads_band_ohm[0] < math.inf:
        raise UserMistake(
            f"{name} shows {show_number(ohm, 6)} ohm",
            where="reading",
            remedy="measure again: a coil has more ohms than the meter's leads",
        )
    reading = None if ohm is None else OhmReading((low + high) / 2, ohm, temperature_c)
    band = exact(low) if low == high else Band((low + high) / 2, low, high)
    return FinishedCoil(name, coil, band, reading, instruments, spool)


def by_practice(finished: FinishedCoil) -> FinishedCoil:
    """The same by tables and practice alone, whatever its recipe learnt before it was begun.

    What one of two coils had learnt and the other not (a mate knows the first coil's reading) would stand between
    them as a difference, and what both share would no longer drop out.
    """
    coil = finished.coil
    if coil.knowledge is None:
        return finished
    return replace(finished, coil=figure_coil(replace(coil.recipe, readings=())))


@dataclass(frozen=True, slots=True)
class Logs:
    """Logarithms with their doubts by cause: area per turn, ohms at 20 C by the model, turns-area."""

    packing: Doubtful
    ohm_20c: Doubtful
    turns_area_m2: Doubtful


def logs_of(finished: FinishedCoil, place: str, *, one_kind: bool, one_spool: bool) -> Logs:
    """The model's word for this coil. Causes named with ``place`` are its own."""
    coil, turns = finished.coil, finished.turns
    ground, area, leads_m = coil.ground, coil.area_per_turn_m2, coil.recipe.leads_m
    packing = packing_of(coil, place, one_kind=one_kind)
    wire_slope, area_slope = packing_slopes(ground, turns.nominal, area.nominal, leads_m)
    length_m = ground.length_m(turns.nominal, area.nominal) + leads_m
    count = (turns.high - turns.low) / 2 / turns.nominal
    wire = coil.wire.ohm_per_m
    spool = "wire" if one_spool else f"wire of {place}"
    turn_m = ground.turn_m(turns.nominal, area.nominal)
    ohm = Doubtful(
        math.log(wire.nominal * length_m),
        {
            spool: math.log(wire.high / wire.low) / 2,
            f"turns of {place}": count * turn_m * turns.nominal / length_m,
            f"stretch of {place}": STRETCH_DIFFERENCE / math.sqrt(2),
        },
    )
    turns_area = Doubtful(
        math.log(ground.turns_area_m2(turns.nominal, area.nominal)),
        {f"turns of {place}": count * growth(ground, turns.nominal, area.nominal)},
    )
    deviation = Doubtful(0.0, packing.causes)
    return Logs(packing, ohm.plus(deviation, wire_slope), turns_area.plus(deviation, area_slope))


def ohms_read(finished: FinishedCoil, place: str, *, one_sitting: bool) -> Doubtful | None:
    """The logarithm of the ohms read, at 20 C, with what the meter and the thermometer leave open."""
    if finished.reading is None or finished.reading.ohm is None:
        return None
    sitting = "one sitting" if one_sitting else ""
    read = reading_log(finished.instruments, finished.reading, place, sitting)
    if not one_sitting:
        return read
    kelvin = min(SITTING_KELVIN, finished.instruments.thermometer_k)
    return read.plus(Doubtful(0.0, {f"warmth of {place}": COPPER_ALPHA20_PER_K * kelvin}))


def packing_of(coil: Coil, place: str, *, one_kind: bool) -> Doubtful:
    """The logarithm of the area per turn: the habit common to one kind, and this coil's chance."""
    area = coil.area_per_turn_m2
    whole = math.log(area.high / area.low) / 2
    if not one_kind:
        return Doubtful(math.log(area.nominal), {f"packing of {place}": whole})
    own = min(PACKING_DIFFERENCE / math.sqrt(2), whole)
    habit = math.sqrt(whole**2 - own**2)
    return Doubtful(math.log(area.nominal), {"packing habit": habit, f"packing of {place}": own})


def section_of(finished: FinishedCoil) -> Section:
    """The winding as a body, for its fields."""
    coil, turns, area_m2 = finished.coil, finished.turns.nominal, finished.coil.area_per_turn_m2
    width_m = coil.ground.even_width_m(turns, area_m2.nominal)
    return Section(coil.outline, width_m, coil.ground.build_m(turns, area_m2.nominal))
