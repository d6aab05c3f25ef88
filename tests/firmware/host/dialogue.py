"""Dialogues by seed: a host that mostly does what leads on, and often what it should not, over a bad line.

The next step is drawn with an eye on the Python end's state, so that every state, trip and refusal is
reached often; ``Tally`` says how often. Facts change as a body's would, and sometimes as none would.
"""

from __future__ import annotations

import dataclasses
import random
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from firmware_protocol.body import Facts, Identity, KeptRecord
from firmware_protocol.device_plan import checksum_of
from firmware_protocol.framing import cobs_decode, encode_frame, encode_message
from firmware_protocol.messages import (
    COUNT_MAX,
    LEASE_MS,
    Alive,
    ClearTrip,
    Cut,
    EndAction,
    Hello,
    Move,
    OpenWind,
    PlanBegin,
    PlanCommit,
    PlanLeg,
    SettleNumber,
    Side,
    Start,
    State,
    Stop,
    TraverseMark,
    Trip,
)
from firmware_protocol.pedal import ArmPedal
from firmware_protocol.wire import LAYOUT_OF, REGISTER, Group, pack

from .commands import EDGES_OF_I32, any_command, likely_command
from .scripted import Both, ScriptedCore

GROUP_SETS = (
    (1, 1, 1, 1, 1, 1),
    (1, 1, 2, 1, 1, 1),
    (1, 1, 2, 1, 0, 1),
    (1, 1, 1, 1, 0, 1),
    (1, 1, 1, 1, 0, 0),
    (1, 1, 0, 1, 0, 0),
    (1, 1, 0, 0, 0, 0),
    (1, 0, 0, 0, 0, 1),
    (0, 0, 0, 0, 0, 0),
)
KIND_OF_ANSWER = 0x83
TOKENS = (0x12345678, 0xFFFFFFFF, 1, 0x00AB0000)


@dataclass
class Tally:
    """What was reached."""

    states: Counter = field(default_factory=Counter)
    verdicts: Counter = field(default_factory=Counter)
    trips: Counter = field(default_factory=Counter)
    reasons: Counter = field(default_factory=Counter)


class Dialogue:
    def __init__(self, seed: int, core: ScriptedCore) -> None:
        self.chance = chance = random.Random(seed)
        self.identity = Identity(
            board=chance.choice(("pair", "", "tencharss.", "x")),
            groups=chance.choice(GROUP_SETS),
            has=chance.randrange(128),
            legs_max=chance.choice((8, 8, 3)),
            rate_max_mcps=chance.choice((5_000_000, 3000)),
            edge_rate_max_cps=20_000,
            settings_hash=chance.getrandbits(32),
            cut_ms=chance.choice((0, 2000, 65535)),
            rest_ms=chance.choice((0, 5000, 65535)),
        )
        kept = KeptRecord(
            chance.choice((0, 9)), chance.choice(EDGES_OF_I32), chance.random() < 0.5, True
        )
        self.both = Both(
            core,
            self.identity,
            boot=chance.choice((0, 5, 65535)),
            now_ms=chance.choice((0, 1000, 2**32 - 3000, 2**31 - 500)),
            by_watchdog=chance.random() < 0.1,
            moving=chance.random() < 0.1,
            kept=kept,
            facts=Facts(wire_present=chance.random() < 0.9, unattributed=chance.choice((0, 7))),
        )
        self.token = chance.choice(TOKENS)
        self.alive = 0
        self.generation = 1
        self.loading: list[PlanLeg] = []
        self.legs_to_load = 0
        self.sent: tuple[int, bytes, int] | None = None  # kind, payload, sequence

    # --- one step -----------------------------------------------------------------------------

    def step(self) -> None:
        roll = self.chance.random()
        if roll < 0.45:
            self.lead_on()
        elif roll < 0.60:
            self.tick()
        elif roll < 0.75:
            self.change_facts()
            if self.chance.random() < 0.7:
                self.both.tick(1)
        elif roll < 0.88:
            self.disturb()
        else:
            self.noise()

    def tick(self) -> None:
        spans = (0, 1, 1, 10, 49, 50, 51, 200, LEASE_MS - 1, LEASE_MS, 1001, 2000, 5000)
        self.both.tick(self.chance.choice(spans))

    def send(self, message: Any, sequence: int | None = None) -> None:
        kind, payload = LAYOUT_OF[type(message)].kind, pack(message)
        if self.chance.random() < 0.03:
            payload += self.chance.randbytes(self.chance.randint(1, 56 - len(payload)))
        if sequence is None:
            sequence = self.device._last_sequence % 255 + 1
        self.sent = (kind, payload, sequence)
        self.both.receive(encode_frame(kind, sequence, payload))

    @property
    def device(self):
        return self.both.device

    def beliefs(self) -> dict[str, int]:
        board = self.device.board
        return {
            "token": self.token,
            "boot": self.device.boot,
            "wind": board.wind,
            "revision": board.revision,
        }

    # --- what leads on ------------------------------------------------------------------------

    def lead_on(self) -> None:
        board = self.device.board
        if self.device.token != self.token:
            self.both.receive(b"\0" + encode_message(Hello(1, self.token)))
        elif not self.device.lease_live and self.chance.random() < 0.8:
            self.alive += 1
            self.both.receive(encode_message(Alive(self.token, self.alive)))
        elif board.state is State.TRIPPED:
            if self.chance.random() < 0.7:
                self.both.tell(at_rest=True, trip=Trip.NONE, guard_open=False, wire_present=True)
                self.both.tell(stop_pressed=False)
            self.send(ClearTrip(**self.beliefs(), trip=board.trip))
        elif board.in_motion:
            self.move_on()
        elif board.wind == 0:
            beliefs = self.beliefs()
            del beliefs["wind"]
            self.send(OpenWind(**beliefs, wind=self.chance.getrandbits(32) | 1))
        elif board.state in (State.ARMED, State.PAUSED) and self.chance.random() < 0.6:
            guard_open, wire_present = self.chance.random() < 0.05, self.chance.random() < 0.9
            self.both.tell(guard_open=guard_open, wire_present=wire_present)
            if self.chance.random() < 0.5:
                self.send(TraverseMark(**self.beliefs(), side=Side.LEFT, at_um=0))
            if self.identity.groups[Group.PEDAL - 1] and self.chance.random() < 0.6:
                self.by_pedal()
            else:
                self.send(Start(**self.beliefs(), generation=board.generation))
        elif self.chance.random() < 0.8:
            self.load_on()
        else:
            self.send(Move(**self.beliefs(), counts=50, rate_mcps=1000, accel_mcps2=5))

    def by_pedal(self) -> None:
        """Armed, and mostly a foot that is off it, then on it, for long enough to be believed, or not quite."""
        board = self.device.board
        for pressed in self.chance.choice(((False, True), (True,), (False, True, False))):
            if not board.pedal.armed and board.state in (State.ARMED, State.PAUSED):
                self.send(ArmPedal(**self.beliefs(), generation=board.generation))
            self.both.tell(pedal_pressed=pressed)
            for _ in range(self.chance.randint(1, 3)):
                self.both.tick(self.chance.choice((1, 19, 20, 21)))

    def move_on(self) -> None:
        """Counts come, a leg ends, the spindle comes to rest."""
        board = self.device.board
        facts = self.both.body.facts_told
        if board.pedal.winds and self.chance.random() < 0.3:
            self.both.tell(pedal_pressed=False)
            self.both.tick(1)
            self.both.tick(20)
        if board.state is State.SLOWING:
            self.both.tell(at_rest=self.chance.random() < 0.7, count=facts.count + 1)
        elif board.plan and self.chance.random() < 0.8:
            end = self.chance.choice(board.plan).end_count
            arrived = self.chance.random() < 0.4
            self.both.tell(count=max(facts.count, end), arrived=arrived, at_rest=False)
        else:
            self.both.tell(arrived=True, at_rest=self.chance.random() < 0.5)
        self.both.tick(self.chance.choice((1, 10)))
        self.both.tell(arrived=False)

    def load_on(self) -> None:
        """The next piece of a plan."""
        if len(self.loading) < self.legs_to_load:
            one = self.leg(len(self.loading), last=len(self.loading) == self.legs_to_load - 1)
            self.loading.append(one)
            self.send(dataclasses.replace(one, token=self.token))
        elif self.legs_to_load:
            wrong = self.chance.random() < 0.15
            checksum = checksum_of(tuple(self.loading)) ^ wrong
            self.send(PlanCommit(**self.beliefs(), generation=self.generation, checksum=checksum))
            if not wrong:
                self.legs_to_load = 0
        else:
            self.generation = self.generation % 255 + 1
            self.legs_to_load = self.chance.randint(1, min(self.identity.legs_max, 4))
            self.loading = []
            self.send(
                PlanBegin(**self.beliefs(), generation=self.generation, legs=self.legs_to_load)
            )

    def leg(self, index: int, *, last: bool) -> PlanLeg:
        has_traverse = self.identity.groups[2] > 0
        before = self.loading[-1].end_count if self.loading else 0
        return PlanLeg(
            token=self.token,
            generation=self.generation,
            index=index,
            end_action=EndAction.COMPLETE
            if last
            else self.chance.choice((EndAction.CONTINUE, EndAction.PAUSE)),
            spindle=1,
            end_count=before + self.chance.randint(1, 300),
            rate_mcps=self.chance.choice((1000, 3000, self.identity.rate_max_mcps)),
            accel_mcps2=self.chance.choice((1, 2**32 - 1)),
            creep_mcps=1 if self.chance.random() < 0.1 else 3000,
            coast_counts=self.chance.choice((0, 65535)),
            pitch_nm=self.chance.choice((0, 0, 47000)) if has_traverse else 0,
            pitch_counts=16,
            left_um=-5,
            right_um=self.chance.choice((-5, 8000)),
            dwell_counts=4,
            scatter_seed=self.chance.choice((0, 3)),
        )

    # --- what should not be -------------------------------------------------------------------

    def change_facts(self) -> None:
        chance, tell = self.chance, self.both.tell
        which = chance.randrange(13)
        board = self.device.board
        near = [leg.end_count for leg in board.plan] + [board.target, 0]
        if which == 0:
            tell(count=chance.choice(near) + chance.choice((-1, 0, 1)))
        elif which == 1:
            tell(count=chance.choice((-COUNT_MAX, -5, COUNT_MAX, COUNT_MAX - 7)))
        elif which == 2:
            tell(at_rest=not self.both.body.facts_told.at_rest)
        elif which == 3:
            tell(arrived=not self.both.body.facts_told.arrived)
        elif which == 4:
            tell(guard_open=chance.random() < 0.4)
        elif which == 5:
            tell(wire_present=chance.random() < 0.6)
        elif which == 6:
            tell(trip=chance.choice((Trip.NONE, Trip.NONE, *(Trip.WIRE_LOST,) * 4, *Trip)))
        elif which == 7:
            tell(implausible=chance.choice((0, 1, 65535)))
        elif which == 8:
            unattributed = self.both.body.facts_told.unattributed
            tell(unattributed=min(unattributed + chance.choice((1, 1, 65000)), 65535))
        elif which == 9:
            tell(rate_mcps=chance.choice((0, 5, -7, 2**31 - 1, -(2**31) + 1)))
        elif which == 10:
            tell(stop_pressed=chance.random() < 0.3)
        elif which == 11:
            tell(pedal_pressed=chance.random() < 0.5)
        else:
            tell(
                traverse_um=chance.choice((0, -3, 99999)),
                traverse_rightward=chance.random() < 0.5,
                brake_on=chance.random() < 0.5,
            )

    def disturb(self) -> None:
        """Whole frames that a host should not send, or not now."""
        chance = self.chance
        which = chance.randrange(9)
        if which == 0 and self.sent is not None:  # once more
            kind, payload, sequence = self.sent
            self.both.receive(encode_frame(kind, sequence, payload))
        elif which == 1 and self.sent is not None:  # the number with other content
            self.send(SettleNumber(self.token), self.sent[2])
        elif which == 2:
            ask = chance.choice((Stop(), Stop(), Cut()))
            self.both.receive(encode_message(ask, sequence=chance.choice((0, 7))))
        elif which == 3:
            token = chance.choice((*TOKENS, 0))
            self.both.receive(encode_message(Hello(chance.choice((1, 1, 1, 2, 0)), token)))
            if self.device.token != self.token and self.device.token in TOKENS:
                self.token, self.alive = self.device.token, 0
        elif which == 4:
            number = chance.choice((self.alive, self.alive + 1, 0, 2**32 - 1 - 1000))
            self.both.receive(encode_message(Alive(chance.choice(TOKENS), number)))
        elif which == 5:
            self.send(SettleNumber(self.token))
        elif which == 6:
            kind = chance.choice((*REGISTER, *range(256)))
            payload = chance.randbytes(chance.choice((0, 4, 12, 13, 20, 44, 56)))
            self.both.receive(encode_frame(kind, chance.randrange(256), payload))
        elif which == 7:
            self.send(any_command(self), chance.choice((None, None, None, 0, 1, 255)))
        else:
            self.send(likely_command(self))

    def noise(self) -> None:
        """What a line makes of bytes."""
        chance = self.chance
        frame = encode_message(likely_command(self), sequence=self.device._last_sequence % 255 + 1)
        which = chance.randrange(7)
        if which == 0:
            at = chance.randrange(len(frame))
            frame = frame[:at] + bytes((frame[at] ^ (1 << chance.randrange(8)),)) + frame[at + 1 :]
        elif which == 1:
            at = chance.randrange(len(frame))
            frame = frame[:at] + frame[at + 1 :]
        elif which == 2:
            frame = frame[: chance.randrange(len(frame))]
        elif which == 3:
            frame = chance.randbytes(chance.randrange(200))
        elif which == 4:
            frame = (
                bytes(chance.randrange(1, 256) for _ in range(chance.randrange(61, 140))) + b"\0"
            )
        elif which == 5:
            frame = b"\0" * chance.randrange(4) + frame + b"\0" + frame
        else:
            at = chance.randrange(len(frame))
            self.both.receive(frame[:at])
            self.both.tick(chance.choice((0, 1, 60)))
            frame = frame[at:]
        self.both.receive(frame)


def play(seed: int, core: ScriptedCore, steps: int, tally: Tally) -> None:
    """One dialogue; every answer of it was compared."""
    dialogue = Dialogue(seed, core)
    board = dialogue.device.board
    for _ in range(steps):
        dialogue.step()
        tally.states[board.state] += 1
        tally.trips[board.trip] += 1
        tally.reasons[board.reason] += 1
        answer = dialogue.device._last_answer
        if answer and answer[1] == KIND_OF_ANSWER:
            tally.verdicts[cobs_decode(answer[:-1])[3]] += 1
