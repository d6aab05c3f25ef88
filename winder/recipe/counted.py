"""A coil of which only a name and a number of turns are known: counted, stopped and kept like any other.

Its wire and bobbin may be told later, on the shelf; until then nothing is said of ohms, layers or the guide's way.
"""

from __future__ import annotations

import json

from firmware_protocol.records import dataclass
from winder.errors import UserMistake
from winder.recipe.model import Direction

NAME_SIGNS_MAX = 80
TURNS_MAX = 1_000_000  # as in a recipe


@dataclass(frozen=True, slots=True)
class CountOnly:
    """What shall be counted. ``speed_rpm`` None: as fast as the machine allows."""

    name: str
    turns: int
    direction: Direction = Direction.CLOCKWISE
    speed_rpm: float | None = None

    @property
    def text(self) -> str:
        """What is known of it, as a recipe would say it."""
        # A JSON string of printable characters is a TOML string too.
        name = json.dumps(self.name, ensure_ascii=False)
        return f'name = {name}\n\n[target]\nturns = {self.turns}\n\n[winding]\ndirection = "{self.direction.value}"\n'


def count_only(name: str, turns: int, direction: Direction = Direction.CLOCKWISE) -> CountOnly:
    """What a person asked to have counted. ``UserMistake`` for a name or a number that cannot be."""
    name = name.strip()
    if not name or len(name) > NAME_SIGNS_MAX or not name.isprintable():
        raise UserMistake(
            "the coil needs a name to find it by",
            where="--name",
            remedy=f'write for example --name "rotor sensor", at most {NAME_SIGNS_MAX} signs',
        )
    if not 1 <= turns <= TURNS_MAX:
        raise UserMistake(
            f"{turns} turns", where="--count", remedy=f"say a whole number, 1 to {TURNS_MAX}"
        )
    return CountOnly(name, turns, direction)
