"""The page on building a board: its pictures show the firmware's pins, its commands exist, its cautions stand."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from tests.pages.wiring_pictures import DOCS, MOTOR, PICTURES, RP2040, drawn, due, pins_of
from winder.commands.main import build_parser

PAGE = (DOCS / "build_a_board.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("picture", PICTURES, ids=lambda picture: picture.file)
def test_a_wiring_picture_in_the_tree_is_what_the_firmware_says(picture):
    found = (DOCS / picture.file).read_text(encoding="utf-8")
    assert found == due(picture), "python -m tests.pages.wiring_pictures"
    assert picture.file in PAGE


@pytest.mark.parametrize("picture", PICTURES, ids=lambda picture: picture.file)
def test_a_pin_that_moves_in_the_firmware_changes_the_picture(picture):
    header = picture.header.read_text(encoding="utf-8")
    for wire in picture.wires:
        moved = re.sub(
            rf"#define PIN_{wire.pin} _BV\(P..\)", f"#define PIN_{wire.pin} _BV(PB7)", header
        )
        moved = re.sub(rf"#define GP_{wire.pin} \d+u", f"#define GP_{wire.pin} 22u", moved)
        assert moved != header
        assert drawn(picture, moved) != due(picture), wire.pin


def test_a_pin_that_is_gone_or_used_twice_is_an_error():
    header = MOTOR.header.read_text(encoding="utf-8")
    with pytest.raises(KeyError):
        drawn(MOTOR, header.replace("#define PIN_GUARD", "#define PIN_OTHER"))
    with pytest.raises(ValueError, match="share a pin"):
        drawn(RP2040, RP2040.header.read_text(encoding="utf-8").replace("GP_DUTY 6u", "GP_DUTY 8u"))
    with pytest.raises(ValueError, match="share a pin"):
        drawn(MOTOR, header.replace("PIN_DUTY _BV(PB1)", "PIN_DUTY _BV(PB0)"))


def test_the_pins_of_the_pictures_are_those_of_the_firmware_page():
    told = (DOCS / "firmware.md").read_text(encoding="utf-8")
    for picture in (MOTOR, RP2040):
        pins = pins_of(picture.header.read_text(encoding="utf-8"))
        for name, word in (("ENABLE", "motor enable"), ("DUTY", "motor duty"), ("GUARD", "")):
            assert re.search(rf"\| {pins[name]} \| {word}", told), name


def commands_of_the_page() -> list[list[str]]:
    lines = re.findall(r"^    (winder .*)$", PAGE, re.MULTILINE)
    return [shlex.split(line) for line in lines]


@pytest.mark.parametrize("words", commands_of_the_page(), ids=" ".join)
def test_every_command_of_the_page_is_one(words):
    assert build_parser().parse_args(words[1:]).run


def test_the_cautions_stand_before_everything_that_turns():
    first = PAGE.index("First of all fit a hard-wired one")
    assert first < PAGE.index("## a.")
    for word in ("eye protection", "licensed person", "isocyanates", "local codes"):
        assert word in PAGE, word
    assert Path(DOCS / "protocol" / "conformance.md").exists()
