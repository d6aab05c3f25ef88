"""``winder sheet`` as a person or another program meets it."""

from __future__ import annotations

import argparse
import json
import re
import xml.etree.ElementTree as ElementTree

import pytest

from tests.pages.machine_page import example_text
from tests.pages.reference_page import DOCS
from winder.commands import sheet as sheet_command
from winder.errors import FileComplaints, UserMistake
from winder.recipe.samples import example_recipes

EXAMPLES = dict(example_recipes())


def run(*words: str) -> int:
    parser = argparse.ArgumentParser(prog="winder")
    sheet_command.add_parser(parser.add_subparsers())
    arguments = parser.parse_args(["sheet", *words])
    return arguments.run(arguments)


def changed(tmp_path, *changes: tuple[str, str], example: str = "kalimba") -> str:
    text = EXAMPLES[example].read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "my.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def facts_of(capsys, *words: str) -> dict:
    assert run(*words, "--json") == 0
    return json.loads(capsys.readouterr().out)


def test_the_table_tells_exact_from_banded(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "110")
    assert run(str(EXAMPLES["kalimba"])) == 0
    lines = capsys.readouterr().out.split("\n")
    assert lines[0].startswith("kalimba pickup: 42 AWG single, target 5000 turns")
    turns = next(line for line in lines if line.startswith(" turns  "))
    assert turns.split() == ["turns", "5000", "exact"]
    ohm = next(line for line in lines if "resistance at 20 C" in line)
    value, low, high = (float(number) for number in re.findall(r"([0-9.]+) kohm", ohm))
    assert low < value < high
    for name in ("build", "may not fit", "inductance, air core", "hum, 0.1 uT along axis, 50 Hz", "near a transformer, 1 uT, 50 Hz", "self-capacitance",
                 "tension", "speed the wire likes", "time"):  # fmt: skip
        assert any(line.strip().startswith(name) for line in lines), name


def test_json_agrees_with_what_the_recipe_asks_for(capsys):
    facts = facts_of(capsys, str(EXAMPLES["sensor"]))
    assert facts["resistance_ohm_20c"]["nominal"] == pytest.approx(350, abs=0.2)
    assert facts["resistance_ohm"] == facts["resistance_ohm_20c"]
    assert facts["fits"] is True
    assert facts["speed_limit_rpm"] is None
    assert facts["duration_s"] > 60
    assert facts["remarks"] == []


# What other programs were promised; fields may be added, none may go.
INTERFACE = """turns, turns_per_layer, layers, build_mm, fill_fraction, fits, wire_length_m, outer_turn_mm,
resistance_ohm_20c, resistance_ohm, copper_mass_g, inductance_h, turns_area_m2, self_capacitance_pf, resonance_khz,
speed_limit_rpm, tension_cn"""


def documented() -> dict[str, bool]:
    """The fields of the page in its order, and whether each is banded."""
    page = (DOCS / "sheet.md").read_text(encoding="utf-8").split("## What is known")[0]
    rows = re.findall(r"^\| `([a-z0-9_]+)` \|[^|]*\| (yes )?\|", page, re.MULTILINE)
    return {name: bool(banded) for name, banded in rows}


@pytest.mark.parametrize("example", EXAMPLES)
def test_the_documented_list_is_what_is_printed_in_the_same_order(capsys, example):
    facts = facts_of(capsys, str(EXAMPLES[example]))
    assert list(documented()) == list(facts)
    assert set(re.findall(r"\w+", INTERFACE)) <= set(facts)


def test_what_is_documented_as_banded_is_printed_in_order(tmp_path, capsys):
    """A recipe that leaves no field null."""
    path = changed(
        tmp_path,
        ("[winding]", '[spool]\nlength = "500 m"\n[sheet]\ncable = "500 pF"\n[winding]'),
        example="sensor",
    )
    facts = facts_of(capsys, path)
    assert facts.pop("supply")["lasts"] == "yes"  # an object of its own, told in spool.md
    banded = {name for name, value in facts.items() if isinstance(value, dict)}
    assert banded == {name for name, is_banded in documented().items() if is_banded}
    for name in banded:
        assert list(facts[name]) == ["nominal", "low", "high"], name
        assert facts[name]["low"] <= facts[name]["nominal"] <= facts[name]["high"], name
    assert [name for name, value in facts.items() if value is None] == [
        "tension_told_cn",
        "speed_limit_rpm",
    ]


def test_everything_a_recipe_may_say_comes_out_in_the_table(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "110")
    path = changed(
        tmp_path,
        ("resistance = \"350 ohm\"", 'resistance = "350 ohm"\ntemperature = "23 C"'),
        ("[winding]", '[spool]\nlength = "500 m"\n[sheet]\ncore_factor = 2.5\ncable = "500 pF"\n'
                      'field = "2 uT"\n[winding]\nlead_outs = "0.3 m"'),
        example="sensor",
    )  # fmt: skip
    assert run(path) == 0
    out = capsys.readouterr().out
    for words in ("target 350 ohm at 23 C", "resistance at 23 C", "left on the spool", "core factor 2.5",
                  "resonance with 500 pF", "hum, 2 uT along axis, 60 Hz", "any", "no limit", "band: the ohms are known to"):  # fmt: skip
        assert words in out


def test_a_picture_is_drawn_and_nothing_is_drawn_over(tmp_path, capsys):
    picture = tmp_path / "coil.svg"
    assert run(str(EXAMPLES["kalimba"]), "--picture", str(picture)) == 0
    root = ElementTree.fromstring(picture.read_text(encoding="utf-8"))
    assert root.find("{http://www.w3.org/2000/svg}title").text.startswith("kalimba pickup")
    before = picture.read_bytes()
    with pytest.raises(UserMistake, match="already"):
        run(str(EXAMPLES["sensor"]), "--picture", str(picture))
    assert picture.read_bytes() == before


def test_a_picture_by_another_name_is_refused_before_anything_is_written(tmp_path):
    with pytest.raises(UserMistake, match=r"\.svg"):
        run(str(EXAMPLES["kalimba"]), "--picture", str(tmp_path / "coil.png"))
    assert list(tmp_path.iterdir()) == []


def test_a_coil_that_does_not_fit_still_has_its_sheet(tmp_path, capsys):
    path = changed(tmp_path, ("turns = 5000", "turns = 50000"))
    facts = facts_of(capsys, path)
    assert facts["fits"] is False
    assert facts["spare_mm"]["high"] < 0
    assert facts["duration_s"] is None
    assert any("wind at most about" in remark for remark in facts["remarks"])
    assert run(path) == 0
    out = capsys.readouterr().out
    assert "does not fit" in out and "no plan" in out


def test_time_is_by_the_machine_named(tmp_path, capsys):
    fast = tmp_path / "fast.toml"
    fast.write_text(example_text().replace('"1500 rpm"', '"15000 rpm"'), encoding="utf-8")
    slow = tmp_path / "slow.toml"
    slow.write_text(example_text().replace('"1500 rpm"', '"150 rpm"'), encoding="utf-8")
    sensor = str(EXAMPLES["sensor"])
    quick = facts_of(capsys, sensor, "--machine", str(fast))["duration_s"]
    assert facts_of(capsys, sensor, "--machine", str(slow))["duration_s"] > 3 * quick


def test_a_machine_that_cannot_wind_it_leaves_the_time_out_and_says_why(tmp_path, capsys):
    short = tmp_path / "short.toml"
    short.write_text(example_text().replace('"100 mm"', '"2 mm"'), encoding="utf-8")
    facts = facts_of(capsys, str(EXAMPLES["sensor"]), "--machine", str(short))
    assert facts["duration_s"] is None
    assert any("cannot wind it" in remark for remark in facts["remarks"])


def test_what_is_wrong_has_its_line(tmp_path):
    path = changed(tmp_path, ('"6 mm"', '"6,5 mm"'))
    with pytest.raises(FileComplaints, match=r"my\.toml:\d+: bobbin\.width"):
        run(path)
    path = changed(
        tmp_path, ('gauge = "42 AWG"\nfilm = "single"', 'diameter = "0.0615 mm"\ngrade = 1')
    )
    with pytest.raises(FileComplaints, match=r"0\.0615 mm"):
        run(path)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ('build = "3 mm"', "full to 3 mm"),
        ('wire_length = "300 m"', "300 m of wire"),
        ('inductance = "0.4 H"', "400 mH without a core"),
    ],
)
def test_every_target_is_named_as_it_was_asked(tmp_path, capsys, lines, words):
    path = changed(tmp_path, ("turns = 5000", lines), ("{at = 2500,", "{at = 250,"))
    assert run(path) == 0
    assert words in capsys.readouterr().out


def test_what_is_known_is_told_in_the_table_and_as_documented(capsys, tmp_path):
    from winder.commands.main import main
    from winder.recipe.samples import example_recipes

    sensor = str(dict(example_recipes())["sensor"])
    words = ["sheet", sensor, "--known", "tail, 8 m, 71.5 ohm, 22 C", "--known", "build, 800 turns"]
    assert main(words) == 0
    out = capsys.readouterr().out
    assert "tail of 8 m" in out and "would: build" in out and "wind these" in out
    assert main([*words, "--json"]) == 0
    known = json.loads(capsys.readouterr().out)["known"]
    page = (DOCS / "sheet.md").read_text()
    for name in (*known, *known["readings"][0]):
        assert f"`{name}`" in page, name
    assert main(["sheet", sensor, "--known", "ohm, 1700 turns, 3 ohm"]) == 1
    assert "likely causes" in capsys.readouterr().err
