"""Winds that did not end properly: told at the next start, with their count and how sure it is.

The journal says how far the wind had surely come and whether the board was moving then; what the board
kept of its last rest can make that certain again. Whatever was told is written into the logbook as the
run's end, so that the shelf shows it from then on.
"""

from __future__ import annotations

from firmware_protocol.messages import Welcome
from winder.shelf.logbook import Logbook
from winder.shelf.model import UnfinishedRun
from winder.wind.model import CountTruth
from winder.wind.truth import truth_after_break, words


def truth_of(run: UnfinishedRun, welcome: Welcome | None) -> CountTruth:
    """What is known of the coil's count after this run broke off, with a board's word if there is one."""
    return truth_after_break(
        run.truth,
        wind=run.wind,
        count=run.count,
        moving=run.moving,
        plan=run.plan,
        machine=run.machine,
        welcome=welcome,
    )


def words_of_unfinished(logbook: Logbook, welcome: Welcome | None = None) -> list[str]:
    """One sentence for each run without an end; nothing is written."""
    return [_words(run, truth_of(run, welcome)) for run in logbook.unfinished_runs()]


def tell_unfinished(logbook: Logbook, welcome: Welcome | None = None) -> list[str]:
    """One sentence for each run without an end; each then gets one."""
    told = []
    for run in logbook.unfinished_runs():
        truth = truth_of(run, welcome)
        told.append(_words(run, truth))
        logbook.settle_run(run.run_id, truth, "broken off")
    return told


def _words(run: UnfinishedRun, truth: CountTruth) -> str:
    return (
        f"'{run.coil_name}', begun {run.date}, did not end properly: "
        f"{words(truth, run.counts_per_turn)}"
    )
