"""The judge is worth what it notices: hosts that lie, one way each, put before it."""

from __future__ import annotations

import dataclasses

import pytest

from firmware_protocol.connection import HostEnd
from winder.laboratory import judge
from winder.laboratory.faulty import rehearse_scene
from winder.laboratory.underway import Underway
from winder.simulator.carriage import Carriage
from winder.simulator.scene import draw_scene
from winder.simulator.wrong_motion import RestartsByItself
from winder.wind.session import WindSession
from winder.wind.watch import Watch

HONEST = Underway.claim
SHELF = Underway.shelf


def found_in(kind: str, seed: int = 2) -> dict[str, str]:
    return dict(rehearse_scene(draw_scene(kind, seed)).found)


def test_an_honest_host_is_left_in_peace():
    assert found_in("pause") == {}


def test_a_coil_wound_on_by_its_best_guess_may_pass_the_end_by_what_a_hand_turned():
    """Eight edges of a hand, two counts a turn, no sense of direction: within the bounds, four turns past the end."""
    assert found_in("hand at rest", 69670) == {}


@pytest.mark.parametrize("by", [-1, 1])
def test_one_count_too_many_or_too_few_at_rest_is_a_silent_miscount(monkeypatch, by):
    def lying(self):
        claim = HONEST(self)
        return claim and dataclasses.replace(claim, low=claim.low + by, high=claim.high + by)

    monkeypatch.setattr(Underway, "claim", lying)
    assert judge.MISCOUNT in found_in("pause")


def test_bounds_beside_the_truth_are_missed(monkeypatch):
    def lying(self):
        claim = HONEST(self)
        return claim and dataclasses.replace(claim, sure=False, low=claim.low + 1, high=1 << 30)

    monkeypatch.setattr(Underway, "claim", lying)
    assert judge.BOUNDS in found_in("pause")


def test_a_doubtful_coil_that_is_called_complete_is_a_silent_miscount(monkeypatch):
    def lying(self):
        state, claim = SHELF(self)
        return state, claim and dataclasses.replace(claim, sure=False, high=claim.high + 1)

    monkeypatch.setattr(Underway, "shelf", lying)
    found = found_in("untouched")
    assert judge.MISCOUNT in found and judge.NEEDLESS in found


def test_a_shelf_that_says_nothing_has_lost_a_record(monkeypatch):
    monkeypatch.setattr(Underway, "shelf", lambda self: (SHELF(self)[0], None))
    assert judge.RECORDS in found_in("pause")


def test_lines_that_are_gone_after_a_death_are_lost_records(monkeypatch):
    lines = Underway.lines
    monkeypatch.setattr(
        Underway, "lines", lambda self: lines(self) if self.there else lines(self) - 1
    )
    assert judge.RECORDS in found_in("host killed at rest")


def test_an_alarm_at_an_honest_bench_is_a_false_one(monkeypatch):
    monkeypatch.setattr(Underway, "alarm", property(lambda self: "something is wrong"))
    assert judge.FALSE_ALARM in found_in("untouched")


def test_a_deaf_board_without_an_alarm_is_not_stopped(monkeypatch):
    monkeypatch.setattr(Watch, "look_at_conduct", lambda *_: None)
    assert judge.NOT_STOPPED in found_in("deaf to stop", seed=10)


def test_motion_that_a_host_lets_go_on_unasked_is_found(monkeypatch):
    restarted: list[bool] = []
    strike, stop = RestartsByItself.strike, HostEnd.stop

    def striking(self, status):
        restarted[:] = [True] if strike(self, status) else []
        return bool(restarted)

    monkeypatch.setattr(RestartsByItself, "strike", striking)
    monkeypatch.setattr(HostEnd, "stop", lambda self, ns: None if restarted else stop(self, ns))
    monkeypatch.setattr(WindSession, "may_live", lambda *_: True)
    assert any(judge.UNASKED in found_in("restarts by itself", seed) for seed in range(1, 6))


def test_a_host_that_breaks_has_not_ended(monkeypatch):
    def broken(self):
        raise RuntimeError("broken")

    monkeypatch.setattr(Underway, "claim", broken)
    assert "broken" in found_in("untouched")[judge.UNENDED]


def test_wire_laid_from_another_place_than_the_program_believes_is_found(monkeypatch):
    """A switch that is 1 mm beside where the machine file has it: nobody at the program can know."""
    assert found_in("home found") == {}
    halted = Carriage.mark

    def beside(self, at_um):
        halted(self, at_um)
        self.offset_um += 1000

    monkeypatch.setattr(Carriage, "mark", beside)
    assert judge.MISPLACED in found_in("home found")
