"""How alike two finished coils are, and which of them has turns to lose.

Three differences, each with its doubt: turns as counted, ohms at 20 C as read, and turns-area, by which a
pair cancels hum. Of one spool and one kind, ohms per metre and packing habit are common and drop out; what is
left is each coil's own packing (3 % between two, unmeasured), its count, and what digits and thermometer
leave open. A reading of both narrows the packing's part: at equal turns more ohms are looser packing, and
looser packing is more turns-area, about twice as much on a round bobbin. Bands of two coils are never
subtracted as if they did not know of each other.
"""

from __future__ import annotations

import dataclasses
import enum
import math

from firmware_protocol.records import dataclass
from winder.coil.bands import Band
from winder.coil.doubts import Doubtful
from winder.coil.turns_area import turns_of_area
from winder.errors import UserMistake
from winder.files.quantities import COPPER_ALPHA20_PER_K
from winder.pair.finished import FinishedCoil, Logs, by_practice, logs_of, ohms_read

SURPRISE_MAX = 4.0  # standard errors; beyond it two readings are not of two such coils
WITHIN_95 = 1.96
OHM_WITHIN = 0.01  # alike enough in ohms for any use we know; our judgement
AREA_WORTH = 0.0025  # -52 dB: less is drowned by the field of any transformer within metres


class By(enum.Enum):
    """What shall be made equal."""

    TURNS = "turns"
    RESISTANCE = "resistance"
    HUM = "hum"


@dataclass(frozen=True, slots=True)
class Likeness:
    """Of the first coil against the second; shares are of the second."""

    one: FinishedCoil
    other: FinishedCoil
    same_kind: bool
    same_spool: bool
    turns: Band  # more on the first; below zero: fewer
    ohm_share: Band | None  # more ohms at 20 C; None: not both were read
    kelvin: Band | None  # the same difference as a temperature
    alike_in_ohms: bool | None  # no more apart than meter and thermometer can tell
    turns_area_m2: tuple[float, float]
    turns_area_share: Band
    turns_area_log: Doubtful  # ln of the ratio, for what is figured from it
    packing_m2: tuple[float, float]  # area per turn as the readings leave it
    surprise: float  # standard errors by which the readings disagree with counts and model


@dataclass(frozen=True, slots=True)
class TurnsOff:
    """What to take off to make two coils alike."""

    by: By
    coil: int  # 0: the first has them to lose; 1: the second
    turns: float  # exact, by the nominal values
    low: float  # 95 % limits by what is not known of the difference
    high: float
    whole: int
    can_tell: bool  # False: no difference that meter, thermometer and count can tell


def compare(one: FinishedCoil, other: FinishedCoil, *, one_sitting: bool = False) -> Likeness:
    """Both coils side by side; ``one_sitting``: read one after the other with one thermometer."""
    same_kind = one.kind == other.kind
    same_spool = bool(one.spool) and one.spool == other.spool
    if one.coil.wire.label != other.coil.wire.label:
        same_spool = False
    if same_kind or same_spool:
        one, other = by_practice(one), by_practice(other)
    first, second = (
        logs_of(each, place, one_kind=same_kind, one_spool=same_spool)
        for each, place in ((one, "one"), (other, "other"))
    )
    read, other_read = (
        ohms_read(each, place, one_sitting=one_sitting)
        for each, place in ((one, "one"), (other, "other"))
    )
    area = first.turns_area_m2.less(second.turns_area_m2)
    packing = (first.packing, second.packing)
    ohm: Doubtful | None = None
    surprise = 0.0
    if read is not None and other_read is not None:
        ohm = read.less(other_read)
        miss = first.ohm_20c.less(second.ohm_20c).less(ohm)
        surprise = miss.value / (miss.doubt / WITHIN_95) if miss.doubt else 0.0
        area = area.knowing(miss)
        packing = (packing[0].knowing(miss), packing[1].knowing(miss))
    count = math.hypot(*((each.turns.high - each.turns.low) / 2 for each in (one, other)))
    more = one.turns.nominal - other.turns.nominal
    share = None if ohm is None else _less_one(ohm)
    return Likeness(
        one=one,
        other=other,
        same_kind=same_kind,
        same_spool=same_spool,
        turns=Band(more, more - count, more + count),
        ohm_share=share,
        kelvin=None if share is None else _times(share, 1 / COPPER_ALPHA20_PER_K),
        alike_in_ohms=None if ohm is None else abs(ohm.value) <= ohm.doubt,
        turns_area_m2=_turns_areas(first, second, area),
        turns_area_share=_less_one(area),
        turns_area_log=area,
        packing_m2=(math.exp(packing[0].value), math.exp(packing[1].value)),
        surprise=surprise,
    )


def turns_off(likeness: Likeness, by: By) -> TurnsOff:
    """Turns to take off which coil so that both are alike ``by`` this.

    ``UserMistake`` by resistance where not both coils were read.
    """
    if by is By.TURNS:
        more = likeness.turns
        coil = 0 if more.nominal >= 0 else 1
        ends = sorted(abs(each) for each in (more.low, more.high))
        low = 0.0 if more.low <= 0 <= more.high else ends[0]
        turns = abs(more.nominal)
        return TurnsOff(by, coil, turns, low, ends[1], round(turns), round(turns) > 0)
    log = likeness.turns_area_log if by is By.HUM else _ohm_log(likeness)
    coil = 0 if log.value >= 0 else 1
    ends = [abs(log.value) + side * log.doubt for side in (-1, 0, 1)]
    low, turns, high = (_off(likeness, by, coil, each) for each in ends)
    return TurnsOff(by, coil, turns, low, high, round(turns), ends[0] > 0)


def advice(likeness: Likeness, ohm_within: float = OHM_WITHIN) -> TurnsOff | None:
    """What to take off so that the pair cancels hum best and stays alike in ohms; None: leave both.

    Turns-areas are made equal as far as the coil that loses turns then surely lies no further below the
    other in ohms than ``ohm_within``. None where that is less than a turn, or less than is worth a soldering iron.
    """
    off = turns_off(likeness, By.HUM)
    if abs(likeness.turns_area_log.value) < AREA_WORTH:
        return None
    if likeness.ohm_share is not None:
        off = _within_ohms(likeness, off, ohm_within)
    return off if off.whole >= 1 else None


def _within_ohms(likeness: Likeness, off: TurnsOff, ohm_within: float) -> TurnsOff:
    log = _ohm_log(likeness)
    apart = log.value if off.coil == 0 else -log.value  # how far the one that loses turns is above
    below = max(ohm_within - 2 * log.doubt, 0.0)  # as far as it may come to lie below, four sigma
    most = max(_off(likeness, By.RESISTANCE, off.coil, apart + below), 0.0)
    if off.turns <= most:
        return off
    return dataclasses.replace(off, turns=most, whole=math.floor(most))


def _ohm_log(likeness: Likeness) -> Doubtful:
    share = likeness.ohm_share
    if share is None:
        raise UserMistake(
            "not both coils have a reading",
            where="reading",
            remedy="measure both, best in one sitting with one meter, and ask again",
        )
    value = math.log1p(share.nominal)
    return Doubtful(value, {"meter and thermometer": math.log1p(share.high) - value})


def _off(likeness: Likeness, by: By, coil: int, log: float) -> float:
    """Turns that make the coil's wire or turns-area smaller by this logarithm; below zero they are missing."""
    finished = (likeness.one, likeness.other)[coil]
    ground, area_m2 = finished.coil.ground, likeness.packing_m2[coil]
    turns = finished.turns.nominal
    if by is By.HUM:
        left_m2 = ground.turns_area_m2(turns, area_m2) * math.exp(-log)
        return turns - turns_of_area(ground, left_m2, area_m2)
    leads_m = finished.coil.recipe.leads_m
    left_m = (ground.length_m(turns, area_m2) + leads_m) * math.exp(-log) - leads_m
    return turns - ground.turns_of(max(left_m, 0.0), area_m2)


def _turns_areas(first: Logs, second: Logs, area: Doubtful) -> tuple[float, float]:
    """Both turns-areas, their ratio as the readings leave it."""
    middle = (first.turns_area_m2.value + second.turns_area_m2.value) / 2
    return math.exp(middle + area.value / 2), math.exp(middle - area.value / 2)


def _less_one(log: Doubtful) -> Band:
    """The logarithm of a ratio as a share more."""
    ratio = log.log_band
    return Band(ratio.nominal - 1, ratio.low - 1, ratio.high - 1)


def _times(band: Band, factor: float) -> Band:
    return Band(band.nominal * factor, band.low * factor, band.high * factor)
