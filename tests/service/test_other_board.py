"""A coil that shall go on at another board than the one that counted it: refused by number, until somebody has counted."""

from __future__ import annotations

import pytest
from test_going_on import GO_ON, leave, open_body, wind_until, wound_half_way

from winder.errors import UserMistake
from winder.service.going_on import GoesOn, earlier_winds
from winder.service.opening import end_run
from winder.shelf import Logbook
from winder.simulator.machine import OTHER_BOARD, identity_of
from winder.wind.model import Phase


def another_board(body, clock):
    """It has booted; the same spindle, the same coil, the same boot number."""
    mine = identity_of(body.build).settings.number
    body.change_board(body.boot)
    body.pull_off(3)
    until_ns = clock.now_ns() + 10**9
    while body.now_ns < until_ns:
        body.take_bytes()
        body.run_until(until_ns)
    clock.move_to(until_ns)
    return mine, mine ^ OTHER_BOARD


def test_it_is_refused_by_number_and_goes_on_with_turns_that_were_counted():
    with Logbook.in_memory() as book:
        body, clock, first = wound_half_way(5.0, book)
        mine, other = another_board(body, clock)
        wish = GoesOn(str(first.coil_id))
        with pytest.raises(UserMistake) as refused:
            open_body(body, clock, book, 2, wish)
        words = f"this is another board, number {other:08x}; number {mine:08x} counted this coil"
        assert words in str(refused.value) and "--turns N" in str(refused.value)
        assert not body.moving and body.wind == 0, "nothing was begun there"
        turns = body.body.wire_counts / 20
        again = open_body(body, clock, book, 2, GoesOn(str(first.coil_id), turns))
        wind_until(again, Phase.COMPLETE, GO_ON)
        assert again.wind.session.course.truth.best == body.body.wire_counts == 150 * 20
        end_run(again, book)
        again.wind.close()
        # From now on it is the other one's coil.
        row = book.coil(str(first.coil_id)).row
        job, machine = again.coil.recipe, again.wind.session.course.machine
        assert earlier_winds(book, GoesOn(str(row.coil_id)), job, machine).board_number == other


def test_the_same_board_after_a_reset_is_not_refused():
    with Logbook.in_memory() as book:
        body, clock, first = wound_half_way(5.0, book)
        body.reset()
        until_ns = clock.now_ns() + 10**9
        while body.now_ns < until_ns:
            body.take_bytes()
            body.run_until(until_ns)
        clock.move_to(until_ns)
        with pytest.raises(UserMistake, match="the count of this coil is in doubt"):
            open_body(body, clock, book, 2, GoesOn(str(first.coil_id)))
        turns = body.body.wire_counts / 20
        again = open_body(body, clock, book, 2, GoesOn(str(first.coil_id), turns))
        wind_until(again, Phase.READY)
        leave(again, book)
