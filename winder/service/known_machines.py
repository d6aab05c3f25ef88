"""The machines that were taught here: which board, on which port, with which machine file.

A board has no lasting number of its own in the protocol yet, so a machine is known by the lasting name of its port
(below /dev/serial/by-id on Linux, with the adapter's serial number in it) and by the board's name. Where there is no
lasting name the device's own is kept; plugged in elsewhere, such a machine is not found again. One JSON file in the
user's data folder; it is written whole or not at all.
"""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path

from platformdirs import user_data_path

from winder.errors import UserMistake, WinderError
from winder.links.ports import BY_ID, lasting_name, ports_found

FILE_NAME = "machines.json"


@dataclass(frozen=True, slots=True)
class Known:
    """A machine that was taught. ``port`` is its lasting name where it has one."""

    port: str
    board: str
    machine: str


def known_file(folder: Path | None = None) -> Path:
    return (folder or user_data_path("exact-turns")) / FILE_NAME


def known_machines(folder: Path | None = None) -> list[Known]:
    """Every machine on record, by its port. Raises ``WinderError`` for a file that cannot be read."""
    path = known_file(folder)
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        return sorted((Known(**one) for one in told), key=lambda known: known.port)
    except FileNotFoundError:
        return []
    except (OSError, ValueError, TypeError) as error:
        raise WinderError(
            f"cannot be read as the list of known machines ({error})",
            where=str(path),
            remedy="move it away and teach the machines again, or give --port and --machine",
        ) from None


def remember(
    port: str, board: str, machine: Path, folder: Path | None = None, by_id: Path = BY_ID
) -> Known:
    """Writes it down in the place of what was known of this port."""
    known = Known(lasting_name(port, by_id), board, str(machine.resolve()))
    others = [one for one in known_machines(folder) if one.port != known.port]
    path = known_file(folder)
    fresh = path.with_suffix(".new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        told = json.dumps([asdict(one) for one in (*others, known)], indent=2)
        fresh.write_text(told + "\n", encoding="utf-8")
        os.replace(fresh, path)
    except OSError as error:
        raise WinderError(
            f"the list of machines cannot be written ({error.strerror})",
            where=str(path),
            remedy="make the folder writable; until then give --port and --machine",
        ) from None
    return known


def plugged_in(folder: Path | None = None, by_id: Path = BY_ID) -> list[Known]:
    """The known machines whose port is here now. Opens none."""
    here = {name for port in ports_found(by_id) for name in (port.device, port.lasting_name)}
    return [one for one in known_machines(folder) if one.port in here or os.path.exists(one.port)]


def the_machine(folder: Path | None = None, by_id: Path = BY_ID) -> Known:
    """The one known machine that is plugged in. Raises ``UserMistake`` where there is none, or more."""
    here = plugged_in(folder, by_id)
    if len(here) == 1:
        return here[0]
    if here:
        raise UserMistake(
            f"{len(here)} known machines are plugged in",
            where="--port",
            remedy="name one: " + "; or ".join(f"--port {one.port}" for one in here),
        )
    known = known_machines(folder)
    if known:
        raise UserMistake(
            f"none of the {len(known)} known machines is plugged in",
            where="--port",
            remedy="plug it in ('winder bench list' shows the known ones), or give --port and --machine",
        )
    raise UserMistake(
        "no machine has been taught here yet",
        where="--port",
        remedy="teach one with 'winder bench teach', or give --port and --machine; --port sim is the simulated bench",
    )


def machine_of(port: str, folder: Path | None = None, by_id: Path = BY_ID) -> Known | None:
    """What is known of this port."""
    lasting = lasting_name(port, by_id)
    return next((one for one in known_machines(folder) if one.port in (port, lasting)), None)
