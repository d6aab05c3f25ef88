"""Sums on a desk against worked values: copper's coefficient, Steiner's formulas, the wire tables.

Copper 0.00393 per kelvin at 20 C (IEC 60028); AWG 42 of 2.5 mil bare, single film 2.8 mil over all (a wire
maker's sheet, Rubadue Wire); ohms per metre 1/58 ohm mm2/m over the bare section.
"""

from __future__ import annotations

import dataclasses
import math

import pytest
from coil_makers import recipe
from hypothesis import given
from hypothesis import strategies as st

from winder.coil.desk import gauge_by_diameter, gauge_by_ohms, reading_at, unknown_coil
from winder.coil.known import coil_of
from winder.coil.winding import figure_coil
from winder.errors import UserMistake
from winder.machine.instruments import Instruments
from winder.recipe.model import AwgWire, MetricWire, RoundCore, TurnsTarget
from winder.recipe.observations import SpoolTail

ON_HUB = {"core": RoundCore(0.007), "width_m": 0.009, "height_m": 0.006}
COIL = figure_coil(recipe(**ON_HUB, target=TurnsTarget(5_000)))


def test_a_reading_at_another_temperature():
    """832 ohm at 30 C are 832 / 1.0393 = 800.54 ohm at 20 C, 3.146 ohm a kelvin."""
    told = reading_at(832.0, 30.0)
    assert told.at_wanted.nominal == pytest.approx(800.5388, rel=1e-6)
    assert told.by_kelvin == pytest.approx(3.146, abs=5e-4)
    # An ordinary hand meter, 0.8 % and 3 digits of 1 ohm, rectangular; leads of 0.1 to 0.3 ohm are left in.
    share = 1.96 / math.sqrt(3) * math.hypot(0.008, 3 / 832, 0.1 / 832) + 0.2 / 832
    assert told.by_meter == pytest.approx(800.54 * share, rel=1e-4)
    doubt = math.hypot(told.by_meter, told.by_thermometer)
    assert told.at_wanted.high - told.at_wanted.nominal == pytest.approx(doubt)


@given(st.floats(1, 1e6), st.floats(-40, 150), st.floats(-40, 150))
def test_there_and_back_is_the_same(ohm, celsius, other):
    meter = Instruments(digits=0)
    there = reading_at(ohm, celsius, meter, other).at_wanted.nominal
    assert reading_at(there, other, meter, celsius).at_wanted.nominal == pytest.approx(ohm)


def test_leads_of_the_meter_come_off_first():
    meter = Instruments(leads_ohm=0.4)
    assert reading_at(100.4, 20.0, meter).at_wanted.nominal == pytest.approx(100.0)
    with pytest.raises(UserMistake, match="leads"):
        reading_at(0.3, 20.0, meter)


@pytest.mark.parametrize(
    ("ohm", "celsius", "wanted"), [(100, 200, 20), (100, 20, -80), (-1, 20, 20)]
)
def test_an_impossible_reading_is_refused(ohm, celsius, wanted):
    with pytest.raises(UserMistake):
        reading_at(ohm, celsius, None, wanted)


def true_ohm(turns: float, area_m2: float, ohm_per_m: float) -> float:
    """Steiner, by hand: P0 N + pi a/W N^2 of wire."""
    return ohm_per_m * (math.pi * 0.007 * turns + math.pi * area_m2 / 0.009 * turns**2)


@given(st.integers(500, 9_000), st.floats(0.87, 1.15), st.floats(0.93, 1.08))
def test_the_turns_of_an_unknown_coil_lie_in_their_band(turns, packing, wire):
    area_m2 = COIL.area_per_turn_m2.nominal * packing
    ohm = true_ohm(turns, area_m2, COIL.wire.ohm_per_m.nominal * wire)
    found = unknown_coil(COIL, reading_at(ohm, 20.0))
    # Both drawn at their limits: the band adds them as squares, sqrt(2); stretch is an interval of it, whose ends the
    # band holds with up to 1.645 in place of 1.96 standard deviations. The corner of what is drawn needs 1.414.
    worst = 1.45
    assert found.turns.nominal / found.turns.low**1 > 1
    low = found.turns.nominal * (found.turns.low / found.turns.nominal) ** worst
    high = found.turns.nominal * (found.turns.high / found.turns.nominal) ** worst
    assert low <= turns <= high


@given(st.integers(1_000, 9_000), st.floats(0.87, 1.15))
def test_a_measured_build_makes_the_packing_drop_out(turns, packing):
    area_m2 = COIL.area_per_turn_m2.nominal * packing
    build_m = turns * area_m2 / 0.009 + COIL.wire.overall_m  # jaws rest on the highest strands
    ohm = true_ohm(turns, area_m2, COIL.wire.ohm_per_m.nominal)
    found = unknown_coil(COIL, reading_at(ohm, 20.0), build_m=min(build_m, 0.012))
    if build_m < 0.012:
        assert found.turns.nominal == pytest.approx(turns, rel=1e-6)


def test_a_tail_and_a_build_together_tell_the_turns_well():
    tail = SpoolTail(20.0, COIL.wire.ohm_per_m.nominal * 20)
    coil = coil_of(recipe(**ON_HUB, target=TurnsTarget(5_000), readings=(tail,)))
    reading = reading_at(
        true_ohm(5_000, COIL.area_per_turn_m2.nominal, COIL.wire.ohm_per_m.nominal), 20.0
    )
    plain, tailed = unknown_coil(COIL, reading), unknown_coil(coil, reading)
    both = unknown_coil(coil, reading, build_m=COIL.build_m + COIL.wire.overall_m)
    widths = [each.turns.high - each.turns.low for each in (plain, tailed, both)]
    assert widths[2] < widths[1] < widths[0]


@given(st.integers(2_000, 9_000), st.floats(0.5, 0.99), st.floats(0.9, 1.1))
def test_what_to_take_off_reaches_the_value(turns, part, packing):
    area_m2 = COIL.area_per_turn_m2.nominal * packing
    r = COIL.wire.ohm_per_m.nominal
    ohm = true_ohm(turns, area_m2, r)
    build_m = turns * area_m2 / 0.009 + COIL.wire.overall_m
    if build_m > 0.012:
        return
    found = unknown_coil(COIL, reading_at(ohm, 20.0), build_m=build_m, reach_ohm_20c=ohm * part)
    left = true_ohm(turns - found.take_off.nominal, area_m2, r)
    assert left == pytest.approx(ohm * part, rel=1e-6)
    assert found.take_off.low <= found.take_off.nominal <= found.take_off.high


def test_a_value_above_the_coils_has_turns_missing():
    found = unknown_coil(COIL, reading_at(900.0, 20.0), reach_ohm_20c=950.0)
    assert found.take_off.nominal < 0


@pytest.mark.parametrize(
    "facts",
    [{"build_m": 0.0}, {"build_m": 0.5}, {"reach_ohm_20c": -1.0}, {"reach_ohm_20c": math.inf}],
    ids=str,
)
def test_what_cannot_be_is_refused(facts):
    with pytest.raises(UserMistake):
        unknown_coil(COIL, reading_at(900.0, 20.0), **facts)
    leads = dataclasses.replace(COIL.recipe, leads_m=5.0)
    with pytest.raises(UserMistake, match="leads"):
        unknown_coil(figure_coil(leads), reading_at(20.0, 20.0))


def test_a_micrometer_over_the_enamel():
    """2.8 mil = 0.0711 mm is 42 AWG single; other wires of that thickness are told too."""
    found = gauge_by_diameter(0.0711e-3, bare=False)
    assert found.matches[0].wire == AwgWire(42, "single")
    assert found.matches[0].fits and len(found.matches) > 1


def test_a_micrometer_on_bare_copper():
    found = gauge_by_diameter(0.063e-3, bare=True)
    assert found.matches[0].wire == MetricWire(0.063e-3, 1)
    assert AwgWire(42, "single") in [match.wire for match in found.matches]


def test_the_ohms_of_a_length():
    """8 m of 2.5 mil copper: 8 / 58 / (pi/4 0.0635^2) = 43.55 ohm."""
    ohm = 8 / 58 / (math.pi / 4 * 0.0635**2)
    assert ohm == pytest.approx(43.55, abs=0.005)
    found = gauge_by_ohms(8.0, ohm)
    assert found.by_ohms and found.matches[0].wire == AwgWire(42, "single")
    assert abs(found.matches[0].off) < 2e-3
    warm = gauge_by_ohms(8.0, ohm * (1 + 0.00393 * 15), 35.0)
    assert warm.measured.nominal == pytest.approx(found.measured.nominal)


def test_every_wire_of_the_tables_is_found_by_its_own_nominal():
    for gauge in range(30, 47):
        facts = figure_coil(recipe(wire=AwgWire(gauge, "heavy"))).wire
        by_ohms = gauge_by_ohms(10.0, 10 * facts.ohm_per_m.nominal)
        assert AwgWire(gauge, "single") in [match.wire for match in by_ohms.matches[:2]]
        over = gauge_by_diameter(facts.overall_m, bare=False)
        assert AwgWire(gauge, "heavy") in [match.wire for match in over.matches]


@pytest.mark.parametrize(
    "asked",
    [
        lambda: gauge_by_diameter(0.1, bare=True),
        lambda: gauge_by_diameter(0.0, bare=True),
        lambda: gauge_by_ohms(8.0, 1e6),
        lambda: gauge_by_ohms(0.0, 43.0),
        lambda: gauge_by_ohms(8.0, 43.0, 400.0),
    ],
)
def test_no_such_wire(asked):
    with pytest.raises(UserMistake):
        asked()
