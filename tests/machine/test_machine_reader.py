"""A machine file is read whole, or everything wrong with it is told with line, field and remedy."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.pages import machine_page as machine_reference
from winder.errors import FileComplaints, UserMistake
from winder.machine.format import SECTIONS
from winder.machine.model import SIMULATED_BENCH, MachineProfile
from winder.machine.reader import read_machine, read_machine_text

# Line numbers below count in this text; the first line is 1.
STAND = """\
name = "stand"
[sensor]
counts_per_turn = 20
senses_direction = true
[spindle]
motor = true
speed_max = "1500 rpm"
acceleration = "600 rpm/s"
coasting = "700 rpm/s"
braking = "5000 rpm/s"
[traverse]
travel = "100 mm"
"""
HAND_DRILL = """\
name = "hand drill"
[sensor]
counts_per_turn = 1
senses_direction = false
[spindle]
motor = false
speed_max = "600 rpm"
coasting = "300 rpm/s"
"""


def test_a_stand_with_everything_reads_as_written(tmp_path):
    path = tmp_path / "stand.toml"
    path.write_text(STAND)
    assert read_machine(path) == MachineProfile(
        name="stand",
        counts_per_turn=20,
        direction_sense=True,
        speed_rpm_max=1500.0,
        acceleration_rpm_s=600.0,
        coasting_rpm_s=700.0,
        braking_rpm_s=5000.0,
        motor=True,
        traverse_travel_m=0.1,
    )


def test_a_hand_drill_has_no_motor_no_brake_and_no_guide():
    assert read_machine_text(HAND_DRILL, "f") == MachineProfile(
        name="hand drill",
        counts_per_turn=1,
        direction_sense=False,
        speed_rpm_max=600.0,
        acceleration_rpm_s=300.0,  # nothing but friction changes its speed on our account
        coasting_rpm_s=300.0,
        braking_rpm_s=None,
        motor=False,
        traverse_travel_m=None,
    )


def test_a_motor_is_there_unless_it_is_said_not_to_be():
    assert read_machine_text(STAND.replace("motor = true\n", ""), "f").motor


def test_the_example_of_the_page_is_the_simulated_bench():
    assert read_machine_text(machine_reference.example_text(), "f") == SIMULATED_BENCH


CASES = {
    "counts through a belt": (3, "counts_per_turn = 8.57", 3, "sensor.counts_per_turn", "on the spindle"),
    "counts as a ratio": (3, 'counts_per_turn = "60/7"', 3, "sensor.counts_per_turn", "on the spindle"),
    "counts as a fraction": (3, "counts_per_turn = 20.0", 3, "sensor.counts_per_turn", "counts_per_turn = 20"),
    "counts in quotes": (3, 'counts_per_turn = "20"', 3, "sensor.counts_per_turn", "counts_per_turn = 20"),
    "no counts": (3, "counts_per_turn = 0", 3, "sensor.counts_per_turn", "from 1"),
    "negative counts": (3, "counts_per_turn = -20", 3, "sensor.counts_per_turn", "from 1"),
    "counts missing": (3, "", 2, "sensor.counts_per_turn", "counts_per_turn = 20"),
    "direction in words": (4, 'senses_direction = "yes"', 4, "sensor.senses_direction", "without quotes"),
    "direction a number": (4, "senses_direction = 1", 4, "sensor.senses_direction", "true or"),
    "direction missing": (4, "", 2, "sensor.senses_direction", "senses_direction = true"),
    "motor in words": (6, 'motor = "no"', 6, "spindle.motor", "without quotes"),
    "speed without unit": (7, 'speed_max = "1500"', 7, "spindle.speed_max", '"1500 rpm"'),
    "speed of another kind": (7, 'speed_max = "3 m/s"', 7, "spindle.speed_max", "rpm"),
    "speed missing": (7, "", 5, "spindle.speed_max", "speed_max ="),
    "speed beyond reason": (7, 'speed_max = "30000 rpm"', 7, "spindle.speed_max", "20000 rpm"),
    "acceleration missing": (8, "", 5, "spindle.acceleration", 'acceleration = "600 rpm/s"'),
    "acceleration a speed": (8, 'acceleration = "600 rpm"', 8, "spindle.acceleration", "rpm/s"),
    "coasting missing": (9, "", 5, "spindle.coasting", "coasting ="),
    "coasting nothing": (9, 'coasting = "0 rpm/s"', 9, "spindle.coasting", "1 rpm/s"),
    "brake weaker than friction": (10, 'braking = "600 rpm/s"', 10, "spindle.braking", "measure both"),
    "travel too long": (12, 'travel = "100 m"', 12, "traverse.travel", "did you mean 100 mm"),
    "travel missing": (12, "", 11, "traverse.travel", "travel ="),
    "section misspelt": (11, "[travers]", 11, "travers", "did you mean [traverse]"),
    "key misspelt": (7, 'max_speed = "1500 rpm"', 7, "spindle.max_speed", "did you mean speed_max"),
    "key in the wrong section": (4, "senses_direction = true\nmotor = true", 5, "sensor.motor", "[spindle]"),
    "counts without number": (3, "counts_per_turn = true", 3, "sensor.counts_per_turn", "without quotes"),
    "counts beyond reason": (3, "counts_per_turn = 100000", 3, "sensor.counts_per_turn", "to 10000"),
    "counts not a number": (3, "counts_per_turn = nan", 3, "sensor.counts_per_turn", "on the spindle"),
    "edge rate a fraction": (4, "senses_direction = true\nedge_rate_max = 99.5", 5, "sensor.edge_rate_max", "round it"),
    "edge rate nothing": (4, "senses_direction = true\nedge_rate_max = 0", 5, "sensor.edge_rate_max", "from 1"),
    "edge rate with a unit": (4, 'senses_direction = true\nedge_rate_max = "20 kHz"', 5, "sensor.edge_rate_max", "without quotes"),
    "gear in words": (6, 'gear = "3 to 1"', 6, "spindle.gear", "no quotes"),
    "gear nothing": (6, "gear = 0", 6, "spindle.gear", "from 0.01"),
    "gear backwards": (6, "gear = -3.5", 6, "spindle.gear", "from 0.01"),
    "gear endless": (6, "gear = inf", 6, "spindle.gear", "from 0.01"),
    "gear with the sensor": (4, "senses_direction = true\ngear = 3", 5, "sensor.gear", "[spindle]"),
    "motor speed without unit": (6, "motor_speed_max = 3000", 6, "spindle.motor_speed_max", '"3000 rpm"'),
    "speed with a comma": (7, 'speed_max = "1,500 rpm"', 7, "spindle.speed_max", "1500 rpm"),
    "speed backwards": (7, 'speed_max = "-900 rpm"', 7, "spindle.speed_max", "1 rpm to"),
    "steps a length": (12, 'travel = "100 mm"\nsteps_per_mm = "2.5 um"', 13, "traverse.steps_per_mm", "no quotes"),
    "steps nothing": (12, 'travel = "100 mm"\nsteps_per_mm = 0', 13, "traverse.steps_per_mm", "from 0.1"),
    "free length without unit": (12, 'travel = "100 mm"\n[feed]\nfree_length = 50', 14, "feed.free_length", '"50'),
    "free length a mass": (12, 'travel = "100 mm"\n[feed]\nfree_length = "50 g"', 14, "feed.free_length", "mm"),
    "free length nothing": (12, 'travel = "100 mm"\n[feed]\nfree_length = "0 mm"', 14, "feed.free_length", "1 mm"),
    "tensioner too heavy": (12, 'travel = "100 mm"\n[feed]\ntensioner_mass = "20 kg"', 14, "feed.tensioner_mass", "did you mean 20 g"),
    "feed misspelt": (12, 'travel = "100 mm"\n[feeed]\nfree_length = "50 mm"', 13, "feeed", "did you mean [feed]"),
    "name missing": (1, "", 0, "name", "name ="),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES.values(), ids=CASES.keys())
def test_a_slip_in_a_machine_is_told_once_with_line_field_and_remedy(case):
    number, line, at, field, remedy = case
    lines = STAND.split("\n")
    lines[number - 1] = line
    with pytest.raises(FileComplaints) as caught:
        read_machine_text("\n".join(lines), "stand.toml")
    assert [(c.line, c.field) for c in caught.value.complaints] == [(at, field)]
    assert remedy in caught.value.complaints[0].remedy


def test_what_limits_and_lays_is_read_where_it_is_given():
    text = STAND.replace("[spindle]", "edge_rate_max = 20000\n[spindle]").replace(
        "motor = true", 'gear = 3.5\nmotor_speed_max = "3000 rpm"'
    )
    text += 'steps_per_mm = 400\n[feed]\nfree_length = "30 mm"\ntensioner_mass = "1.5 g"\n'
    machine = read_machine_text(text, "f")
    assert (machine.edge_rate_max_cps, machine.gear, machine.motor_rpm_max) == (
        20000.0,
        3.5,
        3000.0,
    )
    assert (machine.steps_per_mm, machine.free_length_m) == (400.0, 0.03)
    assert machine.tensioner_kg == pytest.approx(0.0015)


def test_a_fraction_of_a_count_is_refused_with_the_reason():
    with pytest.raises(FileComplaints) as caught:
        read_machine_text(STAND.replace("= 20", "= 8.57"), "stand.toml")
    assert "belt" in caught.value.complaints[0].what


def test_everything_missing_is_told_at_once():
    with pytest.raises(FileComplaints) as caught:
        read_machine_text("", "stand.toml")
    assert [c.field for c in caught.value.complaints] == ["name", "sensor", "spindle"]


def test_a_machine_file_that_is_not_there_is_a_mistake(tmp_path):
    with pytest.raises(UserMistake):
        read_machine(tmp_path / "none.toml")


FIELDS = [field for section in SECTIONS for field in section.fields]
VALUES = st.sampled_from(
    ["true", "20", "8.5", '"900 rpm"', '"9 rpm/s"', '"100 mm"', "[]", "{}", "nan", '"x"']
)


@given(st.dictionaries(st.sampled_from([f.path for f in FIELDS] + ["traverse", "x.y"]), VALUES))
def test_any_values_make_a_machine_or_complaints(values):
    text = "".join(f"{path} = {value}\n" for path, value in values.items())
    try:
        machine = read_machine_text(text, "f")
    except FileComplaints as error:
        assert error.complaints
    else:
        assert machine.counts_per_turn >= 1 and machine.coasting_rpm_s > 0


def test_the_machine_page_in_the_tree_is_up_to_date():
    found = machine_reference.PAGE.read_text(encoding="utf-8")
    assert found == machine_reference.page_text(), (
        "write it again: python -m tests.pages.machine_page"
    )
