"""The first words with a board: hello, welcome, or a clear account of what is at the port."""

from __future__ import annotations

from firmware_protocol.connection import HostEnd
from firmware_protocol.heard import Trouble, Troubled
from firmware_protocol.messages import BASE_VERSION, Welcome
from firmware_protocol.seam import Clock, Link, LinkLost
from winder.errors import WinderError

READ_WAIT_S = 0.05

TROUBLES = {
    Trouble.NO_WELCOME: (
        "nothing here answers as a winding board",
        "check that this is the board's port, that its firmware is loaded, and that it is not still "
        "starting; the protocol runs at 500000 baud, older adapters need --baud 115200",
    ),
    Trouble.HELD: (
        "another host is winding with this board",
        "end the wind there, or wait a second after that program has closed",
    ),
    Trouble.OTHER_VERSION: (
        f"the board speaks another version of the base protocol than {BASE_VERSION}",
        "load firmware that fits this program, or install the program that fits the board",
    ),
}


def greet(link: Link, clock: Clock, host_end: HostEnd, where: str) -> Welcome:
    """Exchange hello and welcome; raises ``WinderError`` that says what is at the port instead."""
    try:
        host_end.open(clock.now_ns())
        while True:
            data = host_end.data_to_send(clock.now_ns())
            if data:
                link.write(data)
            for heard in host_end.receive(link.read(READ_WAIT_S), clock.now_ns()):
                if isinstance(heard, Welcome):
                    return heard
                if isinstance(heard, Troubled):
                    what, remedy = TROUBLES.get(
                        heard.trouble, (heard.text or heard.trouble.value, "try again")
                    )
                    raise WinderError(what, remedy=remedy, where=where)
    except LinkLost as lost:
        raise WinderError(
            f"the port closed while the board was greeted ({lost})",
            remedy="check the cable and the board's power, then try again",
            where=where,
        ) from None
