"""``winder recipe new`` and ``winder recipe check``, as a person or another program meets them."""

from __future__ import annotations

import argparse
import json

import pytest

from winder.commands import recipe as recipe_command
from winder.errors import FileComplaints, UserMistake
from winder.machine.template import new_profile_text
from winder.recipe.reader import read_recipe
from winder.recipe.samples import example_recipes, new_recipe_text

EXAMPLES = dict(example_recipes())


def run(*words: str) -> int:
    parser = argparse.ArgumentParser(prog="winder")
    recipe_command.add_parser(parser.add_subparsers())
    arguments = parser.parse_args(["recipe", *words])
    return arguments.run(arguments)


def changed_example(tmp_path, old, new):
    path = tmp_path / "my.toml"
    text = EXAMPLES["kalimba"].read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def line_of(path, start):
    lines = path.read_text(encoding="utf-8").split("\n")
    return next(number for number, line in enumerate(lines, 1) if line.startswith(start))


def test_new_writes_a_recipe_named_after_its_file_that_checks_well(tmp_path, capsys):
    path = tmp_path / "bass bar.toml"
    assert run("new", str(path)) == 0
    assert str(path) in capsys.readouterr().out
    assert read_recipe(path).name == "bass bar"
    assert run("check", str(path)) == 0


def test_new_leaves_what_is_there_alone(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("mine")
    with pytest.raises(UserMistake) as caught:
        run("new", str(path))
    assert caught.value.exit_code == 2
    assert str(path) in str(caught.value)
    assert path.read_text() == "mine"


@pytest.mark.parametrize("name", ["no/such/directory/x.toml", "nul\x00.toml"])
def test_new_where_nothing_can_be_written_is_a_mistake(tmp_path, name):
    with pytest.raises(UserMistake) as caught:
        run("new", f"{tmp_path}/{name}")
    assert "directory" in caught.value.remedy


def test_new_does_not_write_over_a_directory(tmp_path):
    with pytest.raises(UserMistake):
        run("new", str(tmp_path))


def test_check_sums_up_the_recipe_and_tells_what_it_gives(capsys):
    assert run("check", str(EXAMPLES["kalimba"])) == 0
    what, target, gives, bench, remark = capsys.readouterr().out.strip().split("\n")
    assert what.startswith("kalimba pickup: 42 AWG single on an obround core of 24 mm x 4 mm")
    assert "6 mm wide" in what and "7 mm high" in what and "margins 0.2 mm" in what
    assert target == (
        "target 5000 turns, clockwise seen from the top, pauses at 2500 (measure half-way)"
    )
    assert gives.startswith("gives 5000 turns, ")
    assert gives.endswith(": may not fit")
    assert bench.startswith("calculated for an ordinary bench") and "--machine" in bench
    assert "on the flat sides" in remark and "watch the last layers" in remark


def test_check_of_a_resistance_target_gives_its_turns(capsys):
    assert run("check", str(EXAMPLES["sensor"])) == 0
    _, target, gives, _ = capsys.readouterr().out.strip().split("\n")
    assert target.startswith("target 350 ohm at 20 C, counter-clockwise")
    assert "350 ohm at 20 C" in gives
    # Done again by hand with the copper standard alone: 0.05 mm has 8.78 ohm/m (1/58 ohm mm2/m), so
    # 39.9 m of wire; about 6 to 9 mm across, that is 1400 to 2100 turns.
    turns = int(gives.split()[1])
    assert 1400 < turns < 2100


def test_check_names_a_measured_core_and_another_target(tmp_path, capsys):
    path = changed_example(
        tmp_path,
        'shape = "obround"\nlength = "24 mm"\nthickness = "4 mm"',
        'shape = "custom"\nperimeter = "52.6 mm"\narea = "92 mm2"',
    )
    path.write_text(path.read_text().replace("turns = 5000", 'build = "5 mm"'), encoding="utf-8")
    assert run("check", str(path)) == 0
    what, target, *_ = capsys.readouterr().out.strip().split("\n")
    assert "a measured core, 52.6 mm around and 92 mm2" in what
    assert target.startswith("target full to 5 mm, ")


def test_check_figures_for_the_bench_that_is_named(tmp_path, capsys):
    """A bad meter leaves more of the wire open that a tail was measured of."""
    known = '\n[known]\nreadings = ["tail, 20 m, 109 ohm, 20 C"]\n'
    path = changed_example(tmp_path, "[winding]", "[winding]")
    path.write_text(path.read_text(encoding="utf-8") + known, encoding="utf-8")
    bench = tmp_path / "bench.toml"
    good = new_profile_text("bad")
    assert 'meter_accuracy = "0.8 %"' in good
    bench.write_text(good.replace('"0.8 %"', '"5 %"'), encoding="utf-8")
    widths = []
    for more in ((), ("--machine", str(bench))):
        assert run("check", "--json", str(path), *more) == 0
        told = json.loads(capsys.readouterr().out)
        widths.append(told["resistance_ohm_20c"]["high"] - told["resistance_ohm_20c"]["low"])
    assert widths[1] > 1.1 * widths[0] and told["machine"] == "bad"
    assert run("check", str(path), "--machine", str(bench)) == 0
    assert "calculated for the bench of 'bad'" in capsys.readouterr().out


def test_check_raises_complaints_with_their_lines(tmp_path):
    path = changed_example(tmp_path, '"6 mm"', '"6,5 mm"')
    with pytest.raises(FileComplaints) as caught:
        run("check", str(path))
    assert str(caught.value).startswith(f"{path}:{line_of(path, 'width')}: bobbin.width: ")


def test_a_coil_that_overflows_its_bobbin_is_a_complaint_with_a_line(tmp_path):
    path = changed_example(tmp_path, "turns = 5000", "turns = 50000")
    with pytest.raises(FileComplaints) as caught:
        run("check", str(path))
    (complaint,) = caught.value.complaints
    assert complaint.field == "bobbin.flange_height"
    assert complaint.line == line_of(path, "flange_height")
    assert "50000 turns" in complaint.what


def test_a_wire_that_nobody_makes_is_a_complaint_with_a_line(tmp_path):
    path = changed_example(
        tmp_path, 'gauge = "42 AWG"\nfilm = "single"', 'diameter = "0.0615 mm"\ngrade = 1'
    )
    with pytest.raises(FileComplaints) as caught:
        run("check", str(path))
    (complaint,) = caught.value.complaints
    assert complaint.line in (line_of(path, "[wire]"), line_of(path, "diameter"))
    assert "0.0615 mm" in complaint.what


def test_json_of_a_good_recipe(capsys):
    assert run("check", "--json", str(EXAMPLES["kalimba"])) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["good"] is True
    assert told["complaints"] == []
    assert (told["name"], told["turns"], told["fits"]) == ("kalimba pickup", 5000, False)
    ohm = told["resistance_ohm_20c"]
    assert ohm["low"] < ohm["nominal"] < ohm["high"]


def test_json_of_a_bad_recipe(tmp_path, capsys):
    path = changed_example(tmp_path, '"6 mm"', '"6,5 mm"')
    assert run("check", "--json", str(path)) == 2
    told = json.loads(capsys.readouterr().out)
    assert told["good"] is False
    (complaint,) = told["complaints"]
    assert complaint == {
        "line": line_of(path, "width"),
        "field": "bobbin.width",
        "what": '"6,5 mm" has a decimal comma',
        "remedy": 'write the number with a point: "6.5 mm"',
    }


def test_json_of_a_file_that_is_not_there(tmp_path, capsys):
    assert run("check", "--json", str(tmp_path / "none.toml")) == 2
    (complaint,) = json.loads(capsys.readouterr().out)["complaints"]
    assert (complaint["line"], complaint["field"]) == (0, "file")


def test_every_verb_has_help_with_examples(capsys):
    for words in [("--help",), ("new", "--help"), ("check", "--help")]:
        with pytest.raises(SystemExit) as caught:
            run(*words)
        assert caught.value.code == 0
        assert "examples:\n  winder recipe" in capsys.readouterr().out


def test_the_template_fits_its_bobbin(tmp_path, capsys):
    path = tmp_path / "new.toml"
    path.write_text(new_recipe_text("new"), encoding="utf-8")
    assert run("check", "--json", str(path)) == 0
    assert json.loads(capsys.readouterr().out)["fits"] is True
