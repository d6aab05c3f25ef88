"""What the wire is: two packaged tables, the definition of the American gauge, or a micrometer.

``tables/awg.csv`` carries magnet wire of AWG 10 to 50 with single and heavy film (NEMA MW 1000
style), in the units it is printed in: mils and ohms per 1000 feet. Its bare diameters are the
rounded ones of ASTM B258, because wire is made to them; the definition formula gives up to 2.9 %
other resistances and lives in ``awg_diameter_m``; a recipe may ask for it. ``tables/metric.csv`` carries the sizes of IEC
60317-0-1, in millimetres and ohms per metre.

Nominal resistance is IACS copper (1/58 ohm mm2/m) for the American table; IEC uses 1/58.5, so its
figures stand 0.85 % lower for the same diameter. The limits are what a conforming wire keeps; they
are taken as the 95 % limits of a spool that nobody has measured. A maker's ohms per metre replace the
nominal and keep the limits' ratios, for they too are of wire as made, not of this spool.
"""

from __future__ import annotations

import csv
import dataclasses
import functools
import math
from collections.abc import Iterable
from pathlib import Path

from firmware_protocol.records import dataclass
from winder.coil.bands import Band
from winder.errors import UserMistake
from winder.files.dimensions import INCH_M, MIL_M
from winder.files.quantities import COPPER_RESISTIVITY_20C_OHM_M, awg_bare_m, swg_bare_m
from winder.recipe.model import AwgWire, MeasuredWire, MetricWire, SwgWire, Wire

KFT_M = 12_000 * INCH_M
IEC_OHM_M = 1e-6 / 58.5  # what IEC 60317-0-1 computes nominal resistances with
FILMS = ("single", "heavy")
GRADES = (1, 2, 3)
GRADE_3_SOURCE = "; grade 3: as much over grade 2 as grade 2 is over grade 1"
DEFINITION = "definition"
# What a micrometer in careful hands leaves open on a diameter, and copper's conductivity (58 to 59
# MS/m) on the resistance, both at 95 %; our judgement, no source.
MICROMETER_M = 1e-6
CONDUCTIVITY_FACTOR = 59 / 58

_Row = dict[str, str]


@dataclass(frozen=True, slots=True)
class WireFacts:
    """One wire from the tables: SI units, 20 C."""

    label: str  # for people: "42 AWG single", "0.063 mm grade 1"
    bare_m: float
    overall_m: float  # over the enamel, nominal
    ohm_per_m: Band
    source: str
    overall_limits_m: tuple[float, float] | None = None  # over the enamel; None: not known


def awg_diameter_m(gauge: int) -> float:
    """Bare diameter by definition: 0.005 in x 92^((36 - gauge)/39) (ASTM B258), not rounded."""
    return awg_bare_m(gauge)


def solid_ohm_per_m(
    bare_m: float, resistivity_ohm_m: float = COPPER_RESISTIVITY_20C_OHM_M
) -> float:
    """Ohms per metre of a round conductor at 20 C."""
    return resistivity_ohm_m / (math.pi / 4 * bare_m**2)


def wire_facts(wire: Wire) -> WireFacts:
    """Diameters in metres, ohms per metre at 20 C. ``UserMistake`` for a wire not in the tables."""
    if isinstance(wire, MeasuredWire):
        facts = _measured_facts(wire)
    else:
        facts = _overcoated(_table_facts(wire), wire.overcoat_m)
    maker = wire.ohm_per_m
    if maker is None:
        return facts
    table = facts.ohm_per_m
    if not 0.5 < maker / table.nominal < 2:
        raise UserMistake(
            f"{maker:.4g} ohm/m cannot be copper of {facts.bare_m * 1e3:.4g} mm,"
            f" which has {table.nominal:.4g} ohm/m",
            where="wire.ohms_per_length",
            remedy="check the unit and the gauge; or leave it out to take the table's",
        )
    ratio = maker / table.nominal
    band = Band(maker, table.low * ratio, table.high * ratio)
    return dataclasses.replace(
        facts, ohm_per_m=band, source=f"{facts.source}; ohms per metre: the maker's"
    )


def makers_remark(wire: Wire) -> str:
    """Where a maker's ohms per metre are more or less than copper of this wire can have; "" where they are not."""
    maker = wire.ohm_per_m
    if maker is None or isinstance(wire, MeasuredWire):
        return ""
    facts = _table_facts(wire)
    table = facts.ohm_per_m
    if table.low <= maker <= table.high:
        return ""
    near = ""
    if isinstance(wire, AwgWire):
        ohms = {gauge: _band(row, "ohm_per_kft", KFT_M) for gauge, row in _awg_rows().items()}
        gauge = min(ohms, key=lambda each: abs(math.log(maker / ohms[each].nominal)))
        near = f"; it is what {gauge} AWG has" if gauge != wire.gauge else ""
    return (
        f"{maker:.4g} ohm/m is not what {facts.label} can have, {table.low:.4g} to"
        f" {table.high:.4g} ohm/m{near}: read the label again"
    )


def _table_facts(wire: AwgWire | SwgWire | MetricWire) -> WireFacts:
    if isinstance(wire, AwgWire):
        return _awg_facts(wire)
    return _swg_facts(wire) if isinstance(wire, SwgWire) else _metric_facts(wire)


def _overcoated(facts: WireFacts, overcoat_m: float) -> WireFacts:
    """With a bonding layer over the enamel: twice its thickness on the diameter."""
    if not overcoat_m:
        return facts
    assert facts.overall_limits_m is not None
    low_m, high_m = facts.overall_limits_m
    return dataclasses.replace(
        facts,
        label=f"{facts.label} bondable",
        overall_m=facts.overall_m + 2 * overcoat_m,
        overall_limits_m=(low_m + 2 * overcoat_m, high_m + 2 * overcoat_m),
        source=f"{facts.source}; bonding layer of {overcoat_m * 1e3:.4g} mm, as told",
    )


def metric_sizes_m() -> tuple[float, ...]:
    """Bare diameters of the metric table, metres, rising."""
    return tuple(nm * 1e-9 for nm in sorted(_metric_rows()))


def awg_gauges() -> tuple[int, ...]:
    """Gauges of the American table, rising (thick to thin)."""
    return tuple(sorted(_awg_rows()))


def _awg_facts(wire: AwgWire) -> WireFacts:
    rows = _awg_rows()
    if wire.gauge not in rows:
        nearest = min(rows, key=lambda gauge: abs(gauge - wire.gauge))
        raise UserMistake(
            f"{wire.gauge} AWG is not in the wire table (AWG {min(rows)} to {max(rows)})",
            where="wire",
            remedy=f"take a gauge of the table, the nearest is {nearest} AWG, or a metric size",
        )
    if wire.film not in FILMS:
        raise UserMistake(
            f"film {wire.film!r} is not known for AWG wire",
            where="wire",
            remedy='write "single" or "heavy"',
        )
    row = rows[wire.gauge]
    facts = WireFacts(
        label=f"{wire.gauge} AWG {wire.film}",
        bare_m=float(row["bare_mil"]) * MIL_M,
        overall_m=float(row[f"{wire.film}_mil"]) * MIL_M,
        ohm_per_m=_band(row, "ohm_per_kft", KFT_M),
        source=row["source"],
        overall_limits_m=(
            float(row[f"{wire.film}_min_mil"]) * MIL_M,
            float(row[f"{wire.film}_max_mil"]) * MIL_M,
        ),
    )
    return _by_definition(facts, wire.gauge) if wire.sizing == DEFINITION else facts


def _by_definition(table: WireFacts, gauge: int) -> WireFacts:
    """The same film on the bare diameter of the gauge's definition; the limits keep their ratios."""
    bare_m = awg_diameter_m(gauge)
    ohm_per_m = solid_ohm_per_m(bare_m)
    ratio = ohm_per_m / table.ohm_per_m.nominal
    assert table.overall_limits_m is not None
    thicker_m = bare_m - table.bare_m
    low_m, high_m = table.overall_limits_m
    return WireFacts(
        label=f"{table.label} by definition",
        bare_m=bare_m,
        overall_m=table.overall_m + thicker_m,
        ohm_per_m=Band(ohm_per_m, table.ohm_per_m.low * ratio, table.ohm_per_m.high * ratio),
        source=f"bare: ASTM B258 formula, not rounded; film and limits as of: {table.source}",
        overall_limits_m=(low_m + thicker_m, high_m + thicker_m),
    )


def _measured_facts(wire: MeasuredWire) -> WireFacts:
    """Copper of the measured diameter, as far as a micrometer can be trusted."""
    if not 0 < wire.bare_m < wire.overall_m:
        raise UserMistake(
            f"{wire.overall_m * 1e3:.6g} mm over the enamel does not go with {wire.bare_m * 1e3:.6g} mm bare",
            where="wire.overall",
            remedy="measure both again; the copper is the thinner of the two",
        )
    nominal = solid_ohm_per_m(wire.bare_m)
    doubt_m = min(MICROMETER_M, wire.bare_m / 4)
    thinner, thicker = wire.bare_m - doubt_m, wire.bare_m + doubt_m
    up = math.hypot(2 * math.log(wire.bare_m / thinner), math.log(CONDUCTIVITY_FACTOR))
    down = math.hypot(2 * math.log(thicker / wire.bare_m), math.log(CONDUCTIVITY_FACTOR))
    return WireFacts(
        label=f"{wire.bare_m * 1e3:.4g} mm measured",
        bare_m=wire.bare_m,
        overall_m=wire.overall_m,
        ohm_per_m=Band(nominal, nominal / math.exp(down), nominal * math.exp(up)),
        source="measured diameters; IACS copper, 1/58 ohm mm2/m",
        overall_limits_m=(wire.overall_m - MICROMETER_M, wire.overall_m + MICROMETER_M),
    )


def _metric_facts(wire: MetricWire) -> WireFacts:
    rows = _metric_rows()
    size_nm = round(wire.diameter_m * 1e9)
    if size_nm not in rows:
        raise UserMistake(
            f"{size_nm / 1e6:.6g} mm is not in the wire table"
            f" ({min(rows) / 1e6:.3f} to {max(rows) / 1e6:.3f} mm)",
            where="wire",
            remedy=f"take a size of the table: {_neighbours(size_nm, rows)}",
        )
    row = rows[size_nm]
    # The standard limits the overall diameter on both sides and names none in between: the middle.
    low_mm, high_mm = _overall_mm(row, wire.grade)
    return WireFacts(
        label=f"{row['bare_mm']} mm grade {wire.grade}",
        bare_m=float(row["bare_mm"]) * 1e-3,
        overall_m=(low_mm + high_mm) / 2 * 1e-3,
        ohm_per_m=_band(row, "ohm_per_m", 1.0),
        source=row["source"] + GRADE_3_SOURCE * (wire.grade == 3),
        overall_limits_m=(low_mm * 1e-3, high_mm * 1e-3),
    )


def _overall_mm(row: _Row, grade: int) -> tuple[float, float]:
    """Limits over the enamel. Grade 3 is not in the tables at hand: as far over grade 2 as that is over grade 1."""
    if grade not in GRADES:
        raise UserMistake(
            f"grade {grade} is not in the wire table", where="wire", remedy="write 1, 2 or 3"
        )
    (low_1, high_1), (low_2, high_2) = (
        (float(row[f"grade{each}_min_mm"]), float(row[f"grade{each}_max_mm"])) for each in (1, 2)
    )
    return (low_1 + (grade - 1) * (low_2 - low_1), high_1 + (grade - 1) * (high_2 - high_1))


def _swg_facts(wire: SwgWire) -> WireFacts:
    """Imperial wire with an IEC grade: film and limits between those of the next metric sizes."""
    bare_m = swg_bare_m(wire.gauge)
    rows = _metric_rows()
    size_nm = bare_m * 1e9
    nearest = sorted(rows, key=lambda size: abs(size - size_nm))[:2]
    first, other = rows[nearest[0]], rows[nearest[1]]
    share = (size_nm - nearest[0]) / (nearest[1] - nearest[0])

    def between(one: float, two: float) -> float:
        return one + (two - one) * max(share, 0.0)

    films_m = [
        1e-3 * between(one - float(first["bare_mm"]), two - float(other["bare_mm"]))
        for one, two in zip(
            _overall_mm(first, wire.grade), _overall_mm(other, wire.grade), strict=True
        )
    ]
    nominal = solid_ohm_per_m(bare_m)
    low, high = (
        nominal
        * between(
            *(float(row[f"ohm_per_m_{end}"]) / float(row["ohm_per_m"]) for row in (first, other))
        )
        for end in ("min", "max")
    )
    return WireFacts(
        label=f"{wire.gauge} SWG grade {wire.grade}",
        bare_m=bare_m,
        overall_m=bare_m + sum(films_m) / 2,
        ohm_per_m=Band(nominal, low, high),
        source="bare: imperial standard wire gauge (from memory); IACS copper; film and limits between the"
        " nearest sizes of IEC 60317-0-1",
        overall_limits_m=(bare_m + films_m[0], bare_m + films_m[1]),
    )


def _neighbours(size_nm: int, sizes: Iterable[int]) -> str:
    below = max((s for s in sizes if s < size_nm), default=None)
    above = min((s for s in sizes if s > size_nm), default=None)
    return " or ".join(f"{s / 1e6:.3f} mm" for s in (below, above) if s is not None)


def _band(row: _Row, column: str, per: float) -> Band:
    nominal, low, high = (float(row[column + end]) / per for end in ("", "_min", "_max"))
    return Band(nominal, low, high)


@functools.cache
def _awg_rows() -> dict[int, _Row]:
    return {int(row["gauge"]): row for row in _read_table("awg.csv")}


@functools.cache
def _metric_rows() -> dict[int, _Row]:
    """By bare diameter in whole nanometres: a size is looked up exactly, never by a float."""
    return {round(float(row["bare_mm"]) * 1e6): row for row in _read_table("metric.csv")}


def _read_table(name: str) -> list[_Row]:
    table = Path(__file__).with_name("tables") / name
    return list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
