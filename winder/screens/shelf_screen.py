"""The shelf on the screen: find a coil, measure it, say something of it, pair it, print its card, wind it again.

Everything is done by the same commands that are typed without a screen, and says what they say. What shall be
wound next goes back to the start screen, which knows the port.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from winder.files.digits import show_number
from winder.pair.likeness import By
from winder.screens.bench import Workbench
from winder.screens.face import BRIGHT, QUIET
from winder.screens.forms import LIST_CSS, Asking, Dialogue, KeyRows
from winder.screens.pair_screen import PairScreen
from winder.screens.plain import plain, plain_text
from winder.screens.spool_screen import SpoolScreen
from winder.service.again import Again
from winder.service.going_on import GoesOn
from winder.service.tap_test import coil_questions, coil_reading

KEYS = """\
Enter show  m measure  e edit  p pair  c card  l same again  t mate  o take off
/ find  v simulated  n spools  d desk  u summary  x export, copy  Esc back"""
DATE_COLUMNS = 84  # below, a name has more use of the room
COILS_SHOWN = 200  # the rest is found by words
FIND = "words of name, wire, spool, state, place; 780..830 ohm; 2400.. turns; 2026-01.."
EDITS: tuple[tuple[str, str, str], ...] = (
    ("note", "--note", "anything to remember"),
    ("place", "--place", "where it lies, or where it was built in"),
    ("colour of the start lead (S, the inner end)", "--start-colour", ""),
    ("colour of the finish lead (F, the outer end)", "--finish-colour", ""),
    ("direction, seen from its top", "--direction", "clockwise or counter-clockwise"),
    ("spool it was wound from", "--spool", "its name"),
    ("spoiled: it is no good", "--spoiled", "why"),
    ("wire and bobbin, where it was only counted", "--recipe", "file of a recipe that has them"),
)
HIDE = ("hide it from lists", "show it in lists again")
STRIKE = "strike out a reading"
MEASURES = """\
846.2 ohm, 21.5 C
inductance, 1.8 H
resonance, 7.1 kHz with 470 pF, 10.8 kHz with 100 pF
tap                     leads you through a tap test"""
DESK = (
    ("ohms at 20 C", "reading", "as in 832 ohm, 27 C"),
    ("gauge of a wire, by its diameter over the enamel", "gauge", "as in 0.071 mm"),
    ("turns of an unknown coil", "turns", "recipe file with its bobbin and wire"),
)
BY = ((By.HUM, "as much turns-area: hum cancels"), (By.TURNS, "as many turns"),
      (By.RESISTANCE, "as many ohms"))  # fmt: skip


class ShelfScreen(Dialogue):
    """Dismissed with what shall be wound next, or None."""

    KEYS: ClassVar[dict[str, str]] = {
        "enter": "show the coil",
        "m": "measure: enter a reading of the coil",
        "e": "edit: note, place, colours, direction, spool",
        "p": "pair: first coil, then p at the second",
        "c": "card to print and keep with the coil",
        "l": "same again: wind another like it",
        "t": "mate: wind one that goes with it",
        "o": "take turns off the coil",
        "slash": "find coils by words, ohms, turns or date",
        "v": "your coils, or those of the simulated machine",
        "n": "spools of wire",
        "d": "desk: ohms at 20 C, gauge, turns",
        "u": "summary: how far off the expectations were",
        "x": "export or copy the shelf, or import one",
        "escape": "back",
    }
    TOPIC = "readings"
    CSS = f"""
    ShelfScreen #told {{ height: auto; margin: 1 3 0 3; color: {BRIGHT}; }}
    ShelfScreen #heading {{ height: 1; margin: 1 3 0 3; color: {QUIET}; }}
    ShelfScreen #coils {{ height: 1fr; margin: 0 3; }}
    ShelfScreen #detail {{ height: 3; margin: 1 3 0 3; }}
    ShelfScreen #keys {{ height: auto; margin: 1 3 0 3; text-style: bold; color: {BRIGHT}; }}
    {LIST_CSS}
    """

    def __init__(self, workbench: Workbench) -> None:
        super().__init__()
        self._workbench = workbench
        self._coils: list[dict[str, Any]] = []
        self._find, self._simulated = "", False
        self._first: int | None = None  # of a pair

    def compose(self) -> ComposeResult:
        yield Static(plain(""), id="told")
        yield Static(plain(""), id="heading")
        yield OptionList(id="coils")
        yield Static(plain(""), id="detail")
        yield KeyRows(KEYS, id="keys")

    def on_mount(self) -> None:
        self.tell("")
        self.begin(self._look())
        self.query_one("#coils", OptionList).focus()

    def say(self, words: Sequence[str]) -> str:
        return self._workbench.say(words)

    # --- the list ------------------------------------------------------------------------------

    async def _look(self) -> None:
        """The list anew, keeping the coil that was looked at."""
        options, words = ranges_of(self._find)
        kind = "--simulated" if self._simulated else "--real"
        ask = ["--json", kind, f"--newest={COILS_SHOWN}", *options, f"--find={' '.join(words)}"]
        self._coils = json.loads(self.say(["shelf", "list", *ask]))[::-1]
        place, coils = self._place, self.query_one("#coils", OptionList)
        coils.clear_options()
        nothing = "no such coil" if self._find else "no coil yet"
        lines = [coil_line(coil, self.size.width - 8) for coil in self._coils]
        coils.add_options([Option(plain(line)) for line in lines or [nothing]])
        coils.highlighted = min(place or 0, max(0, len(lines) - 1))
        of = "coils of the simulated machine" if self._simulated else "shelf"
        find = f", found by: {self._find}" if self._find else ""
        some = f", the newest {COILS_SHOWN}" if len(lines) == COILS_SHOWN else ""
        self.query_one("#heading", Static).update(plain(f"{of}{find}{some}"))
        self._show_detail()

    @property
    def _place(self) -> int | None:
        return self.query_one("#coils", OptionList).highlighted

    @property
    def coil(self) -> dict[str, Any] | None:
        """The one that is looked at."""
        place = self._place
        return self._coils[place] if place is not None and place < len(self._coils) else None

    def on_option_list_option_highlighted(self) -> None:
        self._show_detail()

    def on_option_list_option_selected(self) -> None:
        self._with_coil(lambda: self.show("shelf", "show", self._number))

    @property
    def _number(self) -> str:
        assert self.coil is not None
        return str(self.coil["coil_id"])

    def _show_detail(self) -> None:
        coil = self.coil
        self.query_one("#detail", Static).update(plain("" if coil is None else detail(coil)))

    # --- keys ----------------------------------------------------------------------------------

    def on_key(self, event: events.Key) -> None:
        of_coil: dict[str, Asking] = {
            "m": self._measure, "e": self._edit, "p": self._pair, "c": self._card,
            "l": self._like, "t": self._mate, "o": self._take_off,
        }  # fmt: skip
        others: dict[str, Asking] = {
            "slash": self._search, "v": self._other_kind, "n": self._spools, "d": self._desk,
            "u": lambda: self.show("shelf", "list", "--summary"), "x": self._exchange,
        }  # fmt: skip
        if event.key in ("escape", "q"):
            event.stop()
            self.dismiss(None)
        elif event.key in of_coil:
            self._with_coil(of_coil[event.key])
        elif event.key in others:
            self.begin(others[event.key]())

    def _with_coil(self, asking: Asking) -> None:
        if self.coil is None:
            self.tell("No coil is chosen.")
        else:
            self.begin(asking())

    async def _search(self) -> None:
        found = await self.line("Find", FIND, draft=self._find, may_be_empty=True)
        if found is not None:
            self._find = found
            await self._look()

    async def _other_kind(self) -> None:
        self._simulated = not self._simulated
        await self._look()

    async def _measure(self) -> None:
        text = await self.line(f"What was measured of coil {self._number}?", MEASURES)
        if text == "tap":
            answers = []
            for question in coil_questions():
                chosen = await self.choice(question.words, question.answers)
                if chosen is None:
                    return
                answers.append(question.answers[chosen])
            text = coil_reading(*answers)
        if text is not None:
            await self.show("shelf", "measure", "--", self._number, text)
            await self._look()

    async def _edit(self) -> None:
        names = [*(name for name, _, _ in EDITS), *HIDE, STRIKE]
        chosen = await self.choice(f"What of coil {self._number}?", names)
        if chosen is None:
            return
        if chosen < len(EDITS):
            name, option, hint = EDITS[chosen]
            text = await self.line(name, hint, may_be_empty=True)
            words = None if text is None else ["edit", self._number, f"{option}={text}"]
        elif names[chosen] == STRIKE:
            words = await self._strike()
        else:
            words = ["edit", self._number, "--hide" if names[chosen] == HIDE[0] else "--unhide"]
        if words is not None:
            await self.show("shelf", *words)
            await self._look()

    async def _strike(self) -> list[str] | None:
        reading = await self.line("Which reading?", "its number; Enter shows them")
        reason = None if reading is None else await self.line("Why does it not count?")
        if reading is None or reason is None:
            return None
        return ["measure", self._number, f"--strike={reading}", f"--because={reason}"]

    async def _pair(self) -> None:
        """The first coil, then the second one."""
        assert self.coil is not None
        number = self.coil["coil_id"]
        if self._first is None or self._first == number:
            self._first = number
            self.tell(f"A pair of coil {number} and which? Go to the other one and press p again.")
            return
        first, self._first = self._first, None
        self.tell("")
        taken = await self.app.push_screen_wait(PairScreen(self._workbench, first, number))
        if taken is not None:
            self.dismiss(taken)

    async def _card(self) -> None:
        file = await self.line(
            f"Card of coil {self._number}: which file?", draft=f"coil{self._number}.html"
        )
        if file is not None:
            await self.show("shelf", "card", f"--html={file}", "--", self._number)

    async def _like(self) -> None:
        self.dismiss(Again(self._number))

    async def _mate(self) -> None:
        chosen = await self.choice(
            f"A mate for coil {self._number}: alike in what?", [words for _, words in BY]
        )
        if chosen is None:
            return
        mirrored = await self.choice("Wound which way?", ["the same way", "the other way round"])
        if mirrored is not None:
            self.dismiss(Again(self._number, BY[chosen][0], mirrored == 1))

    async def _take_off(self) -> None:
        text = await self.line(
            f"How many turns come off coil {self._number}?",
            "This opens a wind for it; nothing turns until you say so there.",
        )
        if text is None:
            return
        if not (text.isascii() and text.isdigit()):
            self.tell("Not a number of turns; write for example 4.")
            return
        self.dismiss(GoesOn(self._number, take_off=int(text)))

    async def _spools(self) -> None:
        await self.app.push_screen_wait(SpoolScreen(self._workbench))
        await self._look()

    async def _desk(self) -> None:
        chosen = await self.choice("Which sum?", [name for name, _, _ in DESK])
        if chosen is None:
            return
        name, verb, hint = DESK[chosen]
        text = await self.line(name, hint)
        if text is None:
            return
        if verb == "turns":
            reading = await self.line("What does the coil show?", "as in 812 ohm, 23 C")
            if reading is not None:
                await self.show("desk", "turns", "--", text, reading)
        elif verb == "gauge":
            await self.show("desk", "gauge", f"--over={text}")
        else:
            await self.show("desk", "reading", "--", text)

    async def _exchange(self) -> None:
        verbs = ("export", "copy", "import")
        chosen = await self.choice(
            "What goes where?",
            ["the whole shelf to a .json, or a table to a .csv", "a copy of the logbook", "another shelf's .json in"],
        )  # fmt: skip
        if chosen is None:
            return
        file = await self.line(f"{verbs[chosen]}: which file?")
        if file is not None:
            await self.show("shelf", verbs[chosen], "--", file)
            await self._look()


# --- words ---------------------------------------------------------------------------------------


def ranges_of(find: str) -> tuple[list[str], list[str]]:
    """Options of ``shelf list`` for ranges and days in what is looked for, and the words besides."""
    words: list[str] = []
    options: list[str] = []
    parts = find.split()
    for place, part in enumerate(parts):
        unit = parts[place + 1] if place + 1 < len(parts) else ""
        if ".." in part and unit in ("ohm", "ohms"):
            options.append(f"--ohms={part}")
        elif ".." in part and unit in ("turn", "turns"):
            options.append(f"--turns={part}")
        elif re.fullmatch(r"\d{4}-\d{2}-\d{2}\.\.", part):
            options.append(f"--since={part[:-2]}")
        elif not (place and ".." in parts[place - 1] and part.rstrip("s") in ("ohm", "turn")):
            words.append(part.casefold())
    return options, words


def coil_line(coil: dict[str, Any], columns: int) -> str:
    """One coil on one line; ohms at 20 C as measured, else nothing. The date only where there is room."""
    ohm = coil["measured_ohm_20c"]
    measured = "" if ohm is None else f"{show_number(ohm, 4)} ohm"
    date = f"{coil['date'][:10]} " if columns >= DATE_COLUMNS else ""
    turns = f"{coil['turns_text']:<{20 if date else 12}}"
    rest = f"{turns:.20} {measured:>9} {date}{coil['state_text']}"
    name = max(8, columns - len(rest) - 7)
    return f"{coil['coil_id']:>4} {plain_text(coil['name']):<{name}.{name}} {plain_text(rest)}"


def detail(coil: dict[str, Any]) -> str:
    """Three lines of the coil that is looked at."""
    _, low, high = coil["ohm_20c"]
    said = coil["said"]
    expected = (
        f"{coil['wire']}, expected {show_number(low, 4)} to {show_number(high, 4)} ohm at 20 C"
    )
    told = [
        f"{expected if high > 0 else 'wire and bobbin not known'}, wound {coil['as_wound']}",
        ", ".join(f"{name} {said[name]}" for name in ("spool", "place", "spoiled") if said[name]),
        said["note"],
    ]
    return "\n".join(line for line in told if line)
