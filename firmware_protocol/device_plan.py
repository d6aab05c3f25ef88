"""A plan on its way into the board, and where a count stands in a plan.

Legs arrive one by one beside the plan in force. Each is checked when it comes; the first field that
cannot be is named by its place in the payload. The checksum runs over the payloads without their
tokens, so that the host proves that the board holds what the host meant, not what a link made of it.
"""

from __future__ import annotations

import zlib

from .messages import (
    COUNT_MAX,
    CREEP_RATE_LEAST_MCPS,
    NO_LEG,
    RATE_LEAST_MCPS,
    EndAction,
    PlanLeg,
)
from .wire import LAYOUT_OF, pack

_TOKEN_BYTES = 4
_END_ACTIONS = tuple(EndAction)


def field_index(cls: type, name: str) -> int:
    """The place of a field in its payload, as ``BAD_VALUE`` tells it; 0 is the first."""
    return next(i for i, field in enumerate(LAYOUT_OF[cls].fields) if field.name == name)


def checksum_of(legs: tuple[PlanLeg, ...]) -> int:
    """CRC-32 over the legs' payloads without their tokens, in order: what ``PlanCommit`` carries."""
    crc = 0
    for leg in legs:
        crc = zlib.crc32(pack(leg)[_TOKEN_BYTES:], crc)
    return crc


def leg_at(legs: tuple[PlanLeg, ...], count: int) -> int:
    """The current leg: the first whose end is beyond the count; NO_LEG when none is."""
    for index, leg in enumerate(legs):
        if leg.end_count > count:
            return index
    return NO_LEG


def stop_leg_from(legs: tuple[PlanLeg, ...], index: int) -> int:
    """The leg at whose end the spindle next stops, winding on from leg ``index``."""
    while legs[index].end_action == EndAction.CONTINUE:
        index += 1
    return index


class PlanLoading:
    """The plan that is being loaded."""

    def __init__(self, generation: int, legs_total: int) -> None:
        self.generation = generation
        self.legs_total = legs_total
        self.legs: tuple[PlanLeg, ...] = ()

    @property
    def complete(self) -> bool:
        return len(self.legs) == self.legs_total

    def fault_of(self, leg: PlanLeg, rate_max_mcps: int, has_traverse: bool) -> str | None:
        """The first field, in the order of the payload, that cannot be; None if all is well."""
        before = self.legs[-1] if self.legs else None
        last = leg.index == self.legs_total - 1
        holds = {
            "generation": leg.generation == self.generation,
            "index": leg.index == len(self.legs) < self.legs_total,
            "end_action": leg.end_action in _END_ACTIONS
            and (leg.end_action == EndAction.COMPLETE) == last,
            "spindle": leg.spindle in (1, -1) and (not before or leg.spindle == before.spindle),
            "end_count": (before.end_count if before else 0) < leg.end_count <= COUNT_MAX,
            "rate_mcps": RATE_LEAST_MCPS <= leg.rate_mcps <= rate_max_mcps,
            "accel_mcps2": leg.accel_mcps2 > 0,
            # Slower than CREEP_RATE_LEAST_MCPS only where the whole leg is.
            "creep_mcps": min(CREEP_RATE_LEAST_MCPS, leg.rate_mcps)
            <= leg.creep_mcps
            <= leg.rate_mcps,
            "pitch_nm": has_traverse or leg.pitch_nm == 0,
            "pitch_counts": leg.pitch_counts > 0,
            "right_um": leg.left_um <= leg.right_um,
        }
        return next((name for name, held in holds.items() if not held), None)

    def add(self, leg: PlanLeg) -> None:
        self.legs += (leg,)
