"""Frames: COBS against the paper and an independent package, the CRC, and a reader that nothing can break.

Sources: COBS: S. Cheshire, M. Baker, IEEE/ACM Transactions on Networking 7 (1999), and the package ``cobs``;
CRC-32: IEEE 802.3, its usual check value over "123456789".
"""

import zlib

import pytest
from cobs import cobs
from golden_reading import independent_frame, streams, stuffings
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol.framing import (
    FRAME_BYTES_MAX,
    Frame,
    FrameReader,
    cobs_decode,
    cobs_encode,
    encode_frame,
)
from firmware_protocol.wire import PAYLOAD_BYTES_MAX

byte = st.integers(0, 255)
frames = st.builds(Frame, byte, byte, st.binary(max_size=PAYLOAD_BYTES_MAX))
STOP = Frame(0x03, 0, b"")
STOP_BYTES = bytes.fromhex("02 03 05 3c 41 f4 6a 00")


def encoded(frame: Frame) -> bytes:
    return encode_frame(frame.kind, frame.sequence, frame.payload)


def read(*chunks: bytes) -> tuple[list[Frame], tuple[int, int, int]]:
    reader = FrameReader()
    found = [frame for chunk in chunks for frame in reader.feed(chunk)]
    return found, (reader.counts.good, reader.counts.damaged, reader.counts.overlong)


def is_subsequence(found: list[Frame], sent: list[Frame]) -> bool:
    rest = iter(sent)
    return all(frame in rest for frame in found)


def test_the_crc_has_the_check_value_of_ieee_802_3():
    assert zlib.crc32(b"123456789") == 0xCBF43926


@pytest.mark.parametrize(("plain", "stuffed"), stuffings())
def test_stuffing_is_as_published(plain, stuffed):
    assert cobs_encode(plain) == stuffed
    assert cobs_decode(stuffed) == plain


@given(st.binary(max_size=253))
def test_stuffing_agrees_with_an_independent_package(data):
    assert cobs_encode(data) == cobs.encode(data)
    assert cobs_decode(cobs.encode(data)) == data


@given(st.lists(st.integers(1, 70), min_size=1, max_size=253).map(bytes))
def test_unstuffing_accepts_and_refuses_what_an_independent_package_does(stuffed):
    try:
        due = cobs.decode(stuffed)
    except cobs.DecodeError:
        with pytest.raises(ValueError):
            cobs_decode(stuffed)
    else:
        assert cobs_decode(stuffed) == due


@given(frames)
def test_a_frame_is_what_the_specification_says(frame):
    data = encoded(frame)
    assert data == independent_frame(frame.kind, frame.sequence, frame.payload)
    assert len(data) <= FRAME_BYTES_MAX
    assert data.index(0) == len(data) - 1


def test_the_longest_payload_fills_a_frame_exactly():
    frame = Frame(0x41, 1, bytes(PAYLOAD_BYTES_MAX))
    assert len(encoded(frame)) == FRAME_BYTES_MAX == 64
    assert read(encoded(frame)) == ([frame], (1, 0, 0))


@pytest.mark.parametrize("stream", streams(), ids=lambda stream: stream.name)
def test_damage_is_met_as_written_down(stream):
    found, counts = read(stream.bytes)
    assert counts == (stream.good, stream.damaged, stream.overlong)
    assert found == [STOP] * stream.good


@given(st.lists(frames, max_size=6), st.data())
def test_how_bytes_arrive_does_not_matter(sent, data):
    stream = b"".join(encoded(frame) for frame in sent)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=12)))
    chunks = [stream[a:b] for a, b in zip([0, *cuts], [*cuts, len(stream)], strict=True)]
    assert read(*chunks) == (sent, (len(sent), 0, 0))


@given(st.lists(st.binary(max_size=150), max_size=8))
def test_how_garbage_arrives_does_not_matter(chunks):
    stream = b"".join(chunks)
    assert read(*chunks) == read(stream) == read(*(bytes([one]) for one in stream))


@given(frames, st.binary(max_size=300), frames)
def test_whatever_lies_between_two_frames_costs_neither(first, garbage, second):
    found, _ = read(encoded(first), garbage, b"\0", encoded(second))
    assert found[0] == first
    assert found[-1] == second
    assert len(found) >= 2


damage = st.lists(
    st.tuples(st.sampled_from(["flip", "cut", "insert", "repeat"]), st.integers(0, 400), byte),
    min_size=1,
    max_size=6,
)


def damaged(stream: bytes, hurts: list[tuple[str, int, int]]) -> bytes:
    data = bytearray(stream)
    for how, place, value in hurts:
        at = place % (len(data) + 1)
        if how == "flip" and at < len(data):
            data[at] ^= 1 << value % 8
        elif how == "cut":
            del data[at : at + 1 + value % 9]
        elif how == "insert":
            data.insert(at, value)
        elif how == "repeat":
            data[at:at] = data[at : at + value % 40]
    return bytes(data)


# Bytes that repeat may repeat a whole frame: only the other hurts leave a subsequence of what was sent.
@given(st.lists(frames, min_size=1, max_size=5), damage, frames)
def test_after_any_damage_the_frame_behind_the_next_zero_is_read(sent, hurts, last):
    stream = damaged(b"".join(encoded(frame) for frame in sent), hurts)
    found, _ = read(stream, b"\0", encoded(last))
    assert found[-1] == last
    assert set(found) <= {*sent, last}, "a frame came out that nobody sent"
    if not any(how == "repeat" for how, _, _ in hurts):
        assert is_subsequence(found, [*sent, last])


@given(frames, st.data())
def test_one_wrong_byte_never_passes(frame, data):
    stream = bytearray(encoded(frame))
    at = data.draw(st.integers(0, len(stream) - 2))
    stream[at] ^= data.draw(st.integers(1, 255))
    found, counts = read(bytes(stream))
    assert found == []
    assert counts[0] == 0


@given(st.lists(st.binary(max_size=200), max_size=6))
def test_every_run_of_bytes_is_counted_once(chunks):
    stream = b"".join(chunks)
    _, counts = read(*chunks, b"\0")
    assert sum(counts) == sum(1 for run in stream.split(b"\0") if run)


@pytest.mark.parametrize("size", [1, 63, 64, 65, 100_000])
def test_the_reader_holds_one_frame_and_no_more(size):
    reader = FrameReader()
    for _ in range(200):
        reader.feed(b"\x01" * size)
        assert len(reader._buffer) < FRAME_BYTES_MAX
    assert reader.counts.overlong == 1
    assert reader.feed(b"\0" + STOP_BYTES) == [STOP]
