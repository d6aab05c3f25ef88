"""The same world with a foot pedal: a person turns it on, a foot presses and comes off, and the witness knows what is due.

A pedal status is carried with the status before it, lost and doubled with it. A contact has settled a step of time after
it changed. The witness allows one motion beside commands: by a press of a pedal that a person turned on, over a board
that looked and saw it released since, with a live lease, and that no stop, trip, reset or end of a session came after.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from pair_world import (
    STEP_MS,
    TIMELESS,
    Budget,
    Foot,
    World,
    Wrong,
    armed_world,
    frames_of,
    reading,
)
from walk_body import DRIVING

from firmware_protocol.body import Order
from firmware_protocol.device_pedal import Pedal
from firmware_protocol.framing import FrameReader
from firmware_protocol.messages import LEASE_MS, Cut, Move, Start, State, Stop
from firmware_protocol.pedal import ArmPedal, PedalStatus
from firmware_protocol.vocabulary import PEDAL_SETTLE_MS, Has
from firmware_protocol.wire import LAYOUT_OF, unpack

BY_FOOT = replace(TIMELESS, groups=(1, 1, 1, 1, 1, 1), has=TIMELESS.has | int(Has.PEDAL))
assert STEP_MS > PEDAL_SETTLE_MS  # a step settles every contact
_PEDAL_KIND = LAYOUT_OF[PedalStatus].kind


class CountedPedal(Pedal):
    """The board's own; how often it was armed is for the witness alone."""

    arms = 0

    def arm(self) -> None:
        super().arm()
        self.arms += 1


class FootWorld(World):
    __slots__ = ()

    # --- what is said -------------------------------------------------------------------------

    def told_by_board(self) -> tuple[bytes, ...]:
        told: list[bytes] = []
        for frame in frames_of(self.device.data_to_send()):
            (whole,) = FrameReader().feed(frame)
            if whole.kind == _PEDAL_KIND:
                told[-1] += frame
            else:
                told.append(frame)
        return tuple(told)

    # --- the witness ----------------------------------------------------------------------------

    def deliver_up(self) -> None:
        frame = self.up[0]
        sequence, message = reading(frame)
        board = self.device.board
        before = (getattr(board.pedal, "arms", 0), self.device.boot, board.wind, board.revision)
        starts = self.body.starts
        self._look()
        if isinstance(message, Stop | Cut):
            self._foot(Foot.OFF)
        super().deliver_up()
        if self.body.starts != starts and isinstance(message, Start | Move):
            self._foot(Foot.OFF)
        if getattr(board.pedal, "arms", 0) != before[0]:
            if not isinstance(message, ArmPedal):
                raise Wrong(f"{type(message).__name__} turned the pedal on")
            self._witness_arming(sequence, message, before[1:])

    def _witness_arming(self, sequence: int, message: ArmPedal, before: tuple) -> None:
        """It is judged as a start, and sets nothing in motion."""
        ledger = self.ledger
        number = ledger.issued.index((message.token, sequence))
        if message.token != ledger.token:
            raise Wrong("a pedal turned on for a session that is over")
        if number in ledger.moved:
            raise Wrong("a pedal turned on by a repeated command")
        if (message.boot, message.wind, message.revision) != before:
            raise Wrong("a pedal turned on by a stale command")
        if ledger.tripped or number < ledger.dead_below:
            raise Wrong("a pedal turned on from before a trip")
        self.ledger = replace(ledger, moved=ledger.moved | {number}, foot=Foot.HELD)

    def pass_time(self, operator_alive: bool) -> None:
        if self.now_ms + STEP_MS - self.ledger.alive_ms >= LEASE_MS:
            self._foot(Foot.OFF)
        self.body.pedal_settled = self.body.pedal_pressed
        super().pass_time(operator_alive)
        driven = self.body.order in DRIVING and not self.body.arrived
        if self.ledger.foot is Foot.WINDS and self._is_off():
            if driven:
                raise Wrong("driven on though the foot came off the pedal")
            self._foot(Foot.HELD)
        self._look()

    def body_tells(self) -> None:
        super().body_tells()
        if self.body.arrived:
            self._foot(Foot.OFF)
        self._look()

    def _look(self) -> None:
        """The board looks at its pedal, at rest."""
        if self.ledger.foot is Foot.HELD and self.body.at_rest and self._is_off():
            self._foot(Foot.FREE)

    def _is_off(self) -> bool:
        return not self.body.pedal_pressed and not self.body.pedal_settled

    def moved_unasked(self) -> None:
        if not (self.ledger.foot is Foot.FREE and self.body.pedal_pressed):
            raise Wrong(f"the pedal set it in motion; a press does {self.ledger.foot.value}")
        if self.ledger.tripped:
            raise Wrong("the pedal set it in motion after a trip")
        self._foot(Foot.WINDS)

    def reset_board(self) -> None:
        self._foot(Foot.OFF)
        super().reset_board()
        self._count_arms()

    def _after(self, starts_known: int) -> None:
        token = self.ledger.token
        super()._after(starts_known)
        if self.body.order is Order.CUT or self.ledger.token != token:
            self._foot(Foot.OFF)

    def _foot(self, foot: Foot) -> None:
        if self.ledger.foot is not foot:
            self.ledger = replace(self.ledger, foot=foot)

    def _count_arms(self) -> None:
        pedal = CountedPedal(self.now_ms)
        pedal.__dict__.update(self.device.board.pedal.__dict__)
        self.device.board.pedal = pedal

    def foot_key(self) -> tuple:
        pedal, host = self.device.board.pedal, self.host
        told = tuple(
            unpack(whole.kind, whole.payload).flags
            for frame in self.down
            for whole in FrameReader().feed(frame)
            if whole.kind == _PEDAL_KIND
        )
        settles = pedal._level != pedal.pressed and self.now_ms - pedal._agreed_ms >= STEP_MS
        flags = (
            pedal.armed,
            pedal.winds,
            pedal.pressed,
            pedal._release_seen,
            pedal._level,
            settles,
        )
        foot = (self.body.pedal_pressed, self.body.pedal_settled, self.ledger.foot.name)
        return (flags, foot, told, host._stopping._rested)


Change = tuple[str, str | None, Callable[[World], None]]


def foot_changes(world: World) -> Iterator[Change]:
    """What a person with a pedal can do here."""
    if not isinstance(world, FootWorld):
        return
    contact = "comes off the pedal" if world.body.pedal_pressed else "presses the pedal"
    yield f"a foot {contact}", "feet", _step_on_it
    host, seen = world.host, world.host.newest_status
    if host._queue or host._out is not None or host.stopping or seen is None:
        return
    if host.state.value == "open" and seen.state in (State.ARMED, State.PAUSED):
        arm = ArmPedal(0, seen.boot, seen.wind, seen.revision, 1)
        yield "the person turns the pedal on", "arms", lambda w: w.ask(arm)


def _step_on_it(world: World) -> None:
    world.body.pedal_pressed = not world.body.pedal_pressed
    world.body_tells()


def foot_world(host_class: type, device_class: type, budget: Budget) -> World:
    """Armed as the other worlds are, its pedal released and seen so."""
    world = armed_world(host_class, device_class, budget, FootWorld, BY_FOOT)
    world._count_arms()
    assert not world.device.board.pedal.pressed
    return world
