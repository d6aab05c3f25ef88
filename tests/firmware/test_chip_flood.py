"""A host that sends as fast as the line can starves no status: docs/protocol/specification.md, twice a second at least."""

from __future__ import annotations

import pytest
from emulator.board import FOUR_EDGES, EmulatedBoard, bench
from emulator.builds import needs_cross_tools

from firmware_protocol.framing import FrameReader, encode_message
from firmware_protocol.messages import Hello, SettleNumber, Status
from firmware_protocol.wire import unpack

pytestmark = needs_cross_tools
BYTES_A_MS = 50  # 500000 baud
LONGEST_MS = 500


@pytest.mark.parametrize(
    "flood", [Hello(1, 77), SettleNumber(77)], ids=lambda one: one.__class__.__name__
)
def test_under_a_flood_at_full_line_rate_statuses_come_at_least_twice_a_second(flood):
    board = EmulatedBoard(bench(20, FOUR_EDGES))
    board.chip.run_s(0.1)
    board.receive(b"\0" + encode_message(Hello(1, 77)))
    reader, owed, heard = FrameReader(), b"", [0]
    for now_ms in range(0, 2000, 4):
        while len(owed) < 4 * BYTES_A_MS:
            owed += encode_message(flood, 0 if isinstance(flood, Hello) else now_ms % 255 + 1)
        board.receive(owed[: 4 * BYTES_A_MS])
        owed = owed[4 * BYTES_A_MS :]
        board.chip.run_s(0.004)
        messages = [unpack(frame.kind, frame.payload) for frame in reader.feed(board.take_bytes())]
        if any(isinstance(message, Status) for message in messages):
            heard.append(now_ms)
    gaps = [after - before for before, after in zip(heard, [*heard[1:], 2000], strict=True)]
    assert max(gaps) <= LONGEST_MS
    assert len(heard) > 4
