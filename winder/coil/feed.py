"""How evenly a core takes the wire, and how fast it may turn for it.

A guide far away sees the wire run to the core as a line, at the distance p from the axis (the support
function of the outline): the wire runs at v = omega p(theta). Its mean over a turn is perimeter / 2 pi
(Cauchy). On a core that is not round v swells and sinks twice a turn, and a tensioner whose moving
parts weigh m must follow: m dv/dt = m omega^2 p'(theta) comes on top of the tension. p' is steepest
where the line swings from one end of the longer straight to the other: half that straight, whatever
the build. A guide close by makes it worse; stretch of the wire and a light dancer make it better; both are left out.

The published chart of greatest tensions, 54.1 N/mm2 times the bare diameter squared (credited to Phelps Dodge Magnet Wire
engineering data, within 1 % for AWG 30 to 43), is 69 N/mm2 of copper: the yield of soft copper (75 N/mm2 for annealed
C10800, makeitfrom.com, temper OS050), not a margin below it. So wind at half to two thirds of it, and let ripple reach four
fifths. The chart's row for AWG 44 prints 10.2 cN where the rule gives 14.0: from there on ripple stays below what is printed,
by the square of the diameter.

A speed that comes of this is advice: the wire is the person's.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass
from winder.coil.bands import Band
from winder.coil.core import Outline, core_outline
from winder.coil.mass import wire_kg_per_m
from winder.coil.wire import WireFacts
from winder.files.dimensions import FORCE
from winder.files.quantities import show_length, show_quantity, show_speed
from winder.machine.model import MachineProfile
from winder.machine.tensioner import ARM, FELT, moving_kg
from winder.recipe.model import Core, Recipe

TENSION_MAX_N_M2 = 54.1e6  # of bare diameter squared
WORKING_SHARE = Band(0.6, 0.5, 2 / 3)  # of the chart's greatest
PEAK_SHARE = 0.8  # that ripple may reach
CHART_FINEST_M, CHART_FINEST_N = 0.0508e-3, 0.102  # its row for AWG 44
FOLLOWS_SHARE = 0.5  # of its own frequency: so far a spring arm follows the wire


def wound_outline(core: Core, tape_m: float) -> Outline:
    """What the first turn lies on: the core with its tape."""
    return core_outline(core).swollen(tape_m)


def support_m(outline: Outline, angle_rad: float) -> float:
    """Distance from the axis to the line that touches the outline, its normal at ``angle_rad``."""
    return (
        outline.straight_m / 2 * abs(math.cos(angle_rad))
        + outline.other_straight_m / 2 * abs(math.sin(angle_rad))
        + outline.radius_m
    )


def feed_peak_over_mean(outline: Outline) -> float:
    """Greatest over mean speed of the wire in a turn at steady spindle speed; 1 for a round core."""
    peak_m = math.hypot(outline.straight_m / 2, outline.other_straight_m / 2) + outline.radius_m
    return peak_m * 2 * math.pi / outline.perimeter_m


def tension_max_n(bare_m: float) -> float:
    """Published greatest winding tension of copper wire of this bare diameter, newton."""
    return TENSION_MAX_N_M2 * bare_m**2


def peak_tension_n(bare_m: float) -> float:
    """What the tension may reach with its ripple, newton."""
    peak_n = PEAK_SHARE * tension_max_n(bare_m)
    if bare_m <= CHART_FINEST_M * (1 + 1e-9):
        peak_n = min(peak_n, CHART_FINEST_N * (bare_m / CHART_FINEST_M) ** 2)
    return peak_n


def tension_n(bare_m: float) -> Band:
    """Tension to wind with: half to two thirds of the chart's greatest, six tenths as the nominal."""
    most = tension_max_n(bare_m)
    return Band(WORKING_SHARE.nominal * most, WORKING_SHARE.low * most, WORKING_SHARE.high * most)


def tension_remark(wire: WireFacts, told_n: float) -> str:
    """What a tension does to this wire, where it is outside the range to wind with; "" within it."""
    range_n = tension_n(wire.bare_m)
    low, high = (show_quantity(end, FORCE, 3) for end in (range_n.low, range_n.high))
    told = show_quantity(told_n, FORCE, 3)
    if told_n > tension_max_n(wire.bare_m):
        return f"{told} is more than {wire.label} can take: it stretches or breaks; use {low} to {high}"
    if told_n > range_n.high * 1.01:
        return f"{told} stretches {wire.label}; {low} to {high} is better"
    if 0 < told_n < range_n.low * 0.99:
        return f"{told} is too little for {wire.label}: the turns will be loose; {low} to {high} is better"
    return ""


def tension_words(wire: WireFacts, tension_cn: float) -> str:
    """A tension as it is set, with what it does to the wire where that is not right; 0: by feel."""
    return tension_remark(wire, tension_cn / 100) or (
        f"{tension_cn:g} cN" if tension_cn else "by feel"
    )


def ripple_n(outline: Outline, speed_rpm: float, tensioner_kg: float) -> float:
    """Greatest change of tension that the uneven feed makes, newton, up and down."""
    omega = speed_rpm * 2 * math.pi / 60
    steepest_m = max(outline.straight_m, outline.other_straight_m) / 2
    return tensioner_kg * omega**2 * steepest_m


def rippling_rpm(outline: Outline, margin_n: float, tensioner_kg: float) -> float | None:
    """The speed at which the ripple is so many newton; None where there is none at any speed."""
    per_rpm2 = ripple_n(outline, 1.0, tensioner_kg)
    return math.sqrt(margin_n / per_rpm2) if per_rpm2 > 0 else None


@dataclass(frozen=True, slots=True)
class SpeedAdvice:
    """How fast the wire should turn at most; None: the wire sets no limit here."""

    rpm: float | None
    why: str


def speed_advice(
    outline: Outline, wire: WireFacts, recipe: Recipe, machine: MachineProfile | None
) -> SpeedAdvice:
    """The speed at which tension and ripple together reach what the wire should bear."""
    kind = machine.tensioner if machine else None
    told_kg = recipe.surroundings.tensioner_kg
    if told_kg is None and machine is not None:
        told_kg = machine.tensioner_kg
    if max(outline.straight_m, outline.other_straight_m) <= 0:
        return SpeedAdvice(
            None, "a round core takes the wire evenly; the wire sets no limit to the speed"
        )
    if told_kg is None and kind == FELT:
        return SpeedAdvice(
            None, "under felt or fingers only the wire itself moves; it sets no limit to the speed"
        )
    working_n = recipe.tension_n or tension_n(wire.bare_m).nominal
    margin_n = min(peak_tension_n(wire.bare_m) - working_n, working_n)
    if margin_n <= 0:
        return SpeedAdvice(None, "the tension alone is as much as the wire should take")
    kg = moving_kg(kind, told_kg, wire_kg_per_m(wire).nominal)
    rpm = rippling_rpm(outline, margin_n, kg)
    what = f"{kg * 1e3:.3g} g" if told_kg is not None else f"{kind or ARM} ({kg * 1e3:.3g} g)"
    if rpm is None:
        return SpeedAdvice(None, "nothing moves with the wire; it sets no limit to the speed")
    longest_m = max(outline.straight_m, outline.other_straight_m)
    return SpeedAdvice(
        rpm,
        f"above {show_speed(rpm, 3)} the straight of {show_length(longest_m, 3)} jerks a tensioner of"
        f" {what} harder than this wire should bear"
        + (
            ""
            if told_kg is not None or kind
            else "; say what puts tension on the wire; felt allows any speed"
        ),
    )


def bold_remark(asked_rpm: float | None, advice: SpeedAdvice, machine: MachineProfile) -> str:
    """One short sentence where a recipe's own speed is bold; "" where it is not. It is wound as it says."""
    if asked_rpm is None:
        return ""
    if advice.rpm is not None and asked_rpm > advice.rpm:
        return f"{show_speed(asked_rpm)} is fast for this wire: {advice.why}"
    own_hz = machine.tensioner_hz
    if own_hz is not None and 2 * asked_rpm / 60 > FOLLOWS_SHARE * own_hz:
        follows_rpm = FOLLOWS_SHARE * own_hz * 30
        return (
            f"{show_speed(asked_rpm)} is fast for a spring arm that swings {own_hz:.3g} times a second:"
            f" it follows a long core to about {show_speed(follows_rpm, 2)}"
        )
    return ""


def peak_share(
    outline: Outline, wire: WireFacts, recipe: Recipe, machine: MachineProfile | None
) -> float | None:
    """The peak of the tension over the chart's greatest, ripple and all; None: by feel, not known."""
    if recipe.tension_n is None:
        return None
    most_n = tension_max_n(wire.bare_m)
    still = recipe.tension_n / most_n
    if machine is None or max(outline.straight_m, outline.other_straight_m) <= 0:
        return still
    told_kg = recipe.surroundings.tensioner_kg
    told_kg = machine.tensioner_kg if told_kg is None else told_kg
    kg = moving_kg(machine.tensioner, told_kg, wire_kg_per_m(wire).nominal)
    if recipe.speed_rpm is None:  # then the plan keeps the ripple within what is advised
        advised_n = max(peak_tension_n(wire.bare_m), recipe.tension_n)
        ripple = ripple_n(outline, machine.speed_rpm_max, kg)
        return min(still + ripple / most_n, advised_n / most_n)
    speed_rpm = min(recipe.speed_rpm, machine.speed_rpm_max)
    return still + ripple_n(outline, speed_rpm, kg) / most_n
