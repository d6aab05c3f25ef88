"""What brakes the wire, and how much of it moves with the wire when its speed changes.

A kind is told once; the masses are of usual makes (our judgement): a small plastic roller as heavy at its rim as 0.2 g, an arm or a
dancer 2 g, a spool of 100 g that turns with the wire half its mass. Under felt or fingers nothing moves but the wire itself.
"""

from __future__ import annotations

FELT = "felt or fingers"
ROLLER = "small roller"
ARM = "arm or dancer"
TURNING_SPOOL = "turning spool"
TENSIONERS = (FELT, ROLLER, ARM, TURNING_SPOOL)
MOVING_KG = {ROLLER: 0.2e-3, ARM: 2e-3, TURNING_SPOOL: 50e-3}
FELT_WIRE_M = 0.6  # from the felt to the bobbin; common practice, no source


def moving_kg(kind: str | None, told_kg: float | None, wire_kg_per_m: float) -> float:
    """Mass that moves with the wire: as told, else by kind; a kind that nobody told is taken for an arm."""
    if told_kg is not None:
        return told_kg
    if kind == FELT:
        return FELT_WIRE_M * wire_kg_per_m
    return MOVING_KG[kind or ARM]
