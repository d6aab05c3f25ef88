"""One coil under way, its host one process after the other: the only place where the laboratory meets the product.

A host is opened on a bench that is there already, asked, stepped, and may be killed: then nothing is left of it but
what it committed. The bench lives on in between. Time is virtual.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from firmware_protocol.records import dataclass
from winder.clock import HandClock
from winder.coil.model import Coil
from winder.errors import WinderError
from winder.laboratory.cable import Cable, let_pass
from winder.laboratory.late_disk import LateDisk
from winder.links.line import LinkFaults
from winder.machine.model import MachineProfile
from winder.plan.facing import Top
from winder.service.going_on import GoesOn
from winder.service.journals import RunJournal
from winder.service.opening import Declared, Numbers, Opened, Order, Station, end_run, open_wind
from winder.service.rehearsal import off_turns
from winder.shelf.book import IN_MEMORY, Book
from winder.shelf.logbook import Logbook
from winder.simulator.between import Between
from winder.wind.model import Asked, CountTruth, Intent, Phase, Value

STEP_S = 0.05
BY = "rehearsal"
WINDS_MAX = 8  # of one coil, for their numbers


@dataclass(frozen=True, slots=True)
class Claim:
    """What the host says of the coil, in counts."""

    sure: bool
    low: int
    best: int
    high: int
    why: str

    def holds(self, least: int, most: int) -> bool:
        """Whether some count between these two is within the claim."""
        return self.low <= most and least <= self.high


class TroubledBook(Book):
    """A file whose disk fails or is slow. ``before_writing`` may raise, or let time pass."""

    before_writing: Callable[[], None] | None = None

    @contextmanager
    def transaction(self) -> Iterator[Any]:
        if self.before_writing is not None:
            self.before_writing()
        with super().transaction() as execute:
            yield execute


class TroubledLogbook(Logbook):
    """A logbook in such a file."""

    def __init__(self, book: TroubledBook) -> None:
        super().__init__(book)
        self._troubled = book

    @property
    def before_writing(self) -> Callable[[], None] | None:
        return self._troubled.before_writing

    @before_writing.setter
    def before_writing(self, what: Callable[[], None] | None) -> None:
        self._troubled.before_writing = what


class Underway:
    """``open`` first; what is asked of a host that is not there does nothing."""

    def __init__(
        self, bench: Between, coil: Coil, machine: MachineProfile, seed: int, line: LinkFaults
    ) -> None:
        self.bench = bench
        self.clock = HandClock(bench.now_ns)
        self.logbook = _reopened(Logbook.in_memory())
        self.disk: LateDisk | None = None  # None: what is written is there at once
        self.opened_times = 0
        self._coil, self._profile, self._seed, self._line = coil, machine, seed, line
        self._opened: Opened | None = None
        self.cable: Cable | None = None
        self._coil_id: int | None = None
        self._claimed: tuple[CountTruth | None, Claim | None] = (None, None)

    # --- the host ----------------------------------------------------------------------------

    def open(
        self, *, resets: bool, turns: float | None = None, by_list: bool = False
    ) -> WinderError | None:
        """A new host: begins the coil, or continues it. What was wrong, if it did not come about."""
        if resets and self.opened_times:
            self.bench.reset()
        self.cable = Cable(self.bench, self.clock, self._line, resets=resets)
        number = self._seed * WINDS_MAX + self.opened_times
        self.opened_times += 1
        order = Order(
            self._coil,
            self._profile,
            goes_on=None if self._coil_id is None else GoesOn(str(self._coil_id), turns),
            declared=Declared(Top.OPERATOR, by="" if by_list else BY),
            cautions_accepted=True,
        )
        keeps = RunJournal.itself if self.disk is None else self.disk.keeps
        at = Station(self.cable, self.clock, BY, self._seed, self.bench.machine, keeps)
        try:
            self._opened = open_wind(at, order, self.logbook, Numbers.from_seed(number))
        except WinderError as trouble:
            self._opened = None
            return trouble
        self._coil_id = self._opened.coil_id
        return None

    @property
    def there(self) -> bool:
        """A host is there, and its run has not ended."""
        return self._opened is not None and not self._opened.wind.finished

    def step(self, wait_s: float = STEP_S, *, alive: bool = True) -> None:
        if self._opened is None:
            self.let_pass(wait_s)
        else:
            self._opened.wind.step(wait_s, alive=alive)

    def ask(self, intent: Intent, value: Value = None) -> bool:
        """Whether it was taken."""
        if self._opened is None:
            return False
        wind = self._opened.wind
        wind.ask(Asked(intent, value, by=BY))
        refused = bool(wind.refusals)
        wind.refusals.clear()
        return not refused

    def may(self, intent: Intent) -> bool:
        return self._opened is not None and not self._opened.wind.session.objection(intent)

    @property
    def phase(self) -> Phase | None:
        return None if self._opened is None else self._opened.wind.session.phase

    @property
    def alarm(self) -> str:
        if self._opened is None:
            return ""
        return self._opened.wind.session.watch.alarm

    @property
    def off_turns(self) -> float | None:
        """Turns that are to come off, as the host says it."""
        return None if self._opened is None else off_turns(self._opened.wind.session)

    @property
    def home_found(self) -> bool:
        """The host takes the guide's place for known, by its limit switch."""
        todo = None if self._opened is None else self._opened.wind.session.set_up.list
        return todo is not None and todo.homed

    def claim(self) -> Claim | None:
        """What the host shows of the coil's count now."""
        if self._opened is None:
            return None
        truth = self._opened.wind.session.course.truth
        if truth is not self._claimed[0]:
            self._claimed = (truth, _claim(truth))
        return self._claimed[1]

    def kill(self) -> None:
        """Nothing is left of the host but what it committed."""
        self._opened = None
        self.logbook = _reopened(self.logbook)

    def close(self) -> WinderError | None:
        """The host's own end, as after its last step; what was wrong with it."""
        opened, self._opened = self._opened, None
        if opened is None:
            return None
        try:
            opened.wind.close()
            end_run(opened, self.logbook)
        except WinderError as trouble:
            return trouble
        return None

    def let_pass(self, seconds: float) -> None:
        """Time in which no host does anything; what the board says is lost."""
        let_pass(self.bench, self.clock, seconds)

    # --- the shelf ---------------------------------------------------------------------------

    @property
    def begun(self) -> bool:
        return self._coil_id is not None

    def shelf(self) -> tuple[str, Claim | None]:
        """State and count of the coil, as the shelf has them."""
        row = next((row for row in self.logbook.coils() if row.coil_id == self._coil_id), None)
        if row is None:
            return "", None
        return row.state, _claim(row.truth) if row.counts_per_turn else None

    def lines(self) -> int:
        """Lines of the coil's journals that can be read back."""
        if self._coil_id is None:
            return 0
        return sum(len(run.lines) for run in self.logbook.coil(self._coil_id).runs)


def _claim(truth: CountTruth) -> Claim:
    return Claim(truth.is_sharp, truth.low, truth.best, truth.high, truth.why)


def _reopened(logbook: Logbook) -> TroubledLogbook:
    """The same file, met by another process: in memory, the same connection and nothing else."""
    return TroubledLogbook(TroubledBook(logbook.book.connection, IN_MEMORY))
