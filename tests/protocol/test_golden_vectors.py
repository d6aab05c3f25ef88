"""Frames written down by hand, in ``golden/`` and in the specification, against packing and reading.

The files hold values, payloads and frames that did not come from this project's code: payloads by hand from
the specification, CRC by zlib, stuffing by the package ``cobs``. So two mirrored bugs cannot agree.
"""

import dataclasses
import re
import zlib

import pytest
from golden_reading import (
    SPECIFICATION,
    documented_frames,
    independent_body,
    independent_frame,
    vectors,
)

from firmware_protocol import messages as m
from firmware_protocol.framing import Frame, FrameReader, encode_message
from firmware_protocol.wire import LAYOUT_OF, REGISTER, pack, unpack

VECTORS = vectors()
by_vector = pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector.name)

TOKEN = 0x12345678
WIND = 0x0BADF00D
LEG = {
    "token": TOKEN,
    "generation": 1,
    "spindle": 1,
    "accel_mcps2": 200_000,
    "creep_mcps": 4000,
    "coast_counts": 0,
    "pitch_nm": 47_000,
    "pitch_counts": 16,
    "left_um": 500,
    "right_um": 8000,
    "dwell_counts": 4,
    "scatter_seed": 0,
}
GUARDED = {"token": TOKEN, "boot": 7, "wind": WIND}
# name of the block in the specification: kind, sequence, and every field of the message, by hand
DOCUMENTED: dict[str, tuple[int, int, dict[str, object]]] = {
    "stop": (0x03, 0, {}),
    "hello": (0x01, 0, {"base_version": 1, "token": TOKEN}),
    "welcome": (
        0x81,
        0,
        {
            "base_version": 1,
            "token": TOKEN,
            "boot": 7,
            "uptime_ms": 1000,
            "board": "bench",
            "groups": bytes([1, 1, 1, 1, 0, 0]),
            "has": m.Has.BRAKE | m.Has.GUARD | m.Has.WIRE_SENSOR,
            "legs_max": 8,
            "rate_max_mcps": 2_000_000,
            "edge_rate_max_cps": 20_000,
            "settings_hash": 0xCAFEBABE,
            "kept_wind": 0xDEADBEEF,
            "kept_count": 2000,
            "kept_flags": m.Kept.VALID | m.Kept.AT_REST,
            "cut_ms": 2000,
            "rest_ms": 5000,
        },
    ),
    "open-wind": (0x10, 1, {"token": TOKEN, "boot": 7, "revision": 1, "wind": WIND}),
    "open-answer": (0x83, 1, {"to": 0x10, "verdict": 0, "revision": 2, "detail": 0}),
    "traverse-mark": (0x31, 2, GUARDED | {"revision": 2, "side": m.Side.LEFT, "at_um": 0}),
    "plan-begin": (0x40, 3, GUARDED | {"revision": 2, "generation": 1, "legs": 2}),
    "plan-leg-0": (
        0x41,
        4,
        LEG
        | {"index": 0, "end_action": m.EndAction.CONTINUE, "end_count": 1600, "rate_mcps": 500_000},
    ),
    "plan-leg-1": (
        0x41,
        5,
        LEG
        | {
            "index": 1,
            "end_action": m.EndAction.COMPLETE,
            "end_count": 128_000,
            "rate_mcps": 2_000_000,
        },
    ),
    "plan-commit": (0x42, 6, GUARDED | {"revision": 2, "generation": 1, "checksum": 0xDA6CF641}),
    "commit-answer": (0x83, 6, {"to": 0x42, "verdict": 0, "revision": 3, "detail": 0}),
    "alive": (0x02, 0, {"token": TOKEN, "number": 42}),
    "start": (0x20, 7, GUARDED | {"revision": 3, "generation": 1}),
    "start-answer": (0x83, 7, {"to": 0x20, "verdict": 0, "revision": 4, "detail": 0}),
    "status": (
        0x82,
        0,
        {
            "state": m.State.WINDING,
            "reason": m.Reason.NONE,
            "trip": m.Trip.NONE,
            "flags": m.Flag.LEASE_LIVE | m.Flag.DRIVEN | m.Flag.WIRE_PRESENT | m.Flag.REFERENCED,
            "count": 8000,
            "unattributed": 0,
            "rate_mcps": 1_999_500,
            "traverse_um": 7535,
            "leg": 1,
            "generation": 1,
            "wind": WIND,
            "boot": 7,
            "uptime_ms": 61_000,
            "revision": 4,
            "implausible": 0,
        },
    ),
    "settle-number": (0x13, 8, {"token": TOKEN}),
    "settle-answer": (0x83, 8, {"to": 0x13, "verdict": 0, "revision": 4, "detail": 0}),
    "start-again": (0x20, 9, GUARDED | {"revision": 4, "generation": 1}),
    "refused": (
        0x83,
        9,
        {"to": 0x20, "verdict": m.Verdict.WRONG_STATE, "revision": 4, "detail": 0},
    ),
    "stop-answer": (0x83, 0, {"to": 0x03, "verdict": m.Verdict.DONE, "revision": 5, "detail": 0}),
    "cut": (0x23, 0, {}),
    "arm-pedal": (0x50, 7, GUARDED | {"revision": 3, "generation": 1}),
    "arm-answer": (0x83, 7, {"to": 0x50, "verdict": m.Verdict.DONE, "revision": 3, "detail": 0}),
    "pedal-ready": (0xD0, 0, {"flags": 0b011, "revision": 3}),
    "pedal-winds": (0xD0, 0, {"flags": 0b101, "revision": 4}),
    "traverse-home": (
        0x32,
        2,
        GUARDED | {"revision": 2, "at_um": -12500, "rate_um_s": 20_000, "accel_um_s2": 50_000},
    ),
    "home-answer": (0x83, 2, {"to": 0x32, "verdict": 0, "revision": 3, "detail": 0}),
    "traverse-move": (
        0x33,
        3,
        GUARDED | {"revision": 5, "distance_um": 12500, "rate_um_s": 20_000, "accel_um_s2": 50_000},
    ),
    "move-answer": (0x83, 3, {"to": 0x33, "verdict": 0, "revision": 6, "detail": 0}),
    "cut-answer": (0x83, 0, {"to": 0x23, "verdict": m.Verdict.DONE, "revision": 5, "detail": 0}),
}


def values_of(message: object) -> dict[str, object]:
    return {field.name: getattr(message, field.name) for field in dataclasses.fields(message)}


def test_every_message_has_a_golden_frame():
    assert {vector.message for vector in VECTORS} == {cls.__name__ for cls in LAYOUT_OF}
    assert len({vector.name for vector in VECTORS}) == len(VECTORS)


@by_vector
def test_a_golden_frame_agrees_with_itself(vector):
    body = bytes([vector.kind, vector.sequence]) + vector.payload
    assert zlib.crc32(body) == vector.crc
    assert independent_frame(vector.kind, vector.sequence, vector.payload) == vector.bytes


@by_vector
def test_a_message_is_written_as_the_golden_frame(vector):
    layout = REGISTER[vector.kind]
    assert layout.cls.__name__ == vector.message
    message = layout.cls(**vector.fields)
    assert pack(message) == vector.payload
    assert encode_message(message, vector.sequence) == vector.bytes


@by_vector
def test_a_golden_frame_is_read_as_its_values(vector):
    assert FrameReader().feed(vector.bytes) == [Frame(vector.kind, vector.sequence, vector.payload)]
    message = unpack(vector.kind, vector.payload)
    assert type(message).__name__ == vector.message
    assert values_of(message) == vector.fields


def test_every_frame_of_the_specification_is_checked():
    assert set(documented_frames()) == set(DOCUMENTED)


@pytest.mark.parametrize("name", DOCUMENTED)
def test_a_frame_of_the_specification_says_what_the_text_says(name):
    kind, sequence, fields = DOCUMENTED[name]
    data = documented_frames()[name]
    found_kind, found_sequence, payload = independent_body(data)
    assert (found_kind, found_sequence) == (kind, sequence)
    assert FrameReader().feed(data) == [Frame(kind, sequence, payload)]
    assert values_of(unpack(kind, payload)) == fields
    assert encode_message(REGISTER[kind].cls(**fields), sequence) == data


def test_the_crcs_told_in_the_specification_are_those_of_its_frames():
    told = re.findall(
        r"CRC 0x([0-9A-F]{8})\.\n\n```frame ([a-z0-9-]+)\n",
        SPECIFICATION.read_text(encoding="utf-8"),
    )
    assert {name for _, name in told} == set(DOCUMENTED) - {"stop"}
    frames = documented_frames()
    for crc, name in told:
        kind, sequence, payload = independent_body(frames[name])
        assert zlib.crc32(bytes([kind, sequence]) + payload) == int(crc, 16), name


def test_the_plans_checksum_in_the_specification_is_over_its_legs_without_tokens():
    frames = documented_frames()
    legs = [independent_body(frames[name])[2] for name in ("plan-leg-0", "plan-leg-1")]
    assert [len(leg) for leg in legs] == [44, 44]
    assert zlib.crc32(legs[0][4:] + legs[1][4:]) == DOCUMENTED["plan-commit"][2]["checksum"]
