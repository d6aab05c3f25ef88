"""``winder bench replay``: a recorded wind, shown again."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from winder.commands.verb_parser import verb_parser

_REPLAY = """\
Show a wind again from its recording, which 'winder wind --record FILE' makes.
You see state, count and speed once a second, and each change as it came. With
--machine the counts become turns. No port is opened and nothing moves. 'winder
bench listen --port FILE' prints every message of the same recording."""

_EXAMPLES = """\
examples:
  winder bench replay wind.record
  winder bench replay wind.record --machine bench.toml
  winder bench replay wind.record --pace 10         ten times as fast as it was wound"""


def add_verb(verbs: Any) -> None:
    """Add ``replay`` to the verbs of ``winder bench``."""
    replay = verb_parser(verbs, "replay", "show a recorded wind again", _REPLAY, _EXAMPLES)
    replay.add_argument("file", metavar="FILE", type=Path, help="the recording")
    replay.add_argument(
        "--machine", metavar="FILE", type=Path, help="its machine file, for counts per turn"
    )
    replay.add_argument(
        "--pace", metavar="N", help="play it N times as fast (default: print it at once)"
    )
    replay.set_defaults(run=replay_wind)


def replay_wind(arguments: argparse.Namespace) -> int:
    """Prints it. ``UserMistake`` for a file that is no recording, or no machine file."""
    from winder.clock import SystemClock
    from winder.links.names import read_pace
    from winder.machine.reader import read_machine
    from winder.service.replaying import moments

    pace = None if arguments.pace is None else read_pace(arguments.pace, "--pace")
    counts = None if arguments.machine is None else read_machine(arguments.machine).counts_per_turn
    clock, shown_s = SystemClock(), 0.0
    try:
        for moment in moments(arguments.file, counts):
            if pace is not None:
                clock.sleep_s((moment.at_s - shown_s) / pace)
            shown_s = moment.at_s
            print(f"{moment.at_s:9.2f} s  {moment.words}", flush=True)
    except KeyboardInterrupt:  # the usual end of one that is played
        pass
    return 0
