"""A plan in words, one line for each thing a person may want to check before starting."""

from __future__ import annotations

from winder.files.digits import show_duration
from winder.files.quantities import show_acceleration, show_speed
from winder.plan.model import AtEnd, Plan
from winder.plan.motion import counts_text

THEN_TAKE_OFF = "then measure and take off"
_THEN = {
    AtEnd.CONTINUE: "then straight on",
    AtEnd.PAUSE: "then a pause",
    AtEnd.COMPLETE: "then done",
}


def describe(plan: Plan) -> list[str]:
    """The plan's readable listing: whole, each leg, the stops, the lay, the remarks."""
    to_wind = plan.target_turns - plan.first_turn
    lines = [
        f"turns {plan.first_turn + 1} to {plan.target_turns} ({to_wind}),"
        f" about {show_duration(plan.duration_s)} of winding, {counts_text(plan.counts_per_turn)}"
    ]
    begun = plan.first_turn
    for number, leg in enumerate(plan.legs, start=1):
        end = plan.first_turn + leg.end_counts // plan.counts_per_turn
        long = plan.measure_at_end and leg.at_end is AtEnd.COMPLETE
        lines.append(
            f"leg {number}, {leg.name}: turns {begun + 1} to {end} at"
            f" {show_speed(leg.speed_rpm, 4)}, {THEN_TAKE_OFF if long else _THEN[leg.at_end]}"
        )
        begun = end
    last = plan.legs[-1]
    if last.creep_rpm > 0:
        lines.append(
            f"speed changes by {show_acceleration(last.acceleration_rpm_s, 4)};"
            f" stops are approached at {show_speed(last.creep_rpm, 3)}"
        )
    else:
        lines.append("turned by hand: nothing stops by itself; the speed is the fastest to turn at")
    lines.append(_guide_line(plan))
    lines += _turning_lines(plan)
    lines += [f"note: {remark}" for remark in plan.remarks]
    return lines


def _guide_line(plan: Plan) -> str:
    """The lay of the longest leg; the others differ by what longer turns make of the lag."""
    ends = [0, *(leg.end_counts for leg in plan.legs)]
    _, leg = max(
        ((leg.end_counts - begun, leg) for begun, leg in zip(ends, plan.legs, strict=False)),
        key=lambda found: found[0],
    )
    between = f"between {leg.left_m * 1e3:.3f} and {leg.right_m * 1e3:.3f} mm from the left flange"
    if not leg.pitch_m > 0:
        return f"guide: stands, or is moved by hand, {between}"
    dwell = leg.dwell_counts / plan.counts_per_turn
    scatter = f", scattered by seed {leg.scatter_seed}" if leg.scatter_seed else ""
    return (
        f"guide: {leg.pitch_m * 1e3:.4f} mm a turn {between}, waiting {dwell:.2f} turn at each"
        f" side{scatter}"
    )


def _turning_lines(plan: Plan) -> list[str]:
    """The turning points leg by leg, where they follow flanges that taper by more than the lag explains."""
    moving = [(number, leg) for number, leg in enumerate(plan.legs, start=1) if leg.pitch_m > 0]
    lefts = [leg.left_m for _, leg in moving]
    if not moving or max(lefts) - min(lefts) <= 2 * min(leg.pitch_m for _, leg in moving):
        return []
    return [
        f"  in leg {number} between {leg.left_m * 1e3:.3f} and {leg.right_m * 1e3:.3f} mm"
        for number, leg in moving
    ]
