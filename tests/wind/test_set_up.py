"""The list before the wind: nothing is armed before it is done, every item is somebody's word, and the guide
moves one finite step at a time."""

from __future__ import annotations

from dataclasses import replace

import pytest
from session_bench import BLIND_BOARD, BOARD, HAND_DRILL, MACHINE, WIND, Bench, SmallBody
from test_session_stops import Script

from firmware_protocol.messages import Flag, Has, Side, Start, State, Stop, TraverseStep
from winder.plan.facing import Top
from winder.recipe.model import Direction
from winder.recipe.observations import OhmReading
from winder.wind.model import Asked, Intent, Item, Phase, Reading
from winder.wind.set_up_list import SetUpList

A, P = Intent, Phase
STEP_UM_PER_MS = 5


class SteppingBody(SmallBody):
    """A guide that walks 5 um a millisecond and knows its place from the last mark."""

    goal_um: int | None = None

    def step_traverse(self, distance_um: int) -> None:
        self.goal_um = self.seen.traverse_um + distance_um
        self.seen.at_rest, self.seen.arrived = False, False

    def mark_traverse(self, side: Side, at_um: int) -> None:
        super().mark_traverse(side, at_um)
        self.seen.traverse_um = at_um

    def obey(self, drive) -> None:
        super().obey(drive)
        if self.goal_um is not None:  # a stop, or the end: the guide stands
            self.goal_um, self.seen.at_rest = None, True

    def advance(self, span_ms: int, counted: bool = True) -> None:
        if self.goal_um is None:
            super().advance(span_ms, counted)
            return
        left = self.goal_um - self.seen.traverse_um
        most = STEP_UM_PER_MS * span_ms
        self.seen.traverse_um += max(-most, min(most, left))
        if self.seen.traverse_um == self.goal_um:
            self.goal_um = None
            self.seen.at_rest = self.seen.arrived = True


def list_of(**more) -> SetUpList:
    settings = {"guide": True, "width_m": 8e-3}
    return SetUpList(Direction.CLOCKWISE, **{**settings, **more})


def bench_of(set_up: SetUpList | None = None, **more) -> Bench:
    bench = Bench(body=SteppingBody(), todo=set_up or list_of(), **more)
    return bench.run_until(P.SETTING_UP).run(100)


def lines(bench: Bench) -> dict[Item, bool]:
    return {line.item: line.done for line in bench.view().set_up}


def step(bench: Bench, mm: float) -> None:
    assert bench.ask(A.STEP_GUIDE, mm) == ""
    bench.run(round(abs(mm) * 1000 / STEP_UM_PER_MS) + 200)


def referenced(bench: Bench, width_mm: float = 8.0) -> Bench:
    step(bench, -1.0)
    bench.ask(A.TOUCH_LEFT)
    bench.run(100)
    step(bench, width_mm)
    bench.ask(A.TOUCH_RIGHT)
    bench.run(100)
    assert bench.ask(A.GUIDE_TO_START) == ""
    return bench.run(round(width_mm * 1000 / STEP_UM_PER_MS) + 300)


def test_nothing_is_opened_or_loaded_before_the_list_is_done():
    bench = bench_of()
    bench.run(2000)
    assert bench.session.phase is P.SETTING_UP
    assert bench.sent == [] and bench.state() is State.STILL
    assert "still to be done: bobbin mounted, start lead" in bench.ask(A.SET_UP_DONE)
    assert A.START not in bench.session.may() and A.SET_UP_DONE not in bench.session.may()


def test_the_whole_list_leads_to_a_start():
    bench = bench_of()
    assert lines(bench) == dict.fromkeys(Item, False) | {Item.GUARD: True, Item.COUNT: True}
    bench.ask(A.DECLARE_TOP, Top.OPERATOR)
    bench.ask(A.CONFIRM, Item.LEAD)
    bench.ask(A.SET_TENSION, 12.0)
    referenced(bench)
    assert all(lines(bench).values())
    assert bench.ask(A.SET_UP_DONE) == ""
    bench.ready()
    assert bench.body.marks == [(Side.LEFT, 0), (Side.RIGHT, 8000)], "not marked a second time"
    assert bench.ask(A.START) == ""
    bench.run_until(P.WINDING)
    told = [e.text for e in bench.journal if e.kind in ("set up", "direction")]
    assert any("counter-clockwise as you see it" in text for text in told)
    assert any("12 cN" in text for text in told)
    assert not [text for text in told if "recipe says" in text]


def test_a_tension_is_judged_where_it_is_set_and_by_feel_is_an_answer():
    bench = bench_of(list_of(judge_tension=lambda cn: f"{cn:g} cN is judged" if cn else "by feel"))
    bench.ask(A.SET_TENSION, 45.0)
    said = {line.item: line for line in bench.view().set_up}
    assert said[Item.TENSION].said == "45 cN is judged" and said[Item.TENSION].done
    assert any(e.text == "tension: 45 cN is judged" for e in bench.journal)
    bench.ask(A.SET_TENSION, 0.0)
    assert lines(bench)[Item.TENSION]
    assert any(e.text == "tension: by feel" for e in bench.journal)


@pytest.mark.parametrize(("width_mm", "remarked"), [(8.25, False), (8.5, True), (7.5, True)])
def test_the_touches_measure_the_bobbin(width_mm, remarked):
    bench = referenced(bench_of(), width_mm)
    said = [e.text for e in bench.journal if e.kind == "set up" and "recipe says" in e.text]
    assert bool(said) is remarked
    if remarked:
        assert f"{width_mm:.2f} mm" in said[0] and "8.00 mm" in said[0]


def test_the_guide_must_be_back_at_the_start():
    bench = bench_of()
    bench.ask(A.TOUCH_LEFT)
    bench.run(100)
    step(bench, 8.0)
    bench.ask(A.TOUCH_RIGHT)
    bench.run(100)
    assert not lines(bench)[Item.GUIDE]
    bench.ask(A.GUIDE_TO_START)
    bench.run(3000)
    assert lines(bench)[Item.GUIDE]
    assert "there already" in bench.ask(A.GUIDE_TO_START)


def test_one_step_at_a_time_and_none_is_kept_for_later():
    bench = bench_of()
    assert bench.ask(A.STEP_GUIDE, 5.0) == ""
    assert "still moving" in bench.ask(A.STEP_GUIDE, 5.0)
    bench.run(300)
    assert "still moving" in bench.ask(A.STEP_GUIDE, 5.0)
    bench.run(1500)
    assert bench.body.seen.traverse_um == 5000
    bench.run(2000)
    assert bench.body.seen.traverse_um == 5000
    assert sum(type(sent) is TraverseStep for sent in bench.sent) == 1


def test_a_stop_ends_a_step_and_the_list_goes_on():
    bench = bench_of()
    bench.ask(A.STEP_GUIDE, 20.0)
    bench.run(500)
    assert bench.ask(A.PAUSE) == ""
    bench.run(500)
    stood = bench.body.seen.traverse_um
    assert 0 < stood < 20_000
    bench.run(1000)
    assert bench.body.seen.traverse_um == stood
    assert bench.session.phase is P.SETTING_UP
    step(bench, 1.0)


def test_leaving_while_the_guide_moves_stops_it_first():
    bench = bench_of()
    bench.ask(A.STEP_GUIDE, 50.0)
    bench.run(300)
    bench.ask(A.LEAVE)
    assert Stop() in bench.sent
    bench.run(1000)
    assert bench.session.finished and bench.body.seen.traverse_um < 3000


def test_an_open_guard_is_seen_and_refuses_a_step():
    bench = bench_of()
    bench.body.seen.guard_open = True
    bench.run(100)
    assert not lines(bench)[Item.GUARD]
    bench.ask(A.STEP_GUIDE, 1.0)
    bench.run(300)
    assert bench.body.seen.traverse_um == 0
    assert "guard" in bench.view().advice
    assert "say which item" in bench.ask(A.CONFIRM, Item.GUARD), "the board's word, not a person's"


def test_a_guard_opened_during_a_step_trips_and_the_list_is_taken_up_again():
    bench = bench_of()
    bench.ask(A.STEP_GUIDE, 20.0)
    bench.run(300)
    bench.body.seen.guard_open = True
    bench.run_until(P.TRIPPED)
    bench.body.seen.guard_open = False
    bench.run(300)
    assert bench.ask(A.CLEAR_TRIP) == ""
    bench.run_until(P.SETTING_UP)


def test_without_a_switch_the_guard_is_a_persons_word():
    bench = bench_of(identity=replace(BOARD, has=int(Has.DIRECTION_SENSE)))
    assert not lines(bench)[Item.GUARD]
    assert bench.ask(A.CONFIRM, Item.GUARD) == ""
    assert lines(bench)[Item.GUARD]


def test_a_hand_drill_has_no_guide_to_reference():
    set_up = list_of(guide=False)
    bench = Bench(
        machine=HAND_DRILL, todo=set_up, identity=replace(BLIND_BOARD, groups=(1,) + (0,) * 5)
    )
    bench.run_until(P.SETTING_UP).run(100)
    assert Item.GUIDE not in lines(bench)
    assert "no driven guide" in bench.ask(A.STEP_GUIDE, 1.0)


def test_a_declared_list_is_on_record_with_who_declared_it():
    bench = bench_of(list_of(top=Top.CHUCK))
    bench.session.ask(Asked(A.DECLARE_SET_UP, by="--start"), bench.now_ns)
    bench.ready()
    assert bench.body.marks == [(Side.LEFT, 0)]
    assert "set-up declared by --start" in [e.text for e in bench.journal]
    assert bench.session.course.plan.spindle == 1, "top to the chuck, clockwise: the motor's +"


@pytest.mark.parametrize(("top", "spindle"), [(Top.OPERATOR, -1), (Top.CHUCK, 1)])
def test_the_legs_turn_the_way_that_was_declared(top, spindle):
    bench = bench_of()
    bench.ask(A.DECLARE_TOP, top)
    bench.session.ask(Asked(A.DECLARE_SET_UP, by="test"), bench.now_ns)
    bench.ready()
    legs = [sent for sent in bench.sent if type(sent).__name__ == "PlanLeg"]
    assert legs and {leg.spindle for leg in legs} == {spindle}


@pytest.mark.parametrize(
    ("intent", "value"),
    [
        (A.DECLARE_TOP, "up"),
        (A.DECLARE_TOP, None),
        (A.SET_TENSION, -1.0),
        (A.SET_TENSION, float("nan")),
        (A.STEP_GUIDE, 0.0),
        (A.STEP_GUIDE, 101.0),
        (A.STEP_GUIDE, None),
        (A.CONFIRM, "everything"),
    ],
)
def test_what_does_not_fit_is_refused_in_words(intent, value):
    bench = bench_of()
    before = len(bench.journal)
    assert "say" in bench.ask(intent, value)
    assert len(bench.journal) == before and bench.sent == []


def test_a_step_needs_the_cautions():
    bench = bench_of(cautions_accepted=False)
    assert "cautions" in bench.ask(A.STEP_GUIDE, 1.0)
    assert "cautions" in bench.view().advice


def test_a_spindle_that_still_turns_from_before_is_stopped_and_no_alarm():
    """A program that died, and another one at once: the list comes up when it stands."""
    script = Script(todo=list_of())
    for count in (100, 110, 118, 124):
        script.status(State.SLOWING, count, wind=WIND + 1)
        assert script.session.phase is P.SLOWING and not script.session.watch.alarm
    assert Stop() in script.requests
    for _ in range(2):
        script.status(State.PAUSED, 124, wind=WIND + 1)
    assert script.session.phase is P.SETTING_UP
    script.status(State.WINDING, 130, wind=WIND + 1)
    assert script.session.phase is P.ALARM, "what moves now, moves by itself"


def test_a_board_that_moves_by_itself_during_the_list_is_stopped():
    script = Script(todo=list_of())
    script.status(State.STILL, wind=0)
    assert script.session.phase is P.SETTING_UP
    script.status(State.SETTING_UP, wind=0, flags=int(Flag.DRIVEN))
    assert script.session.phase is P.ALARM and script.count_of(Stop) == 1
    assert "does not see the spindle stopped" in script.ask(A.ACKNOWLEDGE)
    script.status(State.STILL, wind=0)
    assert script.session.phase is P.ALARM, "until a person has looked"
    assert script.ask(A.ACKNOWLEDGE) == ""
    script.status(State.STILL, wind=0)
    assert script.session.phase is P.SETTING_UP


def ohms(ohm: float, at_c: float = 20.0) -> Reading:
    return Reading(f"ohm, {ohm:g} ohm at {at_c:g} C", OhmReading(0.0, ohm, at_c))


def test_ohms_of_the_finished_coil_are_kept_as_they_were_read():
    bench = Bench().winding()
    assert "not possible" in bench.ask(A.MEASURED, ohms(60.0))
    bench.run_until(P.PAUSED)
    assert bench.ask(A.MEASURED, ohms(40.0)) == ""
    assert bench.session.readings.measured is None, "half a coil"
    bench.ask(A.CONTINUE)
    bench.run_until(P.COMPLETE)
    assert bench.ask(A.MEASURED, ohms(103.93, 30.0)) == ""
    assert bench.session.readings.measured == (103.93, 30.0)
    event = [e for e in bench.journal if e.kind == "measured"][-1]
    assert (event.facts["ohm"], event.facts["at_c"]) == (103.93, 30.0)


def test_a_spindle_that_turns_the_wrong_way_is_stopped_and_told():
    script = Script(todo=list_of(top=Top.OPERATOR))
    script.ask(A.DECLARE_SET_UP)
    script.prepared().ask(A.START)
    script.answer()
    script.status(State.WINDING, -1)
    assert script.session.phase is P.WINDING, "backlash"
    script.status(State.WINDING, -3)
    assert script.session.phase is P.SLOWING and script.count_of(Stop) >= 1
    event = [e for e in script.session.take_events() if e.kind == "direction"][-1]
    assert dict(event.facts)["sensor"] == "disagrees" and "wrong way" in event.text
    for count in (-4, -5):
        script.status(State.SLOWING, count)
    script.status(State.PAUSED, -5)
    assert "the wrong way" in script.ask(A.CONTINUE)
    assert script.count_of(Start) == 1


def test_a_spindle_that_turns_as_declared_is_on_record_once():
    bench = bench_of(list_of(top=Top.OPERATOR))
    bench.session.ask(Asked(A.DECLARE_SET_UP, by="test"), bench.now_ns)
    bench.winding().run_until(P.PAUSED)
    bench.ask(A.CONTINUE)
    bench.run_until(P.COMPLETE)
    seen = [e for e in bench.journal if e.kind == "direction" and "sensor" in dict(e.facts)]
    assert [dict(e.facts)["sensor"] for e in seen] == ["agrees"]


def test_without_a_sense_of_direction_nobody_claims_to_have_seen_it():
    bench = Bench(identity=BLIND_BOARD, machine=replace(MACHINE, direction_sense=False)).winding()
    bench.run_until(P.PAUSED)
    assert [e for e in bench.journal if e.kind == "direction"] == []
