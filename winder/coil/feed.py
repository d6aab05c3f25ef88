"""How evenly a core takes the wire, and how fast it may turn for it.

A guide far away sees the wire run to the core as a line, at the distance p from the axis (the support
function of the outline): the wire runs at v = omega p(theta). Its mean over a turn is perimeter / 2 pi
(Cauchy). On a core that is not round v swells and sinks twice a turn, and a tensioner whose moving
parts weigh m must follow: m dv/dt = m omega^2 p'(theta) comes on top of the tension. p' is steepest
where the line swings from one end of the longer straight to the other: half that straight, whatever
the build. The wire's published maximum, 54.1 N/mm2 times the bare diameter squared (a chart credited to
Phelps Dodge Magnet Wire engineering data, within 1 % for AWG 30 to 43), less the tension it is wound
with, is what the ripple may use; it must not leave the wire slack either. A guide close by makes it
worse; stretch of the wire and a light dancer make it better; both are left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from winder.coil.bands import Band
from winder.coil.core import Outline, core_outline
from winder.coil.model import Coil
from winder.files.quantities import show_length

TENSION_MAX_N_M2 = 54.1e6  # of bare diameter squared
TENSIONER_KG = 0.002  # moving mass at the wire where nobody says: a judgement, no source
WORKING_SHARE = Band(0.65, 0.5, 0.8)  # of the maximum: wind at 50 to 80 % of it


def wound_outline(coil: Coil) -> Outline:
    """What the first turn lies on: the core with its tape."""
    return core_outline(coil.recipe.core).swollen(coil.recipe.tape_under_m)


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


def tension_n(bare_m: float) -> Band:
    """Tension to wind with: the middle and the ends of 50 to 80 % of the maximum."""
    most = tension_max_n(bare_m)
    return Band(WORKING_SHARE.nominal * most, WORKING_SHARE.low * most, WORKING_SHARE.high * most)


def ripple_n(outline: Outline, speed_rpm: float, tensioner_kg: float) -> float:
    """Greatest change of tension that the uneven feed makes, newton, up and down."""
    omega = speed_rpm * 2 * math.pi / 60
    steepest_m = max(outline.straight_m, outline.other_straight_m) / 2
    return tensioner_kg * omega**2 * steepest_m


@dataclass(frozen=True, slots=True)
class SpeedLimit:
    rpm: float | None  # None: the wire sets no limit on this core
    why: str


def speed_limit(outline: Outline, bare_m: float, tensioner_kg: float) -> SpeedLimit:
    """The speed at which the ripple takes up all that the wire bears above its working tension."""
    per_rpm2 = ripple_n(outline, 1.0, tensioner_kg)
    if per_rpm2 <= 0:
        return SpeedLimit(None, "a round core takes the wire evenly; the wire sets no limit")
    most, working = tension_max_n(bare_m), tension_n(bare_m).nominal
    margin_n = min(most - working, working)
    rpm = math.sqrt(margin_n / per_rpm2)
    longest_m = max(outline.straight_m, outline.other_straight_m)
    return SpeedLimit(
        rpm,
        f"the straight of {show_length(longest_m, 3)} makes the feed uneven (peak over mean"
        f" {feed_peak_over_mean(outline):.2f}); faster, a tensioner of {tensioner_kg * 1e3:g} g at the"
        f" wire adds more than the {margin_n * 100:.3g} cN this wire bears above its working tension",
    )
