"""Help that fits the moment: what the screen's state means, which keys can do something now, what people ask.

The text is made when help is asked for, from the view of that moment. It lies over the screen as a question does:
the stop keys work as ever, and a trip takes its place.
"""

from __future__ import annotations

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from winder.screens.first_steps import STEPS
from winder.screens.forms import Dialogue
from winder.screens.keys import Key, shown_keys
from winder.screens.keys_below import KeysBelow
from winder.screens.plain import plain
from winder.screens.recipe_form import RecipeForm
from winder.screens.start_screen import StartScreen
from winder.screens.topics import Topic, topic_named
from winder.screens.wind_screen import WindScreen
from winder.screens.words import moves
from winder.wind.model import Certainty, Intent, Phase, WindView

MEANS: dict[Phase, str] = {
    Phase.CONNECTING: "Waiting for the board to say who it is. If nothing comes: is it plugged in, is it the right port?",
    Phase.SETTING_UP: "The list at the machine. Do what the marked line says; nothing can turn until all is done.",
    Phase.PREPARING: "The plan is being loaded. Nothing moves.",
    Phase.READY: "All set. Nothing turns until you start it.",
    Phase.STARTING: "Starting. Hands clear of the spindle.",
    Phase.PEDAL: "The foot pedal is on: press it to wind, let go to pause. Stop turns it off.",
    Phase.WINDING: "Winding. The board stops by itself at the next pause or the last turn.",
    Phase.SLOWING: "The spindle is slowing down. Hands clear until it has stopped.",
    Phase.PAUSED: "The spindle has stopped and waits for you. Measure, make a note, or look at the lay.",
    Phase.TAKING_OFF: "The coil has extra turns on purpose. Measure it, take off the turns shown, and it is done.",
    Phase.COMPLETE: "The coil has its turns. Fix and tape the finish lead before you let go of anything.",
    Phase.TRIPPED: "The board stopped to protect you or the coil. Find the cause, then clear the trip.",
    Phase.ALARM: "The board is not obeying. Switch the motor's power off first, then look.",
    Phase.UNHEARD: "No signal from the board. It stops by itself; check the cable.",
    Phase.LOST: "The board was reset, or another program has it. The coil is on the shelf with its count.",
    Phase.ENDED: "This wind is over. The coil is on the shelf; you can continue it later.",
}  # fmt: skip
COUNTED: dict[Phase, str] = {
    Phase.STARTING: "The count is about to begin. Turn the spindle when the screen says so.",
    Phase.WINDING: "You turn, the board counts. It stops nothing: stop at the turn that is shown.",
    Phase.SLOWING: "Let the spindle come to rest; the board counts until it has.",
    Phase.UNHEARD: "No signal from the board. Stop turning and check the cable.",
}  # a board that only counts
CAPS = {"slash": "/", "escape": "Esc", "enter": "Enter", "right": "Right"}
FRAME_ROWS = 6  # title, keys and frame, and a row of the screen behind
SCROLLS = {"down": 1, "up": -1, "pagedown": 8, "pageup": -8}


class MomentHelp(ModalScreen[None]):
    """A title and a text to read; Escape, Enter and ? go back."""

    CSS = """
    MomentHelp { align: center bottom; background: transparent; }
    #help { height: auto; width: 84; margin: 0; }
    #help VerticalScroll { height: auto; }
    """

    def __init__(self, title: str, text: str) -> None:
        super().__init__()
        self._title, self._text = title, text

    def compose(self) -> ComposeResult:
        with Vertical(id="help", classes="asking"):
            yield Static(plain(self._title), classes="asking-title")
            with VerticalScroll(can_focus=False):
                yield Static(plain(flowing(self._text)))
            yield KeysBelow("Esc goes back", "Up, Down more", classes="asking-keys")

    def on_mount(self) -> None:
        for scroll in self.query(VerticalScroll):
            scroll.styles.max_height = max(3, self.app.size.height - FRAME_ROWS)

    def on_key(self, event: events.Key) -> None:
        event.stop()
        if event.key in ("escape", "enter", "question_mark", "f1", "q"):
            if self.is_current:
                self.dismiss(None)
        elif event.key in SCROLLS:
            for scroll in self.query(VerticalScroll):  # none yet: a key may come before the text
                scroll.scroll_relative(y=SCROLLS[event.key], animate=False)


def flowing(text: str) -> str:
    """Paragraphs as one line each, for a screen to break where it is full; lists and examples as they are."""
    lines: list[str] = []
    for line in text.split("\n"):
        runs_on = bool(lines) and lines[-1][:1].isalpha() and line[:1].isalpha()
        if runs_on and "  " not in lines[-1] and "  " not in line:
            lines[-1] += f" {line}"
        else:
            lines.append(line)
    return "\n".join(lines)


def help_for(screen: Screen[object]) -> tuple[str, str]:
    """Title and text for a screen as it is now."""
    if isinstance(screen, WindScreen):
        return screen.view.headline.capitalize(), wind_help(screen.view)
    if isinstance(screen, RecipeForm):
        return _topic_help("measuring", "Up and Down move between fields, Left and Right choose.")
    if isinstance(screen, Dialogue):
        keys = "\n".join(f"{CAPS.get(key, key):<5}  {does}" for key, does in screen.KEYS.items())
        return _topic_help(screen.TOPIC or "start", keys)
    keys = "\n".join(f"{key}  {means}" for key, means in STEPS.items())
    lists = (
        "Tab goes from list to list; Enter chooses; w winds the chosen recipe on the chosen port."
    )
    return _topic_help("start", f"{lists}\n\n{keys}" if isinstance(screen, StartScreen) else "")


def wind_help(view: WindView) -> str:
    """What the state means, the keys of now, and the answer to what is most likely asked now."""
    parts = [meaning(view), "\n".join(key_lines(view))]
    topic = _topic_of(view)
    if topic is not None:
        parts.append(f"{topic.title}\n{topic.text}")
    return "\n\n".join(parts)


def meaning(view: WindView) -> str:
    """What the state means, with a motor or without."""
    return MEANS[view.phase] if view.board_stops else COUNTED.get(view.phase, MEANS[view.phase])


def key_lines(view: WindView) -> list[str]:
    """Every key that can do something now, with what it does."""
    does = "slows down; again, or held, cuts the motor's power"
    if not view.board_stops:
        does = "you have stopped; the spindle itself no key can stop"
    stop = [f"space  stop: {does}"] if moves(view) else []
    return [*stop, *(f"{key.cap:<5}  {_does(key)}" for key in shown_keys(view))]


def _does(key: Key) -> str:
    return _DOES.get(key.intent, key.label)


_DOES = {
    Intent.SLOWER: "slower, within this part of the plan",
    Intent.FASTER: "faster, never above the plan",
    Intent.VOUCH_UNMOVED: "the spindle was not turned: the count is right",
    Intent.SETTLE_COUNT: "you counted: enter the turns on the coil",
    Intent.MEASURED: "enter what you measured: ohms, build, a piece of the spool",
    Intent.TURNS_OFF: "you took turns off by hand: enter how many",
    Intent.TAKE_OFF: "let the motor turn back slowly, as many turns as you say",
    Intent.WIRE_BROKE: "the wire broke: stop, and record it",
    Intent.WIRE_JOINED: "the wire is joined and the joint insulated",
    Intent.WIRE_WHOLE: "the wire did not break after all",
    Intent.ADOPT_TURNS: "change the target to what the reading calls for",
    Intent.END_HERE: "end this coil here, with the turns it has",
    Intent.CLEAR_TRIP: "the cause is gone: clear the trip; this moves nothing",
    Intent.ACKNOWLEDGE: "you have seen the alarm and found its cause; this moves nothing",
    Intent.LEAVE: "leave; the coil stays on the shelf",
    Intent.NOTE: "write a note into this coil's record",
}


def _topic_of(view: WindView) -> Topic | None:
    if view.count.wire_broke_at is not None:
        return topic_named("wire")
    if view.phase is Phase.SETTING_UP and view.lay.guide_mm is not None:
        return topic_named("guide")
    if view.count.truth.certainty is Certainty.BETWEEN:
        return topic_named("count")
    return topic_named("readings") if Intent.MEASURED in view.may else None


def _topic_help(name: str, before: str) -> tuple[str, str]:
    topic = topic_named(name)
    assert topic is not None
    return topic.title, f"{topic.text}\n\n{before}".strip()
