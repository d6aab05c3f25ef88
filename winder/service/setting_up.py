"""The list before a wind, with nothing on it that the bench's file, the board or the last wind on this machine knows."""

from __future__ import annotations

from functools import partial

from firmware_protocol.records import dataclass
from winder.clock import date_now
from winder.coil.feed import tension_words
from winder.coil.model import Coil
from winder.coil.window import widest_m
from winder.machine.model import MachineProfile
from winder.plan.facing import Top
from winder.plan.model import Plan
from winder.recipe.counted import CountOnly
from winder.recipe.model import Recipe
from winder.shelf.logbook import Logbook
from winder.shelf.model import RunRecord
from winder.wind.loading import drives_traverse
from winder.wind.model import Intent
from winder.wind.set_up_list import SetUpList

DAY_SIGNS = 10  # of a date, as 2026-01-31


@dataclass(frozen=True, slots=True)
class Declared:
    """What was said of the machine's set-up beforehand. ``by``: who takes the list as done; "": it is gone through."""

    top: Top | None = None  # where the top of the coil faces; None: asked
    tension_cn: float | None = None
    by: str = ""


NOTHING_DECLARED = Declared()


@dataclass(frozen=True, slots=True)
class Usual:
    """What the newest wind on a machine leaves to be known. ``read_today``: the cautions were accepted whole."""

    top: Top | None = None
    read_today: bool = False


def usual(logbook: Logbook, machine: MachineProfile) -> Usual:
    """From the newest wind of all, if it was on this machine: after another one everything is asked anew."""
    runs = [run for coil in logbook.newest_on(None, 1) for run in coil.runs]
    if not runs or runs[-1].machine_name != machine.name:
        return Usual()
    run = runs[-1]
    tops = [line.facts["top"] for line in run.lines if line.facts.get("top")]
    return Usual(Top(tops[-1]) if tops and not machine.motor else None, _read_today(run))


def _read_today(run: RunRecord) -> bool:
    """A person, not ``--start``, accepted the cautions in this wind or one before it on the same day."""
    accepted = Intent.ACCEPT_CAUTIONS.value
    today = run.started[:DAY_SIGNS] == date_now()[:DAY_SIGNS]
    return today and any(
        line.facts.get("intent") == accepted and line.facts.get("by") == "operator"
        for line in run.lines
    )


def wanted(job: Coil | CountOnly) -> Recipe | CountOnly:
    """What says its name and direction."""
    return job if isinstance(job, CountOnly) else job.recipe


def set_up_list(
    job: Coil | CountOnly, machine: MachineProfile, declared: Declared, plan: Plan, *, goes_on: bool
) -> SetUpList:
    """The list of one wind."""
    known = None if isinstance(job, CountOnly) else job
    todo = SetUpList(
        wanted(job).direction,
        guide=machine.motor and drives_traverse(plan),
        plus_clockwise=machine.plus_clockwise,
        top=declared.top,
        top_by=declared.by or "operator",
        width_m=None if known is None else widest_m(known.recipe),
        goes_on=goes_on,
        judge_tension=str if known is None else partial(tension_words, known.wire),
        wire=known is not None,
        motor=machine.motor,
    )
    todo.tension_cn = declared.tension_cn
    return todo
