"""``winder lay``: one coil laid in several ways on the simulated bobbin, side by side."""

from __future__ import annotations

import argparse
import json
from typing import Any

DESCRIPTION = """\
Lay a recipe's coil on the simulated bobbin in several ways and compare them:
with the traverse as planned, without its wait at the edges, with nothing done
for the edges, scattered, and by a hand that wanders. Only the lay is
simulated, turn by turn; for the whole wind there is winder rehearse. The same
seed gives the same spool, the same scatter and the same hand."""

EXAMPLES = """\
examples:
  winder lay                         the shipped example
  winder lay bass.toml --machine bench.toml
  winder lay bass.toml --seed 7 --json"""


def add_parser(subparsers: Any) -> None:
    parser = subparsers.add_parser(
        "lay",
        help="compare ways to lay the wire, on the simulated bobbin",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "recipe", nargs="?", metavar="RECIPE", help="recipe file (default: an example)"
    )
    parser.add_argument(
        "--machine", metavar="FILE", help="machine file (default: the simulated bench)"
    )
    parser.add_argument("--seed", metavar="N", default="1", help="seed of all chances (default 1)")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    from winder.laboratory.lay_trial import lay_trial
    from winder.links.names import read_seed
    from winder.service.given_files import read_coil, read_profile
    from winder.service.shipped import first_example

    seed = read_seed(arguments.seed, where="--seed")
    coil = read_coil(arguments.recipe or first_example())
    trial = lay_trial(coil, read_profile(arguments.machine), seed)
    if arguments.json:
        print(json.dumps(trial, indent=2))
    else:
        print("\n".join(trial_lines(trial)))
    return 0


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
