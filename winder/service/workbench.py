"""What the terminal's start screen offers: recipes, ports, the shelf, and opening a wind.

Recipes are the ``*.toml`` files of the folder the program was started in that look like recipes, then
the shipped examples. The logbook is opened for as long as it is needed, by whoever needs it.
"""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from firmware_protocol.messages import LEASE_MS
from firmware_protocol.records import dataclass
from firmware_protocol.seam import Clock, Link
from winder.clock import SystemClock, seconds_since
from winder.coil.model import Coil
from winder.errors import UserMistake, WinderError
from winder.links.names import parse_port
from winder.links.ports import ports_found
from winder.links.recording import recorded
from winder.machine.model import MachineProfile
from winder.recipe.counted import CountOnly, count_only
from winder.recipe.model import Direction
from winder.recipe.observations import Observation
from winder.recipe.samples import example_recipes
from winder.service.again import Again, coil_again
from winder.service.drill_habit import overrun_turns
from winder.service.given_files import read_coil, read_profile
from winder.service.going_on import GoesOn, coil_to_go_on
from winder.service.journals import RunJournal, WrittenBehind
from winder.service.opening import (
    NOTHING_DECLARED,
    Declared,
    Numbers,
    Opened,
    Order,
    Station,
    end_run,
    open_wind,
)
from winder.service.recognising import find_machine
from winder.service.record_words import words_of_record
from winder.service.recovery import words_of_unfinished
from winder.service.run import WindRun
from winder.service.setting_up import usual
from winder.service.sources import connect
from winder.service.supply import Supplied, refuse_short, shown_supply, spools_for, supplied
from winder.service.teaching.at_port import Wish, teach_at
from winder.service.teaching.by_screen import LessonRun
from winder.shelf import Logbook, default_path
from winder.shelf.coil_words import CoilWords
from winder.shelf.model import BEGUN, COMPLETE, UNFINISHED, CoilRow

SEED_OF_SIMULATED_BENCH = 1
BAUD = 500_000
WRITING_S = (
    2.0  # until a board has written down its rest; a second of it because dates have whole ones
)
REST_WAIT_S_MAX = 20.0


@dataclass(frozen=True, slots=True)
class RecipeEntry:
    name: str
    path: str
    summary: str  # one line, or what is wrong with it
    coil_name: str  # of the coil it winds; "" where the file cannot be read


@dataclass(frozen=True, slots=True)
class ShelfEntry:
    coil_id: int
    name: str
    date: str
    turns: str
    truth: str
    state: str
    goes_on: bool  # not done, and nobody ended it there
    simulated: bool = False
    counted: bool = False  # wire and bobbin are not known


def open_logbook(path: str | None) -> Logbook:
    """The logbook named, or the user's own, for writing. Raises ``WinderError``."""
    return Logbook.open(Path(path) if path else default_path())


class LocalWorkbench:
    """The workbench of this computer. ``logbook`` None: the user's own. ``command`` runs one and gives its words."""

    def __init__(
        self,
        logbook: str | None = None,
        machine: str | None = None,
        command: Callable[[Sequence[str]], str] | None = None,
    ) -> None:
        self._logbook_path = logbook
        self._machine_path = machine
        self._command = command

    def recipes(self) -> list[RecipeEntry]:
        found = [path for path in sorted(Path.cwd().glob("*.toml")) if _looks_like_recipe(path)]
        entries = [_entry(path.name, path) for path in found]
        return entries + [_entry(f"example: {name}", path) for name, path in example_recipes()]

    def machine(self) -> MachineProfile:
        return read_profile(self._machine_path)

    def shelf(self, newest: int) -> list[ShelfEntry]:
        """So many coils of each kind that are not hidden, the newest first; the simulated machine's after the real ones."""
        with self._shelf() as logbook:
            rows = [row for kind in (False, True) for row in logbook.newest(newest, simulated=kind)]
        return [_shelf_entry(row) for row in rows]

    def shelf_record(self, coil_id: int) -> str:
        with self._shelf() as logbook:
            return words_of_record(logbook.coil(coil_id))

    def teach(self, port: str, file: str) -> LessonRun:
        wish = Wish(port, Path(file))
        wish.refuse_taken()
        return LessonRun(partial(teach_at, wish))

    def say(self, words: Sequence[str]) -> str:
        """What ``winder WORDS`` prints, with this workbench's logbook. Raises ``WinderError``."""
        assert self._command is not None, "a workbench with a shelf needs its commands"
        return self._command(
            [*(["--logbook", self._logbook_path] if self._logbook_path else []), *words]
        )

    def spools(self, recipe_path: str) -> list[str]:
        """Spools that a recipe may be wound from: of its wire, where it tells of none itself."""
        with self._shelf() as logbook:
            return spools_for(logbook, read_coil(recipe_path))

    def unfinished(self) -> list[str]:
        with self._shelf() as logbook:
            return words_of_unfinished(logbook)

    def _shelf(self) -> Logbook:
        """For looking only: a wind under way elsewhere may be writing. Without a file, an empty one."""
        path = Path(self._logbook_path) if self._logbook_path else default_path()
        return Logbook.open(path, read_only=True) if path.exists() else Logbook.in_memory()

    def ports(self) -> list[str]:
        return ["sim", *(found.best_name for found in ports_found())]

    def open_wind(
        self, recipe_path: str, port: str, goes_on: int | None = None, spool: str | None = None
    ) -> WindRun:
        """Everything up to a wind that waits for its start, of a new coil or of the shelf's with this
        number. Raises ``WinderError``."""
        wish = None if goes_on is None else GoesOn(str(goes_on))
        recipe, count = recipe_path or None, None
        if recipe is None and goes_on is not None:
            count = self._counted(goes_on)
        return self._start(WindRequest(recipe, port, goes_on=wish, spool=spool, count=count))

    def open_from_shelf(self, wish: Again | GoesOn, port: str) -> WindRun:
        """The same of a coil that follows one of the shelf, or goes on, by the recipe on record."""
        again, goes_on = (wish, None) if isinstance(wish, Again) else (None, wish)
        return self._start(WindRequest(None, port, again=again, goes_on=goes_on))

    def how_near(self, coil: str) -> list[str]:
        """How near the coil wound last came to the one it followed, as ``winder shelf pair`` says first."""
        with self._shelf() as logbook:
            row = logbook.newest_on(None, 1)[0].row
        if row.state != COMPLETE:
            return []
        alike, _, _ = self.say(["shelf", "pair", str(row.coil_id), coil]).partition("\n\n")
        return alike.splitlines()

    def open_count(self, turns: int, name: str, port: str) -> WindRun:
        """The same for a new coil of which only name and turns are known."""
        return self._start(WindRequest(None, port, count=count_only(name, turns)))

    def _start(self, request: WindRequest) -> WindRun:
        rest = partial(let_rest_at, self._logbook_path)
        found = find_machine(request.port, self._machine_path, rest=rest)
        return start_run(
            replace(
                request,
                machine=found.machine,
                logbook=self._logbook_path,
                baud=found.baud or request.baud,
                machine_words=found.told,
            )
        )

    def _counted(self, coil_id: int) -> CountOnly:
        with self._shelf() as logbook:
            row = logbook.coil(str(coil_id)).row
        return count_only(row.name, row.target_turns, Direction(row.direction))


@dataclass(frozen=True, slots=True)
class WindRequest:
    """What a person asked to be wound, where, and into which logbook."""

    recipe: str | None  # None: that of the coil it follows or goes on with
    port: str
    machine: str | None = None  # None: the simulated bench's profile
    logbook: str | None = None  # None: the user's own
    baud: int = BAUD
    goes_on: GoesOn | None = None  # a coil of the shelf that is not done
    declared: Declared = NOTHING_DECLARED
    readings: tuple[Observation, ...] = ()  # what was measured, besides what the recipe says
    close_unknown: bool = False
    spool: str | None = None  # of the logbook; None: the coil's own, or only what the recipe says
    short_wire: bool = False  # a person said go on though the wire may not last
    again: Again | None = None  # the coil of the shelf that it follows
    count: CountOnly | None = None  # only a name and turns; else recipe or coil say more
    record: str | None = None  # a new file for what passes on the line
    machine_words: tuple[str, ...] = ()  # of a machine that nobody named and that was found

    @property
    def command(self) -> str:
        """What begins this wind again, as one types it."""
        words = ["winder", "wind", *([self.recipe] if self.recipe else [])]
        if self.count is not None:
            words += ["--count", str(self.count.turns), "--name", self.count.name]
        words += [*(self.again.words if self.again else ()), "--port", self.port]
        for option, value in (
            ("--machine", self.machine),
            ("--logbook", self.logbook),
            ("--spool", self.spool),
        ):
            words += [option, value] if value else []
        words += ["--short-wire"] if self.short_wire else []
        if self.baud != BAUD:
            words += ["--baud", str(self.baud)]
        return shlex.join(words)


def let_rest(logbook: Logbook, port: str) -> None:
    """Opening a port resets many boards. One that a program was killed on is left alone until its lease is over, its
    spindle rests, and it has written down what it counted."""
    for date, plan in logbook.last_words(port):
        slowing_s = max(leg.speed_rpm / max(leg.acceleration_rpm_s, 1.0) for leg in plan.legs)
        rest_s = LEASE_MS / 1000 + 1.5 * slowing_s + WRITING_S
        wait_s = min(rest_s, REST_WAIT_S_MAX) - seconds_since(date)
        if wait_s > 0:
            SystemClock().sleep_s(min(wait_s, REST_WAIT_S_MAX))


def let_rest_at(path: str | None, port: str) -> None:
    """The same by the logbook there, before a board is asked who it is."""
    file = Path(path) if path else default_path()
    if file.exists():
        with Logbook.open(file, read_only=True) as logbook:
            let_rest(logbook, port)


def open_run(request: WindRequest) -> tuple[Opened, Logbook]:
    """Everything up to a wind that waits. Raises ``WinderError``; nothing is left open then."""
    choice = parse_port(request.port)
    seed = None
    if choice.simulated:
        seed = SEED_OF_SIMULATED_BENCH if choice.seed is None else choice.seed
    machine = read_profile(request.machine)
    coil: Coil | CountOnly | None = request.count
    if request.recipe is not None:
        coil = read_coil(request.recipe, request.readings, machine)
    logbook = open_logbook(request.logbook)
    try:
        spool = request.spool
        if request.again is not None:
            followed = coil_again(logbook, request.again, request.recipe, request.readings, machine)
            coil, spool = followed.coil, spool or followed.spool or None
        if coil is None and request.goes_on is not None:
            coil = coil_to_go_on(logbook, request.goes_on, machine)
        if coil is None:
            raise UserMistake("what should be wound?", where="recipe", remedy="name a recipe")
        given = None
        if isinstance(coil, Coil):
            given = supply_of(request, logbook, coil, spool)
        coil = coil if given is None else given.coil
        if not choice.simulated:
            let_rest(logbook, request.port)
        link, clock, body = connect(choice, machine, coil, request.baud, seed)
        before, declared = usual(logbook, machine), request.declared
        if declared.top is None:
            declared = replace(declared, top=before.top)
        if request.record is not None:
            link = _recorded(link, clock, request.record)
        keeps = RunJournal.itself if choice.simulated and choice.pace > 1 else WrittenBehind
        at = Station(link, clock, request.port, seed, body, keeps)
        order = Order(
            coil,
            machine,
            goes_on=request.goes_on,
            declared=declared,
            cautions_accepted=before.read_today,
            machine_named=request.machine is not None,
            close_unknown=request.close_unknown,
            early_turns=0.0 if machine.motor else overrun_turns(logbook, machine.name),
            supply=None if given is None else shown_supply(given),
            command=request.command,
            machine_words=request.machine_words,
        )
        opened = open_wind(at, order, logbook, Numbers.draw())
        if given is not None and given.spool is not None:
            CoilWords(logbook.book).say(opened.coil_id, spool_id=given.spool.spool_id)
    except BaseException:
        logbook.close()
        raise
    return opened, logbook


def _recorded(link: Link, clock: Clock, path: str) -> Link:
    try:
        return recorded(link, clock, Path(path))
    except BaseException:
        link.close()
        raise


def supply_of(
    request: WindRequest, logbook: Logbook, coil: Coil, spool: str | None
) -> Supplied | None:
    """The coil from its spool; refused where the wire may not last and nobody said go on."""
    name, begun = spool, 0.0
    if request.goes_on is not None:
        row = logbook.coil(request.goes_on.coil).row
        name = name or row.said.spool or None
        begun = row.turns[0] if row.turns else 0.0
        if begun >= coil.turns:
            return None  # there is only to take off
    given = supplied(coil, logbook, name, begun)
    if given is not None and not request.short_wire:
        refuse_short(given)
    return given


def close_run(opened: Opened, logbook: Logbook) -> None:
    """Close the link, write how the run ended, close the logbook."""
    try:
        opened.wind.close()
        end_run(opened, logbook)
    finally:
        logbook.close()


def start_run(request: WindRequest) -> WindRun:
    """Open a wind and give it a thread of its own. Raises ``WinderError``."""
    opened, logbook = open_run(request)
    return WindRun(opened.wind, lambda: close_run(opened, logbook))


def _looks_like_recipe(path: Path) -> bool:
    try:
        text = path.read_text(encoding="utf-8", errors="replace")[:20_000]
    except OSError:
        return False
    return "[wire]" in text or "[bobbin]" in text


def _entry(name: str, path: Path) -> RecipeEntry:
    try:
        coil = read_coil(path)
    except WinderError as error:
        first = str(error).splitlines()[0]
        return RecipeEntry(name, str(path), f"cannot be wound: {first}", "")
    ohm = coil.resistance_ohm_20c
    summary = (
        f"{coil.recipe.name}: {coil.turns} turns of {coil.wire.label}, "
        f"{ohm.nominal:.0f} ohm ({ohm.low:.0f} to {ohm.high:.0f})"
    )
    return RecipeEntry(name, str(path), summary, coil.recipe.name)


def _shelf_entry(row: CoilRow) -> ShelfEntry:
    goes_on = row.state in (BEGUN, UNFINISHED) and row.runs > 0
    words = (row.date, row.turns_text, row.truth_text, row.state)
    return ShelfEntry(row.coil_id, row.name, *words, goes_on, row.simulated, not row.is_known)
