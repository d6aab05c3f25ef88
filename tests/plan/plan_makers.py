"""Machines and coils for the plan tests, and hypothesis strategies over them. All invented."""

from __future__ import annotations

import dataclasses

from hypothesis import strategies as st

from winder.coil.model import Coil
from winder.coil.winding import figure_coil
from winder.machine.model import SIMULATED_BENCH, MachineProfile
from winder.recipe.model import AwgWire, Direction, ObroundCore, Recipe, TurnsTarget


def coil(turns: int = 5000, **changes) -> Coil:
    """An invented electric-kalimba coil on a bobbin with room for ``turns``."""
    facts = {
        "name": "kalimba",
        "note": "invented",
        "wire": AwgWire(42, "single"),
        "core": ObroundCore(0.066, 0.006),
        "width_m": 0.010,
        "height_m": 1e-6 * turns + 0.001,
        "target": TurnsTarget(turns),
        "direction": Direction.CLOCKWISE,
    }
    return figure_coil(Recipe(**(facts | changes)))


def machine(**changes) -> MachineProfile:
    """The simulated bench with felt pads: nothing moves with the wire, so the wire sets no speed."""
    return dataclasses.replace(SIMULATED_BENCH, **{"tensioner_kg": 0.0, **changes})


@st.composite
def machines(draw) -> MachineProfile:
    return machine(
        counts_per_turn=draw(st.sampled_from([1, 2, 4, 20, 100, 2400])),
        speed_rpm_max=draw(st.floats(240, 3000)),
        acceleration_rpm_s=draw(st.floats(20, 5000)),
        coasting_rpm_s=draw(st.floats(20, 3000)),
        braking_rpm_s=draw(st.one_of(st.none(), st.floats(500, 20_000))),
        traverse_travel_m=draw(st.sampled_from([None, 0.1])),
        tensioner_kg=draw(st.sampled_from([0.0, 0.0, 1e-5, 1e-4])),
    )


@st.composite
def coils(draw) -> Coil:
    turns = draw(st.one_of(st.integers(1, 60), st.integers(1, 20_000)))
    pauses = draw(st.lists(st.integers(1, 20_000), max_size=5, unique=True).map(sorted))
    return coil(
        turns,
        wire=AwgWire(draw(st.integers(36, 46)), "heavy"),
        width_m=draw(st.floats(0.0012, 0.05)),
        margin_m=draw(st.floats(0, 0.0005)),
        height_m=2.0,  # whatever it builds
        speed_rpm=draw(st.one_of(st.none(), st.floats(240, 4000))),
        pause_at_turns=tuple(pauses),
        direction=draw(st.sampled_from(Direction)),
    )
