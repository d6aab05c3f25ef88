"""Spools on the screen: what is left on each, a new one, a tail measured, a weighing. By the same commands as typed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from winder.screens.bench import Workbench
from winder.screens.face import BRIGHT, QUIET
from winder.screens.forms import LIST_CSS, Asking, Dialogue, KeyRows
from winder.screens.plain import plain, plain_text

KEYS = "n new spool  t tail measured  w weighed  a note  Esc back"
HEADING = "spools: wire, metres left, ohms per metre, coils"


class SpoolScreen(Dialogue):
    KEYS: ClassVar[dict[str, str]] = {
        "n": "new spool",
        "t": "enter a measured tail: length, ohms, temperature",
        "w": "enter what the spool weighs now",
        "a": "write a note about the spool",
        "escape": "back",
    }
    TOPIC = "readings"
    CSS = f"""
    SpoolScreen #told {{ height: auto; margin: 1 3 0 3; color: {BRIGHT}; }}
    SpoolScreen #heading {{ height: 1; margin: 1 3 0 3; color: {QUIET}; }}
    SpoolScreen #spools {{ height: 1fr; margin: 0 3; }}
    SpoolScreen #detail {{ height: 2; margin: 1 3 0 3; }}
    SpoolScreen #keys {{ height: auto; margin: 1 3; text-style: bold; color: {BRIGHT}; }}
    {LIST_CSS}
    """

    def __init__(self, workbench: Workbench) -> None:
        super().__init__()
        self._workbench = workbench
        self._spools: list[dict[str, Any]] = []

    def compose(self) -> ComposeResult:
        yield Static(plain(""), id="told")
        yield Static(plain(HEADING), id="heading")
        yield OptionList(id="spools")
        yield Static(plain(""), id="detail")
        yield KeyRows(KEYS, id="keys")

    def on_mount(self) -> None:
        self.tell("")
        self.begin(self._look())
        self.query_one("#spools", OptionList).focus()

    def say(self, words: Sequence[str]) -> str:
        return self._workbench.say(words)

    async def _look(self) -> None:
        self._spools = json.loads(self.say(["spool", "list", "--json"]))
        spools = self.query_one("#spools", OptionList)
        place = spools.highlighted
        spools.clear_options()
        lines = [spool_line(spool, self.size.width - 8) for spool in self._spools]
        spools.add_options([Option(plain(line)) for line in lines or ["no spool yet: n adds one"]])
        spools.highlighted = min(place or 0, max(0, len(lines) - 1))

    def on_option_list_option_highlighted(self) -> None:
        spool = self._spool if self._spools else {"trouble": "", "note": ""}
        said = spool["trouble"] or spool["note"]
        self.query_one("#detail", Static).update(plain(said))

    def on_key(self, event: events.Key) -> None:
        of_spool: dict[str, Asking] = {
            "t": lambda: self._edit("--tail", "A tail of it", "as in 20 m, 108.4 ohm, 22 C"),
            "w": self._weigh,
            "a": lambda: self._edit("--note", "Note of this spool", ""),
        }
        if event.key in ("escape", "q"):
            event.stop()
            self.dismiss(None)
        elif event.key == "n":
            self.begin(self._new())
        elif event.key in of_spool and self._spools:
            self.begin(of_spool[event.key]())

    async def _new(self) -> None:
        name = await self.line("What do you call the spool?", "a short word, as on its label")
        wire = None if name is None else await self.line("Which wire?", "as in 42 AWG single, or 0.063 mm grade 1")  # fmt: skip
        if name is None or wire is None:
            return
        how = await self.choice("How do you know how much is on it?", ["its length", "its weight"])
        if how == 0:
            length = await self.line("How much wire?", "as in 1500 m")
            words = None if length is None else [f"--length={length}"]
        elif how == 1:
            gross = await self.line("What does it weigh, full?", "as in 182.4 g")
            tare = None if gross is None else await self.line("And the empty spool?", "as in 61 g")
            words = None if tare is None else [f"--gross={gross}", f"--tare={tare}"]
        else:
            words = None
        if words is not None:
            await self.show("spool", "new", f"--wire={wire}", *words, "--", name)
            await self._look()

    @property
    def _spool(self) -> dict[str, Any]:
        return self._spools[self.query_one("#spools", OptionList).highlighted or 0]

    async def _edit(self, option: str, title: str, hint: str) -> None:
        text = await self.line(title, hint)
        if text is not None:
            await self.show("spool", "edit", f"{option}={text}", "--", self._spool["name"])
            await self._look()

    async def _weigh(self) -> None:
        weighs = await self.line("What does it weigh now, empty spool included?", "as in 140.2 g")
        if weighs is None:
            return
        words = [f"--weighs={weighs}"]
        if not self._spool["tare_kg"]:
            tare = await self.line("And the empty spool, or one like it?", "as in 61 g")
            words += [] if tare is None else [f"--tare={tare}"]
        await self.show("spool", "edit", *words, "--", self._spool["name"])
        await self._look()


def spool_line(spool: dict[str, Any], columns: int) -> str:
    """One spool on one line; ohms per metre and coils only where there is room."""
    left, ohm = spool["left_m"], spool["ohm_per_m"]
    if left is None:
        metres = "see below"
    else:
        metres = f"{left['nominal']:.0f} m ({max(left['low'], 0):.0f} to {left['high']:.0f})"
    per_m = "" if ohm is None else f"{ohm['nominal']:.4g} ohm/m"
    coils = ", ".join(str(each) for each in spool["coils"])
    name, wire = plain_text(spool["name"]), plain_text(spool["wire"])
    line = f"{name:<12.12} {wire:<16.16} {metres:<22}"
    return f"{line} {per_m:>12}  {coils}"[:columns] if columns >= len(line) + 16 else line.rstrip()
