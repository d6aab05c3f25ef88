"""An emulated board on a pseudo-terminal, in a process of its own and in real time.

    python -m emulator.serve --counts 20 --sensor 4 [--port atmega328p] [--no-reset-on-open] [--set NAME=VALUE]

The first line printed is the terminal's path. Words on standard input happen at the machine: ``reset``,
``hang``, ``guard open``, ``guard shut``, ``force CPS COUNTS``. ``facts`` prints one line of JSON with what
truly happened there. It ends with its standard input, or by a signal.
"""

from __future__ import annotations

import argparse
import json
import os
import queue
import sys
import termios
import threading

from winder.clock import SystemClock
from winder.links.pty_server import PtyServer

from .board import EmulatedBoard, bench

BAUDS = {termios.B500000: 500_000, termios.B115200: 115_200}


def facts_of(board: EmulatedBoard) -> dict[str, float]:
    chip = board.chip
    return {
        "edges": chip.edges,
        "count": chip.true_count,
        "place": chip.place,
        "speed_cps": chip.speed_cps,
        "duty": chip.duty,
        "overruns": chip.overruns,
        "resets": chip.resets,
        "bytes_in": chip.bytes_in,
    }


def happen(board: EmulatedBoard, words: list[str]) -> None:
    match words:
        case ["facts"]:
            print(json.dumps(facts_of(board)), flush=True)
        case ["reset"]:
            board.reset()
        case ["hang"]:
            board.reset(watchdog=True)
        case ["guard", state]:
            board.open_guard(state == "open")
        case ["force", cps, counts]:
            board.chip.force(float(cps), int(counts))
        case _:
            raise SystemExit(f"no such word: {' '.join(words)}")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--counts", type=int, default=20)
    parser.add_argument("--sensor", type=int, default=4)
    parser.add_argument("--port", default="atmega328p")
    parser.add_argument("--no-reset-on-open", action="store_true")
    parser.add_argument("--held-s", type=float, default=0.2)
    parser.add_argument("--set", action="append", default=[], dest="settings")
    arguments = parser.parse_args()
    settings = {name: int(value) for name, value in (s.split("=") for s in arguments.settings)}
    board = EmulatedBoard(bench(arguments.counts, arguments.sensor), arguments.port, **settings)
    board.reset_held_s = arguments.held_s
    words: queue.SimpleQueue[str | None] = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(words,), daemon=True).start()
    resets = not arguments.no_reset_on_open
    with PtyServer(board, SystemClock(), resets_on_open=resets) as server:
        print(server.path, flush=True)
        while True:
            # A pseudo-terminal carries bytes at any speed; what the client set is what a line would do.
            speed = BAUDS.get(termios.tcgetattr(server._master)[5], 9600)
            board.chip.set_host_baud(speed)
            server.step()
            while not words.empty():
                line = words.get()
                if line is None:
                    return
                happen(board, line.split())


def _listen(words: queue.SimpleQueue[str | None]) -> None:
    for line in sys.stdin:
        words.put(line)
    words.put(None)


if __name__ == "__main__":
    sys.path.insert(0, os.getcwd())
    main()
