"""Recipes for the coil tests: invented bobbins, and hypothesis strategies over them."""

from __future__ import annotations

from hypothesis import strategies as st

from winder.coil.wire import awg_gauges, metric_sizes_m
from winder.recipe.model import (
    AwgWire,
    Direction,
    MetricWire,
    ObroundCore,
    Recipe,
    RoundCore,
    RoundedRectangleCore,
    TurnsTarget,
)

STRETCH_USUAL = 1 / 3  # of the allowance, in logarithms: where the nominal value stands


def usual_rise(coil) -> float:
    """What stretch makes of the nominal ohms: a third of its allowance."""
    return (1 + coil.stretch_share) ** STRETCH_USUAL


KALIMBA_CORE = ObroundCore(length_m=0.066, thickness_m=0.006)


def recipe(**changes) -> Recipe:
    """An invented electric-kalimba coil, with changes."""
    facts = {
        "name": "kalimba",
        "note": "invented",
        "wire": AwgWire(42, "single"),
        "core": KALIMBA_CORE,
        "width_m": 0.010,
        "height_m": 0.008,
        "target": TurnsTarget(6500),
        "direction": Direction.CLOCKWISE,
    }
    return Recipe(**(facts | changes))


lengths_m = st.floats(0.002, 0.08)


@st.composite
def cores(draw):
    long_m, other_m = draw(lengths_m), draw(lengths_m)
    length_m, thickness_m = max(long_m, other_m), min(long_m, other_m)
    shape = draw(st.sampled_from("ros"))
    if shape == "r":
        return RoundCore(length_m)
    if shape == "o":
        return ObroundCore(length_m, thickness_m)
    return RoundedRectangleCore(length_m, thickness_m, draw(st.floats(0, 0.5)) * thickness_m)


wires = st.one_of(
    st.builds(AwgWire, st.sampled_from(awg_gauges()), st.sampled_from(["single", "heavy"])),
    st.builds(MetricWire, st.sampled_from(metric_sizes_m()), st.sampled_from([1, 2])),
)


@st.composite
def recipes(draw):
    return recipe(
        wire=draw(wires),
        core=draw(cores()),
        width_m=draw(st.floats(0.004, 0.06)),
        height_m=draw(st.floats(0.001, 0.02)),
        target=TurnsTarget(draw(st.integers(1, 30_000))),
    )
