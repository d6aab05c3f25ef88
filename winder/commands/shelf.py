"""``winder shelf``: the coils made, and what was written about each.

Names, notes and journal texts come from files and boards, so they are printed as plain text: rich's
markup is never read in them and control characters are left out.
"""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING, Any

from winder.commands.logbook_option import add_logbook_option

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from winder.shelf.model import CoilRecord, CoilRow, RunRecord

_EXAMPLES = """\
examples:
  winder shelf list                     every coil, oldest first
  winder shelf show 12                  coil number 12: recipe, runs, journal
  winder shelf show "tine sensor"       the same by name, if only one has it
  winder shelf list --json              for other programs"""

_LIST_EXAMPLES = """\
examples:
  winder shelf list
  winder shelf list --logbook old.sqlite"""

_SHOW_EXAMPLES = """\
examples:
  winder shelf show 12
  winder shelf show "tine sensor" --json"""


def add_parser(subparsers: Any) -> None:
    """Add ``shelf`` and its verbs."""
    parser = subparsers.add_parser(
        "shelf",
        help="the coils made",
        description="Look at the coils made: what was wanted, what was wound, and how sure the\n"
        "count is. Nothing here moves anything or changes the logbook.",
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    verbs = parser.add_subparsers(title="verbs", metavar="VERB", required=True)
    listing = verbs.add_parser(
        "list",
        help="every coil, oldest first",
        description="List every coil, oldest first.",
        epilog=_LIST_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    listing.set_defaults(run=list_coils)
    showing = verbs.add_parser(
        "show",
        help="one coil with its runs and their journals",
        description="Show one coil: what was expected, every run and its journal.",
        epilog=_SHOW_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    showing.add_argument("coil", metavar="COIL", help="number or name, as 'shelf list' shows them")
    showing.add_argument(
        "--all", action="store_true", help="every line of the journals, the routine counts too"
    )
    showing.set_defaults(run=show_coil)
    for verb in (listing, showing):
        verb.add_argument("--json", action="store_true", help="print JSON for other programs")
        add_logbook_option(verb)


def list_coils(arguments: argparse.Namespace) -> int:
    from winder.shelf import Logbook

    with Logbook.open(getattr(arguments, "logbook", None), read_only=True) as logbook:
        coils = logbook.coils()
    if arguments.json:
        print(json.dumps([_row_facts(coil) for coil in coils], indent=2))
        return 0
    console = _console()
    if not coils:
        console.print("The shelf is empty: no coil was wound yet.")
        return 0
    table = _table("no.", "name", "state", "turns", "wanted", "wire", "ohms at 20 C", "day")
    for coil in coils:
        table.add_row(
            str(coil.coil_id),
            _plain(coil.name),
            coil.state,
            _plain(coil.turns_text),
            str(coil.target_turns),
            _plain(coil.wire),
            _band(coil),
            coil.date[:10],
        )
    console.print(table)
    return 0


def show_coil(arguments: argparse.Namespace) -> int:
    from winder.shelf import Logbook

    with Logbook.open(getattr(arguments, "logbook", None), read_only=True) as logbook:
        record = logbook.coil(arguments.coil)
    if arguments.json:
        print(json.dumps(_record_facts(record), indent=2))
        return 0
    console = _console()
    row = record.row
    facts = _table("coil", f"number {row.coil_id}")
    for name, value in (
        ("name", row.name),
        ("state", row.state),
        ("turns", row.turns_text),
        ("turns wanted", str(row.target_turns)),
        ("direction", f"{row.direction}, seen from the top of the coil"),
        ("wire", row.wire),
        ("ohms at 20 C", _ohms(row)),
        ("begun", row.date),
        ("how sure", row.truth_text),
    ):
        if value:
            facts.add_row(name, _plain(value))
    console.print(facts)
    for run in record.runs:
        _print_run(console, run, every_line=arguments.all)
    if record.recipe_text:
        console.print("\nrecipe as it was read:")
        console.print(_plain(record.recipe_text, keep_lines=True))
    return 0


def _print_run(console: Console, run: RunRecord, *, every_line: bool) -> None:
    seed = "" if run.simulated_seed is None else f", simulated with seed {run.simulated_seed}"
    end = f"ended {run.ended}: {run.how}" if run.ended else "has no end on record"
    console.print()
    console.print(
        _plain(f"run {run.run_id} on {run.machine_name} at {run.port}{seed}, wind {run.wind}")
    )
    console.print(_plain(f"from turn {run.first_turn}, started {run.started}, {end}"))
    table = _table("line", "time", "kind", "turn", "text")
    for line in run.lines:
        if line.kind == "count" and not every_line:
            continue
        turn = "" if line.counts is None else f"{line.counts / run.counts_per_turn:.2f}"
        seconds = f"{(line.at_ns - run.lines[0].at_ns) / 1e9:.2f} s"
        table.add_row(str(line.number), seconds, _plain(line.kind), turn, _plain(line.text))
    console.print(table)
    routine = sum(line.kind == "count" for line in run.lines)
    if routine and not every_line:
        console.print(f"and {routine} counts committed while winding; --all shows them")


# --- words -------------------------------------------------------------------------------------


def _band(coil: CoilRow) -> str:
    _, low, high = coil.ohm_20c
    return f"{low:.4g} to {high:.4g}"


def _ohms(coil: CoilRow) -> str:
    text = f"{coil.ohm_20c[0]:.4g} ({_band(coil)})"
    if coil.measured_ohm is not None:
        at = "" if coil.measured_at_c is None else f" at {coil.measured_at_c:g} C"
        text += f", measured {coil.measured_ohm:.5g}{at}"
    return text


def _row_facts(coil: CoilRow) -> dict[str, Any]:
    import dataclasses

    facts = dataclasses.asdict(coil)
    facts["count"] = _count_facts(coil)
    del facts["truth"]
    facts["turns"] = coil.turns
    return facts


def _record_facts(record: CoilRecord) -> dict[str, Any]:
    import dataclasses

    runs = []
    for run in record.runs:
        facts = dataclasses.asdict(run)
        for line in facts["lines"]:
            del line["deeds"]
        for leg in facts["plan"]["legs"]:
            leg["at_end"] = leg["at_end"].value
        runs.append(facts)
    return {
        **_row_facts(record.row),
        "recipe_text": record.recipe_text,
        "recipe": record.recipe_facts,
        "expected": record.coil_facts,
        "runs": runs,
    }


def _count_facts(coil: CoilRow) -> dict[str, Any]:
    """Counts of the coil and how sure they are; ``high`` null: nobody knows how many more."""
    truth = coil.truth
    return {
        "certainty": truth.certainty.value,
        "low": truth.low,
        "best": truth.best,
        "high": None if truth.is_open else truth.high,
        "by": truth.by,
        "why": truth.why,
        "counts_per_turn": coil.counts_per_turn,
    }


# --- rich --------------------------------------------------------------------------------------


def _console() -> Console:
    from rich.console import Console

    # Nothing printed here is markup, and numbers need no colours of their own.
    return Console(markup=False, highlight=False, emoji=False)


def _table(*columns: str) -> Table:
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE, pad_edge=False, padding=(0, 1, 0, 0), show_edge=False)
    for column in columns:
        # In a narrow terminal texts go on in the next line; numbers and words stay whole.
        whole = column not in ("name", "turns", "text", "kind") and not column.startswith("number")
        justify: Any = "right" if column in ("no.", "line", "turn", "wanted") else "left"
        least = len("between") if column == "turns" else None
        table.add_column(column, justify=justify, no_wrap=whole, overflow="fold", min_width=least)
    return table


def _plain(text: str, keep_lines: bool = False) -> Text:
    """Text from outside as it is, without control characters."""
    from rich.text import Text

    kept = "\n" if keep_lines else ""
    return Text("".join(c if c.isprintable() or c in kept else " " for c in text))
