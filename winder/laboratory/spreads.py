"""The distribution of one figure over many runs, as the reports print it."""

from __future__ import annotations

from typing import Any


def spread(reports: list[dict[str, Any]], field: str) -> dict[str, float] | None:
    """Distribution of one figure: least, quartiles, 95th of a hundred, most; None without runs."""
    values = sorted(float(r[field]) for r in reports)
    if not values:
        return None
    last = len(values) - 1
    return {
        "runs": len(values),
        "least": values[0],
        "quarter": values[round(last * 0.25)],
        "median": values[round(last * 0.5)],
        "three_quarters": values[round(last * 0.75)],
        "p95": values[round(last * 0.95)],
        "most": values[-1],
    }
