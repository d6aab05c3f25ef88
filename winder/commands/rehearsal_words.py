"""A rehearsal's figures as a short honest report for people."""

from __future__ import annotations

from typing import Any

from winder.commands.plain_lines import (
    narrowed,
    print_lines,
    printable,
    row_lines,
    terminal_columns,
    widths_of,
)
from winder.files.digits import show_duration
from winder.machine.model import MachineProfile
from winder.plan.model import Plan


def print_report(report: dict[str, Any], plan: Plan, machine: MachineProfile) -> None:
    """One wind: where it stopped, what it would measure, how it lies."""
    print_lines(f"{report['recipe']}: rehearsed on the {machine.name}, {report['state']}")
    print("\n".join(_table(_rows(report, machine), terminal_columns())))
    print_lines(*(f"note: {remark}" for remark in plan.remarks))


def _table(rows: list[tuple[str, str]], columns: int) -> list[str]:
    """Names and words side by side; the words go on in the next line."""
    rows = [(label, printable(words)) for label, words in rows]
    widths = narrowed(widths_of(rows), [1], columns - len(GAP), len(GAP))
    left = (False, False)
    return [line for row in rows for line in row_lines(row, widths, left, GAP, low=False)]


GAP = "  "
LONG = (
    "more turns than the target takes, none taken off yet; --observe finish measures and takes off"
)


def _rows(report: dict[str, Any], machine: MachineProfile) -> list[tuple[str, str]]:
    ohm, lay = report["resistance_ohm_20c"], report["lay"]
    inside = ohm["low"] <= ohm["wound"] <= ohm["high"]
    # With observations the report has its own lines on what was measured and taken off.
    long = report["measure_at_end"] and "observed" not in report
    return [
        *([("wound long", LONG)] if long else []),
        (
            "turns",
            f"{report['final_turns']:.3f} of {report['target_turns']} "
            f"({report['overrun_turns']:+.3f} turn past the target, by the true angle)",
        ),
        (
            "count",
            f"{report['final_counts']} of {report['target_counts']}, {report['count_is']}, "
            f"{report['counts_per_turn']} counts a turn",
        ),
        (
            "resistance",
            f"{ohm['wound']:.1f} ohm at 20 C as wound; expected {ohm['expected']:.1f}, "
            f"95 % between {ohm['low']:.1f} and {ohm['high']:.1f}"
            + ("" if inside else "; OUTSIDE the expected band"),
        ),
        (
            "lay",
            f"{lay['layers']:.1f} layers, unevenness {lay['unevenness']:.3f}, "
            f"edges {lay['edge_share']:.2f} of the middle",
        ),
        (
            "time",
            f"{show_duration(report['simulated_s'])} on the machine, "
            f"{report['wall_s']:.2f} s here, seed {report['seed']}",
        ),
    ]


def print_campaign(campaign: dict[str, Any]) -> None:
    """Many winds: how many held, the worst, and the spread beside a host that says stop."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    summary = campaign["summary"]
    console = Console(highlight=False)
    console.print(
        Text(
            f"{summary['runs']} rehearsals: {summary['complete']} complete, "
            f"{summary['whole_turns_exact']} with exactly the turns asked for"
        )
    )
    table = Table("turns past the target", "runs", "least", "median", "95 of 100", "most")
    for column in table.columns[1:]:
        column.justify = "right"
    for label, field in (
        ("20 counts a turn and more", "overrun_turns_from_20_counts_per_turn"),
        ("fewer than 20 counts a turn", "overrun_turns_below_20_counts_per_turn"),
        ("a host that says stop, 50 ms late", "host_stop_overrun_turns"),
    ):
        spread = summary[field]
        if spread is not None:
            figures = [f"{spread[key]:.3f}" for key in ("least", "median", "p95", "most")]
            table.add_row(label, str(spread["runs"]), *figures)
    console.print(table)
    worst = summary["worst"]
    console.print(
        Text(
            f"worst: seed {worst['seed']}, {worst['counts_per_turn']} counts a turn, "
            f"{worst['overrun_turns']:+.3f} turn"
        )
    )
