"""The account as the shelf keeps it: the deeds of the journal, folded in their order, and the truth that is shown."""

from __future__ import annotations

from winder.shelf.logbook import Logbook
from winder.wind.deeds import Drives, Opens, Says, Vouch, Word
from winder.wind.model import Certainty, SessionEvent

COUNTS = 20  # a turn


def event(*deeds) -> SessionEvent:
    return SessionEvent("count", 1, "", 0, {}, tuple(deeds))


def wind(number: int, count: int, **more) -> SessionEvent:
    final = more.pop("final", True)
    word = Word(count, uptime_ms=50 * count, **more)
    return event(Opens(number, number, COUNTS, True, True), Says(number, word, final))


def begun(logbook: Logbook, made, number: int) -> int:
    """A run of the one coil."""
    coils = logbook.coils()
    if not coils:
        return made.begin(logbook, wind=number)
    return logbook.begin_run(
        coils[0].coil_id, wind=number, plan=made.plan, machine=made.machine, port="sim"
    )


def test_what_is_read_back_is_the_account_that_was_written(file, made):
    with Logbook.open(file) as logbook:
        for number in (1, 2):
            logbook.write(begun(logbook, made, number), [wind(number, 100 * number)])
        told = logbook.coil(1).account
    with Logbook.open(file, read_only=True) as logbook:
        record = logbook.coil(1)
    assert record.account == told
    assert (record.row.truth.low, record.row.truth.certainty) == (300, Certainty.EXACT)
    assert record.account.truth() == record.row.truth


def test_runs_are_folded_in_the_order_in_which_they_were_made(file, made):
    """A number vouched for in the first run, turns in the second: the other way round none would be left."""
    with Logbook.open(file) as logbook:
        first = begun(logbook, made, 1)
        logbook.write(first, [event(), wind(1, 100)])
        logbook.write(first, [event(Vouch(90, COUNTS, "Mira", "counted", None))])
        logbook.write(begun(logbook, made, 2), [wind(2, 200)])
    with Logbook.open(file) as logbook:
        logbook.write(2, [SessionEvent("note", 9, "again", 0)])
        assert logbook.coils()[0].truth.low == 290
        assert logbook.coil(1).account.truth().low == 290


def test_a_wind_that_was_killed_is_shown_with_the_bounds_of_its_last_word(logbook, made):
    run = begun(logbook, made, 1)
    logbook.write(run, [wind(1, 100, final=False, moving=True)])
    truth = logbook.coils()[0].truth
    assert truth.certainty is Certainty.BETWEEN and truth.low == 100 < truth.high
    logbook.write(run, [event(Drives(1, logbook.coil(1).account.entries[0].drive))])
    assert logbook.coils()[0].truth == logbook.coil(1).account.truth()


def test_a_last_word_goes_into_the_coil_that_it_belongs_to(logbook, made):
    run = begun(logbook, made, 7)
    logbook.write(run, [wind(7, 100, final=False, moving=True)])
    assert logbook.say_for_other(Says(7, Word(140, uptime_ms=99_000), final=True))
    assert logbook.coils()[0].truth.low == logbook.coils()[0].truth.high == 140
    assert logbook.coil_of_wind(7) == 1
    assert not logbook.say_for_other(Says(8, Word(1, uptime_ms=1), final=True))


def test_a_commit_is_on_the_disk_when_it_returns(file):
    """``synchronous`` 2 is FULL, ``journal_mode`` a log that is written ahead (sqlite.org/pragma.html)."""
    with Logbook.open(file) as logbook:
        ask = logbook._connection.execute
        assert ask("PRAGMA synchronous").fetchone()[0] == 2
        assert ask("PRAGMA journal_mode").fetchone()[0] == "wal"
