"""The first words with a board: hello, welcome and its first status, or a clear account of what is at the port."""

from __future__ import annotations

from firmware_protocol.connection import HostEnd
from firmware_protocol.heard import Trouble, Troubled
from firmware_protocol.messages import BASE_VERSION, Status, Welcome
from firmware_protocol.records import dataclass
from firmware_protocol.seam import Clock, Link, LinkLost
from firmware_protocol.settings import Settings
from firmware_protocol.wire import Group
from winder.clock import NS_PER_S
from winder.errors import WinderError

READ_WAIT_S = 0.05
ASKED_S, ASKED_MOST = 0.3, 10  # for the settings; a line may swallow a frame
STATUS_WAIT_S = 2.0  # a board says it twenty times a second

TROUBLES = {
    Trouble.NO_WELCOME: (
        "nothing on this port answers as a winding board",
        "check the port, the firmware and the power, and give the board a second to start; older adapters need --baud 115200",
    ),
    Trouble.HELD: (
        "another program is winding with this board",
        "end the wind there, or close that program and wait a second",
    ),
    Trouble.OTHER_VERSION: (
        f"the board speaks another version of the base protocol than {BASE_VERSION}",
        "load firmware that fits this program, or install the program that fits the board",
    ),
}


@dataclass(frozen=True, slots=True)
class Met:
    """A board as it introduced itself; ``status`` is the first thing it said after its welcome."""

    welcome: Welcome
    status: Status


def greet(link: Link, clock: Clock, host_end: HostEnd, where: str) -> Met:
    """Exchange hello and welcome, and hear a status; raises ``WinderError`` that says what is at the port instead."""
    try:
        return _greet(link, clock, host_end, where)
    except LinkLost as lost:
        raise WinderError(
            f"the port closed while connecting to the board ({lost})",
            remedy="check the cable and the board's power, then try again",
            where=where,
        ) from None


def _greet(link: Link, clock: Clock, host_end: HostEnd, where: str) -> Met:
    host_end.open(clock.now_ns())
    welcome, until_ns = None, 0
    while True:
        data = host_end.data_to_send(clock.now_ns())
        if data:
            link.write(data)
        for heard in host_end.receive(link.read(READ_WAIT_S), clock.now_ns()):
            if isinstance(heard, Welcome):
                welcome = heard
                until_ns = clock.now_ns() + round(STATUS_WAIT_S * NS_PER_S)
            elif isinstance(heard, Status) and welcome is not None and heard.boot == welcome.boot:
                return Met(welcome, heard)
            elif isinstance(heard, Troubled):
                unknown = (heard.text or heard.trouble.value, "try again")
                what, remedy = TROUBLES.get(heard.trouble, unknown)
                raise WinderError(what, remedy=remedy, where=where)
        if welcome is not None and clock.now_ns() > until_ns:
            raise WinderError(
                "the board answers but does not report its state",
                remedy="reset it; if that does not help, its firmware does not fit this program",
                where=where,
            )


def number_of(link: Link, clock: Clock, host_end: HostEnd, welcome: Welcome, port: str) -> int:
    """The lasting number of a board that was greeted; 0 where it has none."""
    if not welcome.groups[Group.SETTINGS - 1]:
        return 0
    try:
        for _ in range(ASKED_MOST):
            host_end.read_settings()
            end_ns = clock.now_ns() + round(ASKED_S * NS_PER_S)
            while clock.now_ns() < end_ns:
                link.write(host_end.data_to_send(clock.now_ns()))
                for heard in host_end.receive(link.read(READ_WAIT_S), clock.now_ns()):
                    if isinstance(heard, Settings):
                        return heard.number
    except LinkLost as lost:
        raise WinderError(
            f"the port closed while the board was asked its number ({lost})",
            where=port,
            remedy="check the cable and the board's power, then try again",
        ) from None
    raise WinderError(
        "the board does not tell its number",
        where=port,
        remedy="reset it and try again, or name its machine file with --machine",
    )
