"""Dialogues by seed with the core compiled for the RP2040, in its emulator: the same answers as the Python device end.

python -m tests.campaigns.rp2040_answers [NUMBER]
"""

from __future__ import annotations

import sys
from pathlib import Path

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "firmware")]

from emulator.rp2040_scripted import Rp2040Scripted  # noqa: E402
from emulator.rp2040_tools import missing_tools  # noqa: E402
from host.dialogue import Tally, play  # noqa: E402

STEPS = 90


def main(words: list[str]) -> int:
    if missing := missing_tools():
        print(f"not run: {missing} missing")
        return 1
    number, chip, tally = int(words[0]) if words else 500, Rp2040Scripted(), Tally()
    try:
        for seed in range(number):
            play(seed, chip, STEPS, tally)  # type: ignore[arg-type]
    except AssertionError as difference:
        print(f"dialogue {seed}: {difference}")
        return 1
    finally:
        chip.close()
    answers = sum(tally.verdicts.values())
    print(f"{number} dialogues, {answers} answers, all alike; states reached: {len(tally.states)}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
