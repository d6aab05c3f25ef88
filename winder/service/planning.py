"""The plan of one wind within what its board can do, and the estimate that may lead to another plan on the way."""

from __future__ import annotations

from firmware_protocol.messages import Welcome
from winder.coil.known import with_readings
from winder.coil.model import Coil
from winder.machine.model import MachineProfile
from winder.plan.facing import Facing
from winder.plan.model import Plan
from winder.plan.planner import make_plan
from winder.service.estimating import LiveEstimate
from winder.service.going_on import Earlier, earlier_readings
from winder.wind.loading import drives_traverse

LEGS_USUAL = 8  # planned for where a board says nothing of its legs
SEEDS = 0xFFFF  # what a leg has room for


def plan_wind(
    coil: Coil,
    machine: MachineProfile,
    welcome: Welcome,
    *,
    earlier: Earlier | None,
    facing: Facing | None,
    first_turn: int,
    seed: int | None,
) -> tuple[Coil, Plan, LiveEstimate]:
    """The coil as it is known from its earlier winds, its plan, and what learns from readings.

    A target that a person adopted in an earlier wind is this wind's; what was measured and not adopted is only known.
    """
    made = earlier_readings(earlier, coil) if earlier else ()
    if earlier is not None and earlier.adopted_turns is not None:
        coil, made = with_readings(coil, made), ()

    def plan_for(known: Coil) -> Plan:
        return make_plan(
            known,
            machine,
            legs_max=welcome.legs_max or LEGS_USUAL,
            edge_rate_max_cps=welcome.edge_rate_max_cps or None,
            first_turn=first_turn,
            seed=((seed or 1) - 1) % SEEDS + 1,
            facing=facing,
        )

    plan = plan_for(coil)
    by_hand = not (machine.motor and drives_traverse(plan))
    return coil, plan, LiveEstimate(coil, plan_for, made, by_hand=by_hand, machine=machine)
