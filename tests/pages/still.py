"""An invented wind that never moves on and an invented workbench: for pictures, tests and trying a screen.

Nothing here was measured: the maker of electric kalimbas and all the coils are made up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tests.pages.scenes import WINDING
from winder.clock import HandClock
from winder.errors import UserMistake
from winder.machine.model import SIMULATED_BENCH, MachineProfile
from winder.screens.bench import WindRun
from winder.service.again import Again
from winder.service.going_on import GoesOn
from winder.service.teaching.at_port import Wish, teach_at
from winder.service.teaching.by_screen import LessonRun
from winder.wind.model import Asked, WindView


class StillRun:
    """A wind that never moves on: shows one view and remembers what was asked."""

    def __init__(self, view: WindView) -> None:
        self.view = view
        self.finished = False
        self.trouble: BaseException | None = None
        self.asked: list[Asked] = []
        self.signs_of_life = 0
        self.closed = 0
        self.to_refuse: list[str] = []

    def ask(self, asked: Asked) -> None:
        self.asked.append(asked)

    def screen_is_alive(self) -> None:
        self.signs_of_life += 1

    def refusals(self) -> list[str]:
        refused, self.to_refuse = self.to_refuse, []
        return refused

    def close(self, wait_s: float) -> None:
        self.closed += 1
        self.finished = True


@dataclass(frozen=True, slots=True)
class InventedRecipe:
    name: str
    path: str
    summary: str
    coil_name: str = ""


@dataclass(frozen=True, slots=True)
class InventedCoil:
    coil_id: int
    name: str
    date: str
    turns: str
    truth: str
    state: str
    goes_on: bool = False
    simulated: bool = False
    counted: bool = False


class StillBench:
    """A workbench with an invented shelf."""

    def __init__(self, view: WindView = WINDING) -> None:
        self._view = view
        self.opened: list[tuple[str, str]] = []
        self.went_on: list[int | None] = []
        self.from_spool: list[str | None] = []
        self.from_shelf: list[tuple[Again | GoesOn, str]] = []

    def recipes(self) -> Sequence[InventedRecipe]:
        return (
            _recipe("bass.toml", "kalimba bass coil", "5000 turns of 0.063 mm, 853 ohm"),
            _recipe("treble.toml", "kalimba treble coil", "3200 turns of 0.063 mm, 470 ohm"),
            _recipe("rotor.toml", "rotor sensor", "900 turns of 0.1 mm, 41 ohm"),
            InventedRecipe(
                "sketch", "sketch.toml", "line 7: wire: '9,5 mm' has a comma; write 9.5 mm"
            ),
        )

    def machine(self) -> MachineProfile:
        return SIMULATED_BENCH

    def shelf(self, newest: int) -> Sequence[InventedCoil]:
        return (
            InventedCoil(12, "kalimba bass coil", "2026-03-02", "5000 turns", "exact", "complete"),
            InventedCoil(
                11, "rotor sensor", "2026-03-01", "900 turns", "vouched for by you", "complete"
            ),
            InventedCoil(10, "rotor sensor", "2026-02-27", "212 turns", "exact", "ended short"),
            InventedCoil(
                9, "rotor sensor", "2026-02-26", "between 480 and 506", "", "unfinished", True
            ),
        )

    def shelf_record(self, coil_id: int) -> str:
        return f"coil {coil_id}\ninvented, for pictures\n5000 turns, exact"

    def say(self, words: Sequence[str]) -> str:
        return f"winder {' '.join(words)}"

    def spools(self, recipe_path: str) -> Sequence[str]:
        return ()

    def how_near(self, coil: str) -> Sequence[str]:
        return (f"as many turns as coil {coil}",)

    def unfinished(self) -> Sequence[str]:
        return ("Coil 9 (rotor sensor) did not end properly: between 480 and 506 turns.",)

    def ports(self) -> Sequence[str]:
        return ("sim", "/dev/serial/by-id/usb-bench-board-0001")

    def open_from_shelf(self, wish: Again | GoesOn, port: str) -> WindRun:
        self.from_shelf.append((wish, port))
        return StillRun(self._view)

    def teach(self, port: str, file: str) -> LessonRun:
        """At the simulated bench, whatever the port."""
        return LessonRun(partial(teach_at, Wish("sim", Path(file))), HandClock())

    def open_count(self, turns: int, name: str, port: str) -> WindRun:
        self.opened.append((f"{turns} {name}", port))
        return StillRun(self._view)

    def open_wind(
        self, recipe_path: str, port: str, goes_on: int | None = None, spool: str | None = None
    ) -> WindRun:
        if recipe_path == "sketch.toml":
            raise UserMistake(
                "'9,5 mm' has a comma", where="sketch.toml:7: wire", remedy="write 9.5 mm"
            )
        self.opened.append((recipe_path, port))
        self.went_on.append(goes_on)
        self.from_spool.append(spool)
        return StillRun(self._view)


def _recipe(path: str, coil_name: str, summary: str) -> InventedRecipe:
    return InventedRecipe(coil_name, path, summary, coil_name)
