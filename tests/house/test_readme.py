"""The README and the page of the first coil are promises: every command runs as it is written."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from source_tree import ROOT

from tests.pages.first_coil import PAGE, comparable, page_text, run_line

README = (ROOT / "README.md").read_text(encoding="utf-8")
LINES_MAX = 60
PAGES = {"README.md": ROOT, "docs/first_coil.md": ROOT / "docs", "docs/bench.md": ROOT / "docs"}


def tour() -> list[str]:
    """The indented ``winder`` lines, whole; the shell leaves out the remarks."""
    return re.findall(r"^    (winder .*)$", README, re.MULTILINE)


def test_the_readme_is_short():
    assert len(README.splitlines()) <= LINES_MAX


def test_ten_commands_lead_from_a_bobbin_to_a_card_to_the_letter(tmp_path):
    commands = tour()
    assert len(commands) == 10
    for command in commands:
        run_line(command, tmp_path)
    assert (tmp_path / "bass.html").is_file()


def test_the_first_coil_prints_what_its_page_says(tmp_path):
    before = PAGE.read_text(encoding="utf-8")
    assert before.count("\n$ winder") >= 6
    assert comparable(page_text(before, tmp_path)) == comparable(before), (
        "write it again: python -m tests.pages.first_coil"
    )


def test_a_page_whose_command_prints_something_else_is_caught(tmp_path):
    page = '```toml\nname = "x"\n```\n```console\n$ echo one\ntwo\n```\n'
    assert page_text(page, tmp_path) == page.replace("two", "one")
    with pytest.raises(AssertionError):
        page_text(page.replace("echo one", "false"), tmp_path)


def test_the_test_command_is_the_one_ci_calls():
    (command,) = re.findall(r"^    (.*&& \.venv/bin/pytest)$", README, re.MULTILINE)
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert command in script


@pytest.mark.parametrize("page", PAGES)
def test_what_a_page_points_to_is_there(page):
    text = (ROOT / page).read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#:]+)\)", text):
        assert (PAGES[page] / target).exists(), target


def test_every_page_of_the_documentation_is_pointed_to():
    """From the README, or from a page that it points to."""
    docs = ROOT / "docs"
    seen, todo = set(), [ROOT / "README.md"]
    while todo:
        page = todo.pop()
        for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text(encoding="utf-8")):
            found = (page.parent / target).resolve()
            if found.suffix == ".md" and found not in seen:
                seen.add(found)
                todo.append(found)
    named = {Path(path).resolve() for path in docs.glob("*.md")}
    missing = sorted(str(path.relative_to(ROOT)) for path in named - seen)
    assert missing == []
