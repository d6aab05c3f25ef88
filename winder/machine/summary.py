"""A machine in a few lines of words, with what its numbers come to.

From the speed w (turns/s) a spindle that loses a (turns/s^2) runs on w^2 / (2 a) turns; at w it gives w times
the counts per turn every second. Both show a slip of ten in what was measured.
"""

from __future__ import annotations

from winder.files.dimensions import MASS
from winder.files.quantities import (
    show_acceleration,
    show_length,
    show_quantity,
    show_resistance,
    show_speed,
)
from winder.machine.instruments import Instruments
from winder.machine.model import MachineProfile
from winder.machine.tensioner import ARM, FELT, MOVING_KG

FEW_COUNTS = 4  # a turn; below, speed and place between counts are guesses


def run_on_turns(machine: MachineProfile, slowing_rpm_s: float) -> float:
    """Turns from the greatest speed to rest at this loss of speed."""
    return (machine.speed_rpm_max / 60) ** 2 / (2 * slowing_rpm_s / 60)


def counts_per_s(machine: MachineProfile) -> float:
    """Counts a second at the greatest speed."""
    return machine.speed_rpm_max / 60 * machine.counts_per_turn


def profile_lines(machine: MachineProfile) -> list[str]:
    """What was read, for people: sensor, spindle, stopping, guide and wire."""
    cpt = machine.counts_per_turn
    sense = "tells" if machine.direction_sense else "does not tell"
    driven = "driven by the board" if machine.motor else "turned by hand or a drill, only counted"
    top = show_speed(machine.speed_rpm_max)
    lines = [
        f"{machine.name}",
        f"sensor: {cpt} count{'s' if cpt > 1 else ''} per turn, {counts_per_s(machine):.6g} a second"
        f" at {top}; it {sense} the direction",
        f"spindle: {driven}, at most {top}"
        + (
            f", speeds up by {show_acceleration(machine.acceleration_rpm_s)}"
            if machine.motor
            else ""
        )
        + (f", motor geared {machine.gear:.6g} to 1" if machine.gear != 1 else ""),
    ]
    coasting = run_on_turns(machine, machine.coasting_rpm_s)
    stop = f"stopping from {top}: coasting {coasting:.3g} turns"
    if machine.braking_rpm_s is None:
        lines.append(f"{stop}; no brake")
    else:
        lines.append(f"{stop}, braked {run_on_turns(machine, machine.braking_rpm_s):.3g} turns")
    free = show_length(machine.free_length_m)
    if machine.traverse_travel_m is None:
        lines.append(f"guide: none, the wire is led by hand; it runs free for {free}")
    else:
        travel = show_length(machine.traverse_travel_m)
        lines.append(f"guide: travels {travel}; from there the wire runs free for {free}")
    lines.append(f"tensioner: {tensioner_words(machine)}")
    lines += instrument_lines(machine.instruments)
    return lines


def tensioner_words(machine: MachineProfile) -> str:
    """What brakes the wire, and what moves with it."""
    kind = machine.tensioner or f"not said, assumed: {ARM}"
    if machine.tensioner_kg is not None:
        return f"{kind}, {show_quantity(machine.tensioner_kg, MASS)} move with the wire"
    if machine.tensioner == FELT:
        return f"{kind}, only the wire itself moves"
    return f"{kind}, about {MOVING_KG[machine.tensioner or ARM] * 1e3:g} g move with the wire"


def instrument_lines(instruments: Instruments) -> list[str]:
    """What the bench measures with."""
    leads = (
        "its leads add 0.1 to 0.3 ohm, not deducted"
        if instruments.leads_ohm is None
        else f"its leads have {show_resistance(instruments.leads_ohm)}, deducted"
    )
    return [
        f"ohmmeter: {instruments.counts} counts, {100 * instruments.gain_share:g} % and"
        f" {instruments.digits:g} digits; {leads}",
        f"thermometer good to {instruments.thermometer_k:g} K, caliper to"
        f" {show_length(instruments.caliper_m)}, scale to {instruments.scale_kg * 1e3:g} g",
    ]


def profile_remarks(machine: MachineProfile) -> list[str]:
    """What holds this machine back, or can be done better, in sentences."""
    told = []
    if machine.counts_per_turn < FEW_COUNTS:
        told.append(
            "few counts per turn: stops are less smooth and the lay a little less even; four or more are better"
        )
    if machine.motor and machine.braking_rpm_s is None:
        told.append("without a brake, friction alone stops the spindle, and stops take longer")
    if machine.motor_rpm_max is not None:
        geared_rpm = machine.motor_rpm_max / machine.gear
        if machine.motor and geared_rpm < machine.speed_rpm_max:
            told.append(
                f"the motor's limit allows {show_speed(geared_rpm, 4)} of the spindle, less than its"
                f" {show_speed(machine.speed_rpm_max)}"
            )
    rate = machine.edge_rate_max_cps
    if rate is not None and rate < counts_per_s(machine):
        told.append(
            f"the sensor's {rate:.6g} counts a second allow"
            f" {show_speed(60 * rate / machine.counts_per_turn, 4)}, less than the spindle's"
            f" {show_speed(machine.speed_rpm_max)}"
        )
    if machine.traverse_travel_m is not None and not machine.motor:
        told.append(
            "the guide needs a motor on the spindle: here it stays still, so lead the wire by hand"
        )
    return told
