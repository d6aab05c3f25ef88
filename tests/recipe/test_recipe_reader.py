"""What a good recipe reads as; the examples, the template; and that no text does worse than complain."""

from __future__ import annotations

import dataclasses
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.errors import FileComplaints, UserMistake
from winder.recipe.format import SECTIONS
from winder.recipe.model import (
    AwgWire,
    BuildTarget,
    CustomCore,
    Direction,
    FullTarget,
    InductanceTarget,
    MeasuredWire,
    MetricWire,
    ObroundCore,
    ResistanceTarget,
    RoundCore,
    RoundedRectangleCore,
    Spool,
    Surroundings,
    SwgWire,
    TurnsTarget,
    WireTarget,
)
from winder.recipe.reader import read_recipe, read_recipe_text
from winder.recipe.samples import example_recipes, new_recipe_text

FIELDS = [field for section in SECTIONS for field in section.fields]


def test_the_kalimba_example_reads_in_si_units():
    path = dict(example_recipes())["kalimba"]
    recipe = read_recipe(path)
    assert recipe.name == "kalimba pickup"
    assert recipe.wire == AwgWire(42, "single")
    assert recipe.core == ObroundCore(0.024, 0.004)
    assert (recipe.width_m, recipe.height_m, recipe.margin_m) == (0.006, 0.007, 0.0002)
    assert recipe.target == TurnsTarget(5000)
    assert recipe.direction is Direction.CLOCKWISE
    assert recipe.speed_rpm is None
    assert recipe.pause_at_turns == (2500,)
    assert recipe.pause_reasons == ((2500, "measure half-way"),)
    assert recipe.text == path.read_text(encoding="utf-8")


def test_the_sensor_example_reads_in_si_units():
    recipe = read_recipe(dict(example_recipes())["sensor"])
    assert recipe.wire == MetricWire(0.00005, 1)
    assert recipe.core == RoundCore(0.006)
    assert recipe.target == ResistanceTarget(350.0)
    assert recipe.direction is Direction.COUNTER_CLOCKWISE
    assert (recipe.speed_rpm, recipe.pause_at_turns, recipe.margin_m) == (None, (), 0.0)


@pytest.mark.parametrize("path", [path for _, path in example_recipes()], ids=lambda p: p.stem)
def test_examples_say_that_they_are_invented(path):
    first = path.read_text(encoding="utf-8").split("\n")[0]
    assert first.startswith("#") and "invented" in first


def test_a_rounded_rectangle_takes_corners_up_to_half_the_thickness():
    text = new_recipe_text("x").replace('"obround"', '"rounded rectangle"')
    text = text.replace("# corner_radius", "corner_radius")
    assert read_recipe_text(text, "f").core == RoundedRectangleCore(0.024, 0.004, 0.001)
    half = text.replace('corner_radius = "1 mm"', 'corner_radius = "2 mm"')
    assert read_recipe_text(half, "f").core == RoundedRectangleCore(0.024, 0.004, 0.002)


def with_lines(section: str, *lines: str, without: tuple[str, ...] = ()) -> str:
    """The sensor example with lines put below a section's header and keys taken out."""
    text = dict(example_recipes())["sensor"].read_text(encoding="utf-8")
    for key in without:
        text = re.sub(rf"^{key} = .*\n", "", text, count=1, flags=re.MULTILINE)
    if f"[{section}]" not in text:
        text += f"\n[{section}]\n"
    return text.replace(f"[{section}]\n", "\n".join([f"[{section}]", *lines, ""]))


@pytest.mark.parametrize(
    ("line", "target"),
    [
        ('build = "2.5 mm"', BuildTarget(0.0025)),
        ('wire_length = "40 m"', WireTarget(40.0)),
        ('inductance = "12 mH"', InductanceTarget(0.012)),
    ],
)
def test_other_targets_read_in_si_units(line, target):
    text = with_lines("target", line, without=("resistance",))
    assert read_recipe_text(text, "f").target == target


def test_a_resistance_at_a_temperature_is_brought_to_20_c():
    """Copper: 1 + 0.00393 (T - 20) (IEC 60028): 3 K are 1.18 %."""
    text = with_lines(
        "target", 'resistance = "850 ohm"', 'temperature = "23 C"', without=("resistance",)
    )
    recipe = read_recipe_text(text, "f")
    assert recipe.temperature_c == 23.0
    assert recipe.target.ohm_20c == pytest.approx(850 / 1.01179, rel=1e-12)


def test_measured_wire_and_a_makers_ohms_per_metre():
    bare, overall, maker = (
        'bare = "0.064 mm"',
        'overall = "0.07 mm"',
        'ohms_per_length = "5.4 ohm/m"',
    )
    text = with_lines("wire", bare, overall, maker, without=("diameter", "grade"))
    assert read_recipe_text(text, "f").wire == MeasuredWire(0.000064, 0.00007, 5.4)
    assert read_recipe_text(with_lines("wire", maker), "f").wire == MetricWire(0.00005, 1, 5.4)


def test_a_measured_core_and_its_tape():
    text = with_lines(
        "bobbin",
        'perimeter = "40 mm"',
        'area = "1.1 cm2"',
        'tape_under = "0.05 mm"',
        'tape_over = "0.1 mm"',
    )
    text = re.sub(r'^shape = "round"\ndiameter = .*$', 'shape = "custom"', text, flags=re.MULTILINE)
    recipe = read_recipe_text(text, "f")
    assert recipe.core == CustomCore(0.04, 0.00011)
    assert (recipe.tape_under_m, recipe.tape_over_m) == (0.00005, 0.0001)


def test_spool_leads_and_surroundings():
    text = with_lines("spool", 'mass = "120 g"') + (
        '[sheet]\ncore_factor = 2\ncable = "0.5 nF"\nfield = "200 nT"\ntensioner_mass = "1.5 g"\n'
    )
    recipe = read_recipe_text(text.replace("[winding]", '[winding]\nlead_outs = "0.3 m"'), "f")
    assert recipe.spool == Spool(mass_kg=0.12)
    assert recipe.leads_m == 0.3
    assert recipe.surroundings == Surroundings(2.0, 5e-10, 2e-7, 0.0015)
    assert read_recipe_text(with_lines("spool"), "f").spool is None


def test_units_are_the_persons_choice():
    text = new_recipe_text("x").replace('"9.5 mm"', '"0.374 in"').replace('"4 mm"', '"4000 um"')
    recipe = read_recipe_text(text.replace('"24 mm"', '"2.4 cm"'), "f")
    assert recipe.width_m == 0.0094996
    assert recipe.core == ObroundCore(0.024, 0.004)


def test_a_recipe_reads_the_same_from_its_own_text():
    for _, path in example_recipes():
        recipe = read_recipe(path)
        assert read_recipe_text(recipe.text, "again") == recipe


def test_text_shows_no_difference_between_line_ends():
    text = new_recipe_text("x")
    windows = read_recipe_text(text.replace("\n", "\r\n"), "f")
    assert dataclasses.replace(windows, text="") == dataclasses.replace(
        read_recipe_text(text, "f"), text=""
    )


def test_the_template_has_every_field_once_and_reads_as_it_stands():
    text = new_recipe_text("x")
    keys = re.findall(r"^(?:# )?([a-z_]+) = ", text, re.MULTILINE)
    assert sorted(keys) == sorted(field.key for field in FIELDS)
    read_recipe_text(text, "f")


def template_with(on: set[str], off: set[str]) -> str:
    """The template with some fields brought in and others commented out."""
    section, lines = "", []
    for line in new_recipe_text("x").split("\n"):
        if header := re.fullmatch(r"\[(.*)\]", line):
            section = header[1] + "."
        elif found := re.fullmatch(r"(?:# )?(([a-z_]+) = .*)", line):
            path = section + found[2]
            line = found[1] if path in on else f"# {found[1]}" if path in off else line
        lines.append(line)
    return "\n".join(lines)


@pytest.mark.parametrize("field", FIELDS, ids=lambda field: field.path)
def test_the_example_of_every_field_is_accepted(field):
    """Each example is read in a recipe that needs it, so a remedy that quotes it is a good one."""
    on, off = {
        "wire.diameter": ({"wire.grade"}, {"wire.gauge", "wire.film"}),
        "wire.grade": ({"wire.diameter"}, {"wire.gauge", "wire.film"}),
        "wire.bare": ({"wire.overall"}, {"wire.gauge", "wire.film"}),
        "wire.overall": ({"wire.bare"}, {"wire.gauge", "wire.film"}),
        "target.resistance": (set(), {"target.turns"}),
        "target.build": (set(), {"target.turns"}),
        "target.full": (set(), {"target.turns"}),
        "target.wire_length": (set(), {"target.turns"}),
        "target.inductance": (set(), {"target.turns"}),
        "target.wind_long": ({"target.resistance"}, {"target.turns"}),
        "bobbin.perimeter": ({"bobbin.area"}, {"bobbin.length", "bobbin.thickness"}),
        "bobbin.area": ({"bobbin.perimeter"}, {"bobbin.length", "bobbin.thickness"}),
        "bobbin.diameter": (set(), {"bobbin.length", "bobbin.thickness"}),
    }.get(field.path, (set(), set()))
    shape = {
        "bobbin.diameter": "round",
        "bobbin.corner_radius": "rounded rectangle",
        "bobbin.perimeter": "custom",
        "bobbin.area": "custom",
    }
    text = template_with({field.path, *on}, off)
    text = text.replace('shape = "obround"', f'shape = "{shape.get(field.path, "obround")}"')
    if field.path != "name":
        assert f"\n{field.key} = {field.example}\n" in text or field.path == "bobbin.shape"
    read_recipe_text(text, "f")


@pytest.mark.parametrize(
    ("name", "read"),
    [
        ("bass", "bass"),
        ('a "b" \\ c', 'a "b" \\ c'),
        ("z\u00fcrich", "z\u00fcrich"),
        ("", "my coil"),
        ("\x1b\x7f", "my coil"),
        ("x" * 200, "x" * 80),
        ("\udce4", "my coil"),
    ],
)
def test_the_template_takes_any_name(name, read):
    assert read_recipe_text(new_recipe_text(name), "f").name == read


def complain_or_read(text: str) -> None:
    try:
        read_recipe_text(text, "f")
    except FileComplaints as error:
        assert error.complaints
        for complaint in error.complaints:
            assert 0 <= complaint.line <= text.count("\n") + 1
            assert complaint.what and complaint.remedy
            assert complaint.text("f").isprintable()


@given(st.text())
def test_any_text_is_read_or_complained_of(text):
    complain_or_read(text)


TOML_PIECES = st.sampled_from(
    ["=", ".", "[", "]", "[[", "{", "}", ",", "\n", "\r\n", '"', "'", '"""', "#", "\\", " ", "-1", "1e999",
     "nan", "true", "[wire]", "name", "wire", "width", '"9.5 mm"', "1979-05-27", "\x1b", "\ufeff", "0x1F"]
)  # fmt: skip


@given(st.lists(TOML_PIECES, max_size=30).map("".join))
def test_any_scraps_of_toml_are_read_or_complained_of(text):
    complain_or_read(text)


VALUES = st.recursive(
    st.sampled_from(['"9.5 mm"', '"42 AWG"', '"round"', "3", "-0.0", "1e308", "inf", "true", '""', "1979-05-27",
                     '"350 ohm"', "[]", "99999999999999999999", '"\\u001b"', "07:32:00"]),
    lambda inner: st.lists(inner, max_size=3).map(lambda v: f"[{', '.join(v)}]")
    | st.lists(inner, max_size=2).map(
        lambda v: "{ " + ", ".join(f"k{i} = {x}" for i, x in enumerate(v)) + " }"
    ),
    max_leaves=5,
)  # fmt: skip


@given(st.dictionaries(st.sampled_from([f.path for f in FIELDS] + ["wire", "x.y"]), VALUES))
def test_any_values_in_the_known_fields_are_read_or_complained_of(values):
    complain_or_read("".join(f"{path} = {value}\n" for path, value in values.items()))


@given(st.binary())
def test_any_bytes_are_read_or_complained_of(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_bytes(data)
    with pytest.raises(UserMistake):  # no recipe is so short
        read_recipe(path)


@pytest.mark.parametrize(
    ("line", "told_n"),
    [('tension = "14 cN"', 0.14), ('tension = "15 gf"', 0.14709975), ('tension = "by feel"', None)],
)
def test_tension_is_told_or_by_feel(line, told_n):
    recipe = read_recipe_text(with_lines("winding", line), "f")
    assert recipe.tension_n == told_n
    assert read_recipe_text(with_lines("winding"), "f").tension_n is None


def test_a_recipe_may_be_full_in_swg_and_in_inches():
    text = with_lines(
        "wire",
        'gauge = "46 SWG"',
        "grade = 3",
        'overcoat = "0.003 mm"',
        without=("diameter", "grade"),
    )
    text = text.replace('resistance = "350 ohm"', 'full = "0.01 in"').replace('"4 mm"', '"0.16 in"')
    recipe = read_recipe_text(text, "f")
    assert recipe.wire == SwgWire(46, 3, None, 3e-6)
    assert recipe.target == FullTarget(0.000254)
    assert recipe.width_m == 0.16 * 0.0254


def test_a_gauge_without_its_system_is_never_turned_into_another_wire():
    for written in ('"46 swg"', '"46"', "46"):
        text = with_lines("wire", f"gauge = {written}", "grade = 1", without=("diameter", "grade"))
        with pytest.raises(FileComplaints) as caught:
            read_recipe_text(text, "f")
        remedies = " ".join(each.remedy for each in caught.value.complaints)
        assert "46 SWG" in remedies
