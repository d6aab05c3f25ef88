"""A spool as an account: what it held, what each wind took, what is left, and whether it will last.

Metres come from the maker's length, or from mass over mass per metre. Every wind takes the wire of the turns
wound, also of those that broke or were taken off again (such wire goes into the bin, not back), and what was
wasted besides. Three doubts are common to all coils of a spool and do not average out: its ohms per metre,
its mass per metre (thinner copper has more ohms and less mass, so they go together), and how this bench packs a
bobbin of one kind. All readings are learnt at once, as one linear estimate over named causes (``doubts``):
tails and coils by ohmmeter, weighings of the spool. Limits at 95 %; where no source is named, our judgement.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Sequence
from dataclasses import field, replace

from firmware_protocol.records import dataclass
from winder.coil.bands import WITHIN_95, Band
from winder.coil.doubts import Doubtful
from winder.coil.equations import CORE_SHARE, MODEL_SHARE, TAIL_SHARE, WIND_TO_WIND, reading_log
from winder.coil.knowledge import Knowledge, prior
from winder.coil.mass import ENAMEL_DENSITY_KG_M3
from winder.coil.model import Coil
from winder.coil.turns_area import packing_slopes
from winder.coil.window import Ground
from winder.coil.wire import CONDUCTIVITY_FACTOR, WireFacts
from winder.errors import UserMistake
from winder.files.digits import show_number
from winder.files.quantities import COPPER_DENSITY_KG_M3
from winder.machine.instruments import Instruments
from winder.recipe.observations import OhmReading, SpoolTail

MAKER_LENGTH_SHARE = 0.02  # a length printed on a spool
ENAMEL_SHARE = 0.25  # of the enamel's mass, where its limits are not known
SCALE_KG = 0.1e-3  # a pocket scale
TARE_KG = 0.1e-3  # an empty spool weighed, or one like it
WASTE_SHARE = 0.5  # of what was wasted besides, by eye
# In length, of wire as wound against the same wire on its spool: by tension and bends.
STRETCH, STRETCH_DOUBT = 0.002, 0.0025
SURPRISE_MAX = 5.0  # standard errors; beyond it two things told of a spool cannot both be true
STEPS = 5  # of the account: each begins where the last one led


@dataclass(frozen=True, slots=True)
class SpoolFacts:
    """What is known of a spool when it is begun. Length or masses; of the masses the tare is the empty spool."""

    wire: WireFacts
    length_m: float | None = None
    gross_kg: float | None = None
    tare_kg: float = 0.0  # 0 where ``gross_kg`` is of the wire alone
    length_share: float = MAKER_LENGTH_SHARE
    scale_kg: float = SCALE_KG
    tails: tuple[SpoolTail, ...] = ()
    instruments: Instruments = field(default_factory=Instruments)


@dataclass(frozen=True, slots=True)
class SpoolUse:
    """One wind from the spool. ``path``: the turns on the coil at each turning back and at the end.

    (3000.0, 2950.0, 5000.0): wound to 3000, 50 taken off, wound to 5000.
    """

    name: str
    ground: Ground
    area_per_turn_m2: Band
    leads_m: float
    path: tuple[float, ...]
    begun: float = 0.0  # turns that were on the coil already
    turns_doubt: float = 0.0  # of the count, either side
    waste_m: float = 0.0  # cut off, threaded, spliced
    reading: OhmReading | None = None  # of the finished coil
    kind: str = ""  # the same for coils of one bobbin and wire

    @property
    def turns(self) -> float:
        """On the coil at the end."""
        return self.path[-1] if self.path else 0.0


@dataclass(frozen=True, slots=True)
class SpoolNow:
    """What is left, at 95 %; ``ohm_per_m`` is what the spool has taught, for its next coil."""

    left_m: Band
    used_m: Band
    held_m: Band  # when it was begun
    ohm_per_m: Band
    kg_per_m: Band
    left: Doubtful  # by cause, to be compared with what a wind will take


Miss = tuple[str, Doubtful]  # what it is of, and what should have been less what was told


class Lasts(enum.Enum):
    YES = "enough"
    DOUBTFUL = "perhaps not enough"
    NO = "too little"


@dataclass(frozen=True, slots=True)
class Lasting:
    """Whether the wire lasts for a wind."""

    lasts: Lasts
    needed_m: Band
    spare_m: Band  # left after it; below zero it lacks so much
    ends_at_turns: Band | None  # where the wire would end; None where it lasts for sure


def use_of(coil: Coil, name: str, path: Sequence[float], **more: object) -> SpoolUse:
    """A wind of this coil; ``more`` are the fields of ``SpoolUse`` that were recorded besides."""
    use = SpoolUse(
        name,
        coil.ground,
        coil.area_per_turn_m2,
        coil.recipe.leads_m,
        tuple(map(float, path)),
        kind=f"{coil.wire.label} {coil.ground!r}",
    )
    return replace(use, **more)  # type: ignore[arg-type]


def wire_used_m(ground: Ground, area_m2: float, path: Sequence[float], begun: float = 0.0) -> float:
    """Wire that went onto the coil on this path from ``begun`` turns: what came off again is gone, metres."""
    used, at = 0.0, begun
    for turns in path:
        if turns > at:
            used += ground.length_m(turns, area_m2) - ground.length_m(at, area_m2)
        at = turns
    return used


def spool_now(
    spool: SpoolFacts, uses: Sequence[SpoolUse] = (), weighed_kg: float | None = None
) -> SpoolNow:
    """The account after these winds; ``weighed_kg`` is what the spool weighs now, empty spool included.

    ``UserMistake`` where neither length nor mass is known, or masses cannot be.
    """
    return _account(spool, uses, weighed_kg, [])[0]


def will_last(
    spool: SpoolFacts,
    uses: Sequence[SpoolUse],
    wind: SpoolUse,
    weighed_kg: float | None = None,
) -> Lasting:
    """Whether the wire lasts for one more wind to its end, and if not for sure, where it would run out."""
    now, (needed,) = _account(spool, uses, weighed_kg, [_wind(replace(wind, name="the next"))[0]])
    band = now.left.less(needed).band
    lasts = Lasts.YES if band.low >= 0 else Lasts.NO if band.high < 0 else Lasts.DOUBTFUL
    ends = None
    if lasts is not Lasts.YES:
        ends = turns_until_empty(wind, wind.begun, now.left)
    return Lasting(lasts, needed.band, band, ends)


def _account(
    spool: SpoolFacts,
    uses: Sequence[SpoolUse],
    weighed_kg: float | None,
    besides: list[Doubtful],
) -> tuple[SpoolNow, list[Doubtful]]:
    """The account and whatever else shall be known by the same readings."""
    _refuse_impossible(spool, uses, weighed_kg)
    uses = [replace(use, name=f"wind {number}") for number, use in enumerate(uses)]
    wire, per_m = _wire(spool.wire), _kg_per_m(spool.wire)
    used = Doubtful(sum(tail.length_m for tail in spool.tails))
    winds = [_wind(use) for use in uses]
    for length, _ in winds:
        used = used.plus(length)
    read = _ohm_misses(spool, uses, [log for _, log in winds], wire)
    at = per_m.value, _held(spool, per_m, per_m.value).value, used.value
    for _ in range(
        STEPS
    ):  # masses are products of two numbers in doubt: linear only near what is found
        log_kg_per_m, held_m, used_m = at
        held = _held(spool, per_m, log_kg_per_m)
        misses = list(read)
        if spool.length_m is not None and spool.gross_kg is not None:
            scale = _Scale(spool, spool.gross_kg, "begun", held_m, log_kg_per_m)
            misses.append(("its weight when it was full", scale.miss(held, per_m)))
        if weighed_kg is not None:
            scale = _Scale(spool, weighed_kg, "now", held_m - used_m, log_kg_per_m)
            misses.append(("its weight now", scale.miss(held.less(used), per_m)))
        known = _learnt([held, used, wire, per_m, *besides], misses)
        at = known[3].value, known[0].value, known[1].value
    held, used, wire, per_m, *besides = known
    left = held.less(used)
    return SpoolNow(left.band, used.band, held.band, wire.log_band, per_m.log_band, left), besides


def _ohm_misses(
    spool: SpoolFacts, uses: Sequence[SpoolUse], logs: Sequence[Doubtful], wire: Doubtful
) -> list[Miss]:
    """Tails, then coils: ln of the ohms each should have less ln of those it shows."""
    misses = []
    for number, tail in enumerate(spool.tails):
        if tail.ohm is not None:
            name = f"tail {number}"
            share = math.hypot(TAIL_SHARE, tail.length_error_m / tail.length_m)
            should = wire.plus(Doubtful(math.log(tail.length_m), {name: share}))
            shown = reading_log(spool.instruments, tail, name)
            misses.append((f"the ohm reading of the {tail.length_m:g} m tail", should.less(shown)))
    for use, log in zip(uses, logs, strict=True):
        read = use.reading
        if read is not None and read.ohm is not None:
            shown = reading_log(spool.instruments, read, use.name)
            misses.append(
                (f"the reading of {show_number(read.ohm, 6)} ohm", log.plus(wire).less(shown))
            )
    return misses


def taught(coil: Coil, now: SpoolNow) -> Knowledge:
    """What is known of the next coil before it is begun: the spool's ohms per metre, packing by practice.

    ``coil`` as figured from tables alone; readings that the spool has learnt are not learnt a second time.
    """
    told = f"{coil.wire.source}; ohms per metre: as this spool's tails and coils taught"
    wire = replace(coil.wire, ohm_per_m=now.ohm_per_m, source=told)
    return prior(replace(coil.wound, wire=wire))


def turns_until_empty(wind: SpoolUse, on_it: float, left: Doubtful) -> Band:
    """On which turn the spool runs out, ``on_it`` turns being on the coil now; leads and waste kept free."""
    ground, area = wind.ground, wind.area_per_turn_m2
    free_m = left.value - wind.leads_m - wind.waste_m
    wound_m = ground.length_m(on_it, area.nominal)
    turns = ground.turns_of(max(wound_m + free_m, 0.0), area.nominal)
    slope, _ = packing_slopes(ground, max(turns, 1.0), area.nominal)
    more_m = max(free_m, 0.0)
    packing = math.log(area.high / area.low) / 2 * slope * more_m
    doubt = math.hypot(left.doubt, packing) / ground.turn_m(turns, area.nominal)
    return Band(turns, max(turns - doubt, 0.0), turns + doubt)


def _wind(use: SpoolUse) -> tuple[Doubtful, Doubtful]:
    """Metres that the wind took, and ln of the finished coil's metres as its ohms tell them."""
    ground, area = use.ground, use.area_per_turn_m2
    whole = math.log(area.high / area.low) / 2
    own = min(WIND_TO_WIND, whole)
    packing = {
        f"packing habit {use.kind}": whole,  # how much of it is the wind's own chance nobody knows
        f"packing of {use.name}": own,
    }
    on_it = wire_used_m(ground, area.nominal, use.path, use.begun)
    step = 1e-4
    slope_m = (
        wire_used_m(ground, area.nominal * math.exp(step), use.path, use.begun)
        - wire_used_m(ground, area.nominal * math.exp(-step), use.path, use.begun)
    ) / (2 * step)
    turn_m = ground.turn_m(use.turns, area.nominal)
    count = {f"turns of {use.name}": use.turns_doubt * turn_m}
    model = {f"model of {use.name}": MODEL_SHARE * on_it, f"core {use.kind}": CORE_SHARE * on_it}
    waste = {f"waste of {use.name}": WASTE_SHARE * use.waste_m}
    stretch = {"stretch": -STRETCH_DOUBT * on_it}
    from_spool_m = on_it * (1 - STRETCH) + use.leads_m + use.waste_m
    used = Doubtful(from_spool_m, count | model | waste | stretch)
    used = used.plus(Doubtful(0.0, packing), slope_m)
    finished_m = ground.length_m(use.turns, area.nominal) + use.leads_m
    slope, _ = packing_slopes(ground, use.turns, area.nominal, use.leads_m)
    share = {
        "stretch": STRETCH_DOUBT,
        f"turns of {use.name}": use.turns_doubt * turn_m / finished_m,
        f"model of {use.name}": MODEL_SHARE,
        f"core {use.kind}": CORE_SHARE,
    }
    log = Doubtful(math.log(finished_m) + STRETCH, share).plus(Doubtful(0.0, packing), slope)
    return used, log


def _wire(wire: WireFacts) -> Doubtful:
    band = wire.ohm_per_m
    return Doubtful(math.log(band.nominal), {"wire": math.log(band.high / band.low) / 2})


def _kg_per_m(wire: WireFacts) -> Doubtful:
    """ln of copper and enamel, kilograms a metre; copper goes against the ohms."""
    copper = COPPER_DENSITY_KG_M3 * math.pi / 4 * wire.bare_m**2
    enamel = ENAMEL_DENSITY_KG_M3 * math.pi / 4 * (wire.overall_m**2 - wire.bare_m**2)
    whole = copper + enamel
    share = ENAMEL_SHARE
    if wire.overall_limits_m is not None:
        thin, thick = wire.overall_limits_m
        share = (thick - thin) / 2 / max(wire.overall_m - wire.bare_m, thick - thin)
    ohm = wire.ohm_per_m
    return Doubtful(
        math.log(whole),
        {
            "wire": -copper / whole * math.log(ohm.high / ohm.low) / 2,
            "conductivity": -copper / whole * math.log(CONDUCTIVITY_FACTOR),
            "enamel": enamel / whole * share,
        },
    )


def _held(spool: SpoolFacts, per_m: Doubtful, at_log: float) -> Doubtful:
    """Metres when it was begun; by mass they are linear near a mass per metre of exp(``at_log``)."""
    if spool.length_m is not None:
        return Doubtful(spool.length_m, {"length": spool.length_m * spool.length_share})
    assert spool.gross_kg is not None, "refused before"
    net_kg = spool.gross_kg - spool.tare_kg
    length_m = net_kg / math.exp(at_log)
    weighing = Doubtful(0.0, _weighing(spool, "begun")).times(1 / net_kg)
    share = weighing.less(Doubtful(per_m.value - at_log, per_m.causes))
    return Doubtful(length_m).plus(share, length_m)


def _weighing(spool: SpoolFacts, when: str) -> dict[str, float]:
    """By how much the wire's mass is told too high, kilograms."""
    return {f"scale {when}": -spool.scale_kg, "tare": TARE_KG if spool.tare_kg else 0.0}


@dataclass(frozen=True, slots=True)
class _Scale:
    """One weighing, and the length and mass per metre near which it is taken as linear."""

    spool: SpoolFacts
    gross_kg: float
    when: str
    at_m: float
    at_log: float

    def miss(self, length: Doubtful, per_m: Doubtful) -> Doubtful:
        """What the wire should weigh less what it does, kilograms."""
        kg_per_m = math.exp(self.at_log)
        should = length.times(kg_per_m)
        bend = Doubtful(per_m.value - self.at_log, per_m.causes)
        should = should.plus(bend, self.at_m * kg_per_m)
        told = Doubtful(self.gross_kg - self.spool.tare_kg, _weighing(self.spool, self.when))
        return should.less(told)


def _learnt(numbers: list[Doubtful], misses: Sequence[Miss]) -> list[Doubtful]:
    """All numbers once every miss is known to be nothing, one after the other.

    ``UserMistake`` for one that lies too far from all that is known.
    """
    left = list(misses)
    while left:
        what, miss = left.pop(0)
        if abs(miss.value) > SURPRISE_MAX / WITHIN_95 * miss.doubt:
            raise UserMistake(
                f"{what} does not fit what else is known about this spool",
                where="spool",
                remedy="check its length, weights and wire; strike a wrong reading out with: winder shelf measure COIL --strike N --because WHY",
            )
        numbers = [each.knowing(miss) for each in numbers]
        left = [(name, each.knowing(miss)) for name, each in left]
    return numbers


def _refuse_impossible(
    spool: SpoolFacts, uses: Sequence[SpoolUse], weighed_kg: float | None
) -> None:
    if spool.length_m is None and spool.gross_kg is None:
        raise UserMistake(
            "how much wire this spool held is not known",
            where="spool",
            remedy="give its length, or what it weighs full and empty",
        )
    for what, kg in (("full", spool.gross_kg), ("now", weighed_kg)):
        least_kg = spool.tare_kg - (TARE_KG + spool.scale_kg if what == "now" else 0.0)
        if kg is not None and not least_kg < kg < math.inf:
            raise UserMistake(
                f"the spool weighs {kg * 1e3:g} g {what}, but {spool.tare_kg * 1e3:g} g empty",
                where="spool",
                remedy="weigh both again on the same scale",
            )
    if spool.length_m is not None and not 0 < spool.length_m < math.inf:
        raise UserMistake(
            f"a spool of {spool.length_m:g} m", where="spool", remedy="give its length in metres"
        )
    readings = [use.reading.ohm for use in uses if use.reading is not None]
    for ohm in (*readings, *(tail.ohm for tail in spool.tails)):
        if ohm is not None and not spool.instruments.leads_band_ohm[0] < ohm < math.inf:
            raise UserMistake(
                f"a reading of {show_number(ohm, 6)} ohm", where="spool", remedy="measure it again"
            )
    for use in uses:
        if any(not 0 <= turns < math.inf for turns in use.path) or not use.turns > 0:
            raise UserMistake(
                f"{use.name} has no turns", where="spool", remedy="leave out what was never wound"
            )
