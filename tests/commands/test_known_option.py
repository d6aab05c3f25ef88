"""What was measured goes into every command alike, from the recipe or beside it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from winder.commands.main import build_parser, main
from winder.commands.wind import request_of
from winder.recipe.observations import SpoolTail
from winder.recipe.samples import example_recipes
from winder.service.given_files import read_coil

SENSOR = dict(example_recipes())["sensor"]
DOCS = Path(__file__).parents[2] / "docs" / "reference"
TAIL = "tail, 8 m, 71.5 ohm, 22 C"
EARLIER = "earlier, 1600 turns, 347 ohm, 22 C"


def recipe_file(folder: Path, *readings: str, wind_long: bool = False) -> str:
    text = SENSOR.read_text(encoding="utf-8")
    if wind_long:
        text = text.replace('"350 ohm"', '"350 ohm"\nwind_long = true')
    listed = ", ".join(f'"{reading}"' for reading in readings)
    path = folder / f"known{len(list(folder.iterdir()))}.toml"
    path.write_text(f"{text}\n[known]\nreadings = [{listed}]\n", encoding="utf-8")
    return str(path)


def told(capsys, *words: str) -> dict:
    assert main([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def said(capsys, *words: str) -> str:
    assert main(list(words)) == 0
    return capsys.readouterr().out


@pytest.mark.parametrize("wind_long", [False, True])
def test_sheet_plan_rehearsal_and_wind_come_to_the_same_coil(tmp_path, capsys, wind_long):
    path = recipe_file(tmp_path, TAIL, wind_long=wind_long)
    more = ("--known", EARLIER)
    sheet = told(capsys, "sheet", path, *more)
    plan = told(capsys, "plan", path, *more)
    rehearsed = told(capsys, "rehearse", path, *more)
    checked = told(capsys, "recipe", "check", path)
    request = request_of(build_parser().parse_args(["wind", path, "--port", "sim", *more]))
    wound = read_coil(request.recipe, request.readings)
    assert sheet["turns"] == plan["target_turns"] == rehearsed["target_turns"] == wound.turns
    assert plan["measure_at_end"] is rehearsed["measure_at_end"] is sheet["wind_long"] is wind_long
    band = sheet["resistance_ohm_20c"]
    assert rehearsed["resistance_ohm_20c"]["low"] == pytest.approx(band["low"])
    assert rehearsed["resistance_ohm_20c"]["expected"] == pytest.approx(band["nominal"])
    assert wound.resistance_ohm_20c.high == pytest.approx(band["high"])
    assert checked["turns"] == told(capsys, "sheet", path)["turns"]
    plain = told(capsys, "sheet", recipe_file(tmp_path, wind_long=wind_long))
    assert sheet["turns"] < plain["turns"], "this spool has more ohms than its table"
    assert width(band) < width(plain["resistance_ohm_20c"]) / 2


def width(band: dict) -> float:
    return band["high"] / band["low"] - 1


def test_a_reading_counts_the_same_in_the_recipe_and_beside_it(tmp_path, capsys):
    beside = told(capsys, "sheet", str(SENSOR), "--known", TAIL, "--known", EARLIER)
    within = told(capsys, "sheet", recipe_file(tmp_path, TAIL, EARLIER))
    assert beside == within
    assert beside["known"]["resistance_ohm_20c"] == beside["resistance_ohm_20c"]
    assert beside["known"]["turns_for_target"] == beside["turns_for_target"]
    assert [one["reading"] for one in beside["known"]["readings"]] == [
        "tail of 8 m",
        "earlier coil at 1600 turns",
    ]


def test_a_campaign_knows_it_too(tmp_path, capsys):
    path = recipe_file(tmp_path, TAIL)
    campaign = told(capsys, "rehearse", path, "--known", EARLIER, "--runs", "2")
    one = told(capsys, "rehearse", path, "--known", EARLIER)
    first = campaign["runs"][0]
    assert first["target_turns"] == one["target_turns"]
    assert first["resistance_ohm_20c"] == one["resistance_ohm_20c"]


@pytest.mark.parametrize(
    "verb",
    [
        ("plan",),
        ("rehearse",),
        ("wind", "--port", "sim", "--start", "--top", "chuck", "--tension", "9 cN"),
    ],
)
@pytest.mark.parametrize(
    ("reading", "says"),
    [
        ("tail, 8 m", "add the value"),
        ("scale, 3 g", "begin with one of"),
        ("", "begin with one of"),
    ],
)
def test_what_is_no_reading_is_refused_before_anything_begins(capsys, verb, reading, says):
    assert main([verb[0], str(SENSOR), *verb[1:], "--known", reading]) == 2
    heard = capsys.readouterr()
    assert says in heard.err
    assert heard.out == ""


def test_a_reading_beside_the_recipe_that_has_it_is_refused(tmp_path, capsys):
    assert main(["plan", recipe_file(tmp_path, TAIL), "--known", TAIL]) == 2
    assert "given twice" in capsys.readouterr().err


def test_a_reading_in_the_recipe_that_cannot_be_has_its_line_in_every_command(tmp_path, capsys):
    path = recipe_file(tmp_path, "tail, 8 m, 71.5 kohm")
    line = Path(path).read_text(encoding="utf-8").split("\n").index("[known]") + 2
    wind = ("wind", path, "--port", "sim", "--start", "--top", "chuck", "--tension", "9 cN")
    for words in (
        ("recipe", "check", path),
        ("sheet", path),
        ("plan", path),
        ("rehearse", path),
        wind,
    ):
        assert main(list(words)) == 2
        heard = capsys.readouterr()
        assert f"{path}:{line}: known.readings: the meter shows 71.5 kohm" in heard.err
        assert "likely causes" in heard.err and heard.out == ""


def test_a_check_tells_what_is_known_and_what_is_wound_long(tmp_path, capsys):
    path = recipe_file(tmp_path, TAIL, EARLIER, wind_long=True)
    out = said(capsys, "recipe", "check", path)
    assert "known: tail of 8 m, earlier coil at 1600 turns" in out
    assert "350 ohm at 20 C, wound long" in out
    assert told(capsys, "recipe", "check", path)["wind_long"] is True
    plain = said(capsys, "recipe", "check", str(SENSOR))
    assert "known:" not in plain and "long" not in plain


def test_a_wind_takes_readings_of_the_coil_itself():
    words = ["wind", str(SENSOR), "--port", "sim", "--known", "ohm, 800 turns, 152 ohm"]
    request = request_of(build_parser().parse_args(words))
    assert request.readings[0].turns == 800
    again = request_of(build_parser().parse_args(words[:4]))
    assert again.readings == ()
    assert read_coil(str(SENSOR), [SpoolTail(8.0, 71.5, 22.0)]).knowledge is not None


def test_a_long_coil_says_so_in_sheet_plan_and_rehearsal(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "120")
    path = recipe_file(tmp_path, wind_long=True)
    sheet = said(capsys, "sheet", path)
    assert "turns to wind, long" in sheet and "turns for the target" in sheet
    assert "measure it and take turns off" in sheet
    plan = said(capsys, "plan", path)
    assert "then measure and take off" in plan and "then done" not in plan
    assert "wound long" in said(capsys, "rehearse", path)
    finished = said(capsys, "rehearse", path, "--observe", "finish")
    assert "taken off at the end" in finished and "wound long" not in finished
    short = recipe_file(tmp_path)
    assert "then done" in said(capsys, "plan", short)
    assert "wound long" not in said(capsys, "rehearse", short)


def test_the_rehearsal_s_new_field_is_documented(capsys):
    page = (DOCS / "rehearsal.md").read_text(encoding="utf-8")
    report = told(capsys, "rehearse", str(SENSOR))
    for name in report:
        assert f"`{name}`" in page or f"`{name}." in page, name
