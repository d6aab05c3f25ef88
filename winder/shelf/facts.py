"""Frozen facts to JSON and back: recipes, plans, machines and whatever an event carries.

A journal line must never fail to be written because of what a fact holds, so writing takes anything:
enumerations by their value, dataclasses by their fields, the rest by its text. Reading plans and
machines ignores fields it does not know.
"""

from __future__ import annotations

import dataclasses
import enum
import json
from typing import Any

from winder.machine.model import MachineProfile
from winder.plan.model import AtEnd, Leg, Plan


def to_json(value: Any) -> str:
    """Any value as JSON text."""
    return _ENCODER.encode(value)


def _plain(value: Any) -> Any:
    """What ``json`` itself does not know."""
    if isinstance(value, enum.Enum):
        return value.value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        # One level: ``json`` asks again for what is inside. The kind keeps unions apart.
        fields = {field.name: getattr(value, field.name) for field in dataclasses.fields(value)}
        return {"kind": type(value).__name__, **fields}
    if isinstance(value, (set, frozenset)):
        return sorted(value, key=str)
    return str(value)


_ENCODER = json.JSONEncoder(default=_plain, separators=(",", ":"))


def machine_from_json(text: str) -> MachineProfile:
    return MachineProfile(**_known(MachineProfile, json.loads(text)))


def plan_from_json(text: str) -> Plan:
    facts = _known(Plan, json.loads(text))
    legs = [Leg(**(_known(Leg, leg) | {"at_end": AtEnd(leg["at_end"])})) for leg in facts["legs"]]
    pauses = tuple((int(turn), str(why)) for turn, why in facts.get("pauses", ()))
    more = {"legs": tuple(legs), "remarks": tuple(facts["remarks"]), "pauses": pauses}
    return Plan(**(facts | more))


def _known(kind: type[Any], facts: dict[str, Any]) -> dict[str, Any]:
    names = {field.name for field in dataclasses.fields(kind)}
    return {name: value for name, value in facts.items() if name in names}
