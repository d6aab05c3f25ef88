"""Two coils as a pair on the screen: how alike they are, how they sit, what the four ways to join them give.

Facts of the instrument are asked here and nowhere else. Left and Right change what is highlighted, and what is
told goes to the command of the same name.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from firmware_protocol.records import dataclass
from winder.screens.bench import Workbench
from winder.screens.face import BRIGHT, QUIET
from winder.screens.forms import LIST_CSS, Dialogue, KeyRows
from winder.screens.plain import plain
from winder.service.going_on import GoesOn
from winder.service.tap_test import pair_questions

KEYS = """\
Left, Right change  Enter type it  s show the four ways and the wiring
t tap the joined pair  v picture  o take turns off  Esc back"""
NOT_TOLD = "not set"
POLES_FIRST = "First set which pole faces the string, for each coil. Hold a compass there: its north end points to a south pole."
BESIDE, ENDS, STACKED = "side by side", "side by side, end to end", "stacked"
WHICH = ("first", "second")
IRONS = {
    NOT_TOLD: "",
    "none": "none",
    "rod magnets in both": "magnets",
    "steel poles in both": "steel",
    "steel poles in both, plate under the far one": "steel-plate",
    "a rod magnet in one only": "magnet-in-one",
    "steel poles in one only": "steel-in-one",
    "steel poles in one, plate between": "steel-in-one-plate",
}
SOUNDS = {
    "nothing wrong, or not soldered yet": "",
    "it hums and is loud": "hum",
    "quiet but thin": "thin",
    "it hums and is thin": "hum-thin",
    "like one coil alone": "one",
}
SOURCES = (NOT_TOLD, "transformer", "wire")


@dataclass(frozen=True, slots=True)
class Setting:
    """``choices`` empty: it is typed, as in ``hint``."""

    name: str
    label: str
    choices: tuple[str, ...]
    hint: str = ""


SETTINGS = (
    Setting("sitting", "both read in one sitting", ("no", "yes")),
    Setting("place", "how they sit", (NOT_TOLD, BESIDE, ENDS, STACKED)),
    Setting("apart", "from axis to axis", (), "22 mm"),
    Setting("gap", "gap between the windings", (), "2 mm"),
    Setting("strings", "strings or tines", ("one over both", "each its own")),
    Setting("near", "nearer the string", WHICH),
    Setting("pole", "pole at the string, first coil", (NOT_TOLD, "north", "south")),
    Setting("other pole", "pole at the string, second coil", (NOT_TOLD, "north", "south")),
    Setting("turned", "top away from the string", ("neither", *WHICH)),
    Setting("iron", "iron", tuple(IRONS)),
    Setting("iron in", "which one has it", WHICH),
    Setting("source", "what hums nearby", SOURCES),
    Setting("away", "how far away", (), "1 m"),
    Setting("ratio", "hum of first over second, measured", (), ""),
    Setting("join", "drawn in", ("series", "parallel")),
    Setting("sound", "how it sounds, soldered", tuple(SOUNDS)),
)


class Told:
    """What was told so far of the pair and its instrument."""

    def __init__(self) -> None:
        self.values = {each.name: (each.choices or (each.hint,))[0] for each in SETTINGS}

    @property
    def place(self) -> str:
        return self.values["place"]

    @property
    def asked(self) -> tuple[Setting, ...]:
        """The settings that count as things stand."""
        value = self.values
        beside, stacked = self.place in (BESIDE, ENDS), self.place == STACKED
        counts = {
            "sitting": True,
            "place": True,
            "apart": beside,
            "strings": beside,
            "other pole": beside,
            "gap": stacked,
            "near": stacked,
            "iron in": "one" in IRONS[value["iron"]].split("-"),
            "away": value["source"] != NOT_TOLD,
        }
        return tuple(each for each in SETTINGS if counts.get(each.name, beside or stacked))

    def change(self, setting: Setting, by: int) -> None:
        choices = setting.choices
        place = choices.index(self.values[setting.name])
        self.values[setting.name] = choices[(place + by) % len(choices)]

    @property
    def poles(self) -> str:
        """As ``--poles``; "" while one that counts is not told."""
        told = [self.values["pole"]] + (
            [] if self.place == STACKED else [self.values["other pole"]]
        )
        return "" if NOT_TOLD in told else ",".join(told)

    @property
    def sitting_words(self) -> list[str]:
        return ["--one-sitting"] if self.values["sitting"] == "yes" else []

    @property
    def place_words(self) -> list[str]:
        value = self.values
        if self.place == NOT_TOLD:
            return []
        if self.place == STACKED:
            return [f"--stacked={value['gap']}", f"--near={value['near']}"]
        words = [f"--side-by-side={value['apart']}"]
        words += ["--end-to-end"] if self.place == ENDS else []
        return words + (["--own-strings"] if value["strings"] == "each its own" else [])

    @property
    def words(self) -> list[str]:
        """Options of ``winder shelf pair``."""
        value, words = self.values, [*self.sitting_words, *self.place_words]
        if self.place == NOT_TOLD:
            return words
        words += [f"--poles={self.poles}"] if self.poles else []
        words += [f"--turned={value['turned']}"] if value["turned"] != "neither" else []
        if IRONS[value["iron"]]:
            words += [f"--iron={IRONS[value['iron']]}", f"--iron-in={value['iron in']}"]
        if value["source"] != NOT_TOLD:
            words += [f"--source={value['source']}", f"--away={value['away']}"]
        words += [f"--ratio={value['ratio']}"] if value["ratio"] else []
        words += [f"--hears={SOUNDS[value['sound']]}"] if SOUNDS[value["sound"]] else []
        return [*words, f"--join={value['join']}"]


class PairScreen(Dialogue):
    """Dismissed with a wind that takes turns off a coil, or None."""

    KEYS: ClassVar[dict[str, str]] = {
        "right": "change the marked line",
        "enter": "type the marked line",
        "s": "show the four ways to join them, and the wiring",
        "t": "tap test of the joined pair",
        "v": "save a picture of the wiring",
        "o": "take turns off one of them",
        "escape": "back",
    }
    TOPIC = "pairs"
    CSS = f"""
    PairScreen #told {{ height: auto; margin: 1 2 0 2; color: {BRIGHT}; }}
    PairScreen #alike {{ height: auto; max-height: 30%; margin: 1 2 0 2; }}
    PairScreen #settings {{ height: 1fr; min-height: 3; margin: 1 1 0 1; }}
    PairScreen #keys {{ height: auto; margin: 1 2 0 2; text-style: bold; color: {BRIGHT}; }}
    PairScreen .quiet {{ color: {QUIET}; }}
    {LIST_CSS}
    """

    def __init__(self, workbench: Workbench, first: int, second: int) -> None:
        super().__init__()
        self._workbench = workbench
        self._coils = (str(first), str(second))
        self.told = Told()

    def compose(self) -> ComposeResult:
        yield Static(plain(""), id="told")
        yield Static(plain(""), id="alike")
        yield OptionList(id="settings")
        yield KeyRows(KEYS, id="keys")

    def on_mount(self) -> None:
        self.tell("")
        self._fill()
        self.begin(self._compare())
        self.query_one("#settings", OptionList).focus()

    def say(self, words: Sequence[str]) -> str:
        return self._workbench.say(words)

    def _pair(self, *options: str) -> list[str]:
        return ["shelf", "pair", *options, "--", *self._coils]

    async def _compare(self) -> None:
        """How alike they are, which needs no word of the instrument."""
        text = self.say(self._pair(*self.told.sitting_words)).partition("\n\n")[0]
        self.query_one("#alike", Static).update(plain(text))

    def _fill(self) -> None:
        settings = self.query_one("#settings", OptionList)
        place = settings.highlighted or 0
        settings.clear_options()
        asked = self.told.asked
        lines = [f"{each.label:<36} {self.told.values[each.name] or '-'}" for each in asked]
        settings.add_options([Option(plain(line)) for line in lines])
        settings.highlighted = min(place, len(lines) - 1)

    @property
    def _setting(self) -> Setting:
        return self.told.asked[self.query_one("#settings", OptionList).highlighted or 0]

    def on_option_list_option_selected(self) -> None:
        setting = self._setting
        if setting.choices:
            self._change(1)
        else:
            self.begin(self._type(setting))

    def _change(self, by: int) -> None:
        setting = self._setting
        if not setting.choices:
            return
        self.told.change(setting, by)
        self._fill()
        if setting.name == "sitting":
            self.begin(self._compare())

    async def _type(self, setting: Setting) -> None:
        said = f"as in {setting.hint}" if setting.hint else "a number; nothing: not measured"
        text = await self.line(setting.label, said, draft=self.told.values[setting.name], may_be_empty=not setting.hint)  # fmt: skip
        if text is not None:
            self.told.values[setting.name] = text
            self._fill()

    def on_key(self, event: events.Key) -> None:
        if event.key in ("escape", "q"):
            event.stop()
            self.dismiss(None)
        elif event.key in ("left", "right"):
            event.stop()
            self._change(1 if event.key == "right" else -1)
        elif event.key == "s":
            self.begin(self._ways())
        elif event.key == "v":
            self.begin(self._picture())
        elif event.key == "t":
            self.begin(self._tap())
        elif event.key == "o":
            self.begin(self._take_off())

    def _lacks_poles(self) -> bool:
        """Whether the poles have to be told first; says so."""
        lacking = self.told.place != NOT_TOLD and not self.told.poles
        if lacking:
            self.tell(POLES_FIRST)
        return lacking

    async def _ways(self) -> None:
        if not self._lacks_poles():
            await self.show(*self._pair(*self.told.words))

    async def _picture(self) -> None:
        if self._lacks_poles():
            return
        file = await self.line("Picture of the wiring: which file?", draft="pair.svg")
        if file is not None:
            self.say(self._pair(*self.told.words, f"--svg={file}"))
            self.tell(f"The wiring is drawn in {file}.")

    async def _tap(self) -> None:
        """Two taps and a compass, of the pair as it is soldered."""
        if not self.told.place_words:
            self.tell("First say how they sit.")
            return
        poles = self.told.poles
        questions = pair_questions(stacked=self.told.place == STACKED, poles_known=bool(poles))
        answers = []
        for question in questions:
            chosen = await self.choice(question.words, question.answers)
            if chosen is None:
                return
            answers.append(question.answers[chosen])
        poles = ",".join(answers[:-2]) or poles
        words = [f"--taps={','.join(answers[-2:])}", *([f"--poles={poles}"] if poles else [])]
        await self.show(*self._pair(*self.told.place_words, *words))

    async def _take_off(self) -> None:
        """The wind that does what the comparison advises."""
        advised = json.loads(self.say(self._pair(*self.told.sitting_words, "--json")))["take_off"]
        if advised is None or not advised["turns"]:
            self.tell("Nothing to take off.")
            return
        coil = self._coils[WHICH.index(advised["coil"])]
        yes = await self.choice(
            f"Take {advised['turns']} turns off coil {coil}?",
            ["open a wind for it; nothing turns until I say so there", "leave it as it is"],
        )
        if yes == 0:
            self.dismiss(GoesOn(coil, take_off=advised["turns"]))
