"""A wind without a screen: every word's intent, and the whole list, wind and reading typed on a terminal."""

from __future__ import annotations

import json
import os
import pty
import select
import subprocess
import sys
import time

import pytest

from winder.commands.plain_words import NUMBERS, TEXTS, WORDS, read_word
from winder.plan.facing import Top
from winder.service.estimating import said_reading
from winder.service.given_files import read_coil
from winder.wind.model import Asked, Intent, Item, TurnsOff

PATIENCE_S = 60.0  # only so that a hang ends
RECIPE = """\
name = "typed coil"
note = "Invented, for the tests."

[wire]
gauge = "38 AWG"
film = "single"

[bobbin]
shape = "round"
diameter = "10 mm"
width = "4 mm"
flange_height = "4 mm"

[target]
turns = 60

[winding]
direction = "clockwise"
"""


@pytest.mark.parametrize(
    ("typed", "asked"),
    [
        ("Start", Asked(Intent.START)),
        ("  top   chuck ", Asked(Intent.DECLARE_TOP, Top.CHUCK)),
        ("guide -0.5", Asked(Intent.STEP_GUIDE, -0.5)),
        ("guide stands", Asked(Intent.CONFIRM, Item.GUIDE)),
        ("guide back", Asked(Intent.GUIDE_TO_START)),
        ("turns off 6.5", Asked(Intent.TURNS_OFF, TurnsOff(6.5))),
        ("turns off 6.5 besides", Asked(Intent.TURNS_OFF, TurnsOff(6.5, besides=True))),
        ("acknowledge", Asked(Intent.ACKNOWLEDGE)),
        ("cut", Asked(Intent.CUT)),
        ("take off 12", Asked(Intent.TAKE_OFF, 12.0)),
        ("measured 846.2 21.5", Asked(Intent.MEASURED, said_reading("846.2 21.5"))),
        (
            "measured tail, 8 m, 43.1 ohm",
            Asked(Intent.MEASURED, said_reading("tail, 8 m, 43.1 ohm")),
        ),
        ("Note Upper flange bent", Asked(Intent.NOTE, "Upper flange bent")),
        ("counted 3106", Asked(Intent.SETTLE_COUNT, 3106.0)),
    ],
)
def test_a_word_is_an_intent(typed, asked):
    assert read_word(typed) == asked


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("counted", "counted 6.5"),
        ("counted 3_106", "counted 6.5"),
        ("counted 1e3", "counted 6.5"),
        ("turns off six besides", "turns off 6.5"),
        ("measured 846,2", "decimals with a point"),
        ("guide left", "guide -0.5"),
        ("tension hard", "tension 12.5"),
        ("note", "note TEXT"),
        ("go", ""),
        ("", ""),
    ],
)
def test_what_is_no_word_is_no_intent(typed, said):
    read = read_word(typed)
    assert isinstance(read, str) and said in read


def test_every_intent_has_a_word():
    worded = {asked.intent for asked in WORDS.values()}
    worded |= {intent for intent, _ in (*NUMBERS.values(), *TEXTS.values())}
    assert set(Intent) - worded == {Intent.ACCEPT_CAUTIONS}, "given with the cautions on the page"


class Terminal:
    """``winder wind --plain`` on a pseudo-terminal."""

    def __init__(self, tmp_path, port: str) -> None:
        self.recipe = tmp_path / "typed.toml"
        self.recipe.write_text(RECIPE)
        self.logbook = tmp_path / "book.sqlite"
        self._master, slave = pty.openpty()
        words = [
            "wind",
            str(self.recipe),
            "--port",
            port,
            "--plain",
            "--logbook",
            str(self.logbook),
        ]
        self._process = subprocess.Popen(
            [sys.executable, "-m", "winder", *words], stdin=slave, stdout=slave, stderr=slave
        )
        os.close(slave)
        self.seen = ""

    def until(self, *words: str) -> None:
        """Read on until all the words stood on the terminal since the last line typed."""
        end = time.monotonic() + PATIENCE_S
        while not all(word in self.seen for word in words):
            assert time.monotonic() < end, f"{words} never came:\n{self.seen}"
            self.read()

    def read(self) -> None:
        if select.select([self._master], [], [], 0.2)[0]:
            try:
                self.seen += os.read(self._master, 65536).decode()
            except OSError as hung_up:
                raise AssertionError(f"ended too early:\n{self.seen}") from hung_up

    def type(self, line: str, *then: str) -> None:
        self.seen = ""
        os.write(self._master, f"{line}\n".encode())
        self.until(*then)

    def type_patiently(self, line: str, then: str) -> None:
        """Again while the guide is still on its last step."""
        end = time.monotonic() + PATIENCE_S
        self.type(line)
        while then not in self.seen:
            assert time.monotonic() < end, self.seen
            if "the guide is still moving" in self.seen:
                self.type(line)
            self.read()

    def end(self) -> int:
        code = self._process.wait(PATIENCE_S)
        os.close(self._master)
        return code

    def kill(self) -> None:
        self._process.kill()
        self._process.wait()


def test_the_whole_list_the_wind_and_the_reading_are_typed(tmp_path):
    terminal = Terminal(tmp_path, "sim?pace=30&seed=3")
    try:
        terminal.until("caution:", "[ ] bobbin mounted", "type:")
        terminal.type("start", "not possible now", "the set-up is not done")
        terminal.type("all done", "still to be done: bobbin mounted")
        terminal.type("top operator", "[x] bobbin mounted")
        terminal.type("lead fixed", "[x] start lead")
        terminal.type("tension 12", "[x] tension set: 12 cN")
        terminal.type("touch left", "left touched")
        terminal.type("guide 4", "left touched")
        terminal.type_patiently("touch right", "between the touches")
        terminal.type_patiently("guide back", "[x] guide referenced: 4.00 mm between the touches")
        terminal.type("all done", "ready:")
        terminal.type("start", "complete:", "finish lead", "measure:")
        ohm = read_coil(terminal.recipe).resistance_ohm_20c.nominal
        terminal.type(f"measured {ohm:.2f} 21.5", "at 60 turns")
        terminal.type("leave")
        assert terminal.end() == 0
    finally:
        terminal.kill()
    words = ["shelf", "show", "1", "--json", "--logbook", str(terminal.logbook)]
    shown = subprocess.run(
        [sys.executable, "-m", "winder", *words], capture_output=True, text=True, check=True
    ).stdout
    run = json.loads(shown)["runs"][0]
    assert (run["measured_ohm"], run["measured_at_c"]) == (pytest.approx(ohm, abs=0.01), 21.5)
    told = [line["text"] for line in run["lines"]]
    assert any("tension: 12 cN" in text for text in told)
    assert any("turns counter-clockwise, as declared" in text for text in told), "by the sensor"
