"""What everything costs: ``python -m tests.benchmarks [--json FILE] [PART ...]``, one table and one file of figures.

Every line has a figure, what it is held against in the same run (a peer or a limit), their ratio, and the figure of the
run before, from the file. Processor seconds of this process and its children, the least of several, so that a busy
machine disturbs less; figures of two machines do not compare, ratios do. Not a test, and nothing here is asserted.
The capacitance, the readings, the worlds and the shelf have scripts of their own beside this one.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.benchmarks import (
    campaigns,
    chip,
    coils,
    frames,
    journal,
    lays,
    rehearsals,
    screen,
    start_up,
    stop_key,
)
from tests.benchmarks.lines import Line
from tests.benchmarks.page import PAGE, page_text

FIGURES = Path(__file__).with_name("figures.json")
PARTS: dict[str, Callable[[], Iterator[Line]]] = {
    "frames": frames.lines,
    "start-up": start_up.lines,
    "rehearsals": rehearsals.lines,
    "campaigns": campaigns.lines,
    "coils": coils.lines,
    "lays": lays.lines,
    "journal": journal.lines,
    "screen": screen.lines,
    "stop key": stop_key.lines,
    "chip": chip.lines,
}
HEAD = f"{'':52} {'figure':>10} {'':18} {'against':>10}  {'':26} {'ratio':>7} {'before':>10}"


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("parts", nargs="*", choices=[[], *PARTS], help="which (all)")
    parser.add_argument("--json", type=Path, default=FIGURES, metavar="FILE", help="the figures")
    parser.add_argument("--page", action="store_true", help=f"write {PAGE.name}, too")
    asked = parser.parse_args()
    known = json.loads(asked.json.read_text()) if asked.json.exists() else {}
    print(HEAD)
    for part in asked.parts or PARTS:
        for place, line in enumerate(PARTS[part]()):
            print(line.shown(known.get(line.name)), flush=True)
            known[line.name] = line.facts() | {"part": part, "place": place}
        asked.json.write_text(json.dumps(known, indent=1, sort_keys=True) + "\n")
    if asked.page:
        PAGE.write_text(page_text(known))
    return 0


if __name__ == "__main__":
    sys.exit(main())
