"""What the list before the wind asks of the board: steps of the guide, marks, and the way the spindle turns.

Nothing here turns the spindle. A step is one finite move of the guide at rest, asked for by a person, with the
lease live; the board refuses it with the guard open.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace

from firmware_protocol.messages import (
    NO_WIND,
    Side,
    State,
    Status,
    TraverseMark,
    TraverseStep,
)
from winder.plan.facing import Top

from .asking import WRONG_WAY
from .model import Asked, Intent, Phase
from .phases import Phases
from .sense import Sense
from .setting_up import item_named, top_named

STEP_UM_MAX = 100_000


class SetUpOrders(Phases):
    """Takes the intents of the list."""

    def _obey(self, asked: Asked, now_ns: int) -> None:
        intent = asked.intent
        if intent is Intent.DECLARE_TOP:
            self._declare(asked, now_ns)
        elif intent is Intent.CONFIRM:
            self._confirm(asked, now_ns)
        elif intent is Intent.SET_TENSION:
            assert self.set_up is not None and asked.value is not None
            self.set_up.tension_cn = asked.value
            self._tell_item("tension", asked, now_ns, f"tension set to {asked.value:g} cN")
        elif intent is Intent.STEP_GUIDE:
            assert asked.value is not None
            self._step_guide(round(asked.value * 1000))
        elif intent is Intent.GUIDE_TO_START:
            assert self.status is not None
            back_um = -self.status.traverse_um
            self._step_guide(max(-STEP_UM_MAX, min(STEP_UM_MAX, back_um)))
        elif intent is Intent.TOUCH_LEFT:
            self._mark(Side.LEFT, 0)
        elif intent is Intent.TOUCH_RIGHT:
            assert self.status is not None
            self._mark(Side.RIGHT, self.status.traverse_um)
        elif intent in (Intent.SET_UP_DONE, Intent.DECLARE_SET_UP):
            self._end_set_up(asked, now_ns)
        else:
            super()._obey(asked, now_ns)

    def _declare(self, asked: Asked, now_ns: int) -> None:
        top = top_named(asked.text.strip())
        assert self.set_up is not None and top is not None
        self.set_up.declare(top)
        self._take_facing(asked.by, now_ns)

    def _take_facing(self, by: str, now_ns: int) -> None:
        """The plan turns the way that follows from the mounting; on record with who said so."""
        assert self.set_up is not None and self.set_up.facing is not None
        facing = self.set_up.facing
        self.plan = replace(self.plan, spindle=facing.spindle)
        self.preparation.turn(self.plan)
        facts = {"top": facing.top.value, "turning": facing.turning.value, "by": by}
        self._tell("direction", now_ns, facing.words, **facts)

    def _confirm(self, asked: Asked, now_ns: int) -> None:
        item = item_named(asked.text.strip())
        assert self.set_up is not None and item is not None
        self.set_up.confirm(item)
        self._tell_item(item.value, asked, now_ns, f"{item.value}: done, says {asked.by}")

    def _tell_item(self, item: str, asked: Asked, now_ns: int, text: str) -> None:
        value = {} if asked.value is None else {"value": asked.value}
        self._tell("set up", now_ns, text, item=item, by=asked.by, **value)

    def _step_guide(self, distance_um: int) -> None:
        self.stepping = True
        board, wind = self.board, self._wind_on_board
        self._do(lambda: TraverseStep(0, board.boot, wind, board.revision, distance_um))

    def _mark(self, side: Side, at_um: int) -> None:
        board, wind = self.board, self._wind_on_board
        self._do(lambda: TraverseMark(0, board.boot, wind, board.revision, side, at_um=at_um))

    @property
    def _wind_on_board(self) -> int:
        return NO_WIND if self.status is None else self.status.wind

    def _marked(self, mark: TraverseMark, now_ns: int) -> None:
        """The board took a mark, of the list or of the preparation."""
        set_up = self.set_up if self.phase is Phase.SETTING_UP else None
        if mark.side == Side.LEFT:
            self.preparation.marked = True
            if set_up is not None:
                set_up.touch_left()
                self._tell("set up", now_ns, "the guide touches the left flange", item="guide")
        elif set_up is not None:
            width_mm = mark.at_um / 1000
            remark = set_up.touch_right(width_mm)
            text = f"the guide touches the right flange at {width_mm:.2f} mm"
            self._tell("set up", now_ns, text, item="guide", width_mm=width_mm)
            if remark:
                self._tell("set up", now_ns, remark, item="guide", width_mm=width_mm)

    def _end_set_up(self, asked: Asked, now_ns: int) -> None:
        set_up = self.set_up
        assert set_up is not None
        declared = asked.intent is Intent.DECLARE_SET_UP
        if declared:
            set_up.by = asked.by
            if set_up.facing is None:
                set_up.declare(Top.OPERATOR)
                self._take_facing(asked.by, now_ns)
        set_up.done = True
        text = f"set-up declared by {asked.by}" if declared else "set-up done"
        self._tell("set up", now_ns, text, item="all", by=asked.by)

    def _watch_sense(self, status: Status, now_ns: int) -> None:
        """A sensor that knows the direction contradicts what was declared: stop, and tell."""
        winding = self.phase in (Phase.STARTING, Phase.WINDING) and status.state == State.WINDING
        if not (winding and self.tally.direction_sense and status.wind == self.wind and self.asked):
            return
        seen = self.sense.look(status.count)
        if seen is None:
            return
        facing = self.set_up.facing if self.set_up is not None else None
        turning = facing.turning if facing is not None else None
        facts = {"sensor": seen.value, "turning": turning.value if turning else ""}
        if seen is Sense.AGREES:
            if turning is None:
                return  # nothing was declared
            way = f"turns {turning.value}, as declared"
            self._tell("direction", now_ns, f"by the sensor the spindle {way}", **facts)
            return
        declared = f"{turning.value} was declared" if turning else "against the way of winding"
        text = f"by the sensor the spindle turns the wrong way: {declared}; it is stopped"
        self._tell("direction", now_ns, text, **facts)
        self._stop(now_ns)
        self._go(Intent.PAUSE, now_ns, WRONG_WAY)

    def _set_up_key(self) -> Hashable:
        """What the intents of the list depend on, for whoever keeps what may be asked."""
        if self.phase is not Phase.SETTING_UP or self.set_up is None:
            return None
        status = self.status
        left = tuple(self.set_up.open_items(status, self.welcome))
        at_start = status is None or status.traverse_um == 0
        return self.stepping, self.set_up.left_touched, at_start, status is None, left
