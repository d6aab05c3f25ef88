"""Every intent with every kind of value, and everything that a board can say or a line make of it, in any order.

A session alone is driven by hypothesis: what must never happen is checked after every step. Most of what is drawn is
what a board would say next, so that winds get somewhere; the rest is what no board would send.
"""

from __future__ import annotations

from dataclasses import replace

import hypothesis.strategies as st
from hypothesis import settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from said_at_random import FITTING, EditedOhms, values
from session_bench import (
    BLIND_MACHINE,
    CPT,
    HAND_DRILL,
    MACHINE,
    NS_PER_MS,
    PLAN,
    WIND,
    brought,
    folded,
    session_of,
)
from test_coil_orders import LONG
from test_session_stops import WELCOME

from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.heard import Answered, Trouble, Troubled
from firmware_protocol.messages import (
    NO_WIND,
    Answer,
    Cut,
    Flag,
    Kept,
    Move,
    Reason,
    Start,
    State,
    Status,
    Stop,
    TraverseStep,
    Verdict,
)
from winder.plan.facing import Top
from winder.recipe.model import Direction
from winder.wind.account import Account
from winder.wind.deeds import Keeps, Opens, Says, Vouch, Word
from winder.wind.events import KINDS
from winder.wind.model import Asked, Intent, Phase
from winder.wind.set_up_list import SetUpList

ASKED = {
    Start: (Intent.START, Intent.CONTINUE),
    Move: (Intent.TAKE_OFF,),
    TraverseStep: (Intent.STEP_GUIDE, Intent.GUIDE_TO_START),
    TraverseHome: (Intent.HOME_GUIDE,),
    TraverseMove: (Intent.HOME_GUIDE,),
}
EARLIER = (
    Account(CPT)
    .take(Opens(3, 4, CPT, True, True))
    .take(Says(3, Word(300, uptime_ms=9, moving=True)))
)
HOMES = replace(MACHINE, limit_switch=True, switch_to_flange_m=0.0125)
GREETS = replace(WELCOME, groups=bytes((1, 1, 2, 1, 0, 0)))
RUNNING = (State.WINDING, State.SETTING_UP)
FATAL = {Trouble.SESSION_LOST, Trouble.NO_WELCOME, Trouble.OTHER_VERSION, Trouble.HELD}
LIKELY = (Intent.ACCEPT_CAUTIONS, Intent.DECLARE_SET_UP, Intent.START, Intent.CONTINUE)


class Orders(RuleBasedStateMachine):
    """One session, whatever comes. The board that it mostly hears keeps count and uptime."""

    @initialize(
        machine=st.sampled_from([MACHINE, HOMES, HOMES, BLIND_MACHINE, HAND_DRILL]),
        with_list=st.booleans(),
        measured=st.sampled_from(["", "", "on the way", "at the end"]),
        account=st.sampled_from([Account(CPT), brought(55), brought(5, 90), EARLIER]),
        stage=st.integers(0, 9),
        deeds=st.sampled_from(
            [(), (), (Keeps(3, 340, True),), (Vouch(100, CPT, "Mira", "c", None),)]
        ),
    )
    def begin(self, machine, with_list, measured, account, deeds, stage) -> None:
        more = {"account": account, "deeds": deeds, "cautions_accepted": False}
        if with_list:
            guide = machine.traverse_travel_m is not None
            more["todo"] = SetUpList(Direction.CLOCKWISE, guide=guide, top=None)
        if measured:
            more["estimate"] = EditedOhms(plan=PLAN if measured == "on the way" else LONG)
        plan = LONG if measured == "at the end" else PLAN
        if not machine.motor:
            plan = replace(plan, legs=tuple(replace(leg, pitch_m=0.0) for leg in plan.legs))
        self.session = session_of(plan, machine, **more)
        self.first = account
        self.now_ns, self.uptime_ms, self.count, self.wind, self.revision = 0, 10, 0, NO_WIND, 1
        self.journal, self.sent = [], []
        self.state, self.trip, self.goal, self.spoken, self.heeded = State.STILL, 0, 0, 0, 0
        self.reason, self.guide_um, self.referenced, self.leads = 0, 0, False, 0
        self.led_on: list[bool] = []  # to the flange, and a stop was said since the homing began
        self.taken: dict[Intent, int] = dict.fromkeys(Intent, 0)
        self.over = False
        self.settle()
        self.session.hear(GREETS, 0)
        for _ in range(stage):
            self.goes_on_with_the_wind()
            self.the_board_obliges(4)

    def settle(self) -> None:
        events = self.session.take_events()
        self.journal += events
        self.session.recorded(self.session.told_ns)
        requests = self.session.take_requests()
        for request in requests:
            self.sent.append(request)
            if isinstance(request, TraverseMove):
                homes = [
                    place for place, one in enumerate(self.sent) if isinstance(one, TraverseHome)
                ]
                since = self.sent[homes[-1] :] if homes else [Stop()]
                self.led_on.append(any(isinstance(one, Stop | Cut) for one in since))
        if self.over:
            assert all(isinstance(request, Stop | Cut) for request in requests)
        self.over = self.session.finished
        phase, truth = self.session.phase, self.session.course.truth
        if any(event.kind == "complete" for event in events):
            left = self.session.readings.left_counts
            assert phase is Phase.COMPLETE and truth.is_sharp and left is not None
            assert left <= truth.low < left + CPT
        if phase is Phase.WINDING:
            assert self.taken[Intent.START] + self.taken[Intent.CONTINUE] > 0

    def status(self, **said) -> None:
        facts = {
            "state": State.STILL, "reason": 0, "trip": 0, "flags": 0, "count": self.count,
            "unattributed": 0, "rate_mcps": 0, "traverse_um": 0, "leg": 0,
            "generation": self.session.course.preparation.generation, "wind": self.wind, "boot": 5,
            "uptime_ms": self.uptime_ms & 0xFFFF_FFFF, "revision": self.revision, "implausible": 0,
        }  # fmt: skip
        self.session.hear(Status(**{**facts, **said}), self.now_ns)
        self.session.tick(self.now_ns)
        self.settle()

    # --- what a board would say -------------------------------------------------------------

    @rule(times=st.integers(1, 40))
    def the_board_obliges(self, times) -> None:
        """A board that does what it is asked, 20 times a second."""
        for _ in range(times):
            command = self.session.course.commands.outstanding
            if command is not None:
                self.obey(command)
                answer = Answer(to=0, verdict=Verdict.DONE, revision=self.revision, detail=0)
                self.session.hear(Answered(command, answer), self.now_ns)
            if any(isinstance(request, Stop | Cut) for request in self.sent[self.heeded :]):
                rest = self.before if self.leads else State.PAUSED
                self.state = rest if self.state in RUNNING else self.state
                self.reason, self.leads = Reason.STOP, 0
            self.heeded = len(self.sent)
            self.run_on()
            self.speaks()

    def obey(self, command) -> None:
        name = type(command).__name__
        if name == "OpenWind":
            self.wind, self.count, self.state = command.wind, 0, State.STILL
        elif name == "CloseWind":
            self.wind, self.state = NO_WIND, State.STILL
        elif name in ("PlanCommit", "SetTarget"):
            self.state = State.PAUSED if self.count else State.ARMED
        elif name == "Start":
            self.state = State.WINDING
        elif name == "Move":
            self.state, self.goal = State.SETTING_UP, self.count + command.counts
        elif name == "TraverseMark":
            self.guide_um, self.referenced = command.at_um, True
        elif name in ("TraverseStep", "TraverseHome", "TraverseMove"):
            self.before, self.state, self.leads = self.state, State.SETTING_UP, 3
            self.lead, self.referenced = command, self.referenced and name == "TraverseStep"
        elif name == "ClearTrip":
            self.trip, self.state = 0, State.PAUSED

    def run_on(self) -> None:
        """Ten counts a status, to the end of a leg that stops."""
        course = self.session.course
        if self.state is State.SETTING_UP and self.leads:
            self.lead_guide()
        elif self.state is State.SETTING_UP:
            self.count = max(self.goal, self.count - 2)
            self.state = State.PAUSED if self.count == self.goal else self.state
        hand = not course.board.motor and self.session.motion.asked
        if self.state is State.WINDING or hand:
            ends = [leg.end_count for leg in course.preparation.loaded if leg.stops]
            end = next((end for end in ends if end > self.count), self.count)
            self.count = min(self.count + 10, end)
            if self.count == end and not hand:
                self.state = State.COMPLETE if end == ends[-1] else State.PAUSED

    def lead_guide(self) -> None:
        self.leads -= 1
        if self.leads:
            return
        self.state, self.reason = self.before, Reason.MOVE_DONE
        if isinstance(self.lead, TraverseHome):
            self.guide_um, self.referenced = self.lead.at_um, True
        else:
            self.guide_um += self.lead.distance_um
            self.referenced = self.referenced or isinstance(self.lead, TraverseMove)

    def speaks(self) -> None:
        self.now_ns += 50 * NS_PER_MS
        self.uptime_ms += 50
        back = self.state is State.SETTING_UP
        rate = (self.count - self.spoken) * 20_000
        self.spoken = self.count
        flags = int(Flag.DRIVEN) if self.state in RUNNING and not self.leads else 0
        flags |= int(Flag.REFERENCED) if self.referenced else 0
        self.status(
            state=self.state,
            trip=self.trip,
            flags=flags,
            rate_mcps=-abs(rate) if back else rate,
            reason=self.reason,
            traverse_um=self.guide_um,
        )

    @rule()
    def welcomed(self) -> None:
        self.session.hear(GREETS, self.now_ns)
        self.settle()

    # --- what no board would say, or a line make of it ---------------------------------------

    @rule(
        state=st.sampled_from(list(State)),
        trip=st.sampled_from([0, 1, 2, 3, 4, 5, 8, 77]),
        flags=st.integers(0, 127),
        count=st.one_of(st.integers(-50, 1500), st.integers(-(1 << 31), (1 << 31) - 1)),
        edges=st.sampled_from([0, 0, 1, 40, 65535]),
        rate=st.one_of(st.just(0), st.integers(-(1 << 31), (1 << 31) - 1), st.just(300_000)),
        wind=st.sampled_from([None, None, None, None, None, 0, WIND, 7]),
        boot=st.sampled_from([5] * 12 + [6]),
        passed_ms=st.sampled_from([0, 50, 50, 50, 50, 50, 1200, -30, 1 << 31]),
        leg=st.sampled_from([0, 1, 2, 200, 255]),
        guide_um=st.integers(-9000, 9000),
        generation=st.sampled_from([None, None, 0, 9]),
        sooner=st.sampled_from([0, 0, 3, 65535]),
    )
    def nonsense(self, state, trip, flags, count, edges, rate, wind, boot, passed_ms, leg,
                 guide_um, generation, sooner) -> None:  # fmt: skip
        self.uptime_ms += passed_ms
        self.now_ns += 50 * NS_PER_MS
        said = {"state": state, "trip": trip, "flags": flags, "count": count, "boot": boot}
        said |= {"unattributed": edges, "rate_mcps": rate, "leg": leg, "implausible": sooner}
        if generation is not None:
            said["generation"] = generation
        self.status(
            **said, wind=self.wind if wind is None else wind, traverse_um=guide_um, reason=99
        )

    @rule(trip=st.sampled_from([1, 2, 3, 4, 5, 10]))
    def trips(self, trip) -> None:
        self.state, self.trip = State.TRIPPED, trip
        self.speaks()

    @rule(edges=st.integers(-30, 30))
    def hand_at_rest(self, edges) -> None:
        self.count += edges
        self.the_board_obliges(1)

    @rule(verdict=st.sampled_from([*Verdict, 99]), stray=st.booleans())
    def answers(self, verdict, stray) -> None:
        commands = [r for r in self.sent if not isinstance(r, Stop | Cut)]
        command = self.session.course.commands.outstanding
        if stray and commands:
            command = commands[len(commands) // 2]
        if command is not None:
            answer = Answer(to=0, verdict=verdict, revision=self.revision + 1, detail=0)
            self.session.hear(Answered(command, answer), self.now_ns)
            self.settle()

    @rule(
        trouble=st.sampled_from(list(Trouble)), with_command=st.booleans(), rare=st.integers(0, 5)
    )
    def trouble(self, trouble, with_command, rare) -> None:
        if trouble in FATAL and rare:
            return
        command = self.session.course.commands.outstanding if with_command else None
        self.session.hear(Troubled(trouble, "so it is", command), self.now_ns)
        self.settle()

    @rule(
        boot=st.sampled_from([5, 5, 5, 5, 5, 6]),
        groups=st.sampled_from(
            [(1, 1, 2, 1, 0, 0)] * 5 + [(1, 1, 1, 1, 0, 0), (1, 0, 0, 0, 0, 0), (0,) * 6]
        ),
        has=st.integers(0, 31),
        kept=st.sampled_from([(0, 0), (WIND, 77), (3, 345), (3, -5)]),
        flags=st.sampled_from([0, int(Kept.VALID), int(Kept.VALID | Kept.AT_REST)]),
        told=st.sampled_from([(0, 0), (2000, 5000), (65535, 1)]),
        settings_hash=st.sampled_from([1, 1, 2]),
    )
    def another_welcome(self, boot, groups, has, kept, flags, told, settings_hash) -> None:
        welcome = replace(GREETS, boot=boot, groups=bytes(groups), has=has, kept_wind=kept[0],
                          kept_count=kept[1], kept_flags=flags, cut_ms=told[0], rest_ms=told[1],
                          settings_hash=settings_hash)  # fmt: skip
        self.session.hear(welcome, self.now_ns)
        self.settle()

    @rule(span_ms=st.sampled_from([5, 50, 50, 600, 600, 1100, 4000, 400_000]))
    def time_passes(self, span_ms) -> None:
        self.now_ns += span_ms * NS_PER_MS
        self.session.tick(self.now_ns)
        self.settle()

    @rule()
    def port_is_back(self) -> None:
        self.session.reopened(self.now_ns)
        self.settle()

    # --- people ------------------------------------------------------------------------------

    @rule(intent=st.sampled_from(list(Intent)), value=values)
    def asks_for_anything(self, intent, value) -> None:
        self.ask(intent, value)

    @rule(data=st.data())
    def asks_for_what_may_be_asked(self, data) -> None:
        may = sorted(self.session.may() - {Intent.LEAVE}, key=lambda intent: intent.value)
        if may:
            intent = data.draw(st.sampled_from(may))
            self.ask(intent, data.draw(FITTING.get(intent, st.none())))

    @rule()
    def goes_on_with_the_wind(self) -> None:
        for intent in LIKELY:
            if intent in self.session.may():
                self.ask(intent, None)
                return
        if Intent.DECLARE_TOP in self.session.may():
            self.ask(Intent.DECLARE_TOP, Top.OPERATOR)

    def ask(self, intent, value) -> None:
        self.settle()
        course = self.session.course
        before = self.session.phase, course.account, self.session.may()
        refusal = self.session.ask(Asked(intent, value, "Mira"), self.now_ns)
        if refusal:
            assert (self.session.phase, course.account, self.session.may()) == before
            assert not self.session.take_requests() and not self.session.take_events()
            assert refusal[-1] not in ".;"
            return
        assert intent in before[2], "what is taken was offered"
        self.taken[intent] += 1
        self.settle()

    @rule()
    def looks_at_the_record(self) -> None:
        """A remark is always taken, and with it the journal tells the live account."""
        if Intent.NOTE in self.session.may():
            self.ask(Intent.NOTE, "looked")
            assert folded(self.journal, self.first) == self.session.course.account

    # --- what must never happen ----------------------------------------------------------------

    @precondition(lambda self: hasattr(self, "session"))
    @invariant()
    def nothing_moves_unasked(self) -> None:
        for kind, intents in ASKED.items():
            sent = sum(type(request) is kind for request in self.sent)
            assert sent <= sum(self.taken[intent] for intent in intents)

    @precondition(lambda self: hasattr(self, "session"))
    @invariant()
    def everything_can_be_shown(self) -> None:
        view = self.session.view(self.now_ns)
        truth = view.count.truth
        assert 0 <= truth.low <= truth.best <= truth.high
        assert view.headline and view.advice
        assert view.may == self.session.may()

    @precondition(lambda self: hasattr(self, "session"))
    @invariant()
    def what_is_finished_stays_finished(self) -> None:
        assert self.session.finished == any(event.kind == "ended" for event in self.journal)
        assert sum(event.kind == "ended" for event in self.journal) <= 1
        assert all(event.kind in KINDS and event.text for event in self.journal[-9:])

    def teardown(self) -> None:
        if hasattr(self, "session"):
            self.looks_at_the_record()


TestOrders = Orders.TestCase
TestOrders.settings = settings(max_examples=250, stateful_step_count=40, deadline=None)
