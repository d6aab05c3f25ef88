"""The guide's home before the wind: found, not found, stopped, cut off; its place is never taken for known where it is not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from session_bench import BOARD, MACHINE, Bench
from test_set_up import SteppingBody, lines, list_of, step

from firmware_protocol.connection import HostEnd
from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.messages import Side, Stop, TraverseStep, Trip
from winder.plan.facing import Top
from winder.wind.guards import SAY_HOW_FAR
from winder.wind.model import Intent, Item, Phase
from winder.wind.phases import TABLE
from winder.wind.wire_place import WirePlace

A, P = Intent, Phase
FLANGE_MM, TRAVEL_UM = 12.5, 100_000
HOMES = replace(BOARD, groups=(1, 1, 2, 1, 0, 0))
MACHINE_HOMES = replace(MACHINE, limit_switch=True, switch_to_flange_m=FLANGE_MM * 1e-3)
UM_A_MS = 10


class HomingBody(SteppingBody):
    """A guide that truly stands 30 mm right of its switch; ``switch``: sound, "never", "loose" or "stuck"."""

    switch = ""
    true_um = 30_000
    _home: TraverseHome | None = None

    def lead_far(self, ask: TraverseHome | TraverseMove) -> None:
        self._home = ask if isinstance(ask, TraverseHome) else None
        um = ask.distance_um if isinstance(ask, TraverseMove) else -self.true_um
        if self._home is not None and self.switch == "never":
            um = -(TRAVEL_UM + round(FLANGE_MM * 1e3)) * 9 // 8
        if self._home is not None and self.switch == "stuck":
            um = 20_000
        self.step_traverse(um)

    def obey(self, drive) -> None:
        super().obey(drive)
        self._home = None

    def advance(self, span_ms: int, counted: bool = True) -> None:
        before = self.seen.traverse_um
        self.seen.trip = Trip.NONE
        super().advance(span_ms, counted)
        self.true_um += self.seen.traverse_um - before
        if not self.seen.arrived or self._home is None:
            return
        if self.switch:
            self.seen.arrived, self.seen.trip = False, Trip.TRAVERSE_LIMIT
        else:
            self.seen.traverse_um = self._home.at_um
        self._home = None


def homing(switch: str = "", todo=None, **more) -> Bench:
    body = HomingBody()
    body.switch = switch
    more = {"identity": HOMES, "machine": MACHINE_HOMES, **more}
    bench = Bench(body=body, todo=todo or list_of(), **more)
    return bench.run_until(P.SETTING_UP).run(100)


def ended(bench: Bench) -> Bench:
    for _ in range(1000):
        if not bench.session.set_up.home.under_way:
            return bench.run(200)
        bench.run(50)
    raise AssertionError("it goes on for ever")


def plugged_in(bench: Bench) -> Bench:
    """The port is open again, and the board greeted by another session of this program."""
    bench.cable, bench.host = True, HostEnd(4711)
    bench.host.open(bench.now_ns)
    bench.session.reopened(bench.now_ns)
    return bench


def said(bench: Bench) -> str:
    return next(line.said for line in bench.view().set_up if line.item is Item.GUIDE)


def told(bench: Bench) -> list[str]:
    return [event.text for event in bench.journal if event.kind == "set up"]


def sent(bench: Bench, kind: type) -> int:
    return sum(type(request) is kind for request in bench.sent)


def test_it_ends_at_the_left_flange_and_a_person_says_so():
    bench = homing()
    assert bench.ask(A.HOME_GUIDE) == ""
    bench.run(500)
    view = bench.view()
    assert view.headline == "finding home" and view.motion.guide_moves
    assert "keep fingers and wire clear" in view.advice and said(bench) == "on its way home"
    assert "still moving" in bench.ask(A.STEP_GUIDE, 1.0)
    ended(bench)
    assert bench.body.true_um == FLANGE_MM * 1000 and bench.body.seen.traverse_um == 0
    assert (sent(bench, TraverseHome), sent(bench, TraverseMove)) == (1, 1)
    assert "look that it is at the left flange" in said(bench)
    assert not lines(bench)[Item.GUIDE]
    assert told(bench)[-1].startswith("the guide stands at the left flange, 12.5 mm right of")
    assert bench.ask(A.CONFIRM, Item.GUIDE) == ""
    assert lines(bench)[Item.GUIDE]


def test_the_wind_is_laid_from_there():
    bench = homing(list_of(top=Top.CHUCK))
    bench = homing(todo=list_of(top=Top.CHUCK))
    bench.ask(A.HOME_GUIDE)
    ended(bench)
    bench.ask(A.DECLARE_SET_UP)
    bench.winding()
    assert bench.body.marks == [], "the board knows its place"
    assert bench.body.true_um == FLANGE_MM * 1000


def test_at_another_flange_the_persons_word_is_the_place():
    bench = homing(todo=list_of(top=Top.CHUCK))
    bench.ask(A.HOME_GUIDE)
    ended(bench)
    step(bench, 0.5)
    assert "send it back to the start" in said(bench)
    assert bench.ask(A.CONFIRM, Item.GUIDE) == ""
    bench.ask(A.DECLARE_SET_UP)
    bench.ready()
    assert bench.body.marks == [(Side.LEFT, 0)]


@pytest.mark.parametrize(
    ("switch", "words"),
    [
        ("never", "was not met in 127 mm"),
        ("loose", "loose or stuck"),
        ("stuck", "loose or stuck"),
    ],
)
def test_a_switch_that_cannot_be_trusted_trips_is_told_and_can_be_tried_again(switch, words):
    bench = homing(switch)
    bench.ask(A.HOME_GUIDE)
    bench.run_until(P.TRIPPED, limit_ms=60_000).run(200)
    trouble = bench.view().trouble
    assert words in trouble.trip and "clear the trip, then find its home again" in trouble.advice
    assert any("not known" in text and words in text for text in told(bench))
    assert bench.ask(A.CLEAR_TRIP) == ""
    bench.run_until(P.SETTING_UP).run(100)
    assert words in said(bench) and "touch the left flange" in said(bench)
    assert sent(bench, TraverseMove) == 0
    bench.body.switch = ""
    assert bench.ask(A.HOME_GUIDE) == ""
    ended(bench)
    assert bench.body.seen.traverse_um == 0 and "home found" in said(bench)


def test_a_stop_that_meets_the_switch_is_not_called_a_bad_switch():
    bench = homing("loose")
    bench.ask(A.HOME_GUIDE)
    bench.run(2900)
    bench.body.seen.trip = Trip.TRAVERSE_LIMIT
    bench.body.advance = lambda span_ms, counted=True: None  # it trips as the stop arrives
    bench.ask(A.PAUSE)
    bench.run_until(P.TRIPPED).run(200)
    assert "stopped as it met its limit switch" in bench.view().trouble.trip


@pytest.mark.parametrize("how", [A.PAUSE, A.CUT])
@pytest.mark.parametrize("after_ms", [20, 500, 3000, 6020, 6500])
def test_a_stop_ends_it_at_once_and_nothing_goes_on_by_itself(how, after_ms):
    bench = homing()
    bench.ask(A.HOME_GUIDE)
    bench.run(after_ms)
    assert bench.ask(how) == ""
    before = len(bench.sent)
    bench.run(500)
    stood = bench.body.true_um
    bench.run(4000)
    assert bench.body.true_um == stood
    assert not [one for one in bench.sent[before:] if isinstance(one, TraverseHome | TraverseMove)]
    assert bench.session.phase is P.SETTING_UP and not bench.session.set_up.stepping
    known = bench.session.set_up.list.left_touched
    if known:
        assert bench.body.true_um - bench.body.seen.traverse_um == FLANGE_MM * 1000
        assert "home found" in said(bench)
    else:
        assert "home not found" in said(bench)
    bench.ask(A.HOME_GUIDE)
    ended(bench)
    assert bench.body.true_um == FLANGE_MM * 1000


def test_a_place_that_was_known_is_not_while_it_is_sought():
    bench = homing()
    bench.ask(A.TOUCH_LEFT)
    bench.run(100)
    bench.ask(A.HOME_GUIDE)
    bench.run(500)
    bench.ask(A.PAUSE)
    bench.run(500)
    assert not bench.session.set_up.list.left_touched and "home not found" in said(bench)
    assert not bench.session.course.preparation.marked


def test_an_open_guard_refuses_it_and_its_words_do_not_stay():
    bench = homing()
    bench.body.seen.guard_open = True
    bench.run(100)
    bench.ask(A.HOME_GUIDE)
    bench.run(300)
    assert "guard is open" in bench.view().advice and "home not found" in said(bench)
    bench.body.seen.guard_open = False
    bench.run(100)
    bench.ask(A.HOME_GUIDE)
    bench.run(300)
    assert "refused" not in bench.view().advice
    ended(bench)
    assert "home found" in said(bench)


@pytest.mark.parametrize("after_ms", [500, 6500])
def test_a_guard_opened_on_the_way_leaves_the_place_unknown(after_ms):
    bench = homing()
    bench.ask(A.HOME_GUIDE)
    bench.run(after_ms)
    bench.body.seen.guard_open = True
    bench.run_until(P.TRIPPED).run(200)
    assert "guard was opened" in bench.view().trouble.trip
    bench.body.seen.guard_open = False
    bench.run(200)
    bench.ask(A.CLEAR_TRIP)
    bench.run_until(P.SETTING_UP).run(100)
    assert "home not found, the guard was opened" in said(bench)


@pytest.mark.parametrize("after_ms", [500, 6500])
def test_a_reset_on_the_way_ends_the_run_and_says_that_the_place_is_not_known(after_ms):
    bench = homing()
    bench.ask(A.HOME_GUIDE)
    bench.run(after_ms)
    bench.reset()
    bench.run_until(P.LOST)
    bench.run(8000)
    assert bench.session.finished and not bench.session.set_up.home.under_way
    assert "the guide's place is not known" in bench.view().advice
    assert any("home was not found, the board" in text for text in told(bench))


@pytest.mark.parametrize("after_ms", [500, 5900, 6500])
def test_a_link_that_is_lost_on_the_way_is_told_and_nothing_is_led_on(after_ms):
    bench = homing()
    bench.ask(A.HOME_GUIDE)
    bench.run(after_ms)
    moves = sent(bench, TraverseMove)
    bench.unplug()
    bench.run(3000)
    assert bench.session.phase is P.UNHEARD and Stop() in bench.sent
    plugged_in(bench).run_until(P.SETTING_UP).run(300)
    assert sent(bench, TraverseMove) == moves
    stood = bench.body.true_um
    bench.run(2000)
    assert bench.body.true_um == stood
    if bench.session.set_up.list.left_touched:
        assert bench.body.true_um - bench.body.seen.traverse_um == FLANGE_MM * 1000
    else:
        assert "home not found" in said(bench)


def test_an_old_place_is_not_taken_for_home_when_the_command_never_arrived():
    bench = homing()
    bench.ask(A.TOUCH_LEFT)
    bench.run(100)
    step(bench, -FLANGE_MM)
    bench.cable = False
    bench.ask(A.HOME_GUIDE)
    bench.run(300)
    bench.unplug()
    bench.run(2000)
    plugged_in(bench).run_until(P.SETTING_UP).run(500)
    assert "home not found" in said(bench) and not bench.session.set_up.list.left_touched


def test_a_board_that_leads_it_for_ever_is_stopped():
    bench = homing("never")
    bench.body.lead_far = lambda ask: bench.body.step_traverse(-10_000_000)
    bench.ask(A.HOME_GUIDE)
    bench.run(90_000)
    assert not bench.session.set_up.home.under_way and Stop() in bench.sent
    assert any("for too long" in text for text in told(bench))


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"machine": MACHINE}, "no limit switch"),
        ({"machine": replace(MACHINE, limit_switch=True)}, SAY_HOW_FAR),
        ({"identity": BOARD}, "this board knows of no limit switch"),
        ({"todo": list_of(guide=False)}, "no driven guide"),
        ({"cautions_accepted": False}, "cautions"),
    ],
)
def test_where_it_cannot_be_it_is_refused_with_what_to_do(more, words):
    bench = homing(**more)
    if "machine" in more and more["machine"].limit_switch:
        bench = homing(machine=replace(MACHINE, limit_switch=True))
    assert words in bench.ask(A.HOME_GUIDE)
    assert A.HOME_GUIDE not in bench.session.may() and bench.sent == []


def test_with_the_wire_on_the_coil_it_is_refused_in_words():
    assert [phase for phase, intent in TABLE if intent is A.HOME_GUIDE] == [P.SETTING_UP]
    bench = homing(todo=list_of(top=Top.CHUCK))
    bench.ask(A.DECLARE_SET_UP)
    bench.ready()
    assert "pull the wire aside" in bench.ask(A.HOME_GUIDE)
    bench.winding()
    assert "turning" in bench.ask(A.HOME_GUIDE)
    bench.run_until(P.PAUSED)
    assert "pull the wire aside" in bench.ask(A.HOME_GUIDE)
    assert sent(bench, TraverseHome) == 0


def test_a_flange_at_the_switch_needs_no_second_move():
    bench = homing(machine=replace(MACHINE_HOMES, switch_to_flange_m=0.0))
    bench.ask(A.HOME_GUIDE)
    ended(bench)
    assert sent(bench, TraverseMove) == 0 and "home found" in said(bench)
    assert bench.body.true_um == 0 == bench.body.seen.traverse_um


def test_a_coil_that_goes_on_is_laid_on_from_where_its_wire_is():
    """A board that forgot its guide: home, then to the wire, and the place is from the left flange."""
    from session_bench import brought

    todo = list_of(top=Top.CHUCK, goes_on=True)
    bench = homing(todo=todo, account=brought(200), laid=(WirePlace(10.0, 4200, True),))
    assert "the wire is at 4.20 mm" in said(bench)
    bench.ask(A.HOME_GUIDE)
    ended(bench)
    assert "step the guide to the wire" in said(bench)
    for mm in (4.0, 0.25):
        step(bench, mm)
    assert bench.ask(A.WIRE_HERE) == ""
    bench.run(200)
    assert "the wire is at 4.25 mm" in said(bench)
    bench.ask(A.DECLARE_SET_UP)
    bench.ready()
    assert bench.body.marks == [] and sent(bench, TraverseStep) >= 2
    assert bench.body.true_um - bench.body.seen.traverse_um == FLANGE_MM * 1000
