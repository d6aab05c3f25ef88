"""What is written into the logbook is what is read back."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from winder.errors import UserMistake, WinderError
from winder.shelf import Logbook
from winder.shelf.model import BEGUN, COMPLETE, ENDED_SHORT, UNFINISHED
from winder.wind.deeds import Brought
from winder.wind.model import How, Intent, SessionEvent
from winder.wind.truth import CountTruth

EXACT_END = CountTruth(24000, 24000, 24000)
DOUBTFUL = CountTruth(9001, 9020, 9040, why="the board was reset while winding")
VOUCHED = CountTruth(9020, 9020, 9020, "Ada", "recounted")
DATE = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")


def event(number: int, kind: str = "count", **facts: object) -> SessionEvent:
    return SessionEvent(kind, 1000 * number, f"turn {number}", 20 * number, facts)


def counted(truth: CountTruth) -> SessionEvent:
    """A line of the journal after which the coil has this count."""
    deed = Brought(truth.low, truth.best, truth.high, 20, truth.by, truth.why)
    return SessionEvent("moved", 1, "counted", None, {}, (deed,))


def test_a_coil_comes_back_with_recipe_run_and_journal(logbook, made):
    run_id = made.begin(logbook, wind=0xFFFF_FFFF, port="/dev/ttyACM0")
    logbook.write(run_id, [event(1, leg=0), event(2, leg=0)])
    logbook.write(run_id, [event(3, leg=1)])
    logbook.write(run_id, [counted(EXACT_END)])
    logbook.end_run(run_id, How.COMPLETE, measured_ohm=203.4, measured_at_c=21.5)

    (row,) = logbook.coils()
    assert (row.name, row.wire, row.target_turns) == ("tine sensor", "42 AWG single", 1200)
    assert (row.direction, row.state, row.runs) == ("clockwise", COMPLETE, 1)
    assert row.ohm_20c == (205.0, 195.0, 216.0)
    assert (row.measured_ohm, row.measured_at_c) == (203.4, 21.5)
    assert row.truth == EXACT_END
    assert row.turns == (1200.0, 1200.0)
    assert DATE.fullmatch(row.date)

    record = logbook.coil(row.coil_id)
    assert record.recipe_text == made.recipe.text
    wire = record.recipe_facts["wire"]
    assert (wire["kind"], wire["gauge"], wire["film"]) == ("AwgWire", 42, "single")
    assert record.coil_facts["area_per_turn_m2"]["nominal"] == 6e-9
    (run,) = record.runs
    assert (run.wind, run.port, run.simulated_seed) == (0xFFFF_FFFF, "/dev/ttyACM0", 7)
    assert (run.machine_name, run.counts_per_turn) == ("simulated bench", 20)
    assert run.how == "complete"
    assert record.account.truth() == EXACT_END
    assert run.plan == made.plan
    assert [(line.number, line.at_ns, line.counts) for line in run.lines[:3]] == [
        (1, 1000, 20),
        (2, 2000, 40),
        (3, 3000, 60),
    ]
    assert run.lines[2].facts == {"leg": 1}
    assert run.lines[0].text == "turn 1"
    assert all(DATE.fullmatch(line.date) for line in run.lines)


def test_two_runs_keep_their_journals_apart(logbook, made):
    first = made.begin(logbook)
    second = made.begin(logbook)
    logbook.write(first, [event(1)])
    logbook.write(second, [event(7)])
    logbook.write(first, [event(2)])
    lines = [logbook.coil(coil).runs[0].lines for coil in (1, 2)]
    assert [[line.counts for line in of_run] for of_run in lines] == [[20, 40], [140]]
    assert [[line.number for line in of_run] for of_run in lines] == [[1, 2], [1]]


def test_a_write_is_all_or_nothing(logbook, made):
    run_id = made.begin(logbook)
    logbook.write(run_id, [event(1)])
    unwritable = replace(event(3), counts=1 << 70)  # more than a column holds
    with pytest.raises(OverflowError):
        logbook.write(run_id, [event(2), unwritable])
    logbook.write(run_id, [event(4)])
    assert [line.counts for line in logbook.coil(1).runs[0].lines] == [20, 80]
    assert [line.number for line in logbook.coil(1).runs[0].lines] == [1, 2]


def test_writing_for_a_run_that_is_not_there_is_refused(file, made):
    with Logbook.open(file) as logbook:
        made.begin(logbook)
        with pytest.raises(WinderError) as refused:
            logbook.write(99, [event(1)])
        assert refused.value.where == str(file)


@pytest.mark.parametrize(
    "hostile",
    ["[/red] {x} %s", "line\nbreak\x00\x1b[31m", "half \ud83d character", "\u202eright to left"],
)
def test_any_text_and_any_fact_can_be_written(logbook, made, hostile):
    run_id = made.begin(logbook)
    strange = {"note": hostile, "intent": Intent.START, "when": made.coil, "no": float("nan")}
    logbook.write(run_id, [SessionEvent(hostile, 1, hostile, None, strange)])
    (line,) = logbook.coil(1).runs[0].lines
    assert line.text == hostile.replace("\ud83d", "?")
    assert line.facts["intent"] == "start"
    assert line.facts["when"]["turns"] == 1200


def test_a_coil_is_found_by_number_or_by_its_only_name(logbook, made):
    made.begin(logbook)
    made.named("drone sensor").begin(logbook)
    made.named("drone sensor").begin(logbook)
    assert logbook.coil("1").row.name == "tine sensor"
    assert logbook.coil("tine sensor").row.coil_id == 1
    assert logbook.coil(3).row.coil_id == 3
    with pytest.raises(UserMistake, match=r"2 coils are called 'drone sensor'.*2, 3"):
        logbook.coil("drone sensor")


def test_an_unknown_coil_is_answered_with_the_nearest_name(logbook, made):
    with pytest.raises(UserMistake, match="the shelf is empty"):
        logbook.coil("tine sensor")
    made.begin(logbook)
    with pytest.raises(
        UserMistake, match="there is no coil 'Tine senser'; did you mean 'tine sensor'"
    ):
        logbook.coil("Tine senser")
    with pytest.raises(UserMistake, match="shelf list"):
        logbook.coil(99)


@pytest.mark.parametrize(
    ("how", "state"),
    [
        (How.COMPLETE, COMPLETE),
        (How.HERE, ENDED_SHORT),
        (How.LOST, UNFINISHED),
        (How.LEFT, UNFINISHED),
    ],
)
def test_the_state_of_a_coil_follows_from_how_its_run_ended(logbook, made, how, state):
    run_id = made.begin(logbook)
    assert logbook.coils()[0].state == BEGUN
    logbook.end_run(run_id, how)
    assert logbook.coils()[0].state == state


def test_a_doubtful_count_never_reads_like_a_sure_one(logbook, made):
    run_id = made.begin(logbook)
    assert logbook.coils()[0].turns_text == "not on record"
    logbook.write(run_id, [counted(DOUBTFUL)])
    (row,) = logbook.coils()
    assert row.turns_text == "450.05 to 452"
    assert row.truth_text == "between: the board was reset while winding"
    logbook.write(run_id, [counted(VOUCHED)])
    (row,) = logbook.coils()
    assert row.turns_text == "451 (vouched)"
    assert row.truth_text == "vouched for by Ada: recounted"


def test_a_run_ends_once(logbook, made):
    run_id = made.begin(logbook)
    logbook.end_run(run_id, How.COMPLETE)
    with pytest.raises(WinderError, match="ended already"):
        logbook.end_run(run_id, How.LOST)
    assert logbook.coils()[0].state == COMPLETE
    with pytest.raises(UserMistake, match="no run 5"):
        logbook.end_run(5, How.COMPLETE)


def test_records_outlive_the_program(file: Path, made):
    with Logbook.open(file) as logbook:
        run_id = made.begin(logbook)
        logbook.write(run_id, [event(1)])
    with Logbook.open(file) as logbook:
        logbook.write(run_id, [event(2)])  # numbering goes on where it was
        assert [entry.number for entry in logbook.coil(1).runs[0].lines] == [1, 2]
