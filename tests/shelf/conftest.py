"""A coil, a plan and a machine to keep books about. All of it is invented."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from winder.coil.bands import Band
from winder.coil.model import Coil
from winder.coil.wire import WireFacts
from winder.machine.model import SIMULATED_BENCH, MachineProfile
from winder.plan.model import AtEnd, Leg, Plan
from winder.recipe.model import AwgWire, Direction, ObroundCore, Recipe, TurnsTarget
from winder.shelf import Logbook

COUNTS_PER_TURN = 20


@dataclass(frozen=True)
class Made:
    """Everything a coil and its run are entered from."""

    recipe: Recipe
    coil: Coil
    plan: Plan
    machine: MachineProfile

    def named(self, name: str) -> Made:
        recipe = replace(self.recipe, name=name)
        return replace(self, recipe=recipe, coil=replace(self.coil, recipe=recipe))

    def begin(self, logbook: Logbook, *, wind: int = 0xDEADBEEF, port: str = "sim") -> int:
        """A coil and its first run; the run's number."""
        coil_id = logbook.begin_coil(self.recipe, self.coil, self.plan)
        return logbook.begin_run(
            coil_id, wind=wind, plan=self.plan, machine=self.machine, port=port, simulated_seed=7
        )


def leg(name: str, end_turns: int, at_end: AtEnd) -> Leg:
    return Leg(
        name=name,
        end_counts=end_turns * COUNTS_PER_TURN,
        at_end=at_end,
        speed_rpm=900.0,
        acceleration_rpm_s=600.0,
        creep_rpm=30.0,
        coast_counts=0,
        pitch_m=0.00008,
        left_m=0.001,
        right_m=0.0085,
        dwell_counts=4,
        scatter_seed=0,
    )


@pytest.fixture
def made() -> Made:
    recipe = Recipe(
        name="tine sensor",
        note="invented",
        wire=AwgWire(42, "single"),
        core=ObroundCore(0.012, 0.004),
        width_m=0.008,
        height_m=0.004,
        target=TurnsTarget(1200),
        direction=Direction.CLOCKWISE,
        pause_at_turns=(400,),
        text='name = "tine sensor"\n',
    )
    coil = Coil(
        recipe=recipe,
        wire=WireFacts("42 AWG single", 63.3e-6, 72e-6, Band(5.45, 5.2, 5.7), "invented"),
        turns=1200,
        core_perimeter_m=0.0286,
        core_area_m2=4.4e-5,
        width_m=0.008,
        area_per_turn_m2=Band(6e-9, 5e-9, 7e-9),
        turns_per_layer=111.0,
        layers=10.8,
        build_m=0.0009,
        fits=True,
        wire_length_m=37.7,
        outer_turn_m=0.034,
        resistance_ohm_20c=Band(205.0, 195.0, 216.0),
    )
    plan = Plan(
        legs=(leg("bedding", 400, AtEnd.PAUSE), leg("body", 1200, AtEnd.COMPLETE)),
        counts_per_turn=COUNTS_PER_TURN,
        spindle=-1,
        first_turn=0,
        target_turns=1200,
        duration_s=85.0,
        remarks=("pauses at turn 400",),
    )
    return Made(recipe, coil, plan, SIMULATED_BENCH)


@pytest.fixture
def logbook() -> Iterator[Logbook]:
    with Logbook.in_memory() as opened:
        yield opened


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite"
