"""The guide of the real binary at its pins: where it is led, how far, and that it stands when it has to.

The bound is the design's: one step or a tenth of the wire's diameter, whatever is more, of the specification's
way of the guide at the spindle's true place. It holds from 20 counts a turn on always, and with fewer at a
steady speed. Where speed changes, a board of few counts a turn cannot know where the spindle is
between two of them: there the guide may be off by what one count advances, and by no more.
"""

from __future__ import annotations

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE, STEP_UM, EmulatedBoard, bench
from emulator.builds import needs_cross_tools
from emulator.guided import NO_BELIEFS, GuidedHost, ideal_um, leg_at, turns_leg
from emulator.traffic import BusyHost

from firmware_protocol.messages import (
    ClearTrip,
    EndAction,
    Flag,
    Group,
    Move,
    Pace,
    PlanLeg,
    Reason,
    Side,
    State,
    TraverseMark,
    TraverseStep,
    Trip,
    Verdict,
)

pytestmark = needs_cross_tools
CONTINUE, PAUSE, COMPLETE = EndAction.CONTINUE, EndAction.PAUSE, EndAction.COMPLETE
LAY_PITCH = 1.05  # overall diameters of the wire a turn
SETTLING_MS = 150
COUNTED_DIFFERENTLY = 0.02  # counts: the emulator's own place, on the very edge


def three_legs(counts: int, turns: float = 1.0) -> tuple[PlanLeg, ...]:
    """With waits at the edges; over into another pitch between other turning points, no wait; on after a pause."""
    return (
        turns_leg(counts, 0, 40 * turns, CONTINUE),
        turns_leg(
            counts, 1, 65 * turns, PAUSE,
            speed=12.0, pitch_nm=41_700, left_um=30, right_um=900, dwell_counts=0,
        ),
        turns_leg(counts, 2, 90 * turns, COMPLETE, pitch_nm=97_300, left_um=0, right_um=1500),
    )  # fmt: skip


def bound_um(leg: PlanLeg) -> float:
    return max(STEP_UM, 0.1 * leg.pitch_nm / 1000 / LAY_PITCH)


def advance_um(leg: PlanLeg) -> float:
    """Of one count."""
    return leg.pitch_nm / 1000 / leg.pitch_counts


def beyond_bound(host: GuidedHost, legs: tuple[PlanLeg, ...], more: bool = False) -> list[object]:
    """All that was seen off its way by more than the bound; ``more``: and by more than one count's advance."""
    seen = host.take_deviations(legs)
    assert len(seen) > 500
    found = []
    for count, off_um in seen:
        # At a border two legs meet, and the edge itself decides which one holds.
        near = [
            leg_at(legs, count + by)
            for by in (-1.0, -COUNTED_DIFFERENTLY, 0.0, COUNTED_DIFFERENTLY)
        ]
        most = max(bound_um(leg) + (advance_um(leg) if more else 0.0) for leg in near)
        if abs(off_um) > most:
            found.append((count, off_um, most))
    return found


def guided(counts: int = 20, sensor: int = FOUR_EDGES, **settings: int) -> GuidedHost:
    return GuidedHost(EmulatedBoard(bench(counts, sensor), **settings))


def running(*legs: PlanLeg, seconds: float = 1.2, **settings: int) -> GuidedHost:
    host = guided(**settings)
    host.load(*(legs or (turns_leg(20, 0, 200, COMPLETE),)))
    host.start()
    host.live(seconds)
    assert host.board.turning
    return host


@pytest.mark.parametrize(
    ("counts", "sensor"),
    [(20, FOUR_EDGES), (100, FOUR_EDGES), (20, ONE_PULSE)],
    ids=["20 counts a turn", "100 counts a turn", "20 pulses a turn"],
)
def test_the_guide_is_where_the_count_leads_it(counts, sensor):
    host = guided(counts, sensor)
    legs = three_legs(counts)
    host.load(*legs)
    host.start()
    for state in (State.PAUSED, State.COMPLETE):
        assert host.to_rest().state == state
        assert abs(host.status.traverse_um - ideal_um(legs, host.status.count)) <= 0.6 * STEP_UM
        assert beyond_bound(host, legs) == []
        if state == State.PAUSED:
            host.start()
    host.board.assert_sound()


@pytest.mark.parametrize("counts", [1, 4])
def test_with_few_counts_it_is_off_by_one_of_them_at_most_and_by_less_at_a_steady_speed(counts):
    host = guided(counts, ONE_PULSE)
    legs = three_legs(counts, 2.0)
    host.load(*legs)
    host.start()
    host.live(3.6)
    host.take_deviations(legs)
    host.live(0.6)
    assert host.status.count < legs[0].end_count, "not steady any more"
    assert beyond_bound(host, legs) == []
    for state in (State.PAUSED, State.COMPLETE):
        assert host.to_rest().state == state
        assert abs(host.status.traverse_um - ideal_um(legs, host.status.count)) <= 0.6 * STEP_UM
        standing = [place for _, place in host.seen[-SETTLING_MS:]]
        assert max(standing) - min(standing) <= 2, "it went on to the next count, and back"
        assert beyond_bound(host, legs, more=True) == []
        if state == State.PAUSED:
            host.start()


def test_stops_another_pace_and_a_move_back_and_on_keep_it_on_its_way():
    host = guided()
    legs = (turns_leg(20, 0, 25, CONTINUE, dwell_counts=0), turns_leg(20, 1, 80, COMPLETE))
    host.load(*legs)
    host.start()
    host.live(2.6)
    host.do(Pace(**NO_BELIEFS, permille=400))
    host.live(0.5)
    host.end.stop(host.board.now_ns)
    assert host.to_rest().state == State.PAUSED
    rest = host.status.count
    assert legs[0].end_count < rest < legs[1].end_count
    host.do(Move(**NO_BELIEFS, counts=-rest + 90, rate_mcps=60_000, accel_mcps2=100_000))
    assert abs(host.to_rest().count - 90) <= 1
    assert abs(host.status.traverse_um - ideal_um(legs, host.status.count)) <= 0.6 * STEP_UM
    host.do(Pace(**NO_BELIEFS, permille=1000))
    host.start()
    assert host.to_rest().state == State.COMPLETE
    assert beyond_bound(host, legs) == []
    host.board.assert_sound()


def test_scattered_strokes_are_the_same_again_on_the_way_back():
    host = guided()
    legs = (turns_leg(20, 0, 60, PAUSE, scatter_seed=7), turns_leg(20, 1, 61, COMPLETE))
    host.load(*legs)
    host.start()
    host.to_rest()
    there = {round(spindle * 4): place for spindle, place in host.seen}
    host.seen.clear()
    host.do(Move(**NO_BELIEFS, counts=-1000, rate_mcps=200_000, accel_mcps2=200_000))
    host.to_rest()
    back = {round(spindle * 4): place for spindle, place in host.seen}
    both = there.keys() & back.keys()
    off_um = [(there[at] - back[at]) * STEP_UM for at in both]
    assert len(both) > 1000 and max(map(abs, off_um)) <= 2 * bound_um(legs[0])
    even = [abs(host.place_um(there[at]) - ideal_um(legs, at / 4)) for at in both]
    assert max(even) > 50, "it was laid evenly"
    host.board.assert_sound()


def test_a_guide_that_is_too_slow_for_a_leg_slows_the_spindle():
    host = guided()
    legs = (turns_leg(20, 0, 30, COMPLETE, pitch_nm=900_000, left_um=0, right_um=9000),)
    host.load(*legs)
    host.start()
    fastest = 0
    while host.status.state != State.COMPLETE:
        host.live(0.05)
        fastest = max(fastest, host.status.rate_mcps)
    assert 150_000 < fastest < 220_000  # 10 mm/s are 11 turns a second; the leg says 20
    assert beyond_bound(host, legs) == []


# --- the bench --------------------------------------------------------------------------------------


def test_the_board_says_that_it_has_a_traverse_and_one_built_without_has_none():
    host = guided()
    assert host.end.welcome.groups[Group.TRAVERSE - 1] == 1
    without = BusyHost(EmulatedBoard(host.board.bench, step_pm=0, travel_steps=0, steps_a_ms=0))
    assert without.open().groups[Group.TRAVERSE - 1] == 0
    assert without.ask(TraverseStep(**NO_BELIEFS, distance_um=100)) is Verdict.UNSUPPORTED


@pytest.mark.parametrize("distance_um", [1000, -1000, 33])
def test_a_step_of_the_guide_is_finite_and_as_long_as_was_asked(distance_um):
    host = guided()
    host.do(TraverseStep(**NO_BELIEFS, distance_um=2000))
    assert host.to_rest(2).reason == Reason.MOVE_DONE
    before, made = host.board.chip.guide_steps, host.board.chip.step_times.made
    host.do(TraverseStep(**NO_BELIEFS, distance_um=distance_um))
    status = host.to_rest(2)
    steps = round(distance_um / STEP_UM)
    assert (status.state, status.reason) == (State.STILL, Reason.MOVE_DONE)
    assert host.board.chip.guide_steps - before == steps
    assert host.board.chip.step_times.made - made == abs(steps), "it went to and fro"
    assert abs(status.traverse_um - (800 + steps) * STEP_UM) <= 0.5
    assert bool(status.flags & Flag.TRAVERSE_RIGHTWARD) == (distance_um > 0)
    host.live(0.5)
    assert host.board.chip.guide_steps - before == steps
    assert host.board.chip.edges == 0 and not host.board.turning


def test_what_must_not_move_the_guide_is_refused():
    host = guided()
    host.board.open_guard(True)
    host.live(0.1)
    assert host.ask(TraverseStep(**NO_BELIEFS, distance_um=100)) is Verdict.GUARD_OPEN
    host.board.open_guard(False)
    host.alive = False
    host.live(1.2)
    assert host.ask(TraverseStep(**NO_BELIEFS, distance_um=100)) is Verdict.NO_LEASE
    host.alive = True
    host.live(0.3)
    assert host.ask(TraverseStep(**NO_BELIEFS, distance_um=100_001)) is Verdict.BAD_VALUE
    assert host.ask(TraverseMark(**NO_BELIEFS, side=Side.LEFT, at_um=1)) is Verdict.BAD_VALUE
    host.board.reset()
    again = BusyHost(host.board, token=9)
    again.open()
    assert (
        again.ask(TraverseMark(**NO_BELIEFS, side=Side.RIGHT, at_um=900)) is Verdict.NOT_REFERENCED
    )
    assert host.board.chip.step_times.made == 0


def test_a_stop_ends_a_step_of_the_guide():
    host = guided()
    host.do(TraverseStep(**NO_BELIEFS, distance_um=50_000))
    host.live(0.3)
    host.end.stop(host.board.now_ns)
    status = host.to_rest(1)
    assert (status.state, status.reason) == (State.STILL, Reason.STOP)
    assert 1000 < status.traverse_um < 10_000
    assert_still(host)


def test_the_plan_goes_on_from_where_a_step_has_left_the_guide():
    host = guided()
    host.do(TraverseStep(**NO_BELIEFS, distance_um=900))
    host.to_rest(2)
    host.do(TraverseStep(**NO_BELIEFS, distance_um=-100))
    host.to_rest(2)
    host.load(turns_leg(20, 0, 20, COMPLETE, dwell_counts=0))
    host.start()
    assert host.to_rest().count == 400
    # From 0.8 mm leftward, 0.6 mm to the turning point; then rightward what is left of 20 turns.
    assert abs(host.status.traverse_um - (200 + 20 * 63 - 600)) <= STEP_UM


# --- where it must stand ----------------------------------------------------------------------------


def assert_still(host: GuidedHost, seconds: float = 1.0) -> None:
    made = host.board.chip.step_times.made
    host.live(seconds)
    assert host.board.chip.step_times.made == made, "it stepped where it had to stand"


@pytest.mark.parametrize("way", ["guard", "wire"])
def test_after_a_trip_there_is_no_step_though_the_spindle_still_turns(way):
    host = running(brake_permille=0)
    made = host.board.chip.step_times.made
    (host.board.open_guard if way == "guard" else host.board.lose_wire)(True)
    host.live(0.005)
    assert host.board.chip.step_times.made - made <= 10, "it went on after it was told"
    assert host.board.turning
    edges = host.board.chip.edges
    assert_still(host, 2.0)
    assert host.status.state == State.TRIPPED
    assert host.board.chip.edges > edges
    host.board.open_guard(False)
    host.board.lose_wire(False)
    host.live(0.1)
    host.do(ClearTrip(**NO_BELIEFS, trip=Trip(host.status.trip)))
    assert_still(host)  # clearing moves nothing; a start leads it to where the count is, and on
    legs = (turns_leg(20, 0, 200, COMPLETE),)
    rest = host.board.chip.place_now
    host.seen.clear()
    host.start()
    host.live(1.0)
    host.seen = [one for one in host.seen if one[0] > rest]
    assert beyond_bound(host, legs) == []


def test_a_lost_lease_ends_in_a_guide_that_stands():
    host = running()
    host.alive = False
    host.live(1.1)
    assert host.to_rest().reason == Reason.LEASE_LOST
    assert_still(host)


@pytest.mark.parametrize("deaf", [False, True], ids=["interrupts on", "interrupts off"])
def test_a_program_that_hangs_gives_no_step_after_two_milliseconds(deaf):
    host = running()
    chip = host.board.chip
    chip.hang(interrupts_off=deaf)
    host.board.run_s(0.0021)
    made = chip.step_times.made
    host.board.run_s(1.0)
    assert chip.resets == int(deaf), "only where its interrupt does not come the watchdog resets"
    assert chip.step_times.made == made
    again = BusyHost(host.board, token=9)
    again.open()
    assert not again.status.flags & Flag.REFERENCED
    assert again.status.trip == Trip.WATCHDOG
    again.live(0.5)
    assert chip.step_times.made == made


def test_a_reset_ends_the_steps_at_once():
    host = running()
    made = host.board.chip.step_times.made
    host.board.reset()
    host.board.run_s(1.0)
    assert host.board.chip.step_times.made == made


@pytest.mark.parametrize("left_um", [0, -500])
def test_it_trips_at_the_end_of_its_travel_and_stands_there(left_um):
    host = guided(travel_steps=400)
    right_um = 900 if left_um else 1400
    host.load(turns_leg(20, 0, 100, COMPLETE, left_um=left_um, right_um=right_um, dwell_counts=0))
    host.start()
    status = host.to_rest()
    assert (status.state, status.trip) == (State.TRIPPED, Trip.TRAVERSE_LIMIT)
    assert status.traverse_um == (0 if left_um else 1000)
    places = [host.place_um(place) for _, place in host.seen]
    assert min(places) >= 0 and max(places) <= 1000
    assert_still(host)
    host.do(ClearTrip(**NO_BELIEFS, trip=Trip.TRAVERSE_LIMIT))
    assert host.status.state == State.PAUSED


def test_a_step_beyond_its_travel_trips_too_and_the_way_back_is_free():
    host = guided(travel_steps=400)
    host.do(TraverseStep(**NO_BELIEFS, distance_um=1500))
    status = host.to_rest(2)
    assert (status.state, status.trip, status.traverse_um) == (
        State.TRIPPED,
        Trip.TRAVERSE_LIMIT,
        1000,
    )
    host.live(1.0)  # after its boot the board waits a second before it believes in a rest
    host.do(ClearTrip(**NO_BELIEFS, trip=Trip.TRAVERSE_LIMIT))
    host.do(TraverseStep(**NO_BELIEFS, distance_um=-400))
    assert host.to_rest(2).traverse_um == 600


# --- the pulses -------------------------------------------------------------------------------------


def test_pulses_are_long_enough_for_any_driver_at_the_highest_speed_and_full_traffic():
    """Common drivers of step motors want 1 to 2 us of each (common practice, no source)."""
    host = guided(steps_a_ms=20)
    host.load(
        turns_leg(
            20, 0, 60, COMPLETE, pitch_nm=1_800_000, left_um=0, right_um=9_000, dwell_counts=0
        )
    )
    host.start()
    assert host.to_rest().state == State.COMPLETE
    times = host.board.chip.step_times
    assert times.made > 30_000
    assert min(times.high_least_us, times.set_up_least_us) >= 5
    assert times.gap_least_us >= 25
    host.board.assert_sound()
