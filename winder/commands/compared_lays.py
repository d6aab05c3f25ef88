"""``winder plan --compare-lays``: one coil laid in several ways on the simulated bobbin, side by side.

Only the lay is simulated, turn by turn; for the whole wind there is ``winder rehearse``.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from winder.coil.model import Coil
    from winder.machine.model import MachineProfile


def print_compared_lays(
    coil: Coil, machine: MachineProfile, seed: int, *, pieces: bool, as_json: bool
) -> None:
    """With the traverse as planned, without its wait at the edges, with nothing done for the edges,
    scattered, and by a hand that wanders; or, with ``pieces``, in one go and in five winds."""
    from winder.laboratory.lay_trial import lay_trial
    from winder.laboratory.pieces_trial import pieces_trial

    trial = (pieces_trial if pieces else lay_trial)(coil, machine, seed)
    print(json.dumps(trial, indent=2) if as_json else "\n".join(trial_lines(trial)))


def trial_lines(trial: dict[str, Any]) -> list[str]:
    """The comparison as a table that is also one in Markdown."""
    lines = [
        f"{trial['recipe']}: {trial['turns']} turns, the wire running free for"
        f" {trial['free_length_m'] * 1e3:.4g} mm, seed {trial['seed']}",
        "",
        f"| {'lay':36} | edge over middle | unevenness | layers | ohm at 20 C |",
        f"|{'-' * 38}|{'-' * 18}|{'-' * 12}|{'-' * 8}|{'-' * 13}|",
    ]
    for lay in trial["lays"]:
        lines.append(
            f"| {lay['lay']:36} | {lay['edge_share']:16.2f} | {lay['unevenness']:10.3f}"
            f" | {lay['layers']:6.1f} | {lay['resistance_ohm_20c']:11.1f} |"
        )
    return lines
