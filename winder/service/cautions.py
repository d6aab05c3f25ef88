"""What can hurt, in the words that every way of starting shows before the first start.

They remind; they do not replace the machine's own instructions, local codes or a licensed person.
"""

from __future__ import annotations

CAUTIONS = (
    "The spindle starts when you say so. Keep fingers, hair, sleeves, cords and gloves away from it.",
    "Fine wire whips when it breaks: wear eye protection.",
    "Fix the bobbin and the start lead; nothing loose may turn with the chuck.",
    "A key on this computer is not an emergency stop. Have a hard-wired one within reach that cuts "
    "the motor's power.",
    "Stay beside the machine while it turns. If the link is silent for a second, the board slows down "
    "and stops by itself.",
    "Mains wiring and guards: follow the machine's instructions, local codes, and a licensed person.",
)
