"""A session that is lost in one breath with other news: what was asked for just before, and an end just reached."""

from __future__ import annotations

import pytest
from session_bench import CPT, NS_PER_MS, leg, plan_of
from test_session_stops import Script

from firmware_protocol.heard import Trouble, Troubled
from firmware_protocol.messages import Pace, Start, State, Stop
from winder.plan.model import AtEnd
from winder.wind.model import Asked, How, Intent, Phase


@pytest.mark.parametrize("trouble", [Trouble.SESSION_LOST, Trouble.LINK_LOST])
def test_what_was_asked_for_just_before_the_session_was_lost_is_not_sent(trouble):
    """Both come in one go where words were held up: a status that leads to a command, and the end of the session."""
    script = Script().started()
    script.status(State.WINDING, 50)
    script.requests.clear()
    session, now_ns = script.session, script.now_ms * NS_PER_MS
    session.course.ask_board(Pace, 900)
    assert session.course.requests
    session.ask(Asked(Intent.PAUSE), now_ns)
    session.hear(Troubled(trouble, "lost"), now_ns)
    requests = session.take_requests()
    assert Stop() in requests and all(isinstance(one, Stop) for one in requests)
    assert session.course.commands.idle


def test_an_end_whose_last_word_never_came_is_not_called_complete():
    """The board was reset between the end and its closing: from then on nobody heard whether it stood."""
    script = Script(plan=plan_of(leg("body", 5, AtEnd.COMPLETE, 600.0))).started()
    while script.count < 5 * CPT:
        script.status(State.WINDING, min(script.count + 10, 5 * CPT))
    script.status(State.COMPLETE, 5 * CPT)
    session = script.session
    assert session.phase is Phase.COMPLETE and session.course.truth.is_sharp
    script.trouble(Trouble.SESSION_LOST, "the board was reset")
    assert session.finished and not session.course.truth.is_sharp
    assert session.phase is Phase.ENDED and session.ending.how is How.LEFT


def test_a_start_that_nobody_answered_and_that_comes_late_is_stopped_and_no_alarm():
    """It waited on the line, and the board carries it out in the moment in which it is heard again."""
    script = Script().prepared()
    script.ask(Intent.START)
    (start,) = [one for one in script.requests if isinstance(one, Start)]
    for _ in range(25):
        script.tick(100)
    script.trouble(Trouble.SILENT, "not answered after 10 sendings", start)
    assert script.session.phase is Phase.UNHEARD
    script.status(State.ARMED)
    script.requests.clear()
    script.status(State.SLOWING, 2)
    script.status(State.PAUSED, 3)
    session = script.session
    assert not session.watch.alarm and session.phase is Phase.PAUSED
    assert Stop() in script.requests
    assert "stop" in script.ask(Intent.CONTINUE)
    for _ in range(12):
        script.status(State.PAUSED, 3)
    assert script.ask(Intent.CONTINUE) == ""
