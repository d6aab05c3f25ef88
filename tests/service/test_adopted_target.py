"""A coil that goes on keeps the target that a person adopted last."""

from __future__ import annotations

from workshop_recipes import short_recipe

from winder.machine.model import SIMULATED_BENCH
from winder.plan.planner import make_plan
from winder.service.going_on import GoesOn, earlier_winds
from winder.shelf.logbook import Logbook
from winder.wind.model import How, SessionEvent


def test_the_last_adopted_target_is_the_coils(tmp_path):
    coil = short_recipe(60)
    plan = make_plan(coil, SIMULATED_BENCH)
    with Logbook.in_memory() as logbook:
        coil_id = logbook.begin_coil(coil.recipe, coil, plan)
        run = logbook.begin_run(coil_id, wind=7, plan=plan, machine=SIMULATED_BENCH, port="")
        for turns in (58, 63, 55):
            told = SessionEvent("plan", 1, f"the target is {turns}", 0, {"target_turns": turns})
            logbook.write(run, [told])
        logbook.end_run(run, How.LEFT)
        earlier = earlier_winds(logbook, GoesOn(str(coil_id)), coil.recipe, SIMULATED_BENCH)
        assert earlier.adopted_turns == 55
        assert logbook.coil(coil_id).row.target_turns == 55
