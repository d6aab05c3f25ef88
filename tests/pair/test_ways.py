"""The four ways of a whole pair: what goes into each, signal tables, and the words of what cannot be."""

from __future__ import annotations

import itertools
import math

import pytest
from pair_makers import D10, HUB7, coil_on, finished

from winder.errors import UserMistake
from winder.pair.likeness import By, compare
from winder.pair.mate import mate_recipe, mate_target
from winder.pair.mounting import Beside, Iron, Stacked, String
from winder.pair.signal import far_share, return_share, signal_of
from winder.pair.signs import Circuit, Mounted, Pole
from winder.pair.ways import Instrument, figure_pair, ohm_band
from winder.recipe.model import Direction, ResistanceTarget, TurnsTarget
from winder.recipe.observations import EarlierCoil

UP, DOWN = Mounted.TOP_TO_STRING, Mounted.TOP_AWAY
N, S = Pole.NORTH, Pole.SOUTH


def figured(instrument: Instrument, one=None, other=None):
    one = one or finished("one", HUB7)
    return figure_pair(compare(one, other or finished("other", HUB7)), instrument)


def test_side_by_side_with_the_magnet_turned():
    """Equal coils: +6.0 in series, 0 in parallel; humming joins +6.0 and 0 of hum (no load)."""
    ways = figured(Instrument(Beside(0.022), (UP, UP), (N, S), Iron.NONE)).ways
    quiet, hums, parallel, parallel_hums = ways
    assert [way.wiring.join.circuit for way in ways] == [Circuit.SERIES] * 2 + [
        Circuit.PARALLEL
    ] * 2
    assert quiet.wiring.outcome.signals_add
    assert quiet.signal.decibel.nominal == pytest.approx(6.0, abs=0.03)
    assert parallel.signal.decibel.nominal == pytest.approx(0.0, abs=0.03)
    assert hums.hum.decibel.nominal == pytest.approx(6.02, abs=0.01)
    assert parallel_hums.hum.decibel.nominal == pytest.approx(0.0, abs=0.01)
    assert hums.signal.thin and parallel_hums.signal.thin and not quiet.signal.thin
    assert hums.signal.decibel.nominal == pytest.approx(-18.4, abs=0.1)  # d 22: 2 cot sin
    assert hums.signal.decibel.nominal - parallel_hums.signal.decibel.nominal == pytest.approx(
        6.02, abs=0.01
    )
    assert quiet.gain_decibel > 60 and hums.gain_decibel < -20


def test_side_by_side_with_poles_alike():
    """Quiet but thin, or two ordinary coils."""
    quiet, hums, *_ = figured(Instrument(Beside(0.022), (UP, UP), (N, N), Iron.NONE)).ways
    assert quiet.signal.thin and not hums.signal.thin
    assert hums.signal.decibel.nominal == pytest.approx(6.0, abs=0.03)


@pytest.mark.parametrize(
    ("iron", "quiet_db", "loud_db"),
    [
        (Iron.NONE, (-1.4, -0.7), (0.7, 1.2)),
        (Iron.MAGNETS, (-1.9, -1.4), (1.2, 1.5)),
        (Iron.STEEL, (-5.1, -4.8), (3.1, 3.2)),
        (Iron.STEEL_PLATE, (-11.7, -11.0), (4.7, 4.8)),
        (Iron.STEEL_IN_ONE, (-1.5, -1.0), (1.0, 1.3)),
        (Iron.STEEL_IN_ONE_PLATE, (-1.6, -0.3), (0.3, 1.4)),
    ],
)
def test_a_stack_gives_some_of_its_signal_away(iron, quiet_db, loud_db):
    """Printed ranges at 2 mm gap, of four string models; one decibel either side for what is not in them."""
    quiet, hums, *rest = figured(Instrument(Stacked(0.002), (UP, UP), (N, N), iron)).ways
    for way, (low, high) in ((quiet, quiet_db), (hums, loud_db)):
        assert way.signal.decibel.low == pytest.approx(low - 1, abs=0.1)
        assert way.signal.decibel.high == pytest.approx(high + 1, abs=0.1)
    for series, parallel in zip((quiet, hums), rest, strict=True):
        less = series.signal.decibel.nominal - parallel.signal.decibel.nominal
        assert less == pytest.approx(6.02, abs=0.01)


def test_strings_of_their_own_leave_each_coil_nearly_alone():
    mounting = Beside(0.022, own_strings=True)
    ways = figured(Instrument(mounting, (UP, UP), (N, S), Iron.NONE)).ways
    levels = [way.signal.decibel for way in ways]
    share = return_share(0.022)
    assert levels[0].nominal == pytest.approx(20 * math.log10(1 + share.nominal), abs=1e-6)
    assert 0 < levels[0].nominal < 0.35 and -0.35 < levels[1].nominal < 0
    assert levels[2].nominal == pytest.approx(levels[0].nominal - 6.02, abs=0.01)
    alike = figured(Instrument(mounting, (UP, UP), (N, N), Iron.NONE)).ways
    assert [way.signal.decibel for way in alike] == levels


def test_a_told_string_narrows_the_thin_ways_band():
    turns, even = (8000.0, 8000.0), (1.0, 1.0)
    told = Beside(0.018, string=String(0.648, 0.150))
    for mounting, half in ((told, 1.0), (Beside(0.018), 6.0)):
        signal = signal_of(mounting, Iron.NONE, turns, even, hum_cancels=True, signals_add=False)
        assert signal.decibel.nominal == pytest.approx(-20.17, abs=0.01)
        assert signal.decibel.high - signal.decibel.nominal == pytest.approx(half)


def test_the_far_share_goes_straight_between_the_tables_gaps_and_stops_at_its_ends():
    between = far_share(Stacked(0.004), Iron.NONE)
    assert (between.low, between.high) == pytest.approx(((0.070 + 0.049) / 2, (0.13 + 0.10) / 2))
    assert far_share(Stacked(0.0001), Iron.STEEL) == far_share(Stacked(0.001), Iron.STEEL)
    assert far_share(Stacked(0.1), Iron.STEEL) == far_share(Stacked(0.005), Iron.STEEL)


def test_the_near_coil_of_a_stack_may_be_the_second():
    coils = finished("near", HUB7), finished("far", HUB7, 9_000)
    first = figured(Instrument(Stacked(0.002), (UP, UP), (N, N), Iron.STEEL_IN_ONE), *coils)
    second = figured(
        Instrument(Stacked(0.002, near=1), (UP, UP), (N, N), Iron.STEEL_IN_ONE), *coils[::-1]
    )
    for one, other in zip(first.ways, second.ways, strict=True):
        assert one.signal.decibel.nominal == pytest.approx(other.signal.decibel.nominal, abs=1e-9)
        assert one.hum.share.nominal == pytest.approx(other.hum.share.nominal, rel=1e-9)
        assert one.henry.nominal == pytest.approx(other.henry.nominal, rel=1e-12)


def test_stacked_the_quiet_join_has_less_inductance_side_by_side_more():
    stack = figured(Instrument(Stacked(0.002), (UP, UP), (N, N)))
    assert stack.mutual_h > 0 and stack.ways[0].henry.nominal < stack.ways[1].henry.nominal
    assert stack.ways[2].henry.nominal < stack.ways[3].henry.nominal
    beside = figured(Instrument(Beside(0.022), (UP, UP), (N, S)))
    assert beside.mutual_h < 0 and beside.ways[0].henry.nominal > beside.ways[1].henry.nominal
    ratio = beside.ways[0].henry.nominal / beside.ways[1].henry.nominal
    k = abs(beside.coupling)
    assert ratio == pytest.approx((1 + k) / (1 - k), rel=1e-9)
    assert 0 < k < 1


def test_ohms_of_the_pair_are_those_read_or_else_figured():
    read = finished("read", HUB7, ohm=2400.0)
    assert ohm_band(read).nominal == pytest.approx(2400)
    unread = ohm_band(finished("unread", HUB7))
    assert unread.high / unread.low > 1.15
    ways = figured(
        Instrument(Beside(0.022), (UP, UP), (N, S)), read, finished("too", HUB7, ohm=2600.0)
    ).ways
    assert ways[0].ohm_20c.nominal == pytest.approx(5000)
    assert ways[2].ohm_20c.nominal == pytest.approx(2400 * 2600 / 5000)
    assert ways[0].ohm_20c.low < 5000 < ways[0].ohm_20c.high


@pytest.mark.parametrize(
    ("instrument", "words"),
    [
        (Instrument(Stacked(0.002), (UP, UP), (N, S)), "one pole"),
        (Instrument(Stacked(0.0), (UP, UP), (N, N)), "apart"),
        (Instrument(Stacked(2.0), (UP, UP), (N, N)), "apart"),
        (Instrument(Beside(0.010), (UP, UP), (N, S)), "side by side"),
        (Instrument(Beside(0.022, string=String(0.1, 0.2)), (UP, UP), (N, S)), "string"),
        (Instrument(Beside(0.022), (UP, UP), (N, S), measured_ratio=-1.0), "ratio"),
    ],
    ids=str,
)
def test_a_place_that_cannot_be_is_one_clear_mistake(instrument, words):
    with pytest.raises(UserMistake, match=words):
        figured(instrument)


def test_figures_do_not_depend_on_how_the_same_signs_came_about():
    """Both coils turned over, or both magnets: nothing changes but the sense."""
    base = figured(Instrument(Beside(0.022), (UP, UP), (N, S), Iron.NONE)).ways
    for mounted, poles in itertools.product(((UP, UP), (DOWN, DOWN)), ((N, S), (S, N))):
        ways = figured(Instrument(Beside(0.022), mounted, poles, Iron.NONE)).ways
        assert [way.signal for way in ways] == [way.signal for way in base]
        assert [way.hum for way in ways] == [way.hum for way in base]


# --- a mate -------------------------------------------------------------------------------------


def test_a_mate_of_one_kind_has_as_many_turns_by_all_three():
    first = finished("first", D10, ohm=1650.0)
    expected = coil_on(D10).resistance_ohm_20c
    assert abs(first.ohm_20c / expected.nominal - 1) < 0.1
    for by in By:
        target = mate_target(first, by)
        assert target.turns.nominal == pytest.approx(8000, rel=4e-3)
        assert target.turns.low <= target.turns.nominal <= target.turns.high
    assert mate_target(first, By.TURNS).turns.low == 8000


def test_a_mate_on_another_bobbin_by_hum_has_the_same_turns_area():
    """10258.99 turns on d10 for 10000 on hub 7, by bisection apart."""
    target = mate_target(finished("first", HUB7), By.HUM, coil_on(D10))
    assert target.turns.nominal == pytest.approx(10258.99, abs=0.02)


def test_a_mates_recipe_carries_target_reading_and_direction():
    first = finished("first", D10, 8_010, ohm=1650.0, temperature_c=23.0)
    by_turns = mate_recipe(first, By.TURNS)
    assert by_turns.target == TurnsTarget(8_010)
    assert by_turns.direction is Direction.CLOCKWISE
    assert by_turns.readings == (EarlierCoil(8_010, 1650.0, 23.0),)
    mirrored = mate_recipe(first, By.RESISTANCE, mirrored=True)
    assert mirrored.direction is Direction.COUNTER_CLOCKWISE
    assert mirrored.target == ResistanceTarget(first.ohm_20c)
    unknown_spool = finished("first", D10, ohm=1650.0, spool="")
    assert mate_recipe(unknown_spool, By.TURNS).readings == ()
    other = coil_on(HUB7).recipe
    assert mate_recipe(first, By.TURNS, other).core == other.core


def test_a_mate_by_resistance_needs_a_reading():
    with pytest.raises(UserMistake, match="never measured"):
        mate_target(finished("first", D10), By.RESISTANCE)
