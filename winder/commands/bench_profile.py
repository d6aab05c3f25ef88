"""``winder bench new``, and the half of ``winder bench check`` that judges a machine file.

The check tells everything that is wrong at once; of a good file it says in words what the numbers come
to, so that a slip of ten shows: how far the spindle runs on, how many counts a second it gives.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from winder.commands.own_files import complaints_of
from winder.commands.verb_parser import verb_parser
from winder.errors import WinderError
from winder.files.whole_file import write_new_file

if TYPE_CHECKING:
    from winder.machine.model import MachineProfile

KINDS = ("drill", "motor", "guide")  # as in winder.machine.template, which help need not load

_NEW = """\
Write a commented machine file with every key that this kind of machine has. Its
values are those of the simulated bench: measure your own and put them in place,
or let winder bench teach do it. Keep clear of what turns while you measure. An
existing file is left alone."""

_NEW_EXAMPLES = """\
examples:
  winder bench new bench.toml
  winder bench new drill.toml --kind drill"""


def add_verbs(verbs: Any) -> None:
    """Add ``new`` to the verbs of ``winder bench``."""
    new = verb_parser(verbs, "new", "write a commented machine file", _NEW, _NEW_EXAMPLES)
    new.add_argument("file", metavar="FILE", type=Path, help="the file to write")
    new.add_argument(
        "--kind",
        choices=KINDS,
        default="guide",
        help="drill: turned by hand or a drill; motor: driven, the wire led by hand; "
        "guide: both driven (default)",
    )
    new.set_defaults(run=write_new)


def write_new(arguments: argparse.Namespace) -> int:
    """Writes the template. ``UserMistake`` when the file exists or cannot be written."""
    from winder.machine.template import new_profile_text

    file: Path = arguments.file
    write_new_file(file, new_profile_text(file.stem, arguments.kind), "machine file")
    print(f"{file} is written; put your values in, then: winder bench check {file}")
    return 0


def check_profile(arguments: argparse.Namespace) -> int:
    """Prints what the file says and comes to, or raises what is wrong; with ``--json`` prints both."""
    from winder.machine.reader import read_machine
    from winder.machine.summary import profile_lines, profile_remarks

    file = str(arguments.file)
    try:
        machine = read_machine(file)
    except WinderError as error:
        if not arguments.json:
            raise
        listed = [complaint._asdict() for complaint in complaints_of(error, file)]
        print(json.dumps({"file": file, "good": False, "complaints": listed}, indent=2))
        return error.exit_code
    remarks = profile_remarks(machine)
    if arguments.json:
        told = {"file": file, "good": True, "complaints": [], "remarks": remarks}
        print(json.dumps(told | _facts(machine), indent=2))
        return 0
    print("\n".join([*profile_lines(machine), *(f"note: {remark}" for remark in remarks)]))
    return 0


def _facts(machine: MachineProfile) -> dict[str, Any]:
    from winder.machine.summary import counts_per_s, run_on_turns

    braked = machine.braking_rpm_s
    return {
        "machine": asdict(machine),
        "counts_per_s_at_speed_max": counts_per_s(machine),
        "coasting_turns_from_speed_max": run_on_turns(machine, machine.coasting_rpm_s),
        "braking_turns_from_speed_max": None if braked is None else run_on_turns(machine, braked),
    }
