"""A serial link that outlives its cable: a port that was lost is opened again, under its lasting name.

A cable is knocked out, an adapter is reset, a bridge ends and starts again. The wind is not over then: the
board came to rest by itself and still holds its count. So the port is tried again, at most once a second
and never in a thread of its own: each ``read`` does what is due, for about as long as it was told to.

Opening a port resets many boards. A board that is still coming to rest, or writing down what it counted,
must not be reset, so nothing is opened before ``not_before_ns``. Whoever sends signs of life moves it on:
the last one, and the time that the board's lease, its stopping and its writing may take after it. Until
the first such word nothing is ever opened again.

A port is found again by its lasting name: the link that was given, or the one below ``/dev/serial/by-id``
that leads to it, for device names are dealt out anew each time. What answers there may still be another
board, or the same one after a reset: ``reopened`` has risen, and greeting it is the caller's business. Our
lock is held all the while, so no second host of this user slips in. The port is opened as at first, never
at a speed that erases boards, with DTR left as opening leaves it.
"""

from __future__ import annotations

from pathlib import Path

from firmware_protocol.seam import Clock, LinkLost
from winder.clock import NS_PER_S
from winder.errors import WinderError
from winder.links.port_lock import PortLock
from winder.links.ports import BY_ID, lasting_name
from winder.links.serial_link import BAUD, BAUD_FALLBACK, SerialLink, open_device

TRY_PERIOD_S = 1.0  # a board that resets at every opening must get some way into its start


class ReopeningLink:
    """A ``Link`` over a serial port or an address, which opens again what was lost.

    ``read`` gives nothing while the port is not open, and takes its time from the clock; what is written
    then is dropped. Only ``close`` makes both raise ``LinkLost``. Opening an address may hold a ``read`` up
    for ``CONNECT_WAIT_S``, any other port for no time worth telling.
    """

    def __init__(
        self,
        port: str,
        clock: Clock,
        baud: int = BAUD,
        *,
        fallback_baud: int | None = BAUD_FALLBACK,
        lock_folder: Path | None = None,
        by_id: Path = BY_ID,
    ) -> None:
        """Opens the port for the first time; raises as ``open_serial`` does."""
        self.not_before_ns: int | None = None  # by the clock: the earliest opening; None: never
        self.reopened = 0  # how often, so far
        self.why_closed = ""  # why the port is not open, the newest reason
        self.port = lasting_name(port, by_id)
        self._clock = clock
        self._by_id = by_id
        self._next_try_ns = 0
        self._closed = False  # by the caller, for good
        self._lock = PortLock(lock_folder)
        try:
            device = open_device(port, self._lock, baud, fallback_baud, by_id)
        except BaseException:
            self._lock.release()
            raise
        self._link: SerialLink | None = SerialLink(device, port)
        self.baud = self._link.baud  # and never another: the board keeps to it as well

    @property
    def open(self) -> bool:
        return self._link is not None

    def read(self, timeout_s: float) -> bytes:
        end_ns = self._clock.now_ns() + round(timeout_s * NS_PER_S)
        while True:
            self._check()
            now_ns = self._clock.now_ns()
            if self._link is None and (due_ns := self._due_ns()) is not None and now_ns >= due_ns:
                self._try()
            if self._link is not None:
                try:
                    return self._link.read(max(0, end_ns - self._clock.now_ns()) / NS_PER_S)
                except LinkLost as lost:
                    self._lose(lost)
            if (now_ns := self._clock.now_ns()) >= end_ns:
                return b""
            due_ns = self._due_ns()
            until_ns = end_ns if due_ns is None else min(end_ns, max(due_ns, now_ns))
            self._clock.sleep_s((until_ns - now_ns) / NS_PER_S)

    def write(self, data: bytes) -> None:
        self._check()
        if self._link is not None:
            try:
                self._link.write(data)
            except LinkLost as lost:
                self._lose(lost)

    def close(self) -> None:
        """Let go of the port and its lock; more than once does no harm."""
        self._closed = True
        self.why_closed = self.why_closed or "the port was closed"
        link, self._link = self._link, None
        if link is not None:
            link.close()
        self._lock.release()

    def _check(self) -> None:
        if self._closed:
            raise LinkLost("the port was closed")

    def _due_ns(self) -> int | None:
        """When the next try may be made; None: not until the caller has said something."""
        if self.not_before_ns is None:
            return None
        return max(self.not_before_ns, self._next_try_ns)

    def _lose(self, lost: LinkLost) -> None:
        self.why_closed = str(lost)
        link, self._link = self._link, None
        if link is not None:
            link.abandon()  # at once, or the adapter comes back under another device name
        self._put_off()

    def _try(self) -> None:
        try:
            device = open_device(self.port, self._lock, self.baud, None, self._by_id)
        except (WinderError, OSError) as error:
            self.why_closed = str(error)
            self._put_off()
            return
        self._link = SerialLink(device, self.port)
        self.reopened += 1
        self.why_closed = ""
        if self._closed:  # meanwhile, in another thread
            self.close()

    def _put_off(self) -> None:
        self._next_try_ns = self._clock.now_ns() + round(TRY_PERIOD_S * NS_PER_S)
