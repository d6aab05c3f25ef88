"""The logbook: one SQLite file that a crash cannot make forget what was committed.

The file is in write-ahead-log mode with ``synchronous=FULL``: a commit is on the disk before ``write``
returns, and a log that was torn by a crash recovers as an exact prefix of the commits
(sqlite.org/wal.html). One process writes; others may read meanwhile. In memory, for rehearsals, the
same code keeps nothing. Every call may come from any thread; calls take turns.
"""

from __future__ import annotations

import difflib
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import platformdirs

from winder.clock import date_now
from winder.errors import UserMistake, WinderError
from winder.shelf import rows
from winder.shelf.access import WriterLock, check_place, connect, is_fresh, trouble
from winder.shelf.facts import event_facts_to_json, to_json
from winder.shelf.model import (
    BEGUN,
    COMPLETE,
    ENDED_SHORT,
    UNFINISHED,
    CoilRecord,
    CoilRow,
    JournalLine,
    UnfinishedRun,
)
from winder.shelf.schema import bring_up_to_date
from winder.wind.model import CountTruth, SessionEvent

if TYPE_CHECKING:
    from winder.coil.model import Coil
    from winder.machine.model import MachineProfile
    from winder.plan.model import Plan
    from winder.recipe.model import Recipe

IN_MEMORY = "logbook in memory"
# Ends of a run that the person chose, in the words of the session and its phases.
_ENDED_BY_PERSON = ("here", "ended", "ended here", "end here")

_WRITE_SQL = "INSERT INTO journal VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
_TARGET_SQL = """
UPDATE coils SET target_turns = ? WHERE id = (SELECT coil FROM runs WHERE runs.id = ?)
"""
_TAKING_OFF = "taking off"  # a run that ends in this phase leaves more turns than are wanted
_END_SQL = """
    UPDATE runs SET ended = ?, how = ?, certainty = ?, low = ?, high = ?, vouched_by = ?, why = ?,
        last_sure = ?, turns = ?, measured_ohm = coalesce(?, measured_ohm),
        measured_at_c = coalesce(?, measured_at_c)
    WHERE id = ?
"""


def default_path() -> Path:
    """Where the logbook lives unless another file is named."""
    return Path(platformdirs.user_data_dir("exact-turns")) / "logbook.sqlite"


class Logbook:
    """An open logbook. Make one with ``open`` or ``in_memory``, and close it.

    Every method raises ``WinderError`` with the file as ``where`` when the file fails it.
    """

    def __init__(
        self, connection: sqlite3.Connection, where: str, lock: WriterLock | None = None
    ) -> None:
        self.where = where
        self._connection = connection
        self._connection.row_factory = sqlite3.Row
        self._lock = lock
        self._turn = threading.RLock()
        self._newest_line: dict[int, int] = {}  # run -> number of its newest line

    @classmethod
    def open(cls, path: Path | str | None = None, *, read_only: bool = False) -> Logbook:
        """Open a file, by default ``default_path()``; for writing it is made if it is not there.

        For reading no lock is taken, and the default file may be missing: the shelf is empty then.
        Raises ``UserMistake`` or ``WinderError``; nothing that is not a logbook is ever changed.
        """
        file = default_path() if path is None else Path(path)
        if file == default_path():
            if read_only and not file.exists():
                return cls.in_memory()
            with suppress(OSError):  # what is wrong with the place is told below
                file.parent.mkdir(parents=True, exist_ok=True)
        try:
            check_place(file)
            if read_only:
                return cls._open_for_reading(file)
            if file.exists():
                is_fresh(file)  # raises for what is not ours, before a lock is laid beside it
        except OSError as error:  # a name too long, a folder that may not be entered
            raise trouble(file, error) from error
        lock = WriterLock(file)
        try:
            return cls._open_for_writing(file, lock)
        except BaseException:
            lock.release()
            raise

    @classmethod
    def in_memory(cls) -> Logbook:
        """A logbook that is forgotten when it is closed."""
        connection = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        bring_up_to_date(connection)
        return cls(connection, IN_MEMORY)

    @classmethod
    def _open_for_reading(cls, file: Path) -> Logbook:
        if not file.exists():
            raise UserMistake(
                "there is no such logbook", where=str(file), remedy="correct the name of the file"
            )
        if is_fresh(file):
            return cls.in_memory()
        return cls(connect(file, "ro"), str(file))

    @classmethod
    def _open_for_writing(cls, file: Path, lock: WriterLock) -> Logbook:
        connection = None
        try:
            connection = connect(file, "rwc")
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            bring_up_to_date(connection)
        except sqlite3.Error as error:
            if connection is not None:
                connection.close()
            raise trouble(file, error) from error
        return cls(connection, str(file), lock)

    def close(self) -> None:
        """Let go of the file; more than once does no harm."""
        with self._turn:
            self._connection.close()
            if self._lock is not None:
                self._lock.release()
                self._lock = None

    def __enter__(self) -> Logbook:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # --- writing -----------------------------------------------------------------------------

    def begin_coil(self, recipe: Recipe, coil: Coil, plan: Plan) -> int:
        """Enter a coil that is going to be wound; its number."""
        ohm = coil.resistance_ohm_20c
        with self._transaction() as execute:
            cursor = execute(
                """
                INSERT INTO coils (name, recipe_text, recipe_facts, coil_facts, target_turns, wire,
                    ohm_nominal, ohm_low, ohm_high, direction, state, begun)
                VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
                """,
                (
                    _clean(recipe.name),
                    _clean(recipe.text),
                    to_json(recipe),
                    to_json(coil),
                    plan.target_turns,
                    _clean(coil.wire.label),
                    ohm.nominal,
                    ohm.low,
                    ohm.high,
                    recipe.direction.value,
                    BEGUN,
                    date_now(),
                ),
            )
            return int(cursor.lastrowid)

    def begin_run(
        self,
        coil_id: int,
        *,
        wind: int,
        plan: Plan,
        machine: MachineProfile,
        port: str,
        simulated_seed: int | None = None,
    ) -> int:
        """Enter a run before the first command is sent to the board; its number."""
        with self._transaction() as execute:
            cursor = execute(
                """
                INSERT INTO runs (coil, wind, port, machine_name, machine_facts, counts_per_turn,
                    seed, first_turn, plan, started)
                VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
                """,
                (
                    coil_id,
                    wind,
                    _clean(port),
                    _clean(machine.name),
                    to_json(machine),
                    plan.counts_per_turn,
                    simulated_seed,
                    plan.first_turn,
                    to_json(plan),
                    date_now(),
                ),
            )
            return int(cursor.lastrowid)

    def write(self, run_id: int, events: Sequence[SessionEvent]) -> None:
        """Commit events to a run's journal, in order, all or none; on the disk when it returns."""
        if not events:
            return
        date = date_now()
        with self._transaction() as execute:
            number = self._newest_line.get(run_id)
            if number is None:
                (number,) = execute(
                    "SELECT coalesce(max(number), 0) FROM journal WHERE run = ?", (run_id,)
                ).fetchone()
            for event in events:
                number += 1
                facts = event_facts_to_json(event.facts)
                line = (run_id, number, event.at_ns, date, event.kind, event.text)
                try:
                    execute(_WRITE_SQL, (*line, event.counts, facts))
                except UnicodeEncodeError:  # half a character, from outside
                    cleaned = (*line[:4], _clean(event.kind), _clean(event.text))
                    execute(_WRITE_SQL, (*cleaned, event.counts, facts))
                target = dict(event.facts).get("target_turns")
                if target is not None:  # a person adopted another target for this coil
                    execute(_TARGET_SQL, (target, run_id))
        self._newest_line[run_id] = number

    def end_run(
        self,
        run_id: int,
        how: str,
        truth: CountTruth,
        turns: float | None = None,
        *,
        measured_ohm: float | None = None,
        measured_at_c: float | None = None,
    ) -> None:
        """Write how a run ended: ``how`` in the session's words, the coil's final truth and turns.

        ``turns`` are of the coil; left out, they are the truth's when that is one number. The record
        of a run that has ended is not changed any more (``settle_run`` may).
        """
        with self._transaction() as execute:
            if self._run(execute, run_id)["ended"] is not None:
                raise WinderError(
                    f"run {run_id} has ended already", where=self.where, remedy="settle it instead"
                )
            self._end(execute, run_id, how, truth, turns, measured_ohm, measured_at_c)

    def settle_run(self, run_id: int, truth: CountTruth, how: str = "settled") -> None:
        """Write the truth that was found for a run that had no proper end, or was in doubt."""
        with self._transaction() as execute:
            self._end(execute, run_id, how, truth, None, None, None)

    def _end(
        self,
        execute: Any,
        run_id: int,
        how: str,
        truth: CountTruth,
        turns: float | None,
        measured_ohm: float | None,
        measured_at_c: float | None,
    ) -> None:
        run = self._run(execute, run_id)
        if turns is None and truth.low == truth.high:
            turns = truth.low / run["counts_per_turn"]
        certainty = (truth.certainty.value, truth.low, truth.high, _clean(truth.by))
        doubt = (_clean(truth.why), truth.last_sure)
        measured = (turns, measured_ohm, measured_at_c)
        execute(_END_SQL, (date_now(), _clean(how), *certainty, *doubt, *measured, run_id))
        target = run["target_turns"] * run["counts_per_turn"]
        if how == COMPLETE or (truth.low >= target and how != _TAKING_OFF):
            state = COMPLETE
        else:
            state = ENDED_SHORT if how in _ENDED_BY_PERSON else UNFINISHED
        execute("UPDATE coils SET state = ? WHERE id = ?", (state, run["coil"]))

    def _run(self, execute: Any, run_id: int) -> sqlite3.Row:
        sql = "SELECT runs.*, target_turns FROM runs JOIN coils ON coils.id = coil"
        row = execute(f"{sql} WHERE runs.id = ?", (run_id,)).fetchone()
        if row is None:
            raise UserMistake(
                f"there is no run {run_id}", where=self.where, remedy="see the runs of the coil"
            )
        return row

    # --- reading -----------------------------------------------------------------------------

    def coils(self) -> list[CoilRow]:
        """All coils, oldest first."""
        with self._reading() as execute:
            return [rows.coil_row(row) for row in execute(f"{rows.COILS_SQL} ORDER BY coils.id")]

    def coil(self, name_or_id: str | int) -> CoilRecord:
        """One coil with its runs and their journals. Raises ``UserMistake`` for an unknown one."""
        row = self._find(name_or_id)
        with self._reading() as execute:
            (texts,) = execute(
                "SELECT recipe_text, recipe_facts, coil_facts FROM coils WHERE id = ?",
                (row.coil_id,),
            ).fetchall()
            runs = execute("SELECT * FROM runs WHERE coil = ? ORDER BY id", (row.coil_id,))
            return CoilRecord(
                row=row,
                recipe_text=texts["recipe_text"],
                recipe_facts=rows.json.loads(texts["recipe_facts"]),
                coil_facts=rows.json.loads(texts["coil_facts"]),
                runs=tuple(
                    rows.run_record(run, self._lines(execute, run["id"])) for run in runs.fetchall()
                ),
            )

    def unfinished_runs(self) -> list[UnfinishedRun]:
        """Runs without a proper end, oldest first; one that is under way now is among them."""
        sql = "SELECT runs.*, name FROM runs JOIN coils ON coils.id = coil WHERE ended IS NULL"
        with self._reading() as execute:
            return [
                rows.unfinished_run(run, self._lines(execute, run["id"]))
                for run in execute(f"{sql} ORDER BY runs.id").fetchall()
            ]

    def _lines(self, execute: Any, run_id: int) -> tuple[JournalLine, ...]:
        found = execute("SELECT * FROM journal WHERE run = ? ORDER BY number", (run_id,))
        return tuple(rows.journal_line(line) for line in found)

    def _find(self, name_or_id: str | int) -> CoilRow:
        """A coil by its number, or by its name if only one has it."""
        wanted = str(name_or_id).strip()
        coils = self.coils()
        by_number = [coil for coil in coils if str(coil.coil_id) == wanted]
        found = by_number or [coil for coil in coils if coil.name == wanted]
        if len(found) == 1:
            return found[0]
        if found:
            numbers = ", ".join(str(coil.coil_id) for coil in found)
            raise UserMistake(
                f"{len(found)} coils are called '{wanted}'",
                where=self.where,
                remedy=f"give the number of the one you mean: {numbers}",
            )
        names = {coil.name.casefold(): coil.name for coil in coils}
        near = difflib.get_close_matches(wanted.casefold(), names, n=1)
        if near:
            remedy = f"did you mean '{names[near[0]]}'?"
        else:
            remedy = "'winder shelf list' shows the coils" if coils else "the shelf is empty"
        raise UserMistake(f"there is no coil '{wanted}'", where=self.where, remedy=remedy)

    # --- the connection ----------------------------------------------------------------------

    @contextmanager
    def _transaction(self) -> Iterator[Any]:
        """One committed transaction, or none; gives the connection's ``execute``."""
        execute = self._connection.execute
        with self._turn:
            try:
                execute("BEGIN IMMEDIATE")
                try:
                    yield execute
                    execute("COMMIT")
                except BaseException:
                    with suppress(sqlite3.Error):  # some errors have rolled back already
                        execute("ROLLBACK")
                    raise
            except sqlite3.Error as error:
                raise trouble(self.where, error) from error

    @contextmanager
    def _reading(self) -> Iterator[Any]:
        with self._turn:
            try:
                yield self._connection.execute
            except (sqlite3.Error, ValueError, KeyError, TypeError) as error:
                raise trouble(self.where, error) from error


def _clean(text: str) -> str:
    """Text that can be stored: half characters from outside become question marks."""
    return text.encode("utf-8", "replace").decode()
