"""The board's life as tables and a picture for the documents, drawn from ``BOARD_TABLE`` and ``ALLOWED``.

The picture is text that a browser draws as a diagram of states and that a person can read as it stands:
one line an arrow, what brings it about behind the colon. Nothing in here knows a state by name.
"""

from __future__ import annotations

from collections.abc import Sequence

from .device_table import ALLOWED, BOARD_TABLE, NEEDS_NO_WIND, NEEDS_WIND
from .messages import State


def table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """A table as the documents write it."""
    lines = [f"| {' | '.join(head)} |", "|---" * len(head) + "|"]
    lines += [f"| {' | '.join(str(cell) for cell in row)} |" for row in rows]
    return "\n".join(lines) + "\n"


def state_table() -> str:
    """Every move between states, by the state it starts from."""
    rows = [
        (state.name, happening.value, after.name)
        for state, happening, after in sorted(
            ((state, what, after) for (state, what), after in BOARD_TABLE.items()),
            key=lambda row: row[0],  # stable: within a state, the order of the table
        )
    ]
    return table(("in state", "when", "the state is then"), rows)


def state_picture() -> str:
    """One arrow for every pair of states, with all that brings it about."""
    arrows: dict[tuple[State, State], list[str]] = {}
    for (state, happening), after in BOARD_TABLE.items():
        arrows.setdefault((state, after), []).append(happening.value)
    lines = [
        f"    {state.name} --> {after.name}: {'; '.join(causes).replace(', ', ' and ')}"
        for (state, after), causes in sorted(arrows.items())
    ]
    return "\n".join(["```mermaid", "stateDiagram-v2", *lines, "```"]) + "\n"


def allowed_table() -> str:
    """In which states each command is heard; elsewhere it is refused WRONG_STATE."""
    rows = []
    for command, states in ALLOWED.items():
        wind = "open" if command in NEEDS_WIND else "none" if command in NEEDS_NO_WIND else "any"
        marks = ("yes" if state in states else "-" for state in State)
        rows.append((command.__name__, *marks, wind))
    return table(("command", *(state.name for state in State), "wind"), rows)


def allowed_states(command: type) -> int:
    """The states that hear a command, as one bit per number of ``State``."""
    return sum(1 << state for state in ALLOWED[command])


WIND_NEEDS = ("WIND_ANY", "WIND_OPEN", "WIND_NONE")


def needed_wind(command: type) -> str:
    """Whether a command needs an open wind, or none."""
    if command in NEEDS_WIND:
        return "WIND_OPEN"
    return "WIND_NONE" if command in NEEDS_NO_WIND else "WIND_ANY"
