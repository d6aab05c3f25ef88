"""What ``docs/firmware.md`` claims of the boards is what their binaries say."""

from __future__ import annotations

import re

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE, TWO_EDGES, EmulatedBoard, bench
from emulator.builds import FIRMWARE, needs_cross_tools
from emulator.rp2040_board import Rp2040Board
from emulator.rp2040_tools import needs_rp2040_tools
from emulator.traffic import BusyHost

PAGE = (FIRMWARE.parents[1] / "docs" / "firmware.md").read_text()


def claimed(sensor: int, column: int) -> int:
    row = re.search(rf"^\| {sensor} \|.*\| (\d+) \| (\d+)[^|]*\|$", PAGE, re.MULTILINE)
    assert row, "the table of sensors has no such row"
    return int(row[column])


@needs_cross_tools
@pytest.mark.parametrize("sensor", [ONE_PULSE, TWO_EDGES, FOUR_EDGES])
def test_the_claimed_rates_are_those_of_the_binaries(sensor):
    welcome = BusyHost(EmulatedBoard(bench(4, sensor))).open()
    assert welcome.edge_rate_max_cps == claimed(sensor, 2)


@needs_rp2040_tools
@pytest.mark.parametrize("sensor", [ONE_PULSE, TWO_EDGES, FOUR_EDGES])
def test_the_claimed_rates_of_the_rp2040_are_those_of_its_binary(sensor):
    welcome = BusyHost(Rp2040Board(bench(4, sensor))).open()
    assert welcome.edge_rate_max_cps == claimed(sensor, 1)


@needs_cross_tools
def test_the_smallest_board_claims_what_the_page_says():
    welcome = BusyHost(EmulatedBoard(bench(1, ONE_PULSE), "smallest")).open()
    assert f"it claims {welcome.edge_rate_max_cps}" in PAGE


def test_the_pull_down_and_the_switch_are_told():
    port = (FIRMWARE / "ports" / "atmega328p" / "port.h").read_text()
    assert "pull-down" in PAGE and "pull-down" in port
    assert "takes the power from the motor" in PAGE
