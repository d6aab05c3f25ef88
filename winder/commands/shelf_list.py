"""``winder shelf list``: the coils in 80 columns, chosen by what they are, and how far off expectations were."""

from __future__ import annotations

import argparse
import json
import math
import statistics
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from winder.commands.plain_table import PlainTable
from winder.errors import UserMistake, WinderError
from winder.files.digits import show_number

if TYPE_CHECKING:
    from winder.shelf import Logbook
    from winder.shelf.model import CoilRow


def list_coils(arguments: argparse.Namespace) -> int:
    """Prints the list. ``UserMistake`` for a filter that is none."""
    from winder.commands.shelf_show import row_facts
    from winder.shelf import Logbook

    with Logbook.open(getattr(arguments, "logbook", None), read_only=True) as logbook:
        every = logbook.coils()
        coils = chosen(every, arguments)
        summary = summary_lines(logbook, coils) if arguments.summary else []
    if arguments.json:
        print(json_lines([row_facts(coil) for coil in coils]))
        return 0
    if arguments.summary:
        print("\n".join(summary))
        return 0
    if not coils:
        print(_nothing(every, arguments))
        return 0
    table = PlainTable("no.", "name", "state", "turns", "ohms", "expected", "begun")
    for coil in coils:
        table.add_row(
            str(coil.coil_id),
            coil.name,
            coil.state_text,
            coil.turns_text,
            _measured(coil),
            _expected(coil),
            coil.date[:10],
        )
    table.print()
    others = sum(coil.simulated for coil in every) if not arguments.simulated else 0
    if others:
        print(f"{others} of the simulated machine: --simulated lists them")
    return 0


def json_lines(coils: Sequence[dict[str, Any]]) -> str:
    """One coil on each line: long lists stay quick to write and to read."""
    return "[" + ",\n".join(map(json.dumps, coils)) + "]"


def _nothing(every: Sequence[CoilRow], arguments: argparse.Namespace) -> str:
    if not every:
        return "The shelf is empty: no coil has been wound yet."
    others = sum(coil.simulated for coil in every)
    if others and not arguments.simulated:
        return f"No such coil; {others} of the simulated machine: --simulated lists them."
    return "No such coil on the shelf."


def _measured(coil: CoilRow) -> str:
    from winder.commands.shelf_show import ohms_at_20c

    ohm = ohms_at_20c(coil.measured_ohm, coil.measured_at_c)
    return "" if ohm is None else show_number(ohm, 4)


def _expected(coil: CoilRow) -> str:
    _, low, high = coil.ohm_20c
    if not coil.is_known:
        return ""
    return f"{show_number(low, 4)} to {show_number(high, 4)}"


# --- filters -----------------------------------------------------------------------------------


def chosen(coils: Sequence[CoilRow], arguments: argparse.Namespace) -> list[CoilRow]:
    """Those that are asked for. JSON has real and simulated coils, each with its mark, unless one kind is asked for."""
    from winder.commands.shelf_show import ohms_at_20c

    ohms = _range(arguments.ohms, "--ohms")
    turns = _range(arguments.turns, "--turns")
    since = _day(arguments.since)
    words = arguments.find.casefold().split()

    def kind_asked_for(coil: CoilRow) -> bool:
        if arguments.json and not arguments.simulated and not arguments.real:
            return True
        return coil.simulated is arguments.simulated

    def good(coil: CoilRow) -> bool:
        told = (
            (arguments.name, coil.name),
            (arguments.wire, coil.wire),
        )
        if any(part is not None and part.casefold() not in text.casefold() for part, text in told):
            return False
        if not _says_all(coil, words):
            return False
        if arguments.spool is not None and coil.said.spool != arguments.spool:
            return False
        if arguments.state is not None and arguments.state not in (coil.state, coil.state_text):
            return False
        ohm = ohms_at_20c(coil.measured_ohm, coil.measured_at_c)
        ohm = coil.ohm_20c[0] if ohm is None else ohm
        low, high = coil.turns or (0.0, 0.0)
        return (
            coil.date[:10] >= since
            and ohms[0] <= ohm <= ohms[1]
            and low <= turns[1]
            and turns[0] <= high
            and (arguments.hidden or not coil.said.hidden)
            and kind_asked_for(coil)
        )

    found = [coil for coil in coils if good(coil)]
    return found if arguments.newest is None else found[max(0, len(found) - arguments.newest) :]


def _says_all(coil: CoilRow, words: Sequence[str]) -> bool:
    """Whether every word is somewhere in what is told of the coil."""
    said = coil.said
    told = (coil.name, coil.wire, coil.state_text, coil.date, said.spool, said.place, said.note)
    text = f"{coil.coil_id} {' '.join(told)}".casefold()
    return all(word in text for word in words)


def _range(text: str | None, option: str) -> tuple[float, float]:
    """``A..B``, either end left out for no limit."""
    if text is None:
        return -math.inf, math.inf
    low, dots, high = text.partition("..")
    try:
        ends = (float(low) if low else -math.inf), (float(high) if high else math.inf)
    except ValueError:
        ends = math.nan, math.nan
    if not dots or not ends[0] <= ends[1]:
        raise UserMistake(
            f"'{text[:40]}' is not a range",
            where=option,
            remedy="write it like 780..830, 780.. or ..830",
        )
    return ends


def _day(text: str | None) -> str:
    from winder.clock import day_of

    if text is None:
        return ""
    try:
        return day_of(text)
    except ValueError:
        raise UserMistake(
            f"'{text[:40]}' is not a date", where="--since", remedy="write it like 2026-01-31"
        ) from None


# --- summary -----------------------------------------------------------------------------------


def summary_lines(logbook: Logbook, coils: Sequence[CoilRow]) -> list[str]:
    """How far measured ohms lay from what was expected by tables alone and by what was measured before the
    wind; and how tightly each bobbin is packed, against practice."""
    from winder.service.summing_up import packing_of_bobbins, predicted_off

    measured = [coil for coil in coils if coil.measured_ohm is not None]
    if not measured:
        return ["No coil here has an ohm reading yet: enter one with winder shelf measure."]
    tables, known, left_out = [], [], 0
    packing: dict[str, list[float]] = {}
    for coil in measured:
        record = logbook.coil(coil.coil_id)
        try:
            by_tables, by_known = predicted_off(record)
            kind, looser = packing_of_bobbins(record)
        except WinderError:
            left_out += 1
            continue
        tables.append(by_tables)
        known.append(by_known)
        packing.setdefault(kind, []).append(looser)
    lines = [f"{len(tables)} coils with a reading of their ohms"]
    for words, offs in (("tables alone", tables), ("what was measured before", known)):
        if offs:
            lines.append(f"measured against {words}: {_off_words(offs)}")
    for kind, values in sorted(packing.items()):
        lines.append(f"packing, {kind}: {_off_words(values)} in area a turn, against practice")
    if left_out:
        lines.append(f"left out, their recipe, count or reading tells too little: {left_out}")
    return lines


def _off_words(shares: Sequence[float]) -> str:
    mean = 100 * statistics.fmean(shares)
    if len(shares) == 1:
        return f"{mean:+.2f} %"
    return f"{mean:+.2f} % on average, {100 * statistics.stdev(shares):.2f} % apart"
