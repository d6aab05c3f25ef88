"""Why a port could not be opened, in words: what, where, remedy.

What can be seen without opening (is it there, is it a serial port at all, is the address one) is
looked at first, because opening resets many boards and because the system's own messages name
neither the other ports that are here nor the group that may use this one.
"""

from __future__ import annotations

import errno
import os
import stat
from urllib.parse import urlsplit

from winder.errors import UserMistake, WinderError
from winder.links.names import foreign_system
from winder.links.ports import ports_found

_ADDRESS_REMEDY = "give a device such as /dev/ttyACM0, or an address such as socket://host:7000"
_BUSY = (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK)


def is_address(port: str) -> bool:
    return "://" in port


def check_port(port: str) -> None:
    """Look at a port without opening it. Raises ``UserMistake`` or ``WinderError``."""
    if not port.strip():
        raise UserMistake("no port was named", where="port", remedy=here_now())
    if "\0" in port:
        raise UserMistake("a port has no zero byte in it", where=repr(port), remedy=here_now())
    if is_address(port):
        _check_address(port)
    elif os.name == "posix":
        _check_device(port)


def _check_address(port: str) -> None:
    try:
        parts = urlsplit(port)
        complete = parts.scheme != "socket" or (parts.hostname and parts.port)
    except ValueError:
        complete = False
    if not complete:
        raise UserMistake("is not a complete address", where=port, remedy=_ADDRESS_REMEDY)


def _check_device(port: str) -> None:
    try:
        mode = os.stat(port).st_mode
    except OSError as error:
        raise opening_trouble(port, error) from None
    if stat.S_ISDIR(mode):
        raise UserMistake("is a folder, not a serial port", where=port, remedy=here_now())
    if not stat.S_ISCHR(mode):
        raise UserMistake("is a file, not a serial port", where=port, remedy=here_now())


def opening_trouble(port: str, error: Exception) -> WinderError:
    """The error that opening (or looking at) a port gave, as one of ours."""
    code = getattr(error, "errno", None)
    if code in (errno.ENOENT, errno.ENOTDIR, errno.ENODEV, errno.ENXIO):
        system = foreign_system(port)
        hint = f" (it is called as on {system})" if system else ""
        return UserMistake(f"does not exist{hint}", where=port, remedy=here_now())
    if code in _BUSY:
        return busy(port, _holder_of(port))
    if code in (errno.EACCES, errno.EPERM):
        return WinderError("you may not use this port", where=port, remedy=_group_remedy(port))
    # pyserial hands the number of a failed configuration on as text only.
    if code in (errno.ENOTTY, errno.EINVAL) or f"({errno.ENOTTY}," in str(error):
        return UserMistake("is not a serial port", where=port, remedy=here_now())
    if is_address(port):
        if isinstance(error, ValueError):
            return UserMistake("is not a known kind of address", where=port, remedy=_ADDRESS_REMEDY)
        return WinderError(
            f"could not be opened ({error})",
            where=port,
            remedy="check the address, and that what should answer there is running",
        )
    return WinderError(
        f"could not be opened ({error})",
        where=port,
        remedy="unplug the board and plug it in again, and close other programs that use it",
    )


def busy(port: str, holder: str) -> WinderError:
    return WinderError(
        f"is in use by {holder}", where=port, remedy="end that program first, then try again"
    )


def here_now() -> str:
    """The remedy that names the ports that are here."""
    found = ports_found()
    if not found:
        return "no serial port found: plug the board in, or use the simulated bench, 'sim'"
    names = [
        f"{port.lasting_name} ({port.device})" if port.lasting_name else port.device
        for port in found
    ]
    return f"here now: {', '.join(names)}"


def _group_remedy(port: str) -> str:
    """Names the group of the device file: membership is what is usually missing."""
    try:
        import grp

        group = grp.getgrgid(os.stat(port).st_gid).gr_name
    except (ImportError, KeyError, OSError):
        return "ask whoever runs this computer for permission to use it"
    if group == "root":
        return "it belongs to the group root: ask whoever looks after this computer"
    return (
        f"it belongs to the group {group}: run 'sudo usermod -aG {group} $USER', "
        "then log out and in again"
    )


def _holder_of(port: str) -> str:
    """Who has this device open, as far as the process table shows it to us."""
    device = os.path.realpath(port)
    try:
        numbers = [name for name in os.listdir("/proc") if name.isdecimal()]
    except OSError:
        numbers = []
    for number in numbers:
        if int(number) != os.getpid() and device in _open_files(number):
            return f"{_program(number)} (process {number})"
    return "another program"


def _open_files(number: str) -> list[str]:
    found = []
    try:
        for entry in os.scandir(f"/proc/{number}/fd"):
            found.append(os.readlink(entry.path))
    except OSError:  # it ended meanwhile, or is another user's
        pass
    return found


def _program(number: str) -> str:
    try:
        with open(f"/proc/{number}/comm", encoding="utf-8", errors="replace") as file:
            return file.read().strip()
    except OSError:
        return "a program"
