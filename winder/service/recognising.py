"""Which taught machine is at a port: asked of the board there, never taken from the port's name alone.

Boards are exchanged and adapters share their names, so the board says who it is before anything of its machine is
used: its lasting number, or, where it has none, its name at this very port. A board that another machine was taught
with is refused, and so is one that nobody was taught with.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from firmware_protocol.connection import HostEnd
from firmware_protocol.records import dataclass
from firmware_protocol.wire import Group
from winder.clock import SystemClock
from winder.errors import UserMistake, WinderError
from winder.links.names import parse_port
from winder.links.ports import BY_ID, lasting_name
from winder.links.serial_link import BAUD, BAUD_FALLBACK, open_serial
from winder.service.bench_port import draw_token
from winder.service.greeting import greet, number_of
from winder.service.known_machines import (
    NO_NUMBER,
    Known,
    board_words,
    known_machines,
    moved,
    plugged_in,
    ports_of_known,
    remember,
    seen_on,
)
from winder.service.teaching.bench import TaughtBoard
from winder.simulator.machine import BOARD_NAME as SIMULATED_BOARD

Choose = Callable[
    [Sequence[str]], int | None
]  # one of these lines, by its place; None: none of them


@dataclass(frozen=True, slots=True)
class Introduced:
    """What a board says of itself, and the speed at which it says so."""

    board: str
    number: int = NO_NUMBER
    baud: int = BAUD

    @property
    def words(self) -> str:
        return board_words(self.board, self.number).rstrip(",")


@dataclass(frozen=True, slots=True)
class Found:
    """Where to wind and with which machine file; ``told`` is said before anything starts."""

    port: str
    machine: str | None
    baud: int | None = None  # None: nobody asked the board
    told: tuple[str, ...] = ()


def find_machine(
    port: str | None,
    machine: str | None,
    baud: int | None = None,
    choose: Choose | None = None,
    rest: Callable[[str], None] = lambda port: None,
) -> Found:
    """What was named, and what was not named taken from the machines that were taught.

    ``choose`` is asked where several are plugged in; None: nobody can be. ``rest`` is called before a port is opened.
    Raises ``UserMistake`` where a person has to name one, ``WinderError`` where no board answers.
    """
    if port is None:
        port = _one_port(choose)
    if machine is not None or parse_port(port).simulated or not known_machines():
        return Found(port, machine)
    rest(port)
    who = introduced(port, baud)
    known, remark = machine_of(port, who)
    if known is None:
        return Found(port, None, who.baud)
    moved(known, port)
    line = f"machine {known.machine}, {who.words} on {port}"
    return Found(port, known.machine, who.baud, (line, remark) if remark else (line,))


def _one_port(choose: Choose | None) -> str:
    ports = ports_of_known()
    if len(ports) == 1:
        return ports[0]
    here = plugged_in()
    files = {port: " or ".join(k.machine for k in here if k.port == port) for port in ports}
    chosen = None if choose is None else choose([f"{files[port]} on {port}" for port in ports])
    if chosen is None:
        raise UserMistake(
            f"{len(ports)} ports of known machines are plugged in",
            where="--port",
            remedy="name one: " + "; or ".join(f"--port {port}" for port in ports),
        )
    return ports[chosen]


def machine_of(
    port: str, who: Introduced, folder: Path | None = None, by_id: Path = BY_ID
) -> tuple[Known | None, str]:
    """The machine that this board was taught with, and a remark on how it was told apart; None where no machine was
    taught with it nor at this port. ``UserMistake`` for a board that has taken the place of another."""
    known = known_machines(folder)
    here = seen_on(port, known, by_id)
    if who.number:
        same = [one for one in known if one.number == who.number]
        if len(same) == 1:
            return same[0], ""
        same = [one for one in same if one in here]
        remark = f"Two boards have the number {who.number:08x}: the port tells them apart."
    else:
        same = [one for one in here if not one.number and one.board == who.board]
        remark = "This board has no number of its own: it is known by its port."
    if same:
        return same[0], remark
    twins = sum(one.number == who.number for one in known) if who.number else 0
    if not here and not twins and (who.board == SIMULATED_BOARD or not who.number):
        return None, ""
    raise _stranger(port, who, here, twins)


def _stranger(port: str, who: Introduced, here: list[Known], twins: int) -> UserMistake:
    files = " or ".join(one.machine for one in here)
    instead = ": no machine was taught with it here"
    if twins:
        instead = f": {twins} machines were taught with boards of that number, on other ports"
    elif here:
        instead = f", not the one that {files} was taught with"
    return UserMistake(
        f"this is {who.words}{instead}",
        where=port,
        remedy="name its machine file with --machine, or write one: winder bench teach --port "
        f"{port} --machine NEW.toml",
    )


def remember_taught(
    port: str,
    who: Introduced,
    machine: Path,
    folder: Path | None = None,
    by_id: Path = BY_ID,
    ask: Callable[[str], Introduced] | None = None,
) -> str:
    """Writes a taught machine down; a sentence where it cannot be told from another by its number.

    ``ask`` hears what is at another port that had a board with this number; None: the port is opened and asked.
    """
    known = Known(lasting_name(port, by_id), who.board, str(machine.resolve()), who.number)
    twin = next(
        (
            one
            for one in plugged_in(folder, by_id)
            if one.number
            and one.is_same_as(known)
            and one.port != known.port
            and _answers(one, ask or introduced)
        ),
        None,
    )
    remember(known, folder, beside=twin)
    if twin is not None:
        return f"The board on {twin.port} has the same number: each is known by its port."
    return "" if who.number else "The board has no number of its own: it is known by its port."


def _answers(known: Known, ask: Callable[[str], Introduced]) -> bool:
    """Whether a board with its number is at its port in this moment."""
    try:
        return ask(known.port).number == known.number
    except WinderError:
        return False


# --- asking -----------------------------------------------------------------------------------------


def introduced(port: str, baud: int | None = None) -> Introduced:
    """Opens the port, asks, and closes it again. Raises ``UserMistake`` or ``WinderError`` with the port."""
    try:
        return _introduced_at(port, baud or BAUD)
    except WinderError as error:
        if baud is not None or isinstance(error, UserMistake):
            raise
        try:
            return _introduced_at(port, BAUD_FALLBACK)
        except WinderError:
            raise error from None


def _introduced_at(port: str, baud: int) -> Introduced:
    clock = SystemClock()
    link = open_serial(parse_port(port).address, baud)
    try:
        host_end = HostEnd(draw_token())
        welcome = greet(link, clock, host_end, port).welcome
        return Introduced(welcome.board, number_of(link, clock, host_end, welcome, port), baud)
    finally:
        link.close()


def who_is(board: TaughtBoard) -> Introduced:
    """The board that was just taught. Raises ``WinderError``."""
    number = board.read_settings().number if board.has(Group.SETTINGS) else NO_NUMBER
    return Introduced(board.welcome.board, number)
