"""Version 2 of the group TRAVERSE: a guide with a limit switch at its left end. It finds its place, and goes far, fast.

The two messages; a board in version 1 answers them UNSUPPORTED. Both are given speed and ramp by the host, which knows
from the machine what its step motor follows.
"""

from typing import Annotated

from .records import dataclass
from .wire import I32, U16, U32, Group, Sender, message

Token = Annotated[int, U32, "", "the session's token"]
Boot = Annotated[int, U16, "", "boot number the host believes in"]
WindNumber = Annotated[int, U32, "", "wind number the host believes in"]
Revision = Annotated[int, U16, "", "board's revision the host believes in"]
Rate = Annotated[int, U32, "um/s", "how fast at most"]
Accel = Annotated[int, U32, "um/s2", "how hard it speeds up and slows down"]


@message(0x32, Group.TRAVERSE, Sender.HOST, numbered=True, version=2)
@dataclass(frozen=True, slots=True)
class TraverseHome:
    """Leftward until the limit switch is met, then slowly off it: there the guide is at ``at_um``. At rest, live lease."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    at_um: Annotated[int, I32, "um", "place of the limit switch, from the left mark"]
    rate_um_s: Rate
    accel_um_s2: Accel


@message(0x33, Group.TRAVERSE, Sender.HOST, numbered=True, version=2)
@dataclass(frozen=True, slots=True)
class TraverseMove:
    """One finite move of the guide with a ramp, at rest, once its place is known. Needs a live lease."""

    token: Token
    boot: Boot
    wind: WindNumber
    revision: Revision
    distance_um: Annotated[int, I32, "um", "positive: rightward; at most 1 m"]
    rate_um_s: Rate
    accel_um_s2: Accel
