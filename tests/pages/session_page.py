"""Draws ``docs/session.md`` from the table of phases and its guards, or checks that it is not stale.

python -m tests.pages.session_page            writes the page
python -m tests.pages.session_page --check    exit code 1 if the page is not what the table says
"""

from __future__ import annotations

import sys
from pathlib import Path

from winder.wind import watch
from winder.wind.model import Intent, Phase
from winder.wind.phases import TABLE, Guard
from winder.wind.seen import Seen
from winder.wind.wording import HEADLINES

PAGE = Path(__file__).resolve().parents[2] / "docs" / "session.md"
RERUN = "python -m tests.pages.session_page"
MOTION = tuple(i for i in Intent if any(
    step.to is Phase.STARTING for (_, happening), step in TABLE.items() if happening is i
))  # fmt: skip
ALARMS = (
    watch.UNASKED,
    watch.NOT_STOPPING,
    watch.PAST_THE_END,
    watch.DRIVES_AT_REST,
    watch.NO_EDGES,
    watch.CLOCK_STANDS,
)

_HEAD = f"""# The wind under way, phase by phase

Drawn from `winder/wind/phases.py` by `{RERUN}`; do not edit by hand.

One table says what may happen in which phase, under which guards, and where it leads. What happens in a phase and has
no entry changes nothing; an intent without an entry, or held back by one of its guards, is refused with a sentence.

Three things can be read off the picture. Only `starting` and `foot pedal` lead to `winding`, and only a person's
{" or ".join(f"*{intent.value}*" for intent in MOTION)} leads to `starting`, only
*wind by foot pedal* to `foot pedal`, and back there only a rest that the foot brought about. From `slowing` and `no signal` no way leads back to
`winding`. And a board that does what it was not told leads to `alarm`: the stop is sent, no sign of life is sent any
more, and only a person who has seen the spindle at rest leads out of it.
"""

_DOUBTS = """## When the count stops being exact

A count that the board told is *exact*. It is *between* two bounds, with the reason, after any of these; a person who
vouches for a number makes it *vouched*, never exact again. How far the true count may be off:

| reason as it is told | bounds |
|---|---|
| the board was not heard to come to rest | up, by what the spindle can make until the lease has brought it to rest, no further than the next end that stops; while it turns back, down. Gone when the board speaks for the same wind again |
| the spindle may have been turned while nobody counted | at rest, a turn either way; a board without a motor, as far as a hand turns in that time, or open. Gone when the board speaks for the same wind again, and settled by an unmoved spindle, vouched for |
| the board had counted more than was recorded | up, by what it kept beyond the record: commits were lost |
| so many edges came while nothing drove the spindle | without a sense of direction: so many either way; an unmoved spindle, vouched for, settles it, and so do turns taken off that agree with them within a turn |
| the board's counter of undriven edges is full | up, without an end |
| edges came sooner than a spindle can turn, and were not counted | up, by so many |
| the spindle turned before this wind was open | so many edges either way, where turns were on the coil |
| the board's settings for counting have changed | a turn either way |
| the board's count jumped as no spindle can | down, by what is beyond the fastest it can have turned |
| the board's count fell as no spindle can | up, by what it fell |
| the board's count stood as no spindle can | up, by what its own speed says it should have counted |
| the count changed at rest: a hand turned the spindle, or the board miscounts | by what the count changed: up where it fell, down where it rose |
| the board says it reached the end, but its count says otherwise | up, by what was missing and a turn |
| edges came faster than the spindle was driven | down, by what came since the status before the trip |
| the turn sensor was implausible | down by what came since the status before, up by what the commit gap can hide |
| no edge came while driven: the spindle stood, or the sensor failed | up, by what the spindle can have made since the last edge; an unmoved spindle settles it |
| turns since the wire was lost are not on the coil | down, by what was counted since; a wire found whole takes it back |
| turns since the wire broke are not on the coil | down: two seconds of winding before a person stopped it, or, found at rest without a wire sensor, all since the start; a wire found whole takes it back |

*Vouched* from the beginning: what a hand turned under a sensor without direction ("turned by hand, in one direction
only"), what came off uncounted ("turns were taken off by hand"), an unmoved spindle ("the spindle was not turned
meanwhile"), and any number that a person counted ("counted by the person").
"""


def _alarms() -> str:
    lines = ["## What a board is stopped for", ""]
    lines += [
        "An alarm sends the stop and withholds the signs of life; a board without a motor raises none.",
        "",
    ]
    return "\n".join([*lines, *(f"- {alarm}" for alarm in ALARMS), ""])


def page() -> str:
    """The whole page, the same for the same table."""
    return "\n".join(
        [_HEAD, _DOUBTS, _alarms(), _picture(), _phases(), _guards(), _happenings(), _chart()]
    )


def _name(phase: Phase) -> str:
    return phase.value.replace(" ", "_")


def _said(happening: Intent | Seen) -> str:
    return f"*{happening.value}*" if isinstance(happening, Intent) else happening.value


def _words(guard: Guard) -> str:
    return " ".join((guard.__doc__ or "").split())


def _picture() -> str:
    """Every change of phase as an arrow; what can happen anywhere is in the table below only."""
    everywhere = {Seen.SILENT, Seen.RESET, Seen.TAKEN, Seen.TRIPPED, Seen.DISOBEYED}
    lines = ["## The picture", "", "```mermaid", "stateDiagram-v2", "    [*] --> connecting"]
    for (phase, happening), step in TABLE.items():
        if step.to is not phase and happening not in everywhere:
            lines.append(f"    {_name(phase)} --> {_name(step.to)}: {happening.value}")
    lines += [f"    {_name(phase)} --> [*]" for phase in Phase if phase.over]
    return "\n".join([*lines, "```", ""])


def _kind(phase: Phase) -> str:
    kinds = {"moves": phase.moves, "waits": phase.waits, "over": phase.over}
    return next((word for word, so in kinds.items() if so), "")


def _phases() -> str:
    lines = [
        "## What a person may ask",
        "",
        "A phase *moves* when the spindle does or may, *waits* for a person, or",
    ]
    lines += ["is *over*.", "", "| phase | on the screen | kind | intents |", "|---|---|---|---|"]
    for phase in Phase:
        asked = ", ".join(_said(intent) for intent in Intent if (phase, intent) in TABLE)
        lines.append(f"| `{phase.value}` | {HEADLINES[phase]} | {_kind(phase)} | {asked} |")
    return "\n".join([*lines, ""])


def _guards() -> str:
    lines = ["## Under which guards", "", "| intent | is taken only if |", "|---|---|"]
    for intent in Intent:
        sets = {step.guards for (_, happening), step in TABLE.items() if happening is intent}
        assert len(sets) == 1, intent  # the same in every phase
        said = "; ".join(_words(guard) for guard in sets.pop()) or "always"
        lines.append(f"| {_said(intent)} | {said} |")
    return "\n".join([*lines, ""])


def _happenings() -> str:
    lines = ["## What the session sees", "", "| seen | leads from | to |", "|---|---|---|"]
    for seen in Seen:
        ways: dict[Phase, list[str]] = {}
        for phase in Phase:
            step = TABLE.get((phase, seen))
            if step is not None and step.to is not phase:
                ways.setdefault(step.to, []).append(f"`{phase.value}`")
        for after, phases in ways.items():
            lines.append(f"| {seen.value} | {', '.join(phases)} | `{after.value}` |")
    return "\n".join([*lines, ""])


def _chart() -> str:
    lines = ["## Every entry", "", "| phase | happening | then |", "|---|---|---|"]
    for (phase, happening), step in TABLE.items():
        lines.append(f"| `{phase.value}` | {_said(happening)} | `{step.to.value}` |")
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
    print(f"{PAGE.name} is not what the table says; run {RERUN}", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
