"""A reading that contradicts the model is told with its likely causes, in order, with their figures."""

from __future__ import annotations

import dataclasses
import math

import pytest
from coil_makers import recipe
from hypothesis import given
from hypothesis import strategies as st

from winder.coil.diagnosis import Fault, diagnose
from winder.coil.knowledge import foreseen, learn, prior, surprise
from winder.coil.winding import figure_coil
from winder.recipe.model import AwgWire, MeasuredWire, MetricWire, RoundCore, TurnsTarget
from winder.recipe.observations import BuildCaliper, OhmReading, SpoolTail

CORE = {"core": RoundCore(0.006), "width_m": 0.008, "target": TurnsTarget(4000)}
COIL = figure_coil(recipe(**CORE))


def known(coil=COIL):
    """A coil of whose wire and packing enough was measured, all of it as expected."""
    knowledge = prior(coil.wound)
    for blank, field in (
        (SpoolTail(8.0), "ohm"),
        (BuildCaliper(coil.turns / 2), "build_m"),
        (OhmReading(coil.turns / 2), "ohm"),
    ):
        value = foreseen(knowledge, blank).nominal
        knowledge = learn(knowledge, dataclasses.replace(blank, **{field: value}))
    return knowledge


KNOWN = known()
EXPECTED = foreseen(KNOWN, OhmReading(4000)).nominal


def found(ohm, knowledge=KNOWN, celsius=20.0):
    diagnosis = diagnose(knowledge, OhmReading(4000, ohm, celsius))
    assert diagnosis is not None
    return diagnosis


@given(st.floats(-1.0, 1.0))
def test_a_reading_within_its_band_is_no_contradiction(away):
    band = foreseen(KNOWN, OhmReading(4000))
    ohm = band.nominal + away * (band.high - band.nominal)
    assert diagnose(KNOWN, OhmReading(4000, ohm)) is None


@pytest.mark.parametrize(
    ("ohm", "fault"),
    [
        (math.inf, Fault.OPEN),
        (EXPECTED * 1e5, Fault.OPEN),
        (0.1, Fault.SHORT),
        (0.0, Fault.SHORT),
        (6.0, Fault.SHORT),
        (EXPECTED * 1000, Fault.METER_SCALE),
        (EXPECTED / 1000, Fault.METER_SCALE),
        (EXPECTED * 0.6, Fault.SHORTED_TURNS),
        (EXPECTED * 1.3, Fault.BAD_JOINT),
    ],
)
def test_the_likeliest_cause_comes_first(ohm, fault):
    causes = found(ohm).causes
    assert causes[0].fault is fault
    assert causes[0].words
    assert causes[0].remedy
    shares = [cause.share for cause in causes]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) <= 1 + 1e-9


def test_shorted_turns_are_told_in_turns():
    """The reading of a coil of 3600 turns, taken for one of 4000: 400 turns are missing from it."""
    ohm = foreseen(KNOWN, OhmReading(3600)).nominal
    cause = found(ohm).causes[0]
    assert cause.fault is Fault.SHORTED_TURNS
    assert (cause.figure, cause.unit) == (pytest.approx(400, abs=0.5), "turns")


def test_the_wire_of_another_spool_is_named():
    """A tail of 43 AWG read as 42: 8 m of 2.2 mil copper, 1/58 ohm mm2/m (ASTM B258 rounded, IACS)."""
    other = figure_coil(recipe(**CORE, wire=AwgWire(43, "single")))
    ohm = 8.0 * other.wire.ohm_per_m.nominal
    diagnosis = diagnose(prior(COIL.wound), SpoolTail(8.0, ohm))
    assert diagnosis is not None
    assert diagnosis.causes[0].fault is Fault.WRONG_GAUGE
    assert diagnosis.causes[0].figure == pytest.approx(2.2 * 0.0254)
    assert "43 AWG" in diagnosis.causes[0].words


def test_a_wire_that_was_already_measured_is_not_the_wrong_gauge():
    """A tail that fitted rules the neighbours out, however well they would meet the reading."""
    other = figure_coil(recipe(**CORE, wire=AwgWire(44, "single")))
    ohm = foreseen(prior(other.wound), OhmReading(4000)).nominal
    assert Fault.WRONG_GAUGE in {cause.fault for cause in found(ohm, prior(COIL.wound)).causes}
    assert Fault.WRONG_GAUGE not in {cause.fault for cause in found(ohm).causes}


def test_metric_wire_has_neighbours_and_measured_wire_has_none():
    sizes = figure_coil(recipe(**CORE, wire=MetricWire(63e-6, 1)))
    thinner = figure_coil(recipe(**CORE, wire=MetricWire(56e-6, 1)))
    ohm = 8.0 * thinner.wire.ohm_per_m.nominal
    diagnosis = diagnose(prior(sizes.wound), SpoolTail(8.0, ohm))
    assert diagnosis is not None
    assert "0.056 mm" in diagnosis.causes[0].words
    own = figure_coil(recipe(**CORE, wire=MeasuredWire(63e-6, 75e-6)))
    diagnosis = diagnose(prior(own.wound), OhmReading(4000, ohm * 20))
    assert diagnosis is not None
    assert Fault.WRONG_GAUGE not in {cause.fault for cause in diagnosis.causes}


@pytest.mark.parametrize("apart", [-15, 15])
def test_a_cold_or_warm_coil_is_told_by_its_temperature(apart):
    """Copper: 0.393 % per kelvin at 20 C (IEC 60028)."""
    causes = found(EXPECTED * (1 + 0.00393 * apart)).causes
    (temperature,) = [cause for cause in causes if cause.fault is Fault.TEMPERATURE]
    assert temperature.figure == pytest.approx(20 + apart, abs=0.5)
    assert temperature.share > 0.1


def test_no_coil_is_hotter_than_a_bench_can_make_it():
    causes = found(EXPECTED * 1.5).causes
    assert Fault.TEMPERATURE not in {cause.fault for cause in causes}


@given(st.one_of(st.floats(allow_nan=False), st.floats(0, 1e7)), st.floats(-20, 60))
def test_any_reading_gets_an_answer(ohm, celsius):
    for reading in (OhmReading(4000, ohm, celsius), SpoolTail(8.0, ohm, celsius)):
        diagnosis = diagnose(KNOWN, reading)
        if diagnosis is None:
            assert abs(surprise(KNOWN, reading)) <= 4
        else:
            assert all(0 < cause.share <= 1 + 1e-9 for cause in diagnosis.causes)
            assert "expected" in diagnosis.sentence
