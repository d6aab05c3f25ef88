"""``winder plan --compare-lays``: ways to lay the wire side by side, and the page that shows them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from winder.commands.main import main
from winder.recipe.samples import example_recipes

DOCS = Path(__file__).parents[2] / "docs"
EXAMPLES = dict(example_recipes())
KALIMBA = EXAMPLES["kalimba"]
NAMES = [
    "traverse, as planned",
    "traverse, no wait at the edges",
    "traverse, nothing done for the edges",
    "traverse, scattered lay",
    "by hand",
]


def lay(capsys, *words) -> tuple[int, str, str]:
    code = main(["plan", "--compare-lays", *map(str, words)])
    said = capsys.readouterr()
    return code, said.out, said.err


def rows(table: str) -> list[list[str]]:
    found = [line.strip("|").split("|") for line in table.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in row] for row in found]


def compared(capsys, *words) -> dict[str, dict[str, float]]:
    code, out, err = lay(capsys, *words, "--json")
    assert (code, err) == (0, "")
    return {told.pop("lay"): told for told in json.loads(out)["lays"]}


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_the_page_shows_what_the_command_prints(capsys, name):
    """Same lays, same columns, and figures that a run gave: close to what it gives now."""
    _, out, _ = lay(capsys, EXAMPLES[name])
    printed = rows(out)
    title = out.splitlines()[0]
    page = (DOCS / "lay.md").read_text()
    assert title in page, "write the figures again: winder plan --compare-lays"
    shown = rows(page[page.index(title) :].split("\n\n")[1])
    assert [row[0] for row in printed[1:]] == NAMES
    assert shown[0] == printed[0]
    assert [row[0] for row in shown] == [row[0] for row in printed]
    for one, other in zip(shown[1:], printed[1:], strict=True):
        assert float(one[1]) == pytest.approx(float(other[1]), abs=0.08)
        assert float(one[2]) == pytest.approx(float(other[2]), abs=0.02)
        assert float(one[4]) == pytest.approx(float(other[4]), rel=0.01)


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_the_planned_lay_is_level_to_the_edge_and_the_others_tell_why(capsys, name):
    lays = compared(capsys, EXAMPLES[name])
    planned, no_wait, bare, scattered, hand = (lays[lay_name] for lay_name in NAMES)
    assert 0.95 <= planned["edge_share"] <= 1.1
    assert no_wait["edge_share"] < planned["edge_share"] - 0.05
    assert bare["edge_share"] < 0.9
    assert planned["unevenness"] < min(
        no_wait["unevenness"], bare["unevenness"], hand["unevenness"]
    )
    assert planned["unevenness"] < 0.08
    assert 0.9 <= scattered["edge_share"] <= 1.1
    ohms = [told["resistance_ohm_20c"] for told in lays.values()]
    assert max(ohms) / min(ohms) < 1.02
    assert len(set(ohms)) == len(ohms)


def test_json_is_as_documented(capsys):
    _, out, _ = lay(capsys, KALIMBA, "--json")
    told = json.loads(out)
    page = (DOCS / "reference" / "lay.md").read_text()
    assert all(f"`{name}`" in page for name in (*told, *told["lays"][0]))


def test_a_seed_repeats_and_another_guides_another_hand(capsys):
    one, again = [compared(capsys, KALIMBA, "--seed", "5") for _ in range(2)]
    other = compared(capsys, KALIMBA, "--seed", "6")
    assert one == again
    assert one["by hand"]["unevenness"] != other["by hand"]["unevenness"]
    bare = "traverse, nothing done for the edges"
    assert one[bare]["resistance_ohm_20c"] != other[bare]["resistance_ohm_20c"]  # another spool


@pytest.mark.parametrize(("old", "new"), [("motor = true", "motor = false"), ("[traverse]", None)])
def test_without_a_driven_guide_only_the_hand_is_left(capsys, tmp_path, old, new):
    path = tmp_path / "bench.toml"
    main(["bench", "new", str(path)])
    text = path.read_text()
    text = (
        text.replace(old, new)
        if new
        else re.sub(r"\[traverse\].*?(?=\n# [^\n]*\n\[feed\])", "", text, flags=re.S)
    )
    path.write_text(text)
    capsys.readouterr()
    assert list(compared(capsys, KALIMBA, "--machine", path)) == ["by hand"]


@pytest.mark.parametrize(
    "words",
    [[KALIMBA, "--seed", "x"], ["missing.toml"], [KALIMBA, "--machine", "missing.toml"]],
)
def test_a_mistake_is_one_clear_line(capsys, words):
    code, out, err = lay(capsys, *words)
    assert (code, out, err.count("\n")) == (2, "", 1)
