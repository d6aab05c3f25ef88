"""A frame made and read, beside the ``cobs`` package with ``zlib`` and ``struct``; each frame another."""

from __future__ import annotations

import zlib
from collections.abc import Iterator

from cobs import cobs

from firmware_protocol.framing import FrameReader, encode_frame
from firmware_protocol.messages import Status
from firmware_protocol.wire import LAYOUT_OF, unpack
from tests.benchmarks.lines import Line, core_s

FRAMES = 20_000
STATUS = LAYOUT_OF[Status]
PAYLOADS = [
    STATUS.struct.pack(2, 1, 0, 11, n, 0, 333_000, 4000 + n, 0, 1, 77, 1, 50 * n, 9, 0)
    for n in range(FRAMES)
]
WHOLE = [encode_frame(STATUS.kind, 0, payload) for payload in PAYLOADS]


def lines() -> Iterator[Line]:
    us = 1e6 / FRAMES
    yield Line("frame made", us * core_s(_make), "us", us * core_s(_make_by_cobs), "cobs, zlib")
    yield Line("frame read", us * core_s(_read), "us", us * core_s(_read_by_cobs), "cobs, zlib")
    made = [us * core_s(way) for way in (_unpack, _unpack_by_struct)]
    yield Line("status of its payload", made[0], "us", made[1], "struct, a tuple only")


def _make() -> None:
    for payload in PAYLOADS:
        encode_frame(STATUS.kind, 0, payload)


def _make_by_cobs() -> None:
    head = bytes((STATUS.kind, 0))
    for payload in PAYLOADS:
        body = head + payload
        cobs.encode(body + zlib.crc32(body).to_bytes(4, "little")) + b"\0"


def _read() -> None:
    reader = FrameReader()
    for data in WHOLE:
        assert reader.feed(data)


def _read_by_cobs() -> None:
    for data in WHOLE:
        body = cobs.decode(data[:-1])
        assert zlib.crc32(body[:-4]) == int.from_bytes(body[-4:], "little")


def _unpack() -> None:
    for payload in PAYLOADS:
        unpack(STATUS.kind, payload)


def _unpack_by_struct() -> None:
    for payload in PAYLOADS:
        STATUS.struct.unpack(payload)
