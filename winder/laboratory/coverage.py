"""How often a band that claims 95 of 100 held what it was for, and how sure that share is.

The interval of the share is Clopper and Pearson's exact one (Biometrika 26 (1934) 404, from memory): the
shares for which as many hits, or as few, would come up at least 2.5 times in 100. It is reported as it
comes out, beside the 0.95 claimed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from winder.laboratory.spreads import spread

TAIL = 0.025
HALVINGS = 60
CLAIMED = 0.95


def binomial_interval(hits: int, runs: int) -> tuple[float, float]:
    """95 % limits of the share that ``hits`` of ``runs`` speak for."""
    assert 0 <= hits <= runs and runs > 0
    low = 0.0 if hits == 0 else _solved(lambda p: 1 - _at_most(hits - 1, runs, p) < TAIL)
    high = 1.0 if hits == runs else _solved(lambda p: _at_most(hits, runs, p) > TAIL)
    return low, high


def observed_summary(reports: list[dict[str, Any]]) -> dict[str, Any]:
    """What the runs with observations have in common."""
    seen = [report["observed"] for report in reports]
    inside = sum(run["inside"] for run in seen)
    low, high = binomial_interval(inside, len(seen))
    rows = []
    for run in seen:
        row = {
            "before": _half_width(run["band_before_ohm_20c"]),
            "after": _half_width(run["band_ohm_20c"]),
            "middle_off": run["wound_ohm_20c"] / run["band_ohm_20c"]["nominal"] - 1,
        }
        if run["target_ohm_20c"] is not None:
            row["off_target"] = abs(run["wound_ohm_20c"] / run["target_ohm_20c"] - 1)
        rows.append(row)
    return {
        "runs": len(seen),
        "inside": inside,
        "coverage": inside / len(seen),
        "coverage_low": low,
        "coverage_high": high,
        "claimed": CLAIMED,
        "not_learnt": sum(not o["learnt"] for run in seen for o in run["observations"]),
        "band_half_width_share_before": spread(rows, "before"),
        "band_half_width_share": spread(rows, "after"),
        "middle_off_share": spread(rows, "middle_off"),
        "off_target_share": spread([row for row in rows if "off_target" in row], "off_target"),
    }


def _half_width(band: dict[str, float]) -> float:
    return math.log(band["high"] / band["low"]) / 2


def _at_most(hits: int, runs: int, share: float) -> float:
    """Chance of at most ``hits`` of ``runs``; summed by logarithms, so that no term is lost."""
    if share <= 0 or share >= 1:
        return 1.0 if share <= 0 or hits >= runs else 0.0
    one, none = math.log(share), math.log1p(-share)
    return math.fsum(
        math.exp(
            math.lgamma(runs + 1)
            - math.lgamma(k + 1)
            - math.lgamma(runs - k + 1)
            + k * one
            + (runs - k) * none
        )
        for k in range(hits + 1)
    )


def _solved(still_below: Callable[[float], bool]) -> float:
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if still_below(middle) else (low, middle)
    return (low + high) / 2
