"""Bells and whole-screen changes: each event once, each can be turned off, and only four of them fill the screen."""

from __future__ import annotations

import pytest
from piloting import Stage, on_stage

from tests.pages.scenes import SCENES, WINDING, moment
from tests.pages.still import StillRun
from winder.clock import NS_PER_S
from winder.screens.calls import FILLS, Call, Caller, Calling, events
from winder.wind.model import Phase, WireView

LED = SCENES["by hand"]
DRILL = moment(WINDING, board_stops=False, remaining_turns=30.0)
BECOMES = {
    Call.ALARM: (WINDING, SCENES["alarm"]),
    Call.TRIP: (WINDING, SCENES["trip"]),
    Call.WIRE_ENDS: (WINDING, moment(WINDING, wire=WireView(0.8, 14.0))),
    Call.STOP: (DRILL, moment(DRILL, remaining_turns=2.0, early_turns=2.4)),
    Call.PAUSE: (WINDING, moment(SCENES["paused"], pauses_here="measure")),
    Call.LAST: (SCENES["landing"], moment(SCENES["landing"], remaining_turns=20.0)),
    Call.EDGE: (LED, SCENES["edge near"]),
}


def rung(calling: Calling, *views) -> list[int]:
    """When the bell rang, tenths of a second, with a view each second and a look each tenth."""
    rings: list[int] = []
    tenth = 0
    caller = Caller(calling, lambda: rings.append(tenth))
    for view in views:
        for _ in range(20):
            caller.look(view, tenth * NS_PER_S // 10)
            tenth += 1
    return rings


@pytest.mark.parametrize("call", [call for call in Call if call is not Call.EDGE])
def test_an_event_is_called_once_in_its_own_rhythm_and_can_be_turned_off(call):
    before, after = BECOMES[call]
    assert call in events(before, after)
    rings = rung(Calling(), before, after, after, after)
    assert len(rings) == len(call.bells_ms)
    assert rung(Calling(frozenset(c.value for c in Call)), before, after) == []


def test_the_edge_is_called_when_the_hand_has_to_turn_round():
    lane = SCENES["edge near"].lay.lane
    from dataclasses import replace

    at = moment(SCENES["edge near"], lane=replace(lane, turns_to_edge=0.5))
    assert events(SCENES["edge near"], at) == {Call.EDGE}


def test_rhythms_differ_from_each_other():
    assert len({call.bells_ms for call in Call}) == len(Call)


def test_a_drill_is_called_early_by_what_it_ran_on_before():
    near = moment(DRILL, remaining_turns=2.5, early_turns=2.4)
    assert Call.STOP not in events(DRILL, near)
    assert Call.STOP in events(near, moment(near, remaining_turns=2.4))
    motor = moment(near, board_stops=True)
    assert Call.STOP not in events(motor, moment(motor, remaining_turns=2.4))


def test_a_sound_of_ones_own_takes_the_bells_place():
    heard: list[str] = []
    before, after = BECOMES[Call.PAUSE]
    assert rung(Calling(sound=heard.append), before, after) == []
    assert heard == ["pause"]


@pytest.mark.parametrize("call", list(BECOMES))
def test_only_what_matters_most_fills_the_screen(call):
    before, after = BECOMES[call]
    run = StillRun(before)

    async def play(stage: Stage) -> None:
        run.view = after
        await stage.tick(0.1)
        reversed_page = stage.face._ground.value == "alarm"
        assert reversed_page == (call in FILLS or after.phase in (Phase.TRIPPED, Phase.ALARM))
        await stage.tick(4.0)
        if call in FILLS:
            assert stage.face._ground.value == "plain"

    on_stage(play, run, size=(120, 40))
