"""A board that only counts stops nothing: no word on any page, in any help, question or caution says that it does."""

from __future__ import annotations

import dataclasses

import pytest

from tests.pages.scenes import SCENES
from winder.screens.moment_help import wind_help
from winder.screens.words import link_notice
from winder.service.cautions import cautions_for
from winder.wind.model import Phase

COUNTER = dataclasses.replace(SCENES["winding"], board_stops=False, may=frozenset())
STOPS = ("by itself", "board stops", "board slows", "slows down", "motor's power", "stops at")


def in_phase(phase: Phase):
    trouble = dataclasses.replace(COUNTER.trouble, link_age_s=3.0)
    return dataclasses.replace(COUNTER, phase=phase, advice="", trouble=trouble)


# A counter trips nothing, raises no alarm and loads no plan that runs.
@pytest.mark.parametrize("phase", [p for p in Phase if p not in (Phase.TRIPPED, Phase.ALARM)])
def test_no_help_and_no_notice_says_that_the_board_stops_the_spindle(phase):
    view = in_phase(phase)
    assert not view.board_stops
    for said in (wind_help(view), link_notice(view)):
        assert not any(word in said for word in STOPS), said


def test_silence_says_to_stop_turning():
    assert "Stop turning" in link_notice(in_phase(Phase.UNHEARD))
    assert "Stop turning" in wind_help(in_phase(Phase.UNHEARD))


def test_the_cautions_of_a_counter_say_that_it_stops_nothing():
    counted, driven = cautions_for(board_stops=False), cautions_for(board_stops=True)
    assert not any(word in caution for word in STOPS for caution in counted)
    assert any("no key on this computer stops the spindle" in caution for caution in counted)
    assert any("not an emergency stop" in caution for caution in driven)
    shared = set(counted) & set(driven)
    assert any("eye protection" in caution for caution in shared)
    assert any("licensed person" in caution for caution in shared)
