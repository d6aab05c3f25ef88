"""A board's program, copied to the drive as which the chip shows itself while its boot ROM waits for one.

Such a drive holds a file INFO_UF2.TXT that names it (UF2, an open published format:
https://github.com/microsoft/uf2). The ROM writes each block to flash as it comes, and behind the last one starts the
program: the drive goes away, and a serial port of the program's own comes. That port's welcome, and nothing before it,
says that the load worked. The ROM itself cannot be overwritten, so a load can always be done again.
"""

from __future__ import annotations

import os
import re
import string
import sys
from pathlib import Path

from firmware_protocol.images import Image
from firmware_protocol.records import dataclass
from winder.clock import NS_PER_S, SystemClock
from winder.errors import UserMistake, WinderError
from winder.links.ports import ports_found

INFO = "INFO_UF2.TXT"
CHIP_ID = "RPI-RP2"  # what the RP2040's boot ROM calls itself there
PORT_WAIT_S = 20.0
LOOK_EVERY_S = 0.3
MOUNTS = Path("/proc/mounts")
_FILE_SYSTEMS = {"vfat", "msdos", "exfat"}
_BOARD_ID = re.compile(r"^Board-ID:\s*(\S+)", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Copy:
    """What is to be copied, and onto which drive."""

    image: Image
    drive: Path


def drives_found(mounts: Path = MOUNTS) -> list[Path]:
    """Drives that wait for a program, by name. Windows and macOS are untested."""
    return sorted(folder for folder in _mounted(mounts) if _holds_info(folder))


def _mounted(mounts: Path) -> list[Path]:
    if sys.platform == "win32":
        return [Path(f"{letter}:\\") for letter in string.ascii_uppercase[3:]]
    if sys.platform == "darwin":
        return list(Path("/Volumes").glob("*"))
    try:
        rows = [line.split() for line in mounts.read_text(errors="replace").splitlines()]
    except OSError:
        return []
    return [Path(_unescaped(row[1])) for row in rows if len(row) > 2 and row[2] in _FILE_SYSTEMS]


def _unescaped(name: str) -> str:
    """A name of /proc/mounts, in which a space is \\040 (proc(5), fstab(5))."""
    return re.sub(r"\\([0-7]{3})", lambda octal: chr(int(octal[1], 8)), name)


def _holds_info(folder: Path) -> bool:
    try:
        return (folder / INFO).is_file()
    except OSError:
        return False


def plan_copy(drive: str, image: Image) -> Copy:
    """Looks at the drive and writes nothing. Raises ``UserMistake``."""
    folder = Path(drive)
    if not folder.is_dir():
        raise UserMistake("is no folder", where=drive, remedy=_drives_here())
    try:
        info = (folder / INFO).read_text(errors="replace")
    except OSError:
        raise UserMistake(
            f"is not the drive of a board that waits for its program: it holds no {INFO}",
            where=drive,
            remedy=_drives_here(),
        ) from None
    told = _BOARD_ID.search(info)
    if told is None or told[1] != CHIP_ID:
        raise UserMistake(
            f"is another chip's drive: its {INFO} says '{told[1][:40] if told else 'nothing of a board'}', not '{CHIP_ID}'",
            where=drive,
            remedy=f"this firmware is for an RP2040; {_drives_here()}",
        )
    return Copy(image, folder)


def _drives_here() -> str:
    found = drives_found()
    if found:
        return f"here now: {', '.join(map(str, found))}"
    return "hold the board's BOOT button while you plug it in; 'winder bench list' shows its drive"


def copy_onto(order: Copy) -> None:
    """Copies. Raises ``WinderError`` where the drive is still there and did not take it all."""
    content = order.image.path.read_bytes()
    try:
        with (order.drive / order.image.path.name).open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        # A drive that goes away behind the last block may well say so; whether it had them all, the welcome tells.
        if _holds_info(order.drive):
            raise WinderError(
                f"did not take the program ({error.strerror or error}); the board may hold half of it; its resistors keep the motor off",
                where=str(order.drive),
                remedy="unplug the board, hold its BOOT button while you plug it in, and load it again",
            ) from None


def ports_now() -> set[str]:
    """The devices of the ports that are here."""
    return {port.device for port in ports_found()}


def port_that_came(before: set[str], clock: SystemClock, wait_s: float = PORT_WAIT_S) -> str:
    """The port that was not there before. Raises ``WinderError`` where none comes, or more than one."""
    until_ns = clock.now_ns() + round(wait_s * NS_PER_S)
    while clock.now_ns() < until_ns:
        came = [port for port in ports_found() if port.device not in before]
        if len(came) == 1:
            return came[0].best_name
        if came:
            raise WinderError(
                f"more than one port came ({', '.join(port.best_name for port in came)})",
                where="bench load",
                remedy="the program is copied; ask the board itself: winder bench check --port PORT",
            )
        clock.sleep_s(LOOK_EVERY_S)
    raise WinderError(
        f"the program was copied, but no port came within {wait_s:.0f} s",
        where="bench load",
        remedy="unplug the board and plug it in again, without its button; then: winder bench list",
    )
