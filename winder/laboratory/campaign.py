"""Many rehearsals and what they have in common: the worst case, not the average, is the news.

With drawn machines each run has another body and a profile as a person would have measured it. Beside
every wind stands a host that says stop when it sees the count, on the same body, at 50 ms latency: that
is what stopping by the host would cost.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from typing import Any

from firmware_protocol.records import dataclass
from winder.coil.known import coil_of
from winder.laboratory.coverage import observed_summary
from winder.laboratory.spreads import spread
from winder.recipe.model import Recipe
from winder.service.bodies import drawn_machine
from winder.service.given_files import read_profile
from winder.service.observing import Ask, rehearse_observed
from winder.service.rehearsal import Progress, rehearse, report_of
from winder.simulator.host_stop import host_stop_overrun

HOST_LATENCY_S = 0.05
RUNS_WORTH_A_POOL = 8
FINE_COUNTS_PER_TURN = 20  # from here on the bound on the overrun is the tight one
OVERRUN_TURNS_FINE = 0.05
OVERRUN_TURNS_COARSE = 0.5
OVERRUN_TURNS_BY_HAND = 1.0  # part of a turn is no turn


@dataclass(frozen=True, slots=True)
class Job:
    """One run of a campaign, as another process can be given it."""

    recipe: Recipe
    seed: int
    machine_path: str | None
    drawn: bool
    observe: tuple[Ask, ...]


def run_campaign(
    recipe: Recipe,
    *,
    runs: int,
    seed: int,
    machine_path: str | None = None,
    drawn: bool = False,
    observe: tuple[Ask, ...] = (),
    progress: Progress | None = None,
) -> dict[str, Any]:
    """Rehearse ``runs`` times with seeds ``seed, seed + 1, ...``; returns runs and summary."""
    jobs = [Job(recipe, seed + number, machine_path, drawn, observe) for number in range(runs)]
    reports = []
    for report in _each(jobs):
        reports.append(report)
        if progress is not None:
            progress(len(reports) / runs)
    summary = summary_of(reports)
    if observe:
        summary["observed"] = observed_summary(reports)
    return {"runs": reports, "summary": summary}


def _each(jobs: list[Job]) -> Iterator[dict[str, Any]]:
    """Reports in the order of the jobs; on several cores when that pays."""
    workers = os.cpu_count() or 1
    if len(jobs) < RUNS_WORTH_A_POOL or workers == 1:
        yield from map(_run, jobs)
        return
    with ProcessPoolExecutor(workers) as pool:
        yield from pool.map(_run, jobs, chunksize=2)


def _run(job: Job) -> dict[str, Any]:
    seed = job.seed
    if job.drawn:
        coil = coil_of(job.recipe)
        machine, body = drawn_machine(coil, seed)
    else:
        machine, body = read_profile(job.machine_path), None
        coil = coil_of(job.recipe, machine)
    if job.observe:
        rehearsed, report = rehearse_observed(coil, machine, seed, job.observe, body=body)
    else:
        rehearsed = rehearse(coil, machine, seed, body=body)
        report = report_of(rehearsed)
    build = rehearsed.body.build
    speed_rpm = max(leg.speed_rpm for leg in rehearsed.opened.plan.legs)
    report["machine"] = {
        "counts_per_turn": machine.counts_per_turn,
        "speed_rpm_max": machine.speed_rpm_max,
        "brake": machine.braking_rpm_s is not None,
        "motor": build.motor,
        "inertia_kg_m2": build.inertia_kg_m2 if build.motor else None,
        "coulomb_nm": build.coulomb_nm if build.motor else None,
        "wound_at_rpm": speed_rpm,
    }
    report["host_stop_overrun_turns"] = (
        host_stop_overrun(build, speed_rpm, HOST_LATENCY_S, seed) if build.motor else None
    )
    return report


def summary_of(reports: list[dict[str, Any]]) -> dict[str, Any]:
    """What the runs have in common; overruns in turns of the true angle."""
    fine = [r for r in reports if r["counts_per_turn"] >= FINE_COUNTS_PER_TURN]
    coarse = [r for r in reports if r["counts_per_turn"] < FINE_COUNTS_PER_TURN]
    driven = [r for r in reports if r["machine"]["motor"]]
    return {
        "runs": len(reports),
        "complete": sum(r["state"] == "complete" for r in reports),
        "count_reached": sum(r["final_counts"] >= r["target_counts"] for r in reports),
        "whole_turns_exact": sum(int(r["final_turns"]) == r["target_turns"] for r in reports),
        "worst": max(reports, key=lambda r: r["overrun_turns"]),
        f"overrun_turns_from_{FINE_COUNTS_PER_TURN}_counts_per_turn": spread(fine, "overrun_turns"),
        f"overrun_turns_below_{FINE_COUNTS_PER_TURN}_counts_per_turn": spread(
            coarse, "overrun_turns"
        ),
        "host_stop_latency_s": HOST_LATENCY_S,
        "host_stop_overrun_turns": spread(driven, "host_stop_overrun_turns"),
        "bounds_held": all(_bound_holds(r) for r in reports),
        "wall_s": sum(r["wall_s"] for r in reports),
    }


def _bound_holds(report: dict[str, Any]) -> bool:
    """The bound each run is held to: complete, whole turns exact, overrun within its class."""
    fine = report["counts_per_turn"] >= FINE_COUNTS_PER_TURN
    over = report["overrun_turns"]
    if not report["machine"]["motor"]:
        held = over < OVERRUN_TURNS_BY_HAND
    else:
        held = over <= OVERRUN_TURNS_FINE if fine else over < OVERRUN_TURNS_COARSE
    return bool(
        report["state"] == "complete"
        and report["final_counts"] >= report["target_counts"]
        and int(report["final_turns"]) == report["target_turns"]
        and held
    )
