"""From a recipe file to a ``Recipe``, or to everything that is wrong with it at once.

First each field is read by itself, then what belongs together is looked at: wire by gauge or by
diameter, the measures its shape needs, a target of one kind, and whether such a bobbin can exist.
A check is made only when all its fields were read, so that one slip gives one complaint.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from winder.files.form import Form
from winder.files.quantities import copper_factor
from winder.files.tomlfile import TomlFile, read_toml, read_toml_text
from winder.recipe.format import SECTIONS
from winder.recipe.measured import read_known
from winder.recipe.model import (
    BuildTarget,
    Direction,
    FullTarget,
    InductanceTarget,
    Recipe,
    ResistanceTarget,
    Spool,
    Surroundings,
    Target,
    TurnsTarget,
    WireTarget,
)
from winder.recipe.parts import check_room, check_taper, read_core, read_wire

_TARGETS = (
    "target.turns",
    "target.resistance",
    "target.build",
    "target.full",
    "target.wire_length",
    "target.inductance",
)


def read_recipe(path: Path | str) -> Recipe:
    """Reads a recipe file.

    Raises ``FileComplaints`` with all that is wrong in it, or another ``UserMistake`` when the file
    cannot be read.
    """
    return _recipe(read_toml(path))


def read_recipe_text(text: str, name: str) -> Recipe:
    """Reads a recipe from text kept elsewhere; ``name`` is what messages call it."""
    return _recipe(read_toml_text(text, name))


def _recipe(file: TomlFile) -> Recipe:
    form = Form(file, SECTIONS)
    name, note = form.value("name"), form.value("note")
    wire = read_wire(form)
    core = read_core(form)
    width_m, height_m = form.value("bobbin.width"), form.value("bobbin.flange_height")
    margin_m = form.value("bobbin.margin") or 0.0
    tape_under_m = form.value("bobbin.tape_under") or 0.0
    tape_over_m = form.value("bobbin.tape_over") or 0.0
    rim_width_m = form.value("bobbin.rim_width")
    check_room(form, wire, width_m, height_m, margin_m, tape_under_m + tape_over_m)
    check_taper(form, wire, width_m, rim_width_m, height_m, margin_m)
    temperature_c = _or_default(form, "target.temperature", 20.0)
    target = _target(form, temperature_c)
    direction = form.value("winding.direction")
    speed_rpm = form.value("winding.speed")
    leads_m = form.value("winding.lead_outs") or 0.0
    pauses = _pauses(form, target)
    scatter_seed = form.value("winding.scatter") or 0
    tension_n = form.value("winding.tension") or None  # by feel reads as 0
    spool, surroundings, readings = _spool(form), _surroundings(form), read_known(form)
    spool_name = form.value("spool.name")
    form.finish()
    assert wire is not None and core is not None and target is not None, "the form has complained"
    return Recipe(
        name=name,
        note=note or "",
        wire=wire,
        core=core,
        width_m=width_m,
        height_m=height_m,
        target=target,
        direction=Direction(direction),
        speed_rpm=speed_rpm,
        pause_at_turns=tuple(turn for turn, _ in pauses),
        pause_reasons=tuple((turn, why) for turn, why in pauses if why),
        margin_m=margin_m,
        text=file.text,
        tape_under_m=tape_under_m,
        tape_over_m=tape_over_m,
        leads_m=leads_m,
        temperature_c=temperature_c,
        spool=spool,
        spool_name=spool_name or "",
        surroundings=surroundings,
        readings=readings,
        rim_width_m=rim_width_m,
        scatter_seed=scatter_seed,
        tension_n=tension_n,
    )


def _or_default(form: Form, path: str, default: float) -> float:
    value = form.value(path)
    return default if value is None else float(value)


def _target(form: Form, temperature_c: float) -> Target | None:
    given = [path for path in _TARGETS if form.given(path)]
    if len(given) > 1:
        first = given[0].partition(".")[2]
        form.complain(
            given[1],
            f"not allowed beside a target of {first.replace('_', ' ')}",
            "keep one of the two; the other follows from it",
        )
        return None
    if not given:
        form.miss("target.turns", "no target is given: turns, resistance or another")
        return None
    value, wind_long = form.value(given[0]), form.value("target.wind_long")
    if wind_long and given[0] != "target.resistance":
        form.complain(
            "target.wind_long",
            f"not allowed beside a target of {given[0].partition('.')[2].replace('_', ' ')}",
            "take it out, or give a resistance: only a resistance is reached by taking turns off",
        )
    if value is None:
        return None
    if given[0] == "target.resistance":
        return ResistanceTarget(value / copper_factor(temperature_c), bool(wind_long))
    kinds: dict[str, Callable[..., Target]] = {
        "target.turns": TurnsTarget,
        "target.build": BuildTarget,
        "target.full": FullTarget,
        "target.wire_length": WireTarget,
        "target.inductance": InductanceTarget,
    }
    return kinds[given[0]](value)


def _spool(form: Form) -> Spool | None:
    by_length, by_mass = form.given("spool.length"), form.given("spool.mass")
    named = form.given("spool.name")
    if named and (by_length or by_mass):
        other = "spool.length" if by_length else "spool.mass"
        form.complain(
            other, "not allowed beside a name", "keep the name: the logbook keeps what is on it"
        )
        return None
    if by_length and by_mass:
        form.complain("spool.mass", "not allowed beside a length", "keep one of the two")
        return None
    if not by_length and not by_mass:
        return None
    return Spool(length_m=form.value("spool.length"), mass_kg=form.value("spool.mass"))


def _surroundings(form: Form) -> Surroundings:
    usual = Surroundings()
    return Surroundings(
        core_factor=_or_default(form, "sheet.core_factor", usual.core_factor),
        cable_f=form.value("sheet.cable"),
        field_t=_or_default(form, "sheet.field", usual.field_t),
        filled=bool(form.value("sheet.filled")),
        tensioner_kg=form.value("sheet.tensioner_mass"),
    )


def _pauses(form: Form, target: Target | None) -> tuple[tuple[int, str], ...]:
    pauses: tuple[tuple[int, str], ...] = form.value("winding.pauses") or ()
    if isinstance(target, TurnsTarget) and pauses and pauses[-1][0] >= target.turns:
        form.complain(
            "winding.pauses",
            f"a pause at {pauses[-1][0]} is not before the end at {target.turns} turns",
            "give pauses below the target; winding stops there anyway",
        )
    return pauses
