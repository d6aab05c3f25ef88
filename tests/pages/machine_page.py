"""The reference page of the machine file, written from its fields.

``python -m tests.pages.machine_page`` writes it, ``--check`` compares.
"""

from __future__ import annotations

import sys

from tests.pages.reference_page import DOCS, main
from winder.files.form import tables_text, template_text
from winder.machine.format import SECTIONS

PAGE = DOCS / "machine.md"

_OPENING = """\
# The machine file

Written from the code by `python -m tests.pages.machine_page`; change it there.

A machine file says what winds: the sensor, the spindle and the guide, as measured. Plans are made by
it, and the bounds of a count after a loss rest on it, so measure, do not guess. It is a TOML file in
UTF-8; quantities are written as in [the recipe file](recipe.md). Everything wrong with it is told at
once, each complaint with its line, its field and what to write instead. A key that is not in these
tables is refused.

**Caution.** A spindle with a bobbin on it can catch hair, sleeves and fingers, and fine wire cuts.
Keep clear of it while you measure, and have a real, hard-wired emergency stop within reach: nothing
in this file, and no key on a computer, is one.

"""

_JSON = """
## What `winder bench check --json` prints

An interface: names and meanings stay; fields may be added. `winder bench new FILE` writes a file to begin with.

| field | unit | meaning |
|---|---|---|
| `file` | | as it was named |
| `good` | | whether the file can be used |
| `complaints` | | list of `line` (0: the file as a whole), `field`, `what`, `remedy`; empty when good |
| `remarks` | | sentences about what holds the machine back; only when good, as all below |
| `machine` | SI, rpm | what was read, defaults filled in; units are last in the names |
| `counts_per_s_at_speed_max` | 1/s | what the sensor gives at the greatest speed |
| `coasting_turns_from_speed_max` | turns | from the greatest speed to rest by friction |
| `braking_turns_from_speed_max` | turns | with the brake; null without one |

The exit code is 0 when good and 2 when not.

## A simulated bench behind a port

`winder bench simulate` serves a simulated machine as a serial port. It lives exactly as fast as the world, and
there is no way to hurry it: a host that opened a real port gives its signs of life by the world's
clock, and the board's lease of one second would end between two of them on a board that lives faster.
For a wind in less time than it takes there is `winder rehearse`, where host and machine share one clock.
"""

_EXAMPLE = """
## Example: the simulated bench

```toml
{text}```
"""


def example_text() -> str:
    """A machine file that reads as the simulated bench."""
    return template_text(SECTIONS, "A machine: what winds. This one is the simulated bench.")


def page_text() -> str:
    """The whole page in Markdown."""
    return _OPENING + tables_text(SECTIONS) + _EXAMPLE.format(text=example_text()) + _JSON


if __name__ == "__main__":
    sys.exit(main(PAGE, page_text()))
