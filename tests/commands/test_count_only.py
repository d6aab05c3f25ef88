"""A coil of which only a name and a number of turns are known: counted by motor and by drill, killed, and gone on with."""

from __future__ import annotations

import asyncio
import signal
import subprocess
import sys
import time

import pytest
from running import winder

from winder.machine.template import new_profile_text
from winder.screens.app import WinderApp
from winder.service.workbench import LocalWorkbench
from winder.shelf import Logbook
from winder.wind.model import Phase

NAME = "rotor sensor"
AT_ONCE = ("--plain", "--start", "--top", "operator")


@pytest.fixture
def drill(tmp_path):
    path = tmp_path / "drill.toml"
    path.write_text(new_profile_text("drill").replace("motor = true", "motor = false"))
    return ("--machine", str(path))


def count(folder, *words, turns=60):
    job = ("--count", str(turns), "--name", NAME, "--port", "sim?pace=50&seed=7")
    return ("wind", *job, *AT_ONCE, "--logbook", str(folder / "shelf.sqlite"), *words)


def coils(folder):
    with Logbook.open(folder / "shelf.sqlite", read_only=True) as logbook:
        return logbook.coils()


def test_a_motor_stops_on_the_turn_and_a_drill_is_called_there(tmp_path, drill):
    done = winder(*count(tmp_path))
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("complete: write down: 60 turns, exact") == 1
    by_hand = winder(*count(tmp_path, *drill))
    assert by_hand.returncode == 0, by_hand.stderr
    motor, hand = coils(tmp_path)
    assert (motor.name, motor.state, motor.turns, motor.wire) == (
        NAME,
        "complete",
        (60, 60),
        "not known",
    )
    assert hand.state == "complete"
    assert 60 <= hand.turns[0] == hand.turns[1] < 61


@pytest.mark.parametrize("by_drill", [False, True])
def test_killed_while_it_turns_it_is_kept_and_goes_on_to_its_number(tmp_path, drill, by_drill):
    machine = drill if by_drill else ()
    words = count(tmp_path, *machine, turns=3000)
    words = [word.replace("pace=50", "pace=10") for word in words]  # not done before it is killed
    process = subprocess.Popen(
        [sys.executable, "-u", "-m", "winder", *words], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    for line in process.stdout:
        if " of 3000 turns" in line and not line.strip().startswith("0.00"):
            break
    time.sleep(2.0)  # of commits, one each 0.4 s of the machine
    process.send_signal(signal.SIGKILL)
    process.wait(10)
    (coil,) = coils(tmp_path)
    assert coil.under_way and coil.truth.best > 0
    refused = winder(*count(tmp_path, *machine, "--continue", "1", turns=3000))
    assert refused.returncode == 2, "the count is in doubt, and --start guesses nothing"
    assert "count the turns on it and add --turns N" in refused.stderr
    on_it = "2990"
    done = winder(*count(tmp_path, *machine, "--continue", "1", "--turns", on_it, turns=3000))
    assert done.returncode == 0, done.stdout + done.stderr
    (coil,) = coils(tmp_path)
    assert coil.state == "complete"
    assert 3000 <= coil.turns[0] < 3001


def test_wire_and_bobbin_are_told_later_and_the_physics_starts_then(tmp_path):
    assert winder(*count(tmp_path)).returncode == 0
    book = ("--logbook", str(tmp_path / "shelf.sqlite"))
    before = winder("shelf", "measure", "1", "41 ohm, 21 C", *book)
    assert "no verdict: it was only counted" in before.stdout + before.stderr
    recipe = tmp_path / "rotor.toml"
    assert winder("recipe", "new", str(recipe)).returncode == 0
    assert winder("shelf", "edit", "1", "--recipe", str(recipe), *book).returncode == 0
    after = winder("shelf", "measure", "1", "41 ohm, 21 C", *book)
    assert "expected of it as wound" in after.stdout
    again = winder("shelf", "edit", "1", "--recipe", str(recipe), *book)
    assert again.returncode == 2
    assert "has wire and bobbin on record already" in again.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--count", "0", "--name", "x"), "0 turns"),
        (("--count", "8"), "needs a name"),
        (("bass.toml", "--count", "8", "--name", "x"), "leave one of them out"),
        (("bass.toml", "--name", "x"), "a name goes with --count"),
    ],
)
def test_what_cannot_be_counted_is_said_in_one_sentence(words, said):
    answer = winder("wind", *words, "--port", "sim", *AT_ONCE, "--tension", "12 cN")
    assert answer.returncode == 2
    assert said in answer.stderr and "Traceback" not in answer.stderr


@pytest.mark.parametrize("by_drill", [False, True])
def test_from_the_start_screen_by_one_key(tmp_path, drill, by_drill, monkeypatch):
    bench = LocalWorkbench(str(tmp_path / "shelf.sqlite"), drill[1] if by_drill else None)
    monkeypatch.setattr(bench, "ports", lambda: ["sim?pace=30&seed=7"])
    app = WinderApp(workbench=bench)

    async def play() -> None:
        async with app.run_test(size=(100, 30)) as pilot:

            async def until(*phases: Phase) -> None:
                for _ in range(600):
                    if app.wind is not None and app.wind.view.phase in phases:
                        return
                    await pilot.pause(0.05)
                raise AssertionError("still " + str(app.wind and app.wind.view.phase))

            await pilot.press("c", *"60 ", *NAME.replace(" ", "_"), "enter")
            await until(Phase.SETTING_UP)
            await pilot.pause(0.2)
            await pilot.press("a", "o", *(() if by_drill else ("r",)), "d")
            await until(Phase.READY)
            await pilot.press("s")
            if not by_drill:
                await pilot.pause(0.4)
                await pilot.press("0")
            await until(Phase.COMPLETE)
            await pilot.press("q")
            await pilot.pause(1.0)

    asyncio.run(play())
    (coil,) = coils(tmp_path)
    assert coil.state == "complete"
    assert 60 <= coil.turns[0] < 61
