"""Setting and taking out one key of a file: every other letter stays, or nothing is done."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from winder.errors import UserMistake
from winder.files.rewriting import with_value, without
from winder.recipe.samples import example_recipes, new_recipe_text, short_recipe_text

TEXT = """\
# mine
name = "bass"   # the low one

[wire]
gauge = "42 AWG"     # from the label
film = "single"

# the bobbin I printed
[bobbin]
width = "9.5 mm"
# margin = "0.2 mm"
flange_height = "4 mm"

[winding]
pauses = [
  1000,  # a tap
  2500,
]
direction = "clockwise"
"""
EVERY_KEY = [
    f"{section}.{key}"
    for section, table in tomllib.loads(new_recipe_text("x")).items()
    if isinstance(table, dict)
    for key in table
]


def changed(before: str, after: str) -> list[tuple[str, str]]:
    return [
        (one, other)
        for one, other in zip(before.splitlines(), after.splitlines(), strict=True)
        if one != other
    ]


def test_a_value_changes_its_own_line_and_keeps_its_comment_in_its_column():
    after = with_value(TEXT, "wire.gauge", '"43 AWG"')
    assert changed(TEXT, after) == [
        ('gauge = "42 AWG"     # from the label', 'gauge = "43 AWG"     # from the label')
    ]
    longer = with_value(TEXT, "wire.gauge", '"a very long gauge"')
    assert 'gauge = "a very long gauge" # from the label' in longer
    assert with_value(TEXT, "name", '"x"').splitlines()[1] == 'name = "x"      # the low one'


def test_a_new_key_goes_below_the_last_of_its_section():
    after = with_value(TEXT, "bobbin.length", '"24 mm"')
    lines = after.splitlines()
    assert lines[lines.index('flange_height = "4 mm"') + 1] == 'length = "24 mm"'
    assert [line for line in lines if line != 'length = "24 mm"'] == TEXT.splitlines()


def test_a_key_that_stands_there_as_a_comment_is_used_again():
    after = with_value(TEXT, "bobbin.margin", '"0.3 mm"')
    assert changed(TEXT, after) == [('# margin = "0.2 mm"', 'margin = "0.3 mm"')]


def test_a_new_section_goes_to_the_end():
    after = with_value(TEXT, "target.turns", "5000")
    assert after == TEXT + "\n[target]\nturns = 5000\n"
    assert with_value("", "name", '"x"') == 'name = "x"\n'


def test_what_is_taken_out_becomes_a_comment_over_all_its_lines():
    after = without(TEXT, "winding.pauses")
    assert "# pauses = [\n#   1000,  # a tap\n#   2500,\n# ]\n" in after
    assert "pauses" not in tomllib.loads(after)["winding"]
    assert without(TEXT, "winding.speed") == TEXT


@pytest.mark.parametrize(
    "text",
    ['bobbin = { width = "9 mm", shape = "round" }\n', '[bobbin]\n"width" = "9 mm"\n'],
)
def test_a_file_written_in_another_way_is_changed_rightly_or_not_at_all(text):
    for change in (
        lambda: with_value(text, "bobbin.width", '"8 mm"'),
        lambda: without(text, "bobbin.width"),
    ):
        try:
            after = change()
        except UserMistake as refused:
            assert "editor" in str(refused)
        else:
            assert tomllib.loads(after).get("bobbin", {}).get("width") in (None, "8 mm")


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize(
    "text",
    [new_recipe_text("x"), short_recipe_text("x"), *(p.read_text() for _, p in example_recipes())],
    ids=["full", "short", *(name for name, _ in example_recipes())],
)
@pytest.mark.parametrize("path", [*EVERY_KEY, "bobbin.margin", "known.readings", "winding.speed"])
def test_every_key_of_every_recipe_can_be_set_and_taken_out_and_set_again(text, path, newline):
    text = text.replace("\n", newline)
    section, _, key = path.rpartition(".")
    there = with_value(text, path, '"some thing"')
    assert tomllib.loads(there)[section][key] == "some thing"
    gone = without(there, path)
    assert key not in tomllib.loads(gone).get(section, {})
    back = with_value(gone, path, '"some thing"')
    assert tomllib.loads(back) == tomllib.loads(there)
    comments = [line for line in text.splitlines() if line.startswith("#")]
    kept = [line for line in there.splitlines() if line.startswith("#")]
    assert len(comments) - len(kept) in (0, 1)  # one at most was a value waiting to be used


@settings(max_examples=300, deadline=None)
@given(
    text=st.text(alphabet="[]{}=,#\"'.\\\n abx1\t", max_size=60),
    path=st.sampled_from(["a", "a.b", "b.x", "x"]),
)
def test_whatever_the_file_the_rest_of_it_says_the_same(text, path):
    try:
        before = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    try:
        after = tomllib.loads(with_value(text, path, "7"))
    except UserMistake:
        return
    section, _, key = path.rpartition(".")
    table = before.setdefault(section, {}) if section else before
    table[key] = 7
    assert {k: v for k, v in after.items() if v != {}} == {
        k: v for k, v in before.items() if v != {}
    }
