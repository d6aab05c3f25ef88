"""The list before a wind: what has to be right at the machine before anything is armed.

Each item is done because a person said so, or because the board says so: a guard that has a switch and a
count that begins at zero are the board's to tell. The guide is referenced by touching the left flange, then
the right one, in finite steps of the person's choosing (a terminal tells of no key's release, so nothing here
moves until it is told to stop). The two touches measure the bobbin; a width that is not the recipe's is
remarked. Whoever starts with the list declared as done is on record with that.
"""

from __future__ import annotations

from collections.abc import Callable

from firmware_protocol.messages import Flag, Has, Status, Welcome
from winder.plan.facing import Facing, Top, face
from winder.recipe.model import Direction

from .model import Item, SetUpLine

WIDTH_OFF_MM = 0.3  # between the two touches and the recipe, worth a remark
AT_FLANGE = "home found: look that it is at the left flange and say so, or touch the right one"
AT_START_MM = 0.3  # the guide stands at the flange where it begins


class SetUpList:
    """One wind's list. ``top`` None: it has to be asked; ``width_m`` None: not compared. ``judge_tension``:
    a tension in words, with how it suits the wire. Without ``wire`` nothing is known of it and nothing asked;
    without ``motor`` no guard is."""

    def __init__(
        self,
        direction: Direction,
        *,
        guide: bool,
        plus_clockwise: bool = True,
        top: Top | None = None,
        top_by: str = "operator",
        width_m: float | None = None,
        goes_on: bool = False,
        judge_tension: Callable[[float], str] = "{:g} cN".format,
        wire: bool = True,
        motor: bool = True,
    ) -> None:
        self.has_guide = guide
        self.done = False
        self.top_by = top_by  # who said where the top faces, with ``top``
        self.by = ""  # who declared the list as done, if nobody went through it
        self.tension_cn: float | None = None  # 0: by feel
        self.left_touched = False
        self.right_mm: float | None = None
        self._direction = direction
        self._plus_clockwise = plus_clockwise
        self._width_mm = None if width_m is None else width_m * 1e3
        self._goes_on = goes_on
        self.wire_said = ""  # where the wire of a coil that goes on is, by the record
        self.wire_here = ""  # that the guide stands there
        self.homing = ""  # the guide is on its way to its limit switch, or why that failed
        self.homed = False  # its place is known by the switch
        self._wire, self._motor = wire, motor
        self._said: set[Item] = set()
        self._judge_tension = judge_tension
        self.facing: Facing | None = None
        if top is not None:
            self.declare(top)

    def declare(self, top: Top) -> Facing:
        """The bobbin is mounted, with its top this way."""
        self.facing = face(self._direction, top, plus_clockwise=self._plus_clockwise)
        return self.facing

    @property
    def tension_said(self) -> str:
        """The tension that is set and how it suits the wire; "": not said yet."""
        return "" if self.tension_cn is None else self._judge_tension(self.tension_cn)

    def confirm(self, item: Item) -> None:
        self._said.add(item)

    def forget_guide(self) -> None:
        """Nobody knows where the guide is; all that was said of its place is void."""
        self.left_touched, self.right_mm, self.wire_here = False, None, ""
        self.homed = False
        self._said.discard(Item.GUIDE)

    def touch_left(self) -> None:
        """The guide touches the left flange: this is zero, and what was measured from another zero is not."""
        self.left_touched, self.right_mm, self.homed = True, None, False

    def touch_right(self, at_mm: float) -> str:
        """The guide touches the right flange; a remark if the bobbin is not as wide as the recipe says."""
        self.right_mm = at_mm
        wanted = self._width_mm
        if wanted is None or abs(at_mm - wanted) <= WIDTH_OFF_MM:
            return ""
        return (
            f"the bobbin is {at_mm:.2f} mm wide between the touches, the recipe says {wanted:.2f} mm: touch again,"
            " or put the right width into the recipe"
        )

    def confirmable(self, item: Item, welcome: Welcome | None) -> bool:
        """Whether a person's word settles this item."""
        if item is Item.GUARD:
            return self._motor and not _has_guard(welcome)
        if item is Item.LEAD:
            return self._wire
        return item is Item.GUIDE and self.has_guide and not self.wire_said

    def lines(self, status: Status | None, welcome: Welcome | None) -> tuple[SetUpLine, ...]:
        facing = self.facing
        lines = [
            SetUpLine(
                Item.BOBBIN,
                "bobbin mounted",
                facing is not None,
                facing.words if facing else "does the top face you (the free end) or the chuck?",
            )
        ]
        if self._wire:
            lines += self._wire_lines()
        if self.has_guide:
            done, said = self._guide(status)
            lines.append(SetUpLine(Item.GUIDE, "guide referenced", done, said))
        if self._motor or _has_guard(welcome):
            lines.append(SetUpLine(Item.GUARD, "guard closed", *self._guard(status, welcome)))
        count = "no signal from the board yet"
        if status is not None:
            count = "the board counts this wind from zero"
            count += "; earlier turns are on the shelf" if self._goes_on else ""
        lines.append(SetUpLine(Item.COUNT, "count at zero", status is not None, count))
        return tuple(lines)

    def _wire_lines(self) -> list[SetUpLine]:
        return [
            SetUpLine(
                Item.LEAD,
                "start lead fixed and insulated",
                Item.LEAD in self._said,
                "" if Item.LEAD in self._said else "at the flange at the chuck, nothing loose",
            ),
            SetUpLine(
                Item.TENSION,
                "tension set",
                self.tension_cn is not None,
                self.tension_said or "enter it in cN, or 0 if by feel",
            ),
        ]

    def open_items(self, status: Status | None, welcome: Welcome | None) -> list[str]:
        return [line.what for line in self.lines(status, welcome) if not line.done]

    def _guide(self, status: Status | None) -> tuple[bool, str]:
        if self.wire_here:
            return True, self.wire_here
        if self.homing and not (self.left_touched or Item.GUIDE in self._said):
            return False, self.homing
        if self.wire_said:
            known = self.left_touched or (status is not None and status.flags & Flag.REFERENCED)
            first = "" if known else "touch the left flange, then "
            return False, f"{self.wire_said}: {first}step the guide to the wire and say so"
        if Item.GUIDE in self._said:
            return True, "at the flange at the chuck, as you said"
        if not self.left_touched:
            return False, "move it to touch the left flange, at the chuck"
        place_mm = 0.0 if status is None else status.traverse_um / 1000
        away = abs(place_mm) > AT_START_MM
        if self.right_mm is None and self.homed:
            return False, "home found; send it back to the start" if away else AT_FLANGE
        if self.right_mm is None:
            return False, "left touched; move it to touch the right flange"
        if away:
            return False, f"{self.right_mm:.2f} mm between the touches; send it back to the start"
        return True, f"{self.right_mm:.2f} mm between the touches, at the start"

    def _guard(self, status: Status | None, welcome: Welcome | None) -> tuple[bool, str]:
        if not _has_guard(welcome):
            said = Item.GUARD in self._said
            return said, "" if said else "the board has no switch on it: look"
        closed = status is not None and not status.flags & Flag.GUARD_OPEN
        return closed, "the board sees it closed" if closed else "the board sees it open"


def _has_guard(welcome: Welcome | None) -> bool:
    return welcome is not None and bool(welcome.has & Has.GUARD)
