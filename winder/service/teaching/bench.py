"""The board while it is taught: one command at a time, signs of life while something moves, and nothing left moving."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from firmware_protocol.connection import HostEnd
from firmware_protocol.device_plan import checksum_of
from firmware_protocol.heard import Answered, Troubled
from firmware_protocol.messages import (
    NO_WIND,
    Answer,
    ClearTrip,
    CloseWind,
    OpenWind,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    State,
    Status,
    Trip,
    Verdict,
    Welcome,
)
from firmware_protocol.pedal import PedalStatus
from firmware_protocol.seam import Clock, Link, LinkLost
from firmware_protocol.settings import UNTAUGHT, Settings, WriteSettings, write_of
from firmware_protocol.vocabulary import Wired
from firmware_protocol.wire import LAYOUT_OF, Group
from winder.clock import NS_PER_S
from winder.errors import WinderError
from winder.service.bench_port import draw_token
from winder.service.greeting import greet

READ_S = 0.02
ANSWER_S = 3.0
ASKED_S, ASKED_MOST = 0.3, 5
BEGINS_S = 0.3  # after which a command that was sent has begun, or is lost
NO_LINE: Any = 0xFF
STOPPED = "no machine file was written; teach it again when you like"
IN_MOTION = (State.WINDING, State.SLOWING, State.SETTING_UP)


class Tripped(WinderError):
    """A protective stop of the board's."""


class Stopped(WinderError):
    """The person stopped what moved, or nobody watches it any more."""


class TaughtBoard:
    """Raises ``WinderError`` for whatever the board or the port does that ends the lesson.

    ``watch`` is asked while something moves; at its first no that is stopped.
    """

    def __init__(self, link: Link, clock: Clock, port: str, remedy: str = "") -> None:
        self._remedy = remedy or "no machine file was written; look at the board and teach it again"
        self.link, self.clock, self.port = link, clock, port
        self.watch: Callable[[Status | None], bool] = lambda _: True
        self.host_end = HostEnd(draw_token())
        met = greet(link, clock, self.host_end, port)
        self.welcome: Welcome = met.welcome
        self.newest: Status = met.status
        self.pedal: PedalStatus | None = None  # the newest; None: the board tells of no pedal
        self.heard: list[Status] = []
        self._settings: Settings | None = None
        self._alive = False
        self._generation = 0

    def has(self, *groups: Group) -> bool:
        return all(self.welcome.groups[group - 1] > 0 for group in groups)

    # --- the loop -----------------------------------------------------------------------------

    def step(self) -> list[Answered]:
        """A moment's life. What was answered in it."""
        answered = []
        try:
            data = self.link.read(READ_S)
            now_ns = self.clock.now_ns()
            for heard in self.host_end.receive(data, now_ns):
                if isinstance(heard, Status):
                    self.newest = heard
                    self.heard.append(heard)
                elif isinstance(heard, PedalStatus):
                    self.pedal = heard
                elif isinstance(heard, Settings):
                    self._settings = heard
                elif isinstance(heard, Answered):
                    answered.append(heard)
                elif isinstance(heard, Troubled):
                    raise self.trouble(heard.text or heard.trouble.value)
            if self._alive:
                if not self.watch(self.newest):
                    raise Stopped("you stopped it", where=self.port, remedy=STOPPED)
                self.host_end.sign_of_life(now_ns)
            if due := self.host_end.data_to_send(now_ns):
                self.link.write(due)
        except LinkLost as lost:
            raise self.trouble(f"the port closed ({lost})") from None
        return answered

    def trouble(self, what: str) -> WinderError:
        return WinderError(what, where=self.port, remedy=self._remedy)

    def hear(self, span_s: float) -> list[Status]:
        """The statuses of this time."""
        self.heard = []
        end_ns = self.clock.now_ns() + round(span_s * NS_PER_S)
        while self.clock.now_ns() < end_ns:
            self.step()
        return self.heard

    def ask(self, command: Any) -> Answer:
        """A command and its answer."""
        asked = self.host_end.send(command, self.clock.now_ns())
        end_ns = self.clock.now_ns() + round(ANSWER_S * NS_PER_S)
        while self.clock.now_ns() < end_ns:
            for one in self.step():
                if one.command == asked:
                    return one.answer
        raise self.trouble("the board does not answer")

    def must(self, command: Any) -> Answer:
        """The same, and the answer has to be yes."""
        answer = self.ask(command)
        if answer.verdict is not Verdict.DONE:
            word = getattr(answer.verdict, "name", answer.verdict)
            raise self.trouble(f"the board refuses {type(command).__name__} ({word})")
        self.hear(0.12)
        return answer

    def make(self, cls: type, **values: int) -> Any:
        """A command that believes what the newest status says."""
        status = self.newest
        believed = {
            "token": self.host_end.token,
            "boot": status.boot,
            "wind": status.wind,
            "revision": status.revision,
        }
        known = LAYOUT_OF[cls].names
        return cls(**{k: v for k, v in believed.items() if k in known} | values)

    # --- settings -----------------------------------------------------------------------------

    def read_settings(self) -> Settings:
        """Those in force."""
        self._settings = None
        for _ in range(ASKED_MOST):
            self.host_end.read_settings()
            self.hear(ASKED_S)
            if self._settings is not None:
                return self._settings
        raise self.trouble("the board does not tell its settings")

    def write_settings(self, content: Settings) -> str | None:
        """Kept, and the boot that goes by them greeted; or the name of the field that the board refuses."""
        self.hear(0.12)
        if self.newest.wind != NO_WIND:
            self.must(self.make(CloseWind))
        status = self.newest
        command = write_of(content, self.host_end.token, status.boot, status.revision)
        answer = self.ask(command)
        if answer.verdict is Verdict.BAD_VALUE:
            return LAYOUT_OF[WriteSettings].names[answer.detail]
        if answer.verdict is not Verdict.DONE:
            word = getattr(answer.verdict, "name", answer.verdict)
            raise self.trouble(f"the board does not take settings now ({word})")
        for _ in range(ASKED_MOST):
            self.host_end = HostEnd(draw_token())
            met = greet(self.link, self.clock, self.host_end, self.port)
            if met.status.boot != status.boot:
                self.welcome, self.newest = met.welcome, met.status
                return None
        raise self.trouble("the board kept its settings and does not boot with them")

    def input_pins(self) -> Wired:
        """The inputs that the board has pins for: fields are judged in their order, so one that names an input and a
        line that cannot be is refused for the one or the other, and nothing is ever kept of it."""
        pins = Wired.GUARD | Wired.WIRE_SENSOR
        for pin in Wired:
            trial = replace(UNTAUGHT, number=1, inputs=int(pin))
            refused = self.write_settings(replace(trial, line=NO_LINE))
            if refused == "line":
                pins |= pin
        return pins

    # --- winds --------------------------------------------------------------------------------

    def fresh_wind(self) -> None:
        """A wind of our own at count 0, and no plan."""
        self.hear(0.12)
        if self.newest.wind != NO_WIND:
            self.must(self.make(CloseWind))
        self.must(self.make(OpenWind, wind=draw_token()))

    def close(self) -> None:
        """No wind is left open and nothing moves; the link is closed, whatever happened."""
        try:
            self.rest()
            if self.newest.wind != NO_WIND and self.newest.state is not State.TRIPPED:
                self.must(self.make(CloseWind))
        except WinderError:
            pass
        finally:
            self.link.close()

    def load(self, *legs: PlanLeg) -> int:
        """Puts these legs in force; their generation."""
        self._generation = self._generation % 255 + 1
        mine = tuple(_of(leg, self._generation, self.host_end.token) for leg in legs)
        self.must(self.make(PlanBegin, generation=self._generation, legs=len(mine)))
        for leg in mine:
            self.must(leg)
        self.must(self.make(PlanCommit, generation=self._generation, checksum=checksum_of(mine)))
        return self._generation

    # --- motion -------------------------------------------------------------------------------

    def move(self, command: Callable[[], Any], most_s: float) -> list[Status]:
        """Lives, sends what ``command`` makes, and hears it to its rest; the statuses of all of it."""
        self._alive, over = True, False
        try:
            self.hear(0.3)
            self.heard = []
            answer = self.ask(command())
            if answer.verdict is not Verdict.DONE:
                word = getattr(answer.verdict, "name", answer.verdict)
                raise self.trouble(f"the board refuses to move ({word})")
            end_ns = self.clock.now_ns() + round(most_s * NS_PER_S)
            before = len(self.heard)
            while self.clock.now_ns() < end_ns:
                self.step()
                self._look_at_trip()
                begun = any(s.state in IN_MOTION for s in self.heard)
                # A short one may be over between two statuses: its rest raised the revision.
                begun = begun or any(s.revision != answer.revision for s in self.heard[before:])
                if begun and self.newest.state not in IN_MOTION:
                    heard, over = self.heard, True
                    self.heard = []
                    return heard
            raise self.trouble(f"the spindle does not come to rest within {most_s:.0f} s")
        finally:
            self._alive = False
            try:
                if not over:  # what was asked for may be about to begin
                    self.host_end.stop(self.clock.now_ns())
                    self.hear(BEGINS_S)
                self.rest()
            finally:
                self.watch(None)

    def rest(self) -> None:
        """Stops whatever moves, and lets the lease end."""
        self._alive = False
        if self.newest.state not in IN_MOTION:
            return
        self.host_end.stop(self.clock.now_ns())
        end_ns = self.clock.now_ns() + round((self.welcome.rest_ms / 1000 + 1) * NS_PER_S)
        while self.newest.state in IN_MOTION and self.clock.now_ns() < end_ns:
            self.step()

    def _look_at_trip(self) -> None:
        trip = self.newest.trip
        if trip is not Trip.NONE:
            word = getattr(trip, "name", trip)
            error = self.trouble(f"the board tripped ({word})")
            raise Tripped(error.what, where=error.where, remedy=error.remedy)

    def clear_trip(self) -> None:
        """Once the spindle rests; what cannot be cleared ends the lesson."""
        self.hear(self.welcome.rest_ms / 1000 + 0.5)
        self.must(self.make(ClearTrip, trip=self.newest.trip))


def _of(leg: PlanLeg, generation: int, token: int) -> PlanLeg:
    return replace(leg, generation=generation, token=token)
