"""``winder bench``: the machine and its set-up, one file for each group of its verbs."""

from __future__ import annotations

from typing import Any

from winder.commands.verb_parser import verb_parser

_EXAMPLES = """\
examples:
  winder bench new bench.toml           write a commented machine file to change
  winder bench check bench.toml         list everything wrong with it
  winder bench check --port PORT        test a board against the protocol
  winder bench load --port PORT --board counting
  winder bench teach --port PORT --machine bench.toml
                                        measure a machine and write its file
  winder bench home --port PORT         send the guide to its limit switch
  winder bench list                     the machines taught here, and what is plugged in
  winder bench listen --port PORT       show what is said on its line
  winder bench replay wind.record       show a recorded wind again
  winder bench simulate                 a simulated bench on a pseudo-terminal"""


def add_parser(subparsers: Any) -> None:
    """Add ``bench`` and its verbs."""
    from winder.commands import (
        bench_check,
        bench_home,
        bench_list,
        bench_listen,
        bench_load,
        bench_profile,
        bench_replay,
        bench_simulate,
        bench_teach,
    )

    parser = verb_parser(
        subparsers,
        "bench",
        "the machine: its file, its board, a simulated one",
        "The machine and its set-up.",
        _EXAMPLES,
    )
    verbs = parser.add_subparsers(title="verbs", metavar="VERB", required=True)
    bench_profile.add_verbs(verbs)
    bench_load.add_verb(verbs)
    bench_check.add_verb(verbs)
    bench_teach.add_verb(verbs)
    bench_home.add_verb(verbs)
    bench_list.add_verb(verbs)
    bench_listen.add_verb(verbs)
    bench_replay.add_verb(verbs)
    bench_simulate.add_verb(verbs)
