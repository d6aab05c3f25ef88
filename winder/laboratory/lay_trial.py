"""One coil laid in several ways on the same simulated bobbin, to compare how even each comes out.

The lay depends on the count alone, so the guide is led turn by turn along the plan's own legs, as the
board takes them, without spindle or time; the wire lies down by the simulator's rules. Beside the lay as
planned stand the same plan without its wait at the sides, a guide that knows nothing of edges at all,
scattered lay, and a hand. Edges are judged as the plan cannot: by what was laid.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

from firmware_protocol.messages import PlanLeg
from winder.coil.model import Coil
from winder.machine.model import MachineProfile
from winder.plan.model import Plan
from winder.plan.planner import make_plan
from winder.service.bodies import bobbin_build
from winder.simulator.build import Build
from winder.simulator.guide import Guide
from winder.simulator.hand import Hand
from winder.simulator.lay import Lay
from winder.wind.loading import leg_message, legs_of_wind

PLANNED, NO_WAIT, BARE, SCATTERED, BY_HAND = (
    "traverse, as planned",
    "traverse, no wait at the edges",
    "traverse, nothing done for the edges",
    "traverse, scattered lay",
    "by hand",
)
LEGS_MAX = 16  # of the simulated board


def lay_trial(coil: Coil, machine: MachineProfile, seed: int) -> dict[str, Any]:
    """The figures of every lay (``docs/reference/lay.md``). ``UserMistake`` where nothing can be planned."""
    build = bobbin_build(machine, coil, seed)
    lays = []
    for name, places_m in _ways(coil, machine, build, seed):
        lay = Lay(build)
        for turn in range(coil.turns):
            lay.lay_turn(places_m(turn))
        lays.append({"lay": name, **figures_of(lay)})
    return {
        "recipe": coil.recipe.name,
        "turns": coil.turns,
        "free_length_m": build.free_length_m,
        "seed": seed,
        "lays": lays,
    }


def figures_of(lay: Lay) -> dict[str, float]:
    """What was laid: edge over middle, unevenness, layers, ohms at 20 C."""
    return {
        "edge_share": lay.edge_share,
        "unevenness": lay.unevenness,
        "layers": lay.layers,
        "resistance_ohm_20c": lay.wound_ohm,
    }


def _ways(
    coil: Coil, machine: MachineProfile, build: Build, seed: int
) -> list[tuple[str, Callable[[int], float]]]:
    """Every way to lay this coil: its name, and where the wire is led to at each turn."""
    ways: list[tuple[str, Callable[[int], float]]] = []
    if machine.motor and machine.traverse_travel_m is not None:
        plan = make_plan(coil, machine, legs_max=LEGS_MAX, seed=_scatter_seed(seed))
        scattered = make_plan(
            coil, machine, legs_max=LEGS_MAX, seed=_scatter_seed(seed), scatter=True
        )
        legs = _legs(plan)
        no_wait = [dataclasses.replace(leg, dwell_counts=0) for leg in legs]
        inset_m = coil.recipe.margin_m + coil.wire.overall_m / 2
        left_um, right_um = (
            round(place_m * 1e6) for place_m in (inset_m, coil.recipe.width_m - inset_m)
        )
        bare = [
            dataclasses.replace(leg, left_um=left_um, right_um=right_um) if leg.pitch_nm else leg
            for leg in no_wait
        ]
        cpt = plan.counts_per_turn
        ways += [
            (PLANNED, _led_by(legs, machine, cpt)),
            (NO_WAIT, _led_by(no_wait, machine, cpt)),
            (BARE, _led_by(bare, machine, cpt)),
            (SCATTERED, _led_by(_legs(scattered), machine, cpt)),
        ]
    hand = Hand(build, seed)
    return [*ways, (BY_HAND, hand.place_m)]


def _scatter_seed(seed: int) -> int:
    return seed % 0xFFFF + 1  # what a leg can say, never 0


def _legs(plan: Plan) -> list[PlanLeg]:
    loaded = legs_of_wind(plan, 0, 0)
    return [leg_message(leg, index, plan, 1) for index, leg in enumerate(loaded)]


def _led_by(
    legs: list[PlanLeg], machine: MachineProfile, counts_per_turn: int
) -> Callable[[int], float]:
    """The guide's place in the middle of each turn, from the left flange."""
    guide = Guide(machine.traverse_travel_m)
    guide.follow(tuple(legs), 0)
    return lambda turn: guide.place((turn + 0.5) * counts_per_turn)[0] * 1e-6
