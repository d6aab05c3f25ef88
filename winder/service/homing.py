"""The guide led to its limit switch, and from there to where the left flange is, at the person's word."""

from __future__ import annotations

from collections.abc import Callable

from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.messages import Trip
from firmware_protocol.wire import Group
from winder.errors import WinderError
from winder.service.teaching.bench import TaughtBoard, Tripped
from winder.wind.homing import UM_PER_MM, how

MOVE_MOST_S = 120.0
FLANGE_MM_MOST = 1000.0
LOOK = "look at switch, cable and guide, then home it again"


def require_switch(board: TaughtBoard) -> None:
    """``WinderError`` for a board whose guide has no limit switch."""
    if board.welcome.groups[Group.TRAVERSE - 1] < 2:
        raise WinderError(
            "this board has no guide with a limit switch",
            where=board.port,
            remedy="wire one and say so to 'winder bench teach'; or step the guide to the flange",
        )


def home(
    board: TaughtBoard, flange_mm: float, speed_mm_s: float, tell: Callable[[str], None]
) -> None:
    """Ends with the guide at the left flange, its place known. ``WinderError`` where the board or the switch will not."""
    flange_um = round(flange_mm * UM_PER_MM)
    ramp = how(speed_mm_s)
    board.move(lambda: board.make(TraverseHome, at_um=-flange_um, **ramp), MOVE_MOST_S)
    tell("The guide is at its limit switch; its place is known.")
    if flange_um:
        board.move(lambda: board.make(TraverseMove, distance_um=flange_um, **ramp), MOVE_MOST_S)
        tell(f"It stands {flange_mm:g} mm to the right of it, where the left flange is.")


def clear_limit_trip(board: TaughtBoard) -> None:
    """Takes a trip of the guide's back; another one stays."""
    board.hear(0.12)
    if board.newest.trip is Trip.TRAVERSE_LIMIT:
        board.clear_trip()


def words_of(trip: Tripped, board: TaughtBoard) -> WinderError:
    """What the person is told of a trip on the way."""
    if board.newest.trip is not Trip.TRAVERSE_LIMIT:
        return trip
    return WinderError(
        "the limit switch was not found, or cannot be trusted",
        where=board.port,
        remedy=LOOK + " with --clear",
    )
