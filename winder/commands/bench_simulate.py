"""``winder bench simulate``: a simulated machine behind a serial port of its own.

The simulated bench behaves like a board on a cable: another program, or another ``winder``, opens the
pseudo-terminal and speaks the protocol with it. It runs until it is interrupted, and only as fast as the world:
whoever opens the port gives signs of life by the world's clock, and the lease of a faster board would
end between two of them. Whatever signal ends it, it takes its link away and writes a last line of truth.
"""

from __future__ import annotations

import argparse
import json
import os
import select
import signal
import stat
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

from winder.commands.verb_parser import verb_parser
from winder.errors import UserMistake, WinderError

if TYPE_CHECKING:
    from winder.simulator.machine import SimulatedMachine

TRUTH_EVERY_S = 0.5
HANDS_BYTES_MAX = 4096  # of a line and what waits behind it
STDIN = "-"
# Every signal that would end the process where it stands, but those that its own faults raise.
ENDING = (
    *("SIGHUP", "SIGINT", "SIGQUIT", "SIGTERM", "SIGABRT", "SIGALRM", "SIGUSR1", "SIGUSR2"),
    *("SIGVTALRM", "SIGPROF", "SIGXCPU", "SIGIO", "SIGPWR", "SIGSTKFLT"),
)

_DESCRIPTION = """\
Serve a simulated machine on a pseudo-terminal until Ctrl-C. The first line
printed says where. Like many boards it is reset whenever its port is opened.
With a machine file that has no motor it only counts, and somebody with a drill
begins a few seconds after a target is set.

Nothing typed at the other end reaches the hands at this bench. With --hands they
do what a file, a named pipe or standard input (-) says, line by line; the drill then moves only by them:
  drill on, drill off       take the drill up, lay it down
  turn on N, turn back N    turn the resting spindle by hand
  pull off N                take turns off the bobbin, the spindle at rest
  wire broken, wire joined  break the wire, join it
  guard open, guard shut    open the guard, shut it
  pedal down, pedal up      press the foot pedal, let it go
  stop pressed, stop released
                            the stop switch at the machine; these four need pedal = true in the machine file
  limit never, limit loose, limit stuck, limit sound
                            the guide's limit switch, where the machine file names one
What cannot be done is answered by a line on standard error.

--truth appends what is true at the bench, twice a second and at the end, one JSON
object a line:

  t_s       time since the bench began
  turns     true turns of the spindle since then
  counts    what the board has counted in its newest wind
  moving, boot
  wind      the open one, 0 for none"""

_EXAMPLES = """\
examples:
  winder bench simulate
  winder bench simulate --seed 7
  winder bench simulate --link bench &  then: winder wind bass.toml --port ./bench
  winder bench simulate --truth truth.jsonl --hands -"""


def add_verb(verbs: Any) -> None:
    """Add ``simulate`` to the verbs of ``winder bench``."""
    simulate = verb_parser(
        verbs, "simulate", "serve a simulated machine as a serial port", _DESCRIPTION, _EXAMPLES
    )
    simulate.add_argument(
        "--seed", metavar="N", default="1", help="seed of its random numbers (default 1)"
    )
    simulate.add_argument(
        "--machine", metavar="FILE", help="profile of the machine (default: the simulated bench)"
    )
    simulate.add_argument(
        "--no-reset-on-open",
        action="store_true",
        help="do not reset the board when its port is opened",
    )
    simulate.add_argument(
        "--link",
        metavar="PATH",
        help="also make a symbolic link to the port, removed at the end; PATH.served beside it marks it as ours",
    )
    simulate.add_argument("--truth", metavar="FILE", help="append the true turns to this file")
    simulate.add_argument(
        "--hands", metavar="FILE", help="read what the hands do from this file (-: typed here)"
    )
    simulate.set_defaults(run=serve_simulated)


def serve_simulated(arguments: argparse.Namespace) -> int:
    from winder.clock import SystemClock
    from winder.links.names import read_seed
    from winder.links.own_link import own_link
    from winder.links.pty_server import PtyServer
    from winder.service.bodies import simulated_machine

    seed = read_seed(arguments.seed, where="--seed")
    clock = SystemClock()
    machine = simulated_machine(_profile(arguments.machine), None, seed)
    with ExitStack() as stack:
        ended = stack.enter_context(_told_to_end())
        truth = stack.enter_context(_Truth(machine, arguments.truth))
        hands = stack.enter_context(_Hands(machine, arguments.hands))
        resets = not arguments.no_reset_on_open
        server = stack.enter_context(PtyServer(machine, clock, resets_on_open=resets))
        if arguments.link is not None:
            stack.enter_context(own_link(arguments.link, server.path))
        print(f"serving the simulated bench on {server.path}", flush=True)
        while not ended:
            server.step()
            truth.write_when_due()
            hands.do()
        truth.write()
    return 0


def _profile(path: str | None) -> Any:
    from winder.machine.model import SIMULATED_BENCH
    from winder.machine.reader import read_machine

    return SIMULATED_BENCH if path is None else read_machine(Path(path))


@contextmanager
def _told_to_end() -> Iterator[list[int]]:
    """A list that a signal which means the end is put into."""
    ended: list[int] = []

    def tell(number: int, _frame: FrameType | None) -> None:
        ended.append(number)

    known = [number for name in ENDING if (number := getattr(signal, name, None)) is not None]
    before = {number: signal.signal(number, tell) for number in known}
    try:
        yield ended
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class _Truth:
    """A file to which truth is appended; without one, nothing is done."""

    def __init__(self, machine: SimulatedMachine, path: str | None) -> None:
        self._machine = machine
        self._path = path
        self._due_ns = machine.now_ns
        self._file = -1

    def __enter__(self) -> _Truth:
        if self._path is not None:
            flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_NONBLOCK  # a pipe must not hang
            self._file = _opened(self._path, flags, "--truth", kinds=(stat.S_ISREG,))
        return self

    def __exit__(self, *_: object) -> None:
        if self._file >= 0:
            os.close(self._file)

    def write_when_due(self) -> None:
        if self._file >= 0 and self._machine.now_ns >= self._due_ns:
            self._due_ns += round(TRUTH_EVERY_S * 1e9)
            self.write()

    def write(self) -> None:
        from winder.simulator.hands import truth_of

        if self._path is None:
            return
        line = (json.dumps(truth_of(self._machine)) + "\n").encode()
        try:
            written = os.write(self._file, line)
        except OSError as error:
            raise _unwritten(self._path, str(error.strerror)) from None
        if written != len(line):
            raise _unwritten(self._path, "no room")


def _unwritten(path: str, reason: str) -> WinderError:
    return WinderError(
        f"the true turns cannot be written ({reason})",
        where=path,
        remedy="make room there, or name a file elsewhere",
    )


class _Hands:
    """Lines that come, from wherever, and what is done for each."""

    def __init__(self, machine: SimulatedMachine, path: str | None) -> None:
        self._machine = machine
        self._path = path
        self._file = -1
        self._begun = b""

    def __enter__(self) -> _Hands:
        if self._path is None:
            return self
        if self._path == STDIN:
            self._file = sys.stdin.fileno()
        else:
            kinds = (stat.S_ISREG, stat.S_ISFIFO)
            self._file = _opened(self._path, os.O_RDONLY | os.O_NONBLOCK, "--hands", kinds=kinds)
        if self._machine.drill is not None:
            self._machine.drill.listen()
        return self

    def __exit__(self, *_: object) -> None:
        if self._file >= 0 and self._path != STDIN:
            os.close(self._file)

    def do(self) -> None:
        from winder.simulator.hands import do_by_hand

        for line in self._lines():
            refused = do_by_hand(self._machine, line)
            if refused:
                print(f"hands: {refused}", file=sys.stderr, flush=True)
            else:
                print(f"hands: {line.strip()}", flush=True)

    def _lines(self) -> list[str]:
        if self._file < 0 or not select.select([self._file], [], [], 0)[0]:
            return []
        try:
            data = os.read(self._file, HANDS_BYTES_MAX)
        except BlockingIOError:
            return []
        if not data and self._path == STDIN:
            self._file = -1
        *whole, self._begun = (self._begun + data).split(b"\n")
        self._begun = self._begun[-HANDS_BYTES_MAX:]
        text = [line.decode(errors="replace") for line in whole]
        return [line for line in text if line.strip()]


def _opened(path: str, flags: int, option: str, *, kinds: tuple[Any, ...]) -> int:
    """A descriptor of a file of one of these kinds; raises ``UserMistake`` for any other."""
    try:
        file = os.open(path, flags, 0o600)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UserMistake(
            f"{option} cannot be opened ({reason})", where=path, remedy="name another file"
        ) from None
    if not any(is_kind(os.fstat(file).st_mode) for is_kind in kinds):
        os.close(file)
        raise UserMistake(
            f"is no file that {option} can use", where=path, remedy="name a plain file"
        )
    return file
