"""``winder desk``: the sums as a person asks for them, and one clear line for what cannot be."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from running import short_recipe_file

from winder.commands.main import main

PAGE = (Path(__file__).parents[2] / "docs" / "reference" / "desk.md").read_text()


def desk(capsys, *words) -> tuple[int, str, str]:
    code = main(["desk", *map(str, words)])
    said = capsys.readouterr()
    return code, said.out, said.err


def told(capsys, *words) -> dict:
    code, out, err = desk(capsys, *words, "--json")
    assert (code, err) == (0, "")
    return json.loads(out)


def test_a_reading_at_20_c(capsys):
    """832 / (1 + 0.00393 x 7) = 809.72 ohm (IEC 60028)."""
    code, out, err = desk(capsys, "reading", "832 ohm, 27 C")
    assert (code, err) == (0, "")
    assert out.startswith("809.7 ohm at 20 C, between ")
    assert told(capsys, "reading", "832 ohm, 27 C")["ohm_there"]["nominal"] == pytest.approx(
        809.72, abs=0.01
    )
    there = told(capsys, "reading", "809.72 ohm", "--to", "27 C")
    assert there["ohm_there"]["nominal"] == pytest.approx(832, abs=0.01)


def test_a_temperature_that_is_not_given_is_said(capsys):
    _, out, _ = desk(capsys, "reading", "832 ohm")
    assert "assuming the coil is at 20 C" in out
    assert "assuming" not in desk(capsys, "reading", "832 ohm, 20 C")[1]


def test_the_turns_of_an_unknown_coil(capsys, tmp_path):
    """Whatever the recipe's own target: the same bobbin has the same answer."""
    recipe = short_recipe_file(tmp_path, turns=40)
    first = told(capsys, "turns", recipe, "812 ohm, 23 C")
    other = tmp_path / "other"
    other.mkdir()
    again = told(capsys, "turns", short_recipe_file(other, turns=3000), "812 ohm, 23 C")
    assert first["turns"]["nominal"] == pytest.approx(again["turns"]["nominal"], rel=1e-6)
    assert first["take_off_turns"] is None
    reach = told(capsys, "turns", recipe, "812 ohm, 23 C", "--reach", "780 ohm")
    assert 0 < reach["take_off_turns"]["nominal"] < 120
    _, out, _ = desk(capsys, "turns", recipe, "812 ohm, 23 C", "--reach", "780 ohm")
    assert re.search(r"take off \d+ turns for 780 ohm", out)
    _, out, _ = desk(capsys, "turns", recipe, "812 ohm, 23 C", "--reach", "850 ohm")
    assert "missing" in out


def test_build_and_tail_narrow_the_turns(capsys, tmp_path):
    recipe = short_recipe_file(tmp_path)
    plain = told(capsys, "turns", recipe, "812 ohm, 23 C")
    tail = ("--known", "tail, 20 m, 108 ohm, 22 C")
    known = told(capsys, "turns", recipe, "812 ohm, 23 C", *tail)
    built = told(capsys, "turns", recipe, "812 ohm, 23 C", *tail, "--build", "1.9 mm")
    widths = [each["turns"]["high"] - each["turns"]["low"] for each in (plain, known, built)]
    assert widths[2] < widths[1] < widths[0]


def test_the_gauge_of_a_piece(capsys):
    """2.5 mil bare and 2.8 mil over single film are 42 AWG (a wire maker's sheet, Rubadue Wire)."""
    for words in (("--over", "2.8 mil"), ("--bare", "2.5 mil"), ("--piece", "20 m, 108.9 ohm")):
        wires = told(capsys, "gauge", *words)["wires"]
        assert wires[0]["wire"] == "42 AWG single" and wires[0]["fits"]
    _, out, _ = desk(capsys, "gauge", "--bare", "2.5 mil")
    assert "42 AWG" in out and "single" not in out  # the film was not measured
    assert "short" in desk(capsys, "gauge", "--piece", "8 m, 43.5 ohm")[1]


@pytest.mark.parametrize(
    "words",
    [
        ("reading", "832"),
        ("reading", "8,5 ohm"),
        ("reading", "832 ohm, 22 C, 23 C"),
        ("reading", "832 ohm, 5 m"),
        ("reading", "22 C"),
        ("reading", "0 ohm"),
        ("reading", "832 ohm, 400 C"),
        ("reading", "832 ohm", "--to", "20"),
        ("reading", "832 ohm\x1b[31m"),
        ("gauge", "--over", "3 m"),
        ("gauge", "--bare", "-1 mm"),
        ("gauge", "--piece", "20 m"),
        ("gauge", "--piece", "0 m, 100 ohm"),
        ("turns", "missing.toml", "800 ohm"),
        ("turns", "RECIPE", "0.1 ohm"),
        ("turns", "RECIPE", "800 ohm", "--build", "0 mm"),
        ("turns", "RECIPE", "800 ohm", "--build", "1 m"),
        ("turns", "RECIPE", "800 ohm", "--reach", "0 ohm"),
        ("turns", "RECIPE", "800 ohm", "--known", "tail, 8 m"),
    ],
    ids=" ".join,
)
def test_a_mistake_is_one_clear_line(capsys, tmp_path, words):
    recipe = short_recipe_file(tmp_path)
    code, out, err = desk(capsys, *(recipe if word == "RECIPE" else word for word in words))
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert "; " in err and "\x1b" not in err


def test_json_is_as_documented(capsys, tmp_path):
    recipe = short_recipe_file(tmp_path)
    for words in (
        ("reading", "832 ohm, 27 C"),
        ("turns", recipe, "812 ohm, 23 C", "--reach", "780 ohm"),
        ("gauge", "--over", "0.071 mm"),
    ):
        facts = told(capsys, *words)
        inner = facts.get("wires", [{}])[0]
        assert all(f"`{name}`" in PAGE for name in (*facts, *inner))


def test_the_page_shows_what_the_commands_print(capsys, tmp_path, monkeypatch):
    """Every command of the page, its output word for word."""
    monkeypatch.chdir(tmp_path)
    main(["recipe", "new", "small.toml"])
    capsys.readouterr()
    blocks = re.findall(r"^    \$ winder (desk .*)\n((?:    .*\n)+)", PAGE, re.MULTILINE)
    assert len(blocks) >= 4
    import shlex

    for command, shown in blocks:
        code = main(shlex.split(command))
        printed = capsys.readouterr().out
        assert code == 0
        assert [line.strip() for line in printed.splitlines()] == [
            line.strip() for line in shown.splitlines()
        ]
