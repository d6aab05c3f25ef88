"""The page lists every way in which the count stops being exact: every reason that the source can give is there."""

from __future__ import annotations

import re
from pathlib import Path

from tests.pages import session_page
from winder.wind import truth as room

ROOM = Path(room.__file__).parent
REASONS = re.compile(
    r'(?:why(?:=| = )|[A-Z_]+ = |doubt_unheard\(|doubt_a_turn\()f?"([a-z][^"{]{12,})'
)


def reasons() -> set[str]:
    found: set[str] = set()
    for name in ("truth", "tally", "beliefs", "phases", "coil_orders", "session"):
        for line in (ROOM / f"{name}.py").read_text(encoding="utf-8").splitlines():
            match = REASONS.search(line)
            if match and "advice" not in line:
                found.add(match[1].strip())
    return found


def test_every_reason_for_doubt_is_on_the_page():
    told = reasons()
    assert len(told) >= 9, "the search has lost the source"
    text = " ".join(session_page.page().split())
    assert not sorted(reason for reason in told if reason not in text)
