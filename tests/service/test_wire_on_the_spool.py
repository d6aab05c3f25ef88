"""What a wind's screen shows of the spool: metres left, and that it ends before it does. Coils are invented."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from tests.commands.running import SHORT
from tests.pages.scenes import SCENES
from winder.plan.facing import Top
from winder.recipe.model import AwgWire
from winder.screens.wind_page import draw_wind
from winder.service.opening import Declared
from winder.service.workbench import WindRequest, close_run, open_run
from winder.shelf import Logbook
from winder.shelf.spools import Spools
from winder.wind.model import Asked, Intent, Phase, WireView

TURNS = 400
CORE_M = (
    math.pi * 0.010
)  # of the recipe's core: a turn is longer, and at most that of the full winding


def open_with(folder, length_m: float):
    book, recipe = folder / "book", folder / "short.toml"
    recipe.write_text(SHORT.format(turns=TURNS, more=""))
    with Logbook.open(book) as logbook:
        Spools(logbook.book).add("red", AwgWire(42, "single"), "42 AWG single", length_m=length_m)
    return open_run(
        WindRequest(
            str(recipe), "sim?pace=200", logbook=str(book), spool="red", short_wire=True,
            declared=Declared(Top.OPERATOR, 12.0, "test"),
        )
    )  # fmt: skip


def wind_it(wind) -> list:
    """The views of a wind that is started and goes to its end."""
    views, asked = [], set()
    for _ in range(20_000):
        wind.step()
        view = wind.view()
        views.append(view)
        for intent in (Intent.ACCEPT_CAUTIONS, Intent.START):
            if intent in view.may and intent not in asked:
                asked.add(intent)
                wind.ask(Asked(intent))
        if view.phase is Phase.COMPLETE:
            break
    return views


def test_metres_go_down_with_the_turns_and_a_full_spool_says_nothing(tmp_path):
    opened, logbook = open_with(tmp_path, 900.0)
    views = wind_it(opened.wind)
    close_run(opened, logbook)
    left = [view.wire.left_m for view in views]
    assert left == sorted(left, reverse=True)
    used_m = left[0] - left[-1]
    assert TURNS * CORE_M < used_m < TURNS * CORE_M * 1.2
    assert all(view.wire.until_turns is None and "spool" not in view.advice for view in views)


def test_a_spool_that_may_end_is_told_a_hundred_turns_before(tmp_path):
    """By hand: 8 m round a core of 10 mm is 255 turns at most; the printed length is good to 2 %."""
    opened, logbook = open_with(tmp_path, 8.0)
    views = [view for view in wind_it(opened.wind) if view.phase is Phase.WINDING]
    close_run(opened, logbook)
    ends = views[0].wire.until_turns + views[0].count.turns
    assert 150 < ends < 255
    for view in views:
        warned = "join a fuller one" in view.advice
        assert warned is (view.count.turns >= ends - 100)
    assert "now on" in views[-1].advice


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_the_screen_has_the_metres(size):
    sure = replace(SCENES["winding"], wire=WireView(812.4, None))
    assert " ".join(draw_wind(sure, *size).text().split()).count("wire 812 m") == 1
    near = replace(SCENES["winding"], wire=WireView(9.4, 96.0))
    assert "wire 9 m, 96+ turns" in " ".join(draw_wind(near, *size).text().split())
