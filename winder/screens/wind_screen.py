"""The screen of one wind: pulls the newest view, draws it, turns keys into intents.

Everything happens on the app's tick: read the view, hear refusals, draw, and only then tell the wind
that the screen is alive, so that a screen that cannot draw keeps no motor running. No key waits for
the machine. What turns the spindle takes two keys and a countdown (``starting``); the repeats of a held key are passed
over, or a finger left on *continue* would run through the next pause.
"""

from __future__ import annotations

import dataclasses

from textual import events
from textual.app import ComposeResult
from textual.screen import Screen

from firmware_protocol.seam import Clock
from winder.clock import NS_PER_MS, NS_PER_S
from winder.screens.asking import AskCautions, AskNote, ShowFinding
from winder.screens.bench import WindRun
from winder.screens.calls import FILLS, Caller
from winder.screens.face import Face
from winder.screens.keys import DELIBERATE, GUIDE_INTENTS, MOVING_INTENTS, Key, key_of
from winder.screens.page import Page
from winder.screens.plain import plain_text
from winder.screens.questions import Questions
from winder.screens.set_up_page import (
    ASKS,
    FIRST_STEP,
    HOME_KEY,
    SIZE_KEYS,
    STEP_KEYS,
    STEPS_MM,
    TAKE_UP_KEY,
    TENSION_KEY,
    step_mm,
)
from winder.screens.starting import Starting
from winder.screens.trip_page import draw_call, draw_trip
from winder.screens.wind_page import draw_wind
from winder.screens.words import (
    CUTS,
    NOT_AT_REST,
    TURNING,
    doubt,
    finding_notices,
    link_notice,
    moves,
    sentence,
    silence_means,
    wire_notice,
)
from winder.wind.model import Asked, Intent, Phase, WindView

FILLED = (Phase.TRIPPED, Phase.ALARM)  # what is wrong takes the whole page
HELD_KEY_NS = 750 * NS_PER_MS  # longer than the delay before a held key repeats
REFUSAL_SHOWN_NS = 8 * NS_PER_S
MOTION_EXPECTED_NS = 3 * NS_PER_S  # after asking for motion, until a view shows it
BLINK_NS = 500 * NS_PER_MS
TAKE_UP_FIRST = "Press p first: it takes the guide up. Then Left and Right step it."
WIRE_FIRST = "First show where the wire is: p takes up the guide, Left and Right step it, z says it is there."
WINDS_ON = frozenset({Intent.START, Intent.CONTINUE})
FINDING_ROWS = 1.6  # of the page's width: more than that is cut there


class WindScreen(Screen[None]):
    """One wind. ``cautions_accepted`` holds for the session of the program, not of the wind."""

    def __init__(
        self, run: WindRun, clock: Clock, caller: Caller, *, cautions_accepted: bool = False
    ) -> None:
        super().__init__()
        self.run_of_wind = run
        self.cautions_accepted = cautions_accepted
        self.view = run.view
        self.leaving = False
        self._stop_asked = False  # by a person, and nothing was seen at rest since
        self._given_up = False  # the person leaves a board that is not heard
        self._clock = clock
        self._face = Face()
        self._pressed_ns: dict[str, int] = {}
        self._motion_until_ns = 0
        self._refusal = ""
        self._refusal_until_ns = 0
        self._trip_since_ns: int | None = None
        self._cautions_offered = False
        self._accepted_told = False
        self._caller = caller
        self._starting = Starting()
        self._questions = Questions(lambda: self.app, run.ask, self._arm, self._refuse)
        self._finding_told = self.view.ohm.finding
        self._list_finished = False
        self._guide_taken = False  # by its own key, since something last turned
        self._step_place = FIRST_STEP  # size of the guide's steps, on the list before the wind

    def compose(self) -> ComposeResult:
        yield self._face

    def on_resize(self) -> None:
        self._show()

    # What the app asks

    @property
    def may_move(self) -> bool:
        """Something moves, may move, is about to, or was just asked to."""
        asked = self._clock.now_ns() < self._motion_until_ns
        return moves(self.view) or self._starting.counting or asked

    @property
    def may_go(self) -> bool:
        """Leaving was asked for and nothing moves any more."""
        over = self.run_of_wind.finished or self._given_up or not self.may_move
        return self.leaving and over

    def pull(self) -> None:
        """One tick: the newest view onto the screen, then the sign of life."""
        self.view = self._newest()
        for refusal in self.run_of_wind.refusals():
            self._refuse(refusal)
        self._follow_trip()
        self._follow_starting()
        self._settle_cautions()
        self._finish_list()
        self._tell_finding()
        self._caller.look(self.view, self._clock.now_ns())
        self._stop_asked = self._stop_asked and self.may_move
        self._guide_taken = self._guide_taken and self.view.phase not in TURNING
        self._show()
        self.run_of_wind.screen_is_alive()

    def stop(self) -> None:
        """Ask for a stop, whatever is believed of the machine; asked again, or in an alarm, cut the motor's power."""
        again = (self._stop_asked and self.may_move) or self.view.phase is Phase.ALARM
        self._starting.call_off()
        cuts = again and Intent.CUT in self.view.may
        self._stop_asked = (
            True  # what was just asked to move is not seen yet: the next press cuts all the same
        )
        self.run_of_wind.ask(Asked(Intent.CUT if cuts else Intent.PAUSE))

    def leave(self) -> None:
        """Begin to leave: the wind stops if it moves; ``may_go`` tells when."""
        self.leaving = self._stop_asked = True
        self._starting.call_off()
        self._close_asking()
        self.run_of_wind.ask(Asked(Intent.LEAVE))

    # Keys

    def on_key(self, event: events.Key) -> None:
        event.stop()
        if self.leaving:
            return
        held = self.is_held(event.key)
        said = self._starting.press(event.key, self._clock.now_ns(), held=held)
        if said is not None:
            if said:
                self._refuse(said)
        elif self._press_guide(event.key):
            pass
        elif not (self.view.set_up and self._press_set_up(event.key)):
            key = key_of(event.key, self.view)
            if key is not None and not (held and key.intent in DELIBERATE):
                self._press(key)

    def is_held(self, name: str) -> bool:
        """Whether a key is the repeat of one that was pressed just before; notes the press."""
        now_ns = self._clock.now_ns()
        last_ns = self._pressed_ns.get(name)
        self._pressed_ns[name] = now_ns
        return last_ns is not None and now_ns - last_ns < HELD_KEY_NS

    def _press(self, key: Key) -> None:
        intent = key.intent
        if self._questions.open(intent, self.view, moving=self.may_move):
            return
        if intent is Intent.LEAVE:
            self._questions.leaving(self.view, self._leave_after_yes)
        elif intent is Intent.ACCEPT_CAUTIONS:
            self.app.push_screen(
                AskCautions(board_stops=self.view.board_stops), self._cautions_answered
            )
        elif intent in WINDS_ON and self.view.lay.wire_open:
            self._refuse(WIRE_FIRST)
        elif intent in MOVING_INTENTS and self.view.board_stops:
            self._arm(Asked(intent))
        else:
            self._ask_moving(Asked(intent))

    def _arm(self, asked: Asked) -> None:
        """The first of the two acts that turn the spindle."""
        self._starting.arm(asked, self._clock.now_ns())

    def _ask_moving(self, asked: Asked) -> None:
        """Ask for something that may move: the stop key works from now on, whatever lies over it."""
        if asked.intent in MOVING_INTENTS | GUIDE_INTENTS:
            self._motion_until_ns = self._clock.now_ns() + MOTION_EXPECTED_NS
        self.run_of_wind.ask(asked)

    def _press_set_up(self, name: str) -> bool:
        """A key of the list before the wind; whether it was one."""
        may, asked = self.view.may, ASKS.get(name)
        if name == TENSION_KEY and Intent.SET_TENSION in may:
            return self._questions.open(Intent.SET_TENSION, self.view, moving=self.may_move)
        if asked is None:
            return False
        if asked.intent is Intent.GUIDE_TO_START and not self._guide_taken:
            self._refuse(TAKE_UP_FIRST)
        elif asked.intent in may:
            self._ask_moving(asked)
        return True

    def _press_guide(self, name: str) -> bool:
        """A key of the guide, on the list and at a pause; whether it was one. It is taken up by a key of its own."""
        if self.view.lay.guide_mm is None or not self.view.may & GUIDE_INTENTS:
            return False
        if name == HOME_KEY:
            self._press_home()
        elif name == TAKE_UP_KEY:
            self._guide_taken = not self._guide_taken
        elif name in STEP_KEYS and not self._guide_taken:
            self._refuse(TAKE_UP_FIRST)
        elif name in STEP_KEYS:
            asked = Asked(Intent.STEP_GUIDE, STEP_KEYS[name] * step_mm(self._step_place))
            if asked.intent in self.view.may:
                self._ask_moving(asked)
        elif name in SIZE_KEYS:
            wanted = self._step_place + SIZE_KEYS[name]
            self._step_place = min(len(STEPS_MM) - 1, max(0, wanted))
        else:
            return False
        return True

    def _press_home(self) -> None:
        """It moves fast and far: only behind a yes. Where it cannot be the wind says why."""
        asked = Asked(Intent.HOME_GUIDE)
        if asked.intent in self.view.may:
            self._questions.homing(self.view, lambda: self._ask_moving(asked))
        else:
            self.run_of_wind.ask(asked)

    def _refuse(self, why: str) -> None:
        self._refusal = why
        self._refusal_until_ns = self._clock.now_ns() + REFUSAL_SHOWN_NS

    def _leave_after_yes(self) -> None:
        self._given_up = self.view.phase is Phase.UNHEARD
        self.leave()

    def _cautions_answered(self, accepted: bool | None) -> None:
        self.cautions_accepted = self.cautions_accepted or bool(accepted)

    # The tick's parts

    def _newest(self) -> WindView:
        run, view = self.run_of_wind, self.run_of_wind.view
        if run.finished and moves(view):
            # Whoever moved the view on is gone: what it last said is no longer known to be true.
            reason = f" ({plain_text(str(run.trouble))})" if run.trouble else ""
            view = dataclasses.replace(
                view,
                phase=Phase.UNHEARD,
                motion=dataclasses.replace(view.motion, guide_moves=False, unwinds=False),
                headline="no signal",
                advice=f"This program no longer drives the wind{reason}. {silence_means(view)}",
            )
        if self.cautions_accepted:
            view = dataclasses.replace(view, may=view.may - {Intent.ACCEPT_CAUTIONS})
        return view

    def _follow_starting(self) -> None:
        """Tick the countdown, and ask at its end for what two keys asked for."""
        now_ns = self._clock.now_ns()
        self._starting.look(self.view, now_ns, in_sight=self.is_current and not self.leaving)
        if self._starting.ticks(now_ns):
            self._caller.tick()
        asked = self._starting.due(now_ns)
        if asked is not None:
            self._ask_moving(asked)

    def _finish_list(self) -> None:
        """With a hand drill nothing is loaded that could turn: a list that is done leads on by itself."""
        done = Intent.SET_UP_DONE in self.view.may and not self.view.board_stops
        if done and not self._list_finished and not self.leaving:
            self.run_of_wind.ask(Asked(Intent.SET_UP_DONE))
        self._list_finished = done

    def _follow_trip(self) -> None:
        if self.view.phase not in FILLED:
            self._trip_since_ns = None
        elif self._trip_since_ns is None:
            self._trip_since_ns = self._clock.now_ns()
            self._close_asking()

    def _tell_finding(self) -> None:
        """A finding that is new and too long for the page is told in full, once, at rest."""
        finding = self.view.ohm.finding
        if finding == self._finding_told or not self.is_current:
            return
        self._finding_told = finding
        if len(finding) > FINDING_ROWS * self.app.size.width and not moves(self.view):
            self.app.push_screen(ShowFinding(sentence(finding)))

    def _close_asking(self) -> None:
        """Nothing may lie over a trip; a note that was begun is kept."""
        stack = list(self.app.screen_stack)
        if self not in stack:
            return
        for screen in reversed(stack[stack.index(self) + 1 :]):
            if isinstance(screen, AskNote):
                self._questions.note_draft = screen.draft
            self.app.pop_screen()

    def _settle_cautions(self) -> None:
        """Offer the cautions once by themselves; tell the wind once that they were accepted."""
        if Intent.ACCEPT_CAUTIONS not in self.run_of_wind.view.may:
            if isinstance(self.app.screen, AskCautions):  # accepted where the wind was asked for
                self._close_asking()
        elif self.cautions_accepted:
            if not self._accepted_told:
                self._accepted_told = True
                self.run_of_wind.ask(Asked(Intent.ACCEPT_CAUTIONS))
        elif not self._cautions_offered and self.is_current:
            self._cautions_offered = True
            self.app.push_screen(
                AskCautions(board_stops=self.view.board_stops), self._cautions_answered
            )

    def _show(self) -> None:
        width, height = self._face.size
        if width and height:
            self._face.show(self._draw(width, height))

    def _draw(self, width: int, height: int) -> Page:
        now_ns = self._clock.now_ns()
        if self.view.phase in FILLED:
            return draw_trip(
                self.view,
                width,
                height,
                since_s=(now_ns - (self._trip_since_ns or now_ns)) / NS_PER_S,
                lit=now_ns // BLINK_NS % 2 == 0,
                notices=self._notices(now_ns, with_doubt=False),
            )
        call = self._caller.page(now_ns)
        if call is not None:
            return draw_call(self.view, width, height, FILLS[call])
        notices = self._notices(now_ns)
        shown = self._starting.shown(self.view, now_ns)
        return draw_wind(shown, width, height, notices, step_mm(self._step_place))

    def _notices(self, now_ns: int, *, with_doubt: bool = True) -> tuple[str, ...]:
        leaving = ""
        if self.leaving:
            leaving = "Leaving: the spindle stops first." if self.view.board_stops else NOT_AT_REST
        refusal = self._refusal if now_ns < self._refusal_until_ns else ""
        why = doubt(self.view) if with_doubt else ""
        found = finding_notices(self.view)
        again = self._stop_asked and self.may_move and Intent.CUT in self.view.may
        taken = f"The guide is taken up: one key moves it {step_mm(self._step_place):g} mm, , and . change that."
        guide = taken if self._guide_taken and not self.view.set_up else ""
        told = (link_notice(self.view), *found, why)
        notices = (CUTS if again else "", leaving, refusal, guide, wire_notice(self.view), *told)
        return tuple(notice for notice in notices if notice)
