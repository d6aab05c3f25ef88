"""The list before a wind as it is gone through: what it asks of the board, and the way the spindle turns.

Nothing here turns the spindle. A step is one finite move of the guide at rest, asked for by a person, with the
lease live; the board refuses it with the guard open.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace

from firmware_protocol.messages import Flag, Side, Status, TraverseMark, TraverseStep
from winder.plan.facing import Top

from .course import Course
from .homing import Homing
from .model import Asked, Intent, Item, Phase, SetUpLine
from .motion import Motion
from .set_up_list import SetUpList
from .wire_place import WirePlace

STEP_UM_MAX = 100_000  # what the protocol allows in one step


class SetUp:
    """Takes the intents of the list. ``list`` None: nobody is asked to go through one."""

    def __init__(self, course: Course, motion: Motion, todo: SetUpList | None) -> None:
        self._course = course
        self.home = Homing(course, motion)
        self.list = todo
        self.stepping = False  # a step of the guide was asked for and has not ended
        self.stepped = False  # it stands where a person has led it, not where the wire is
        self.wire_open = False  # turns came off or the wire broke: where it is has to be said
        self._placing = False  # marks under way that say where the wire is

    @property
    def pending(self) -> bool:
        """The list is still to be gone through."""
        return self.list is not None and not self.list.done

    def obey(self, asked: Asked) -> None:
        intent, value, course = asked.intent, asked.value, self._course
        assert self.list is not None
        course.advice = ""  # of a refusal before
        if intent is Intent.DECLARE_TOP:
            assert isinstance(value, Top)
            self.list.declare(value)
            self.take_facing(asked.by)
        elif intent is Intent.CONFIRM:
            assert isinstance(value, Item)
            self.list.confirm(value)
            if value is Item.GUIDE:
                course.preparation.marked = False  # where it stands now is the flange
            self._tell(value, f"{value.value}: done", asked)
        elif intent is Intent.SET_TENSION:
            assert isinstance(value, float)
            self.list.tension_cn = value
            self._tell(Item.TENSION, f"tension: {self.list.tension_said}", asked, tension_cn=value)
        elif intent is Intent.STEP_GUIDE:
            assert isinstance(value, float)
            self._step(round(value * 1000))
        elif intent is Intent.GUIDE_TO_START:
            self._step(max(-STEP_UM_MAX, min(STEP_UM_MAX, -self._guide_um)))
        elif intent is Intent.HOME_GUIDE:
            self._home()
        elif intent is Intent.WIRE_HERE:
            self._wire_here(asked)
        elif intent in (Intent.TOUCH_LEFT, Intent.TOUCH_RIGHT):
            left = intent is Intent.TOUCH_LEFT
            self._mark(Side.LEFT if left else Side.RIGHT, 0 if left else self._guide_um)
        else:
            self._end(asked)
        course.view_is_stale = True

    def take_facing(self, by: str) -> None:
        """The plan turns the way that follows from the mounting; on record with who said so."""
        course = self._course
        if self.list is None or self.list.facing is None:
            return
        facing = self.list.facing
        course.plan = replace(course.plan, spindle=facing.spindle)
        course.preparation.turn(course.plan)
        facts = {"top": facing.top.value, "turning": facing.turning.value, "by": by}
        course.tell("direction", facing.words, **facts)

    def marked(self, mark: TraverseMark) -> None:
        """The board took a mark, of the list or of the preparation."""
        course, todo = self._course, self.list
        in_list = todo is not None and course.phase is Phase.SETTING_UP
        if self._placing:
            course.preparation.marked = True
            return
        if mark.side == Side.LEFT:
            course.preparation.marked = True
            if in_list and todo is not None:
                todo.touch_left()
                course.tell("set up", "the guide touches the left flange", item="guide")
        elif in_list and todo is not None:
            width_mm = mark.at_um / 1000
            remark = todo.touch_right(width_mm)
            text = f"the guide touches the right flange at {width_mm:.2f} mm"
            course.tell("set up", text, item="guide", width_mm=width_mm)
            if remark:
                course.tell("set up", remark, item="guide", width_mm=width_mm)

    def wire_place(self) -> WirePlace | None:
        """Where the wire is by the record; None where no guide lays it, or nothing is on record."""
        course = self._course
        leg = course.loaded_leg
        legs = (leg.leg,) if leg is not None else course.plan.legs
        pitched = next((one for one in legs if one.pitch_m > 0), None)
        if pitched is None or not course.lays_by_guide or course.turns <= 0:
            return None
        return course.way.at(course.turns, pitched)

    def wire_moved(self) -> None:
        """The wire is not where the guide left it any more."""
        self.wire_open = self._course.lays_by_guide

    def guide_leaves(self, *, home: bool) -> None:
        """The board has said that it moves the guide."""
        self.stepping = True
        if home:
            self.home.taken()

    def guide_rests(self, status: Status) -> None:
        """It stands; perhaps a homing leads it on."""
        self.stepping = False
        if not self.home.under_way or self.list is None:
            return
        self.stepping = self.home.goes_on(status)
        if self.home.found and not self.stepping:
            self.list.touch_left()  # zero is at the flange, wherever the guide stands
            self.list.homed = self._course.preparation.marked = True
        self.list.homing = self.home.said

    def give_up(self, why: str) -> None:
        """A homing that is under way ends here, as far as anybody knows."""
        self.home.fail(why)
        if self.list is not None:
            self.list.homing = self.home.said

    def placing_failed(self, why: str) -> None:
        """A move or a mark was refused or overtaken: it has to be said again."""
        self.stepping = False
        self.give_up(why)
        if self._placing:
            self._placing, self.wire_open = False, True
            if self.list is not None:
                self.list.wire_here = ""

    def _wire_here(self, asked: Asked) -> None:
        """The guide stands where the wire is. A board that knows its guide's place keeps it; another one takes the record's.

        Where the layer goes on the other way, a step too small to be seen gives the guide its direction.
        """
        course, status, place = self._course, self._course.board.status, self.wire_place()
        assert status is not None and place is not None
        known = bool(status.flags & Flag.REFERENCED)
        at_um = status.traverse_um if known else place.place_um
        self._placing, self.wire_open, self.stepped = True, False, False
        course.do(*course.preparation.at_wire(status, replace(place, place_um=at_um), status.wind))
        way = "right" if place.rightward else "left"
        said = f"the wire is at {at_um / 1000:.2f} mm, the layer goes on to the {way}"
        if self.list is not None:
            self.list.wire_here = said
        course.way.note(replace(place, place_um=at_um))
        facts = {"guide_um": at_um, "rightward": place.rightward}
        course.tell("set up", said, item=Item.GUIDE.value, by=asked.by, **facts)

    def lines(self) -> tuple[SetUpLine, ...]:
        board = self._course.board
        return () if self.list is None else self.list.lines(board.status, board.welcome)

    def open_items(self) -> list[str]:
        return [line.what for line in self.lines() if not line.done]

    def key(self) -> Hashable:
        """What the intents of the list depend on, for whoever keeps what may be asked."""
        if self.list is None or self._course.phase is not Phase.SETTING_UP:
            return None
        heard = self._course.board.status is not None
        return (
            self.stepping,
            self.list.left_touched,
            self._guide_um == 0,
            heard,
            tuple(self.open_items()),
        )

    @property
    def _guide_um(self) -> int:
        status = self._course.board.status
        return 0 if status is None else status.traverse_um

    def _tell(self, item: Item, text: str, asked: Asked, **facts: float) -> None:
        self._course.tell("set up", text, item=item.value, by=asked.by, **facts)

    def _home(self) -> None:
        """Until it is found again nothing is known of the guide's place."""
        assert self.list is not None
        self.list.forget_guide()
        self._course.preparation.marked = self._placing = False
        self.stepping = self.stepped = True
        self.home.begin(self._guide_um)
        self.list.homing = self.home.said

    def _step(self, distance_um: int) -> None:
        self.stepping = self.stepped = True
        self._placing = False
        board, wind = self._course.board, self._course.board.wind
        self._course.do(lambda: TraverseStep(0, board.boot, wind, board.revision, distance_um))

    def _mark(self, side: Side, at_um: int) -> None:
        board, wind = self._course.board, self._course.board.wind
        self._course.do(
            lambda: TraverseMark(0, board.boot, wind, board.revision, side, at_um=at_um)
        )

    def _end(self, asked: Asked) -> None:
        todo = self.list
        assert todo is not None
        declared = asked.intent is Intent.DECLARE_SET_UP
        if declared:
            todo.by = asked.by
        todo.done = True
        text = f"set-up declared by {asked.by}" if declared else "set-up done"
        facts = {}
        if declared and todo.tension_cn is not None:
            text += f"; tension: {todo.tension_said}"
            facts = {"tension_cn": todo.tension_cn}
        self._course.tell("set up", text, item="all", by=asked.by, **facts)
