"""What was observed in a rehearsal, and whether the narrowed bands kept their word, for people."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

KINDS = {
    "SpoolTail": "tail of the spool",
    "EarlierCoil": "earlier coil",
    "BuildCaliper": "caliper",
    "OhmReading": "ohmmeter",
}


def print_observed(observed: dict[str, Any]) -> None:
    """The observations of one wind in order, then the band they left and the wire as it was wound."""
    console = Console(highlight=False)
    table = Table("observed", "at turn", "shown", "expected", "off")
    for column in table.columns[1:]:
        column.justify = "right"
    for told in observed["observations"]:
        turns = str(told["turns"]) if "turns" in told else ""
        off = f"{told['standard_errors_off']:+.1f} s.e."
        table.add_row(KINDS[told["kind"]], turns, *_shown(told), off)
    console.print(table)
    for told in observed["observations"]:
        if not told["learnt"]:
            causes = "; ".join(told["may_be"]) or "no cause is known"
            console.print(Text(f"not believed, {KINDS[told['kind']]}: {causes}"))
    planned = " -> ".join(str(turns) for turns in observed["turns_planned"])
    console.print(Text(f"turns planned: {planned}, confirmed by the rehearsing person"))
    if observed["turns_taken_off"]:
        console.print(Text(f"taken off at the end: {observed['turns_taken_off']} turns"))
    before, after = observed["band_before_ohm_20c"], observed["band_ohm_20c"]
    inside = "inside" if observed["inside"] else "OUTSIDE"
    console.print(
        Text(
            f"{observed['turns']} turns: {observed['wound_ohm_20c']:.1f} ohm as wound, {inside} "
            f"{after['low']:.1f} to {after['high']:.1f} "
            f"(unmeasured: {before['low']:.1f} to {before['high']:.1f})"
        )
    )


def print_observed_summary(summary: dict[str, Any]) -> None:
    """Coverage with its interval, how far the bands narrowed, how far off the target."""
    console = Console(highlight=False)
    console.print(
        Text(
            f"inside the narrowed 95 % band: {summary['inside']} of {summary['runs']}, "
            f"{summary['coverage']:.1%} ({summary['coverage_low']:.1%} to "
            f"{summary['coverage_high']:.1%} by the binomial)"
        )
    )
    before, after = summary["band_half_width_share_before"], summary["band_half_width_share"]
    console.print(
        Text(f"band, median: +-{before['median']:.2%} unmeasured, +-{after['median']:.2%} observed")
    )
    middle = summary["middle_off_share"]["median"]
    console.print(Text(f"as wound against the middle of the band, median: {middle:+.2%}"))
    off = summary["off_target_share"]
    if off is not None:
        console.print(
            Text(f"off the target: median {off['median']:.2%}, 95 of 100 below {off['p95']:.2%}")
        )
    if summary["not_learnt"]:
        console.print(Text(f"readings not believed: {summary['not_learnt']}"))


def _shown(told: dict[str, Any]) -> tuple[str, str]:
    """What was shown and what was expected, in the observation's unit."""
    band = told["expected"]
    if "ohm" in told:
        return (
            f"{told['ohm']:.1f} ohm, {told['temperature_c']:.1f} C",
            f"{band['low']:.1f} to {band['high']:.1f}",
        )
    return (
        f"{told['build_m'] * 1e3:.2f} mm",
        f"{band['low'] * 1e3:.2f} to {band['high'] * 1e3:.2f}",
    )
