"""A simulated machine behind a pseudo-terminal: any serial program can talk to it as to a board.

The server holds the master end. The kernel reports a hang-up there while nobody has the other end
open; the hang-up going away is somebody opening the port, and then the board is reset, as many boards
are by the opening of their port. A program that closes the port and opens it again at once, within
``TICK_S``, is not noticed: no reset then, as on the boards that have none. The server never waits for
a client that does not read: what is old is dropped, as a real port drops it. Linux behaves like this;
where there are no pseudo-terminals (Windows), there is no such server.
"""

from __future__ import annotations

import os
import select
import termios
import threading
import tty

from winder.clock import SystemClock
from winder.errors import WinderError
from winder.links.simulated_link import Machine, PacedLink

TICK_S = 0.002  # of the world: what a byte waits here at most
CLIENT_BYTES_MAX = 4096  # taken from the client in one go


class PtyServer:
    """Serves one machine on one pseudo-terminal. ``path`` is what a client opens.

    The machine follows ``clock``. Not safe for several threads, but ``serve`` may run in its own.
    """

    def __init__(self, machine: Machine, clock: SystemClock, resets_on_open: bool = True) -> None:
        self._machine = machine
        self._link = PacedLink(machine, clock)
        self._tick_s = TICK_S * clock.pace
        self._resets_on_open = resets_on_open
        try:
            self._master, other_end = os.openpty()
        except OSError as error:
            raise WinderError(
                f"no pseudo-terminal available ({error.strerror})",
                remedy="close programs that use some, or use the port 'sim' instead",
            ) from error
        self.path = os.ttyname(other_end)
        os.close(other_end)
        os.set_blocking(self._master, False)
        self._tidy_other_end()
        self._poll = select.poll()
        self._poll.register(self._master, select.POLLIN)
        self.has_client = False  # as of the last step

    def serve(self, stop: threading.Event | None = None) -> None:
        """Run machine and port until ``stop`` is set (None: until interrupted)."""
        while stop is None or not stop.is_set():
            self.step()

    def step(self) -> None:
        """One tick: look who is there, carry bytes both ways, let the machine live on."""
        hung_up = any(event & select.POLLHUP for _, event in self._poll.poll(0))
        if not hung_up and not self.has_client and self._resets_on_open:
            self._machine.take_bytes()  # what it said before belongs to nobody
            self._machine.reset()
        # Even of a client that is gone already: its last word may be a stop.
        while data := self._from_client():
            self._link.write(data)
        if hung_up and self.has_client:
            self._tidy_other_end()
        self.has_client = not hung_up
        data = self._link.read(self._tick_s)
        if data and self.has_client:
            self._to_client(data)

    def close(self) -> None:
        """Take the port away; a client finds its link lost."""
        if self._master >= 0:
            os.close(self._master)
            self._master = -1

    def __enter__(self) -> PtyServer:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _from_client(self) -> bytes:
        try:
            return os.read(self._master, CLIENT_BYTES_MAX)
        except OSError:  # nothing there, or the client went away just now
            return b""

    def _to_client(self, data: bytes) -> None:
        try:
            taken = os.write(self._master, data)
            if taken == len(data):
                return
        except BlockingIOError:
            taken = 0
        except OSError:  # the client went away just now
            return
        # The client does not read. What waits in the kernel is older than what comes now.
        termios.tcflush(self._master, termios.TCOFLUSH)
        try:
            os.write(self._master, data[taken:])
        except OSError:
            return

    def _tidy_other_end(self) -> None:
        """No echo, no line editing, no bytes left over from the last client.

        The kernel forgets the settings when the last client closes, and keeps unread bytes.
        """
        try:
            other_end = os.open(self.path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        except OSError:  # the next client is there already, and wants it for itself
            return
        try:
            tty.setraw(other_end, termios.TCSANOW)
            termios.tcflush(other_end, termios.TCIOFLUSH)
        finally:
            os.close(other_end)
