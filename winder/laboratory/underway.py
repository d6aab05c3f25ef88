"""One coil under way, its host one process after the other: the only place where the laboratory meets the product.

A host is opened on a bench that is there already, asked, stepped, and may be killed: then nothing is left of it but
what it committed. The bench lives on in between. Time is virtual.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from winder.clock import HandClock
from winder.coil.model import Coil
from winder.errors import WinderError
from winder.links.line import LinkFaults
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import MachineProfile
from winder.plan.facing import Top
from winder.service.going_on import Wish
from winder.service.opening import Numbers, Opened, end_run, open_wind
from winder.shelf.logbook import IN_MEMORY, Logbook
from winder.simulator.between import Between
from winder.wind.model import Asked, Certainty, CountTruth, Intent, Phase

STEP_S = 0.05
WINDS_MAX = 8  # of one coil, for their numbers


@dataclass(frozen=True, slots=True)
class Claim:
    """What the host says of the coil, in counts."""

    sure: bool
    low: int
    high: int
    why: str

    def holds(self, least: int, most: int) -> bool:
        """Whether some count between these two is within the claim."""
        return self.low <= most and least <= self.high


class TroubledLogbook(Logbook):
    """A logbook whose disk fails or is slow. ``before_writing`` may raise, or let time pass."""

    before_writing: Callable[[], None] | None = None

    @contextmanager
    def _transaction(self) -> Iterator[Any]:
        if self.before_writing is not None:
            self.before_writing()
        with super()._transaction() as execute:
            yield execute


class Underway:
    """``open`` first; what is asked of a host that is not there does nothing."""

    def __init__(
        self, bench: Between, coil: Coil, machine: MachineProfile, seed: int, line: LinkFaults
    ) -> None:
        self.bench = bench
        self.clock = HandClock(bench.now_ns)
        self.logbook = _reopened(Logbook.in_memory())
        self.opened_times = 0
        self._coil, self._profile, self._seed, self._line = coil, machine, seed, line
        self._opened: Opened | None = None
        self._link: SimulatedLink | None = None
        self._coil_id: int | None = None

    # --- the host ----------------------------------------------------------------------------

    def open(
        self, *, resets: bool, turns: float | None = None, by_list: bool = False
    ) -> WinderError | None:
        """A new host: begins the coil, or continues it. What was wrong, if it did not come about."""
        if resets:
            self.bench.reset()
        self._link = SimulatedLink(self.bench, self.clock, self._line)
        number = self._seed * WINDS_MAX + self.opened_times
        self.opened_times += 1
        wish = None if self._coil_id is None else Wish(str(self._coil_id), turns)
        try:
            self._opened = open_wind(
                self._link,
                self.clock,
                self._coil,
                self._profile,
                self.logbook,
                port="rehearsal",
                numbers=Numbers.from_seed(number),
                seed=self._seed,
                simulated=self.bench.machine,
                cautions_accepted=True,
                top=Top.OPERATOR,
                ask_set_up=by_list,
                declared_by="" if by_list else "rehearsal",
                goes_on=wish,
            )
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

    def ask(self, intent: Intent, value: float | None = None) -> bool:
        """Whether it was taken."""
        if self._opened is None:
            return False
        wind = self._opened.wind
        wind.ask(Asked(intent, value=value, by="rehearsal"))
        refused = bool(wind.refusals)
        wind.refusals.clear()
        return not refused

    def may(self, intent: Intent) -> bool:
        return self._opened is not None and intent in self._opened.wind.session.may()

    @property
    def phase(self) -> Phase | None:
        return None if self._opened is None else self._opened.wind.session.phase

    @property
    def alarm(self) -> str:
        if self._opened is None:
            return ""
        return str(getattr(self._opened.wind.view(), "alarm", ""))

    @property
    def off_turns(self) -> float | None:
        """Turns that are to come off, as the host says it."""
        return None if self._opened is None else self._opened.wind.session.off_turns()

    def claim(self) -> Claim | None:
        """What the host shows of the coil's count now."""
        return None if self._opened is None else _claim(self._opened.wind.session.truth)

    def pull_cable(self) -> None:
        if self._link is not None:
            self._link.close()

    def kill(self) -> None:
        """Nothing is left of the host but what it committed."""
        self.pull_cable()
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
        self.clock.sleep_s(seconds)
        while self.bench.now_ns < self.clock.now_ns():
            self.bench.take_bytes()
            self.bench.run_until(self.clock.now_ns())
        self.bench.take_bytes()

    # --- the shelf ---------------------------------------------------------------------------

    @property
    def begun(self) -> bool:
        return self._coil_id is not None

    def shelf(self) -> tuple[str, Claim | None]:
        """State and count of the coil, as the shelf has them."""
        row = next((row for row in self.logbook.coils() if row.coil_id == self._coil_id), None)
        if row is None:
            return "", None
        return row.state, None if row.truth is None else _claim(row.truth)

    def lines(self) -> int:
        """Lines of the coil's journals that can be read back."""
        if self._coil_id is None:
            return 0
        return sum(len(run.lines) for run in self.logbook.coil(self._coil_id).runs)


def _claim(truth: CountTruth) -> Claim:
    return Claim(truth.certainty is not Certainty.BETWEEN, truth.low, truth.high, truth.why)


def _reopened(logbook: Logbook) -> TroubledLogbook:
    """The same file, met by another process: in memory, the same connection and nothing else."""
    return TroubledLogbook(logbook._connection, IN_MEMORY)
