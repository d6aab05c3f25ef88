"""The machines that were taught here: which board, with which machine file, and the port it was last seen on.

A board with settings has a lasting number of its own, drawn when it was first taught: by it a machine is known on
whatever port it is plugged in. A board without one is known by its port and its name. Ports are kept under their
lasting names (below /dev/serial/by-id on Linux, with the adapter's serial number in it) where they have one. One JSON
file in the user's data folder; it is written whole or not at all. Nothing here opens a port.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from platformdirs import user_data_path

from firmware_protocol.records import dataclass
from winder.errors import UserMistake, WinderError
from winder.files.whole_file import replace_file
from winder.links.ports import BY_ID, lasting_name, ports_found

FILE_NAME = "machines.json"


NO_NUMBER = 0


@dataclass(frozen=True, slots=True)
class Known:
    """A machine that was taught. ``port`` is where it was last seen, by its lasting name where it has one."""

    port: str
    board: str
    machine: str
    number: int = NO_NUMBER  # the board's own

    @property
    def words(self) -> str:
        return f"{board_words(self.board, self.number)} on {self.port}"

    def is_same_as(self, other: Known) -> bool:
        """The same board, as far as anyone can tell without asking it."""
        if self.number or other.number:
            return self.number == other.number
        return (self.port, self.board) == (other.port, other.board)


def board_words(board: str, number: int) -> str:
    """A board as people tell it from others."""
    return f"board '{board}', " + (f"number {number:08x}," if number else "which has no number,")


def known_file(folder: Path | None = None) -> Path:
    return (folder or user_data_path("exact-turns")) / FILE_NAME


def known_machines(folder: Path | None = None) -> list[Known]:
    """Every machine on record, by its port. Raises ``WinderError`` for a file that cannot be read."""
    path = known_file(folder)
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        return sorted((_known(one) for one in told), key=lambda known: known.port)
    except FileNotFoundError:
        return []
    except (OSError, ValueError, TypeError) as error:
        raise WinderError(
            f"cannot be read as the list of known machines ({error})",
            where=str(path),
            remedy="move it away and teach the machines again, or give --port and --machine",
        ) from None


def _known(told: dict[str, Any]) -> Known:
    """``TypeError`` or ``ValueError`` for what is none."""
    known = Known(**told)
    texts = (known.port, known.board, known.machine)
    if not all(isinstance(text, str) and text for text in texts):
        raise ValueError("a machine's port, board or file is not a text")
    if type(known.number) is not int or not 0 <= known.number <= 0xFFFF_FFFF:
        raise ValueError("a board's number is not one")
    return known


def remember(known: Known, folder: Path | None = None, beside: Known | None = None) -> None:
    """Writes it down in the place of what was known of this board. ``beside``: another with its number, which stays."""
    others = [one for one in known_machines(folder) if one == beside or not one.is_same_as(known)]
    path = known_file(folder)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        told = json.dumps([asdict(one) for one in (*others, known)], indent=2)
        replace_file(path, told + "\n")
    except OSError as error:
        raise WinderError(
            f"the list of machines cannot be written ({error.strerror})",
            where=str(path),
            remedy="make the folder writable; until then give --port and --machine",
        ) from None


def plugged_in(folder: Path | None = None, by_id: Path = BY_ID) -> list[Known]:
    """The known machines whose port is here now. Opens none."""
    here = {name for port in ports_found(by_id) for name in (port.device, port.lasting_name)}
    return [one for one in known_machines(folder) if one.port in here or os.path.exists(one.port)]


def seen_on(port: str, known: Sequence[Known], by_id: Path = BY_ID) -> list[Known]:
    """Those of them that were last seen on this port."""
    names = {port, lasting_name(port, by_id)}
    return [one for one in known if one.port in names]


def ports_of_known(folder: Path | None = None, by_id: Path = BY_ID) -> list[str]:
    """The ports of known machines that are here now, each once. Raises ``UserMistake`` where there is none."""
    here = plugged_in(folder, by_id)
    if here:
        return list(dict.fromkeys(one.port for one in here))
    known = known_machines(folder)
    if known:
        raise UserMistake(
            f"none of the {len(known)} known machines is plugged in where it was last seen",
            where="--port",
            remedy="plug it in, or name its new port with --port ('winder bench list' shows both)",
        )
    raise UserMistake(
        "no machine has been taught here yet",
        where="--port",
        remedy="teach one with 'winder bench teach', or give --port and --machine; --port sim is the simulated bench",
    )


def moved(known: Known, port: str, folder: Path | None = None, by_id: Path = BY_ID) -> None:
    """It was seen on this port now."""
    there = lasting_name(port, by_id)
    if there != known.port:
        remember(replace(known, port=there), folder)
