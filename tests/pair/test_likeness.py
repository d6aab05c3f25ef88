"""How alike two coils are and what to take off, against exact inverses and drawn worlds.

The bands are checked by drawing: coils are drawn with the doubts that the model names, read by a drawn meter,
and weighed by how near they come to what was read (importance sampling; no formula of ``likeness`` is used).
"""

from __future__ import annotations

import dataclasses
import math

import numpy
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pair_makers import (
    AREA_M2,
    BOBBINS,
    D10,
    GOOD,
    HAND,
    HUB7,
    OBROUND,
    coil_on,
    finished,
    ground,
    ratio_limit,
)

from winder.coil.model import Band
from winder.errors import UserMistake
from winder.pair.finished import (
    PACKING_DIFFERENCE,
    SITTING_KELVIN,
    STRETCH_DIFFERENCE,
    finished_coil,
)
from winder.pair.likeness import By, advice, compare, turns_off

bobbins = st.sampled_from(sorted(BOBBINS))


def test_equal_coils_are_alike_and_lose_nothing():
    one, other = (finished(name, D10, ohm=1650.0, temperature_c=22.0) for name in "ab")
    alike = compare(one, other)
    assert alike.same_kind and alike.same_spool and alike.alike_in_ohms
    assert alike.turns == Band(0, 0, 0)
    assert alike.ohm_share is not None and alike.ohm_share.nominal == 0
    assert alike.turns_area_share.nominal == pytest.approx(0, abs=1e-12)
    assert alike.surprise == pytest.approx(0, abs=1e-9)
    for by in By:
        off = turns_off(alike, by)
        assert (off.whole, off.can_tell) == (0, False)
    assert advice(alike) is None


def test_one_per_cent_may_be_two_and_a_half_kelvin():
    """0.393 % a kelvin: 1 % is 2.54 K (IEC 60028)."""
    one = finished("a", D10, ohm=1666.5)
    other = finished("b", D10, ohm=1650.0)
    apart = compare(one, other)
    assert apart.kelvin is not None
    assert apart.kelvin.nominal == pytest.approx(0.01 / 0.00393, rel=1e-6)


def test_temperature_is_taken_out_before_anything_is_compared():
    warm = finished("a", D10, ohm=1650.0 * (1 + 0.00393 * 10), temperature_c=30.0)
    cold = finished("b", D10, ohm=1650.0, temperature_c=20.0)
    assert compare(warm, cold).ohm_share.nominal == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize(("meter", "alike"), [(GOOD, False), (HAND, True)])
def test_alike_or_not_goes_by_the_instruments(meter, alike):
    one = finished("a", D10, ohm=1670.0, instruments=meter)
    other = finished("b", D10, ohm=1650.0, instruments=meter)
    apart = compare(one, other)
    assert apart.alike_in_ohms is alike
    assert turns_off(apart, By.RESISTANCE).can_tell is not alike


def test_one_sitting_tells_more():
    one, other = finished("a", D10, ohm=1655.0), finished("b", D10, ohm=1650.0)
    two, same = compare(one, other), compare(one, other, one_sitting=True)
    wide, narrow = (each.ohm_share.high - each.ohm_share.low for each in (two, same))
    assert narrow < 0.5 * wide
    assert (two.alike_in_ohms, same.alike_in_ohms) == (True, False)


@given(bobbins, st.floats(-0.03, 0.03), st.floats(0.95, 1.05))
def test_turns_off_by_ohms_is_the_exact_inverse(name, apart, packing):
    """Within one turn of solving L(n) = L(N) R2/R1 by halving, the outer turns being the longest."""
    assume(abs(apart) > 1e-4)
    bobbin = BOBBINS[name]
    coil = coil_on(bobbin, area_m2=AREA_M2 * packing)
    where, turns = ground(bobbin), bobbin[2]
    one = finished("a", bobbin, coil=coil, ohm=2000.0 * (1 + apart))
    other = finished("b", bobbin, coil=coil, ohm=2000.0)
    likeness = compare(one, other)
    off = turns_off(likeness, By.RESISTANCE)
    assert off.coil == (0 if apart > 0 else 1)
    area_m2 = likeness.packing_m2[off.coil]
    part = (1 + apart) if apart < 0 else 1 / (1 + apart)
    wanted = where.length_m(turns, area_m2) * part
    low, high = 0.0, float(turns)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if where.length_m(middle, area_m2) > wanted else (middle, high)
    assert off.turns == pytest.approx(turns - low, abs=1e-6 * turns)
    assert abs(off.whole - (turns - low)) <= 0.5 + 1e-6
    assert off.low <= off.turns <= off.high


@given(bobbins, st.integers(-300, 300))
def test_turns_off_by_hum_gives_equal_turns_area(name, more):
    bobbin = BOBBINS[name]
    one, other = finished("a", bobbin, bobbin[2] + more), finished("b", bobbin)
    likeness = compare(one, other)
    off = turns_off(likeness, By.HUM)
    assert off.turns == pytest.approx(abs(more), abs=1e-4)
    assert off.whole == abs(more)
    assert turns_off(likeness, By.TURNS).whole == abs(more)


def test_by_hum_the_looser_coil_loses_turns():
    """More ohms at equal turns is looser packing, which is more turns-area."""
    for bobbin in (HUB7, D10):
        one = finished("a", bobbin, ohm=2010.0)
        other = finished("b", bobbin, ohm=2000.0)
        likeness = compare(one, other, one_sitting=True)
        assert likeness.turns_area_share.nominal > likeness.ohm_share.nominal
        assert turns_off(likeness, By.HUM).coil == 0


@given(bobbins, st.integers(-200, 200), st.floats(-0.02, 0.02), st.booleans())
def test_changing_places_changes_signs_only(name, more, apart, sitting):
    bobbin = BOBBINS[name]
    one = finished("a", bobbin, bobbin[2] + more, ohm=2000 * (1 + apart))
    other = finished("b", bobbin, ohm=2000.0)
    there, back = compare(one, other, one_sitting=sitting), compare(other, one, one_sitting=sitting)
    assert there.turns.nominal == -back.turns.nominal
    assert there.alike_in_ohms is back.alike_in_ohms
    assert there.turns_area_log.value == pytest.approx(-back.turns_area_log.value, abs=1e-12)
    assert there.turns_area_log.doubt == pytest.approx(back.turns_area_log.doubt, rel=1e-9)
    for by in By:
        if there.turns_area_log.value != 0:
            assert turns_off(there, by).turns == pytest.approx(turns_off(back, by).turns, abs=1e-6)


def drawn_bands(bobbin, turns, ohms, meter, *, one_sitting: bool, draws: int = 400_000):
    """ln F1/F2 by drawing, weighed by what was read; 2.5, 50 and 97.5 of a hundred."""
    chance = numpy.random.default_rng(20261126)

    def normal(limit):
        return chance.normal(0.0, limit / 1.96, draws)

    where, width = ground(bobbin), bobbin[1]
    habit_limit = math.sqrt(math.log(1.15) ** 2 - PACKING_DIFFERENCE**2 / 2)
    habit = normal(habit_limit)
    logs = []
    for count in turns:
        area = AREA_M2 * numpy.exp(habit + normal(PACKING_DIFFERENCE / math.sqrt(2)))
        g = area / width
        length = where.perimeter_m * count + math.pi * g * count**2
        f = (
            where.core_m2 * count
            + where.perimeter_m * g * count**2 / 2
            + math.pi * g**2 * count**3 / 3
        )
        logs.append((numpy.log(length) + normal(STRETCH_DIFFERENCE / math.sqrt(2)), numpy.log(f)))
    shown = math.log(ohms[0] / ohms[1])
    apart = logs[0][0] - logs[1][0]
    limit = ratio_limit(meter, ohms, sitting=SITTING_KELVIN if one_sitting else None)
    weights = numpy.exp(-0.5 * ((apart - shown) * 1.96 / limit) ** 2)
    area = logs[0][1] - logs[1][1]
    order = numpy.argsort(area)
    along = numpy.cumsum(weights[order]) / weights.sum()
    return [float(area[order][numpy.searchsorted(along, each)]) for each in (0.025, 0.5, 0.975)]


@pytest.mark.parametrize("bobbin", [HUB7, D10, OBROUND], ids=["hub 7", "d10", "62x6"])
@pytest.mark.parametrize(("apart", "more", "sitting"), [(0.004, 0, True), (0.011, 30, False)])
def test_the_band_of_the_turns_area_is_that_of_drawn_coils(bobbin, apart, more, sitting):
    turns, ohms = (bobbin[2] + more, bobbin[2]), (2000 * (1 + apart), 2000.0)
    one, other = (
        finished(name, bobbin, count, ohm=ohm)
        for name, count, ohm in zip("ab", turns, ohms, strict=True)
    )
    band = compare(one, other, one_sitting=sitting).turns_area_log.band
    low, middle, high = drawn_bands(bobbin, turns, ohms, HAND, one_sitting=sitting)
    half = (high - low) / 2
    assert band.nominal == pytest.approx(middle, abs=0.06 * half)
    assert (band.high - band.low) / 2 == pytest.approx(half, rel=0.04)


def test_bands_of_two_coils_are_not_taken_as_independent():
    """Each turns-area is known to ten per cent or so, their difference to the packing's three."""
    alike = compare(finished("a", HUB7), finished("b", HUB7))
    assert alike.turns_area_log.doubt == pytest.approx(0.93 * PACKING_DIFFERENCE, rel=0.01)
    other_kind = compare(finished("a", HUB7), finished("b", D10))
    assert not other_kind.same_kind
    assert other_kind.turns_area_log.doubt > 0.13


def test_readings_of_two_spools_tell_nothing_of_packing():
    one, other = finished("a", HUB7, ohm=2100.0), finished("b", HUB7, ohm=2000.0, spool="two")
    apart = compare(one, other)
    assert not apart.same_spool
    assert apart.turns_area_log.doubt == pytest.approx(0.93 * PACKING_DIFFERENCE, rel=0.02)
    assert not compare(finished("a", HUB7, spool=""), finished("b", HUB7, spool="")).same_spool


def test_a_doubtful_count_widens_the_turns_area():
    one, other = finished("a", HUB7, (9_950, 10_050)), finished("b", HUB7)
    apart = compare(one, other)
    assert apart.turns == Band(0, -50, 50)
    assert not turns_off(apart, By.TURNS).can_tell
    widened = math.hypot(0.93 * PACKING_DIFFERENCE, 1.93 * 0.005)
    assert apart.turns_area_log.doubt == pytest.approx(widened, rel=0.01)


def test_a_reading_that_no_packing_explains_is_a_surprise():
    one, other = finished("a", D10, ohm=1800.0), finished("b", D10, ohm=1650.0)
    assert abs(compare(one, other, one_sitting=True).surprise) > 4


def test_advice_keeps_the_ohms_within_a_per_cent():
    """On a deep bobbin equal turns-area wants more turns off than equal ohms bear."""
    one, other = finished("a", HUB7, ohm=2050.0), finished("b", HUB7, ohm=2000.0)
    likeness = compare(one, other, one_sitting=True)
    by_hum, told = turns_off(likeness, By.HUM), advice(likeness)
    assert by_hum.coil == 0 and told is not None
    assert 0 < told.whole < by_hum.whole
    where, area_m2 = ground(HUB7), likeness.packing_m2[0]
    left = where.length_m(10_000 - told.whole, area_m2) / where.length_m(10_000, area_m2)
    doubt = math.log1p(likeness.ohm_share.high) - math.log1p(likeness.ohm_share.nominal)
    limit = math.exp(-(0.01 - 2 * doubt))  # within a per cent even at twice the readings' doubt
    assert 0.99 < limit <= 2050 * left / 2000 < limit * 1.0005  # a whole turn short of it at most


def test_what_cannot_be_is_refused():
    with pytest.raises(UserMistake, match="turns"):
        finished("a", D10, 0)
    with pytest.raises(UserMistake, match="ohm"):
        finished("a", D10, ohm=0.0)
    unread = compare(finished("a", D10), finished("b", D10, ohm=1650.0))
    assert unread.ohm_share is None and unread.alike_in_ohms is None
    with pytest.raises(UserMistake, match="reading"):
        turns_off(unread, By.RESISTANCE)


def test_the_meters_leads_are_taken_off():
    meter = dataclasses.replace(GOOD, leads_ohm=0.4)
    coil = finished_coil("a", coil_on(D10), 8000, ohm=1650.4, instruments=meter)
    assert coil.ohm_20c == pytest.approx(1650.0, rel=1e-12)
