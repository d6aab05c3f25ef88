"""The reference page of the recipe file is the one the code writes."""

from __future__ import annotations

import pytest

from tests.pages import recipe_page as reference
from tests.pages import reference_page
from winder.recipe.format import SECTIONS


def test_the_page_in_the_tree_is_up_to_date():
    found = reference.PAGE.read_text(encoding="utf-8")
    assert found == reference.page_text(), "write it again: python -m tests.pages.recipe_page"


def test_the_page_tells_of_every_field_and_its_limits():
    text = reference.page_text()
    for section in SECTIONS:
        for field in section.fields:
            assert f"| `{field.key}` | {field.kind.words} |" in text


def test_check_tells_a_stale_page_from_a_fresh_one(tmp_path, capsys):
    page = tmp_path / "new" / "page.md"
    assert reference_page.main(page, "text\n", ["--check"]) == 1
    assert "page.md" in capsys.readouterr().out
    assert reference_page.main(page, "text\n", []) == 0
    assert reference_page.main(page, "text\n", ["--check"]) == 0
    page.write_text("another text\n")
    assert reference_page.main(page, "text\n", ["--check"]) == 1


@pytest.mark.parametrize("word", ["shared", "TODO"])
def test_the_page_holds_nothing_of_where_it_was_made(word):
    assert word not in reference.page_text()
