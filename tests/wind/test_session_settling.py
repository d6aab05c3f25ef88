"""Coils that go on: earlier winds, settled counts, vouching, and legs moved so that the end is the end."""

from __future__ import annotations

import pytest
from session_bench import (
    BLIND_BOARD,
    BLIND_MACHINE,
    BOARD,
    CPT,
    LONG_PLAN,
    PLAN,
    WIND,
    Bench,
    brought,
    folded,
    holds,
    leg,
    plan_of,
)

from firmware_protocol.messages import PlanLeg, TraverseMark
from winder.plan.model import AtEnd
from winder.wind.account import TURNED_MEANWHILE, Account
from winder.wind.deeds import Keeps, Opens, Says, Vouch, Word
from winder.wind.model import Certainty, Intent, Phase

REST_PLAN = plan_of(leg("rest", 20, AtEnd.COMPLETE, 600.0), first_turn=40)


def later(account: Account, body=None, boot=6, **more) -> Bench:
    return Bench(REST_PLAN, body=body, boot=boot, wind=4711, account=account, **more)


def on_record(count: int, moving: bool = False) -> Account:
    """A wind that was never closed, and the board's last word in it."""
    opened = Account(CPT).take(Opens(WIND, 5, CPT, True, True))
    return opened.take(Says(WIND, Word(count, uptime_ms=9000, moving=moving)))


def complete(bench: Bench) -> Bench:
    bench.ready()
    assert bench.ask(Intent.START) == ""
    return bench.run_until(Phase.COMPLETE).run(300)


def again(first: Bench, plan=LONG_PLAN, **more) -> Bench:
    """Another run of the program with the coil of the first, on the board as it stands."""
    second = Bench(plan, body=first.body, account=folded(first.journal), **more)
    second.device, second.now_ms, second.boot = first.device, first.now_ms, first.boot
    second.host = type(second.host)(first.host.token + 1)
    second.host.open(second.now_ns)
    return second


def test_turns_of_earlier_winds_are_added():
    bench = complete(later(brought(40 * CPT)))
    assert bench.truth.low == 60 * CPT
    assert bench.body.true_count == 20 * CPT
    assert bench.view().count.turns == 60.0


def test_half_a_turn_left_over_is_not_wound_twice():
    bench = complete(later(brought(40 * CPT + 10)))
    assert bench.body.true_count == 20 * CPT - 10
    assert bench.truth.low == 60 * CPT


def test_a_wind_that_is_still_open_goes_on_as_that_wind_and_its_count_is_exact():
    """The host was killed while winding; the board came to rest by its lease and remembers."""
    first = Bench(LONG_PLAN).winding().run(2000)
    first.alive = False
    first.run(2000)
    assert not first.moving
    upto = max(i for i, e in enumerate(first.journal) if e.kind == "count")
    del first.journal[upto + 1 :]
    broken = folded(first.journal).truth()
    assert broken.certainty is Certainty.BETWEEN
    assert holds(broken, first.body.true_count) and broken.low < first.body.true_count
    second = again(first)
    before = first.body.true_count
    second.run_until(Phase.READY, Phase.PAUSED).run(100)
    assert second.truth.certainty is Certainty.EXACT
    assert second.truth.low == before
    assert "OpenWind" not in [type(request).__name__ for request in second.sent]
    ends = [r.end_count for r in second.sent if isinstance(r, PlanLeg)]
    assert set(ends) == {2000 * CPT}, "the coil still ends on turn 2000, in the same wind"


def test_a_wind_killed_again_and_again_adds_nothing_twice():
    bench = Bench(LONG_PLAN).winding()
    for _ in range(4):
        bench.run(700)
        bench.alive = False
        bench.run(2000)
        journal = bench.journal
        bench = again(bench)
        bench.journal = journal
        bench.run_until(Phase.READY, Phase.PAUSED).run(100)
        truth = bench.truth
        assert (truth.certainty, truth.low) == (Certainty.EXACT, bench.body.true_count)
        assert folded(journal).truth(WIND) == truth
        assert bench.ask(Intent.CONTINUE) == ""
        bench.run_until(Phase.WINDING)


def test_a_board_that_was_off_can_be_vouched_for():
    bench = later(on_record(40 * CPT), deeds=(Keeps(WIND, 40 * CPT, True),)).ready()
    assert bench.truth.certainty is Certainty.BETWEEN
    assert bench.truth.why == TURNED_MEANWHILE
    assert "set the count" in bench.view().advice
    assert bench.ask(Intent.VOUCH_UNMOVED) == ""
    truth = bench.truth
    assert (truth.certainty, truth.low, truth.by) == (Certainty.VOUCHED, 40 * CPT, "operator")
    complete(bench)
    assert bench.truth.certainty is Certainty.VOUCHED
    assert bench.truth.low == 60 * CPT


@pytest.mark.parametrize(
    ("account", "kept"),
    [
        (on_record(40 * CPT, moving=True), ()),
        (on_record(40 * CPT, moving=True), (Keeps(WIND, 40 * CPT, False),)),
        (on_record(40 * CPT), (Keeps(WIND, 40 * CPT + 1, False),)),
        (on_record(40 * CPT), (Keeps(WIND, 40 * CPT - 1, True),)),
    ],
)
def test_an_unmoved_spindle_settles_no_count_that_was_not_at_rest_on_record(account, kept):
    bench = later(account, deeds=kept).ready()
    assert bench.truth.certainty is Certainty.BETWEEN
    bench.ask(Intent.VOUCH_UNMOVED)
    assert bench.truth.certainty is Certainty.BETWEEN
    assert bench.ask(Intent.SETTLE_COUNT, 40.0) == ""
    assert bench.truth.certainty is Certainty.VOUCHED


def test_a_rest_after_the_last_record_is_known_from_what_the_board_kept():
    """Killed in motion at 700 on record; the board came to rest at 790 and was then switched off."""
    bench = later(on_record(700, moving=True), deeds=(Keeps(WIND, 790, True),)).ready()
    truth = bench.truth
    assert (truth.low, truth.high) == (790 - CPT, 790 + CPT)
    bench.ask(Intent.VOUCH_UNMOVED)
    assert bench.truth.low == 790
    complete(bench)
    assert bench.body.true_count == 60 * CPT - 790


def test_a_count_settled_before_the_start_moves_the_legs():
    bench = later(brought(790, 830)).ready()
    assert bench.ask(Intent.SETTLE_COUNT, 41.0) == ""
    bench.run_until(Phase.PREPARING)
    complete(bench)
    assert bench.body.true_count == 19 * CPT
    assert bench.truth.low == 60 * CPT
    assert bench.truth.certainty is Certainty.VOUCHED
    assert [r.generation for r in bench.sent if isinstance(r, PlanLeg)] == [1, 2]


def test_turns_taken_off_in_a_pause_are_wound_again():
    bench = Bench().winding().run_until(Phase.PAUSED)
    assert bench.ask(Intent.SETTLE_COUNT, 37.5) == ""
    bench.run_until(Phase.PREPARING).run_until(Phase.PAUSED)
    assert bench.view().count.turns == 37.5
    assert bench.ask(Intent.CONTINUE) == ""
    bench.run_until(Phase.WINDING).run_until(Phase.PAUSED)
    assert bench.truth.low == 40 * CPT, "the pause at turn 40 comes again"
    bench.run(200)  # the pace after the creep is answered
    assert bench.ask(Intent.CONTINUE) == ""
    bench.run_until(Phase.COMPLETE).run(300)
    assert bench.body.true_count == 60 * CPT + 50
    assert bench.truth.low == 60 * CPT
    settled = next(e for e in bench.journal if e.kind == "settled")
    assert "37.5 turns" in settled.text


def test_a_coil_that_has_all_its_turns_is_not_wound_further():
    bench = Bench().winding().run_until(Phase.PAUSED)
    sent = len(bench.sent)
    assert bench.ask(Intent.SETTLE_COUNT, 60.0) == ""
    bench.run(300)
    assert len(bench.sent) == sent
    assert "end here" in bench.view().advice
    full = later(brought(60 * CPT)).run(500)
    assert full.session.phase is Phase.COMPLETE and full.body.starts == 0


def test_rocking_can_be_vouched_for_or_settled():
    bench = Bench(PLAN, BLIND_MACHINE, BLIND_BOARD).winding().run_until(Phase.PAUSED)
    bench.body.turn_by_hand(1)
    bench.body.turn_by_hand(-1)
    bench.run(200)
    assert bench.truth.certainty is Certainty.BETWEEN
    assert bench.ask(Intent.VOUCH_UNMOVED) == ""
    truth = bench.truth
    assert (truth.certainty, truth.low) == (Certainty.VOUCHED, 800)
    bench.body.turn_by_hand(1)
    bench.run(200)
    assert bench.truth.certainty is Certainty.BETWEEN, "only what was vouched for"
    assert (bench.truth.low, bench.truth.high) == (799, 801)


def test_what_was_vouched_for_before_stays_vouched():
    bench = complete(later(brought(40 * CPT, by="Mira", why="counted under the lens")))
    assert bench.truth.certainty is Certainty.VOUCHED
    assert bench.truth.by == "Mira"


def test_other_settings_for_counting_throw_doubt_on_the_turns_before():
    bench = later(brought(40 * CPT), settings_hash=BOARD.settings_hash).ready()
    assert bench.truth.certainty is Certainty.EXACT
    bench = later(brought(40 * CPT), settings_hash=1).ready()
    assert bench.truth.certainty is Certainty.BETWEEN
    assert "settings" in bench.truth.why


def test_a_coil_that_goes_on_keeps_the_guide_where_the_board_knows_it():
    first = Bench().winding().run_until(Phase.PAUSED)
    first.ask(Intent.END_HERE)
    first.run(200)
    first.alive = False
    first.run(1200)
    second = again(first, REST_PLAN, wind=4711)
    second.ready()
    assert second.truth.low == 40 * CPT
    assert not [r for r in second.sent if isinstance(r, TraverseMark)]
    fresh = later(brought(40 * CPT)).ready()
    assert [r for r in fresh.sent if isinstance(r, TraverseMark)], "a board that was off forgot it"


def test_a_number_said_while_nobody_was_heard_is_placed_at_the_first_word_after_it():
    """The board had wound on by then: what it counted before that word is in the number."""
    first = Bench(LONG_PLAN).winding().run(1000)
    first.alive = False
    first.run(2500)
    on_it = first.body.true_count
    vouch = Vouch(on_it, CPT, "operator", "counted", None)
    second = again(first, deeds=(vouch,)).run_until(Phase.READY, Phase.PAUSED).run(200)
    truth = second.truth
    assert (truth.certainty, truth.low) == (Certainty.VOUCHED, on_it)
    assert second.ask(Intent.CONTINUE) == ""
    second.run_until(Phase.WINDING).run(500)
    second.ask(Intent.PAUSE)
    second.run_until(Phase.PAUSED).run(200)
    assert second.truth.low == second.body.true_count > on_it
