"""Deeds to JSON and back: what a journal line did to the account of its coil."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterable
from typing import Any

from winder.wind import deeds as d

KINDS: dict[str, type[Any]] = {
    kind.__name__: kind
    for kind in (
        d.Opens, d.Says, d.Drives, d.Keeps, d.Brought, d.Doubt, d.Vouch, d.TakenOff, d.Unmoved, d.WireWhole,
    )
}  # fmt: skip
_NAMES: dict[type[Any], tuple[str, ...]] = {
    kind: tuple(field.name for field in dataclasses.fields(kind))
    for kind in (*KINDS.values(), d.Word, d.Place, d.Drive, d.Stretch)
}
NESTED: dict[str, type[Any]] = {"word": d.Word, "place": d.Place, "start": d.Place, "end": d.Place}


_ENCODER = json.JSONEncoder(separators=(",", ":"))


def deeds_to_json(deeds: Iterable[d.Deed]) -> str:
    rows = [[type(deed).__name__, _facts(deed)] for deed in deeds]
    return _ENCODER.encode(rows) if rows else "[]"


def _facts(value: Any) -> Any:
    """Fields by name, all the way down; cheaper than copying them."""
    if isinstance(value, tuple):
        return [_facts(one) for one in value]
    names = _NAMES.get(type(value))
    return value if names is None else {name: _facts(getattr(value, name)) for name in names}


def deeds_from_json(text: str) -> list[d.Deed]:
    """Raises ``ValueError``, ``KeyError`` or ``TypeError`` for what is no list of deeds."""
    return [_deed(kind, facts) for kind, facts in json.loads(text)] if text != "[]" else []


def _deed(kind: str, facts: dict[str, Any]) -> d.Deed:
    made = {name: _nested(name, value) for name, value in facts.items()}
    deed: d.Deed = KINDS[kind](**made)
    return deed


def _nested(name: str, value: Any) -> Any:
    if not isinstance(value, dict):
        return value
    if name == "drive":
        stretches = tuple(d.Stretch(**one) for one in value["stretches"])
        return d.Drive(**(value | {"stretches": stretches}))
    return NESTED[name](**value)
