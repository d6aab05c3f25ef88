"""How even the lay is: a coil laid as it is planned, beside the same without its waits at the sides, and by hand."""

from __future__ import annotations

from collections.abc import Iterator

from tests.benchmarks.coils import RECIPE
from tests.benchmarks.lines import Line
from winder.coil.known import coil_of
from winder.laboratory.lay_trial import BARE, BY_HAND, NO_WAIT, PLANNED, lay_trial
from winder.machine.model import SIMULATED_BENCH

SEED = 1


def lines() -> Iterator[Line]:
    laid = lay_trial(coil_of(RECIPE, SIMULATED_BENCH), SIMULATED_BENCH, SEED)["lays"]
    uneven = {each["lay"]: float(each["unevenness"]) for each in laid}
    for way in (NO_WAIT, BARE, BY_HAND):
        yield Line(
            f"unevenness as planned, beside: {way}",
            uneven[PLANNED],
            "of the height",
            uneven[way],
            way,
        )
