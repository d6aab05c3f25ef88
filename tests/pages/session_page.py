"""Draws ``docs/session.md`` from the transition table, or checks that it is not stale.

python -m tests.pages.session_page            writes the page
python -m tests.pages.session_page --check    exit code 1 if the page is not what the table says
"""

from __future__ import annotations

import sys
from pathlib import Path

from winder.wind.asking import MOTION
from winder.wind.model import Intent, Phase
from winder.wind.table import TABLE, Seen
from winder.wind.wording import HEADLINES

PAGE = Path(__file__).resolve().parents[2] / "docs" / "session.md"
RERUN = "python -m tests.pages.session_page"

_HEAD = f"""# The wind under way, phase by phase

Drawn from `winder/wind/table.py` by `{RERUN}`; do not edit by hand.

The session is a pure transition table: what happens in a phase and has no entry below changes nothing. An
intent without an entry is refused with a sentence. Beside the table, an intent may have to wait: a start
needs the cautions accepted, no unanswered command and no stop under way.

Three things can be read off the picture. Only `starting` leads to `winding`, and only a person's
{" or ".join(f"*{intent.value}*" for intent in sorted(MOTION, key=lambda i: i.value, reverse=True))} leads to `starting`. From `slowing` and `not heard` no way leads back to
`winding`. And motion that nobody asked for leads to `slowing`, which sends stops until the board rests.
"""


_DOUBTS = """## When the count stops being exact

A count that the board told is *exact*. It is *between* two bounds, with the reason, after any of these; a person who vouches for a number makes it *vouched*, never exact again.

| reason as it is told | how far the true count may be off |
|---|---|
| edges came while nothing drove the spindle | without a sense of direction: so many edges either way; an unmoved spindle, vouched for, settles it |
| the board is not heard | in motion: up, by what the spindle can make until the lease has brought it to rest (down while it turns back); at rest: a turn either way |
| the board was not heard to come to rest | the same, for good |
| the board was reset while winding | up, from the count last on record, by the same |
| the run broke off while winding | the same, where no board can be asked |
| the spindle may have been turned while nobody counted | a turn either way, after a reset or an end at rest; the board's kept record narrows it |
| the board's settings for counting have changed | a turn either way |
| the board's count jumped by so much | the jump, when a board keeps telling what no spindle can do |
| the turn sensor was implausible | down by what came since the status before, up by half a second of winding |
| no edge came while driven: the spindle stood, or the sensor failed | up, by what the spindle can have made since the last edge |
| turns since the wire was lost are not on the coil | down, by what was counted since |
| turns since the wire broke are not on the coil | down: two seconds of winding before a person stopped it, or, found at rest without a wire sensor, all since the start |
| the board's counter of undriven edges is full | up, by what it cannot tell any more |

*Vouched* from the beginning: what a hand turned under a sensor without direction ("turned by hand, in one direction only"), what came off uncounted ("turns were taken off by hand"), an unmoved spindle ("the spindle was not turned
meanwhile"), and any number that a person counted.
"""


def page() -> str:
    """The whole page, the same for the same table."""
    return "\n".join([_HEAD, _DOUBTS, _picture(), _intents(), _happenings(), _chart()])


def _name(phase: Phase) -> str:
    return phase.value.replace(" ", "_")


def _picture() -> str:
    """Every change of phase as an arrow; what can happen anywhere is in the table below only."""
    everywhere = {Seen.SILENT, Seen.RESET, Seen.TAKEN, Seen.TRIPPED, Seen.UNASKED}
    lines = ["## The picture", "", "```mermaid", "stateDiagram-v2", "    [*] --> connecting"]
    for (phase, happening), after in TABLE.items():
        if after is not phase and happening not in everywhere:
            lines.append(f"    {_name(phase)} --> {_name(after)}: {happening.value}")
    lines += [f"    {_name(phase)} --> [*]" for phase in (Phase.BROKEN_OFF, Phase.ENDED)]
    return "\n".join([*lines, "    complete --> [*]", "```", ""])


def _intents() -> str:
    lines = ["## What a person may ask", "", "| phase | on the screen | intents |", "|---|---|---|"]
    for phase in Phase:
        asked = [f"*{i.value}*" for i in Intent if (phase, i) in TABLE]
        lines.append(f"| `{phase.value}` | {HEADLINES[phase]} | {', '.join(asked)} |")
    return "\n".join([*lines, ""])


def _happenings() -> str:
    lines = ["## What the session sees", "", "| seen | leads from | to |", "|---|---|---|"]
    for seen in Seen:
        ways: dict[Phase, list[str]] = {}
        for phase in Phase:
            after = TABLE.get((phase, seen))
            if after is not None and after is not phase:
                ways.setdefault(after, []).append(f"`{phase.value}`")
        for after, phases in ways.items():
            lines.append(f"| {seen.value} | {', '.join(phases)} | `{after.value}` |")
    return "\n".join([*lines, ""])


def _chart() -> str:
    lines = ["## Every entry", "", "| phase | happening | then |", "|---|---|---|"]
    for (phase, happening), after in TABLE.items():
        what = f"*{happening.value}*" if isinstance(happening, Intent) else happening.value
        lines.append(f"| `{phase.value}` | {what} | `{after.value}` |")
    return "\n".join([*lines, ""])


def main(arguments: list[str]) -> int:
    """Write or check; returns the exit code."""
    if arguments not in ([], ["--check"]):
        print(f"usage: {RERUN} [--check]", file=sys.stderr)
        return 2
    if not arguments:
        PAGE.write_text(page(), encoding="utf-8")
        return 0
    if PAGE.exists() and PAGE.read_text(encoding="utf-8") == page():
        return 0
    print(f"{PAGE.name} is not what the transition table says; run {RERUN}", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
