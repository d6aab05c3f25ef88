"""Boards that go wrong in what they send, and the beginning of all that go wrong in what they decide."""

from __future__ import annotations

import zlib
from dataclasses import replace
from typing import ClassVar

from reference_board import COUNTER_BOARD, FULL_BOARD, ReferenceBoard

from firmware_protocol.body import Identity
from firmware_protocol.device import DeviceEnd
from firmware_protocol.framing import cobs_decode, cobs_encode, encode_frame, encode_message
from firmware_protocol.messages import Status
from firmware_protocol.wire import unpack

COUNTER = replace(COUNTER_BOARD, rate_max_mcps=0)


class Sends(ReferenceBoard):
    """Something is done to each whole frame that the board sends."""

    def data_to_send(self) -> bytes:
        runs = super().data_to_send().split(b"\0")[:-1]
        return b"".join(self.sent(cobs_decode(run)) for run in runs)

    def sent(self, body: bytes) -> bytes:
        raise NotImplementedError


class BigEndianCrc(Sends):
    clause: ClassVar[str] = "3.1"

    def sent(self, body: bytes) -> bytes:
        return cobs_encode(body[:-4] + body[:-5:-1]) + b"\0"


class CrcWithoutNumber(Sends):
    clause: ClassVar[str] = "3.1"

    def sent(self, body: bytes) -> bytes:
        sum_of = zlib.crc32(body[:1] + body[2:-4]).to_bytes(4, "little")
        whole = body[1] == 0 and body[0] == 0x81
        return cobs_encode(body if whole else body[:-4] + sum_of) + b"\0"


class AnswersTwice(Sends):
    clause: ClassVar[str] = "5.1"

    def sent(self, body: bytes) -> bytes:
        frame = cobs_encode(body) + b"\0"
        return frame * (2 if body[0] == 0x83 and body[1] else 1)


class ShortStatus(Sends):
    clause: ClassVar[str] = "3.11"

    def sent(self, body: bytes) -> bytes:
        short = body[0] == 0x82
        return encode_frame(body[0], body[1], body[2 : -6 if short else -4])


class NumbersItsStatus(Sends):
    """A board that numbers its answers to a stop as they came."""

    clause: ClassVar[str] = "6.1"

    def sent(self, body: bytes) -> bytes:
        to_stop = body[:3] == b"\x83\x00\x03"
        return encode_frame(body[0], 5 if to_stop else body[1], body[2:-4])


class Tells(Sends):
    """A board whose statuses say something else."""

    clause: ClassVar[str]
    identity_of: ClassVar[Identity] = FULL_BOARD

    def sent(self, body: bytes) -> bytes:
        if body[0] != 0x82:
            return encode_frame(body[0], body[1], body[2:-4])
        return encode_message(self.told(unpack(body[0], body[2:-4])))

    def told(self, status: Status) -> Status:
        raise NotImplementedError


class Ends(DeviceEnd):
    clause: ClassVar[str]
    identity_of: ClassVar[Identity] = FULL_BOARD
