"""``winder plan``: legs, checks and refusals as people and programs read them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from running import short_recipe_file

from tests.pages.machine_page import example_text
from winder.commands.main import main
from winder.files.form import template_text
from winder.machine.format import SECTIONS
from winder.recipe.samples import example_recipes

DOCS = Path(__file__).parents[2] / "docs" / "reference"
EXAMPLES = dict(example_recipes())


def planned(capsys, *words: str) -> tuple[int, str, str]:
    code = main(["plan", *map(str, words)])
    said = capsys.readouterr()
    return code, said.out, said.err


def machine_file(folder: Path, **values: str) -> Path:
    path = folder / "bench.toml"
    path.write_text(template_text(SECTIONS, "A bench.", values))
    return path


def test_a_plan_is_told_from_anchor_to_landing_with_its_time(capsys):
    code, out, err = planned(capsys, EXAMPLES["kalimba"])
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == "kalimba pickup on the simulated bench"
    assert lines[1].startswith("anchor: ")
    places = [out.index(word) for word in ("bedding", "body", "then a pause", "landing", "guide:")]
    assert places == sorted(places)
    assert "turns 1 to 5000 (5000), about 3 min" in out
    assert "check: speed 1500 rpm, at most 1500 rpm" in lines


def test_json_is_as_documented_field_by_field(capsys):
    code, out, _ = planned(capsys, EXAMPLES["sensor"], "--json")
    told = json.loads(out)
    assert code == 0 and told["good"] and told["refusals"] == []
    page = (DOCS / "plan.md").read_text()
    for name in (*told, *told["legs"][0], *told["checks"][0]):
        assert f"`{name}`" in page, name
    legs = told["legs"]
    assert [leg["first_turn"] for leg in legs[1:]] == [leg["last_turn"] + 1 for leg in legs[:-1]]
    assert legs[0]["first_turn"] == 1 and legs[-1]["last_turn"] == told["target_turns"]
    assert legs[-1]["end_counts"] == told["target_turns"] * told["counts_per_turn"]
    assert legs[-1]["at_end"] == "complete" and told["spindle"] == -1


def test_everything_that_refuses_is_told_at_once_each_with_line_and_remedy(capsys, tmp_path):
    text = EXAMPLES["kalimba"].read_text().replace("= 5000", "= 50000")
    pauses = ", ".join(str(turn) for turn in range(100, 1000, 100))
    recipe = tmp_path / "bad.toml"
    named = 'pauses = [{at = 2500, for = "measure half-way"}]'
    assert named in text
    recipe.write_text(text.replace(named, f'speed = "10 rpm"\npauses = [{pauses}]'))
    bench = machine_file(tmp_path, **{"traverse.travel": '"4 mm"'})
    code, out, err = planned(capsys, recipe, "--machine", bench)
    assert (code, out) == (2, "")
    lines = err.splitlines()
    for field in ("bobbin.flange_height", "winding.speed", "winding.pauses", "machine '"):
        (line,) = [line for line in lines if field in line]
        assert "; " in line
    number = recipe.read_text().split("\n").index('speed = "10 rpm"') + 1
    assert any(line.startswith(f"{recipe}:{number}: winding.speed: ") for line in lines)
    code, out, err = planned(capsys, recipe, "--machine", bench, "--json")
    told = json.loads(out)
    assert (code, err, told["good"]) == (2, "", False)
    assert len(told["refusals"]) == len(lines) and all(each["remedy"] for each in told["refusals"])


def test_limits_of_sensor_motor_and_traverse_are_checked(capsys, tmp_path):
    path = machine_file(tmp_path)
    path.write_text(
        path.read_text()
        .replace("gear = 1", "gear = 3")
        .replace('# motor_speed_max = "3000 rpm"', 'motor_speed_max = "1800 rpm"')
        .replace("# edge_rate_max = 20000", "edge_rate_max = 190")
        .replace("# steps_per_mm = 400", "steps_per_mm = 5")
    )
    code, out, _ = planned(capsys, EXAMPLES["kalimba"], "--machine", path)
    assert code == 0
    assert "check: motor speed 1710 rpm, at most 1800 rpm" in out
    assert "check: counts of the sensor 190 a second, at most 190 a second" in out
    assert "CHECK, beyond its limit: traverse steps per turn 0.37" in out
    assert "note: no faster than 600 rpm: the motor is made for 1800 rpm" in out
    assert "note: no faster than 570 rpm: the sensor gives at most 190 counts" in out


@pytest.mark.parametrize(
    ("sense", "words"), [("true", "part of the coil"), ("false", "you will be asked")]
)
def test_anchor_turns_are_counted_or_asked_for(capsys, tmp_path, sense, words):
    bench = machine_file(tmp_path, **{"sensor.senses_direction": sense})
    assert words in planned(capsys, EXAMPLES["kalimba"], "--machine", bench)[1]


def test_scatter_is_planned_by_its_seed(capsys):
    _, out, _ = planned(capsys, EXAMPLES["kalimba"], "--scatter", "--seed", "7", "--json")
    assert {leg["scatter_seed"] for leg in json.loads(out)["legs"]} == {7}
    assert (
        "scattered by seed 7" in planned(capsys, EXAMPLES["kalimba"], "--scatter", "--seed", "7")[1]
    )


@pytest.mark.parametrize("seed", ["0", "65536", "x", "-1", "1.5", "", "²"])
def test_a_seed_no_leg_can_carry_is_refused(capsys, seed):
    code, out, err = planned(capsys, EXAMPLES["kalimba"], f"--seed={seed}")
    assert (code, out) == (2, "") and "--seed: " in err


@pytest.mark.parametrize(
    "words", [["missing.toml"], [str(EXAMPLES["kalimba"]), "--machine", "missing.toml"]]
)
def test_a_file_that_is_not_there_is_one_clear_line_or_json(capsys, words):
    code, out, err = planned(capsys, *words)
    assert code == 2 and out == "" and err.count("\n") == 1 and "missing.toml" in err
    code, out, _ = planned(capsys, *words, "--json")
    assert code == 2 and not json.loads(out)["good"]


def test_a_counter_without_motor_says_that_nothing_stops(capsys, tmp_path):
    path = machine_file(tmp_path)
    path.write_text(path.read_text().replace("motor = true", "motor = false"))
    code, out, _ = planned(capsys, short_recipe_file(tmp_path, 60), "--machine", path)
    assert code == 0 and "nothing stops by itself" in out


def test_the_example_machine_needs_no_file(capsys, tmp_path):
    path = tmp_path / "same.toml"
    path.write_text(example_text())
    assert planned(capsys, EXAMPLES["sensor"], "--machine", path) == planned(
        capsys, EXAMPLES["sensor"]
    )
