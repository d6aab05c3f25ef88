"""Section 10: what a board keeps over a restart. Only where opening its port resets it, as many do."""

from __future__ import annotations

from collections.abc import Callable

from ..framing import FrameReader
from ..messages import NO_WIND, Kept, State, Status, Welcome
from ..seam import Link
from ..wire import Group
from .clauses import Unready, clause, require
from .examiner import Examiner, name
from .motion import TURNS, rest_after_a_move

KEEPING_S = 2.5  # a second of rest, and the memory's time


@clause(
    "10.1",
    "After a restart no wind is open and the revision is below the number of what happened since.",
)
def starts_afresh(at: Examiner) -> None:
    _, status, _ = at.restarted
    require(status.wind == NO_WIND, f"wind {status.wind} is open")
    require(status.state in (State.STILL, State.TRIPPED), f"the state is {name(status.state)}")
    require(status.revision <= 2, f"the revision is {status.revision}")


@clause("10.2", "The boot number rises by one.")
def boots(at: Examiner) -> None:
    _, status, before = at.restarted
    due = (before.boot + 1) & 0xFFFF
    require(status.boot == due, f"boot {before.boot} was followed by {status.boot}")


@clause("10.3", "A board that keeps its wind shows where it rested last: wind and count.")
def keeps(at: Examiner) -> None:
    met, _, before = at.restarted
    if at.has(Group.MOTOR) and before.count == 0:
        raise Unready("the motor did not turn the spindle before the restart")
    if not met.kept_flags & Kept.VALID:
        return  # a board that keeps nothing leaves VALID clear
    require(met.kept_wind == before.wind, f"it kept wind {met.kept_wind}, not {before.wind}")
    require(met.kept_count == before.count, f"it kept {met.kept_count} counts of {before.count}")


def restart(
    at: Examiner, again: Callable[[], Link], moves: Callable[[str], bool] | None
) -> tuple[Welcome, Status, Status] | None:
    """A wind, a move where that may be, a rest, and the port opened again.

    Welcome and status after it and the status before; None: opening the port resets nothing.
    """
    at.begin()
    if at.has(Group.MOTOR) and moves is not None and moves(TURNS):
        rest_after_a_move(at)
    else:
        at.open_wind()
    at.hear(KEEPING_S)
    before = at.status()
    at.link.close()
    at.link = again()
    at.reader = FrameReader()
    met = at.first_welcome()
    status = at.status()
    if status.boot == before.boot and status.uptime_ms >= before.uptime_ms:
        return None
    return met, status, before
