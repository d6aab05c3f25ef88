"""One coil of the shelf as plain lines, for a screen that shows it whole."""

from __future__ import annotations

from winder.files.digits import show_number
from winder.shelf.model import CoilRecord, RunRecord

ROUTINE = "count"  # the commits while winding: hundreds of lines that say nothing by themselves


def words_of_record(record: CoilRecord) -> str:
    """What was wanted, what was wound, and every event but the routine counts."""
    row = record.row
    nominal, low, high = row.ohm_20c
    ohms = f"{show_number(nominal, 4)} ohm at 20 C, between {show_number(low, 4)} and {show_number(high, 4)}"
    lines = [
        f"{row.name}, number {row.coil_id}: {row.state}",
        f"turns       {row.turns_text} of {row.target_turns}; {row.truth_text}",
        f"direction   {row.direction}, seen from the top of the coil",
        f"wire        {row.wire}",
        f"expected    {ohms if row.is_known else 'wire and bobbin are not known yet'}",
        f"begun       {row.date}",
    ]
    for run in record.runs:
        lines += ["", *_run_lines(run)]
    return "\n".join(lines)


def _run_lines(run: RunRecord) -> list[str]:
    seed = "" if run.simulated_seed is None else f", simulated with seed {run.simulated_seed}"
    end = f"ended {run.ended}: {run.how}" if run.ended else "has no recorded end"
    lines = [f"run {run.run_id} on {run.machine_name} at {run.port}{seed}", f"  {end}"]
    for line in run.lines:
        if line.kind != ROUTINE:
            turn = "" if line.counts is None else f"{line.counts / run.counts_per_turn:.2f}"
            lines.append(f"  {line.date[11:19]} {turn:>10}  {line.text}")
    return lines
