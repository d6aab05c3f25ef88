"""A machine file to begin with."""

from __future__ import annotations

from winder.files.form import template_text, toml_string
from winder.machine.format import SECTIONS

_NEW = (
    "A machine: what winds. The values are the simulated bench's: measure your own and put them in "
    "place of these; take the # away from a line to use it. Keep clear of what turns while you "
    "measure. Look at the result with: winder bench check FILE"
)


def new_profile_text(name: str) -> str:
    """A commented machine file called ``name``, valid as it stands, that uses every field once."""
    return template_text(SECTIONS, _NEW, {"name": toml_string(name, "my bench")})
