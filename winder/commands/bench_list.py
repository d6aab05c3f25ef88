"""``winder bench list``: the machines that were taught here, and the ports that are plugged in."""

from __future__ import annotations

import argparse
import json
import shlex
from collections import Counter
from dataclasses import asdict
from typing import Any

_LIST = """\
List the machines taught on this computer, with the port that each board was last
seen on, and every other serial port. No port is opened: opening resets many
boards, and an unknown port may belong to something else. 'winder wind' asks the
board who it is before it winds. A board that waits for its firmware as a drive is
shown too."""


def add_verb(verbs: Any) -> None:
    """Add ``list`` to the verbs of ``winder bench``."""
    listing = verbs.add_parser(
        "list",
        help="show the known machines and what is plugged in",
        description=_LIST,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    listing.add_argument("--json", action="store_true", help="print one JSON object")
    listing.set_defaults(run=list_machines)


def list_machines(arguments: argparse.Namespace) -> int:
    from winder.links.ports import ports_found
    from winder.service.known_machines import known_machines, plugged_in
    from winder.service.loading_drive import drives_found

    known, here = known_machines(), plugged_in()
    mine = {one.port for one in known}
    drives = [str(drive) for drive in drives_found()]
    others = [p for p in ports_found() if not {p.device, p.lasting_name} & mine]
    crowded = Counter(one.port for one in here)
    if arguments.json:
        told = [
            asdict(one)
            | {"number": f"{one.number:08x}" if one.number else None, "plugged_in": one in here}
            for one in known
        ]
        ports = [{"port": p.best_name, "description": p.description} for p in others]
        print(
            json.dumps({"machines": told, "other_ports": ports, "waiting_drives": drives}, indent=2)
        )
        return 0
    for one in known:
        state = "plugged in" if one in here else "not here"
        if crowded[one.port] > 1:
            state = "plugged in, this board or another that was seen there"
        print(f"{one.machine}: {one.words}, {state}")
    if not known:
        print("No machine has been taught here yet: winder bench teach")
    for port in others:
        print(f"another port: {port.best_name} {port.description}".rstrip())
    for drive in drives:
        command = f"winder bench load --board rp2040 --drive {shlex.quote(drive)}"
        print(f"a board waits for its firmware: {command}")
    return 0
