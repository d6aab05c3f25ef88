"""What can hurt, in the words that every way of starting shows before the first start.

They remind; they do not replace the machine's own instructions, local codes or a licensed person.
"""

from __future__ import annotations

_WIRE = (
    "Fine wire whips when it breaks: wear eye protection.",
    "Fix the bobbin and the start lead; nothing loose may turn with the chuck.",
)
_MAINS = "Mains wiring and guards: follow the machine's instructions, local codes, and a licensed person."
_DRIVEN = (
    "The spindle starts when you say so. Keep fingers, hair, sleeves, cords and gloves away from it.",
    *_WIRE,
    "A key on this computer is not an emergency stop. Have a hard-wired one within reach that cuts "
    "the motor's power.",
    "Stay beside the machine while it turns. If the link is silent for a second, the board slows down "
    "and stops by itself.",
    _MAINS,
)
_COUNTED = (
    "You turn the spindle. Keep fingers, hair, sleeves, cords and gloves away from it.",
    *_WIRE,
    "This board only counts: no key on this computer stops the spindle, and nothing stops it at the "
    "last turn. Stop it at the drill or the machine.",
    "Stay beside the machine while it turns. If the link is silent, nothing is counting: stop turning.",
    _MAINS,
)


def cautions_for(*, board_stops: bool) -> tuple[str, ...]:
    """For a board that drives a motor, or for one that only counts."""
    return _DRIVEN if board_stops else _COUNTED
