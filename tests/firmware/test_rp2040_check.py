"""The examination of the RP2040's program: what moves, settings, foot, switches, guide, and a reset.

All of it, every clause: ``python -m tests.campaigns.rp2040_check``.
"""

from __future__ import annotations

from emulator.rp2040_examined import examine
from emulator.rp2040_tools import needs_rp2040_tools

from firmware_protocol.conformance.clauses import Outcome

pytestmark = needs_rp2040_tools


def test_a_board_with_everything_wired_keeps_the_clauses_of_what_only_it_has():
    board, found = examine((13, 21, 23))
    other = {f.clause.number: f.why for f in found if f.outcome is not Outcome.PASSED}
    assert other == {}
    assert {f.clause.section for f in found} >= {13, 21, 23}
    board.assert_sound(resets=board.chip.resets)
