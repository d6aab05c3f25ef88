"""A spool's account against sums by hand and wires counted turn by turn; how doubts add.

Mass of copper: 8890 kg/m3 (IEC 60028) over the bare diameter, enamel of about 1300 (polyurethane, from memory).
"""

from __future__ import annotations

import dataclasses
import math

import pytest
from coil_makers import recipe
from hypothesis import given
from hypothesis import strategies as st

from winder.coil.doubts import Doubtful, exactly, product
from winder.coil.known import coil_as_known
from winder.coil.model import Band
from winder.coil.spool_account import (
    Lasts,
    SpoolFacts,
    spool_now,
    taught,
    turns_until_empty,
    use_of,
    will_last,
    wire_used_m,
)
from winder.coil.winding import figure_coil
from winder.errors import UserMistake
from winder.recipe.model import RoundCore, TurnsTarget
from winder.recipe.observations import OhmReading, SpoolTail

COIL = figure_coil(
    recipe(core=RoundCore(0.010), width_m=0.020, height_m=0.01, target=TurnsTarget(5_000))
)
GROUND, AREA_M2 = COIL.ground, COIL.area_per_turn_m2.nominal
ONE = use_of(COIL, "one", (5_000,))
SPOOL = SpoolFacts(COIL.wire, length_m=500.0)
LEADS_OHM = 0.2  # of a hand meter, that are in every reading
parts = st.dictionaries(st.sampled_from("abcd"), st.floats(-10, 10), max_size=4)


@given(st.floats(-10, 10), parts, st.floats(-10, 10), parts)
def test_shared_causes_drop_out_of_a_difference(value, causes, other, more):
    one, two = Doubtful(value, causes), Doubtful(other, more)
    apart = one.less(two)
    assert apart.value == pytest.approx(value - other)
    whole = sum((causes.get(c, 0) - more.get(c, 0)) ** 2 for c in {*causes, *more})
    assert apart.doubt == pytest.approx(math.sqrt(whole))
    assert one.less(one).doubt == 0


@given(parts, parts)
def test_knowing_narrows_and_never_widens(causes, more):
    one, miss = Doubtful(1.0, causes), Doubtful(0.5, more)
    known = one.knowing(miss)
    assert known.doubt <= one.doubt * (1 + 1e-9) + 1e-12
    assert miss.knowing(miss).doubt == pytest.approx(0, abs=1e-6)


def test_knowing_is_the_weighed_mean_of_two_readings():
    """1.0 +- 0.3 and 1.6 +- 0.6 give 1.12 +- 0.268: weights 4 to 1, by hand."""
    first = Doubtful(1.0, {"first": 0.3})
    known = first.knowing(first.less(Doubtful(1.6, {"second": 0.6})))
    assert known.value == pytest.approx(1.12)
    assert known.doubt == pytest.approx(math.sqrt(1 / (1 / 0.09 + 1 / 0.36)))
    assert exactly(2.0).knowing(first).value == 2.0
    assert product(3.0, Doubtful(0, {"a": 0.1})).doubt == pytest.approx(0.3)


def test_broken_and_taken_off_wire_is_gone():
    """Summed turn by turn: wound to 3000, 50 off, on to 5000, 120 off again."""

    def turn_m(n):
        return GROUND.length_m(n + 1, AREA_M2) - GROUND.length_m(n, AREA_M2)

    path = (3_000, 2_950, 5_000, 4_880)
    wound = [*range(3_000), *range(2_950, 5_000)]
    assert wire_used_m(GROUND, AREA_M2, path) == pytest.approx(sum(map(turn_m, wound)), rel=1e-9)
    assert wire_used_m(GROUND, AREA_M2, ()) == 0
    more = wire_used_m(GROUND, AREA_M2, path) - GROUND.length_m(5_000, AREA_M2)
    assert more == pytest.approx(GROUND.length_m(3_000, AREA_M2) - GROUND.length_m(2_950, AREA_M2))


def test_a_full_spool_by_length_and_by_mass():
    by_length = spool_now(SPOOL)
    assert by_length.left_m == Band(500, 490, 510)
    facts = SpoolFacts(COIL.wire, gross_kg=0.145, tare_kg=0.045)
    by_mass = spool_now(facts)
    bare, overall = COIL.wire.bare_m, COIL.wire.overall_m
    kg_per_m = math.pi / 4 * (8890 * bare**2 + 1300 * (overall**2 - bare**2))
    assert by_mass.kg_per_m.nominal == pytest.approx(kg_per_m, rel=1e-12)
    assert by_mass.left_m.nominal == pytest.approx(0.1 / kg_per_m, rel=1e-12)
    share = (by_mass.left_m.high - by_mass.left_m.low) / 2 / by_mass.left_m.nominal
    assert 0.05 < share < 0.12  # as wide as the wire's tolerance


def test_a_tail_narrows_metres_by_mass_because_thin_copper_has_more_ohms():
    facts = SpoolFacts(COIL.wire, gross_kg=0.145, tare_kg=0.045)
    ohm = (
        COIL.wire.ohm_per_m.nominal * 20 * 1.04
    )  # four per cent thinner copper: more metres a kilo
    tailed = dataclasses.replace(facts, tails=(SpoolTail(20.0, ohm + LEADS_OHM),))
    before, after = spool_now(facts), spool_now(tailed)
    assert after.held_m.nominal > before.held_m.nominal * 1.02
    assert after.held_m.high - after.held_m.low < 0.5 * (before.held_m.high - before.held_m.low)
    assert after.ohm_per_m.nominal == pytest.approx(ohm / 20, rel=2e-3)
    assert after.used_m.nominal == 20  # the tail itself is cut off


def test_each_wind_takes_its_metres_and_common_doubt_does_not_average_out():
    one, twenty = spool_now(SPOOL, [ONE]), spool_now(SPOOL, [ONE] * 20)
    assert twenty.used_m.nominal == pytest.approx(20 * one.used_m.nominal)
    width = [each.used_m.high - each.used_m.low for each in (one, twenty)]
    assert width[1] > 15 * width[0] / 1.5  # by chance alone it would be 4.5 times
    assert one.left_m.nominal == pytest.approx(500 - one.used_m.nominal)


def test_readings_of_coils_and_a_tail_narrow_what_was_used():
    length_m = GROUND.length_m(5_000, AREA_M2)
    ohm = COIL.wire.ohm_per_m.nominal * length_m * 1.05
    read = dataclasses.replace(ONE, reading=OhmReading(5_000, ohm, 20.0))
    tail = SpoolTail(25.0, COIL.wire.ohm_per_m.nominal * 1.05 * 25)
    plain, known = (
        spool_now(SPOOL, [ONE] * 8),
        spool_now(dataclasses.replace(SPOOL, tails=(tail,)), [read] * 8),
    )
    assert known.used_m.high - known.used_m.low < plain.used_m.high - plain.used_m.low
    assert known.ohm_per_m.nominal == pytest.approx(COIL.wire.ohm_per_m.nominal * 1.05, rel=3e-3)


def test_coils_alone_teach_the_ohms_per_metre():
    """What the spool's coils taught is the next one's prior."""
    length_m = GROUND.length_m(5_000, AREA_M2)
    ohm = COIL.wire.ohm_per_m.nominal * length_m * 1.05
    reads = [dataclasses.replace(ONE, reading=OhmReading(5_000, ohm, 20.0))] * 4
    taught = spool_now(SPOOL, reads).ohm_per_m
    table = COIL.wire.ohm_per_m
    assert taught.nominal > 1.03 * table.nominal
    assert taught.high / taught.low < 0.5 * (table.high / table.low - 1) + 1


def test_the_next_coil_begins_with_what_the_spool_taught():
    tail = SpoolTail(25.0, COIL.wire.ohm_per_m.nominal * 1.05 * 25)
    now = spool_now(dataclasses.replace(SPOOL, tails=(tail,)))
    next_one = coil_as_known(COIL, taught(COIL, now))
    before, after = COIL.resistance_ohm_20c, next_one.resistance_ohm_20c
    assert after.nominal == pytest.approx(1.05 * before.nominal, rel=5e-3)
    assert after.high / after.low < 1 + 0.5 * (before.high / before.low - 1)
    assert next_one.area_per_turn_m2.high == pytest.approx(COIL.area_per_turn_m2.high)


def test_weighing_at_the_end_says_what_is_left():
    facts = SpoolFacts(COIL.wire, length_m=6_000.0, gross_kg=0.045 + 0.18, tare_kg=0.045)
    share = 1 - 20 * GROUND.length_m(5_000, AREA_M2) / 6_000
    assert 0.3 < share < 0.5
    left = spool_now(facts, [ONE] * 20, weighed_kg=0.045 + 0.18 * share)
    half = (left.left_m.high - left.left_m.low) / 2
    assert left.left_m.nominal == pytest.approx(left.held_m.nominal * share, rel=5e-3)
    assert half < 0.02 * left.left_m.nominal


def test_whether_it_lasts_and_where_it_would_end():
    needed = GROUND.length_m(5_000, AREA_M2)
    for length_m, lasts in (
        (2 * needed, Lasts.YES),
        (needed, Lasts.DOUBTFUL),
        (0.8 * needed, Lasts.NO),
    ):
        spool = SpoolFacts(COIL.wire, length_m=length_m)
        told = will_last(spool, [], ONE)
        assert told.lasts is lasts
        assert told.spare_m.nominal == pytest.approx(length_m - told.needed_m.nominal)
        assert (told.ends_at_turns is None) is (lasts is Lasts.YES)
        if lasts is Lasts.NO:
            ends = told.ends_at_turns
            assert ends.low < ends.nominal < ends.high < 5_000
            assert GROUND.length_m(ends.nominal, AREA_M2) == pytest.approx(length_m, rel=1e-9)


def test_a_coil_that_goes_on_needs_only_the_rest():
    """3000 turns are on it: the turns from there, summed, and the end counted from the core."""
    rest = use_of(COIL, "rest", (5_000,), begun=3_000.0)
    needed = GROUND.length_m(5_000, AREA_M2) - GROUND.length_m(3_000, AREA_M2)
    told = will_last(SpoolFacts(COIL.wire, length_m=0.5 * needed), [], rest)
    assert told.needed_m.nominal == pytest.approx(needed * (1 - 0.002), rel=1e-9)  # it stretches
    assert told.lasts is Lasts.NO
    assert 3_000 < told.ends_at_turns.nominal < 4_100


def test_five_hundred_metres_do_not_make_seven_hundred():
    """The shortfall that no command told: 704 m wanted, 500 m there."""
    long = figure_coil(recipe(target=TurnsTarget(5_000)))
    told = will_last(SpoolFacts(long.wire, length_m=500.0), [], use_of(long, "long", (5_000,)))
    assert told.lasts is Lasts.NO
    assert told.spare_m.high < 0
    assert 3_000 < told.ends_at_turns.nominal < 4_000


def test_turns_until_empty_count_from_what_is_on_the_coil():
    left = Doubtful(20.0, {"length": 1.0})
    band = turns_until_empty(ONE, 2_000, left)
    m = GROUND.length_m(band.nominal, AREA_M2) - GROUND.length_m(2_000, AREA_M2)
    assert m == pytest.approx(20.0, rel=1e-9)
    assert band.low < band.nominal < band.high
    assert turns_until_empty(ONE, 2_000, Doubtful(-5.0)).nominal < 2_000


@pytest.mark.parametrize(
    ("spool", "weighed", "what"),
    [
        (SpoolFacts(COIL.wire, length_m=500.0, gross_kg=0.2, tare_kg=0.045), None, "full"),
        (SPOOL, 0.5, "now"),
        (dataclasses.replace(SPOOL, tails=(SpoolTail(20.0, 43.0),)), None, "20 m tail"),
    ],
)
def test_what_does_not_go_together_is_said(spool, weighed, what):
    """155 g are no 500 m of 42 AWG; 43 ohm are 8 m of it, not 20."""
    with pytest.raises(UserMistake, match=what):
        spool_now(spool, [], weighed)


@pytest.mark.parametrize(
    ("spool", "uses", "weighed"),
    [
        (SpoolFacts(COIL.wire), [], None),
        (SpoolFacts(COIL.wire, length_m=-1.0), [], None),
        (SpoolFacts(COIL.wire, gross_kg=0.04, tare_kg=0.045), [], None),
        (SpoolFacts(COIL.wire, length_m=10.0, tare_kg=0.045), [], 0.01),
        (SPOOL, [dataclasses.replace(ONE, path=())], None),
        (SPOOL, [dataclasses.replace(ONE, path=(-3.0, 10.0))], None),
        (SPOOL, [dataclasses.replace(ONE, reading=OhmReading(5_000, -1.0))], None),
        (dataclasses.replace(SPOOL, tails=(SpoolTail(5.0, 0.0),)), [], None),
    ],
)
def test_what_cannot_be_is_one_clear_mistake(spool, uses, weighed):
    with pytest.raises(UserMistake):
        spool_now(spool, uses, weighed)
