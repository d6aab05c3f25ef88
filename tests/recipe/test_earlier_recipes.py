"""Recipes written for an earlier version read as they did then.

``earlier_recipes.json`` keeps the text of every recipe that the project had at its commit 218b712, and what that
commit's reader made of it, field by field. What has been added since must read as "nothing was said".
"""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import pytest

from winder.recipe.reader import read_recipe_text

EARLIER = json.loads((Path(__file__).parent / "earlier_recipes.json").read_text())
ADDED = {
    ".pause_reasons": [],
    ".spool_name": "''",
    ".tension_n": "None",
    ".surroundings.filled": "False",
    ".wire.overcoat_m": "0.0",
}
CHANGED = {".surroundings.field_t": ("1e-06", "1e-07")}  # decided: the field of a quiet room


def flat(value: object) -> object:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {f.name: flat(getattr(value, f.name)) for f in dataclasses.fields(value)}
        return {"_": type(value).__name__, **fields}
    return [flat(one) for one in value] if isinstance(value, tuple | list) else repr(value)


def differences(then: object, now: object, place: str = "") -> list[tuple[str, object, object]]:
    if isinstance(then, dict) and isinstance(now, dict):
        found = []
        for name in sorted({*then, *now}):
            if name not in then and now[name] == ADDED.get(f"{place}.{name}", "?"):
                continue
            found += differences(then.get(name), now.get(name), f"{place}.{name}")
        return found
    return [] if then == now or CHANGED.get(place) == (then, now) else [(place, then, now)]


@pytest.mark.parametrize("name", sorted(EARLIER))
def test_an_earlier_recipe_reads_as_it_did(name):
    recipe = read_recipe_text(EARLIER[name]["text"], name)
    assert differences(EARLIER[name]["read"], flat(recipe)) == []


def test_a_field_read_otherwise_would_be_seen():
    then = EARLIER["kalimba.toml"]["read"]
    assert differences(then, {**then, "direction": "'other'"})
    assert differences(then, {**then, "something_new": "1"})
