"""One reachable state of the pair of ends, small enough to be copied and compared by the ten thousand.

Nothing here is a model of the protocol: the host end and the device end in a ``World`` are the real
ones, driven by real frames. Abstracted are the body (it arrives and comes to rest when the walk says
so), the link (two short queues of whole frames, in order; what finds a queue full is lost) and the time,
which moves in steps long enough for every repetition to fall due and short enough for a lease to live
through one. ``Ledger`` is the witness: it learns only from frames that were delivered and orders that
the body got, and says what is wrong in plain words.
"""

from __future__ import annotations

import enum
import functools
from dataclasses import dataclass, replace

from pair import FULL_BOARD, TWO_LEGS
from walk_body import DRIVING, WalkBody

from firmware_protocol import messages as m
from firmware_protocol.body import Identity, Order
from firmware_protocol.connection import NS_PER_MS, HostEnd
from firmware_protocol.device import DeviceEnd
from firmware_protocol.device_plan import checksum_of
from firmware_protocol.framing import FrameReader
from firmware_protocol.heard import Answered, Trouble, Troubled
from firmware_protocol.host_command import Outstanding
from firmware_protocol.messages import (
    LEASE_MS,
    Answer,
    Move,
    Start,
    State,
    Status,
    Stop,
    Verdict,
)
from firmware_protocol.pedal import ArmPedal
from firmware_protocol.wire import LAYOUT_OF, unpack

STEP_MS = 500  # beyond every repetition of the host; half a lease
UP_FRAMES_MAX = 3
DOWN_FRAMES_MAX = 2
STOP_KIND = LAYOUT_OF[Stop].kind  # its answers are not carried: the host takes no notice of them
MOVING_STATES = (State.WINDING, State.SETTING_UP)
ASKED = (Start, Move, ArmPedal)  # what a person asks for and something may move by
OUR_TOKEN = 70  # and upwards: one for every life of the host
OTHER_TOKEN = 60


TIMELESS = replace(FULL_BOARD, cut_ms=0, rest_ms=0)


@functools.cache  # the same frames come often
def reading(frame: bytes) -> tuple[int, object]:
    """Sequence and message of one whole frame; of a status, whatever is told behind it."""
    whole, *_ = FrameReader().feed(frame)
    return whole.sequence, unpack(whole.kind, whole.payload)


@functools.cache
def content_of(frame: bytes) -> tuple[int, bytes]:
    """Kind and payload of one whole frame."""
    (whole,) = FrameReader().feed(frame)
    return whole.kind, whole.payload


def frames_of(data: bytes) -> tuple[bytes, ...]:
    return tuple(piece + b"\0" for piece in data.split(b"\0") if piece)


def queued(way: tuple[bytes, ...], frame: bytes, frames_max: int) -> tuple[bytes, ...]:
    """A frame joins those on their way; a full way loses it.

    Right behind its like it takes its place: the same bytes again, a newer sign of life or status.
    The walk doubles frames by itself, and keeping every repetition apart only swells the space.
    """
    if way:
        last, new = reading(way[-1])[1], reading(frame)[1]
        if frame == way[-1] or (type(last) is type(new) and isinstance(new, m.Alive | Status)):
            return (*way[:-1], frame)
    return (*way, frame) if len(way) < frames_max else way


class Foot(enum.Enum):
    """What a press of the pedal may do, as the witness has it."""

    OFF = "nothing"
    HELD = "nothing before it was seen released"
    FREE = "it may go"
    WINDS = "it went"


@dataclass(frozen=True, slots=True)
class Ledger:
    """What the witness has seen."""

    token: int = 0  # of the newest welcome given
    alive_number: int = 0
    alive_ms: int = -10 * LEASE_MS  # when a sign of life of that session was last delivered
    issued: tuple[tuple[int, int], ...] = ()  # token and number of every start a person asked for
    moved: frozenset[int] = frozenset()  # which of these have set the body in motion
    dead_below: int = 0  # those before this were asked for before the newest trip
    tripped: bool = False
    stop_asked: bool = False  # and no start asked for since
    foot: Foot = Foot.OFF


@dataclass(frozen=True, slots=True)
class Budget:
    """How often each thing may still happen on this way through the states."""

    starts: int = 2
    moves: int = 1
    stops: int = 1
    clears: int = 1
    losses: int = 2
    doubles: int = 1
    causes: int = 1
    board_resets: int = 1
    host_resets: int = 1
    other_frames: int = 3
    arms: int = 0  # of a pedal, for worlds that have one
    feet: int = 0  # on the pedal or off it


class Wrong(Exception):
    """The witness saw what must never be."""


class World:
    """Both ends, the body, the frames on their way, the time, the ledger and the budget."""

    __slots__ = ("body", "budget", "device", "down", "host", "ledger", "now_ms", "up")

    def __init__(self, host: HostEnd, device: DeviceEnd, budget: Budget, now_ms: int) -> None:
        self.host = host
        self.device = device
        self.body: WalkBody = device.board.body
        self.budget = budget
        self.now_ms = now_ms
        self.up: tuple[bytes, ...] = ()
        self.down: tuple[bytes, ...] = ()
        self.ledger = Ledger()

    def twin(self) -> World:
        """A copy that shares only what never changes (readers and outboxes are empty in between)."""
        new = object.__new__(type(self))
        body = new.body = _copy(self.body)
        device = new.device = _copy(self.device)
        board = device.board = _copy(device.board)
        board.body, board.pedal = body, _copy(board.pedal)
        host = new.host = _copy(self.host)
        host._reports = []
        host._queue = host._queue.copy()
        host._stopping = _copy(host._stopping)
        if host._out is not None:
            out = host._out
            host._out = type(out)(*[getattr(out, name) for name in Outstanding.__slots__])
        new.budget, new.now_ms, new.ledger = self.budget, self.now_ms, self.ledger
        new.up, new.down = self.up, self.down
        return new

    @property
    def now_ns(self) -> int:
        return self.now_ms * NS_PER_MS

    # --- what can happen ------------------------------------------------------------------------

    def deliver_up(self) -> None:
        frame, self.up = self.up[0], self.up[1:]
        sequence, message = reading(frame)
        board = self.device.board
        before = (self.body.starts, board.state, self.device.boot, board.wind, board.revision)
        self.device.receive(frame, self.now_ms)
        ledger = self.ledger
        if isinstance(message, m.Alive) and message.token == ledger.token:
            if message.number > ledger.alive_number:
                self.ledger = replace(ledger, alive_number=message.number, alive_ms=self.now_ms)
        elif isinstance(message, m.ClearTrip) and before[1] != board.state:
            self.ledger = replace(ledger, tripped=False)
        if self.body.starts != before[0]:
            self._witness_motion(sequence, message, before[2:])
            before = (self.body.starts,)
        self._after(before[0])

    def deliver_down(self) -> None:
        frame, self.down = self.down[0], self.down[1:]
        self._hear(self.host.receive(frame, self.now_ns))
        self._after(self.body.starts)

    def pass_time(self, operator_alive: bool) -> None:
        starts = self.body.starts
        self.now_ms += STEP_MS
        self.device.tick(self.now_ms)
        self._hear(self.host.receive(b"", self.now_ns))
        if operator_alive:
            self.host.sign_of_life(self.now_ns)
        self._after(starts)

    def ask(self, command: object) -> None:
        """A person asks for something through our host."""
        command = self.host.send(command, self.now_ns)
        if isinstance(command, ASKED):
            key = (self.host.token, self.host._out.sequence)
            self.ledger = replace(self.ledger, issued=(*self.ledger.issued, key), stop_asked=False)
        self._after(self.body.starts)

    def ask_stop(self) -> None:
        self.host.stop(self.now_ns)
        self.ledger = replace(self.ledger, stop_asked=True)
        self._hear(self.host.receive(b"", self.now_ns))
        self._after(self.body.starts)

    def body_tells(self) -> None:
        """A fact of the body has changed: the device end is ticked at once."""
        starts = self.body.starts
        self.device.tick(self.now_ms)
        self._after(starts)

    def reset_board(self) -> None:
        old = self.body
        body = WalkBody(old.count, old.record)
        body.at_rest, body.starts, body.cuts = old.at_rest, old.starts, old.cuts
        body.pedal_pressed, body.pedal_settled = old.pedal_pressed, old.pedal_settled
        boot = self.device.boot + 1
        self.device = type(self.device)(body, self.device.identity, boot, self.now_ms)
        self.body = body
        self.ledger = replace(self.ledger, token=0, alive_number=0, tripped=False)
        self._after(body.starts)

    def reset_host(self) -> None:
        self.host = type(self.host)(self.host.token + 1)
        self.host.open(self.now_ns)
        self.ledger = replace(self.ledger, stop_asked=False)
        self._after(self.body.starts)

    def other_host_sends(self, frame: bytes) -> None:
        sequence, message = reading(frame)
        if isinstance(message, Start):
            key = (message.token, sequence)
            self.ledger = replace(self.ledger, issued=(*self.ledger.issued, key))
        self.up = queued(self.up, frame, UP_FRAMES_MAX)

    # --- the witness --------------------------------------------------------------------------------

    def _after(self, starts_known: int) -> None:
        """Both ends say what they have to say; then the witness looks."""
        for frame in frames_of(self.host.data_to_send(self.now_ns)):
            self.up = queued(self.up, frame, UP_FRAMES_MAX)
        for frame in self.told_by_board():
            message = reading(frame)[1]
            if isinstance(message, m.Welcome) and message.token != self.ledger.token:
                self.ledger = replace(self.ledger, token=message.token, alive_number=0)
            if not isinstance(message, Answer) or message.to != STOP_KIND:
                self.down = queued(self.down, frame, DOWN_FRAMES_MAX)
        if self.host.stopping and not self.ledger.stop_asked:
            self.ledger = replace(self.ledger, stop_asked=True)
        if self.body.starts != starts_known:
            self.moved_unasked()
        if self.body.order is Order.CUT and not self.ledger.tripped:
            self.ledger = replace(self.ledger, tripped=True, dead_below=len(self.ledger.issued))
        if self.body.order in DRIVING and not self.body.arrived:
            if self.now_ms - self.ledger.alive_ms >= LEASE_MS:
                raise Wrong("driven without a live lease")
            if self._stop_forgotten():
                raise Wrong("a stop that the host holds for settled, and the board is driven")

    def told_by_board(self) -> tuple[bytes, ...]:
        return frames_of(self.device.data_to_send())

    def moved_unasked(self) -> None:
        raise Wrong("something moves that no command asked for")

    def foot_key(self) -> tuple:
        """What tells worlds apart beside all else."""
        return ()

    def _stop_forgotten(self) -> bool:
        return (
            self.ledger.stop_asked
            and not self.host.stopping
            and self.device.token == self.host.token
        )

    def _witness_motion(self, sequence: int, message: object, before: tuple) -> None:
        ledger = self.ledger
        if not isinstance(message, Start | Move):
            raise Wrong(f"{type(message).__name__}, other than a start, set the spindle in motion")
        if message.token != ledger.token:
            raise Wrong("motion for a session that is over")
        number = ledger.issued.index((message.token, sequence))
        if number in ledger.moved:
            raise Wrong("motion from a repeated command")
        if (message.boot, message.wind, message.revision) != before:
            raise Wrong("motion from a stale command")
        if ledger.tripped:
            raise Wrong("motion after a trip that nobody cleared")
        if number < ledger.dead_below:
            raise Wrong("motion from a start asked for before the trip")
        self.ledger = replace(ledger, moved=ledger.moved | {number})

    def _hear(self, heard: list) -> None:
        for one in heard:
            if not isinstance(one, Answered | Troubled):
                continue
            command = one.command
            if not isinstance(command, ASKED):
                continue
            moved = self._number_of(command) in self.ledger.moved
            if isinstance(one, Answered) and moved != (one.answer.verdict is Verdict.DONE):
                raise Wrong(f"a start that moved: {moved}, was answered {one.answer.verdict}")
            withdrawn = isinstance(one, Troubled) and one.trouble is Trouble.WITHDRAWN
            if withdrawn and moved and "never" in one.text:
                raise Wrong("a start that moved was reported as without effect")

    def _number_of(self, command: Start | Move | ArmPedal) -> int:
        """Reports come in the order of asking, one a start: the newest of this token is meant."""
        mine = [n for n, key in enumerate(self.ledger.issued) if key[0] == command.token]
        return mine[-1]

    def comes_to_rest(self) -> bool:
        """From here a link that works again brings the board to rest and the host to know it."""
        for _ in range(3):
            self.pass_time(operator_alive=True)
            _exchange(self)
            if not self.body.at_rest and self.body.order not in DRIVING:
                self.body.at_rest = True
                self.body_tells()
        return self.device.board.state not in MOVING_STATES and not self.host.stopping


def _copy(thing):
    new = object.__new__(type(thing))
    new.__dict__.update(thing.__dict__)
    return new


def armed_world(
    host_class: type,
    device_class: type,
    budget: Budget,
    world_class: type[World] = World,
    identity: Identity = TIMELESS,
) -> World:
    """A board armed with two legs by real frames over a link without faults; operator alive."""
    device = device_class(WalkBody(), identity, 5, 0)
    world = world_class(host_class(OUR_TOKEN), device, budget, 0)
    world.host.open(0)
    world._after(0)
    _exchange(world)
    legs = TWO_LEGS
    for command in (
        m.OpenWind(0, 5, 1, 9),
        m.PlanBegin(0, 5, 9, 2, 1, len(legs)),
        *legs,
        m.PlanCommit(0, 5, 9, 2, 1, checksum_of(legs)),
    ):
        world.ask(command)
        _exchange(world)
    world.pass_time(operator_alive=True)
    _exchange(world)
    assert device.board.state is State.ARMED and world.host.newest_status.revision == 3
    return world


def winding_world(host_class: type, device_class: type, budget: Budget) -> World:
    """The armed world, started: answered, and the host knows it."""
    world = armed_world(host_class, device_class, budget)
    world.ask(Start(0, 5, 9, world.host.newest_status.revision, 1))
    _exchange(world)
    world.pass_time(operator_alive=True)
    _exchange(world)
    assert world.device.board.state is State.WINDING
    return world


def _exchange(world: World) -> None:
    for _ in range(1000):  # two ends that answer each other for ever are wrong
        if world.up:
            world.deliver_up()
        if world.down:
            world.deliver_down()
        if not (world.up or world.down):
            return
    raise AssertionError("the two ends never come to an end")
