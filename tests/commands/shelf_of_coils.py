"""Coils put on a shelf as a wind would, for the tests of its commands. All of it is invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from tests.commands.running import SHORT
from winder.coil.known import coil_of
from winder.commands.main import main
from winder.machine.model import SIMULATED_BENCH
from winder.plan.planner import make_plan
from winder.recipe.reader import read_recipe_text
from winder.shelf import Logbook
from winder.wind.deeds import Brought
from winder.wind.model import How, SessionEvent

HOSTILE = "[bold]tine[/nothing] \x1b[31m:warning:"
PER_TURN = SIMULATED_BENCH.counts_per_turn


def enter(
    logbook: Logbook,
    name: str,
    *,
    turns: int | None,
    seed: int | None = None,
    wanted: int = 1200,
    more: str = "",
    recipe: str = SHORT,
) -> int:
    """A coil of that name with one run that counted so many turns (None: nothing yet); the run's number."""
    text = recipe.format(turns=wanted, more=more)
    coil = coil_of(read_recipe_text(text, "short.toml"))
    plan = make_plan(coil, SIMULATED_BENCH)
    coil_id = logbook.begin_coil(replace(coil.recipe, name=name), coil, plan)
    run = logbook.begin_run(
        coil_id, wind=77, plan=plan, machine=SIMULATED_BENCH,
        port="sim" if seed else "/dev/ttyX", simulated_seed=seed,
    )  # fmt: skip
    if turns is not None:
        count = turns * PER_TURN
        deed = Brought(count, count, count, PER_TURN, "", "")
        logbook.write(run, [SessionEvent("moved", 1, "", None, {}, (deed,))])
    return run


def shelf_with(file: Path, *coils: tuple[str, int, float | None]) -> list[str]:
    """Words that select a logbook of finished real coils: name, turns, ohms at 20 C."""
    with Logbook.open(file) as logbook:
        for name, turns, ohm in coils:
            run = enter(logbook, name, turns=turns, wanted=turns)
            at_c = None if ohm is None else 20.0
            logbook.end_run(run, How.COMPLETE, measured_ohm=ohm, measured_at_c=at_c)
    return ["--logbook", str(file)]


def told(capsys, *words: str) -> str:
    assert main(list(words)) == 0, capsys.readouterr().err
    return capsys.readouterr().out
