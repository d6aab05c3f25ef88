"""The house stays tidy: file and function sizes, names, words that do not belong.

The limits are a ratchet: a file that tells more than one story is split, not excused.
"""

from __future__ import annotations

import ast
import re

import pytest
from source_tree import PACKAGES, ROOT, python_files, tracked_files

FILE_LINES_MAX = 400
FUNCTION_LINES_MAX = 60
NAMES_THAT_SAY_NOTHING = {"utils", "helpers", "common", "manager", "misc"}
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE",
    "winder", "firmware_protocol", "tests", "docs",
}  # fmt: skip
ALL = python_files(*PACKAGES, "tests")


@pytest.mark.parametrize("path", ALL, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_file_tells_one_story(path):
    text = path.read_text()
    assert text.count("\n") <= FILE_LINES_MAX
    assert path.stem not in NAMES_THAT_SAY_NOTHING
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            lines = (node.end_lineno or 0) - node.lineno + 1
            assert lines <= FUNCTION_LINES_MAX, f"{node.name}: {lines} lines"


@pytest.mark.parametrize("path", python_files(*PACKAGES), ids=lambda p: str(p.relative_to(ROOT)))
def test_a_module_opens_with_what_it_is(path):
    text = path.read_text()
    if text.strip():
        assert ast.get_docstring(ast.parse(text)), "no module docstring"


@pytest.mark.parametrize("path", python_files("winder"), ids=lambda p: str(p.relative_to(ROOT)))
def test_asserts_are_not_for_users(path):
    """No bare ``except``, no ``print`` outside the commands."""
    tree = ast.parse(path.read_text())
    talks = str(path.relative_to(ROOT)).startswith(
        ("winder/commands/", "winder/screens/running.py")  # the last words after the screen
    )
    for node in ast.walk(tree):
        assert not (isinstance(node, ast.ExceptHandler) and node.type is None), "bare except"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and not talks:
            # ``python -m`` entries of generators print what they did, and say so in ``main``.
            inside_main = any(
                isinstance(parent, ast.FunctionDef)
                and parent.name == "main"
                and parent.lineno <= node.lineno <= (parent.end_lineno or 0)
                for parent in ast.walk(tree)
            )
            assert node.func.id != "print" or inside_main, f"print in line {node.lineno}"


def test_only_the_agreed_top_level():
    top = {name.split("/")[0] for name in tracked_files()}
    assert {name for name in top if not name.startswith(".")} <= TOP_LEVEL


def test_no_file_carries_a_path_of_the_machine_it_was_made_on():
    place = re.compile(r"(?<![\w.])/(?:home|root|work|srv|Users)/[a-z]")
    for name in tracked_files():
        try:
            text = (ROOT / name).read_text()
        except UnicodeDecodeError:
            continue
        found = place.search(text)
        assert not found, f"{name}: {found.group(0)}"


def test_a_key_is_never_called_an_emergency_stop():
    """Where the words stand, the sentence says what is *not* one (ISO 13850)."""
    for path in [*ALL, *ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")]:
        if path.name == "test_tidy.py":
            continue
        for match in re.finditer(r"emergency[ -]stop", path.read_text(), re.IGNORECASE):
            around = path.read_text()[max(0, match.start() - 160) : match.end() + 80]
            assert re.search(r"\bnot\b|\bnever\b|\bno\b|n't\b", around), f"{path.name}: {around}"
