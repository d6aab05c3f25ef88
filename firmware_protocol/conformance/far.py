"""Section 23: a guide with a limit switch finds its place, and its place is known only where no step can be lost."""

from __future__ import annotations

from typing import Any

from ..far import TraverseHome, TraverseMove
from ..framing import encode_message
from ..messages import Cut, Flag, Reason, State, Status, Verdict
from ..vocabulary import Has
from ..wire import LAYOUT_OF, Group
from .clauses import clause, require
from .examiner import Examiner, name, verdict_words
from .motion import alive, rest_bound_s, rests, watch

AT_UM, FAR_UM = -3000, 5000  # of the switch; and a move right of it
SLOW = {"rate_um_s": 5000, "accel_um_s2": 20_000}
GUIDE_S = 120.0
HOMES = "the guide, to its limit switch on the left and off it"


def _home(at: Examiner, **values: int) -> Any:
    return at.make(TraverseHome, **({"at_um": AT_UM} | SLOW | values))


def _move(at: Examiner, **values: int) -> Any:
    return at.make(TraverseMove, **({"distance_um": FAR_UM} | SLOW | values))


def _known(status: Status) -> bool:
    return bool(status.flags & Flag.REFERENCED)


def _homed(at: Examiner) -> Status:
    """Behind a whole homing."""
    alive(at)
    at.settled()
    at.expect(_home(at), Verdict.DONE)
    soon = at.settled()  # where it stood near, it may be there
    require(rests(soon) or not _known(soon), "its place is known on the way")
    return watch(at, rests, GUIDE_S, "the guide does not come to rest")


@clause(
    "23.1",
    "Version 2 of TRAVERSE and LIMIT_SWITCH in `has` go together; in version 1 both commands are UNSUPPORTED.",
    Group.TRAVERSE,
)
def versions(at: Examiner) -> None:
    assert at.welcome is not None
    version, has = at.welcome.groups[Group.TRAVERSE - 1], at.welcome.has
    wired = bool(has & Has.LIMIT_SWITCH)
    require((version > 1) == wired, f"the version is {version}, has is 0x{has:02x}")
    if version > 1:
        return
    for cls in (TraverseHome, TraverseMove):
        for payload in (b"", b"\x01" * 44):
            answer = at.answer_to(LAYOUT_OF[cls].kind, 9, payload)
            wrong = f"{cls.__name__} was answered {verdict_words(answer)}"
            require(answer.verdict is Verdict.UNSUPPORTED, wrong)


@clause(
    "23.2",
    "What TraverseHome and TraverseMove cannot be is BAD_VALUE on its field, before the lease is looked at.",
    Group.TRAVERSE,
    wired=Has.LIMIT_SWITCH,
)
def values(at: Examiner) -> None:
    at.status()
    for wrong, field in (
        (_home(at, at_um=1_000_001), 4),
        (_home(at, at_um=-1_000_001), 4),
        (_home(at, rate_um_s=0), 5),
        (_home(at, accel_um_s2=0), 6),
        (_move(at, distance_um=0), 4),
        (_move(at, distance_um=-1_000_001), 4),
        (_move(at, rate_um_s=0), 5),
        (_move(at, accel_um_s2=0), 6),
    ):
        at.expect(wrong, Verdict.BAD_VALUE, field)
    at.expect(_home(at), Verdict.NO_LEASE)
    at.expect(_move(at), Verdict.NO_LEASE)


@clause(
    "23.3",
    "Homing ends at rest, MOVE_DONE, where it was told that the switch is; its place is known then and not before.",
    Group.TRAVERSE,
    wired=Has.LIMIT_SWITCH,
    motion=HOMES,
)
def homes(at: Examiner) -> None:
    end = _homed(at)
    require(end.state is State.STILL, f"it ended in {name(end.state)}")
    require(end.reason is Reason.MOVE_DONE, f"the reason is {name(end.reason)}")
    require(_known(end), "its place is not known")
    require(end.traverse_um == AT_UM, f"it stands at {end.traverse_um} um, not at {AT_UM}")


@clause(
    "23.4",
    "A far move goes by its distance; a cut on the way takes the place away, and the next one is NOT_REFERENCED.",
    Group.TRAVERSE,
    Group.MOTOR,
    wired=Has.LIMIT_SWITCH,
    motion=HOMES + ", then 5 mm to the right and back",
)
def goes_far(at: Examiner) -> None:
    _homed(at)
    at.expect(_move(at), Verdict.DONE)
    end = watch(at, rests, GUIDE_S, "the guide does not come to rest")
    off_um = abs(end.traverse_um - AT_UM - FAR_UM)
    require(off_um <= FAR_UM // 100, f"it stands at {end.traverse_um} um, {off_um} um off")
    require(_known(end), "its place is not known behind it")
    at.expect(_move(at, distance_um=-FAR_UM), Verdict.DONE)
    at.reply(encode_message(Cut()), LAYOUT_OF[Cut].kind)
    end = watch(at, rests, rest_bound_s(at), "it does not rest behind a cut")
    require(not _known(end), "its place is still known behind a cut")
    at.settled()
    at.expect(_move(at), Verdict.NOT_REFERENCED)
