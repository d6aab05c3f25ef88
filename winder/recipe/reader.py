"""From a recipe file to a ``Recipe``, or to everything that is wrong with it at once.

First each field is read by itself, then what belongs together is looked at: wire by gauge or by
diameter, the measures its shape needs, a target of one kind, and whether such a bobbin can exist.
A check is made only when all its fields were read, so that one slip gives one complaint.
"""

from __future__ import annotations

from pathlib import Path

from winder.form import Form
from winder.quantities import awg_bare_m, show_length
from winder.recipe.format import OBROUND, ROUND, ROUNDED_RECTANGLE, SECTIONS
from winder.recipe.model import (
    AwgWire,
    Core,
    Direction,
    MetricWire,
    ObroundCore,
    Recipe,
    ResistanceTarget,
    RoundCore,
    RoundedRectangleCore,
    Target,
    TurnsTarget,
    Wire,
)
from winder.tomlfile import TomlFile, read_toml, read_toml_text

_MEASURES = {
    ROUND: ("bobbin.diameter",),
    OBROUND: ("bobbin.length", "bobbin.thickness"),
    ROUNDED_RECTANGLE: ("bobbin.length", "bobbin.thickness", "bobbin.corner_radius"),
}


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
    wire = _wire(form)
    core = _core(form)
    width_m, height_m = form.value("bobbin.width"), form.value("bobbin.flange_height")
    margin_m = form.value("bobbin.margin") or 0.0
    _check_room(form, wire, width_m, height_m, margin_m)
    target = _target(form)
    direction = form.value("winding.direction")
    speed_rpm = form.value("winding.speed")
    pauses = _pauses(form, target)
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
        pause_at_turns=pauses,
        margin_m=margin_m,
        text=file.text,
    )


def _wire(form: Form) -> Wire | None:
    by_gauge, by_diameter = form.given("wire.gauge"), form.given("wire.diameter")
    if by_gauge and by_diameter:
        form.complain(
            "wire.diameter", "this stands beside a gauge", "keep the one on the spool's label"
        )
        return None
    if _swapped(form):
        return None
    if not by_gauge and not by_diameter:
        # A film or a grade alone tells which of the two was meant.
        form.miss("wire.diameter" if form.given("wire.grade") else "wire.gauge")
    if by_diameter or (form.given("wire.grade") and not by_gauge):
        diameter_m, grade = form.value("wire.diameter"), form.value("wire.grade")
        if not form.given("wire.grade"):
            form.miss("wire.grade", "a diameter needs the grade of its enamel")
        _refuse_beside(form, "wire.film", "wire by diameter has a grade, not a film")
        return MetricWire(diameter_m, grade) if diameter_m and grade else None
    gauge, film = form.value("wire.gauge"), form.value("wire.film")
    if not form.given("wire.film"):
        form.miss("wire.film", "a gauge needs the build of its film")
    _refuse_beside(form, "wire.grade", "wire by gauge has a film, not a grade")
    return AwgWire(gauge, film) if gauge and film else None


def _swapped(form: Form) -> bool:
    """Complains of a diameter written as a gauge or the other way round."""
    gauge, diameter = form.text("wire.gauge"), form.text("wire.diameter")
    if gauge.endswith(("mm", "um")):
        remedy = f'write diameter = "{gauge}" and grade = 1 or 2 instead'
        form.complain("wire.gauge", "this is a diameter, not a gauge", remedy)
        return True
    if diameter.upper().endswith("AWG"):
        remedy = f'write gauge = "{diameter}" and film = "single" or "heavy" instead'
        form.complain("wire.diameter", "this is a gauge, not a diameter", remedy)
        return True
    return False


def _refuse_beside(form: Form, path: str, why: str) -> None:
    if form.given(path):
        form.complain(path, why, f"take {path.rpartition('.')[2]} out")


def _core(form: Form) -> Core | None:
    shape = form.value("bobbin.shape")
    if shape is None:
        for path in _MEASURES[ROUNDED_RECTANGLE] + _MEASURES[ROUND]:
            form.value(path)  # what is wrong in itself is told whatever the shape
        return None
    measures = []
    for path in _MEASURES[shape]:
        measures.append(form.value(path))
        if not form.given(path):
            form.miss(path, f"a core of shape {shape} needs this")
    for path in ("bobbin.diameter", "bobbin.length", "bobbin.thickness", "bobbin.corner_radius"):
        if path not in _MEASURES[shape]:
            _refuse_beside(form, path, f"a core of shape {shape} has none")
    if None in measures:
        return None
    if shape == ROUND:
        return RoundCore(*measures)
    if measures[1] > measures[0]:
        form.complain(
            "bobbin.thickness",
            f"{show_length(measures[1])} is more than the length, {show_length(measures[0])}",
            "length is the longer measure: swap the two",
        )
    if shape == OBROUND:
        return ObroundCore(*measures)
    if measures[2] > min(measures[:2]) / 2:
        form.complain(
            "bobbin.corner_radius",
            f"{show_length(measures[2])} is more than half the thickness",
            'write at most half the thickness, or shape = "obround" for fully rounded ends',
        )
    return RoundedRectangleCore(*measures)


def _check_room(
    form: Form, wire: Wire | None, width_m: float | None, height_m: float | None, margin_m: float
) -> None:
    """Whether the margins leave room, and one bare wire has a place in what they leave."""
    # Bare diameter by the gauge's definition: enamel only adds to it, and the tables are the coil's.
    bare_m = None
    if wire is not None:
        bare_m = awg_bare_m(wire.gauge) if isinstance(wire, AwgWire) else wire.diameter_m
    if width_m is not None:
        free_m = width_m - 2 * margin_m
        if free_m <= 0:
            form.complain(
                "bobbin.margin",
                f"two margins of {show_length(margin_m)} leave nothing of the width, "
                f"{show_length(width_m)}",
                "write a margin well below half the width",
            )
        elif bare_m is not None and bare_m >= free_m:
            form.complain(
                "bobbin.width",
                f"the wire, {show_length(bare_m, 3)} bare, is thicker than the "
                f"{show_length(free_m, 3)} left for it",
                "use a wider bobbin, smaller margins or thinner wire",
            )
    if height_m is not None and bare_m is not None and bare_m >= height_m:
        form.complain(
            "bobbin.flange_height",
            f"the wire, {show_length(bare_m, 3)} bare, is thicker than the flanges are high",
            "use higher flanges or thinner wire",
        )


def _target(form: Form) -> Target | None:
    turns, resistance = form.given("target.turns"), form.given("target.resistance")
    if turns and resistance:
        form.complain(
            "target.resistance",
            "this stands beside a target in turns",
            "keep one of the two; the other follows from it",
        )
        return None
    if not turns and not resistance:
        form.miss("target.turns", "there is neither turns nor resistance")
        return None
    if turns:
        count = form.value("target.turns")
        return TurnsTarget(count) if count is not None else None
    ohm_20c = form.value("target.resistance")
    return ResistanceTarget(ohm_20c) if ohm_20c is not None else None


def _pauses(form: Form, target: Target | None) -> tuple[int, ...]:
    pauses: tuple[int, ...] = form.value("winding.pauses") or ()
    if isinstance(target, TurnsTarget) and pauses and pauses[-1] >= target.turns:
        form.complain(
            "winding.pauses",
            f"a pause at {pauses[-1]} is not before the end at {target.turns} turns",
            "write pauses below the target; winding stops there anyway",
        )
    return pauses
