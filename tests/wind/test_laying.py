"""The picture of the wire in the view: fed when looked at, level where nobody knows."""

from __future__ import annotations

import pytest

from winder.plan.lane import HandLane
from winder.wind.laying import KEPT, Laying


class Recorded:
    """Keeps the reports; its heights are told by the test."""

    def __init__(self) -> None:
        self.turns = 0.0
        self.reports: list[tuple[float, float | None]] = []

    def report(self, turns: float, place_m: float | None) -> None:
        self.turns = turns
        self.reports.append((turns, place_m))

    def shares(self, height_m: float) -> list[float]:
        return [self.turns * height_m] * 2


def laying(lane: HandLane | None = None) -> tuple[Laying, Recorded]:
    profile = Recorded()
    return Laying(profile, 0.5, (0.1, 0.9), lane, 4), profile


def test_turns_are_reported_with_the_guides_place():
    found, profile = laying()
    assert found.lay(0.0, 0.0, 1e-3) == (0.0, 0.0)
    assert found.lay(4.0, 0.0, 2e-3) == (2.0, 2.0)
    assert profile.reports[-1] == (4.0, 2e-3)


def test_earlier_turns_and_settled_ones_lie_level():
    found, profile = laying()
    found.lay(300.0, 300.0, 1e-3)
    assert profile.reports[0] == (300.0, None)
    found.lay(301.0, 300.0, 2e-3)
    found.lay(311.0, 310.0, 2e-3)  # somebody vouched for ten more
    assert profile.reports[-2:] == [(311.0, None), (311.0, 2e-3)]


def test_turns_that_come_off_come_off_level():
    found, profile = laying()
    found.lay(10.0, 0.0, 1e-3)
    found.lay(8.0, 0.0, 1e-3)
    assert profile.reports[-1] == (8.0, None)


def test_looking_twice_costs_nothing_but_the_guides_place():
    found, profile = laying()
    shown = found.lay(10.0, 0.0, 1e-3)
    assert found.lay(10.0, 0.0, 5e-3) is shown
    assert profile.reports[-1] == (10.0, 5e-3)
    told = len(profile.reports)
    assert found.lay(10.0, 0.0, None) is shown
    assert len(profile.reports) == told


def test_every_status_between_two_looks_counts():
    found, profile = laying()
    found.lay(0.0, 0.0, 1e-3)
    for count, guide_um in ((4, 1100), (8, 1200), (12, 1100)):
        found.see(count, guide_um)
    told = len(profile.reports)
    found.lay(3.25, 0.0, 1.05e-3)
    fed = [(1.0, 1.1e-3), (2.0, 1.2e-3), (3.0, 1.1e-3), (3.25, 1.05e-3)]
    assert profile.reports[told:] == [(turns, pytest.approx(place)) for turns, place in fed]
    found.lay(3.25, 0.0, 1.05e-3)
    assert len(profile.reports) == told + 5


def test_what_came_while_nobody_looked_for_long_lies_level():
    found, profile = laying()
    found.lay(0.0, 0.0, 1e-3)
    for count in range(1, KEPT + 50):
        found.see(4 * count, 1000 + count)
    told = len(profile.reports)
    found.lay(KEPT + 49.0, 0.0, 2e-3)
    assert profile.reports[told] == (50.0, None)


def test_the_lane_is_told_only_where_a_hand_guides():
    found, _ = laying()
    assert found.lane(10.0, back=False) is None
    led, _ = laying(HandLane(0.0, 1.0, 100.0, 1.0))
    place = led.lane(150.0, back=False)
    assert place is not None and (place.rightward, place.turns_to_edge, place.layer) == (
        False,
        50.0,
        2,
    )
    assert led.lane(150.0, back=True).rightward
