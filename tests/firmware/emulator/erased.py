"""An erased chip with nothing but a boot loader, on a pseudo-terminal, in a process of its own and in real time.

    python -m emulator.erased small|large [--counts 20] [--sensor 4] [--board atmega328p] [--time FILE]

The first line printed is the terminal's path. A pseudo-terminal has no DTR: opening it is what resets the chip. It
takes bytes only at the speed that the client set, so a wrong speed gives the loader what it would give on a line.
On a busy computer the chip's time falls behind the world's and is not made up for, so that no loader's patience ends
because another program was running; ``--time`` shows it to programs that are to live by it (``chip_time``). Standard input takes the words of ``serve``, and ``pace N``: N times as fast as the world
where the computer can; for programs that live in its time. It ends with its standard input, or by a signal.
"""

from __future__ import annotations

import argparse
import queue
import termios
import threading
from pathlib import Path

from winder.clock import HurriedClock
from winder.links.pty_server import PtyServer

from .board import EmulatedBoard, bench
from .chip_time import ChipTime
from .loaders import Loader, large_loader, small_loader
from .serve import _listen, happen

ERASED = b"\xff"
BAUDS = {
    termios.B500000: 500_000,
    termios.B115200: 115_200,
    termios.B57600: 57_600,
}
SPEEDS = {"small": 115_200, "large": 57_600}
LOADERS = {"small": small_loader, "large": large_loader}


def erased_board(loader: Loader, counts: int, sensor: int, board: str) -> EmulatedBoard:
    """A machine whose board was never loaded."""
    made = EmulatedBoard(bench(counts, sensor), board, taught=False)
    made.chip.place_program(0, ERASED * loader.at, boots=False)
    made.chip.place_program(loader.at, loader.data, boots=True)
    made.reset()
    return made


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("loader", choices=LOADERS)
    parser.add_argument("--counts", type=int, default=20)
    parser.add_argument("--sensor", type=int, default=4)
    parser.add_argument("--board", default="atmega328p")
    parser.add_argument("--time", type=Path)
    arguments = parser.parse_args()
    time = ChipTime(arguments.time) if arguments.time else None
    loader = LOADERS[arguments.loader]()
    board = erased_board(loader, arguments.counts, arguments.sensor, arguments.board)
    words: queue.SimpleQueue[str | None] = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(words,), daemon=True).start()
    clock = HurriedClock(1.0)
    with PtyServer(board, clock) as server:
        print(server.path, flush=True)
        usual = SPEEDS[arguments.loader]  # until the client has set its own
        while True:
            speed = BAUDS.get(termios.tcgetattr(server._master)[5], usual)
            board.chip.set_host_baud(speed)
            server.step()
            if time is not None:
                time.show(board.now_ns)
            while not words.empty():
                line = words.get()
                if line is None:
                    return
                if line.startswith("pace "):
                    clock.pace = float(line.split()[1])
                else:
                    happen(board, line.split())


if __name__ == "__main__":
    main()
