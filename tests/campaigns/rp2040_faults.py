"""The faults of the other chip's table, put to the RP2040's program in its emulator.

    python -m tests.campaigns.rp2040_faults         with the options of ``chip_faults``

Rows and judge are those of ``chip_faults``. Left out: the rows of a board without a motor, and those of boot loaders,
which this chip has not. The loss of power, resets and a hang are put to it. Exit code 1 if a row does not hold.
"""

from __future__ import annotations

import sys
from typing import Any

from tests.firmware.emulator.board import Bench
from tests.firmware.emulator.rp2040_board import Rp2040Board
from tests.firmware.emulator.rp2040_tools import missing_tools

from . import chip_faults
from .chip_faults_run import Scene


class Rp2040Scene(Scene):
    def _board(self, machine: Bench, settings: dict[str, int]) -> Any:
        return Rp2040Board(machine, **settings)


CASES = tuple(case for case in chip_faults.CASES if case.sensor and not case.loader)


def main(words: list[str] | None = None) -> int:
    if missing := missing_tools():
        print(f"not run: {missing} missing")
        return 1
    return chip_faults.main(words, "rp2040_faults", CASES, Rp2040Scene)


if __name__ == "__main__":
    sys.exit(main())
