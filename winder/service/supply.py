"""The spool that a wind takes its wire from: what is left on it, what it has taught, whether the wire lasts.

A spool of the logbook knows its coils; one that only the recipe tells of is as full as it says.
"""

from __future__ import annotations

from collections.abc import Sequence

from firmware_protocol.records import dataclass
from winder.coil.known import coil_as_known
from winder.coil.model import Coil
from winder.coil.spool_account import (
    Lasting,
    Lasts,
    SpoolFacts,
    SpoolNow,
    SpoolUse,
    spool_now,
    taught,
    use_of,
    will_last,
)
from winder.coil.wire import wire_facts
from winder.errors import UserMistake
from winder.machine.instruments import Instruments
from winder.recipe.observations import OhmReading
from winder.service.shelved import coil_on_shelf, name_of, path_of
from winder.shelf.logbook import Logbook
from winder.shelf.model import CoilRecord
from winder.shelf.spools import Spool, Spools
from winder.wind.viewing import Supply


@dataclass(frozen=True, slots=True)
class Supplied:
    """A coil with what its spool taught of the wire, and whether that lasts. ``spool`` None: only the recipe's."""

    coil: Coil
    lasting: Lasting
    spool: Spool | None


@dataclass(frozen=True, slots=True)
class _Account:
    """What a spool's account is made from."""

    facts: SpoolFacts
    uses: tuple[SpoolUse, ...]
    weighed_kg: float | None

    def now(self) -> SpoolNow:
        return spool_now(self.facts, self.uses, self.weighed_kg)


def left_on(logbook: Logbook, spool: Spool) -> SpoolNow:
    """The account of a spool now. ``UserMistake`` where what is told of it does not go together."""
    return _account(logbook, spool).now()


def supplied(
    coil: Coil, logbook: Logbook | None, name: str | None, begun_turns: float = 0.0
) -> Supplied | None:
    """The coil from the spool of this name, or that the recipe names or tells of; None where nobody told.

    ``UserMistake`` for a spool that is not there or has other wire.
    """
    name = name or coil.recipe.spool_name or None
    if name is None or logbook is None:
        told = coil.recipe.spool
        if told is None:
            return None
        facts = SpoolFacts(coil.wire, told.length_m, told.mass_kg, instruments=coil.instruments)
        return Supplied(coil, will_last(facts, (), _next(coil, begun_turns)), None)
    spool = Spools(logbook.book).named(name)
    if spool.label != coil.wire.label:
        raise UserMistake(
            f"spool '{name}' has {spool.label}, the recipe {coil.wire.label}",
            where="--spool",
            remedy="name a spool of the recipe's wire, or change the recipe",
        )
    account = _account(logbook, spool, coil.instruments)
    if not coil.recipe.readings and (account.uses or account.facts.tails):
        coil = coil_as_known(coil, taught(coil, account.now()))
    lasting = will_last(account.facts, account.uses, _next(coil, begun_turns), account.weighed_kg)
    return Supplied(coil, lasting, spool)


def spools_for(logbook: Logbook, coil: Coil) -> list[str]:
    """Spools of its wire, the newest first; none where the recipe tells of its own."""
    if coil.recipe.spool is not None or coil.recipe.spool_name:
        return []
    found = Spools(logbook.book).all()
    return [each.name for each in reversed(found) if each.label == coil.wire.label]


def shown_supply(given: Supplied) -> Supply:
    """What a screen shows of the spool while its wire goes onto the coil."""
    coil, lasting = given.coil, given.lasting
    ground, area_m2 = coil.ground, coil.area_per_turn_m2.nominal
    at_end_m = ground.length_m(coil.turns, area_m2) + lasting.spare_m.nominal
    ends = lasting.ends_at_turns
    return Supply(
        lambda turns: at_end_m - ground.length_m(turns, area_m2), None if ends is None else ends.low
    )


def refuse_short(given: Supplied) -> None:
    """``UserMistake`` where the wire may not last: only a person says go on."""
    lasting, ends = given.lasting, given.lasting.ends_at_turns
    if lasting.lasts is Lasts.YES or ends is None:
        return
    name = "the recipe's spool" if given.spool is None else f"spool '{given.spool.name}'"
    raise UserMistake(
        f"{lasting.lasts.value} wire on {name}: it would end at about turn {ends.nominal:.0f},"
        f" between {ends.low:.0f} and {ends.high:.0f}, of {given.coil.turns}",
        where="spool",
        remedy="take a fuller spool, or add --short-wire to wind it all the same",
    )


def _next(coil: Coil, begun_turns: float) -> SpoolUse:
    return use_of(coil, "the next", (float(coil.turns),), begun=begun_turns)


def _account(logbook: Logbook, spool: Spool, instruments: Instruments | None = None) -> _Account:
    """All its winds; or, where it was weighed before the newest of them, what was on it then and the winds since."""
    wire = wire_facts(spool.wire)
    weighing = spool.weighings[-1] if spool.weighings else None
    newest = max(spool.coils, default=0)
    if weighing is not None and weighing.after_coil < newest:
        facts = SpoolFacts(
            wire,
            gross_kg=weighing.gross_kg,
            tare_kg=spool.tare_kg,
            instruments=instruments or Instruments(),
        )
        since = [number for number in spool.coils if number > weighing.after_coil]
        return _Account(facts, _uses(logbook, since), None)
    facts = SpoolFacts(
        wire,
        spool.length_m,
        spool.gross_kg,
        spool.tare_kg,
        tails=spool.tails,
        instruments=instruments or Instruments(),
    )
    weighed_kg = None if weighing is None else weighing.gross_kg
    return _Account(facts, _uses(logbook, spool.coils), weighed_kg)


def _uses(logbook: Logbook, numbers: Sequence[int]) -> tuple[SpoolUse, ...]:
    """What each coil took; one on which nothing is wound took nothing."""
    records = [logbook.coil(number) for number in numbers]
    return tuple(_use(record) for record in records if (record.row.turns or (0, 0))[1] > 0)


def _use(record: CoilRecord) -> SpoolUse:
    row, path = record.row, path_of(record)
    low, high = row.turns or (0.0, 0.0)
    reading = None
    if row.measured_ohm is not None:
        at_c = 20.0 if row.measured_at_c is None else row.measured_at_c
        reading = OhmReading(path[-1], row.measured_ohm, at_c)
    doubt = 0.0 if row.truth.is_open else (high - low) / 2
    return use_of(coil_on_shelf(record), name_of(record), path, turns_doubt=doubt, reading=reading)
