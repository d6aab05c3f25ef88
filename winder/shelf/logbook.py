"""The logbook: which coils were made, in which runs, and what each run's journal says.

A commit is on the disk before ``write`` returns (``book``). In memory, for rehearsals, the same code keeps
nothing. Readings, spools and a person's words of a coil are written by rooms beside this one, in the same book.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from winder.clock import date_now
from winder.errors import UserMistake, WinderError
from winder.shelf import rows
from winder.shelf.book import Book, clean
from winder.shelf.deeds_json import deeds_from_json, deeds_to_json
from winder.shelf.facts import plan_from_json, to_json
from winder.shelf.finding import find_coil
from winder.shelf.model import (
    BEGUN,
    COMPLETE,
    ENDED_SHORT,
    NO_WIRE,
    UNFINISHED,
    CoilRecord,
    CoilRow,
    JournalLine,
)
from winder.shelf.readings import OHM, Measured, add_reading
from winder.wind.account import Account
from winder.wind.deeds import Says
from winder.wind.model import How, SessionEvent

if TYPE_CHECKING:
    from winder.coil.model import Coil
    from winder.machine.model import MachineProfile
    from winder.plan.model import Plan
    from winder.recipe.counted import CountOnly
    from winder.recipe.model import Recipe

_WRITE_SQL = """
INSERT INTO journal (run, number, at_ns, date, kind, text, counts, facts, deeds)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
"""
_RECIPE_SQL = """
UPDATE coils SET recipe_text = ?, recipe_facts = ?, coil_facts = ?, wire = ?, ohm_nominal = ?, ohm_low = ?, ohm_high = ?
WHERE id = ? AND wire = ?
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


class Logbook:
    """An open logbook. Make one with ``open`` or ``in_memory``, and close it.

    Every method raises ``WinderError`` with the file as ``where`` when the file fails it.
    """

    def __init__(self, book: Book) -> None:
        self.book = book
        self.where = book.where
        self._newest_line: dict[int, int] = {}  # run -> number of its newest line
        self._accounts: dict[int, Account] = {}  # coil -> as far as it is written
        self._coil_of: dict[int, int] = {}  # run -> its coil, once its account is folded

    @classmethod
    def open(cls, path: Path | str | None = None, *, read_only: bool = False) -> Logbook:
        """As ``Book.open``."""
        return cls(Book.open(path, read_only=read_only))

    @classmethod
    def in_memory(cls) -> Logbook:
        """A logbook that is forgotten when it is closed."""
        return cls(Book.in_memory())

    def close(self) -> None:
        """Let go of the file; more than once does no harm."""
        self.book.close()

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

    def begin_counted(self, job: CountOnly) -> int:
        """Enter a coil of which only name and turns are known; its number."""
        return self._insert(
            "coils",
            name=job.name,
            recipe_text=job.text,
            recipe_facts=to_json(job),
            coil_facts="{}",
            target_turns=job.turns,
            wire=NO_WIRE,
            ohm_nominal=0.0,
            ohm_low=0.0,
            ohm_high=0.0,
            direction=job.direction.value,
            state=BEGUN,
            begun=date_now(),
        )

    def tell_recipe(self, coil_id: int, recipe: Recipe, coil: Coil) -> None:
        """Wire and bobbin of a coil that was only counted; what another recipe said is never written over."""
        ohm = coil.resistance_ohm_20c
        values = (recipe.text, to_json(recipe), to_json(coil), coil.wire.label)
        bands = (ohm.nominal, ohm.low, ohm.high)
        with self.book.transaction() as execute:
            execute(_RECIPE_SQL, (*map(clean, values), *bands, coil_id, NO_WIRE))

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
        stored = [clean(value) if isinstance(value, str) else value for value in values.values()]
        columns, places = ", ".join(values), ", ".join("?" * len(values))
        with self.book.transaction() as execute:
            cursor = execute(f"INSERT INTO {table} ({columns}) VALUES ({places})", stored)
            return int(cursor.lastrowid)

    def write(self, run_id: int, events: Sequence[SessionEvent]) -> None:
        """Commit events to a run's journal, in order, all or none; on the disk when it returns."""
        if not events:
            return
        date = date_now()
        with self.book.transaction() as execute:
            number = self._newest_line.get(run_id)
            if number is None:
                (number,) = execute(
                    "SELECT coalesce(max(number), 0) FROM journal WHERE run = ?", (run_id,)
                ).fetchone()
            coil, account = self._account_of(execute, run_id)
            for event in events:
                number += 1
                line = (run_id, number, event.at_ns, date, clean(event.kind), clean(event.text))
                deeds = clean(deeds_to_json(event.deeds))
                facts = to_json(dict(event.facts)) if event.facts else "{}"
                execute(_WRITE_SQL, (*line, event.counts, facts, deeds))
                target = event.facts.get("target_turns")
                if target is not None:  # a person adopted another target for this coil
                    execute(_TARGET_SQL, (target, coil))
            account = account.take_all(deed for event in events for deed in event.deeds)
            truth = account.truth()
            numbers = (account.per_turn, truth.low, truth.best, truth.high)
            execute(_TRUTH_SQL, (*numbers, clean(truth.by), clean(truth.why), coil))
        self._newest_line[run_id] = number
        self._accounts[coil] = account

    def _account_of(self, execute: Any, run_id: int) -> tuple[int, Account]:
        """The coil of a run and its account, folded once and kept up from then on."""
        known = self._coil_of.get(run_id)
        if known is not None:
            return known, self._accounts[known]
        run = self._run(execute, run_id)
        coil = int(run["coil"])
        if coil not in self._accounts:
            account = Account(run["counts_per_turn"])
            sql = "SELECT deeds FROM journal JOIN runs ON runs.id = run WHERE coil = ? ORDER BY run, number"
            for row in execute(sql, (coil,)).fetchall():
                account = account.take_all(deeds_from_json(row["deeds"]))
            self._accounts[coil] = account
        self._coil_of[run_id] = coil
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
        with self.book.transaction() as execute:
            run = self._run(execute, run_id)
            if run["ended"] is not None:
                raise WinderError(
                    f"run {run_id} has ended already", where=self.where, remedy="begin another"
                )
            execute(_END_SQL, (date_now(), how.value, measured_ohm, measured_at_c, run_id))
            state = _STATES.get(how, UNFINISHED)
            execute("UPDATE coils SET state = ? WHERE id = ?", (state, run["coil"]))
            if measured_ohm is not None:
                said = f"as run {run_id} ended"
                measured = Measured(OHM, said, measured_ohm, measured_at_c)
                add_reading(execute, run["coil"], measured)

    def close_stale_runs(self, coil_id: int) -> None:
        """Runs of a coil that were killed get an end before the coil goes on: the program was lost, not the count."""
        with self.book.transaction() as execute:
            sql = "UPDATE runs SET ended = ?, how = ? WHERE coil = ? AND ended IS NULL"
            execute(sql, (date_now(), How.LOST.value, coil_id))

    def say_for_other(self, said: Says) -> bool:
        """The last word of a wind of another coil, into that coil's account; whether there is one."""
        with self.book.transaction() as execute:
            found = execute(
                "SELECT id FROM runs WHERE wind = ? ORDER BY id DESC LIMIT 1", (said.wind,)
            ).fetchone()
        if found is not None:
            text = "the board closed this wind; its last word"
            self.write(found["id"], [SessionEvent("link", 0, text, said.word.count, {}, (said,))])
        return found is not None

    def coil_of_wind(self, wind: int) -> int | None:
        """The coil that a wind belongs to; None if this logbook does not know it."""
        with self.book.reading() as execute:
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
        return self._coils("ORDER BY coils.id")

    def newest(self, count: int, *, simulated: bool) -> list[CoilRow]:
        """So many coils of one kind that are not hidden, the newest first."""
        order = "WHERE simulated = ? AND NOT hidden ORDER BY coils.id DESC LIMIT ?"
        return self._coils(order, simulated, count)

    def without_end(self) -> list[CoilRow]:
        """Coils with a run that has no recorded end, oldest first."""
        return self._coils("WHERE under_way ORDER BY coils.id")

    def newest_on(self, machine_name: str | None, count: int) -> list[CoilRecord]:
        """Coils that were wound last on this machine, None: on any; whole, the newest wind first."""
        sql = "SELECT coil FROM runs WHERE ? IS NULL OR machine_name = ?"
        sql += " GROUP BY coil ORDER BY max(id) DESC LIMIT ?"
        with self.book.reading() as execute:
            numbers = execute(sql, (machine_name, machine_name, count)).fetchall()
        return [self.coil(row["coil"]) for row in numbers]

    def _coils(self, order: str, *values: object) -> list[CoilRow]:
        with self.book.reading() as execute:
            return [rows.coil_row(row) for row in execute(f"{rows.COILS_SQL} {order}", values)]

    def coil(self, name_or_id: str | int) -> CoilRecord:
        """One coil with its runs and their journals. Raises ``UserMistake`` for an unknown one."""
        wanted = str(name_or_id).strip()
        by_number = self._coils("WHERE CAST(coils.id AS TEXT) = ?", clean(wanted))
        row = by_number[0] if by_number else find_coil(self.coils(), wanted, self.where)
        with self.book.reading() as execute:
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
        with self.book.reading() as execute:
            found = execute(sql, (clean(port),)).fetchall()
            return [(row["newest"], plan_from_json(row["plan"])) for row in found if row["newest"]]

    def _lines(self, execute: Any, run_id: int) -> tuple[JournalLine, ...]:
        found = execute("SELECT * FROM journal WHERE run = ? ORDER BY number", (run_id,))
        return tuple(rows.journal_line(line) for line in found)
