"""A board on a serial port, or on anything pyserial has an address for.

A cable can go at any moment, and then every call fails in its own way: ``SerialException``,
``OSError``, ``termios.error`` (which is no ``OSError``), ``TypeError`` from a port that was closed
under a reader. One wrapper turns them all into ``LinkLost``. Opening resets many boards; what a board
said before the opening is dropped. The port is never opened at 1200 baud (some boards take that as
the order to erase themselves) and DTR is never held low (that holds some boards in reset).
500000 baud is exact on the usual 16 MHz board; 115200 is 2.1 % off there and only the fallback for
adapters that cannot do better.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import serial
from serial.urlhandler import protocol_socket

from firmware_protocol.seam import LinkLost
from winder.errors import UserMistake, WinderError
from winder.links.opening import busy, check_port, is_address, opening_trouble
from winder.links.port_lock import PortBusy, PortLock
from winder.links.ports import BY_ID, names_of

try:
    import termios

    _TROUBLES: tuple[type[Exception], ...] = (OSError, TypeError, ValueError, termios.error)
except ImportError:  # Windows
    _TROUBLES = (OSError, TypeError, ValueError)

BAUD = 500_000
BAUD_FALLBACK = 115_200
BAUD_MIN = 9_600
WRITE_WAIT_S = 1.0  # a port that takes nothing for as long as a lease lasts is gone
CONNECT_WAIT_S = 2.0  # for an address to answer; pyserial waits 5 s, too long for a loop
READ_BYTES_MAX = 4096  # of one read, so that a flood cannot hold the loop

protocol_socket.POLL_TIMEOUT = CONNECT_WAIT_S


def open_serial(
    port: str,
    baud: int = BAUD,
    *,
    fallback_baud: int | None = BAUD_FALLBACK,
    lock_folder: Path | None = None,
) -> SerialLink:
    """Open a device path or a pyserial address, for us alone.

    ``fallback_baud`` is tried when the port itself refuses ``baud``; ``SerialLink.baud`` says what
    became of it. Raises ``UserMistake`` or ``WinderError`` with the port as ``where``.
    """
    lock = PortLock(lock_folder)
    try:
        return SerialLink(open_device(port, lock, baud, fallback_baud), port, lock)
    except BaseException:
        lock.release()
        raise


def open_device(
    port: str, lock: PortLock, baud: int, fallback_baud: int | None, by_id: Path = BY_ID
) -> serial.SerialBase:
    """An open port under ``lock``, which keeps what it held if the port cannot be had.

    Raises like ``open_serial``.
    """
    for speed in (baud, fallback_baud):
        if speed is not None and speed < BAUD_MIN:
            raise UserMistake(
                f"{speed} baud is too slow, and some boards take it as an order to erase themselves",
                where=port,
                remedy=f"use {BAUD} or {BAUD_FALLBACK}",
            )
    check_port(port)
    device = _unopened(port, baud)
    _hold(lock, port, device, by_id)
    try:
        _open_device(device, None if is_address(port) else fallback_baud)
    except _TROUBLES as error:
        raise opening_trouble(port, error) from error
    return device


def _open_device(device: serial.SerialBase, fallback_baud: int | None) -> None:
    try:
        device.open()
    except _TROUBLES as error:
        # Only a port that was reached and then refused the speed is worth a second try.
        refused_speed = isinstance(error, ValueError) or "baud" in str(error).lower()
        if fallback_baud is None or not refused_speed:
            raise
        device.baudrate = fallback_baud
        device.open()


def _unopened(port: str, baud: int) -> serial.SerialBase:
    try:
        return serial.serial_for_url(
            port,
            do_not_open=True,
            baudrate=baud,
            exclusive=None if os.name == "nt" else True,
            write_timeout=WRITE_WAIT_S,
        )
    except _TROUBLES as error:
        raise opening_trouble(port, error) from error


def _hold(lock: PortLock, port: str, device: serial.SerialBase, by_id: Path) -> None:
    # ``device.port`` is the path behind addresses that wrap a device. Links lead to one device.
    target = str(device.port or port)
    if target.lower().startswith("loop://"):
        return  # every loop is its own
    try:
        lock.take([target] if is_address(target) else names_of(target, by_id))
    except PortBusy as error:
        raise busy(port, error.holder) from None
    except OSError as error:
        raise WinderError(
            f"its lock cannot be kept ({error.strerror})",
            where=port,
            remedy="make the folder of the lock writable for you",
        ) from error


class SerialLink:
    """A ``Link`` over an open pyserial port. ``read`` waits in real time."""

    def __init__(self, device: serial.SerialBase, port: str, lock: PortLock | None = None) -> None:
        self.port = port
        self.baud = int(device.baudrate)
        self._device = device
        self._lock = lock
        self._lost = ""  # why the link is gone; once set it stays

    def read(self, timeout_s: float) -> bytes:
        with self._losing():
            if self._device.timeout != timeout_s:  # setting it costs system calls
                self._device.timeout = timeout_s
            data = bytearray(self._device.read(1))
        if data:
            with suppress(LinkLost):  # what came before the end is handed on; the next read tells
                self._read_waiting(data)
        elif self._lost:
            raise LinkLost(self._lost)
        return bytes(data)

    def write(self, data: bytes) -> None:
        with self._losing():
            self._device.write(data)

    def close(self) -> None:
        """Let go of the port; more than once does no harm, nor does a reader in another thread."""
        self._lost = self._lost or "the port was closed"
        try:
            if hasattr(self._device, "cancel_read") and self._device.is_open:
                self._device.cancel_read()
            self._device.close()
        except _TROUBLES:
            pass  # the device is gone already
        if self._lock is not None:
            self._lock.release()

    def abandon(self) -> None:
        """Close without waiting for what could not be sent: the system may wait half a minute for it."""
        with suppress(*_TROUBLES):
            self._device.reset_output_buffer()
        self.close()

    def _read_waiting(self, data: bytearray) -> None:
        """All that is here already. A socket only says *that* something waits, so ask again."""
        with self._losing():
            while len(data) < READ_BYTES_MAX and (waiting := self._device.in_waiting):
                data += self._device.read(min(waiting, READ_BYTES_MAX - len(data)))

    @contextmanager
    def _losing(self) -> Iterator[None]:
        """Whatever goes wrong inside means that the link is gone, from now on."""
        if self._lost:
            raise LinkLost(self._lost)
        try:
            yield
        except _TROUBLES as error:
            self._lost = self._lost or str(error) or type(error).__name__
            raise LinkLost(self._lost) from error
