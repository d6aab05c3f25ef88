"""``winder bench check``: a machine file judged, or the board at a port, clause by clause."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from winder.commands.verb_parser import verb_parser
from winder.errors import UserMistake, WinderError

if TYPE_CHECKING:
    from firmware_protocol.conformance.by_hand import Deed, Seen
    from firmware_protocol.conformance.clauses import Finding
    from firmware_protocol.settings import Settings
    from winder.service.bench_port import BenchPort
    from winder.simulator.machine import SimulatedMachine

_CHECK = """\
With FILE: read a machine file. Everything wrong with it is listed, with the line
and the fix. If nothing is, you see what was read and what follows from it.

With --port: ask the board there everything the protocol demands of it, one
clause at a time. Each clause passes, fails, or is not tested, with the reason.
Its number is the section of docs/protocol/specification.md and a number of its
own. Nothing moves unless you give --may-move: then each movement is announced,
slow, and made only after you have agreed to it.

The board's settings are
listed first. The machine comes last. At rest nothing may be counted. With
--by-hand you turn the spindle and move guard and wire when you are asked, and see
what the board saw. It drives nothing meanwhile: switch the motor's power off.

Take the bobbin off and finish what you are winding first. The check opens and
closes winds of its own on the board, which then forgets its last wind. Opening the port resets many boards."""

_CAUTION = """\
Keep hair, sleeves and fingers away from the spindle and the guide, and have the
switch that cuts the motor's power within reach. A key on this computer is not an
emergency stop."""

_BY_HAND = """
Now the machine, by hand. Switch the motor's power off; the board needs only its
own. Its sensor stays on. Nothing is driven."""

# What the hands at the simulated bench do for each deed, as ``bench simulate --hands`` has it.
SIMULATED_HANDS = {
    "CLOCKWISE": "turn on 5",
    "BACK": "turn back 5",
    "OPEN_GUARD": "guard open",
    "SHUT_GUARD": "guard shut",
    "TAKE_WIRE": "wire broken",
    "PUT_WIRE": "wire joined",
}

_EXAMPLES = """\
examples:
  winder bench check bench.toml
  winder bench check --port /dev/serial/by-id/... --may-move
  winder bench check --port /dev/serial/by-id/... --by-hand
  winder bench check --port sim --may-move --yes --json

exit codes: 0 nothing is wrong, 1 a clause or the machine fails, 2 something to
correct in the command or file"""


def add_verb(verbs: Any) -> None:
    """Add ``check`` to the verbs of ``winder bench``."""
    check = verb_parser(
        verbs,
        "check",
        "check a machine file, or the board on a port",
        _CHECK,
        _EXAMPLES,
    )
    check.add_argument(
        "file", metavar="FILE", nargs="?", type=Path, help="the machine file to read"
    )
    check.add_argument("--port", help="check the board at this port, or at 'sim'")
    check.add_argument(
        "--may-move", action="store_true", help="also test what moves; you are asked each time"
    )
    check.add_argument(
        "--yes", action="store_true", help="with --may-move: agree to every movement in advance"
    )
    check.add_argument(
        "--by-hand",
        action="store_true",
        help="also check sensor, guard and wire, which you move by hand as you are asked",
    )
    check.add_argument(
        "--section", metavar="N", type=int, action="append", help="only the clauses of this section"
    )
    check.add_argument("--baud", metavar="N", type=int, help="speed of the line")
    check.add_argument("--json", action="store_true", help="print one JSON object")
    check.set_defaults(run=check_file_or_board)


def check_file_or_board(arguments: argparse.Namespace) -> int:
    """A file, or a port: one of them. ``UserMistake`` for both or none."""
    if (arguments.file is None) == (arguments.port is None):
        raise UserMistake(
            "name a machine file, or a port with --port" + (", not both" if arguments.file else ""),
            where="bench check",
            remedy="for example: winder bench check bench.toml",
        )
    if arguments.file is not None:
        from winder.commands.bench_profile import check_profile

        return check_profile(arguments)
    return check_board(arguments)


def check_board(arguments: argparse.Namespace) -> int:
    """Prints every finding as it comes. 1 where a clause or the machine failed."""
    from firmware_protocol.conformance.clauses import Outcome
    from firmware_protocol.conformance.judging import Permission, judge
    from firmware_protocol.seam import LinkLost
    from winder.service.bench_port import draw_token, open_bench_port

    sections = _sections(arguments.section or [])
    at = open_bench_port(arguments.port, baud=arguments.baud)
    permission = Permission(_asker(arguments), at.again)
    found: list[Finding] = []
    seen: list[Seen] = []
    content = _settings_at(at, arguments.port)
    if content is not None and not arguments.json:
        print(f"Its settings: {_settings_words(content)}.\n", flush=True)
    try:
        for finding in judge(at.link, at.clock, draw_token(), permission, sections):
            found.append(finding)
            if not arguments.json:
                print(_words(finding), flush=True)
        if not sections:
            seen += _machine(arguments, at)
    except LinkLost as lost:
        raise _went_away(arguments.port, lost) from None
    counts = {o: sum(f.outcome is o for f in found) for o in Outcome}
    wrong = any(one.outcome is Outcome.FAILED for one in seen)
    if arguments.json:
        print(json.dumps(_facts(arguments.port, found, seen, content), indent=2))
    else:
        print(_summary(counts, may_move=arguments.may_move))
        if seen:
            print(_machine_summary(seen, by_hand=arguments.by_hand), end="")
    return 1 if counts[Outcome.FAILED] or wrong else 0


def _sections(asked: list[int]) -> frozenset[int]:
    from firmware_protocol.conformance.judging import by_number

    known = sorted({clause.section for clause in by_number()})
    for section in asked:
        if section not in known:
            raise UserMistake(
                f"no clause is in section {section}",
                where="--section",
                remedy=f"there are clauses in {', '.join(map(str, known))}",
            )
    return frozenset(asked)


def _asker(arguments: argparse.Namespace) -> Any:
    """Who agrees to a movement; None: nobody, so nothing moves."""
    if not arguments.may_move:
        return None
    told = sys.stderr if arguments.json else sys.stdout
    print(_CAUTION, file=told, flush=True)
    if arguments.yes:
        return lambda what: True

    def asks(what: str) -> bool:
        print(f"This moves {what}. Go ahead? (yes or no) ", end="", file=told, flush=True)
        return sys.stdin.readline().strip().lower() in ("y", "yes")

    return asks


class _Hands:
    """Asked for on a terminal; those of the simulated bench do it by themselves."""

    def __init__(self, told: TextIO, simulated: SimulatedMachine | None) -> None:
        self._told, self._simulated = told, simulated

    def ready(self, deed: Deed) -> bool:
        print(f"Now {deed.value}.", file=self._told)
        print("  Press Enter, then do it; or type skip: ", end="", file=self._told, flush=True)
        line = sys.stdin.readline()
        return bool(line) and line.strip().lower() not in ("skip", "s", "no", "n")

    def act(self, deed: Deed) -> None:
        if self._simulated is not None:
            from winder.simulator.hands import do_by_hand

            do_by_hand(self._simulated, SIMULATED_HANDS[deed.name])


def _machine(arguments: argparse.Namespace, at: BenchPort) -> list[Seen]:
    """What hands and eyes find at the machine, printed as it comes."""
    from firmware_protocol.conformance.by_hand import look_at_machine
    from winder.service.bench_port import draw_token

    told = sys.stderr if arguments.json else sys.stdout
    if arguments.by_hand:
        print(_BY_HAND, file=told, flush=True)
    hands = _Hands(told, at.simulated) if arguments.by_hand else None
    seen = []
    for one in look_at_machine(at.again(), at.clock, draw_token(), hands):
        seen.append(one)
        if not arguments.json:
            if len(seen) == 1:
                print("\nThe machine:")
            print(f"{one.look.name:>9}  {one.outcome.value:<10}  {one.look.sentence}")
            print(f"{'':23}{one.found}", flush=True)
    return seen


def _machine_summary(seen: list[Seen], *, by_hand: bool) -> str:
    from firmware_protocol.conformance.clauses import Outcome

    failed = [one.look.name for one in seen if one.outcome is Outcome.FAILED]
    if failed:
        return f"At the machine, fix the {failed[0]} first.\n"
    untested = any(one.outcome is Outcome.NOT_TESTED for one in seen)
    return "--by-hand also checks sensor, guard and wire.\n" if untested and not by_hand else ""


def _went_away(port: str, lost: Exception) -> WinderError:
    return WinderError(
        str(lost), where=port, remedy="check the cable and the board's power, then check again"
    )


def _words(finding: Finding) -> str:
    clause = finding.clause
    line = f"{clause.number:>5}  {finding.outcome.value:<10}  {clause.sentence}"
    return f"{line}\n{'':19}{finding.why}" if finding.why else line


def _summary(counts: Any, *, may_move: bool) -> str:
    from firmware_protocol.conformance.clauses import Outcome

    passed, failed = counts[Outcome.PASSED], counts[Outcome.FAILED]
    untested = counts[Outcome.NOT_TESTED]
    told = f"{passed} clauses passed, {failed} failed, {untested} not tested."
    if failed:
        return told + " Fix the first that failed: others often follow from it."
    if untested and not may_move:
        told += " --may-move tests what moves."
    return told


def _settings_at(at: BenchPort, port: str) -> Settings | None:
    """Those in force; None where the board keeps none, or does not tell them."""
    from firmware_protocol.wire import Group
    from winder.service.teaching.bench import TaughtBoard

    try:
        board = TaughtBoard(at.link, at.clock, port)
        return board.read_settings() if board.has(Group.SETTINGS) else None
    except WinderError:
        return None


def _settings_words(content: Settings) -> str:
    from firmware_protocol.explain import message_words

    if not content.number:
        return "none were written yet; 'winder bench teach' asks what is wired"
    return message_words(content)


def _facts(
    port: str, found: list[Finding], seen: list[Seen], content: Settings | None
) -> dict[str, Any]:
    return {
        "settings": None if content is None else asdict(content),
        "port": port,
        "good": "failed"
        not in {one.outcome.value for one in found} | {one.outcome.value for one in seen},
        "clauses": [
            {
                "clause": f.clause.number,
                "demands": f.clause.sentence,
                "outcome": f.outcome.value,
                "why": f.why,
            }
            for f in found
        ],
        "machine": [
            {
                "look": one.look.name,
                "demands": one.look.sentence,
                "outcome": one.outcome.value,
                "found": one.found,
            }
            for one in seen
        ],
    }
