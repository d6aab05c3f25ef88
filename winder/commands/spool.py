"""``winder spool``: spools of wire, what is left on each, and the coils wound from them."""

from __future__ import annotations

import argparse
import json
import re
from typing import TYPE_CHECKING, Any

from winder.commands.logbook_option import add_logbook_option
from winder.commands.verb_parser import verb_parser
from winder.errors import UserMistake, WinderError

if TYPE_CHECKING:
    from winder.coil.spool_account import SpoolNow
    from winder.recipe.model import Wire
    from winder.shelf import Logbook
    from winder.shelf.spools import Spool

_DESCRIPTION = """\
Spools of wire, in the logbook. Each coil wound from a spool takes its length
off, including what broke or came off again. Tails, weighings and the ohms of its
coils show more exactly what is left. 'winder wind --spool NAME' winds from it."""

_EXAMPLES = """\
examples:
  winder spool new red --wire '42 AWG single' --length '1500 m'
  winder spool new blue --wire '0.063 mm grade 1' --gross '182.4 g' --tare '61.0 g'
  winder spool edit red --tail '20 m, 108.4 ohm, 22 C'
  winder spool edit blue --weighs '140.2 g'
  winder spool list"""


def add_parser(subparsers: Any) -> None:
    spool = verb_parser(
        subparsers, "spool", "spools of wire and what is left", _DESCRIPTION, _EXAMPLES
    )
    verbs = spool.add_subparsers(title="verbs", metavar="VERB", required=True)
    listing = verb_parser(
        verbs, "list", "every spool and what is left on it", _DESCRIPTION, _EXAMPLES
    )
    listing.add_argument("--json", action="store_true", help="print JSON for other programs")
    _finish(listing, list_spools)
    new = verb_parser(verbs, "new", "begin a spool", _DESCRIPTION, _EXAMPLES)
    new.add_argument("name", metavar="NAME")
    new.add_argument("--wire", metavar="WIRE", required=True, help="as '42 AWG single'")
    new.add_argument("--maker", metavar="OHMS", help="the maker's ohms per length, as '5.44 ohm/m'")
    new.add_argument("--length", metavar="LENGTH", help="how much wire is on it")
    new.add_argument("--gross", metavar="MASS", help="what it weighs, full")
    new.add_argument("--tare", metavar="MASS", help="what the empty spool weighs")
    new.add_argument("--note", metavar="WORDS", default="")
    _finish(new, new_spool)
    edit = verb_parser(
        verbs, "edit", "a measured tail, a weighing, a note", _DESCRIPTION, _EXAMPLES
    )
    edit.add_argument("name", metavar="NAME")
    edit.add_argument("--tail", metavar="TAIL", help="cut off it, as '20 m, 108.4 ohm, 22 C'")
    edit.add_argument("--weighs", metavar="MASS", help="what it weighs now, empty spool included")
    edit.add_argument("--tare", metavar="MASS", help="what the empty spool weighs")
    edit.add_argument("--note", metavar="WORDS")
    _finish(edit, edit_spool)


def _finish(verb: argparse.ArgumentParser, run: Any) -> None:
    add_logbook_option(verb)
    verb.set_defaults(run=run)


def new_spool(arguments: argparse.Namespace) -> int:
    """Enters a spool. ``UserMistake`` for a wire that is none, or one of which nobody knows how much there is."""
    from winder.coil.spool_account import SpoolFacts, spool_now
    from winder.coil.wire import wire_facts
    from winder.files.dimensions import LENGTH, MASS, RESISTANCE_PER_LENGTH
    from winder.service.workbench import open_logbook
    from winder.shelf.spools import Spools

    maker = _value(arguments.maker, RESISTANCE_PER_LENGTH, "--maker")
    wire = wire_of(arguments.wire, maker)
    facts = wire_facts(wire)
    length_m = _value(arguments.length, LENGTH, "--length")
    gross_kg = _value(arguments.gross, MASS, "--gross")
    tare_kg = _value(arguments.tare, MASS, "--tare") or 0.0
    now = spool_now(SpoolFacts(facts, length_m, gross_kg, tare_kg))
    with open_logbook(getattr(arguments, "logbook", None)) as logbook:
        spool = Spools(logbook.book).add(
            arguments.name,
            wire,
            facts.label,
            length_m=length_m,
            gross_kg=gross_kg,
            tare_kg=tare_kg,
            note=arguments.note,
        )
    print(f"spool '{spool.name}', {spool.label}: {_metres(now)}")
    return 0


def edit_spool(arguments: argparse.Namespace) -> int:
    """Enters a tail, a weighing or a note, all or none. ``UserMistake`` for what cannot be."""
    from winder.files.dimensions import MASS
    from winder.recipe.observations import SpoolTail
    from winder.recipe.readings import read_reading
    from winder.service.supply import left_on
    from winder.service.workbench import open_logbook
    from winder.shelf.spools import Spools

    told = (arguments.tail, arguments.weighs, arguments.tare, arguments.note)
    if all(each is None for each in told):
        raise UserMistake(
            "no change was given",
            where="winder spool edit",
            remedy="add --tail, --weighs, --tare or --note",
        )
    tail = None if arguments.tail is None else read_reading(f"tail, {arguments.tail}")
    weighs_kg = _value(arguments.weighs, MASS, "--weighs")
    tare_kg = _value(arguments.tare, MASS, "--tare")
    with open_logbook(getattr(arguments, "logbook", None)) as logbook:
        spools = Spools(logbook.book)
        spool = spools.named(arguments.name)
        if weighs_kg is not None and not (spool.tare_kg or tare_kg):
            raise UserMistake(
                "the weight of the empty spool is not known",
                where="--weighs",
                remedy="add --tare with its weight, or that of one like it",
            )
        with logbook.book.transaction():
            if arguments.note is not None or tare_kg is not None:
                spools.say(spool, note=arguments.note, tare_kg=tare_kg)
            if isinstance(tail, SpoolTail):
                spools.add_tail(spool, arguments.tail, tail)
            if weighs_kg is not None:
                spools.add_weighing(spool, arguments.weighs, weighs_kg)
            if (tail, weighs_kg, tare_kg) != (None, None, None):
                left_on(logbook, spools.named(spool.name))  # what cannot be undoes all
        now, trouble = _account(logbook, spools.named(spool.name))
    print(f"spool '{spool.name}': {trouble if now is None else _metres(now)}")
    return 0


def list_spools(arguments: argparse.Namespace) -> int:
    from winder.commands.plain_table import PlainTable
    from winder.shelf import Logbook
    from winder.shelf.spools import Spools

    with Logbook.open(getattr(arguments, "logbook", None), read_only=True) as logbook:
        spools = Spools(logbook.book).all()
        accounts = [_account(logbook, spool) for spool in spools]
    if arguments.json:
        facts = [_facts(*each) for each in zip(spools, accounts, strict=True)]
        print(json.dumps(facts, indent=2))
        return 0
    if not spools:
        print("No spool yet: add one with winder spool new.")
        return 0
    table = PlainTable("name", "wire", "left", "ohm/m", "coils")
    for spool, (now, trouble) in zip(spools, accounts, strict=True):
        coils = ", ".join(map(str, spool.coils))
        told = trouble if now is None else _metres(now)
        ohm = "" if now is None else f"{now.ohm_per_m.nominal:.4g}"
        table.add_row(spool.name, spool.label, told, ohm, coils)
    table.print()
    return 0


def _account(logbook: Logbook, spool: Spool) -> tuple[SpoolNow | None, str]:
    """What is left; or what is wrong with what is told of this spool: the others are listed all the same."""
    from winder.service.supply import left_on

    try:
        return left_on(logbook, spool), ""
    except WinderError as error:
        return None, error.what


def _facts(spool: Spool, account: tuple[SpoolNow | None, str]) -> dict[str, Any]:
    now, trouble = account
    return {
        "name": spool.name,
        "wire": spool.label,
        "length_m": spool.length_m,
        "gross_kg": spool.gross_kg,
        "tare_kg": spool.tare_kg,
        "note": spool.note,
        "begun": spool.begun,
        "coils": list(spool.coils),
        "left_m": None if now is None else now.left_m.facts(),
        "used_m": None if now is None else now.used_m.facts(),
        "ohm_per_m": None if now is None else now.ohm_per_m.facts(),
        "trouble": trouble,
    }


def _metres(now: SpoolNow) -> str:
    left = now.left_m
    return f"{left.nominal:.0f} m left ({max(left.low, 0):.0f} to {left.high:.0f})"


def wire_of(text: str, ohm_per_m: float | None) -> Wire:
    """A wire as the program writes one. ``UserMistake`` for any other words."""
    from winder.files.dimensions import LENGTH
    from winder.recipe.model import AwgWire, MetricWire

    words = " ".join(text.split())
    if found := re.fullmatch(r"([0-9]{1,2}) AWG (single|heavy)", words):
        return AwgWire(int(found[1]), found[2], ohm_per_m=ohm_per_m)
    if found := re.fullmatch(r"([0-9.]{1,8} (?:mm|um)) grade ([12])", words):
        diameter_m = _value(found[1], LENGTH, "--wire")
        assert diameter_m is not None
        return MetricWire(diameter_m, int(found[2]), ohm_per_m=ohm_per_m)
    raise UserMistake(
        f"'{text[:40]}' is not a wire in the tables",
        where="--wire",
        remedy="write it like '42 AWG single', '42 AWG heavy' or '0.063 mm grade 1'",
    )


def _value(text: str | None, dimension: Any, where: str) -> float | None:
    from winder.files.quantities import QuantityError, read_quantity

    if text is None:
        return None
    try:
        return read_quantity(text, dimension)
    except QuantityError as wrong:
        raise UserMistake(wrong.what, where=where, remedy=wrong.remedy) from None
