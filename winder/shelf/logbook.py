"""The logbook: one SQLite file that a crash cannot make forget what was committed.

The file is in write-ahead-log mode with ``synchronous=FULL``: a commit is on the disk before ``write``
returns, and a log that was torn by a crash recovers as an exact prefix of the commits
(sqlite.org/wal.html). One process writes; others may read meanwhile. In memory, for rehearsals, the
same code keeps nothing. Every call may come from any thread; calls take turns.
"""

from __future__ import annotations

import json
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import platformdirs

from winder.clock import date_now
from winder.errors import UserMistake, WinderError
from winder.shelf import access, rows
from winder.shelf.access import Identity, WriterLock, trouble
from winder.shelf.deeds_json import deeds_from_json, deeds_to_json
from winder.shelf.facts import plan_from_json, to_json
from winder.shelf.finding import find_coil
from winder.shelf.model import (
    BEGUN,
    COMPLETE,
    ENDED_SHORT,
    UNFINISHED,
    CoilRecord,
    CoilRow,
    JournalLine,
)
from winder.shelf.schema import VERSION, bring_up_to_date
from winder.wind.account import Account
from winder.wind.deeds import Says
from winder.wind.model import How, SessionEvent

if TYPE_CHECKING:
    from winder.coil.model import Coil
    from winder.machine.model import MachineProfile
    from winder.plan.model import Plan
    from winder.recipe.model import Recipe

IN_MEMORY = "logbook in memory"

_WRITE_SQL = """
INSERT INTO journal (run, number, at_ns, date, kind, text, counts, facts, deeds)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
"""
_TARGET_SQL = "UPDATE coils SET target_turns = ? WHERE id = ?"
_TRUTH_SQL = """
UPDATE coils SET counts_per_turn = ?, low = ?, best = ?, high = ?, vouched_by = ?, why = ? WHERE id = ?
"""
_END_SQL = """
    UPDATE runs SET ended = ?, how = ?, measured_ohm = coalesce(?, measured_ohm),
        measured_at_c = coalesce(?, measured_at_c)
    WHERE id = ?
"""
_STATES = {How.COMPLETE: COMPLETE, How.HERE: ENDED_SHORT}


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
        self._accounts: dict[int, Account] = {}  # coil -> as far as it is written
        self._identity: Identity | None = None  # of a file that is written

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
            access.check_place(file)
            if read_only:
                return cls._open_for_reading(file)
            if file.exists():
                access.is_fresh(
                    file
                )  # raises for what is not ours, before a lock is laid beside it
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
        connection = access.in_memory()
        bring_up_to_date(connection)
        return cls(connection, IN_MEMORY)

    @classmethod
    def _open_for_reading(cls, file: Path) -> Logbook:
        if not file.exists():
            raise UserMistake(
                "there is no such logbook", where=str(file), remedy="correct the name of the file"
            )
        if access.is_fresh(file):
            return cls.in_memory()
        connection = access.connect(file, "ro")
        try:
            (version,) = connection.execute("PRAGMA user_version").fetchone()
            if version < VERSION:  # read as it would be after the steps; the file stays as it is
                older, connection = connection, access.in_memory()
                with closing(older):
                    older.backup(connection)
                bring_up_to_date(connection)
        except sqlite3.Error as error:
            connection.close()
            raise trouble(file, error) from error
        return cls(connection, str(file))

    @classmethod
    def _open_for_writing(cls, file: Path, lock: WriterLock) -> Logbook:
        connection = None
        try:
            connection = access.connect(file, "rwc")
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            bring_up_to_date(connection)
        except sqlite3.Error as error:
            if connection is not None:
                connection.close()
            raise trouble(file, error) from error
        opened = cls(connection, str(file), lock)
        opened._identity = access.identity_of(file)
        return opened

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
        return self._insert(
            "coils",
            name=recipe.name,
            recipe_text=recipe.text,
            recipe_facts=to_json(recipe),
            coil_facts=to_json(coil),
            target_turns=plan.target_turns,
            wire=coil.wire.label,
            ohm_nominal=ohm.nominal,
            ohm_low=ohm.low,
            ohm_high=ohm.high,
            direction=recipe.direction.value,
            state=BEGUN,
            begun=date_now(),
        )

    def begin_run(
        self,
        coil_id: int,
        *,
        wind: int,
        plan: Plan,
        machine: MachineProfile,
        port: str,
        simulated_seed: int | None = None,
        next_words: str = "",
    ) -> int:
        """Enter a run before the first command is sent to the board; its number."""
        return self._insert(
            "runs",
            coil=coil_id,
            wind=wind,
            port=port,
            machine_name=machine.name,
            machine_facts=to_json(machine),
            counts_per_turn=plan.counts_per_turn,
            seed=simulated_seed,
            first_turn=plan.first_turn,
            plan=to_json(plan),
            started=date_now(),
            next_words=next_words,
        )

    def _insert(self, table: str, **values: str | float | None) -> int:
        """A row, committed; its number."""
        clean = [_clean(value) if isinstance(value, str) else value for value in values.values()]
        columns, places = ", ".join(values), ", ".join("?" * len(values))
        with self._transaction() as execute:
            cursor = execute(f"INSERT INTO {table} ({columns}) VALUES ({places})", clean)
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
            coil, account = self._account_of(execute, run_id)
            for event in events:
                number += 1
                line = (run_id, number, event.at_ns, date, _clean(event.kind), _clean(event.text))
                deeds = _clean(deeds_to_json(event.deeds))
                execute(_WRITE_SQL, (*line, event.counts, to_json(dict(event.facts)), deeds))
                target = event.facts.get("target_turns")
                if target is not None:  # a person adopted another target for this coil
                    execute(_TARGET_SQL, (target, coil))
            for event in events:
                for deed in event.deeds:
                    account = account.take(deed)
            truth = account.truth()
            numbers = (account.per_turn, truth.low, truth.best, truth.high)
            execute(_TRUTH_SQL, (*numbers, _clean(truth.by), _clean(truth.why), coil))
        self._newest_line[run_id] = number
        self._accounts[coil] = account

    def _account_of(self, execute: Any, run_id: int) -> tuple[int, Account]:
        """The coil of a run and its account, folded once and kept up from then on."""
        run = self._run(execute, run_id)
        coil = int(run["coil"])
        if coil not in self._accounts:
            account = Account(run["counts_per_turn"])
            sql = "SELECT deeds FROM journal JOIN runs ON runs.id = run WHERE coil = ? ORDER BY run, number"
            for row in execute(sql, (coil,)).fetchall():
                for deed in deeds_from_json(row["deeds"]):
                    account = account.take(deed)
            self._accounts[coil] = account
        return coil, self._accounts[coil]

    def end_run(
        self,
        run_id: int,
        how: How,
        *,
        measured_ohm: float | None = None,
        measured_at_c: float | None = None,
    ) -> None:
        """Write how a run ended, once; its count is in the account."""
        with self._transaction() as execute:
            run = self._run(execute, run_id)
            if run["ended"] is not None:
                raise WinderError(
                    f"run {run_id} has ended already", where=self.where, remedy="begin another"
                )
            execute(_END_SQL, (date_now(), how.value, measured_ohm, measured_at_c, run_id))
            state = _STATES.get(how, UNFINISHED)
            execute("UPDATE coils SET state = ? WHERE id = ?", (state, run["coil"]))

    def close_stale_runs(self, coil_id: int) -> None:
        """Runs of a coil that were killed get an end before the coil goes on: the program was lost, not the count."""
        with self._transaction() as execute:
            sql = "UPDATE runs SET ended = ?, how = ? WHERE coil = ? AND ended IS NULL"
            execute(sql, (date_now(), How.LOST.value, coil_id))

    def say_for_other(self, said: Says) -> bool:
        """The last word of a wind of another coil, into that coil's account; whether there is one."""
        with self._transaction() as execute:
            found = execute(
                "SELECT id FROM runs WHERE wind = ? ORDER BY id DESC LIMIT 1", (said.wind,)
            ).fetchone()
        if found is not None:
            text = "the board closed this wind; its last word"
            self.write(found["id"], [SessionEvent("link", 0, text, said.word.count, {}, (said,))])
        return found is not None

    def coil_of_wind(self, wind: int) -> int | None:
        """The coil that a wind belongs to; None if this logbook does not know it."""
        with self._reading() as execute:
            row = execute("SELECT coil FROM runs WHERE wind = ? LIMIT 1", (wind,)).fetchone()
        return None if row is None else int(row["coil"])

    def _run(self, execute: Any, run_id: int) -> sqlite3.Row:
        sql = "SELECT runs.*, target_turns FROM runs JOIN coils ON coils.id = coil"
        row: sqlite3.Row | None = execute(f"{sql} WHERE runs.id = ?", (run_id,)).fetchone()
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
        row = find_coil(self.coils(), str(name_or_id).strip(), self.where)
        with self._reading() as execute:
            (texts,) = execute(
                "SELECT recipe_text, recipe_facts, coil_facts FROM coils WHERE id = ?",
                (row.coil_id,),
            ).fetchall()
            runs = execute("SELECT * FROM runs WHERE coil = ? ORDER BY id", (row.coil_id,))
            return CoilRecord(
                row=row,
                recipe_text=texts["recipe_text"],
                recipe_facts=json.loads(texts["recipe_facts"]),
                coil_facts=json.loads(texts["coil_facts"]),
                runs=tuple(
                    rows.run_record(run, self._lines(execute, run["id"])) for run in runs.fetchall()
                ),
            )

    def last_words(self, port: str) -> list[tuple[str, Plan]]:
        """Runs at a port that have no end on record: when each was last written to, and its plan."""
        sql = """
            SELECT runs.plan, (SELECT max(date) FROM journal WHERE run = runs.id) AS newest
            FROM runs WHERE port = ? AND ended IS NULL
        """
        with self._reading() as execute:
            found = execute(sql, (_clean(port),)).fetchall()
            return [(row["newest"], plan_from_json(row["plan"])) for row in found if row["newest"]]

    def _lines(self, execute: Any, run_id: int) -> tuple[JournalLine, ...]:
        found = execute("SELECT * FROM journal WHERE run = ? ORDER BY number", (run_id,))
        return tuple(rows.journal_line(line) for line in found)

    # --- the connection ----------------------------------------------------------------------

    @contextmanager
    def _transaction(self) -> Iterator[Any]:
        """One committed transaction, or none; gives the connection's ``execute``. A file that went takes no more."""
        execute = self._connection.execute
        with self._turn:
            if self._identity is not None and self._lock is not None:
                access.still_there(Path(self.where), self._identity)
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
