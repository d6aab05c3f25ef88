"""The words that a person types into a wind without a screen, and the intents they stand for.

Nothing is guessed: what is not understood is answered with the words that are possible now.
"""

from __future__ import annotations

from winder.errors import WinderError
from winder.files.quantities import QuantityError, read_number
from winder.plan.facing import Top
from winder.wind.model import Asked, Intent, Item, TurnsOff, WindView

WORDS: dict[str, Asked] = {
    "start": Asked(Intent.START),
    "pause": Asked(Intent.PAUSE),
    "cut": Asked(Intent.CUT),
    "continue": Asked(Intent.CONTINUE),
    "pedal": Asked(Intent.PEDAL),
    "end here": Asked(Intent.END_HERE),
    "clear trip": Asked(Intent.CLEAR_TRIP),
    "acknowledge": Asked(Intent.ACKNOWLEDGE),
    "unmoved": Asked(Intent.VOUCH_UNMOVED),
    "slower": Asked(Intent.SLOWER),
    "faster": Asked(Intent.FASTER),
    "leave": Asked(Intent.LEAVE),
    "top operator": Asked(Intent.DECLARE_TOP, Top.OPERATOR),
    "top chuck": Asked(Intent.DECLARE_TOP, Top.CHUCK),
    "lead fixed": Asked(Intent.CONFIRM, Item.LEAD),
    "guide stands": Asked(Intent.CONFIRM, Item.GUIDE),
    "guide back": Asked(Intent.GUIDE_TO_START),
    "guide home": Asked(Intent.HOME_GUIDE),
    "touch left": Asked(Intent.TOUCH_LEFT),
    "touch right": Asked(Intent.TOUCH_RIGHT),
    "guard closed": Asked(Intent.CONFIRM, Item.GUARD),
    "all done": Asked(Intent.SET_UP_DONE),
    "set up already": Asked(Intent.DECLARE_SET_UP),
    "wire here": Asked(Intent.WIRE_HERE),
    "wire broke": Asked(Intent.WIRE_BROKE),
    "wire joined": Asked(Intent.WIRE_JOINED),
    "wire whole": Asked(Intent.WIRE_WHOLE),
    "adopt turns": Asked(Intent.ADOPT_TURNS),
}
# First word or words, the intent, and what comes after them.
NUMBERS: dict[str, tuple[Intent, str]] = {
    "tension": (Intent.SET_TENSION, "CN or by feel"),
    "guide": (Intent.STEP_GUIDE, "MM"),
    "counted": (Intent.SETTLE_COUNT, "TURNS"),
    "turns off": (Intent.TURNS_OFF, "TURNS"),
    "take off": (Intent.TAKE_OFF, "TURNS"),
}
TEXTS: dict[str, tuple[Intent, str]] = {
    "measured": (Intent.MEASURED, "OHMS [C] or a reading"),
    "note": (Intent.NOTE, "TEXT"),
}


def read_word(typed: str) -> Asked | str:
    """The intent of a typed line, or one sentence why there is none; "" for an empty line."""
    line = " ".join(typed.split())
    word = line.lower()
    if not line:
        return ""
    if word in WORDS:
        return WORDS[word]
    for first, (intent, unit) in NUMBERS.items():
        if word == first or word.startswith(f"{first} "):
            return _numbered(first, intent, unit, line[len(first) :].strip())
    for first, (intent, what) in TEXTS.items():
        if word.startswith(f"{first} "):
            return _texted(intent, line[len(first) + 1 :])
        if word == first:
            return f"say what to {first}: {first} {what}"
    return ""


def _numbered(first: str, intent: Intent, unit: str, rest: str) -> Asked | str:
    besides = intent is Intent.TURNS_OFF and rest.lower().endswith(BESIDES)
    if besides:
        rest = rest[: -len(BESIDES)].strip()
    if intent is Intent.SET_TENSION and rest.lower() == "by feel":
        return Asked(intent, 0.0)
    try:
        number = read_number(rest)
    except QuantityError as wrong:
        return f"{wrong.what}; write it like: {first} {EXAMPLES[unit]}"
    return Asked(intent, TurnsOff(number, besides) if intent is Intent.TURNS_OFF else number)


def _texted(intent: Intent, text: str) -> Asked | str:
    if intent is not Intent.MEASURED:
        return Asked(intent, text)
    from winder.service.estimating import said_reading

    try:
        return Asked(intent, said_reading(text))
    except WinderError as wrong:
        return f"{wrong.what}; {wrong.remedy}" if wrong.remedy else wrong.what


BESIDES = " besides"  # others than those that the sensor saw come off
EXAMPLES = {"CN or by feel": "12.5", "MM": "-0.5", "TURNS": "6.5"}


def possible_words(view: WindView) -> str:
    """What can be typed now, with commas between."""
    may = view.may
    words = [word for word, asked in WORDS.items() if asked.intent in may]
    more = {**NUMBERS, **TEXTS}
    words += [f"{first} {what}" for first, (intent, what) in more.items() if intent in may]
    return ", ".join(words)
