"""A machine taught on the screen: which step it is, what was found in it, and the question of now.

It shows what the lesson asks and sends what is typed; it knows no rule of the lesson. While something moves the
badge is a filled block and the stop keys stop it. Leaving writes nothing.
"""

from __future__ import annotations

from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Input, Static

from firmware_protocol.messages import Status
from firmware_protocol.seam import Clock
from winder.clock import NS_PER_MS, SystemClock
from winder.errors import WinderError
from winder.screens.asking import AskCautions, AskYes
from winder.screens.face import ACCENT, BRIGHT, GROUND, QUIET, TEXT
from winder.screens.forms import LINE_SIGNS_MAX, Dialogue
from winder.screens.plain import plain, plain_text
from winder.service.teaching.by_screen import LessonRun, LessonView
from winder.service.teaching.dialogue import Kind, Question

TICK_S = (
    1 / 15
)  # fast enough for the eye, far younger than the second after which what moves is stopped
HELD_KEY_NS = 750 * NS_PER_MS  # longer than the delay before a held key repeats
WIDE_COLUMNS = 92  # from here all steps stand beside it
MOVING = "space stop"
LEAVES = "Esc leave"
BUSY = f"please wait  {LEAVES}"
# What each kind of question takes: its keys on the bottom line, and what each key answers.
TAKES: dict[Kind, tuple[str, dict[str, str]]] = {
    Kind.TEXT: ("Enter takes it", {}),
    Kind.DONE: ("Enter it is done", {"enter": ""}),
    Kind.YES: ("y yes  n no", {"y": "yes", "n": "no"}),
    Kind.MOVE: ("y go ahead  n no", {"y": "yes", "n": "no"}),
    Kind.KEEP: ("Enter keep it  a again", {"enter": "", "a": "again"}),
}


class TeachScreen(Dialogue):
    """One lesson; dismissed with the sentence on what became of it, or with what was wrong."""

    KEYS: ClassVar[dict[str, str]] = {
        "y": "yes; where a movement was announced: go ahead",
        "n": "no",
        "enter": "it is done, or keep what was found",
        "a": "measure it again",
        "escape": "leave the lesson; no machine file is written",
    }
    TOPIC = "safety"
    AUTO_FOCUS = None  # a field that is not shown must not take the keys
    CSS = f"""
    TeachScreen #badge {{ height: 1; margin: 1 3 0 3; width: auto; color: {BRIGHT}; text-style: bold; }}
    TeachScreen #badge.moving {{ background: {ACCENT}; color: {GROUND}; }}
    TeachScreen #place {{ height: auto; margin: 0 3 0 3; color: {QUIET}; }}
    TeachScreen #lesson {{ height: 1fr; margin: 1 3 0 3; }}
    TeachScreen #steps {{ width: 28; height: auto; }}
    TeachScreen #steps Static {{ height: auto; color: {QUIET}; }}
    TeachScreen #steps #now {{ color: {BRIGHT}; text-style: bold; }}
    TeachScreen #steps #coming {{ color: {TEXT}; }}
    TeachScreen #told-side {{ width: 1fr; height: 1fr; scrollbar-size: 0 0; }}
    TeachScreen #told {{ height: auto; color: {TEXT}; }}
    TeachScreen #asked {{ height: auto; margin: 1 3 0 3; padding: 0 2; border: heavy {BRIGHT}; }}
    TeachScreen #question {{ height: auto; color: {BRIGHT}; text-style: bold; }}
    TeachScreen #asked Input, TeachScreen #asked Input:focus {{
        border: none; border-left: heavy {BRIGHT}; background: {GROUND}; color: {BRIGHT}; height: 1;
        padding: 0 1; background-tint: {GROUND} 0%;
    }}
    TeachScreen #keys {{ height: 1; margin: 1 3; text-style: bold; color: {BRIGHT}; }}
    TeachScreen .tight {{ margin: 0 1; }}
    TeachScreen #keys.tight {{ margin: 1 1 0 1; }}
    """

    def __init__(self, run: LessonRun, what: str, clock: Clock | None = None) -> None:
        super().__init__()
        self._clock: Clock = clock or SystemClock()
        self._pressed_ns: dict[str, int] = {}
        self._said: dict[str, str] = {}  # by the part of the screen
        self.lesson, self._what = run, what
        self._shown: LessonView | None = None
        self._drawn_at = (0, 0)
        self._asked: Question | None = None  # as it is shown

    def compose(self) -> ComposeResult:
        yield Static(plain(""), id="badge")
        yield Static(plain(""), id="place")
        with Horizontal(id="lesson"):
            with Vertical(id="steps"):
                for part in ("past", "now", "coming"):
                    yield Static(plain(""), id=part)
            with VerticalScroll(id="told-side", can_focus=False):
                yield Static(plain(""), id="told")
        with Vertical(id="asked"):
            yield Static(plain(""), id="question")
            yield Input(max_length=LINE_SIGNS_MAX)
        yield Static(plain(""), id="keys")

    def on_mount(self) -> None:
        self.query_one(Input).cursor_blink = False
        self.set_interval(TICK_S, self.pull)
        self.pull()
        # Whether there is a motor is known only later: the cautions are those of one.
        self.app.push_screen(AskCautions(board_stops=True), self._cautions_answered)

    def on_resize(self, event: events.Resize) -> None:
        for part in self.children:
            part.set_class(event.size.height < 24 or event.size.width < 76, "tight")
        self._shown = None

    def on_screen_resume(self) -> None:
        self._shown = None  # the field has to have the keys again

    @property
    def moves(self) -> bool:
        return self.lesson.view.status is not None

    @property
    def over(self) -> bool:
        return self.lesson.finished

    def pull(self) -> None:
        """Tell the lesson that somebody looks, and show what is new."""
        self.lesson.screen_is_alive()
        view = self.lesson.view
        shape = (self.size.width, self.size.height)
        if view is self._shown and shape == self._drawn_at and not self.over:
            return
        fresh, self._asked = view.question is not self._asked, view.question
        self._shown, self._drawn_at = view, shape
        self._show_state(view)
        self._show_found(view)
        self._show_question(view, fresh=fresh)

    # --- what is shown --------------------------------------------------------------------------

    def _show_state(self, view: LessonView) -> None:
        badge = self.query_one("#badge", Static)
        badge.set_class(view.status is not None, "moving")
        self._say("badge", self._headline(view))
        wide = self.size.width >= WIDE_COLUMNS
        done, all_of = len(view.past) + 1, len(view.past) + 1 + len(view.coming)
        place = self._what if wide else f"step {done} of {all_of}: {view.step.value}"
        self._say("place", place)
        self.query_one("#steps").display = wide
        for part, sign, steps in (
            ("past", "■", view.past),
            ("now", "▶", (view.step,)),
            ("coming", "□", view.coming),
        ):
            self._say(part, "\n".join(f"{sign} {step.value}" for step in steps))

    def _headline(self, view: LessonView) -> str:
        if view.status is not None:
            return f"  IT MOVES  {said_of(view.status)}  "
        if view.ended:
            return "TAUGHT"
        if self.lesson.trouble is not None:
            return "NOT TAUGHT"
        return f"TEACHING  {view.step.value}" if view.question or view.told else "TEACHING"

    def _show_found(self, view: LessonView) -> None:
        if self._say("told", "\n".join(plain_text(line) for line in view.told)):
            self.query_one("#told-side", VerticalScroll).scroll_end(animate=False)

    def _show_question(self, view: LessonView, *, fresh: bool) -> None:
        question, field = view.question, self.query_one(Input)
        said = question.text if question is not None else self._ending(view)
        self.query_one("#asked").display = bool(said)
        self._say("question", plain_text(said))
        typed = question is not None and question.kind is Kind.TEXT
        if fresh:
            field.value = ""
        field.display, field.disabled = typed, not typed
        if typed and self.app.screen is self:
            field.focus()
        self._say("keys", self._keys(view))

    def _say(self, part: str, text: str) -> bool:
        """Whether it is new: only then is anything laid out, for this is asked 15 times a second."""
        if self._said.get(part) == text:
            return False
        before = self._said.get(part, "")
        self._said[part] = text
        shown = self.query_one(f"#{part}", Static)
        shown.display = bool(text)
        shown.update(plain(text), layout=len(text) != len(before) or "\n" in text)
        return True

    def _ending(self, view: LessonView) -> str:
        trouble = self.lesson.trouble
        return view.ended or ("" if trouble is None else str(trouble))

    def _keys(self, view: LessonView) -> str:
        if view.status is not None:
            return MOVING
        if self.over:
            return "Enter or Esc closes"
        if view.question is None:
            return BUSY
        return f"{TAKES[view.question.kind][0]}  {LEAVES}"

    # --- what is answered -------------------------------------------------------------------------

    def on_key(self, event: events.Key) -> None:
        question = self._asked
        if self._held(event.key):  # it was meant for the question before
            event.stop()
        elif event.key == "escape" or (self.over and event.key in ("enter", "q")):
            event.stop()
            self.leave()
        elif question is not None and event.key in (answers := TAKES[question.kind][1]):
            event.stop()
            self.lesson.answer(question, answers[event.key])

    def _held(self, key: str) -> bool:
        """Whether a key is the repeat of one that was pressed just before; notes the press."""
        now_ns = self._clock.now_ns()
        before_ns, self._pressed_ns[key] = self._pressed_ns.get(key), now_ns
        return before_ns is not None and now_ns - before_ns < HELD_KEY_NS

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        question = self._asked
        if question is not None and question.kind is Kind.TEXT:
            self.lesson.answer(question, event.value.strip())

    def leave(self) -> None:
        """At once where it is over; else after a yes."""
        if self.over:
            trouble = self.lesson.trouble
            told = "" if trouble is None else str(trouble)
            self.dismiss(self.lesson.view.ended or told)
            return
        self.app.push_screen(
            AskYes("Leave the lesson? No machine file is written.", "leave"), self._left
        )

    def stop(self) -> None:
        self.lesson.stop()

    def _left(self, yes: bool | None) -> None:
        if yes:
            self.lesson.leave()

    def _cautions_answered(self, accepted: bool | None) -> None:
        if not accepted:
            self.lesson.leave()
        self._shown = None


def said_of(status: Status) -> str:
    """What can be seen of a movement: the count, and where a guide is."""
    guide = f"  guide {status.traverse_um / 1000:.2f} mm" if status.traverse_um else ""
    return f"count {status.count}{guide}"


def words_of(trouble: BaseException) -> WinderError:
    """What ended a lesson, for the edge."""
    if isinstance(trouble, WinderError):
        return trouble
    return WinderError(
        f"the lesson ended early: {plain_text(str(trouble))}",
        remedy="no machine file was written; teach it again",
    )
