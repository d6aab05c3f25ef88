"""The wind as lines of text: one a second, typed words in, no screen.

Ctrl-C slows down and pauses; a second one, while it still turns, cuts the power to the motor; where nothing
turns, or the third time, it leaves, with the board asked to stop and the count journalled. Being asked to end
(a closed terminal, SIGTERM) and an output that nobody takes any more do the same: they never end the loop
before the board was asked to stop. When nobody is at the keyboard (standard input at its end), a planned pause
ends the run instead of waiting for ever.
"""

from __future__ import annotations

import queue
import sys
import threading

from winder.clock import NS_PER_S, SystemClock
from winder.commands.plain_words import possible_words, read_word
from winder.commands.signals import Requests, heard_requests, typed_lines
from winder.service.cautions import cautions_for
from winder.service.wind import Wind
from winder.service.workbench import WindRequest, close_run, open_run
from winder.wind.model import Asked, Intent, LanePlace, Phase, WindView
from winder.wind.truth import how_sure
from winder.wind.wording import WOUND

LINE_PERIOD_S = 1.0
LEAVE_WAIT_S = 20.0  # longest wait for the board to come to rest when leaving
CLOSING_S = 5.0  # for link and logbook after that; then the process ends, done or not
WAITING = {phase for phase in Phase if phase.waits}
AT_THE_END = (
    *WOUND,
    ("measure", "type the ohms and the wire's temperature, as in: measured 846.2 21.5"),
    ("next", "type leave; the coil stays on the shelf"),
)
OVER = {phase for phase in Phase if phase.over}
# What --start asks for, once: a wind that was still open on the board stands at a pause.
BEGINS = {Phase.READY: Intent.START, Phase.PAUSED: Intent.CONTINUE}
END_OF_INPUT = object()


def wind_plainly(request: WindRequest, *, at_once: bool) -> int:
    """Wind with lines on standard output; exit code 0 if the coil is complete, else 1."""
    with heard_requests(LEAVE_WAIT_S + CLOSING_S) as heard:
        return _wind_plainly(request, heard, at_once=at_once)


def _wind_plainly(request: WindRequest, heard: Requests, *, at_once: bool) -> int:
    opened, logbook = open_run(request)
    try:
        for caution in cautions_for(board_stops=opened.wind.view().board_stops):
            print(f"caution: {caution}")
        if opened.facing is not None:
            print(f"mounted: {opened.facing.words}")
        for sentence in opened.told:
            print(f"before: {sentence}")
        for remark in opened.plan.remarks:
            print(f"note: {remark}")
        return _PlainWind(opened.wind, heard, at_once=at_once).wind_to_the_end()
    finally:
        close_run(opened, logbook)
        for said in opened.wind.refusals:
            print(said)


class _PlainWind:
    def __init__(self, wind: Wind, heard: Requests, *, at_once: bool) -> None:
        self._wind = wind
        self._heard = heard
        self._clock = SystemClock()
        self._typed: queue.SimpleQueue[object] = queue.SimpleQueue()
        self._stops = 0  # Ctrl-C that was acted on, since the newest start
        self._stops_seen = 0
        self._start_asked = at_once
        self._nobody_there = False
        self._leaving_since_ns: int | None = None
        self._at_once = False  # leave, whatever still turns
        self._told: object = None  # the phase, and the list before the wind, as last told
        self._offered = ""  # the words that were told to do something now
        self._busy = False  # the board has a command to answer
        self._line_due_ns = 0

    def wind_to_the_end(self) -> int:
        threading.Thread(target=self._read_words, daemon=True).start()
        # With --plain the typed word or --start is given with the cautions on the page above.
        self._wind.ask(Asked(Intent.ACCEPT_CAUTIONS))
        while not self._done():
            self._listen()
            self._wind.step()
            self._tell()
        self._tell(last=True)
        if self._wind.journal_lost is not None:
            raise self._wind.journal_lost
        complete = self._wind.session.phase is Phase.COMPLETE and not self._heard.leaves
        return 0 if complete else 1

    def _read_words(self) -> None:
        for line in typed_lines(self._heard):
            self._typed.put(line)
        self._typed.put(END_OF_INPUT)

    def _say(self, text: str) -> None:
        print(text, flush=True)

    def _done(self) -> bool:
        session = self._wind.session
        if self._at_once:
            return True
        if session.finished and (self._over(session.phase) or self._leaving_since_ns is not None):
            return True
        if self._leaving_since_ns is None:
            return False
        waited_s = (self._clock.now_ns() - self._leaving_since_ns) / NS_PER_S
        return waited_s > LEAVE_WAIT_S

    def _listen(self) -> None:
        if self._wind.session.phase is Phase.STARTING:
            self._stops = 0
        while self._stops_seen < self._heard.stops:
            self._stops_seen += 1
            self._stop()
        if self._heard.leaves and self._leaving_since_ns is None:
            self._say(f"{self._heard.left_by}: stopping the spindle, then leaving")
            self._leave(self._heard.left_by)
        while not self._typed.empty():
            self._hear(self._typed.get())
        phase = self._wind.session.phase
        if self._start_asked and phase in BEGINS:
            self._start_asked = False
            self._wind.ask(Asked(BEGINS[phase], by="--start"))
        elif self._start_asked and phase in WAITING and phase is not Phase.SETTING_UP:
            self._start_asked = False  # there is nothing to start: a person has to say what to do
            self._told = None
        elif self._over(phase) or (self._nobody_there and self._waits_for_words(phase)):
            self._leave("end of the run")
        for refusal in self._wind.refusals:
            self._say(refusal)
        self._wind.refusals.clear()

    def _stop(self) -> None:
        """Ctrl-C: slow down; again, cut the motor's power; then, or where nothing moves, leave."""
        session = self._wind.session
        self._stops += 1
        driven = session.set_up.stepping or session.wire.unwinding
        moving = session.motion.may_move or session.phase.moves or driven
        if self._leaving_since_ns is not None:
            cuts = self._stops == 2 and moving
            self._wind.ask(Asked(Intent.CUT if cuts else Intent.PAUSE, by="Ctrl-C"))
            self._at_once = not cuts
        elif self._stops == 1:
            self._wind.ask(Asked(Intent.PAUSE, by="Ctrl-C"))
            then = "cuts the power to the motor" if moving and self._may_cut() else "leaves"
            self._say(
                f"{'slowing down to pause' if moving else 'nothing moves'}; Ctrl-C again {then}"
            )
        elif self._stops == 2 and moving and self._may_cut():
            self._wind.ask(Asked(Intent.CUT, by="Ctrl-C"))
            self._say("the power to the motor is cut; Ctrl-C again leaves")
        else:
            self._leave("Ctrl-C")

    def _may_cut(self) -> bool:
        return Intent.CUT in self._wind.session.may()

    def _waits_for_words(self, phase: Phase) -> bool:
        """Only somebody at the keyboard could bring it on; a hand that turns back is counted without."""
        session = self._wind.session
        course = session.course
        if phase is Phase.TAKING_OFF and not course.board.motor and course.sense:
            return False
        return phase in WAITING and not self._start_asked

    def _over(self, phase: Phase) -> bool:
        """Nothing more comes; whoever sits here may still measure the finished coil."""
        somebody = sys.stdin.isatty() and not self._nobody_there and not self._heard.stops
        return phase in OVER and not (phase is Phase.COMPLETE and somebody)

    def _hear(self, typed: object) -> None:
        if typed is END_OF_INPUT:
            self._nobody_there = True
            return
        asked = read_word(str(typed))
        if isinstance(asked, Asked) and asked.intent is Intent.LEAVE:
            self._leave(asked.by)
        elif isinstance(asked, Asked):
            self._wind.ask(asked)
            self._told = None  # whatever came of it is told
        elif asked:
            self._say(asked)
        elif str(typed).strip():
            self._say(f"words that do something now: {possible_words(self._wind.view())}")

    def _leave(self, by: str) -> None:
        if self._leaving_since_ns is None:
            self._leaving_since_ns = self._clock.now_ns()
            if not self._wind.finished:
                self._wind.ask(Asked(Intent.LEAVE, by=by))

    def _tell(self, *, last: bool = False) -> None:
        now_ns = self._clock.now_ns()
        phase, view = self._wind.session.phase, None
        session = self._wind.session
        advises = session.finished or phase is Phase.PEDAL or phase in OVER
        if advises or phase is Phase.SETTING_UP:
            view = self._wind.view()
        advice = view.advice if view and advises else ""
        now = (phase, view.set_up if view else (), advice, session.wire.unwinding)
        busy = session.set_up.stepping or not session.course.commands.idle
        if now != self._told:
            self._told = now
            view = view or self._wind.view()
            self._tell_phase(view)
        elif phase in WAITING and self._busy and not busy:
            self._offer(self._wind.view())  # what could not be asked for a moment
        self._busy = busy
        quiet = phase in WAITING or phase in OVER
        if last or (now_ns >= self._line_due_ns and not quiet):
            self._line_due_ns = now_ns + round(LINE_PERIOD_S * NS_PER_S)
            self._say(line_of(view or self._wind.view()))

    def _tell_phase(self, view: WindView) -> None:
        wrong = view.trouble.alarm or view.trouble.trip
        said = f"{wrong}; {view.trouble.advice}" if wrong else view.advice
        self._say(f"{view.headline}: {said}")
        for line in view.set_up:
            self._say(
                f"  [{'x' if line.done else ' '}] {line.what}"
                + (f": {line.said}" if line.said else "")
            )
        if view.phase is Phase.COMPLETE and not self._nobody_there and sys.stdin.isatty():
            for step, how in AT_THE_END:
                self._say(f"  {step}: {how}")
        if view.ohm.finding:
            self._say(view.ohm.finding)
        self._offered = ""
        if view.phase in WAITING:
            self._offer(view)

    def _offer(self, view: WindView) -> None:
        """The words that do something now, if there are more than were told."""
        hears = not (self._start_asked or self._nobody_there or self._wind.finished)
        words = possible_words(view)
        if hears and set(words.split(", ")) - set(self._offered.split(", ")):
            self._offered = words
            self._say(f"type: {words}")


def line_of(view: WindView) -> str:
    """One line that a person, or a log, can read."""
    sure = how_sure(view.count.truth, view.coil.counts_per_turn)
    parts = [f"{view.count.turns:9.2f} of {view.coil.target_turns} turns, {sure}"]
    parts.append(f"{view.motion.speed_rpm:5.0f} rpm")
    if view.lay.lane is not None and view.coil.window_mm is not None:
        parts.append(hand_words(view.lay.lane, view.coil.window_mm[0]))
    if view.ohm.now is not None:
        parts.append(f"{view.ohm.now[0]:.1f} ohm now")
    if view.ohm.end is not None:
        parts.append(f"{view.ohm.end[1]:.0f} to {view.ohm.end[2]:.0f} ohm at the end")
    if view.motion.seconds_to_go is not None and view.phase is Phase.WINDING:
        parts.append(f"{view.motion.seconds_to_go:.0f} s to go")
    return ", ".join(parts)


def hand_words(lane: LanePlace, width_mm: float) -> str:
    """Where the hand should be, from the left flange, and when it turns round."""
    edge = "right" if lane.rightward else "left"
    return f"hand at {lane.share * width_mm:.1f} mm, {edge} edge in {lane.turns_to_edge:.0f} turns"
