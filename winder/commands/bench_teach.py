"""``winder bench teach``: a machine's figures measured with it, and its file written."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from winder.errors import UserMistake

_TEACH = """\
Measure a machine with the board at PORT and write its machine file. A freshly
loaded board knows nothing of its wiring and drives nothing. You are first asked
what is wired to it, and you confirm its output levels at the machine. Without a
motor the rest takes three answers: a name, the counts in a turn (you turn it by
hand), and which way you turned. With a motor it then runs without bobbin and
wire, slowly first, to find speed, acceleration, coasting and braking. It moves
the guide by 20 mm for your caliper, and ends with 25 turns that must stop on the
mark. Every movement is announced, and made only after you have agreed. What
cannot be measured is set on the cautious side.

No machine file is written before all of it is done; 'leave' ends it at any
question."""

_CAUTION = """\
Before you begin: a hard-wired switch that cuts the motor's power within reach,
eye protection on, hair, sleeves and fingers away from what turns. A key on this
computer is not an emergency stop."""

_EXAMPLES = """\
examples:
  winder bench teach --port /dev/serial/by-id/... --machine bench.toml

exit codes: 0 the file is written, 1 it is not, 2 something to correct"""


def add_verb(verbs: Any) -> None:
    """Add ``teach`` to the verbs of ``winder bench``."""
    teach = verbs.add_parser(
        "teach",
        help="measure a machine and write its file",
        description=_TEACH,
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    teach.add_argument("--port", required=True, help="the port that the board is on")
    teach.add_argument(
        "--machine", required=True, metavar="FILE", type=Path, help="the machine file to write"
    )
    teach.add_argument("--wiring", action="store_true", help="ask again what is wired to the board")
    teach.add_argument("--baud", metavar="N", type=int, help="speed of the line")
    teach.set_defaults(run=teach_machine)


class TypingPerson:
    """Questions on standard output, answers from standard input; the end of it is 'leave'."""

    def tell(self, line: str) -> None:
        print(line, flush=True)

    def ask(self, question: str) -> str:
        print(f"{question} ", end="", flush=True)
        line = sys.stdin.readline()
        return line.strip() if line else "leave"


def teach_machine(arguments: argparse.Namespace) -> int:
    """Teaches, writes, remembers. Raises ``UserMistake`` for a file that is there already."""
    from winder.commands.bench_questions import ask_bench
    from winder.commands.own_files import write_new_file
    from winder.machine.asking import Purpose
    from winder.service.bench_port import open_bench_port
    from winder.service.recognising import remember_taught, who_is
    from winder.service.teaching.bench import TaughtBoard
    from winder.service.teaching.lesson import teach
    from winder.service.teaching.written import checked, machine_text

    file: Path = arguments.machine
    if file.exists():
        raise UserMistake(
            "already exists and is not overwritten",
            where=str(file),
            remedy="name a new file, or move this one away",
        )
    at = open_bench_port(arguments.port, baud=arguments.baud)
    try:
        board = TaughtBoard(at.link, at.clock, arguments.port)
    except BaseException:
        at.link.close()
        raise
    person = TypingPerson()
    person.tell(_CAUTION)
    try:
        learned = teach(board, person, wiring=arguments.wiring)
        who = who_is(board)
    finally:
        board.close()
    text = machine_text(learned, arguments.port, board.welcome.board)
    checked(text, file)
    write_new_file(file, text, "machine file")
    print(f"{file} is written.")
    ask_bench(str(file), (Purpose.WINDING,))
    if at.simulated is None:
        remark = remember_taught(arguments.port, who, file)
        print(f"From now on 'winder wind RECIPE' finds this machine. {remark}".rstrip())
    return 0
