"""What is written into the logbook is what is read back."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from winder.errors import UserMistake, WinderError
from winder.shelf import Logbook
from winder.shelf.model import BEGUN, COMPLETE, ENDED_SHORT, UNFINISHED
from winder.wind.deeds import Brought, Deed, Opens, Says, Vouch, Word
from winder.wind.model import How, Intent, SessionEvent
from winder.wind.truth import Certainty, exact

WIND = 0xDEADBEEF
RESET = "the board was reset while winding"
DOUBTFUL = Brought(9001, 9020, 9040, 20, "", RESET)
VOUCHED = Vouch(9020, 20, "Ada", "recounted", None)
DATE = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")


def event(number: int, kind: str = "count", **facts: object) -> SessionEvent:
    return SessionEvent(kind, 1000 * number, f"turn {number}", 20 * number, facts)


def counted(counts: int, wind: int = WIND) -> SessionEvent:
    """A wind that was opened, wound so far, and closed."""
    opened, said = (
        Opens(wind, 1, 20, False, True),
        Says(wind, Word(counts, uptime_ms=9), final=True),
    )
    return did(opened, said)


def did(*deeds: Deed) -> SessionEvent:
    return SessionEvent("count", 5, "deeds", None, {}, deeds)


def test_a_coil_comes_back_with_recipe_run_and_journal(logbook, made):
    run_id = made.begin(logbook, wind=0xFFFF_FFFF, port="/dev/ttyACM0")
    logbook.write(run_id, [event(1, leg=0), event(2, leg=0)])
    logbook.write(run_id, [event(3, leg=1), counted(24000, 0xFFFF_FFFF)])
    logbook.end_run(run_id, How.COMPLETE, measured_ohm=203.4, measured_at_c=21.5)

    (row,) = logbook.coils()
    assert (row.name, row.wire, row.target_turns) == ("tine sensor", "42 AWG single", 1200)
    assert (row.direction, row.state, row.runs) == ("clockwise", COMPLETE, 1)
    assert row.ohm_20c == (205.0, 195.0, 216.0)
    assert (row.measured_ohm, row.measured_at_c) == (203.4, 21.5)
    assert row.truth == exact(24000) and not row.under_way
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
    assert run.how == "complete" and run.ended
    assert record.account.truth() == exact(24000)
    assert run.plan == made.plan
    assert [(line.number, line.at_ns, line.counts) for line in run.lines] == [
        (1, 1000, 20),
        (2, 2000, 40),
        (3, 3000, 60),
        (4, 5, None),
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
    ("how", "deeds", "state"),
    [
        (How.COMPLETE, counted(24000).deeds, COMPLETE),
        (How.HERE, counted(9000).deeds, ENDED_SHORT),
        (How.LOST, (DOUBTFUL,), UNFINISHED),
        (How.LEFT, counted(9000).deeds, UNFINISHED),
    ],
)
def test_the_state_of_a_coil_follows_from_how_its_run_ended(logbook, made, how, deeds, state):
    run_id = made.begin(logbook)
    assert logbook.coils()[0].state == BEGUN
    logbook.write(run_id, [did(*deeds)])
    truth = logbook.coils()[0].truth
    logbook.end_run(run_id, how)
    (row,) = logbook.coils()
    assert row.state == state
    assert row.truth == truth == logbook.coil(1).account.truth()


def test_a_doubtful_count_never_reads_like_a_sure_one(logbook, made):
    run_id = made.begin(logbook)
    assert logbook.coils()[0].turns_text == "not on record"
    logbook.write(run_id, [did(DOUBTFUL)])
    (row,) = logbook.coils()
    assert row.turns_text == "450.05 to 452"
    assert row.truth_text == f"between: {RESET}"
    logbook.write(run_id, [did(VOUCHED)])
    (row,) = logbook.coils()
    assert row.turns_text == "451 (vouched)"
    assert row.truth_text == "vouched for by Ada: recounted"


def test_a_run_ends_once(logbook, made):
    run_id = made.begin(logbook)
    logbook.write(run_id, [counted(24000)])
    logbook.end_run(run_id, How.COMPLETE)
    with pytest.raises(WinderError, match="ended already"):
        logbook.end_run(run_id, How.LOST)
    assert logbook.coils()[0].state == COMPLETE
    with pytest.raises(UserMistake, match="no run 5"):
        logbook.end_run(5, How.COMPLETE)


# --- the account ---------------------------------------------------------------------------------


def test_a_run_without_an_end_shows_its_committed_count_and_what_may_have_come_since(logbook, made):
    run_id = made.begin(logbook)
    opened = Opens(WIND, 1, 20, False, True)
    logbook.write(run_id, [did(opened, Says(WIND, Word(400, uptime_ms=5, moving=True)))])
    (row,) = logbook.coils()
    assert row.under_way and row.truth.low == 400 < row.truth.high
    assert row.truth.certainty is Certainty.BETWEEN
    logbook.write(run_id, [did(Says(WIND, Word(440, uptime_ms=6, moving=False)))])
    (row,) = logbook.coils()
    assert (row.truth.low, row.truth.best, row.truth.high) == (420, 440, 460), "a turn either way"


def test_the_last_word_of_another_coils_wind_goes_into_that_coils_account(logbook, made):
    first, second = made.begin(logbook, wind=7), made.begin(logbook, wind=8)
    logbook.write(first, [did(Opens(7, 1, 20, False, True), Says(7, Word(100, moving=True)))])
    logbook.write(second, [did(Opens(8, 2, 20, False, True))])
    assert logbook.coil_of_wind(7) == 1
    assert logbook.say_for_other(Says(7, Word(140, uptime_ms=9), final=True))
    assert logbook.coils()[0].truth == exact(140)
    assert logbook.coils()[1].truth.high < 140
    assert not logbook.say_for_other(Says(99, Word(5), final=True))
    assert logbook.coil_of_wind(99) is None


def test_a_line_said_twice_is_counted_once(file, made):
    with Logbook.open(file) as logbook:
        run_id = made.begin(logbook)
        logbook.write(run_id, [counted(4000)])
    with Logbook.open(file) as logbook:  # folded from the journal this time
        logbook.write(run_id, [counted(4000)])
        assert logbook.coils()[0].truth == exact(4000)


def test_what_to_type_next_is_the_newest_runs(logbook, made):
    coil_id = logbook.begin_coil(made.recipe, made.coil, made.plan)
    for words in ("winder wind a.toml --continue 1", "winder wind b.toml --continue 1"):
        logbook.begin_run(
            coil_id, wind=1, plan=made.plan, machine=made.machine, port="sim", next_words=words
        )
    (row,) = logbook.coils()
    assert row.next_words == "winder wind b.toml --continue 1"


def test_two_thousand_coils_are_listed_without_a_journal_being_folded(file, made, monkeypatch):
    with Logbook.open(file) as logbook:
        run_id = made.begin(logbook)
        logbook.write(run_id, [counted(24000)])
        copy = """
            WITH RECURSIVE n(i) AS (SELECT 2 UNION ALL SELECT i + 1 FROM n WHERE i < 2000)
        """
        for table in ("coils", "runs"):
            columns = [
                row[1] for row in logbook._connection.execute(f"PRAGMA table_info ({table})")
            ]
            kept = [name if name not in ("id", "coil") else "n.i" for name in columns]
            logbook._connection.execute(
                f"INSERT INTO {table} ({', '.join(columns)}) {copy}"
                f" SELECT {', '.join(kept)} FROM {table}, n WHERE {table}.id = 1"
            )

        def folded(*_: object) -> None:
            raise AssertionError("a list reads no journal")

        monkeypatch.setattr("winder.shelf.rows.deeds_from_json", folded)
        monkeypatch.setattr("winder.shelf.logbook.deeds_from_json", folded)
        monkeypatch.setattr("winder.wind.account.Account.take", folded)
        asked: list[str] = []
        logbook._connection.set_trace_callback(asked.append)
        rows = logbook.coils()
    assert len(rows) == 2000 and {row.truth for row in rows} == {exact(24000)}
    assert len(asked) == 1 and "journal" not in asked[0], "one question, whatever their number"


def test_records_outlive_the_program(file: Path, made):
    with Logbook.open(file) as logbook:
        run_id = made.begin(logbook)
        logbook.write(run_id, [event(1)])
    with Logbook.open(file) as logbook:
        logbook.write(run_id, [event(2)])  # numbering goes on where it was
        assert [entry.number for entry in logbook.coil(1).runs[0].lines] == [1, 2]
