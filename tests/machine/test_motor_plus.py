"""Which way the motor's + turns: read from the machine file, and a word it does not know is told."""

from __future__ import annotations

import pytest
from test_machine_reader import STAND

from winder.errors import FileComplaints
from winder.machine.reader import read_machine_text


@pytest.mark.parametrize(
    ("line", "clockwise"),
    [("", True), ('plus = "clockwise"\n', True), ('plus = "counter-clockwise"\n', False)],
)
def test_the_way_of_plus_is_read(line, clockwise):
    text = STAND.replace("motor = true\n", f"motor = true\n{line}")
    assert read_machine_text(text, "f").plus_clockwise is clockwise


def test_a_way_that_is_no_way_is_a_complaint_and_not_clockwise():
    text = STAND.replace("motor = true\n", 'motor = true\nplus = "widdershins"\n')
    with pytest.raises(FileComplaints, match=r"spindle\.plus"):
        read_machine_text(text, "f")
