"""Coils between flanges that taper, against sums and integrals that are worked out here.

The oracles: layers laid one upon the other and counted turn by turn, scipy's quadrature of width times
perimeter, and every turn as a circle of its own (Maxwell's mutual inductance with scipy's elliptic
integrals, and the self-inductance mu0 R (ln(8R/r) - 7/4) of a round wire's loop, Maxwell's too).
"""

from __future__ import annotations

import dataclasses
import math

import numpy
import pytest
import scipy.integrate
import scipy.special
from coil_makers import cores, recipe, recipes, usual_rise, wires
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from winder.coil.allowances import flats_m
from winder.coil.capacitance import self_capacitance_f
from winder.coil.core import Outline
from winder.coil.drift import DriftingWinding
from winder.coil.hum import turns_area_band
from winder.coil.inductance import inductance_of, round_winding_h
from winder.coil.knowledge import foreseen, prior, resistance_band, surprise, turns_for
from winder.coil.neumann import outline_winding_h
from winder.coil.section_picture import FLANGE, TAPE, WIRE, section_svg
from winder.coil.sheet import figure_sheet, sheet_facts
from winder.coil.winding import (
    build_at,
    complaints,
    figure_coil,
    resistance_at,
    turns_for_resistance,
    turns_that_fit,
)
from winder.coil.window import Ground, Window
from winder.errors import UserMistake
from winder.recipe.model import (
    AwgWire,
    BuildTarget,
    InductanceTarget,
    ResistanceTarget,
    RoundCore,
    TurnsTarget,
    WireTarget,
)
from winder.recipe.observations import BuildCaliper, OhmReading

WIDENING = {"core": RoundCore(0.006), "width_m": 0.004, "rim_width_m": 0.007, "height_m": 0.003}
NARROWING = {**WIDENING, "width_m": 0.007, "rim_width_m": 0.004}
BOTH = pytest.mark.parametrize("bobbin", [WIDENING, NARROWING], ids=["widening", "narrowing"])


def tapering(bobbin=WIDENING, **changes):
    return figure_coil(recipe(**{"target": TurnsTarget(1500), **bobbin, **changes}))


@st.composite
def tapering_recipes(draw):
    height_m, width_m = draw(st.floats(0.001, 0.02)), draw(st.floats(0.004, 0.06))
    lean = draw(st.floats(-1.0, 1.0))
    return recipe(
        wire=draw(wires),
        core=draw(cores()),
        width_m=width_m,
        rim_width_m=max(width_m + 2 * lean * height_m, 0.003),
        height_m=height_m,
        target=TurnsTarget(draw(st.integers(1, 30_000))),
    )


def figured(some_recipe):
    try:
        return figure_coil(some_recipe)
    except UserMistake:  # a wire thicker than the rims are apart
        assume(False)
        raise


@BOTH
def test_layers_laid_one_upon_the_other_give_the_same_turns_wire_and_area(bobbin):
    """4000 thin layers: each has its width over a turns, at the perimeter of its own middle."""
    coil = tapering(bobbin)
    layers, area_m2 = 4000, coil.area_per_turn_m2.nominal
    step_m = coil.build_m / layers
    turns = length_m = enclosed_m2 = 0.0
    for layer in range(layers):
        height_m = (layer + 0.5) * step_m
        share = height_m / bobbin["height_m"]
        width_m = bobbin["width_m"] * (1 - share) + bobbin["rim_width_m"] * share
        laid = width_m * step_m / area_m2
        radius_m = 0.003 + height_m
        turns += laid
        length_m += laid * 2 * math.pi * radius_m
        enclosed_m2 += laid * math.pi * radius_m**2
    assert turns == pytest.approx(1500, rel=1e-7)
    assert coil.wire_length_m == pytest.approx(length_m, rel=1e-7)
    assert turns_area_band(coil).nominal == pytest.approx(enclosed_m2, rel=1e-7)
    assert coil.resistance_ohm_20c.nominal == pytest.approx(
        length_m * coil.wire.ohm_per_m.nominal * usual_rise(coil), rel=1e-7
    )


def test_a_worked_example():
    """W = 4 mm, s = 1, b = 2 mm: M0 = 10 mm2, M1 = 10.667 mm3, M2 = 14.667 mm4, by hand."""
    ground = Ground(Window(4.0, 1.0, 3.0), 20.0, 30.0)
    assert ground.turns_in_build(2.0, 0.01) == pytest.approx(1000)
    assert ground.build_m(1000, 0.01) == pytest.approx(2.0)
    assert ground.length_m(1000, 0.01) == pytest.approx((200 + 2 * math.pi * 32 / 3) / 0.01)
    assert ground.turns_area_m2(1000, 0.01) == pytest.approx(
        (300 + 20 * 32 / 3 + math.pi * 44 / 3) / 0.01
    )
    assert ground.even_width_m(1000, 0.01) == pytest.approx(100 / (64 / 3))
    assert ground.mean_width_m(1000, 0.01) == pytest.approx(5.0)


@given(tapering_recipes(), st.floats(0.05, 1.0))
def test_length_is_the_integral_of_width_times_perimeter(some_recipe, share):
    coil = figured(some_recipe)
    turns, area_m2 = coil.turns * share, coil.area_per_turn_m2.nominal
    build_m = build_at(coil, turns).nominal
    slope = (some_recipe.rim_width_m - some_recipe.width_m) / some_recipe.height_m

    def width_m(height_m):
        return some_recipe.width_m + slope * min(height_m, some_recipe.height_m)

    def wire(height_m):
        return width_m(height_m) * (coil.core_perimeter_m + 2 * math.pi * height_m) / area_m2

    rim = [some_recipe.height_m] if build_m > some_recipe.height_m else None
    wound_m, _ = scipy.integrate.quad(wire, 0, build_m, points=rim, epsrel=1e-11)
    filled_m2, _ = scipy.integrate.quad(width_m, 0, build_m, points=rim, epsrel=1e-11)
    assert filled_m2 / area_m2 == pytest.approx(turns, rel=1e-8)
    assert coil.ground.length_m(turns, area_m2) == pytest.approx(wound_m, rel=1e-8)
    if not flats_m(coil.outline):
        ohm = wound_m * coil.wire.ohm_per_m.nominal * usual_rise(coil)
        assert resistance_at(coil, turns).nominal == pytest.approx(ohm, rel=1e-8)


@given(tapering_recipes(), st.floats(1.0, 30_000.0))
def test_turns_to_ohms_and_build_and_back(some_recipe, turns):
    coil = figured(some_recipe)
    ohm = resistance_at(coil, turns)
    back = turns_for_resistance(coil, ohm.nominal)
    assert back.nominal == pytest.approx(turns, rel=1e-9)
    assert back.low < turns < back.high
    area_m2 = coil.area_per_turn_m2.nominal
    built_m = coil.ground.build_m(turns, area_m2)
    assert coil.ground.turns_in_build(built_m, area_m2) == pytest.approx(turns, rel=1e-9)


# Of less than a millionth of a turn the ohms are too few for a float.
@given(tapering_recipes(), st.just(0.0) | st.floats(1e-6, 30_000), st.floats(1, 5000))
def test_more_turns_have_more_of_everything(some_recipe, turns, more):
    coil = figured(some_recipe)
    less, further = resistance_at(coil, turns), resistance_at(coil, turns + more)
    assert less.nominal < further.nominal and less.low < further.low and less.high < further.high
    assert build_at(coil, turns).high < build_at(coil, turns + more).high


@given(tapering_recipes(), st.floats(1.01, 1.5))
def test_wider_rims_make_a_lower_winding_of_less_wire(some_recipe, more):
    coil = figured(some_recipe)
    wider = figured(dataclasses.replace(some_recipe, rim_width_m=some_recipe.rim_width_m * more))
    assert wider.build_m < coil.build_m
    assert wider.wire_length_m < coil.wire_length_m


@given(recipes())
def test_rims_as_far_apart_as_the_core_is_wide_change_nothing_at_all(some_recipe):
    plain = figure_coil(some_recipe)
    same = figure_coil(dataclasses.replace(some_recipe, rim_width_m=some_recipe.width_m))
    assert dataclasses.replace(same, recipe=some_recipe) == plain


@settings(max_examples=12)
@given(recipes())
def test_a_taper_that_goes_to_nothing_goes_to_the_straight_bobbin(some_recipe):
    some_recipe = dataclasses.replace(some_recipe, target=TurnsTarget(900), height_m=0.02)
    nearly = dataclasses.replace(some_recipe, rim_width_m=some_recipe.width_m + 1e-10)
    plain, hardly = (sheet_facts(figure_sheet(figure_coil(each))) for each in (some_recipe, nearly))
    for name, value in plain.items():
        if isinstance(value, dict) and "nominal" in value:
            for end in ("nominal", "low", "high"):
                assert hardly[name][end] == pytest.approx(value[end], rel=1e-5), name
        elif isinstance(value, float):
            assert hardly[name] == pytest.approx(value, rel=1e-5), name


@BOTH
@pytest.mark.parametrize("target", ["ohm", "build", "wire", "henry"])
def test_every_target_finds_the_turns_that_have_it(bobbin, target):
    coil = tapering(bobbin)
    sheet = figure_sheet(coil)
    asked = {
        "ohm": ResistanceTarget(coil.resistance_ohm_20c.nominal),
        "build": BuildTarget(coil.build_m),
        "wire": WireTarget(coil.wire_length_m),
        "henry": InductanceTarget(sheet.inductance_h.nominal),
    }[target]
    assert tapering(bobbin, target=asked).turns == 1500


@BOTH
def test_turns_that_fit_fill_the_trapezoid_and_one_more_does_not(bobbin):
    """(4 + 7) / 2 x 3 = 16.5 mm2 whichever way round; margins and tape take theirs."""
    coil = tapering(bobbin)
    area_mm2 = coil.area_per_turn_m2.nominal * 1e6
    assert turns_that_fit(coil) == int(16.5 / area_mm2)
    taped = tapering(bobbin, margin_m=0.0002, tape_under_m=0.0003, tape_over_m=0.0006)
    slope = (bobbin["rim_width_m"] - bobbin["width_m"]) / 0.003
    low, high = (bobbin["width_m"] * 1e3 - 0.4 + slope * h for h in (0.3, 2.4))
    assert turns_that_fit(taped) == int((low + high) / 2 * 2.1 / area_mm2)
    loose = coil.area_per_turn_m2.high * 1e6
    just = tapering(bobbin, target=TurnsTarget(int(16.5 / loose)))
    assert just.fits and not tapering(bobbin, target=TurnsTarget(int(16.5 / loose) + 1)).fits
    (told,) = complaints(tapering(bobbin, target=TurnsTarget(6000)))
    assert str(int(16.5 / area_mm2)) in told.remedy


@BOTH
def test_what_is_learnt_from_readings_starts_from_the_same_ohms(bobbin):
    """At the planned turns and on the way there."""
    coil = tapering(bobbin)
    start = prior(coil.wound)
    assert resistance_band(start, 1500).nominal == pytest.approx(coil.resistance_ohm_20c.nominal)
    target = ResistanceTarget(coil.resistance_ohm_20c.nominal)
    assert turns_for(start, target.ohm_20c).nominal == pytest.approx(1500, rel=1e-9)
    half = resistance_at(coil, 750).nominal
    assert resistance_band(start, 750).nominal == pytest.approx(half, rel=1e-9)
    assert surprise(start, OhmReading(750, half)) == 0.0  # the allowances explain it
    built = (
        foreseen(start, BuildCaliper(750)).nominal - coil.wire.overall_m
    )  # the jaws rest on crests
    assert built == pytest.approx(coil.ground.build_m(750, coil.area_per_turn_m2.nominal), rel=1e-9)


@BOTH
@pytest.mark.parametrize("drift", [-0.3, 0.25])
def test_a_drift_between_tapering_flanges_is_the_sum_of_its_turns(bobbin, drift):
    """Turn by turn: each lies on the section of those below it, in the window as wide as it is there."""
    coil = tapering(bobbin)
    winding, area_m2 = DriftingWinding.of(coil.wound), coil.area_per_turn_m2.nominal
    section_m2 = length_m = 0.0
    for turn in range(1000):
        depth = (turn + 0.5) / coil.turns
        own_m2 = area_m2 * (1 + drift * (depth - 1 / 3))
        height_m = coil.window.height_of(section_m2 + own_m2 / 2)
        length_m += coil.core_perimeter_m + 2 * math.pi * height_m
        section_m2 += own_m2
    leads_m = coil.recipe.leads_m
    assert winding.length_m(1000, area_m2, drift) == pytest.approx(length_m + leads_m, rel=1e-6)
    assert winding.turns_of(length_m + leads_m, area_m2, drift) == pytest.approx(1000, rel=1e-6)
    step = 1e-5
    by_area = winding.length_m(1000, area_m2 * math.exp(step), drift)
    by_area -= winding.length_m(1000, area_m2 * math.exp(-step), drift)
    by_drift = winding.length_m(1000, area_m2, drift + step)
    by_drift -= winding.length_m(1000, area_m2, drift - step)
    told = winding.length_slopes(1000, area_m2, drift)
    assert told == pytest.approx((by_area / 2 / step, by_drift / 2 / step), rel=1e-4)


def test_a_wire_too_thick_for_the_rims_is_told():
    with pytest.raises(UserMistake, match="at the rims") as caught:
        tapering({**NARROWING, "rim_width_m": 0.00105}, wire=AwgWire(18, "heavy"))
    assert caught.value.where == "bobbin.rim_width" and caught.value.remedy


def every_turn_h(inner_m, low_m, high_m, height_m, rows, wire_m) -> tuple[float, int]:
    """All turns as circles in square cells, summed: henry, and how many there are."""
    radius, place = [], []
    for row in range(rows):
        up = (row + 0.5) / rows
        width_m = low_m + (high_m - low_m) * up
        count = round(width_m / (height_m / rows))
        radius += [inner_m + up * height_m] * count
        place += [((turn + 0.5) / count - 0.5) * width_m for turn in range(count)]
    a = numpy.array(radius)
    z = numpy.array(place)
    far2 = (a[:, None] + a) ** 2 + (z[:, None] - z) ** 2
    m = 4 * a[:, None] * a / far2
    numpy.fill_diagonal(m, 0.5)
    root = numpy.sqrt(m)
    mutual = 4e-7 * math.pi * numpy.sqrt(a[:, None] * a)
    mutual *= (2 / root - root) * scipy.special.ellipk(m) - 2 / root * scipy.special.ellipe(m)
    numpy.fill_diagonal(mutual, 4e-7 * math.pi * a * (numpy.log(16 * a / wire_m) - 1.75))
    return float(mutual.sum()), len(a)


@pytest.mark.parametrize(
    ("inner_mm", "low_mm", "high_mm", "height_mm"),
    [(3, 4, 7, 2), (3, 7, 3, 2.5), (10, 4, 8, 2), (4, 4, 6, 3), (4, 4, 4, 3)],
)
def test_inductance_is_that_of_its_turns_each_by_itself(inner_mm, low_mm, high_mm, height_mm):
    inner, low, high, height = (mm * 1e-3 for mm in (inner_mm, low_mm, high_mm, height_mm))
    wire_m = height / 24 * 0.9
    summed, turns = every_turn_h(inner, low, high, height, 24, wire_m)
    window = Window(low, (high - low) / height, height)
    assert inductance_of(Outline(0, 0, inner), window, height, turns, wire_m) == pytest.approx(
        summed, rel=2e-3
    )
    by_neumann = outline_winding_h(Outline(0, 0, inner), window, height)
    assert by_neumann == pytest.approx(round_winding_h(inner, window, height), rel=2e-3)


@BOTH
def test_self_capacitance_is_the_energy_of_unlike_layers(bobbin):
    """Layer by layer: voltage by turns, rising from nothing to both layers' across each gap."""
    coil = tapering(bobbin, wire=AwgWire(44, "single"), target=TurnsTarget(4000))
    layers = round(coil.layers)
    turns, around_m = [], []
    for layer in range(layers):
        height_m = (layer + 0.5) / layers * coil.build_m
        slope = (bobbin["rim_width_m"] - bobbin["width_m"]) / 0.003
        turns.append((bobbin["width_m"] + slope * height_m) / (1.05 * coil.wire.overall_m))
        around_m.append(2 * math.pi * (0.003 + height_m))
    # Any capacitance per metre and gap: what the taper does to it is the matter here.
    per_m = 1e-10
    total_f = even_f = 0.0
    for layer in range(layers - 1):
        facing = (turns[layer] + turns[layer + 1]) / 2
        layer_f = per_m * facing * (around_m[layer] + around_m[layer + 1]) / 2
        volts = (turns[layer] + turns[layer + 1]) / sum(turns)
        total_f += layer_f * volts**2 / 3
        even = sum(turns) / layers
        mean_turn_m = (coil.wire_length_m - coil.recipe.leads_m) / coil.turns
        even_f += per_m * even * mean_turn_m * (2 / layers) ** 2 / 3
    straight = dataclasses.replace(
        coil,
        window=None,
        width_m=coil.ground.mean_width_m(coil.turns, coil.area_per_turn_m2.nominal),
    )
    ratio = self_capacitance_f(coil).nominal / self_capacitance_f(straight).nominal
    assert ratio == pytest.approx(total_f / even_f, rel=0.02)


def test_the_sheet_tells_the_first_and_the_last_layer_and_fills_the_whole_window():
    coil = tapering()
    facts = sheet_facts(figure_sheet(coil))
    passes_m = 1.05 * coil.wire.overall_m
    assert facts["turns_first_layer"] == pytest.approx(0.004 / passes_m)
    assert facts["turns_last_layer"] == pytest.approx((0.004 + coil.build_m) / passes_m)
    assert coil.turns_per_layer * coil.layers == pytest.approx(1500)
    assert coil.layers == pytest.approx(coil.build_m * passes_m / coil.area_per_turn_m2.nominal)
    wire_m2 = 1500 * math.pi / 4 * coil.wire.overall_m**2
    assert facts["fill_fraction"]["nominal"] == pytest.approx(wire_m2 / 16.5e-6)
    plain = sheet_facts(figure_sheet(figure_coil(recipe())))
    assert plain["turns_first_layer"] == plain["turns_last_layer"] == plain["turns_per_layer"]


@BOTH
def test_the_picture_slopes_with_the_flanges(bobbin):
    import xml.etree.ElementTree as ElementTree

    coil = tapering(bobbin, margin_m=0.0005, tape_under_m=0.0001)
    root = ElementTree.fromstring(section_svg(figure_sheet(coil)))
    slope = (bobbin["rim_width_m"] - bobbin["width_m"]) / 0.003
    shapes = {WIRE: [], FLANGE: [], TAPE: []}
    for each in root.iter("{http://www.w3.org/2000/svg}polygon"):
        corners = [tuple(map(float, corner.split(","))) for corner in each.get("points").split()]
        shapes[each.get("fill")].append(corners)
    assert [len(found) for found in shapes.values()] == [2, 2, 2]
    wide, tall = (float(number) for number in root.get("viewBox").split()[2:])
    for corners in shapes[WIRE]:
        near, far = corners[1][0] - corners[0][0], corners[2][0] - corners[3][0]
        under_mm, top_mm = 0.1, 0.1 + coil.build_m * 1e3
        assert near == pytest.approx(bobbin["width_m"] * 1e3 + slope * under_mm - 1, abs=2e-3)
        assert far == pytest.approx(bobbin["width_m"] * 1e3 + slope * top_mm - 1, abs=2e-3)
    left, right = sorted(shapes[FLANGE], key=min)
    for height, flange in zip((0, 1, 2, 3), range(4), strict=True):
        apart = right[flange][0] - left[flange][0]
        rim = height in (0, 3)
        wanted = bobbin["rim_width_m" if rim else "width_m"]
        assert apart == pytest.approx(wanted * 1e3, abs=2e-3)
    for corners in [*shapes[FLANGE], *shapes[WIRE], *shapes[TAPE]]:
        assert all(0 <= x <= wide and 0 <= y <= tall for x, y in corners)
