"""Asked to stop or to leave, for a loop that prints lines: Ctrl-C, a signal, a terminal that was closed.

Nothing happens in a signal handler but counting; the loop reads the counts when it gets there, stops the
board and commits the journal in its own order. Whatever else ends a program at such a moment is held off
until then: a line that can no longer be printed raises nothing (the line is dropped, and that is one more
wish to leave), and what is typed is read without the lock that would end the interpreter with an abort.

What cannot be held off is bounded. A print into a terminal that was halted with Ctrl-S never returns, so a
watchdog of its own ends the process when leaving takes longer than the caller allows, and a second after
its end where nobody takes the output. The real protection of people is none of this: without a sign of life
the board comes to rest by itself, and what was committed is kept however the process ends.
"""

from __future__ import annotations

import codecs
import os
import select
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any, TextIO, cast

from winder.clock import NS_PER_S, SystemClock

GRACE_S = 1.0  # for the process to end by itself when nobody takes its output any more
WATCH_S = 0.1
READ_BYTES = 4096
TERMINAL_CLOSED = "the terminal was closed"
NOBODY_READS = "nothing reads the output any more"


def _numbers(*names: str) -> tuple[signal.Signals, ...]:
    return tuple(getattr(signal, name) for name in names if hasattr(signal, name))


LEAVE = _numbers("SIGTERM", "SIGHUP", "SIGQUIT")


class Requests:
    """How often somebody asked to stop, and to leave; the numbers only rise."""

    def __init__(self) -> None:
        self.stops = 0  # Ctrl-C
        self.leaves = 0
        self.left_by = ""  # what asked first: "SIGTERM", TERMINAL_CLOSED, NOBODY_READS
        self.output_dead = False

    def leave(self, by: str) -> None:
        self.left_by = self.left_by or by
        self.leaves += 1


@contextmanager
def heard_requests(
    leave_wait_s: float, end_process: Callable[[int], None] = os._exit
) -> Iterator[Requests]:
    """While inside, requests are counted and printing never raises. For the main thread.

    What must be done before the process may end (the board stopped, the run closed) belongs inside.
    ``leave_wait_s``: this long after the first request to leave the process ends, done or not. A hang-up
    that was ignored when the program was started stays ignored; a closed terminal is noticed all the same.
    """
    requests = Requests()

    def hear(number: int, _frame: FrameType | None) -> None:
        if number == signal.SIGINT:
            requests.stops += 1
        else:
            requests.leave(signal.Signals(number).name)

    heard = [
        number
        for number in (signal.SIGINT, *LEAVE)
        if number == signal.SIGINT or signal.getsignal(number) is not signal.SIG_IGN
    ]
    before = {number: signal.signal(number, hear) for number in heard}
    streams = sys.stdout, sys.stderr
    lasting = [stream and _LastingStream(stream, requests) for stream in streams]
    sys.stdout, sys.stderr = cast(list[TextIO], lasting)
    over = threading.Event()
    watch = threading.Thread(
        target=_watch, args=(requests, over, leave_wait_s, end_process), daemon=True
    )
    watch.start()
    try:
        yield requests
    finally:
        for stream in lasting:
            if stream:  # None: the program was started without it
                stream.check()
        sys.stdout, sys.stderr = streams
        for number, handler in before.items():
            signal.signal(number, signal.SIG_DFL if handler is None else handler)
        over.set()


def _watch(
    requests: Requests,
    over: threading.Event,
    leave_wait_s: float,
    end_process: Callable[[int], None],
) -> None:
    """Ends the process where leaving does not come to its end."""
    clock = SystemClock()
    asked_ns: int | None = None
    while not over.wait(WATCH_S):
        if requests.leaves and asked_ns is None:
            asked_ns = clock.now_ns()
        if asked_ns is not None and clock.now_ns() - asked_ns > leave_wait_s * NS_PER_S:
            end_process(1)
            return
    if requests.output_dead:
        clock.sleep_s(GRACE_S)
        end_process(1)


class _LastingStream:
    """A text stream that outlives whoever reads it: then what is written is dropped, and leaving asked."""

    def __init__(self, stream: TextIO, requests: Requests) -> None:
        self._stream = stream
        self._requests = requests
        self._terminal = stream.isatty()

    def check(self) -> None:
        """Whoever went away meanwhile is noticed now, and not by what is printed after this."""
        self.flush()
        if self._terminal and not self._stream.isatty():
            self._die()

    def write(self, text: str) -> int:
        try:
            self._stream.write(text)
        except OSError as error:
            self._fail(error)
        return len(text)

    def flush(self) -> None:
        try:
            self._stream.flush()
        except OSError as error:
            self._fail(error)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def _fail(self, error: OSError) -> None:
        if isinstance(error, BlockingIOError):
            return  # whoever reads is slow: the line is lost, no more
        self._die()

    def _die(self) -> None:
        self._requests.output_dead = True
        self._requests.leave(NOBODY_READS)
        # What waits in buffers must not raise again, here or when the interpreter ends.
        with suppress(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, self._stream.fileno())
            os.close(nowhere)


def typed_lines(requests: Requests) -> Iterator[str]:
    """What is typed, line by line, to the end of standard input. For a thread of its own.

    A terminal that was closed counts as a request to leave; any other end is only the end.
    """
    try:
        file = sys.stdin.fileno()
    except (AttributeError, OSError, ValueError):  # none, or none of the system's
        yield from sys.stdin or ()
        return
    terminal = os.isatty(file)
    decoder = codecs.getincrementaldecoder("utf-8")("replace")
    rest = ""
    while data := _read(file):
        *lines, rest = (rest + decoder.decode(data)).split("\n")
        yield from lines
    if rest:
        yield rest
    if terminal and not os.isatty(file):
        requests.leave(TERMINAL_CLOSED)


def _read(file: int) -> bytes:
    while True:
        try:
            return os.read(file, READ_BYTES)
        except BlockingIOError:  # another program that shares it made it so
            select.select([file], [], [])
        except OSError:  # EIO: the terminal is gone, or is not ours to read from
            return b""
