"""What passed over a link, written down as it passed, and played again as a link.

A recording is text, one line for each read or write that carried bytes: ``MS > HEX`` towards the board, ``MS < HEX``
from it, milliseconds of the link's own clock since the recording began, below a first line that says what it is. It
is written in a thread of its own, so that no disk holds up the line; one that cannot be written on ends, and the link
goes on. Played again, what the board said comes at the times at
which it came, in virtual time, and nobody hears what is written.
"""

from __future__ import annotations

import queue
import re
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from firmware_protocol.records import dataclass
from firmware_protocol.seam import Clock, Link, LinkLost
from winder.clock import NS_PER_MS, HandClock
from winder.errors import UserMistake
from winder.links.reopening import ReopeningLink

FIRST_LINE = "recording of a board's line, 1"
LINE_BYTES_MAX = 16_384  # of one read, in hexadecimal, and room to spare
CLOSE_WAIT_S = 1.0  # longest wait for the disk at the end: the journal needs its time too
_LINE = re.compile(r"([0-9]{1,12}) ([<>]) ((?:[0-9a-f]{2})+)")


@dataclass(frozen=True, slots=True)
class Passed:
    """Bytes in one direction."""

    at_ms: int
    from_board: bool
    data: bytes


class _Scribe:
    """Writes lines to a file, in a thread of its own."""

    def __init__(self, file: IO[str]) -> None:
        self.why_ended = ""
        self._file = file
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._live, name="recording", daemon=True)
        self._thread.start()

    def put(self, line: str) -> None:
        if not self.why_ended:
            self._lines.put(line)

    def close(self) -> None:
        self._lines.put(None)
        self._thread.join(CLOSE_WAIT_S)
        if self._thread.is_alive():
            self.why_ended = self.why_ended or "the disk does not answer"

    def _live(self) -> None:
        try:
            with self._file as file:
                while (line := self._lines.get()) is not None:
                    file.write(line + "\n")
                    if self._lines.empty():
                        file.flush()
        except (OSError, ValueError) as error:
            self.why_ended = getattr(error, "strerror", None) or str(error)


class RecordedLink:
    """A ``Link`` that has written down what passes over the one behind it."""

    def __init__(self, link: Link, clock: Clock, file: IO[str]) -> None:
        self._behind = link
        self._clock = clock
        self._began_ns = clock.now_ns()
        self._scribe = _Scribe(file)
        self._scribe.put(FIRST_LINE)

    @property
    def why_ended(self) -> str:
        """Why nothing more could be written down; "" as long as it can."""
        return self._scribe.why_ended

    def read(self, timeout_s: float) -> bytes:
        data = self._behind.read(timeout_s)
        self._passed("<", data)
        return data

    def write(self, data: bytes) -> None:
        self._passed(">", data)
        self._behind.write(data)

    def close(self) -> None:
        self._behind.close()
        self._scribe.close()

    def _passed(self, way: str, data: bytes) -> None:
        if data:
            ms = (self._clock.now_ns() - self._began_ns) // NS_PER_MS
            self._scribe.put(f"{ms} {way} {data.hex()}")


class RecordedReopeningLink(RecordedLink):
    """The same of a link that opens again what was lost."""

    def __init__(self, link: ReopeningLink, clock: Clock, file: IO[str]) -> None:
        super().__init__(link, clock, file)
        self._reopening = link

    @property
    def open(self) -> bool:
        return self._reopening.open

    @property
    def reopened(self) -> int:
        return self._reopening.reopened

    @property
    def why_closed(self) -> str:
        return self._reopening.why_closed

    @property
    def not_before_ns(self) -> int | None:
        return self._reopening.not_before_ns

    @not_before_ns.setter
    def not_before_ns(self, time_ns: int | None) -> None:
        self._reopening.not_before_ns = time_ns


def recorded(link: Link, clock: Clock, path: Path) -> Link:
    """The link, with its traffic in a new file. ``UserMistake`` for a file that is there or cannot be."""
    try:
        file = open(path, "x", encoding="ascii", newline="\n")  # noqa: SIM115  (the link closes it)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UserMistake(
            f"the recording cannot be written here ({reason})",
            where=str(path),
            remedy="name a new file in a folder that is yours",
        ) from None
    if isinstance(link, ReopeningLink):
        return RecordedReopeningLink(link, clock, file)
    return RecordedLink(link, clock, file)


def is_recording(path: Path) -> bool:
    """Whether a file says of itself that it is one."""
    try:
        with open(path, "rb") as file:
            return file.read(len(FIRST_LINE)) == FIRST_LINE.encode("ascii")
    except OSError:
        return False


def read_recording(path: Path) -> Iterator[Passed]:
    """What passed, in order. ``UserMistake`` names the first line that is none; a last one may be cut short."""
    try:
        with open(path, encoding="ascii", errors="replace") as file:
            if file.readline(LINE_BYTES_MAX).rstrip("\n") != FIRST_LINE:
                raise UserMistake(
                    "is not a recording made by this program",
                    where=str(path),
                    remedy="name one that 'winder wind --record' or 'winder bench listen' wrote",
                )
            yield from _read_lines(file, path)
    except OSError as error:
        raise UserMistake(
            f"cannot be read ({error.strerror})", where=str(path), remedy="name a recording"
        ) from None


def _read_lines(file: IO[str], path: Path) -> Iterator[Passed]:
    number, latest = 1, 0
    while line := file.readline(LINE_BYTES_MAX):
        number += 1
        found = _LINE.fullmatch(line.rstrip("\n"))
        if found is None or int(found[1]) < latest:
            if not line.endswith("\n") and len(line) < LINE_BYTES_MAX:
                return  # the program ended in the middle of it
            raise UserMistake(
                "this line does not belong to a recording",
                where=f"{path}:{number}",
                remedy="use the recording as it was written",
            )
        latest = int(found[1])
        yield Passed(latest, found[2] == "<", bytes.fromhex(found[3]))


class ReplayedLink:
    """A recording as a link: reading moves the clock on, and gives what the board said when it said it."""

    def __init__(self, path: Path, clock: HandClock) -> None:
        self._clock = clock
        self._began_ns = clock.now_ns()
        self._left = [one for one in read_recording(path) if one.from_board]
        self._closed = False

    def read(self, timeout_s: float) -> bytes:
        if self._closed:
            raise LinkLost("the recording was closed")
        if not self._left:
            raise LinkLost("the recording ended")
        now_ns = self._clock.now_ns()
        due_ns = self._began_ns + self._left[0].at_ms * NS_PER_MS
        end_ns = now_ns + round(timeout_s * 1e9)
        if due_ns > end_ns:
            self._clock.move_to(end_ns)
            return b""
        self._clock.move_to(max(now_ns, due_ns))
        return self._left.pop(0).data

    def write(self, data: bytes) -> None:
        if self._closed:
            raise LinkLost("the recording was closed")

    def close(self) -> None:
        self._closed = True
