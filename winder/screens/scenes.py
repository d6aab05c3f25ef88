"""Invented moments of invented winds, for pictures and for trying a screen without a machine.

Nothing here was measured: the maker of electric kalimbas, the coils and the figures are made up.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

from winder.errors import UserMistake
from winder.screens.bench import WindRun
from winder.session.model import Asked, Certainty, CountTruth, Intent, Phase, WindView

COUNTS_PER_TURN = 4
_TALK = frozenset({Intent.PAUSE, Intent.NOTE, Intent.LEAVE})
_SPEED = frozenset({Intent.SLOWER, Intent.FASTER})

WINDING = WindView(
    phase=Phase.WINDING,
    headline="winding",
    advice="pauses to measure in 212 turns, about 14 s",
    recipe_name="kalimba bass coil",
    direction="clockwise",
    truth=CountTruth(Certainty.EXACT, 12424, 12424),
    counts_per_turn=COUNTS_PER_TURN,
    turns=3106.0,
    target_turns=5000,
    remaining_turns=1894.0,
    speed_rpm=912.0,
    planned_rpm=900.0,
    seconds_to_go=126.0,
    next_stop_turns=212.0,
    next_stop_is="pause",
    ohm_now=(521.0, 512.0, 531.0),
    ohm_end=(853.0, 838.0, 869.0),
    layer=23,
    layers=37,
    guide_share=0.62,
    guide_rightward=True,
    link_age_s=0.03,
    pace_permille=1000,
    trip="",
    trip_advice="",
    may=_TALK | _SPEED,
    lines=(
        "opened: 0 turns, exact",
        "started at 600 rpm for the bedding",
        "at rest at 200 turns: planned pause",
        "note: first layers lie well",
        "continued",
        "at rest at 2 400 turns: planned pause",
        "continued",
    ),
    window_mm=(9.5, 3.4, 2.6),
)


def _at_rest(view: WindView, turns: float, **changes: object) -> WindView:
    counts = round(turns * COUNTS_PER_TURN)
    base = dataclasses.replace(
        view,
        turns=turns,
        remaining_turns=view.target_turns - turns,
        truth=CountTruth(Certainty.EXACT, counts, counts),
        speed_rpm=0.0,
        seconds_to_go=None,
    )
    return dataclasses.replace(base, **changes)  # type: ignore[arg-type]


_PAUSED = _at_rest(
    WINDING,
    3318.0,
    phase=Phase.PAUSED,
    headline="paused",
    advice="continue, or end here; about 1 min 56 s of winding left",
    next_stop_turns=1682.0,
    next_stop_is="end",
    ohm_now=(558.0, 549.0, 569.0),
    layer=25,
    guide_share=0.2,
    guide_rightward=False,
    may=_TALK | _SPEED | {Intent.CONTINUE, Intent.END_HERE, Intent.SETTLE_COUNT},
    lines=(*WINDING.lines, "at rest at 3 318 turns: planned pause"),
)

SCENES: dict[str, WindView] = {
    "winding": WINDING,
    "landing": dataclasses.replace(
        WINDING,
        turns=4913.0,
        remaining_turns=87.0,
        truth=CountTruth(Certainty.EXACT, 19652, 19652),
        speed_rpm=417.0,
        planned_rpm=420.0,
        seconds_to_go=14.0,
        advice="complete in 87 turns, about 14 s",
        next_stop_turns=87.0,
        next_stop_is="end",
        ohm_now=(837.0, 823.0, 853.0),
        layer=37,
        guide_share=0.31,
        may=_TALK,
    ),
    "paused": _PAUSED,
    "ready": _at_rest(
        WINDING,
        0.0,
        phase=Phase.READY,
        headline="ready",
        advice="keep hands clear of the spindle and start",
        next_stop_turns=200.0,
        ohm_now=None,
        layer=1,
        guide_share=0.0,
        may=_TALK | {Intent.START, Intent.SETTLE_COUNT, Intent.END_HERE},
        lines=("opened: 0 turns, exact", "guide marked: left and right turning point"),
    ),
    "complete": _at_rest(
        WINDING,
        5000.0,
        phase=Phase.COMPLETE,
        headline="complete",
        advice="write down 5000 turns, exact",
        next_stop_turns=None,
        next_stop_is="",
        ohm_now=(853.0, 838.0, 869.0),
        layer=37,
        guide_share=1.0,
        may=_TALK | {Intent.SETTLE_COUNT},
        lines=(*WINDING.lines, "at rest at 5 000 turns: complete"),
    ),
    "doubt": dataclasses.replace(
        _PAUSED,
        truth=CountTruth(
            Certainty.BETWEEN,
            13260,
            13284,
            why="the spindle was turned at rest and the sensor cannot tell which way",
        ),
        advice="the count is in doubt: settle it, then continue or end here",
    ),
    "trip": _at_rest(
        WINDING,
        3106.0,
        phase=Phase.TRIPPED,
        headline="tripped",
        advice="",
        trip="the wire is no longer seen: it broke or the spool is empty",
        trip_advice="find both ends of the wire and look at the lay before anything else",
        truth=CountTruth(
            Certainty.BETWEEN, 12424, 12470, why="the wire left between two looks at its sensor"
        ),
        may=_TALK | {Intent.CLEAR_TRIP, Intent.SETTLE_COUNT},
        lines=(*WINDING.lines, "tripped: wire lost"),
    ),
    "unheard": dataclasses.replace(
        WINDING,
        phase=Phase.UNHEARD,
        headline="not heard",
        advice="by itself the board comes to rest within one second plus slowing down; watch the spindle and check the cable",
        link_age_s=2.4,
        seconds_to_go=None,
        truth=CountTruth(
            Certainty.BETWEEN, 12424, 12620, why="the board has not been heard since it moved"
        ),
        may=_TALK,
    ),
    "connecting": _at_rest(
        WINDING,
        0.0,
        phase=Phase.CONNECTING,
        headline="connecting",
        advice="waits for the board to answer",
        link_age_s=None,
        ohm_now=None,
        next_stop_turns=None,
        next_stop_is="",
        layer=0,
        guide_share=None,
        may=_TALK | {Intent.ACCEPT_CAUTIONS},
        lines=(),
    ),
    "unread": _at_rest(
        WINDING,
        0.0,
        phase=Phase.READY,
        headline="ready",
        advice="read and accept the cautions, then start",
        next_stop_turns=200.0,
        ohm_now=None,
        layer=1,
        guide_share=0.0,
        may=_TALK | {Intent.ACCEPT_CAUTIONS},
        lines=("opened: 0 turns, exact",),
    ),
}
OTHER_SCENES = ("cautions", "note", "start")


class StillRun:
    """A wind that never moves on: shows one view and remembers what was asked."""

    def __init__(self, view: WindView) -> None:
        self.view = view
        self.finished = False
        self.trouble: BaseException | None = None
        self.asked: list[Asked] = []
        self.signs_of_life = 0
        self.closed = 0
        self.to_refuse: list[str] = []

    def ask(self, asked: Asked) -> None:
        self.asked.append(asked)

    def screen_is_alive(self) -> None:
        self.signs_of_life += 1

    def refusals(self) -> list[str]:
        refused, self.to_refuse = self.to_refuse, []
        return refused

    def close(self, wait_s: float) -> None:
        self.closed += 1
        self.finished = True


@dataclass(frozen=True, slots=True)
class InventedRecipe:
    name: str
    path: str
    summary: str


@dataclass(frozen=True, slots=True)
class InventedCoil:
    coil_id: int
    name: str
    date: str
    turns: str
    truth: str
    state: str


class StillBench:
    """A workbench with an invented shelf."""

    def __init__(self, view: WindView = WINDING) -> None:
        self._view = view
        self.opened: list[tuple[str, str]] = []

    def recipes(self) -> Sequence[InventedRecipe]:
        return (
            InventedRecipe("kalimba bass coil", "bass.toml", "5 000 turns of 0.063 mm, 853 ohm"),
            InventedRecipe(
                "kalimba treble coil", "treble.toml", "3 200 turns of 0.063 mm, 470 ohm"
            ),
            InventedRecipe("rotor sensor", "rotor.toml", "900 turns of 0.1 mm, 41 ohm"),
            InventedRecipe(
                "sketch", "sketch.toml", "line 7: wire: '9,5 mm' has a comma; write 9.5 mm"
            ),
        )

    def shelf(self) -> Sequence[InventedCoil]:
        return (
            InventedCoil(12, "kalimba bass coil", "2026-03-02", "5 000 turns", "exact", "complete"),
            InventedCoil(11, "rotor sensor", "2026-03-01", "900 turns", "vouched", "complete"),
            InventedCoil(10, "rotor sensor", "2026-02-27", "212 turns", "exact", "ended here"),
        )

    def shelf_record(self, coil_id: int) -> str:
        return f"coil {coil_id}\ninvented, for pictures\n5 000 turns, exact"

    def unfinished(self) -> Sequence[str]:
        return ("Coil 9 (rotor sensor) did not end properly: between 480 and 506 turns.",)

    def ports(self) -> Sequence[str]:
        return ("sim", "/dev/serial/by-id/usb-bench-board-0001")

    def open_wind(self, recipe_path: str, port: str) -> WindRun:
        if recipe_path == "sketch.toml":
            raise UserMistake(
                "'9,5 mm' has a comma", where="sketch.toml:7: wire", remedy="write 9.5 mm"
            )
        self.opened.append((recipe_path, port))
        return StillRun(self._view)
