"""``winder bench teach``: a machine's figures measured with it, and its file written."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from firmware_protocol.messages import Status
    from winder.service.teaching.dialogue import Question, Step

HINTS = {
    "YES": " (yes or no)",
    "MOVE": " (yes or no)",
    "KEEP": " (Enter keeps it, again measures once more)",
}
_TEACH = """\
Measure a machine with the board at PORT and write its machine file. A freshly
loaded board knows nothing of its wiring and drives nothing. You are first asked
what is wired to it, and you confirm its output levels at the machine. Without a
motor the rest takes three answers: a name, the counts in a turn (you turn it by
hand), and which way you turned. With a motor it tries guard and wire sensor.
Then it runs without bobbin and wire, slowly first, to find speed, acceleration,
coasting, braking and the slowest even speed. It moves the guide by 20 mm for your
caliper; you lead it to its end. Last come 25 turns that must stop on the mark.

Every movement is announced, and made only after you have agreed. You keep what
was found, or measure it again. What belongs into the board is written there after
your yes. What cannot be measured is set on the cautious side.

On a terminal it is a screen, where the space key stops what moves. No machine
file is written before all of it is done. Leave at any question: Esc on the
screen, the word leave with --plain. --port sim lends you hands, to try it."""

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
    teach.add_argument("--plain", action="store_true", help="print lines instead of a screen")
    teach.set_defaults(run=teach_machine)


class TypingPerson:
    """Questions on standard output, answers from standard input; the end of it is 'leave'."""

    def begin(self, step: Step, coming: tuple[Step, ...]) -> None:
        print(f"\n{step.value.capitalize()}", flush=True)

    def tell(self, line: str) -> None:
        print(line, flush=True)

    def ask(self, question: Question) -> str:
        print(f"{question.text}{HINTS.get(question.kind.name, '')} ", end="", flush=True)
        line = sys.stdin.readline()
        return line.strip() if line else "leave"

    def watch(self, status: Status | None) -> bool:
        return True  # Ctrl-C ends the lesson, and what moves with it


def teach_machine(arguments: argparse.Namespace) -> int:
    """Teaches, writes, remembers. Raises ``UserMistake`` for a file that is there already."""
    from winder.commands.bench_questions import ask_bench
    from winder.machine.asking import Purpose
    from winder.service.teaching.at_port import Wish, teach_at

    wish = Wish(arguments.port, arguments.machine, arguments.wiring, arguments.baud)
    wish.refuse_taken()
    if arguments.plain or not (sys.stdin.isatty() and sys.stdout.isatty()):
        person = TypingPerson()
        person.tell(_CAUTION)
        ended = teach_at(wish, person)
    else:
        from winder.screens import run_lesson_screen

        ended = run_lesson_screen(lambda person: teach_at(wish, person), str(wish.file))
    print(ended)
    ask_bench(str(wish.file), (Purpose.WINDING,))
    return 0
