"""The transition table: what it has, what it must not have, and that a missing entry changes nothing."""

from __future__ import annotations

import pytest
from session_bench import Bench, session_of

from tests.pages.session_page import PAGE, main, page
from winder.wind import guards as g
from winder.wind.model import Asked, Intent, Phase
from winder.wind.phases import INTENTS_IN, TABLE
from winder.wind.seen import Seen

A, P = Intent, Phase

# Written by hand from the design: what a person may ask in each phase, whatever else has to be so.
LIST = {
    A.DECLARE_TOP, A.CONFIRM, A.SET_TENSION, A.GUIDE_TO_START, A.TOUCH_LEFT,
    A.TOUCH_RIGHT, A.HOME_GUIDE, A.SET_UP_DONE, A.DECLARE_SET_UP,
}  # fmt: skip
PLACE = {A.STEP_GUIDE, A.WIRE_HERE}  # of the guide, to where the wire is
WIRE = {A.WIRE_BROKE, A.WIRE_JOINED, A.WIRE_WHOLE}
COUNT = {A.SETTLE_COUNT, A.VOUCH_UNMOVED, A.TURNS_OFF}
ANYTIME = {A.PAUSE, A.CUT, A.NOTE, A.LEAVE}
READ = {A.ACCEPT_CAUTIONS}
MAY: dict[Phase, set[Intent]] = {
    P.CONNECTING: ANYTIME | READ,
    P.SETTING_UP: LIST | PLACE | ANYTIME | READ,
    P.PREPARING: ANYTIME | READ,
    P.READY: set(A) - LIST - {A.CONTINUE, A.CLEAR_TRIP, A.TAKE_OFF, A.ACKNOWLEDGE},
    P.STARTING: ANYTIME | {A.WIRE_BROKE},
    P.PEDAL: ANYTIME | {A.SLOWER, A.FASTER, A.WIRE_BROKE},
    P.WINDING: ANYTIME | {A.SLOWER, A.FASTER, A.WIRE_BROKE},
    P.SLOWING: ANYTIME | {A.WIRE_BROKE},
    P.PAUSED: set(A) - LIST - {A.START, A.CLEAR_TRIP, A.ACKNOWLEDGE},
    P.TAKING_OFF: COUNT | WIRE | ANYTIME | READ | {A.TAKE_OFF, A.MEASURED, A.END_HERE},
    P.COMPLETE: {A.PAUSE, A.SETTLE_COUNT, A.MEASURED, A.NOTE, A.LEAVE},
    P.TRIPPED: COUNT | WIRE | ANYTIME | {A.CLEAR_TRIP},
    P.ALARM: ANYTIME | {A.ACKNOWLEDGE},
    P.UNHEARD: ANYTIME,
    P.LOST: {A.SETTLE_COUNT, A.VOUCH_UNMOVED, A.NOTE},
    P.ENDED: {A.SETTLE_COUNT, A.VOUCH_UNMOVED, A.MEASURED, A.NOTE},
}
VALUE = {A.SETTLE_COUNT: 3.0}


@pytest.mark.parametrize("phase", list(Phase), ids=lambda phase: phase.value)
def test_the_intents_of_a_phase_are_those_of_the_design(phase):
    assert set(INTENTS_IN[phase]) == MAY[phase]


def test_only_a_start_or_a_continue_leads_to_starting():
    ways = {key for key, step in TABLE.items() if step.to is P.STARTING and key[0] is not step.to}
    assert ways == {(P.READY, A.START), (P.PAUSED, A.CONTINUE)}


def test_only_a_persons_word_and_the_rests_of_its_own_winding_lead_to_the_pedal():
    ways = {key for key, step in TABLE.items() if step.to is P.PEDAL and key[0] is not step.to}
    own = {(P.WINDING, Seen.PEDAL), (P.SLOWING, Seen.PEDAL)}
    assert ways == {(P.READY, A.PEDAL), (P.PAUSED, A.PEDAL)} | own


def test_only_starting_and_the_pedal_lead_to_winding():
    ways = {key for key, step in TABLE.items() if step.to is P.WINDING and key[0] is not step.to}
    assert ways == {(P.STARTING, Seen.WINDING), (P.PEDAL, Seen.WINDING)}


def test_a_stop_may_be_asked_for_in_every_phase_that_is_not_over():
    for phase in set(Phase) - {P.LOST, P.ENDED}:
        assert (phase, A.PAUSE) in TABLE


def test_what_is_over_stays_over():
    """But a board that moves although its wind is complete is an alarm before it is anything else."""
    for phase in Phase:
        ways = {step.to for (before, happening), step in TABLE.items()
                if before is phase and happening is not Seen.DISOBEYED}  # fmt: skip
        assert (ways == {phase}) == phase.over


def test_disobedience_is_an_alarm_in_every_phase_with_a_live_board():
    live = set(Phase) - {P.CONNECTING, P.ALARM, P.LOST, P.ENDED}
    led = {phase for (phase, happening), step in TABLE.items() if happening is Seen.DISOBEYED}
    assert led == live
    assert {TABLE[phase, Seen.DISOBEYED].to for phase in live} == {P.ALARM}


def test_an_alarm_ends_by_a_persons_word_or_with_the_wind():
    ways = {(happening, step.to) for (phase, happening), step in TABLE.items()
            if phase is P.ALARM and step.to is not phase}  # fmt: skip
    over = {(seen, P.LOST) for seen in (Seen.RESET, Seen.TAKEN, Seen.GIVEN_UP)}
    assert ways == {(A.ACKNOWLEDGE, P.SLOWING)} | over


def test_a_phase_says_whether_it_moves_waits_or_is_over():
    kinds = {phase: phase.moves + phase.waits + phase.over for phase in Phase}
    assert {phase for phase, kind in kinds.items() if not kind} == {
        P.CONNECTING, P.PREPARING, P.UNHEARD,
    }  # fmt: skip
    assert max(kinds.values()) == 1
    waiting = {phase for phase in Phase if phase.waits}
    turning = {step.to for (phase, happening), step in TABLE.items()
               if phase in waiting and happening in (A.START, A.CONTINUE, A.PEDAL)}  # fmt: skip
    assert turning == {P.STARTING, P.PEDAL}


def test_every_intent_that_turns_the_spindle_has_its_guards_in_the_table():
    for (_, happening), step in TABLE.items():
        if happening in (A.START, A.CONTINUE, A.PEDAL, A.TAKE_OFF):
            wanted = {
                g.cautions_read,
                g.not_leaving,
                g.stop_confirmed,
                g.answered,
                g.not_turning_back,
            }
            assert wanted <= set(step.guards)
        if happening in (A.START, A.CONTINUE):
            assert {g.wire_known_whole, g.right_way, g.in_force} <= set(step.guards)
        if isinstance(happening, Seen):
            assert step.guards == ()


def test_every_guard_has_a_name_in_words():
    named = {guard for step in TABLE.values() for guard in step.guards}
    assert all((guard.__doc__ or "").strip() for guard in named)
    assert len({guard.__doc__ for guard in named}) == len(named)


def test_every_phase_can_be_reached_from_the_first():
    reached, grown = {P.CONNECTING}, True
    while grown:
        more = {step.to for (before, _), step in TABLE.items() if before in reached} - reached
        reached, grown = reached | more, bool(more)
    assert reached == set(Phase)


def refused(bench_or_session, phase: Phase) -> None:
    """Every intent that this phase lacks is refused in words and changes nothing at all."""
    session = bench_or_session
    for intent in set(Intent) - MAY[phase]:
        before = session.view(1)
        said = session.ask(Asked(intent, value=VALUE.get(intent)), 1)
        assert said and said[-1] not in ".;"
        assert "possible now" in said
        assert session.take_requests() == [] and session.take_events() == []
        assert session.view(1) == before


def test_an_illegal_intent_changes_nothing_while_connecting():
    refused(session_of(), P.CONNECTING)


@pytest.mark.parametrize(
    "phase", [P.PREPARING, P.READY, P.STARTING, P.WINDING, P.SLOWING, P.PAUSED, P.UNHEARD, P.ENDED]
)
def test_an_illegal_intent_changes_nothing(phase):
    bench = Bench()
    if phase is P.PREPARING:
        bench.run_until(phase)
    else:
        bench.ready()
    if phase not in (P.PREPARING, P.READY):
        bench.ask(A.START)
    if phase in (P.WINDING, P.SLOWING, P.PAUSED, P.UNHEARD, P.ENDED):
        bench.run_until(P.WINDING)
    if phase in (P.SLOWING, P.PAUSED, P.ENDED):
        bench.ask(A.PAUSE)
    if phase in (P.PAUSED, P.ENDED):
        bench.run_until(P.PAUSED)
    if phase is P.ENDED:
        bench.ask(A.END_HERE)
        bench.run_until(P.ENDED)
    if phase is P.UNHEARD:
        bench.unplug()
    bench._send()
    assert bench.session.phase is phase
    refused(bench.session, phase)


def test_the_view_offers_exactly_what_asking_takes():
    bench = Bench(cautions_accepted=False).ready()
    for _ in range(3):
        may = bench.view().may
        for intent in set(Intent) - may:
            assert all(bench.ask(intent, value) for value in (None, 1.0, "x"))
        if A.ACCEPT_CAUTIONS in may:
            assert A.START not in may
            assert bench.ask(A.ACCEPT_CAUTIONS) == ""
        elif A.START in may:
            assert bench.ask(A.START) == ""
            bench.run_until(P.WINDING)


def test_a_start_needs_the_cautions():
    bench = Bench(cautions_accepted=False).ready()
    assert "cautions" in bench.ask(A.START)
    bench.run(300)
    assert bench.body.starts == 0
    bench.ask(A.ACCEPT_CAUTIONS)
    assert bench.ask(A.START) == ""


@pytest.mark.parametrize("value", [None, float("nan"), float("inf"), -1.0, 1e9])
def test_a_count_is_settled_with_a_number_of_turns_only(value):
    bench = Bench().ready()
    before = bench.truth
    assert "how many turns" in bench.ask(A.SETTLE_COUNT, value)
    assert bench.truth == before


def test_an_empty_note_is_refused_and_a_note_is_only_a_note():
    bench = Bench().ready()
    assert bench.ask(A.NOTE, "  ") != ""
    sent = len(bench.sent)
    assert bench.ask(A.NOTE, "core wrapped twice") == ""
    assert bench.journal[-1].kind == "note"
    assert "core wrapped twice" in bench.journal[-1].text
    assert len(bench.sent) == sent


def test_the_page_in_the_docs_is_drawn_from_this_table(capsys):
    assert PAGE.read_text(encoding="utf-8") == page()
    assert main(["--check"]) == 0


def test_the_check_of_the_page_can_fail(tmp_path, monkeypatch, capsys):
    stale = tmp_path / "session.md"
    stale.write_text(page().replace("winding", "spinning"), encoding="utf-8")
    monkeypatch.setattr("tests.pages.session_page.PAGE", stale)
    assert main(["--check"]) == 1
    assert main([]) == 0
    assert main(["--check"]) == 0
    assert main(["--nonsense"]) == 2
