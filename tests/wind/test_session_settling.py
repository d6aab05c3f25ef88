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
    SmallBody,
    holds,
    leg,
    plan_of,
)

from firmware_protocol.body import KeptRecord
from firmware_protocol.messages import PlanLeg, TraverseMark
from winder.plan.model import AtEnd
from winder.wind.events import truth_from_facts
from winder.wind.model import Certainty, Intent, Phase
from winder.wind.truth import TURNED_MEANWHILE, between, exact, truth_after_break, vouched

REST_PLAN = plan_of(leg("rest", 20, AtEnd.COMPLETE, 600.0), first_turn=40)


def later(earlier, last_kept, body=None, boot=6, **more) -> Bench:
    return Bench(
        REST_PLAN, body=body, boot=boot, wind=4711, earlier=earlier, last_kept=last_kept, **more
    )


def body_with(kept: KeptRecord | None = None) -> SmallBody:
    body = SmallBody()
    if kept is not None:
        body.keep(kept)
    return body


def complete(bench: Bench) -> Bench:
    bench.ready()
    assert bench.ask(Intent.START) == ""
    return bench.run_until(Phase.COMPLETE).run(300)


def test_turns_of_earlier_winds_are_added():
    bench = complete(later(exact(40 * CPT), None))
    assert bench.session.truth.low == 60 * CPT
    assert bench.body.true_count == 20 * CPT
    assert bench.session.view(bench.now_ns).turns == 60.0


def test_half_a_turn_left_over_is_not_wound_twice():
    bench = complete(later(exact(40 * CPT + 10), None))
    assert bench.body.true_count == 20 * CPT - 10
    assert bench.session.truth.low == 60 * CPT


def test_a_board_that_still_has_the_wind_open_makes_the_earlier_count_exact():
    """The host was killed while winding; the board came to rest by its lease and remembers."""
    first = Bench(LONG_PLAN).winding().run(2000)
    record = [e for e in first.journal if e.counts is not None][-1]
    first.alive = False
    first.run(2000)
    assert not first.moving
    broken = truth_after_break(
        truth_from_facts(dict(record.facts)),
        wind=WIND,
        count=record.counts,
        moving=True,
        plan=LONG_PLAN,
        machine=first.session.machine,
    )
    assert broken.certainty is Certainty.BETWEEN
    assert holds(broken, first.body.true_count)
    second = Bench(LONG_PLAN, body=first.body, wind=4711, earlier=broken,
                   last_kept=(WIND, record.counts))  # fmt: skip
    second.device, second.now_ms = first.device, first.now_ms
    second.host = type(second.host)(99)
    second.host.open(second.now_ns)
    before = first.body.true_count
    second.ready()
    assert second.session.truth.certainty is Certainty.EXACT
    assert second.session.truth.low == before
    ends = [r.end_count for r in second.sent if isinstance(r, PlanLeg)]
    assert ends == [2000 * CPT - before], "the coil still ends on turn 2000"


def test_a_board_that_was_off_can_be_vouched_for():
    kept = KeptRecord(wind=WIND, count=40 * CPT, valid=True, at_rest=True)
    bench = later(exact(40 * CPT), (WIND, 40 * CPT), body_with(kept)).ready()
    assert bench.session.truth.certainty is Certainty.BETWEEN
    assert bench.session.truth.why == TURNED_MEANWHILE
    assert "settle" in bench.session.view(bench.now_ns).advice
    assert bench.ask(Intent.VOUCH_UNMOVED) == ""
    truth = bench.session.truth
    assert (truth.certainty, truth.low, truth.by) == (Certainty.VOUCHED, 40 * CPT, "operator")
    complete(bench)
    assert bench.session.truth.certainty is Certainty.VOUCHED
    assert bench.session.truth.low == 60 * CPT


@pytest.mark.parametrize(
    "kept",
    [
        None,
        KeptRecord(wind=WIND + 1, count=40 * CPT, valid=True, at_rest=True),
        KeptRecord(wind=WIND, count=40 * CPT, valid=True, at_rest=False),
        KeptRecord(wind=WIND, count=40 * CPT - 1, valid=True, at_rest=True),
    ],
)
def test_without_a_matching_record_unmoved_cannot_be_vouched(kept):
    bench = later(exact(40 * CPT), (WIND, 40 * CPT), body_with(kept)).ready()
    assert bench.session.truth.certainty is Certainty.BETWEEN
    assert Intent.VOUCH_UNMOVED not in bench.session.view(bench.now_ns).may
    assert bench.ask(Intent.VOUCH_UNMOVED) != ""
    assert bench.session.truth.certainty is Certainty.BETWEEN
    assert bench.ask(Intent.SETTLE_COUNT, 40) == ""
    assert bench.session.truth.certainty is Certainty.VOUCHED


def test_a_rest_after_the_last_record_is_known_from_what_the_board_kept():
    """Killed in motion at 700 on record; the board came to rest at 790 and was then switched off."""
    kept = KeptRecord(wind=WIND, count=790, valid=True, at_rest=True)
    broken = between(700, 1900, "the run broke off while winding", last_sure=700)
    bench = later(broken, (WIND, 700), body_with(kept)).ready()
    truth = bench.session.truth
    assert (truth.low, truth.high) == (790 - CPT, 790 + CPT)
    bench.ask(Intent.VOUCH_UNMOVED)
    assert bench.session.truth.low == 790
    complete(bench)
    assert bench.body.true_count == 60 * CPT - 790


def test_a_count_settled_before_the_start_moves_the_legs():
    bench = later(between(790, 830, "reset"), None).ready()
    assert bench.ask(Intent.SETTLE_COUNT, 41) == ""
    bench.run_until(Phase.PREPARING)
    complete(bench)
    assert bench.body.true_count == 19 * CPT
    assert bench.session.truth.low == 60 * CPT
    assert bench.session.truth.certainty is Certainty.VOUCHED
    assert [r.generation for r in bench.sent if isinstance(r, PlanLeg)] == [1, 2]


def test_turns_taken_off_in_a_pause_are_wound_again():
    bench = Bench().winding().run_until(Phase.PAUSED)
    assert bench.ask(Intent.SETTLE_COUNT, 37.5, text="took two and a half off") == ""
    bench.run_until(Phase.PREPARING).run_until(Phase.PAUSED)
    assert bench.session.view(bench.now_ns).turns == 37.5
    assert bench.ask(Intent.CONTINUE) == ""
    bench.run_until(Phase.WINDING).run_until(Phase.PAUSED)
    assert bench.session.truth.low == 40 * CPT, "the pause at turn 40 comes again"
    bench.ask(Intent.CONTINUE)
    bench.run_until(Phase.COMPLETE).run(300)
    assert bench.body.true_count == 60 * CPT + 50
    assert bench.session.truth.low == 60 * CPT
    settled = next(e for e in bench.journal if e.kind == "settled")
    assert "took two and a half off" in settled.text


def test_a_coil_that_has_all_its_turns_is_not_wound_further():
    bench = Bench().winding().run_until(Phase.PAUSED)
    sent = len(bench.sent)
    assert bench.ask(Intent.SETTLE_COUNT, 60) == ""
    bench.run(300)
    assert len(bench.sent) == sent
    assert "end here" in bench.session.view(bench.now_ns).advice
    full = later(exact(60 * CPT), None).run(500)
    assert full.session.phase is Phase.BROKEN_OFF
    assert "nothing to wind" in full.session.view(full.now_ns).advice


def test_rocking_can_be_vouched_for_or_settled():
    bench = Bench(PLAN, BLIND_MACHINE, BLIND_BOARD).winding().run_until(Phase.PAUSED)
    bench.body.turn_by_hand(1)
    bench.body.turn_by_hand(-1)
    bench.run(200)
    assert bench.session.truth.certainty is Certainty.BETWEEN
    assert bench.ask(Intent.VOUCH_UNMOVED) == ""
    truth = bench.session.truth
    assert (truth.certainty, truth.low) == (Certainty.VOUCHED, 800)
    bench.body.turn_by_hand(1)
    bench.run(200)
    assert bench.session.truth.certainty is Certainty.BETWEEN, "only what was vouched for"
    assert (bench.session.truth.low, bench.session.truth.high) == (799, 801)


def test_what_was_vouched_for_before_stays_vouched():
    earlier = vouched(40 * CPT, "Mira", "counted under the lens")
    bench = complete(later(earlier, None))
    assert bench.session.truth.certainty is Certainty.VOUCHED
    assert bench.session.truth.by == "Mira"


def test_other_settings_for_counting_throw_doubt_on_the_turns_before():
    bench = later(exact(40 * CPT), None, last_settings_hash=BOARD.settings_hash).ready()
    assert bench.session.truth.certainty is Certainty.EXACT
    bench = later(exact(40 * CPT), None, last_settings_hash=1).ready()
    assert bench.session.truth.certainty is Certainty.BETWEEN
    assert "settings" in bench.session.truth.why


def test_a_coil_that_goes_on_keeps_the_guide_where_the_board_knows_it():
    first = Bench().winding().run_until(Phase.PAUSED)
    first.ask(Intent.LEAVE)
    first.run(60)
    second = later(exact(40 * CPT), (WIND, 40 * CPT), body=first.body)
    second.device, second.now_ms = first.device, first.now_ms
    second.host = type(second.host)(99)
    first.alive = False
    first.run(1200)
    second.now_ms = first.now_ms
    second.host.open(second.now_ns)
    second.ready()
    assert not [r for r in second.sent if isinstance(r, TraverseMark)]
    fresh = later(exact(40 * CPT), None).ready()
    assert [r for r in fresh.sent if isinstance(r, TraverseMark)], "a board that was off forgot it"
