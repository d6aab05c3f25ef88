"""Invented moments of the list before the wind, beside those of the wind itself."""

from __future__ import annotations

import dataclasses

from tests.pages.scenes import TALK, WINDING, at_rest
from winder.wind.homing import FINDING, HANDS_OFF
from winder.wind.model import Intent, Item, Phase, SetUpLine, WindView
from winder.wind.set_up_list import AT_FLANGE

_LIST = (
    SetUpLine(
        Item.BOBBIN,
        "bobbin mounted",
        True,
        "top towards you: the spindle turns counter-clockwise as you see it from the free end",
    ),
    SetUpLine(Item.LEAD, "start lead fixed and insulated", True, ""),
    SetUpLine(Item.TENSION, "tension set", True, "12 cN"),
    SetUpLine(
        Item.GUIDE, "guide referenced", False, "left touched; move it to touch the right flange"
    ),
    SetUpLine(Item.GUARD, "guard closed", True, "the board sees it closed"),
    SetUpLine(Item.COUNT, "count at zero", True, "the board counts this wind from zero"),
)
_NOT_FOUND = (
    "home not found, the limit switch is loose or stuck: find it again, or touch the left flange"
)


def _with_guide(said: str) -> tuple[SetUpLine, ...]:
    return tuple(
        dataclasses.replace(line, said=said) if line.item is Item.GUIDE else line for line in _LIST
    )


# Moments without a count of their own.
LIST_SCENES: dict[str, WindView] = {
    "setting up": at_rest(
        WINDING,
        0.0,
        phase=Phase.SETTING_UP,
        headline="setting up",
        advice="guide referenced: left touched; move it to touch the right flange",
        ohm_now=None,
        next_stop_turns=None,
        next_stop_is="",
        layer=1,
        guide_share=None,
        guide_mm=6.3,
        set_up=_LIST,
        may=TALK
        | {
            Intent.DECLARE_TOP,
            Intent.CONFIRM,
            Intent.SET_TENSION,
            Intent.STEP_GUIDE,
            Intent.GUIDE_TO_START,
            Intent.TOUCH_LEFT,
            Intent.TOUCH_RIGHT,
        },
        lines=("the guide touches the left flange",),
    ),
}
LIST_SCENES["setting up, home"] = dataclasses.replace(
    LIST_SCENES["setting up"],
    advice=f"guide referenced: {AT_FLANGE}",
    may=LIST_SCENES["setting up"].may | {Intent.HOME_GUIDE, Intent.WIRE_HERE},
    set_up=_with_guide(AT_FLANGE),
    lay=dataclasses.replace(LIST_SCENES["setting up"].lay, guide_mm=0.0),
)
LIST_SCENES["finding home"] = dataclasses.replace(
    LIST_SCENES["setting up"],
    headline="finding home",
    advice=HANDS_OFF,
    may=TALK,
    set_up=_with_guide(FINDING),
    motion=dataclasses.replace(
        LIST_SCENES["setting up"].motion, guide_moves=True, guide_homes=True
    ),
    lay=dataclasses.replace(LIST_SCENES["setting up"].lay, guide_mm=-4.2),
)
LIST_SCENES["home not found"] = dataclasses.replace(
    LIST_SCENES["setting up"],
    advice=f"guide referenced: {_NOT_FOUND}",
    may=LIST_SCENES["setting up, home"].may,
    set_up=_with_guide(_NOT_FOUND),
    lay=dataclasses.replace(LIST_SCENES["setting up"].lay, guide_mm=-127.0),
)
OTHER_SCENES = (*LIST_SCENES, "cautions", "note", "start")
