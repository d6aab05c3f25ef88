"""The wire and the bobbin of a recipe, read and looked at together.

Wire is known by gauge, by diameter or by measuring; a shape needs its own measures and no others;
the margins and the tape must leave room for one wire. A check is made only when all its fields
were read, so that one slip gives one complaint.
"""

from __future__ import annotations

import math

from winder.files.dimensions import AREA
from winder.files.form import Form
from winder.files.quantities import (
    GAUGES,
    awg_bare_m,
    show_length,
    show_quantity,
    swg_bare_m,
)
from winder.recipe.materials import CUSTOM, OBROUND, ROUND, ROUNDED_RECTANGLE, SIZINGS
from winder.recipe.model import (
    AwgWire,
    Core,
    CustomCore,
    MeasuredWire,
    MetricWire,
    ObroundCore,
    RoundCore,
    RoundedRectangleCore,
    SwgWire,
    Wire,
)

_MEASURES = {
    ROUND: ("bobbin.diameter",),
    OBROUND: ("bobbin.length", "bobbin.thickness"),
    ROUNDED_RECTANGLE: ("bobbin.length", "bobbin.thickness", "bobbin.corner_radius"),
    CUSTOM: ("bobbin.perimeter", "bobbin.area"),
}
_ALL_MEASURES = tuple(dict.fromkeys(path for paths in _MEASURES.values() for path in paths))
# A nearly round core, measured, may seem to hold more than a circle; so much is forgiven.
CIRCLE_SLACK = 0.02
STEEPEST = 1.0 + 1e-9  # lean of a flange per height, 45 degrees; common practice, no source


def read_wire(form: Form) -> Wire | None:
    """The wire by gauge, by diameter or as measured; None after a complaint."""
    if form.given("wire.bare") or form.given("wire.overall"):
        return _measured_wire(form)
    by_gauge, by_diameter = form.given("wire.gauge"), form.given("wire.diameter")
    if by_gauge and by_diameter:
        form.complain(
            "wire.diameter", "not allowed beside a gauge", "keep the one on the spool's label"
        )
        return None
    if _swapped(form):
        return None
    if not by_gauge and not by_diameter:
        # A film or a grade alone tells which of the two was meant.
        form.miss("wire.diameter" if form.given("wire.grade") else "wire.gauge")
    ohm_per_m, overcoat_m = form.value("wire.ohms_per_length"), form.value("wire.overcoat") or 0.0
    if by_diameter or (form.given("wire.grade") and not by_gauge):
        diameter_m = form.value("wire.diameter")
        grade = _grade_alone(form, "a diameter needs the grade of its enamel")
        return (
            MetricWire(diameter_m, grade, ohm_per_m, overcoat_m) if diameter_m and grade else None
        )
    gauge, system = form.value("wire.gauge") or (None, GAUGES[0])
    if system != GAUGES[0]:
        grade = _grade_alone(form, "a gauge in SWG needs the grade of its enamel")
        return SwgWire(gauge, grade, ohm_per_m, overcoat_m) if gauge and grade else None
    film = form.value("wire.film")
    sizing = form.value("wire.sizing") or SIZINGS[0]
    if not form.given("wire.film"):
        form.miss("wire.film", "a gauge needs the build of its film")
    _refuse_beside(form, "wire.grade", "wire by gauge has a film, not a grade")
    return AwgWire(gauge, film, sizing, ohm_per_m, overcoat_m) if gauge and film else None


def _grade_alone(form: Form, why: str) -> int | None:
    grade: int | None = form.value("wire.grade")
    if not form.given("wire.grade"):
        form.miss("wire.grade", why)
    _refuse_beside(form, "wire.film", "wire by diameter or in SWG has a grade, not a film")
    _refuse_beside(form, "wire.sizing", "only a gauge in AWG can be meant in two ways")
    return grade


def _measured_wire(form: Form) -> Wire | None:
    for key in ("gauge", "film", "sizing", "diameter", "grade", "overcoat"):
        _refuse_beside(
            form, f"wire.{key}", "not allowed beside a wire measured by bare and overall"
        )
    bare_m, overall_m = form.value("wire.bare"), form.value("wire.overall")
    ohm_per_m = form.value("wire.ohms_per_length")
    for path in ("wire.bare", "wire.overall"):
        if not form.given(path):
            form.miss(path, "a measured wire needs both of its diameters")
    if bare_m is None or overall_m is None:
        return None
    if overall_m <= bare_m:
        form.complain(
            "wire.overall",
            f"{show_length(overall_m)} over the enamel is not more than {show_length(bare_m)} bare",
            "measure both again; bare is the copper alone, its enamel taken off",
        )
        return None
    return MeasuredWire(bare_m, overall_m, ohm_per_m)


def _swapped(form: Form) -> bool:
    """Complains of a diameter written as a gauge or the other way round."""
    gauge, diameter = form.text("wire.gauge"), form.text("wire.diameter")
    if gauge.endswith(("mm", "um")):
        remedy = f'write diameter = "{gauge}" and grade = 1 or 2 instead'
        form.complain("wire.gauge", "this is a diameter, not a gauge", remedy)
        return True
    if diameter.upper().endswith(GAUGES):
        remedy = f'write gauge = "{diameter}" and its film (AWG) or grade (SWG) instead'
        form.complain("wire.diameter", "this is a gauge, not a diameter", remedy)
        return True
    return False


def _refuse_beside(form: Form, path: str, why: str) -> None:
    if form.given(path):
        form.complain(path, why, f"take {path.rpartition('.')[2]} out")


def read_core(form: Form) -> Core | None:
    shape = form.value("bobbin.shape")
    if shape is None:
        for path in _ALL_MEASURES:
            form.value(path)  # what is wrong in itself is told whatever the shape
        return None
    measures = []
    for path in _MEASURES[shape]:
        measures.append(form.value(path))
        if not form.given(path):
            form.miss(path, f"a core of shape {shape} needs this")
    for path in _ALL_MEASURES:
        if path not in _MEASURES[shape]:
            _refuse_beside(form, path, f"a core of shape {shape} has none")
    if None in measures:
        return None
    if shape == ROUND:
        return RoundCore(*measures)
    if shape == CUSTOM:
        return _custom_core(form, *measures)
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


def _custom_core(form: Form, perimeter_m: float, area_m2: float) -> Core:
    most_m2 = perimeter_m**2 / (4 * math.pi)
    if area_m2 > most_m2 * (1 + CIRCLE_SLACK):
        form.complain(
            "bobbin.area",
            f"no line of {show_length(perimeter_m)} goes round {show_quantity(area_m2, AREA)}: a circle"
            f" of that length holds {show_quantity(most_m2, AREA, 4)}",
            "measure both again; the strip lies flat on the core, and the area is the core's section",
        )
    return CustomCore(perimeter_m, area_m2)


def check_room(
    form: Form,
    wire: Wire | None,
    width_m: float | None,
    height_m: float | None,
    margin_m: float,
    tape_m: float,
) -> None:
    """Whether margins and tape leave room, and one bare wire has a place in what they leave."""
    bare_m = _bare_m(wire)
    if height_m is not None and tape_m >= height_m:
        form.complain(
            "bobbin.tape_under" if form.given("bobbin.tape_under") else "bobbin.tape_over",
            f"{show_length(tape_m)} of tape leave nothing of the flanges' {show_length(height_m)}",
            "write the thickness of the tape, all layers together, not its width",
        )
        return
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
    if height_m is not None and bare_m is not None and bare_m >= height_m - tape_m:
        form.complain(
            "bobbin.flange_height",
            f"the wire, {show_length(bare_m, 3)} bare, is thicker than the flanges are high",
            "use higher flanges or thinner wire",
        )


def check_taper(
    form: Form,
    wire: Wire | None,
    width_m: float | None,
    rim_width_m: float | None,
    height_m: float | None,
    margin_m: float,
) -> None:
    """Whether flanges that taper are flanges still, and leave a wire's place at their rims."""
    if rim_width_m is None or width_m is None:
        return
    if height_m is not None and abs(rim_width_m - width_m) / 2 > height_m * STEEPEST:
        form.complain(
            "bobbin.rim_width",
            f"from {show_length(width_m)} at the core to {show_length(rim_width_m)} at the rims of flanges"
            f" {show_length(height_m)} high they lean by more than 45 degrees, and hold no turns",
            "measure between the flanges again, at the core for width and at the rims for rim_width",
        )
        return
    free_m, bare_m = rim_width_m - 2 * margin_m, _bare_m(wire)
    if width_m <= 2 * margin_m or rim_width_m >= width_m:
        return  # room at the core is told of already, and at the rims there is no less
    if free_m <= 0 or (bare_m is not None and bare_m >= free_m):
        left = f"leave {show_length(free_m, 3)}" if free_m > 0 else "leave nothing"
        form.complain(
            "bobbin.rim_width",
            f"two margins of {show_length(margin_m)} {left} of the {show_length(rim_width_m)} at the rims",
            "write smaller margins, or measure between the rims again",
        )


def _bare_m(wire: Wire | None) -> float | None:
    """Bare diameter by a gauge's definition: enamel only adds to it, and the tables are the coil's."""
    if wire is None:
        return None
    if isinstance(wire, AwgWire):
        return awg_bare_m(wire.gauge)
    if isinstance(wire, SwgWire):
        return swg_bare_m(wire.gauge)
    return wire.bare_m if isinstance(wire, MeasuredWire) else wire.diameter_m
