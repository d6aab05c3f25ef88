"""Settings written into a board, and read back from the boot that goes by them."""

from __future__ import annotations

from firmware_protocol.settings import Settings, fault_in
from firmware_protocol.wire import LAYOUT_OF
from winder.errors import WinderError

from .bench import TaughtBoard

ANY_RATE_CPS = 1 << 32


class Refused(WinderError):
    """The board does not take this field as it is; nothing was written."""

    def __init__(self, field: str, where: str) -> None:
        super().__init__(
            f"the board refuses these settings: {field.replace('_', ' ')}",
            where=where,
            remedy="nothing was written, and the board is as it was; teach it again and look at that value",
        )


def write(board: TaughtBoard, content: Settings) -> None:
    """Written, and read back from the boot that follows. Raises ``WinderError`` with the reason."""
    # What no board can keep is not sent; how fast this one counts, it says itself.
    refused = fault_in(content, edge_rate_max_cps=ANY_RATE_CPS) or board.write_settings(content)
    if refused is not None:
        raise Refused(refused, board.port)
    told = board.read_settings()
    if told != content:
        wrong = [n for n in LAYOUT_OF[Settings].names if getattr(told, n) != getattr(content, n)]
        raise WinderError(
            f"the board did not keep its settings ({', '.join(wrong)})",
            where=board.port,
            remedy="its memory may be worn out; do not drive a motor with it",
        )
