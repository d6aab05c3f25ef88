"""Frames: COBS with a zero delimiter around kind, sequence, payload and CRC-32.

COBS (consistent overhead byte stuffing, Cheshire and Baker, IEEE/ACM Trans. Networking 7, 1999)
leaves no zero byte inside a frame, so a reader that lost its place finds it again at the next zero.
The check is the CRC-32 of IEEE 802.3 (check value of ``123456789``: 0xCBF43926), little-endian.
A whole frame with its delimiter never exceeds ``FRAME_BYTES_MAX``.
"""

from __future__ import annotations

import dataclasses
import zlib
from functools import lru_cache
from typing import Any

from .records import dataclass
from .wire import LAYOUT_OF, PAYLOAD_BYTES_MAX, pack

FRAME_BYTES_MAX = 64  # fits the smallest board's receive buffer twice
BODY_BYTES_MIN = 6  # kind, sequence, four bytes of CRC
BODY_BYTES_MAX = BODY_BYTES_MIN + PAYLOAD_BYTES_MAX
STUFFED_BYTES_MAX = FRAME_BYTES_MAX - 1  # without the delimiter
NEWEST = 32  # frames remembered: in a rehearsal both ends, and whoever stands between, meet the same ones
_CODES = tuple(bytes((length + 1,)) for length in range(254))


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame that passed its CRC."""

    kind: int
    sequence: int
    payload: bytes


def cobs_encode(data: bytes) -> bytes:
    """COBS of at most 253 bytes (all that a frame can hold); no delimiter."""
    assert len(data) < 254
    parts = data.split(b"\0")  # most are empty: what a message says is mostly small numbers
    return b"".join([_CODES[len(part)] + part if part else b"\1" for part in parts])


def cobs_decode(data: bytes) -> bytes:
    """The inverse of :func:`cobs_encode`. Raises ``ValueError`` for what no encoder writes."""
    size, body, place = len(data), bytearray(data), 0
    while place < size:  # every code becomes the zero it stands for; the first stands for none
        code = body[place]
        if code == 0:
            raise ValueError("a COBS code is never nought")
        body[place] = 0
        place += code
    if place != size:
        raise ValueError("COBS code points past the end")
    return bytes(body[1:])


@lru_cache(NEWEST)
def encode_frame(kind: int, sequence: int, payload: bytes) -> bytes:
    """A whole frame, delimiter included."""
    assert len(payload) <= PAYLOAD_BYTES_MAX
    body = bytes((kind, sequence)) + payload
    return cobs_encode(body + zlib.crc32(body).to_bytes(4, "little")) + b"\0"


def encode_message(message: Any, sequence: int = 0) -> bytes:
    """A message of the register as a whole frame."""
    return encode_frame(LAYOUT_OF[type(message)].kind, sequence, pack(message))


@dataclasses.dataclass(slots=True)
class FrameCounts:
    """What a reader has met so far; every run of bytes up to a zero is exactly one of these.

    Zeros next to each other are no frame and are not counted.
    """

    good: int = 0
    damaged: int = 0  # delimited, but COBS, length or CRC was wrong
    overlong: int = 0  # more than a frame holds without a delimiter


class FrameReader:
    """Incremental reader with a bounded buffer: any bytes in, whole frames out, never an error."""

    def __init__(self) -> None:
        self._buffer = bytearray()
        self._skipping = False  # inside an overlong run, until the next delimiter
        self.counts = FrameCounts()

    def feed(self, data: bytes) -> list[Frame]:
        """Take bytes, return the frames they complete, oldest first."""
        frames: list[Frame] = []
        if not data:
            return frames
        *whole, rest = data.split(b"\0")
        for piece in whole:
            if self._buffer or self._skipping or len(piece) > STUFFED_BYTES_MAX:
                self._take(piece)
                piece = bytes(self._buffer)
                self._buffer.clear()
                self._skipping = False
            if piece:
                frame = self._decode(piece)
                if frame is not None:
                    frames.append(frame)
        if rest:
            self._take(rest)
        return frames

    def _take(self, piece: bytes) -> None:
        if self._skipping:
            return
        self._buffer += piece[:FRAME_BYTES_MAX]  # one more than fits is enough to know
        if len(self._buffer) > STUFFED_BYTES_MAX:
            self._buffer.clear()
            self._skipping = True
            self.counts.overlong += 1

    def _decode(self, stuffed: bytes) -> Frame | None:
        frame = decode_frame(stuffed)
        if frame is None:
            self.counts.damaged += 1
        else:
            self.counts.good += 1
        return frame


@lru_cache(NEWEST)
def decode_frame(stuffed: bytes) -> Frame | None:
    """What lay between two delimiters; None if COBS, length or CRC is wrong."""
    try:
        body = cobs_decode(stuffed)
    except ValueError:
        return None
    if len(body) < BODY_BYTES_MIN or zlib.crc32(body[:-4]) != int.from_bytes(body[-4:], "little"):
        return None
    return Frame(body[0], body[1], body[2:-4])
