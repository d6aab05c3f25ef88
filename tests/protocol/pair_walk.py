"""Breadth first through every state that the pair of ends can reach, up to the budget of a world.

Two worlds are the same state when nothing that either end, the body or the witness will ever look at
differs: numbers that only rise are compared by their relation (this revision or an older one, the
number in turn or an earlier one), times by what is left of them. The budget bounds how often things
happen on one way; within it the walk is exhaustive, and says so, unless it meets its limit of states.

``python tests/protocol/pair_walk.py`` walks wider budgets than the tests do and prints how
many states they hold (a minute or two; run it from the top of the tree).
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

from foot_world import foot_changes
from pair_world import (
    ASKED,
    MOVING_STATES,
    OTHER_TOKEN,
    STEP_MS,
    Budget,
    World,
    Wrong,
    armed_world,
    content_of,
    reading,
)
from walk_body import DRIVING

from firmware_protocol.body import Order
from firmware_protocol.connection import NS_PER_MS, HostEnd, HostState
from firmware_protocol.device import DeviceEnd
from firmware_protocol.framing import encode_message
from firmware_protocol.messages import (
    LEASE_MS,
    Alive,
    Answer,
    ClearTrip,
    Hello,
    Move,
    Start,
    State,
    Status,
    Stop,
    Trip,
    Welcome,
)


class WalkHost(HostEnd):
    sendings_max = 2  # the board is called silent after two, so that this, too, is walked


@dataclass
class Walk:
    """What a walk met."""

    states: int = 0
    transitions: int = 0
    depth: int = 0
    exhausted: bool = False
    wrong: str = ""
    way: tuple[str, ...] = ()
    board_states: Counter = field(default_factory=Counter)

    def text(self) -> str:
        end = "all there are" if self.exhausted else "up to the limit"
        return (
            f"{self.states} states ({end}), {self.transitions} transitions, depth {self.depth}; "
            + ", ".join(f"{State(s).name} {n}" for s, n in sorted(self.board_states.items()))
        )


# --- which states are the same ----------------------------------------------------------------


def key_of(world: World) -> tuple:
    """Everything that can still make a difference, and nothing else."""
    host, device, body, ledger = world.host, world.device, world.body, world.ledger
    board = device.board
    if _spent(world):
        return (
            (board.state, body.order, body.at_rest, body.cause, device.token, host.token),
            (host.state, host._out is None, host.stopping, ledger.tripped),
            (world.budget, world.foot_key()),
        )
    alive_age = None if device._alive_ms is None else (world.now_ms - device._alive_ms) // STEP_MS
    witness_age = min((world.now_ms - ledger.alive_ms) // STEP_MS, LEASE_MS // STEP_MS)
    answered = None
    if device._last_content is not None and device.token:
        kind, _ = device._last_content
        answered = (kind, _verdict(device._last_answer))
    return (
        (board.state, board.trip, board.wind, board.begun, board._back_to, board._stop_leg),
        (device.token, alive_age, answered, board._rest_seen),
        (body.order, body.count, body.at_rest, body.arrived, body.cause, body.record.at_rest),
        _host_key(world),
        tuple(_up_keys(world)),
        tuple(_down_key(world, frame) for frame in world.down),
        (ledger.tripped, ledger.stop_asked, witness_age, ledger.token == device.token),
        (world.budget, world.foot_key()),
        host.token,
    )


def _spent(world: World) -> bool:
    """No start can come any more from anywhere, and nothing is driven.

    Such worlds differ in what is still on its way, but nothing on its way may move them. One of each
    sort is walked on, so that a board that starts by itself would still be met.
    """
    budget, host, body = world.budget, world.host, world.body
    if budget.starts or budget.moves or budget.other_frames or budget.arms:
        return False
    if world.device.board.pedal.armed:
        return False
    if body.order in DRIVING and not body.arrived:
        return False
    if host._queue or (host._out is not None and not host._out.withdrawn):
        return False
    return not any(isinstance(reading(frame)[1], ASKED) for frame in world.up)


def _verdict(frame: bytes) -> int:
    message = reading(frame)[1]
    return message.verdict if isinstance(message, Answer) else -1


def _host_key(world: World) -> tuple:
    host, device = world.host, world.device
    out = host._out
    seen = host.newest_status
    out_key = None
    if out is not None:
        content = (out.frame, out.sendings, out.due_ns is None, out.withdrawn, out.reported)
        out_key = (_command_key(world, out.sequence, out.command), content[1:])
    belief = None
    if seen is not None:
        belief = (seen.state, seen.boot == device.boot, seen.revision == device.board.revision)
    wait = None
    if host.state is HostState.ASKING:
        wait = -((world.now_ns - host._welcome_until_ns) // (STEP_MS * NS_PER_MS))
    return (
        host.state,
        out_key,
        len(host._queue),
        host.stopping,
        host._stopping.sent,
        host._held,
        belief,
        wait,
        _turn(host._sequence - device._last_sequence),
        host.welcome is not None and host.welcome.boot == device.boot,
    )


def _turn(distance: int) -> int:
    return max(-2, min(2, distance))


def _command_key(world: World, sequence: int, command) -> tuple:
    """A numbered command by its relation to the board it will meet and to the host that sent it."""
    device, ledger = world.device, world.ledger
    number = next(
        (n for n, key in enumerate(ledger.issued) if key == (command.token, sequence)), None
    )
    fate = None if number is None else (number in ledger.moved, number < ledger.dead_below)
    return (
        type(command),
        command.token,
        _turn(sequence - device._last_sequence),
        _turn(sequence - world.host._sequence),
        getattr(command, "boot", None) == device.boot,
        getattr(command, "revision", None) == device.board.revision,
        fate,
    )


def _up_keys(world: World) -> Iterator[tuple]:
    device = world.device
    last = device._alive_number
    rank = 0
    for frame in world.up:
        sequence, message = reading(frame)
        if isinstance(message, Alive):
            if message.token == device.token and message.number > last:
                last = message.number
                rank += 1
                yield (Alive, rank)
            else:
                yield (Alive, 0 if message.token == device.token else message.token)
        elif isinstance(message, Hello):
            yield (Hello, message.token)
        elif isinstance(message, Stop):
            yield (Stop,)
        else:
            same = device._last_content == content_of(frame)
            yield (*_command_key(world, sequence, message), same)


def _down_key(world: World, frame: bytes) -> tuple:
    sequence, message = reading(frame)
    host, device = world.host, world.device
    if isinstance(message, Status):
        seen = host.newest_status
        newer = seen is None or message.uptime_ms > seen.uptime_ms or message.boot != seen.boot
        same = message.revision == device.board.revision
        return (Status, message.state, message.wind, message.boot == device.boot, same, newer)
    if isinstance(message, Welcome):
        return (Welcome, message.token, message.boot == device.boot)
    if isinstance(message, Answer):
        verdict = message.verdict if isinstance(message, Answer) else -1
        to = message.to if isinstance(message, Answer) else -1
        turn = _turn(sequence - host._sequence) if sequence else None
        return (to, verdict, turn)
    raise AssertionError(message)


# --- what can happen next ----------------------------------------------------------------------


def _spend(world: World, name: str) -> None:
    world.budget = replace(world.budget, **{name: getattr(world.budget, name) - 1})


Change = tuple[str, str | None, Callable[[World], None]]  # name, what it costs, what it does


def changes_of(world: World) -> Iterator[Change]:
    """Everything that can happen here and the budget still allows."""
    for change in _possible(world):
        if change[1] is None or getattr(world.budget, change[1]) > 0:
            yield change


def _possible(world: World) -> Iterator[Change]:
    yield "time passes, operator alive", None, lambda w: w.pass_time(True)
    yield "time passes, operator gone", None, lambda w: w.pass_time(False)
    if world.up:
        yield "a frame reaches the board", None, lambda w: w.deliver_up()
        yield "a frame to the board is lost", "losses", _lose_up
        yield "a frame reaches the board twice", "doubles", _double_up
    if world.down:
        yield "a frame reaches the host", None, lambda w: w.deliver_down()
        yield "a frame to the host is lost", "losses", _lose_down
        yield "a frame reaches the host twice", "doubles", _double_down
    yield from _persons(world)
    yield from _bodys(world)
    yield from foot_changes(world)
    yield "the board is reset", "board_resets", lambda w: w.reset_board()
    yield "the host is started anew", "host_resets", lambda w: w.reset_host()
    yield "another host sends", "other_frames", _other_host


def _persons(world: World) -> Iterator[Change]:
    host = world.host
    if not host.stopping:
        yield "the person asks for a stop", "stops", lambda w: w.ask_stop()
    seen = host.newest_status
    if host.state is not HostState.OPEN or host._queue or seen is None:
        return
    if host._out is not None or host.stopping:
        return
    beliefs = (0, seen.boot, seen.wind, seen.revision)
    if seen.state in (State.ARMED, State.PAUSED):
        yield "the person asks for a start", "starts", lambda w: w.ask(Start(*beliefs, 1))
        move = Move(*beliefs, -5, 1000, 1000)
        yield "the person asks for a move", "moves", lambda w: w.ask(move)
    if seen.state is State.TRIPPED:
        clear = ClearTrip(*beliefs, seen.trip)
        yield "the person clears the trip", "clears", lambda w: w.ask(clear)


def _bodys(world: World) -> Iterator[Change]:
    body = world.body
    if body.order in DRIVING and not body.arrived:
        yield "the body arrives", None, _arrive
    if not body.at_rest and (body.arrived or body.order not in DRIVING):
        yield "the body comes to rest", None, _come_to_rest
    if body.cause:
        yield "the cause goes", None, _end_cause
    elif world.device.board.in_motion:
        yield "a cause for a trip", "causes", _begin_cause


def _lose_up(world: World) -> None:
    world.up = world.up[1:]


def _lose_down(world: World) -> None:
    world.down = world.down[1:]


def _double_up(world: World) -> None:
    frame = world.up[0]
    world.deliver_up()
    world.up = (frame, *world.up)  # the copy is still to come, now or later


def _double_down(world: World) -> None:
    frame = world.down[0]
    world.deliver_down()
    world.down = (frame, *world.down)


def _arrive(world: World) -> None:
    world.body.count = world.body.end
    world.body.arrived = True
    world.body_tells()


def _come_to_rest(world: World) -> None:
    world.body.at_rest = True
    world.body_tells()


def _begin_cause(world: World) -> None:
    world.body.cause = Trip.OVERSPEED
    world.body_tells()


def _end_cause(world: World) -> None:
    world.body.cause = Trip.NONE
    world.body_tells()


def _other_host(world: World) -> None:
    """A hello, a sign of life and a start by the newest truth, one after the other."""
    spent = Budget().other_frames - world.budget.other_frames
    board = world.device.board
    if spent <= 1:
        frame = encode_message(Hello(1, OTHER_TOKEN))
    elif spent == 2:
        frame = encode_message(Alive(OTHER_TOKEN, 1))
    else:
        start = Start(OTHER_TOKEN, world.device.boot, board.wind, board.revision, 1)
        frame = encode_message(start, 1)
    world.other_host_sends(frame)


# --- the walk -----------------------------------------------------------------------------------


def walk(
    device_class: type = DeviceEnd,
    host_class: type = WalkHost,
    budget: Budget | None = None,
    states_max: int = 1_000_000,
    root_of: Callable[[type, type, Budget], World] = armed_world,
) -> Walk:
    """Breadth first from ``root_of``. Stops at the first wrong, with the way that led there."""
    found = Walk()
    root = root_of(host_class, device_class, budget or Budget())
    known = {key_of(root)}
    waiting = deque([(root, ())])
    while waiting and found.states < states_max:
        world, way = waiting.popleft()
        found.states += 1
        found.board_states[world.device.board.state] += 1
        found.depth = max(found.depth, len(way))
        for name, cost, change in changes_of(world):
            found.transitions += 1
            new = world.twin()
            if cost is not None:
                _spend(new, cost)
            try:
                change(new)
                key = key_of(new)
                if key in known:
                    continue
                known.add(key)
                _expect_rest(new)
            except Wrong as wrong:
                found.wrong = str(wrong)
                found.way = (*way, name)
                return found
            waiting.append((new, (*way, name)))
    found.exhausted = not waiting
    return found


def _expect_rest(world: World) -> None:
    """A stop that is still being repeated must reach a driven board once frames get through."""
    driven = world.body.order in DRIVING and world.device.board.state in MOVING_STATES
    if world.host.stopping and driven and world.body.order is not Order.CUT:
        ahead = world.twin()
        if not ahead.comes_to_rest():
            raise Wrong("a stop is repeated and never brings the board to rest")


if __name__ == "__main__":
    NOTHING = dict.fromkeys(Budget.__slots__, 0)
    for more in ({"losses": 1, "doubles": 1}, {"losses": 2, "doubles": 1}, {"host_resets": 1}):
        print(more, walk(budget=Budget(**{**NOTHING, "starts": 1, "stops": 1, **more})).text())
