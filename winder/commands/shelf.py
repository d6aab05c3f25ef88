"""``winder shelf``: the coils made, what was written about each, and what is measured of them later.

Names, notes and journal texts come from files and boards, so they are printed as plain text: rich's
markup is never read in them and control characters are left out.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from winder.commands.logbook_option import add_logbook_option
from winder.commands.number_option import whole
from winder.commands.verb_parser import verb_parser

_DESCRIPTION = """\
The coils made: what was wanted, what was wound, how sure the count is, later
readings, and your notes. Nothing here moves anything."""

_EXAMPLES = """\
examples:
  winder shelf list                             every coil, oldest first
  winder shelf show 12                          coil number 12: readings, runs, journal
  winder shelf measure 12 '812 ohm, 23 C'       the next day, or after potting
  winder shelf edit 12 --place 'box 3'          note, place, direction, spool ..."""

_LIST = """\
List the coils, oldest first, ohms at 20 C as measured beside what was expected.
Coils of the simulated machine are listed by themselves, with --simulated."""

_LIST_EXAMPLES = """\
examples:
  winder shelf list
  winder shelf list --find 'tine box 3'         in name, wire, spool, place, note ...
  winder shelf list --name tine --since 2026-01-01
  winder shelf list --ohms 780..830 --turns 2400..2600
  winder shelf list --summary                   how far off the expectations were
  winder shelf list --json                      for other programs"""

_SHOW_EXAMPLES = """\
examples:
  winder shelf show 12
  winder shelf show "tine sensor" --json"""

_MEASURE = """\
Enter a reading of a coil: ohms with their temperature, an inductance, a
resonance (two known capacitors give the inductance) or a tap test. The tap test
shows which way the coil is wound; 'tap' alone leads you through it. All readings
are kept; strike a wrong one out with a reason, and it stays visible. Ohms are
corrected to 20 C and compared with what the coil should have."""

_MEASURE_EXAMPLES = """\
examples:
  winder shelf measure 12 '812 ohm, 23 C'
  winder shelf measure 12 'inductance, 1.8 H' --meter 'bridge at 120 Hz'
  winder shelf measure 12 'resonance, 7.1 kHz with 470 pF, 9.8 kHz with 100 pF'
  winder shelf measure 12 tap
  winder shelf measure 12 'tap, up, north'      steel pulled off a north pole: up
  winder shelf measure 12 --strike 3 --because 'the leads touched'"""

_EDIT = """\
Change what is written about a coil. '' takes a word back. Give the direction
where the coil you hold is not wound as its recipe says."""

_EDIT_EXAMPLES = """\
examples:
  winder shelf edit 12 --note 'potted in wax' --place 'box 3'
  winder shelf edit 12 --start-colour white --finish-colour black
  winder shelf edit 12 --direction counter-clockwise
  winder shelf edit 12 --spoiled 'shorted turns'
  winder shelf edit 12 --spool 'red 42' --hide
  winder shelf edit 12 --recipe bass.toml       wire and bobbin of a coil that was only counted"""


_PAIR = """\
How alike two coils are, and how many turns to take off which one. Say how they
sit and which poles face the string. Then you get hum and signal for the four ways
to join them, and how to solder the quiet one. For a pair already soldered, --hears
and --taps show what may be wrong and how to fix it."""

_PAIR_EXAMPLES = """\
examples:
  winder shelf pair 12 13 --one-sitting
  winder shelf pair 12 13 --side-by-side '22 mm' --poles north,south --iron magnets
  winder shelf pair 12 13 --stacked '2 mm' --poles north --source transformer --away '1 m'
  winder shelf pair 12 13 --side-by-side '22 mm' --poles north,south --svg pair.svg
  winder shelf pair 12 13 --side-by-side '22 mm' --hears hum
  winder shelf pair 12 13 --side-by-side '22 mm' --taps
  winder shelf pair 12 13 --side-by-side '22 mm' --poles north,south --taps up,down"""


_EXCHANGE = """\
Take the shelf out and in. JSON holds all of it without loss and can be imported;
CSV is a table of the coils. A copy can be made while a wind goes on. An existing
file is left alone."""

_EXCHANGE_EXAMPLES = """\
examples:
  winder shelf export all.json
  winder shelf export coils.csv
  winder shelf import all.json --logbook new.sqlite
  winder shelf copy backup.sqlite"""


def add_parser(subparsers: Any) -> None:
    """Add ``shelf`` and its verbs."""
    parser = verb_parser(subparsers, "shelf", "the coils made", _DESCRIPTION, _EXAMPLES)
    verbs = parser.add_subparsers(title="verbs", metavar="VERB", required=True)
    _add_list(verbs)
    _add_show(verbs)
    _add_measure(verbs)
    _add_edit(verbs)
    _add_pair(verbs)
    _add_card(verbs)
    _add_exchange(verbs)


def _add_list(verbs: Any) -> None:
    verb = verb_parser(verbs, "list", "every coil, oldest first", _LIST, _LIST_EXAMPLES)
    verb.add_argument(
        "--find", metavar="WORDS", default="", help="with each of these words anywhere"
    )
    kind = verb.add_mutually_exclusive_group()
    kind.add_argument("--simulated", action="store_true", help="those of the simulated machine")
    kind.add_argument("--real", action="store_true", help="with --json: without the simulated ones")
    verb.add_argument("--newest", metavar="N", type=whole, help="no more than the newest N")
    verb.add_argument("--hidden", action="store_true", help="hidden ones too")
    verb.add_argument("--name", metavar="PART", help="whose name has this in it")
    verb.add_argument("--wire", metavar="PART", help="of this wire, as in '42 AWG'")
    verb.add_argument("--spool", metavar="NAME", help="wound from this spool")
    verb.add_argument(
        "--state", metavar="STATE", help="begun, complete, 'ended short', unfinished or spoiled"
    )
    verb.add_argument("--since", metavar="DAY", help="begun on this day or later, as 2026-01-31")
    verb.add_argument("--ohms", metavar="A..B", help="ohms at 20 C, as measured or else expected")
    verb.add_argument("--turns", metavar="A..B", help="turns that can be in this range")
    verb.add_argument("--summary", action="store_true", help="how far off the expectations were")
    _finish(verb, list_coils, json=True)


def _add_show(verbs: Any) -> None:
    says = "Show one coil: what was expected, its readings, every run and its journal."
    verb = verb_parser(
        verbs, "show", "one coil, with everything known about it", says, _SHOW_EXAMPLES
    )
    _add_coil(verb)
    verb.add_argument(
        "--all", action="store_true", help="every line of the journals, the routine counts too"
    )
    _finish(verb, show_coil, json=True)


def _add_measure(verbs: Any) -> None:
    verb = verb_parser(verbs, "measure", "enter a reading of a coil", _MEASURE, _MEASURE_EXAMPLES)
    _add_coil(verb)
    verb.add_argument("reading", metavar="READING", nargs="?", help="as in '812 ohm, 23 C'")
    verb.add_argument("--meter", metavar="WORDS", default="", help="what it was measured with")
    verb.add_argument("--strike", metavar="N", type=int, help="reading N no longer counts")
    verb.add_argument("--because", metavar="WORDS", default="", help="with --strike: why")
    _finish(verb, measure_coil, json=True)


def _add_edit(verbs: Any) -> None:
    verb = verb_parser(verbs, "edit", "change what is written about a coil", _EDIT, _EDIT_EXAMPLES)
    _add_coil(verb)
    verb.add_argument("--note", metavar="WORDS")
    verb.add_argument("--place", metavar="WORDS", help="where it lies, or where it was built in")
    verb.add_argument("--direction", choices=("clockwise", "counter-clockwise"))
    verb.add_argument("--start-colour", metavar="WORD", help="of the start lead (S)")
    verb.add_argument("--finish-colour", metavar="WORD", help="of the finish lead (F)")
    verb.add_argument("--spool", metavar="NAME", help="the spool it was wound from")
    verb.add_argument("--spoiled", metavar="WHY", help="it is no good")
    verb.add_argument(
        "--recipe", metavar="FILE", help="wire and bobbin of a coil that was only counted"
    )
    seen = verb.add_mutually_exclusive_group()
    seen.add_argument("--hide", action="store_true", help="leave it out of lists")
    seen.add_argument("--unhide", action="store_true", help="show it in lists again")
    _finish(verb, edit_coil, json=False)


def _add_pair(verbs: Any) -> None:
    from winder.commands import shelf_pair

    verb = verb_parser(verbs, "pair", "two coils as a pair", _PAIR, _PAIR_EXAMPLES)
    shelf_pair.add_options(verb)
    _finish(verb, shelf_pair.pair_coils, json=True)


def _add_card(verbs: Any) -> None:
    from winder.commands import shelf_card

    says = "Write a page to print and keep with the coil: facts, readings, curve of its ohms."
    example = "examples:\n  winder shelf card 12 --html coil12.html"
    verb = verb_parser(verbs, "card", "a page to keep with the coil", says, example)
    _add_coil(verb)
    verb.add_argument("--html", metavar="FILE", type=Path, required=True, help="a new file")
    _finish(verb, shelf_card.print_card, json=False)


def _add_exchange(verbs: Any) -> None:
    from winder.commands import shelf_exchange

    for name, summary, run, ends in (
        ("export", "the shelf as a new file", shelf_exchange.export_shelf, ".json or .csv"),
        ("import", "an exported shelf beside this one", shelf_exchange.import_shelf, ".json"),
        ("copy", "copy the logbook", shelf_exchange.copy_shelf, ".sqlite"),
    ):
        verb = verb_parser(verbs, name, summary, _EXCHANGE, _EXCHANGE_EXAMPLES)
        verb.add_argument("file", metavar="FILE", type=Path, help=f"a file ending in {ends}")
        _finish(verb, run, json=False)


def list_coils(arguments: argparse.Namespace) -> int:
    from winder.commands import shelf_list

    return shelf_list.list_coils(arguments)


def show_coil(arguments: argparse.Namespace) -> int:
    from winder.commands import shelf_show

    return shelf_show.show_coil(arguments)


def measure_coil(arguments: argparse.Namespace) -> int:
    from winder.commands import shelf_measure

    return shelf_measure.measure_coil(arguments)


def edit_coil(arguments: argparse.Namespace) -> int:
    from winder.commands import shelf_measure

    return shelf_measure.edit_coil(arguments)


def _add_coil(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("coil", metavar="COIL", help="number or name, as 'shelf list' shows them")


def _finish(verb: argparse.ArgumentParser, run: Any, *, json: bool) -> None:
    if json:
        verb.add_argument("--json", action="store_true", help="print JSON for other programs")
    add_logbook_option(verb)
    verb.set_defaults(run=run)
