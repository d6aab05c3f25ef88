"""What the screens need from the service, as protocols.

The service provides these; tests and pictures provide invented ones. A screen only reads ``view``
and only enqueues intents: it never waits for the machine, so that no key is ever late.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from winder.machine.model import MachineProfile
from winder.service.again import Again
from winder.service.going_on import GoesOn
from winder.service.teaching.by_screen import LessonRun
from winder.wind.model import Asked, WindView


class WindRun(Protocol):
    """One wind under way, running in a thread of its own."""

    @property
    def view(self) -> WindView:
        """The newest moment; replaced as a whole."""

    @property
    def finished(self) -> bool:
        """The wind is over and nothing of it moves."""

    @property
    def trouble(self) -> BaseException | None:
        """What ended the thread before the wind was over; None when all is well."""

    def ask(self, asked: Asked) -> None:
        """Enqueue an intent. Never blocks, from any thread."""

    def screen_is_alive(self) -> None:
        """Called on every tick of the screen. Without it for a second no sign of life is sent."""

    def refusals(self) -> list[str]:
        """Sentences why an intent was not taken, since the last call."""

    def close(self, wait_s: float) -> None:
        """Stop if moving, commit the journal, join the thread; at most ``wait_s``. May be repeated."""


class RecipeEntry(Protocol):
    @property
    def name(self) -> str: ...
    @property
    def path(self) -> str: ...
    @property
    def summary(self) -> str:
        """One line: what it winds, or what is wrong with the file."""

    @property
    def coil_name(self) -> str:
        """Of the coil it winds; "" where the file cannot be read."""


class ShelfEntry(Protocol):
    @property
    def coil_id(self) -> int: ...
    @property
    def name(self) -> str: ...
    @property
    def date(self) -> str: ...
    @property
    def turns(self) -> str: ...
    @property
    def truth(self) -> str: ...
    @property
    def state(self) -> str: ...
    @property
    def goes_on(self) -> bool:
        """It is not done, and nobody said that it ends there: a new wind may go on with it."""

    @property
    def simulated(self) -> bool:
        """Wound on the simulated machine."""

    @property
    def counted(self) -> bool:
        """It was only counted: no recipe winds it."""


class Workbench(Protocol):
    """What the start screen offers. Called on the screen's thread: everything answers soon."""

    def recipes(self) -> Sequence[RecipeEntry]: ...

    def machine(self) -> MachineProfile:
        """What winds, by its file. Raises ``WinderError``."""

    def shelf(self, newest: int) -> Sequence[ShelfEntry]:
        """So many real coils, the newest first, then as many of the simulated machine."""

    def say(self, words: Sequence[str]) -> str:
        """What the command ``winder WORDS`` prints. Raises ``WinderError``."""

    def spools(self, recipe_path: str) -> Sequence[str]:
        """Names of spools that the recipe may be wound from; none where it tells of its own."""

    def shelf_record(self, coil_id: int) -> str:
        """Plain text of one coil."""

    def unfinished(self) -> Sequence[str]:
        """Sentences about winds that did not end properly."""

    def ports(self) -> Sequence[str]:
        """``sim`` first, then likely serial ports. None is opened."""

    def open_from_shelf(self, wish: Again | GoesOn, port: str) -> WindRun:
        """Begin a wind that follows a coil of the shelf or goes on with it; moves nothing yet.

        Raises ``WinderError``.
        """

    def how_near(self, coil: str) -> Sequence[str]:
        """How near the coil wound last came to this one, which it followed; nothing where it is not done.

        Raises ``WinderError``.
        """

    def teach(self, port: str, file: str) -> LessonRun:
        """Begin a lesson at this port, into a new machine file; moves nothing yet. Raises ``WinderError``."""

    def open_count(self, turns: int, name: str, port: str) -> WindRun:
        """Begin to count a new coil of which nothing else is known. Raises ``WinderError``."""

    def open_wind(
        self, recipe_path: str, port: str, goes_on: int | None = None, spool: str | None = None
    ) -> WindRun:
        """Begin a wind, of a new coil or of the one with this number; moves nothing yet. A coil that was only
        counted has no recipe.

        Raises ``WinderError``.
        """
