"""The reference page of the machine file, written from its fields.

``python -m winder.machine.reference`` writes it, ``--check`` compares.
"""

from __future__ import annotations

import sys

from winder.form import tables_text, template_text
from winder.machine.format import SECTIONS
from winder.reference_page import DOCS, main

PAGE = DOCS / "machine.md"

_OPENING = """\
# The machine file

Written from the code by `python -m winder.machine.reference`; change it there.

A machine file says what winds: the sensor, the spindle and the guide, as measured. Plans are made by
it, and the bounds of a count after a loss rest on it, so measure, do not guess. It is a TOML file in
UTF-8; quantities are written as in [the recipe file](recipe.md). Everything wrong with it is told at
once, each complaint with its line, its field and what to write instead. A key that is not in these
tables is refused.

**Caution.** A spindle with a bobbin on it can catch hair, sleeves and fingers, and fine wire cuts.
Keep clear of it while you measure, and have a real, hard-wired emergency stop within reach: nothing
in this file, and no key on a computer, is one.

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
    return _OPENING + tables_text(SECTIONS) + _EXAMPLE.format(text=example_text())


if __name__ == "__main__":
    sys.exit(main(PAGE, page_text()))
