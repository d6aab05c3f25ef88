"""One rehearsal on the screen: the whole wind on the simulated machine, in virtual time, with nothing to set up.

It runs in a thread of its own; the screen shows how far it is and then what came of it. Nothing moves and
nothing goes on the shelf.
"""

from __future__ import annotations

import threading
from typing import Any

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Static

from winder.errors import WinderError
from winder.files.digits import show_duration
from winder.files.quantities import show_resistance
from winder.machine.model import MachineProfile
from winder.screens.bars import progress_bar
from winder.screens.plain import plain, plain_text

LOOK_S = 0.1
BAR_COLUMNS = 56
SEED = 1


class Rehearsing(ModalScreen[None]):
    """Rehearses the recipe of a file. Escape leaves, also before it is done."""

    CSS = "Rehearsing { align: center middle; background: transparent; }"

    def __init__(self, recipe_path: str, machine: MachineProfile) -> None:
        super().__init__()
        self._recipe_path, self._machine = recipe_path, machine
        self._share = 0.0
        self._left = False
        self._report: dict[str, Any] | None = None
        self._trouble: BaseException | None = None
        self.finished = False  # and told

    def compose(self) -> ComposeResult:
        with Vertical(classes="asking"):
            yield Static(plain("Rehearsal on the simulated machine"), classes="asking-title")
            yield Static(plain(""), id="rehearsed")
            yield Static(plain("Esc goes back"), classes="asking-keys")

    def on_mount(self) -> None:
        threading.Thread(target=self._rehearse, daemon=True).start()
        self._look_timer = self.set_interval(LOOK_S, self._look)

    def on_key(self, event: events.Key) -> None:
        event.stop()
        if event.key in ("escape", "enter", "q"):
            self._left = True
            self.dismiss(None)

    def _rehearse(self) -> None:
        from winder.service.given_files import read_coil
        from winder.service.rehearsal import rehearse, report_of

        try:
            coil = read_coil(self._recipe_path)
            self._report = report_of(rehearse(coil, self._machine, SEED, progress=self._go_on))
        except BaseException as trouble:  # told on the screen's own thread
            self._trouble = trouble

    def _go_on(self, share: float) -> None:
        self._share = share
        if self._left:
            raise WinderError("the rehearsal was stopped", remedy="begin another one")

    def _look(self) -> None:
        """Show how far it is, or once what came of it."""
        told = self.query_one("#rehearsed", Static)
        if self._trouble is not None:
            told.update(plain(str(self._trouble)))
        elif self._report is not None:
            told.update(plain("\n".join(report_lines(self._report))))
        else:
            done, left = progress_bar(BAR_COLUMNS, self._share)
            told.update(plain(done + left))
            return
        self.finished = True
        self._look_timer.stop()


def report_lines(report: dict[str, Any]) -> list[str]:
    """What came of a rehearsal, by the true turns of the simulated wire."""
    ohm = report["resistance_ohm_20c"]
    expected, low, high, wound = (
        show_resistance(ohm[name], 3) for name in ("expected", "low", "high", "wound")
    )
    took = show_duration(report["simulated_s"])
    return [
        f"{plain_text(report['recipe'])}: {plain_text(report['state'])}",
        f"{report['final_turns']:.2f} turns of {report['target_turns']}, count {report['count_is']}",
        f"{wound} at 20 C as wound; expected {expected}, between {low} and {high}",
        f"{took} on the machine. Nothing moved, and nothing is on the shelf.",
    ]
