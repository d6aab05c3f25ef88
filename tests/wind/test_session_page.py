"""The page lists every way in which the count stops being exact: every reason that the source can give is there."""

from __future__ import annotations

import ast
from pathlib import Path

from tests.pages import session_page
from winder.wind import account, watch

ROOM = Path(account.__file__).parent
DOUBTING = {"Doubt", "_widen"}  # calls whose reason is shown


def _texts(node: ast.expr, names: dict[str, str]) -> list[str]:
    """The texts that an expression can be, without the parts that are put in."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.Name):
        return [names[node.id]] if node.id in names else []
    if isinstance(node, ast.JoinedStr):
        parts = [part.value for part in node.values if isinstance(part, ast.Constant)]
        return [max((str(part) for part in parts), key=len)]
    return []


def reasons() -> set[str]:
    """Every reason handed to a doubt or to a widening, through constants and f-strings."""
    found: set[str] = set()
    constants: dict[str, str] = {}
    trees = {path.name: ast.parse(path.read_text(encoding="utf-8")) for path in ROOM.glob("*.py")}
    for tree in trees.values():
        for node in tree.body:
            if isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant):
                constants |= {
                    t.id: str(node.value.value) for t in node.targets if isinstance(t, ast.Name)
                }
    for tree in trees.values():
        for node in ast.walk(tree):
            if isinstance(node, ast.Assign | ast.AnnAssign) and "why" in ast.unparse(node)[:12]:
                found.update(_texts(node.value, constants) if node.value else ())
            if isinstance(node, ast.Call):
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                if name in DOUBTING or name == "_doubt":
                    for argument in node.args:
                        found.update(_texts(argument, constants))
    return {text.strip() for text in found if len(text) > 12}


def test_every_reason_for_doubt_is_on_the_page():
    told = reasons()
    assert {account.RAN_ON, account.LOST_COMMITS, watch.IMPLAUSIBLE} <= told, "the search is lost"
    assert len(told) >= 14
    text = " ".join(session_page.page().split())
    for way in ("jumped", "fell", "stood"):
        assert f"the board's count {way} as no spindle can" in text
    assert not sorted(reason for reason in told if reason not in text)


def test_every_reason_for_vouching_is_on_the_page():
    text = " ".join(session_page.page().split())
    for why in (account.TURNED_BY_HAND, account.TAKEN_OFF, account.UNMOVED):
        assert why in text


def test_every_alarm_is_on_the_page():
    """Whatever the watch can return as an alarm is a constant of its room."""
    tree = ast.parse((ROOM / "watch.py").read_text(encoding="utf-8"))
    given = {
        node.value.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Return)
        and isinstance(node.value, ast.Name)
        and node.value.id.isupper()
    }
    given |= {"UNASKED", "CLOCK_STANDS"}
    assert {getattr(watch, name) for name in given} == set(session_page.ALARMS)
