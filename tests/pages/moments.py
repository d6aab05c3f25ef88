"""Another moment of a wind: a view with a few things changed, whatever group they belong to."""

from __future__ import annotations

import dataclasses

from winder.wind.model import WindView

# Groups of a view, and names that say another thing where no group stands before them.
GROUPS = ("coil", "count", "motion", "ohm", "lay", "trouble")
LONG_NAMES = {
    "recipe_name": ("coil", "name"),
    "lay": ("lay", "heights"),
    "lay_span": ("lay", "span"),
    "trip_advice": ("trouble", "advice"),
    "ohm_now": ("ohm", "now"),
    "ohm_end": ("ohm", "end"),
}


def moment(base: WindView, **changes: object) -> WindView:
    """Another moment; what is said of a group is named without it: ``moment(WINDING, turns=12.0, trip="stalled")``."""
    parts: dict[str, dict[str, object]] = {}
    whole: dict[str, object] = {}
    for name, value in changes.items():
        group, field = LONG_NAMES.get(name) or (_group_of(base, name), name)
        (parts.setdefault(group, {}) if group else whole)[field] = value
    for group, fields in parts.items():
        whole[group] = dataclasses.replace(getattr(base, group), **fields)
    return dataclasses.replace(base, **whole)  # type: ignore[arg-type]


def _group_of(base: WindView, name: str) -> str:
    """The group that has a field of this name; "": the view itself."""
    if any(field.name == name for field in dataclasses.fields(base)):
        return ""
    return next(
        group
        for group in GROUPS
        if any(field.name == name for field in dataclasses.fields(getattr(base, group)))
    )
