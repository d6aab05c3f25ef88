"""What is written into the logbook is what is read back."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from winder.errors import UserMistake, WinderError
from winder.shelf import Logbook
from winder.shelf.model import BEGUN, COMPLETE, ENDED_SHORT, UNFINISHED
from winder.wind.events import truth_facts
from winder.wind.model import Certainty, CountTruth, Intent, SessionEvent

EXACT_END = CountTruth(Certainty.EXACT, 24000, 24000)
DOUBTFUL = CountTruth(
    Certainty.BETWEEN, 9001, 9040, why="the board was reset while winding", last_sure=9001
)
DATE = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")


def event(number: int, kind: str = "count", **facts: object) -> SessionEvent:
    return SessionEvent(kind, 1000 * number, f"turn {number}", 20 * number, tuple(facts.items()))


def test_a_coil_comes_back_with_recipe_run_and_journal(logbook, made):
    run_id = made.begin(logbook, wind=0xFFFF_FFFF, port="/dev/ttyACM0")
    logbook.write(run_id, [event(1, leg=0), event(2, leg=0)])
    logbook.write(run_id, [event(3, leg=1)])
    logbook.end_run(run_id, "complete", EXACT_END, 1200.0, measured_ohm=203.4, measured_at_c=21.5)

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
    assert (run.how, run.turns, run.truth) == ("complete", 1200.0, EXACT_END)
    assert run.plan == made.plan
    assert [(line.number, line.at_ns, line.counts) for line in run.lines] == [
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
    strange = (
        ("note", hostile),
        ("intent", Intent.START),
        ("when", made.coil),
        ("no", float("nan")),
    )
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
    ("how", "truth", "state"),
    [
        ("complete", EXACT_END, COMPLETE),
        ("here", CountTruth(Certainty.EXACT, 9000, 9000), ENDED_SHORT),
        ("ended", CountTruth(Certainty.EXACT, 9000, 9000), ENDED_SHORT),
        ("ended", EXACT_END, COMPLETE),
        ("broken off", DOUBTFUL, UNFINISHED),
        ("left", CountTruth(Certainty.EXACT, 9000, 9000), UNFINISHED),
    ],
)
def test_the_state_of_a_coil_follows_from_how_its_run_ended(logbook, made, how, truth, state):
    run_id = made.begin(logbook)
    assert logbook.coils()[0].state == BEGUN
    logbook.end_run(run_id, how, truth)
    assert logbook.coils()[0].state == state
    assert logbook.coils()[0].truth == truth


def test_a_doubtful_count_never_reads_like_a_sure_one(logbook, made):
    run_id = made.begin(logbook)
    assert logbook.coils()[0].turns_text == "not on record"
    logbook.end_run(run_id, "broken off", DOUBTFUL)
    (row,) = logbook.coils()
    assert row.turns_text == "between 450.05 and 452"
    assert row.truth_text == "between: the board was reset while winding"
    logbook.settle_run(run_id, CountTruth(Certainty.VOUCHED, 9020, 9020, "Ada", "recounted"))
    (row,) = logbook.coils()
    assert row.turns_text == "451 (vouched)"
    assert row.truth_text == "vouched for by Ada: recounted"


def test_a_run_ends_once(logbook, made):
    run_id = made.begin(logbook)
    logbook.end_run(run_id, "complete", EXACT_END)
    with pytest.raises(WinderError, match="ended already"):
        logbook.end_run(run_id, "broken off", DOUBTFUL)
    assert logbook.coils()[0].truth == EXACT_END
    with pytest.raises(UserMistake, match="no run 5"):
        logbook.end_run(5, "complete", EXACT_END)


# --- runs without an end -----------------------------------------------------------------------


def line(kind: str, counts: int | None = None, **facts: object) -> SessionEvent:
    return SessionEvent(kind, 5, kind, counts, tuple(facts.items()))


def test_an_unfinished_run_brings_what_judging_it_needs(logbook, made):
    plan = replace(made.plan, first_turn=100)
    coil_id = logbook.begin_coil(made.recipe, made.coil, plan)
    run_id = logbook.begin_run(
        coil_id, wind=77, plan=plan, machine=made.machine, port="sim?seed=7", simulated_seed=7
    )
    (run,) = logbook.unfinished_runs()
    assert (run.last_kind, run.count, run.moving) == ("", 0, False)
    assert run.truth == CountTruth(Certainty.EXACT, 2000, 2000)  # what it began with

    truth = CountTruth(Certainty.BETWEEN, 2199, 2201, why="rocked")
    logbook.write(run_id, [line("started"), line("count", 200, **dict(truth_facts(truth)))])
    logbook.write(run_id, [line("note")])
    (run,) = logbook.unfinished_runs()
    assert (run.run_id, run.coil_id, run.coil_name) == (run_id, coil_id, "tine sensor")
    assert (run.wind, run.port, run.simulated_seed) == (77, "sim?seed=7", 7)
    assert (run.plan, run.machine) == (plan, made.machine)
    assert (run.last_kind, run.count, run.moving) == ("note", 200, True)
    assert run.truth == truth

    logbook.settle_run(run_id, DOUBTFUL, "broken off")
    assert logbook.unfinished_runs() == []
    assert logbook.coil(coil_id).runs[0].how == "broken off"


@pytest.mark.parametrize(
    ("lines", "moving"),
    [
        ([], False),
        ([line("opened", 0), line("plan")], False),
        ([line("plan"), line("intent", intent="start")], True),  # committed before it is sent
        ([line("at rest", 40), line("intent", intent="continue")], True),
        ([line("at rest", 40), line("intent", intent="note"), line("note")], False),
        ([line("started"), line("count", 40)], True),
        ([line("count", 40), line("intent", intent="pause")], True),
        ([line("count", 40), line("slowing")], True),
        ([line("count", 40), line("doubt"), line("link")], True),
        ([line("count", 40), line("slowing"), line("at rest", 44)], False),
        ([line("count", 40), line("trip", 41)], True),  # it trips first and comes to rest after
        ([line("trip", 41), line("cleared", 41)], False),  # clearing needs rest
        ([line("count", 40), line("complete", 24000)], False),
    ],
)
def test_a_run_may_have_been_moving_unless_a_rest_is_on_record(logbook, made, lines, moving):
    run_id = made.begin(logbook)
    logbook.write(run_id, lines)
    (run,) = logbook.unfinished_runs()
    assert run.moving is moving


def test_records_outlive_the_program(file: Path, made):
    with Logbook.open(file) as logbook:
        run_id = made.begin(logbook)
        logbook.write(run_id, [event(1)])
    with Logbook.open(file) as logbook:
        logbook.write(run_id, [event(2)])  # numbering goes on where it was
        assert [entry.number for entry in logbook.coil(1).runs[0].lines] == [1, 2]
