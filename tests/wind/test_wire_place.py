"""Where the wire is, by the record alone; the worked figures are sums done by hand."""

from __future__ import annotations

from session_bench import leg

from winder.plan.model import AtEnd
from winder.wind.wire_place import WALK_TURNS_MAX, WirePlace, WireWay

LEG = leg("body", 2000, AtEnd.COMPLETE, 600.0)  # 50 um a turn between 500 and 8000 um


def test_between_two_notes_the_wire_goes_on_by_the_pitch():
    way = WireWay([WirePlace(10.0, 1000, True)])
    assert way.at(14.0, LEG) == WirePlace(14.0, 1200, True)


def test_at_a_turning_point_it_turns_back():
    way = WireWay([WirePlace(10.0, 7900, True)])
    assert way.at(15.0, LEG) == WirePlace(15.0, 7850, False)  # 2 turns to the edge, 3 back
    back = WireWay([WirePlace(10.0, 600, False)])
    assert back.at(13.0, LEG) == WirePlace(13.0, 550, True)


def test_turns_that_came_off_lead_back_to_an_earlier_note():
    way = WireWay(WirePlace(turn, 1000 + 50 * turn, True) for turn in range(0, 100, 5))
    found = way.at(52.0, LEG)
    assert found == WirePlace(52.0, 3600, True)


def test_a_coil_that_is_wound_anew_is_noted_anew():
    way = WireWay([WirePlace(10.0, 1500, True), WirePlace(20.0, 2000, True)])
    way.note(WirePlace(12.0, 4000, False))
    assert way.at(20.0, LEG) == WirePlace(20.0, 3600, False)


def test_nothing_is_said_where_nothing_is_on_record():
    assert WireWay().at(10.0, LEG) is None
    way = WireWay([WirePlace(10.0, 1500, True)])
    assert way.at(5.0, LEG) is None
    assert way.at(11.0 + WALK_TURNS_MAX, LEG) is None
