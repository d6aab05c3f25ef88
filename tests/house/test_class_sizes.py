"""The wind is composed of small parts: no class of it has many attributes, nothing takes many parameters.

A class that has grown is split into parts with a state of their own; parameters that belong together become a value.
"""

from __future__ import annotations

import ast

import pytest
from source_tree import ROOT, python_files

ATTRIBUTES_MAX = 20
PARAMETERS_MAX = 12
FILES = python_files("winder/wind")


def attributes(node: ast.ClassDef) -> set[str]:
    """Fields of the body that say their type, and whatever a method assigns on ``self``."""
    found = {
        part.target.id
        for part in node.body
        if isinstance(part, ast.AnnAssign) and isinstance(part.target, ast.Name)
    }
    for part in ast.walk(node):
        targets: list[ast.expr] = []
        if isinstance(part, ast.Assign):
            targets = part.targets
        elif isinstance(part, ast.AnnAssign | ast.AugAssign):
            targets = [part.target]
        for target in targets:
            for one in ast.walk(target):
                owner = getattr(one, "value", None)
                if (
                    isinstance(one, ast.Attribute)
                    and isinstance(owner, ast.Name)
                    and owner.id == "self"
                ):
                    found.add(one.attr)
    return found


def parameters(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    said = node.args
    names = [one.arg for one in (*said.posonlyargs, *said.args, *said.kwonlyargs)]
    return len([name for name in names if name not in ("self", "cls")])


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_part_of_the_wind_has_grown(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ClassDef):
            found = attributes(node)
            assert len(found) <= ATTRIBUTES_MAX, f"{node.name}: {sorted(found)}"
            fields = [part for part in node.body if isinstance(part, ast.AnnAssign)]
            assert not node.decorator_list or len(fields) <= ATTRIBUTES_MAX
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert parameters(node) <= PARAMETERS_MAX, node.name


def test_the_measure_sees_what_it_measures():
    lines = ["class Grown:", "    field: int = 0", "    def __init__(self, a, *, b):"]
    lines += [f"        self.a{number} = {number}" for number in range(30)]
    lines += ["        self.left, (self.right, _) = 1, (2, 3)", "        self.a0 += 1"]
    (grown,) = ast.parse("\n".join(lines)).body
    assert isinstance(grown, ast.ClassDef)
    assert attributes(grown) == {"field", "left", "right", *(f"a{number}" for number in range(30))}
    (init,) = [part for part in grown.body if isinstance(part, ast.FunctionDef)]
    assert parameters(init) == 2
