"""Observations as equations: what each should show of the numbers in doubt, its slopes, and its noise.

The numbers (``unknowns``): the logarithms of ohms per metre on the spool and of the area per turn, the drift of the packing with
depth, the area that this bench's winds of the recipe have in common (every coil lies off that habit by its own chance), and
how many wires above the mean height a caliper stands, and two allowances: stretch and the bulge of flat sides. With the
first reading of an ohmmeter come what its readings share: gain (half of it common to all ranges, half a range's own, for
ranges hang on different resistors: our judgement), the nought of each range, the leads, the thermometer's error of the
sitting; and with a reading of the coil the warmth it has at that place of the wind, which two readings some minutes apart
tell.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from winder.coil.allowances import (
    BULGE_MOST,
    RESTED_MIN,
    STRETCH_USUAL,
    WARM_MOST_K,
    bulge_length_m,
    flats_m,
    warm_fade,
)
from winder.coil.bands import WITHIN_95
from winder.coil.doubts import Doubtful
from winder.coil.drift import DriftingWinding
from winder.coil.unknowns import Allowance, Array, Doubts, Numbers, Predict, Value, scaled
from winder.coil.wound import Wound
from winder.files.quantities import COPPER_ALPHA20_PER_K, copper_factor
from winder.machine.instruments import Instruments
from winder.recipe.observations import (
    BuildCaliper,
    EarlierCoil,
    FinishedDiameter,
    Observation,
    OhmReading,
    SpoolTail,
    is_made,
)

# All 95 %, our judgement, no source:
DRIFT = 0.2  # of the packing, from the core to the finished coil
# Of any length the model gives: the core is measured to some hundredths of a millimetre, the same for all turns ...
CORE_SHARE = 0.004
MODEL_SHARE = 0.002  # ... and wire is not straight
TAIL_SHARE = 0.005  # unevenness along the spool, and the pull that lays a tail straight
# A caliper rests on the highest strands, as a rule: so many wires above the mean height, give or take so many, the
# same in all its readings, and a little from reading to reading.
CREST_WIRES = 1.0
CREST_DOUBT_WIRES = 1.0
CREST_CHANCE_WIRES = 0.3
CROWNED = 0.1  # unevenness above this is a hand's, which heaps the wire up in the middle
WIND_TO_WIND = 0.1  # of a coil's packing about the bench's habit; common practice, no source
ROOM_K = 6.0  # between 20 C and a coil whose temperature nobody read
NOTED_K = 0.3  # a temperature read to the nearest half degree or so

OHM, AREA, DRIFTS, HABIT, CORE, STRETCH, BULGE, CREST = (
    "ohm", "area", "drift", "habit", "core", "stretch", "bulge", "crest",
)  # fmt: skip
GAIN, LEADS, KELVIN, OWN, CROWN = "gain", "leads", "kelvin", "own", "crown"
RECTANGULAR = 1 / math.sqrt(3)  # standard deviation of a rectangular error over its limit

Equation = tuple[float, Predict]  # what was measured, what predicts it


def reading_log(
    instruments: Instruments, reading: SpoolTail | OhmReading, place: str, sitting: str = ""
) -> Doubtful:
    """ln of the ohms at 20 C that were read, the leads taken off, and what meter and thermometer leave open of it.

    For readings that stand beside each other. ``place`` names what is this reading's own; readings of one named
    ``sitting`` share the nought of their range and the thermometer, all of one meter its gain and its leads.
    """
    assert reading.ohm is not None, "only what was measured is read"
    scale, celsius = instruments.range_of(reading.ohm), reading.temperature_c
    leads_ohm, leads_doubt_ohm = instruments.leads_band_ohm
    own_ohm, factor = reading.ohm - leads_ohm, copper_factor(celsius)
    half = math.sqrt(0.5) * instruments.gain_share
    step_ohm = max(scale.step_ohm, reading.step_ohm)
    per_kelvin = COPPER_ALPHA20_PER_K / factor
    of, day = f"{scale.full_ohm:g} ohm of {instruments!r}", f"in {sitting or place}"
    limits = {
        f"gain of {instruments!r}": half,
        f"gain of {of}": half,
        f"nought of {of} {day}": instruments.digits * scale.step_ohm / own_ohm,
        f"leads of {instruments!r}": leads_doubt_ohm / own_ohm,
        f"last digit of {place}": step_ohm / 2 / own_ohm,
        f"thermometer {day}": instruments.thermometer_k * per_kelvin,
    }
    causes = {cause: WITHIN_95 * RECTANGULAR * limit for cause, limit in limits.items()}
    if not sitting or not reading.noted_c:
        causes[f"temperature of {place}"] = per_kelvin * (NOTED_K if reading.noted_c else ROOM_K)
    return Doubtful(math.log(own_ohm / factor), causes)


def numbers_of(wound: Wound) -> Numbers:
    """What tables, practice and allowances say before anything was measured."""
    doubts = Doubts(Numbers())
    wire, area = wound.wire.ohm_per_m, wound.area_per_turn_m2
    packing = math.log(area.high / area.low) / 2
    habit = math.sqrt(max(packing**2 - WIND_TO_WIND**2, 0.0))
    doubts.add(OHM, math.log(wire.nominal), math.log(wire.high / wire.low) / 2 / WITHIN_95)
    doubts.add(AREA, math.log(area.nominal), packing / WITHIN_95)
    doubts.add(DRIFTS, 0.0, DRIFT / WITHIN_95)
    doubts.add(HABIT, math.log(area.nominal), habit / WITHIN_95)
    of_area, of_habit = doubts.place(AREA), doubts.place(HABIT)
    # The area is the habit and a chance.
    doubts.chance[of_area][of_habit] = doubts.chance[of_habit][of_area] = (habit / WITHIN_95) ** 2
    doubts.add(CORE, 0.0, CORE_SHARE / WITHIN_95)
    _allow(doubts, STRETCH, math.log1p(wound.stretch_share), STRETCH_USUAL)
    _allow(doubts, BULGE, BULGE_MOST if flats_m(wound.outline) else 0.0, 0.5)
    doubts.add(CREST, CREST_WIRES, CREST_DOUBT_WIRES / WITHIN_95)
    return doubts.kept()


def _allow(doubts: Doubts, name: str, most: float, usual: float) -> int:
    return doubts.add(name, usual * most, within=Allowance.upwards(most, usual))


def warm_at(doubts: Doubts, turns: float, *, earlier: bool = False) -> int:
    """The place of the warmth that the coil has at so many turns, ten minutes after it was wound."""
    name = f"warm {'earlier ' if earlier else ''}{turns:g}"
    return _allow(doubts, name, WARM_MOST_K, 0.5)


class Reader:
    """Turns observations of one coil into equations over its doubts, adding what they need."""

    def __init__(self, wound: Wound, instruments: Instruments, doubts: Doubts) -> None:
        self._wound, self._instruments, self._doubts = wound, instruments, doubts
        self._winding = DriftingWinding.of(wound)
        self._blank = False

    def equations(self, observation: Observation, *, blank: bool = False) -> Iterator[Equation]:
        """Each measured value with the function that predicts it; ``blank``: as if all were measured."""
        self._blank = blank  # then a meter's range is that of what is expected
        nothing = math.nan if blank else None
        if isinstance(observation, FinishedDiameter):
            observation = replace(observation.build(), on_flats=self._across(observation))
        if isinstance(observation, SpoolTail):
            value = nothing if observation.ohm is None else observation.ohm
            if value is not None:
                yield value, self._tail(observation)
        elif isinstance(observation, BuildCaliper):
            value = nothing if observation.build_m is None else observation.build_m
            if value is not None:
                yield value, self._build(observation)
        else:
            yield from self._readings(observation, nothing)

    def _across(self, outside: FinishedDiameter) -> bool | None:
        """Whether an outside was taken across the flats: the core's own measure there tells."""
        outline = self._wound.outline
        if outside.on_flats is not None or outline.other_straight_m > 0:
            return outside.on_flats
        thin_m = 2 * outline.radius_m
        return abs(outside.core_m - thin_m) < abs(outside.core_m - thin_m - outline.straight_m)

    def _readings(
        self, reading: OhmReading | EarlierCoil, nothing: float | None
    ) -> Iterator[Equation]:
        earlier = isinstance(reading, EarlierCoil)
        if earlier:
            self._doubts.add(OWN, 0.0, WIND_TO_WIND / WITHIN_95)
        only_build = earlier and reading.ohm is None and is_made(reading)
        value = nothing if reading.ohm is None else reading.ohm
        if value is not None and not only_build:
            yield value, self._ohm(reading)
        if isinstance(reading, EarlierCoil) and reading.build_m is not None:
            built = BuildCaliper(
                reading.turns, reading.build_m, reading.build_error_m, reading.uneven_share,
                on_flats=reading.on_flats,
            )  # fmt: skip
            yield reading.build_m, self._build(built, earlier=True)

    # --- what a meter shows ---------------------------------------------------------------------

    def _tail(self, tail: SpoolTail) -> Predict:
        share = math.hypot(TAIL_SHARE, tail.length_error_m / tail.length_m) / WITHIN_95

        def ohms(mean: Array) -> tuple[float, Array]:
            ohm = math.exp(mean[self._doubts.place(OHM)]) * tail.length_m
            return ohm, self._doubts.slopes(**{OHM: ohm})

        return self._shown(ohms, tail, share**2, warm_at=None)

    def _ohm(self, reading: OhmReading | EarlierCoil) -> Predict:
        turns, earlier = reading.turns, isinstance(reading, EarlierCoil)
        noise = (MODEL_SHARE / WITHIN_95) ** 2 + self._part_layer(turns) ** 2
        # What a rested coil still has is its own; a coil that is wound on is as warm at one place as it is.
        warmth = warm_at(self._doubts, turns, earlier=earlier)

        def ohms(mean: Array) -> tuple[float, Array]:
            return self.ohm_of(mean, turns, earlier=earlier)

        return self._shown(ohms, reading, noise, warm_at=warmth)

    def _shown(
        self,
        ohms: Callable[[Array], tuple[float, Array]],
        reading: SpoolTail | OhmReading | EarlierCoil,
        noise: float,
        *,
        warm_at: int | None,
    ) -> Predict:
        """What the meter shows of ohms at 20 C; ``noise`` is the ohms' own variance over their square."""
        doubts, instruments = self._doubts, self._instruments
        shown_ohm = reading.ohm
        if self._blank or shown_ohm is None or not math.isfinite(shown_ohm):
            shown_ohm = ohms(doubts.mean)[0] * copper_factor(reading.temperature_c)
            shown_ohm += instruments.leads_band_ohm[0]
        scale = instruments.range_of(shown_ohm)
        own_gain, nought = f"gain {scale.full_ohm:g}", f"nought {scale.full_ohm:g}"
        half = math.sqrt(0.5) * instruments.gain_share * RECTANGULAR
        doubts.add(GAIN, 0.0, half)
        doubts.add(own_gain, 0.0, half)
        doubts.add(nought, 0.0, instruments.digits * scale.step_ohm * RECTANGULAR)
        leads_ohm, leads_doubt_ohm = instruments.leads_band_ohm
        doubts.add(LEADS, leads_ohm, leads_doubt_ohm * RECTANGULAR)
        doubts.add(KELVIN, 0.0, instruments.thermometer_k * RECTANGULAR)
        fade = warm_fade(reading.rested_min) if isinstance(reading, OhmReading) else 1.0
        if isinstance(reading, EarlierCoil):
            fade = warm_fade(RESTED_MIN)
        step_ohm = max(scale.step_ohm, reading.step_ohm)
        guessed_k = NOTED_K if reading.noted_c else ROOM_K
        celsius = reading.temperature_c
        kelvin_at = doubts.place(KELVIN)
        places = [doubts.place(each) for each in (GAIN, own_gain, nought, LEADS)]

        def predict(mean: Array) -> Value:
            ohm, slopes = ohms(mean)
            warm_k = mean[kelvin_at] + (fade * mean[warm_at] if warm_at is not None else 0.0)
            factor = copper_factor(celsius + float(warm_k))
            gain = 1 + mean[places[0]] + mean[places[1]]
            per_kelvin = ohm * COPPER_ALPHA20_PER_K * gain
            slopes = scaled(slopes, factor * gain)
            slopes[kelvin_at] = per_kelvin
            if warm_at is not None:
                slopes[warm_at] = fade * per_kelvin
            slopes[places[0]] = slopes[places[1]] = ohm * factor
            slopes[places[2]] = slopes[places[3]] = 1.0
            shown = ohm * factor * gain
            variance = step_ohm**2 / 12 + (per_kelvin * guessed_k / WITHIN_95) ** 2
            return (
                float(shown + mean[places[2]] + mean[places[3]]),
                slopes,
                float(variance + shown**2 * noise),
            )

        return predict

    def ohm_of(self, mean: Array, turns: float, *, earlier: bool = False) -> tuple[float, Array]:
        """Ohms at 20 C of so many turns and the leads, and the slopes over the numbers."""
        doubts, winding = self._doubts, self._winding
        ohm_per_m = math.exp(sum(float(mean[doubts.place(each)]) for each in (OHM, STRETCH, CORE)))
        drift = float(mean[doubts.place(DRIFTS)])
        area_m2, by_area_of = self._packed(mean, earlier=earlier)
        by_area, by_drift = winding.length_slopes(turns, area_m2, drift)
        bulge = float(mean[doubts.place(BULGE)])
        more_m = by_bulge = 0.0
        if turns > 0:
            build_m = winding.build_m(turns, area_m2, drift)
            by_bulge = bulge_length_m(self._wound.outline, build_m, turns, 1.0)
            more_m = by_bulge * bulge
        ohm = ohm_per_m * (winding.length_m(turns, area_m2, drift) + more_m)
        slopes = doubts.slopes(
            **{
                OHM: ohm,
                STRETCH: ohm,
                CORE: ohm,
                DRIFTS: ohm_per_m * by_drift,
                BULGE: ohm_per_m * by_bulge,
            }
        )
        for name in by_area_of:
            slopes[doubts.place(name)] = ohm_per_m * (by_area + 2 * more_m)
        return ohm, slopes

    def _packed(self, mean: Array, *, earlier: bool) -> tuple[float, tuple[str, ...]]:
        """The measured coil's area per turn: an earlier coil packed in its own way. And what it goes by."""
        names = (HABIT, OWN) if earlier else (AREA,)
        return math.exp(sum(float(mean[self._doubts.place(name)]) for name in names)), names

    def _part_layer(self, turns: float) -> float:
        """Share by which a layer half done may lengthen the wire: pi d t (m - t)/m, t of m turns."""
        wound = self._wound
        excess_m = math.pi * wound.wire.overall_m * min(wound.turns_per_layer, turns) / 4
        return excess_m / (wound.ground.perimeter_m * turns) / WITHIN_95

    # --- what a caliper shows ---------------------------------------------------------------------

    def _build(self, caliper: BuildCaliper, *, earlier: bool = False) -> Predict:
        doubts, winding, turns = self._doubts, self._winding, caliper.turns
        overall_m = self._wound.wire.overall_m
        # The jaws meet the middle of the width, where a hand heaps the wire up: above the mean, as a rule.
        by_hand = caliper.uneven_share > CROWNED
        uneven = caliper.uneven_share / 2 if by_hand else caliper.uneven_share
        _allow(doubts, CROWN, 2 * caliper.uneven_share if by_hand else 0.0, 0.5)
        chance_m = CREST_CHANCE_WIRES * overall_m
        flats = bool(flats_m(self._wound.outline))
        # A core of flat sides all round has no rounded ends to measure over.
        looser = caliper.on_flats is not False and self._wound.outline.other_straight_m > 0
        on_flats = flats and (bool(caliper.on_flats) or looser)
        error_m = caliper.error_m if caliper.error_m is not None else self._instruments.caliper_m

        def predict(mean: Array) -> Value:
            drift = float(mean[doubts.place(DRIFTS)])
            area_m2, by_area_of = self._packed(mean, earlier=earlier)
            height_m = winding.build_m(turns, area_m2, drift)
            by_area, by_drift = winding.build_slopes(turns, area_m2, drift)
            crown = 1 + float(mean[doubts.place(CROWN)])
            loose = 1 + float(mean[doubts.place(BULGE)]) if on_flats else 1.0
            slopes = doubts.slopes(
                **{
                    DRIFTS: by_drift * crown * loose,
                    CROWN: height_m * loose,
                    BULGE: height_m * crown if on_flats else 0.0,
                    CREST: overall_m,
                }
            )
            for name in by_area_of:
                slopes[doubts.place(name)] = by_area * crown * loose
            seen_m = height_m * crown * loose + float(mean[doubts.place(CREST)]) * overall_m
            noise_m = math.hypot(error_m, chance_m, uneven * height_m)
            return seen_m, slopes, (noise_m / WITHIN_95) ** 2

        return predict
