"""Facts of the bench: asked once, with a default, and kept in the machine file with its comments."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.errors import FileComplaints
from winder.files.rewriting import with_value
from winder.machine.asking import QUESTIONS, Purpose, answered, missing, objection
from winder.machine.instruments import Instruments
from winder.machine.reader import read_machine_text
from winder.machine.template import new_profile_text

PLAIN = """\
# my own bench
name = "bench"  # in the shed

[sensor]
counts_per_turn = 20   # slotted wheel
senses_direction = true

[spindle]
speed_max = "1500 rpm"
acceleration = "600 rpm/s"
coasting = "700 rpm/s"

# the wire comes over felt
[feed]
free_length = "50 mm"
"""


def test_a_file_that_says_nothing_has_everything_to_be_asked():
    machine = read_machine_text(PLAIN, "bench.toml")
    assert machine.instruments == Instruments()
    assert [question.path for question in missing(machine, Purpose.WINDING)] == ["feed.tensioner"]
    asked = [question.path for question in missing(machine, Purpose.OHMS)]
    assert asked[0] == "instruments.meter_counts" and "instruments.leads" in asked
    assert [each.path for each in missing(machine, Purpose.CALIPER)] == ["instruments.caliper"]


def test_answers_are_kept_and_never_asked_again():
    text = PLAIN
    for question in QUESTIONS:
        assert objection(question.path, question.default) == ""
        for choice in question.choices:
            assert objection(question.path, choice) == ""
        text = answered(text, question.path, question.default)
    machine = read_machine_text(text, "bench.toml")
    assert machine.tensioner == "felt or fingers"
    assert machine.instruments == Instruments(leads_ohm=0.2)
    assert not any(missing(machine, purpose) for purpose in Purpose)
    for line in PLAIN.strip().split("\n"):
        assert line in text, "every line and comment is still there"


def test_the_simulated_bench_and_a_new_file_read_alike_and_a_default_is_the_default():
    assert read_machine_text(new_profile_text("x"), "x").instruments == Instruments()


def test_an_answer_keeps_the_comment_beside_it():
    text = answered(PLAIN, "sensor.counts_per_turn", "24")
    assert "counts_per_turn = 24   # slotted wheel" in text
    assert read_machine_text(text, "b").counts_per_turn == 24


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        ("feed.tensioner", '"string"', "felt or fingers"),
        ("instruments.leads", '"0,2 ohm"', "0.2 ohm"),
        ("instruments.meter_counts", '"2000"', "without quotes"),
        ("instruments.leads", "0.2 ohm", "quotes"),
        ("instruments.leads", "", "nothing is written"),
        ("instruments.leads", '"1 ohm"\nx = 3', "nothing is written"),
    ],
)
def test_what_is_no_answer_is_told(path, value, words):
    assert words in objection(path, value)


def test_an_answer_that_the_file_cannot_bear_is_refused_whole():
    with pytest.raises(FileComplaints):
        answered(PLAIN, "sensor.counts_per_turn", "0")


KEYS = st.from_regex(r"\A[a-z]{1,6}\Z")
TABLES = st.dictionaries(KEYS, st.integers(0, 99), max_size=4)


@given(st.dictionaries(KEYS, TABLES, max_size=4), KEYS, KEYS, st.integers(0, 99))
def test_amending_changes_one_key_and_nothing_else(tables, section, key, value):
    text = "# head\n" + "".join(
        f"\n[{name}]  # of {name}\n" + "".join(f"{k} = {v}  # so\n" for k, v in table.items())
        for name, table in tables.items()
    )
    changed = with_value(text, f"{section}.{key}", str(value))
    wanted = {name: dict(table) for name, table in tables.items()}
    wanted.setdefault(section, {})[key] = value
    assert tomllib.loads(changed) == wanted
    kept = [line for line in text.split("\n") if line.strip()]
    there = changed.split("\n")
    assert sum(line in there for line in kept) >= len(kept) - 1
