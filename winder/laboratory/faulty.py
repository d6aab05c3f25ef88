"""Winds in which something goes wrong, thousands of them, each judged by one who knows the truth.

A scene says what goes wrong; the world does it, the person acts as an honest one would, the host is opened, stepped,
killed and opened again, and the judge looks after every step. One seed and kind give one run, always the same.
"""

from __future__ import annotations

import dataclasses
import gc
import os
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from statistics import median
from typing import Any

from firmware_protocol.records import dataclass
from winder.clock import NS_PER_S
from winder.coil.known import coil_of
from winder.coil.model import Coil
from winder.laboratory.judge import WRONGS, Judge
from winder.laboratory.scene_person import ScenePerson
from winder.laboratory.underway import Underway
from winder.laboratory.world import World, bench_of, line_of, profile_of
from winder.recipe.model import AwgWire, Direction, Recipe, RoundCore, TurnsTarget
from winder.service.rehearsal import Progress
from winder.simulator.scene import (
    CLEAN,
    KINDS,
    UNSEEABLE,
    WRONG_BOARDS,
    Scene,
    draw_kind,
    draw_scene,
)

RUN_S_MAX = 150.0  # of machine time: a run that goes on for longer never ends
OPENS_MAX = 5
REST_S_MAX = 15.0
COUNTS_S = 5.0  # that a person takes to count turns, the spindle at rest
TARGET = "target"  # where a plan says that its end cannot be met
ALL, ONLY_CLEAN = "all", "clean"
RUNS_WORTH_A_POOL = 8
CHUNK = 16
GARBAGE = 100_000  # objects more than there were, until a worker looks for cycles


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one run came to. ``found``: a wrong and what it was, in words."""

    kind: str
    seed: int
    struck: bool
    found: tuple[tuple[str, str], ...]
    width_turns: float | None
    simulated_s: float


@lru_cache(maxsize=256)
def _coil(turns: int, rpm: int) -> Coil:
    return coil_of(
        Recipe(
            name="short coil",
            note="invented",
            wire=AwgWire(36, "single"),
            core=RoundCore(0.010),
            width_m=0.008,
            height_m=0.004,
            target=TurnsTarget(turns),
            direction=Direction.CLOCKWISE,
            speed_rpm=float(rpm),
        )
    )


def rehearse_scene(scene: Scene) -> Outcome:
    """One run, in virtual time."""
    stage = _Stage(scene)
    try:
        stage.play()
    except Exception as trouble:
        stage.judge.crashed(f"{type(trouble).__name__}: {trouble}")
    struck = stage.world.struck or stage.underway.bench.struck
    return Outcome(
        scene.kind,
        scene.seed,
        struck,
        tuple(stage.judge.found.items()),
        stage.judge.width_turns,
        stage.underway.clock.now_ns() / NS_PER_S,
    )


class _Stage:
    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        coil, profile = _coil(scene.turns, scene.rpm), profile_of(scene)
        bench = bench_of(scene, coil, profile)
        self.underway = Underway(bench, coil, profile, scene.seed, line_of(scene))
        self.judge = Judge(scene, self.underway)
        self.person = ScenePerson(scene, self.underway, self.judge)
        self.world = World(scene, self.underway, self.judge, self.person)
        self.too_near = False  # the end lies nearer than the machine can stop

    def play(self) -> None:
        scene, underway = self.scene, self.underway
        trouble = underway.open(resets=False, by_list=scene.by_list)
        if trouble is not None:
            self.judge.crashed(f"not opened: {trouble}")
            return
        while True:
            if underway.clock.now_ns() > RUN_S_MAX * NS_PER_S:
                self.judge.crashed(f"goes on after {RUN_S_MAX:g} s, {underway.phase}")
                return
            self.world.act()
            if underway.there:
                self.person.act()
                self.world.step()
                self.judge.look()
            elif not self._another_host():
                break
        self._come_to_rest()
        self.judge.judge_shelf(finally_so=True, given_up=self.person.alarmed or self.too_near)

    def _another_host(self) -> bool:
        """The host is gone: look at the shelf, and open the next. False: this coil is done with."""
        underway, judge = self.underway, self.judge
        underway.close()
        judge.host_gone()
        self.world.host_ended()
        if self.world.waits:
            self._come_to_rest()
            judge.judge_shelf(finally_so=False)
        state, claim = underway.shelf()
        if state in ("complete", "ended short") or self.person.gave_up:
            return False
        if underway.opened_times >= OPENS_MAX:
            return False
        judge.coil_here()
        doubted = claim is None or not claim.sure
        told = doubted and self.scene.settles and self.person.stands
        turns = self.person.counted_turns() if told else None
        by_list = self.scene.trusting or self.scene.by_list
        trouble = underway.open(resets=self.scene.resets, turns=turns, by_list=by_list)
        if trouble is not None:
            self._come_to_rest(COUNTS_S)
            turns = self.person.counted_turns()
            trouble = underway.open(resets=self.scene.resets, turns=turns)
        self.too_near = trouble is not None and trouble.where == TARGET
        if trouble is not None and not self.too_near and self.scene.kind not in WRONG_BOARDS:
            judge.crashed(f"cannot be continued: {trouble}")
        return trouble is None

    def _come_to_rest(self, for_s: float = 0.0) -> None:
        """Until the spindle rests, and has for so long."""
        machine = self.underway.bench.machine
        if machine.drill is not None:
            machine.drill.lay_down()
        waited_s, rested_s = 0.0, 0.0
        while waited_s < REST_S_MAX and (machine.moving or rested_s < for_s):
            self.underway.let_pass(0.5)
            waited_s += 0.5
            rested_s = 0.0 if machine.moving else rested_s + 0.5


# --- many -----------------------------------------------------------------------------------------


def names_of(asked: str) -> tuple[str, ...]:
    """The kinds that a list asks for; unknown names are left to the caller (``unknown_names``)."""
    names: list[str] = []
    for name in (part.strip() for part in asked.split(",")):
        names += KINDS if name == ALL else CLEAN if name == ONLY_CLEAN else (name,)
    return tuple(dict.fromkeys(names))


def unknown_names(names: tuple[str, ...]) -> list[str]:
    return [name for name in names if name not in KINDS and name not in CLEAN]


def run_faults(
    names: tuple[str, ...], *, runs: int, seed: int, progress: Progress | None = None
) -> dict[str, Any]:
    """``runs`` scenes of these kinds with seeds ``seed, seed + 1, ...``: summary, and every run that failed."""
    outcomes = []
    for outcome in _each([(names, seed + number) for number in range(runs)]):
        outcomes.append(outcome)
        if progress is not None:
            progress(len(outcomes) / runs)
    return {"summary": summary_of(outcomes), "failing": [_failing(o) for o in outcomes if o.found]}


def _each(jobs: list[tuple[tuple[str, ...], int]]) -> Iterator[Outcome]:
    workers = os.cpu_count() or 1
    if len(jobs) < RUNS_WORTH_A_POOL or workers == 1:
        yield from map(_run, jobs)
        return
    with ProcessPoolExecutor(workers, initializer=_hunt_seldom) as pool:
        yield from pool.map(_run, jobs, chunksize=CHUNK)


def _hunt_seldom() -> None:
    """A run leaves few cycles behind: looking for them as often as usual takes an eighth of the time."""
    gc.freeze()
    gc.set_threshold(GARBAGE)


def _run(job: tuple[tuple[str, ...], int]) -> Outcome:
    names, seed = job
    kind = names[0] if len(names) == 1 else draw_kind(names, seed)
    return rehearse_scene(draw_scene(kind, seed))


def summary_of(outcomes: list[Outcome]) -> dict[str, Any]:
    """The documented figures (``docs/reference/rehearsal.md``)."""
    found = Counter(wrong for outcome in outcomes for wrong, _ in outcome.found)
    widths = [o.width_turns for o in outcomes if o.width_turns is not None]
    seeable = [outcome for outcome in outcomes if outcome.kind not in UNSEEABLE]
    return {
        "runs": len(outcomes),
        **{wrong: found[wrong] for wrong in WRONGS},
        "struck": dict(sorted(Counter(o.kind for o in seeable if o.struck).items())),
        "unseeable": dict(sorted(Counter(o.kind for o in outcomes if o.kind in UNSEEABLE).items())),
        "runs_of_kind": dict(sorted(Counter(o.kind for o in outcomes).items())),
        "failing_of_kind": dict(sorted(Counter(o.kind for o in outcomes if o.found).items())),
        "in_doubt": len(widths),
        "width_turns_median": median(widths) if widths else None,
        "simulated_s": sum(outcome.simulated_s for outcome in outcomes),
    }


def _failing(outcome: Outcome) -> dict[str, Any]:
    facts = dataclasses.asdict(outcome)
    facts["found"] = dict(outcome.found)
    facts["again"] = f'winder rehearse --faults "{outcome.kind}" --runs 1 --seed {outcome.seed}'
    return facts
