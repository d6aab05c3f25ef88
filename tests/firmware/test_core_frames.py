"""The frames of the C core against vectors that were written by hand, and the specification's session.

The vectors are those of ``tests/protocol/golden``; their reading builds on nothing of this project. That the
fields come out right in C is tested with the generated header.
"""

from __future__ import annotations

import ctypes
import sys
import zlib
from pathlib import Path

import pytest
from host.core import load, needs_compiler
from host.scripted import Both, ScriptedCore

from firmware_protocol.body import Facts, Identity, KeptRecord
from firmware_protocol.framing import encode_message
from firmware_protocol.messages import Alive, Has

sys.path.insert(0, str(Path(__file__).parents[1] / "protocol"))
from golden_reading import documented_frames, streams, stuffings, vectors

pytestmark = needs_compiler

COBS_BAD = 255


class CReader(ctypes.Structure):
    _fields_ = (
        ("bytes", ctypes.c_uint8 * 63),
        ("length", ctypes.c_uint8),
        ("skipping", ctypes.c_bool),
        ("payload_bytes", ctypes.c_uint8),
        ("good", ctypes.c_uint16),
        ("damaged", ctypes.c_uint16),
        ("overlong", ctypes.c_uint16),
    )


class Frames:
    def __init__(self) -> None:
        self.library = load("libboard.so")
        self.library.crc32.restype = ctypes.c_uint32
        self.library.cobs_encode.restype = ctypes.c_uint8
        self.library.cobs_decode.restype = ctypes.c_uint8
        self.library.frame_write.restype = ctypes.c_uint8
        self.library.frame_take.restype = ctypes.c_bool

    def crc32(self, data: bytes, before: int = 0) -> int:
        return self.library.crc32(ctypes.c_uint32(before), data, ctypes.c_uint8(len(data)))

    def stuffed(self, plain: bytes) -> bytes:
        to = (ctypes.c_uint8 * 255)()
        return bytes(to[: self.library.cobs_encode(to, plain, ctypes.c_uint8(len(plain)))])

    def plain(self, stuffed: bytes) -> bytes | None:
        inside = (ctypes.c_uint8 * 255)(*stuffed)
        length = self.library.cobs_decode(inside, ctypes.c_uint8(len(stuffed)))
        return None if length == COBS_BAD else bytes(inside[:length])

    def written(self, kind: int, sequence: int, payload: bytes) -> bytes:
        to = (ctypes.c_uint8 * 64)()
        numbers = [ctypes.c_uint8(n) for n in (kind, sequence)]
        length = self.library.frame_write(to, *numbers, payload, ctypes.c_uint8(len(payload)))
        return bytes(to[:length])

    def read(self, data: bytes) -> tuple[CReader, list[tuple[int, int, bytes]]]:
        reader, found = CReader(), []
        for byte in data:
            if self.library.frame_take(ctypes.byref(reader), ctypes.c_uint8(byte)):
                payload = bytes(reader.bytes[2 : 2 + reader.payload_bytes])
                found.append((reader.bytes[0], reader.bytes[1], payload))
        return reader, found


@pytest.fixture(scope="module")
def frames() -> Frames:
    return Frames()


def test_the_check_value_of_the_crc(frames):
    assert frames.crc32(b"123456789") == 0xCBF43926  # the usual check value, IEEE 802.3
    assert frames.crc32(b"6789", frames.crc32(b"12345")) == 0xCBF43926


def test_the_crc_of_every_byte_is_that_of_zlib(frames):
    for byte in range(256):
        data = bytes((byte, 0, 255 - byte))
        assert frames.crc32(data) == zlib.crc32(data)


@pytest.mark.parametrize("vector", vectors(), ids=lambda v: v.name)
def test_golden_frames_are_written_and_read(frames, vector):
    assert frames.written(vector.kind, vector.sequence, vector.payload) == vector.bytes
    assert frames.crc32(bytes((vector.kind, vector.sequence)) + vector.payload) == vector.crc
    _, found = frames.read(vector.bytes)
    assert found == [(vector.kind, vector.sequence, vector.payload)]


@pytest.mark.parametrize("stream", streams(), ids=lambda s: s.name)
def test_damaged_streams_are_read_as_written_down(frames, stream):
    reader, found = frames.read(stream.bytes)
    counts = (reader.good, reader.damaged, reader.overlong)
    assert counts == (stream.good, stream.damaged, stream.overlong)
    assert len(found) == stream.good


def test_stuffing_both_ways(frames):
    for plain, stuffed in stuffings():
        assert frames.stuffed(plain) == stuffed
        assert frames.plain(stuffed) == plain


def test_stuffing_that_points_past_the_end_is_bad(frames):
    for stuffed in (b"\x02", b"\x05\x01\x02\x03", b"\xff\x01", b"\x01\x03\x01"):
        assert frames.plain(stuffed) is None


def test_the_specifications_session_is_answered_with_its_bytes():
    pages = documented_frames()
    bench = Identity(
        board="bench",
        groups=(1, 1, 1, 1, 0, 0),
        has=Has.BRAKE | Has.GUARD | Has.WIRE_SENSOR,
        legs_max=8,
        rate_max_mcps=2_000_000,
        edge_rate_max_cps=20_000,
        settings_hash=0xCAFEBABE,
        cut_ms=2000,
        rest_ms=5000,
    )
    kept = KeptRecord(0xDEADBEEF, 2000, True, True)
    both = Both(ScriptedCore(), bench, boot=7, now_ms=0, kept=kept, facts=Facts())

    def at(now_ms: int, data: bytes) -> bytes:
        both.now_ms = now_ms
        return both.receive(data)

    assert at(1000, pages["hello"]) == pages["welcome"]
    assert at(1010, pages["open-wind"]) == pages["open-answer"]
    for name in ("traverse-mark", "plan-begin", "plan-leg-0", "plan-leg-1"):
        assert at(1020, pages[name]) != b""
    assert at(1030, pages["plan-commit"]) == pages["commit-answer"]
    assert at(1040, pages["alive"]) == b""
    assert at(1050, pages["start"]) == pages["start-answer"]
    both.tell(at_rest=False)
    for now_ms in range(1500, 61_000, 500):
        if now_ms == 58_000:
            both.tell(count=1600)
        at(now_ms, encode_message(Alive(0x12345678, now_ms)))
    both.tell(count=8000, rate_mcps=1_999_500, traverse_um=7535, traverse_rightward=False)
    assert both.tick(500) == pages["status"]
    assert at(61_010, pages["settle-number"]) == pages["settle-answer"]
    assert at(61_020, pages["start-again"]) == pages["refused"]
    assert at(61_030, pages["stop"]) == pages["stop-answer"]
    assert at(61_040, pages["cut"]) == pages["cut-answer"]
