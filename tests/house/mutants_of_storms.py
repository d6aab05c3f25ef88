"""Planted mistakes of what false edges on one channel leave in doubt, as rows like those of the board."""

from __future__ import annotations

STORMS = "tests/wind/test_storms.py"
RULE = "winder/wind/storm.py"

ROWS: tuple[tuple[str, str, str, str, tuple[str, ...]], ...] = (
    (
        "an edge that is told leaves the lower bound alone",
        "winder/wind/account.py",
        "self._widen(sooner, sooner, SOONER)",
        "self._widen(0, sooner, SOONER)",
        (STORMS,),
    ),
    (
        "a storm is over with its last told edge",
        RULE,
        "REACH_GAPS = 3 ",
        "REACH_GAPS = 0 ",
        (STORMS,),
    ),
    (
        "behind a trip a storm is over before the spindle stands",
        RULE,
        "or (tripped and not rests)",
        "",
        (STORMS,),
    ),
    ("a storm reaches back over a rest", RULE, "elif rests:", "elif False:", (STORMS,)),
)
