"""The whole examination of the RP2040's program, pedal, stop switch and limit switch attended: a minute or two.

    python -m tests.campaigns.rp2040_check [SECTION ...]

Prints each clause as ``winder bench check --port PORT --may-move`` would judge it; exit code 1 where one did not pass.
"""

from __future__ import annotations

import sys
from pathlib import Path

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "firmware")]

from emulator.rp2040_examined import examine  # noqa: E402
from emulator.rp2040_tools import missing_tools  # noqa: E402

from firmware_protocol.conformance.clauses import Outcome  # noqa: E402


def main(words: list[str]) -> int:
    if missing := missing_tools():
        print(f"not run: {missing} missing")
        return 1
    board, found = examine([int(word) for word in words])
    for one in found:
        print(f"{one.clause.number:5} {one.outcome.value:10} {one.why}")
    passed = sum(one.outcome is Outcome.PASSED for one in found)
    print(f"{passed} of {len(found)} passed, in {board.now_ns / 1e9:.0f} s of the chip's time")
    return int(passed != len(found))


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
