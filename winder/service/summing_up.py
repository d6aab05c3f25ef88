"""What the coils of a shelf say of the program's expectations and of how a bench packs a bobbin."""

from __future__ import annotations

import math

from winder.coil.knowledge import bands, prior, resistance_band
from winder.coil.known import knowledge_of
from winder.errors import UserMistake
from winder.files.quantities import copper_factor
from winder.recipe.observations import OhmReading
from winder.service.shelved import coil_on_shelf, expected_ohms, turns_on
from winder.shelf.model import CoilRecord


def predicted_off(record: CoilRecord) -> tuple[float, float]:
    """Measured ohms at 20 C over those expected less one: by tables alone, and by what was measured before."""
    coil, turns, read = coil_on_shelf(record), turns_on(record), reading_of(record)
    assert read.ohm is not None
    ohm = read.ohm / copper_factor(read.temperature_c)
    by_tables = resistance_band(prior(coil.wound), read.turns).nominal
    return ohm / by_tables - 1, ohm / expected_ohms(coil, turns).nominal - 1


def packing_of_bobbins(record: CoilRecord) -> tuple[str, float]:
    """Wire and bobbin in words, and how much looser than by practice the newest reading says it is packed."""
    coil = coil_on_shelf(record)
    _, learnt = bands(knowledge_of(coil, [reading_of(record)]))
    _, before = bands(prior(coil.wound))
    window_mm = coil.width_m * 1e3
    core_mm = coil.core_perimeter_m * 1e3
    kind = f"{coil.wire.label} {window_mm:.3g} mm wide on {core_mm:.3g} mm round"
    return kind, math.log(learnt.nominal / before.nominal)


def reading_of(record: CoilRecord) -> OhmReading:
    """The newest reading of the coil at its turns. ``UserMistake`` where there is none."""
    row, turns = record.row, turns_on(record)
    if row.measured_ohm is None:
        raise UserMistake(
            f"coil {row.coil_id} has no reading",
            where=row.name,
            remedy=f"measure it: winder shelf measure {row.coil_id} '... ohm, 23 C'",
        )
    at_c = 20.0 if row.measured_at_c is None else row.measured_at_c
    return OhmReading(sum(turns) / 2, row.measured_ohm, at_c)
