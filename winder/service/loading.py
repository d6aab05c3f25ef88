"""A board's program, loaded through its boot loader by ``avrdude``.

Two kinds of loader are common on boards with this chip: one takes 115200 baud, an older one 57600. The first speed at
which one answers is used. Nothing is written before it answered, and what was written is read back and compared, so
a load either worked or is said to have failed; the loader itself is never touched, so a load can be done again.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

from firmware_protocol.images import CHIP, IMAGES, Image
from firmware_protocol.records import dataclass
from winder.errors import UserMistake, WinderError
from winder.links.names import parse_port
from winder.links.opening import check_port, is_address
from winder.links.port_lock import PortBusy, PortLock
from winder.links.ports import names_of

LOADER_BAUDS = (115_200, 57_600)
TOOL = "avrdude"
LOAD_WAIT_S = 180.0  # both speeds together take less than a minute
_WRITING = re.compile(r"Writing|writing flash|bytes of flash written")


@dataclass(frozen=True, slots=True)
class Load:
    """What is to be loaded, and where."""

    image: Image
    port: str

    def words(self, baud: int, tool: str = TOOL) -> list[str]:
        """The command. No erasing beforehand: these loaders erase each page as they write it."""
        port = ["-P", self.port, "-b", str(baud)]
        file = ["-D", "-U", f"flash:w:{self.image.path}:i"]
        return [tool, "-p", CHIP, "-c", "arduino", *port, *file]

    def typed(self, baud: int) -> str:
        return shlex.join(self.words(baud))


def image_of(board: str) -> Image:
    """Raises ``UserMistake`` for a name that is none."""
    image = IMAGES.get(board)
    if image is None:
        raise UserMistake(
            f"there is no firmware called '{board}'",
            where="--board",
            remedy=f"choose one of: {', '.join(IMAGES)}",
        )
    return image


def plan_load(port: str, board: str) -> Load:
    """Looks at both without opening anything. Raises ``UserMistake`` or ``WinderError``."""
    image = image_of(board)
    choice = parse_port(port)
    if choice.simulated or is_address(choice.address):
        raise UserMistake(
            "has no chip to load", where=port, remedy="name the serial port that the board is on"
        )
    check_port(choice.address)
    return Load(image, choice.address)


def load(order: Load, tell: Callable[[str], None]) -> int:
    """Writes and verifies; returns the speed at which it went. Raises ``WinderError``.

    ``tell`` is given a line before each try.
    """
    tool = shutil.which(TOOL)
    if tool is None:
        raise WinderError(
            f"{TOOL} is not installed; it is needed to load the board",
            where="bench load",
            remedy=f"install it ('apt-get install {TOOL}', or from your system's packages), and try again; "
            f"or where it is: {order.typed(LOADER_BAUDS[0])} (older loaders: -b {LOADER_BAUDS[1]})",
        )
    lock = PortLock()
    try:
        lock.take(names_of(order.port))
    except PortBusy as busy:
        raise WinderError(
            f"is in use by {busy.holder}",
            where=order.port,
            remedy="end that program first, then try again",
        ) from None
    try:
        return _try_each(order, tool, tell)
    finally:
        lock.release()


def _try_each(order: Load, tool: str, tell: Callable[[str], None]) -> int:
    said = ""
    for baud in LOADER_BAUDS:
        tell(f"trying the boot loader at {baud} baud ...")
        done, said = _run(order.words(baud, tool))
        if done:
            return baud
        if _WRITING.search(said):
            raise WinderError(
                f"loading stopped half-way ({_last_line(said)}); the board may hold half a program; its resistors keep the motor off",
                where=order.port,
                remedy="check the cable and load it again: the boot loader is still there",
            )
        if os.name == "posix" and not Path(order.port).exists():
            raise WinderError(
                "the port went away; nothing was written",
                where=order.port,
                remedy="check the cable, then load it again",
            )
    raise WinderError(
        f"no boot loader answered at {' or '.join(map(str, LOADER_BAUDS))} baud ({_last_line(said)}); "
        "nothing was written",
        where=order.port,
        remedy="check the port, and that nothing else uses it; if the board does not reset by itself, press its reset button as you start",
    )


def _run(words: list[str]) -> tuple[bool, str]:
    try:
        done = subprocess.run(
            words,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            timeout=LOAD_WAIT_S,
            check=False,
        )
    except subprocess.TimeoutExpired as late:
        heard = late.stdout or b""
        return False, heard if isinstance(heard, str) else heard.decode(errors="replace")
    return done.returncode == 0, done.stdout


def _last_line(said: str) -> str:
    """The last thing that the tool said which is a complaint."""
    lines = [line.strip() for line in said.splitlines() if line.strip()]
    wrong = [line for line in lines if "error" in line.lower() or "not in sync" in line]
    told = wrong or lines
    return told[-1].removeprefix(f"{TOOL}: ")[:120] if told else f"{TOOL} said nothing"
