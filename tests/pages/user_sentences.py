"""Every sentence that a person can meet, read from the source: how many there are, how long, and the longest.

``python -m tests.pages.user_sentences`` prints the figures; ``--all`` prints every sentence with its file and line, to
be read through in one sitting. A sentence is a string literal of four words or more that is no docstring, cut at full
stops; what stands in braces counts as one word. Pages are read by the paragraph, without their code and tables.
"""

from __future__ import annotations

import ast
import re
import statistics
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGES = (
    "README.md",
    "docs/bench.md",
    "docs/first_coil.md",
    "docs/build_a_board.md",
    "docs/firmware.md",
)
WORDS_LEAST = 4
# A sentence may begin with a quote, a word to type or a link; links in a row are said one by one.
SENTENCE_END = r"""(?<=[.!?])\s+(?=[A-Z{'"`*\[])|(?<=[.!?]\*\*)\s+| · """
PLACE = "{}"  # what is filled in when it is said
NOT_SAID = re.compile(
    r"^\s*[.#]?\w[\w #.>,:-]*\{|SELECT |CREATE |INSERT |UPDATE |DELETE |PRAGMA |ALTER |#include|##",
    re.S,
)


@dataclass(frozen=True, slots=True)
class Sentence:
    """Where it is written and how it reads."""

    place: str
    text: str

    @property
    def words(self) -> int:
        return len(self.text.split())


def user_strings(root: Path = ROOT) -> Iterator[tuple[str, str]]:
    """Place and text of every string in ``winder`` that can be read as words."""
    for path in sorted((root / "winder").rglob("*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        skipped = _never_said(tree)
        for node in ast.walk(tree):
            if id(node) in skipped:
                continue
            text = _text(node)
            if text and len(text.split()) >= WORDS_LEAST and not NOT_SAID.search(text):
                yield f"{path.relative_to(root)}:{node.lineno}", text  # type: ignore[attr-defined]


def page_paragraphs(root: Path = ROOT) -> Iterator[tuple[str, str]]:
    """Place and text of the paragraphs of the pages a winder reads."""
    for name in PAGES:
        text = re.sub(r"```.*?```", "\n\n", (root / name).read_text("utf-8"), flags=re.S)
        for part in re.split(r"\n\s*\n|\n(?=[-*] |\d+\. )", text):
            if part.strip() and not part.lstrip().startswith(("|", "#", "!", "<", "    ")):
                yield name, re.sub(r"^> ", "", part, flags=re.M)


def sentences(parts: Iterator[tuple[str, str]]) -> list[Sentence]:
    found = {}
    for place, text in parts:
        apart = re.sub(
            r"^( .*)$", r"\1\n", text, flags=re.M
        )  # what follows an indented line is new
        for block in re.split(r"\n\s*\n|\n(?= )|\n(?=.*\S {2,}\S)| {2,}", apart):
            for said in re.split(SENTENCE_END, " ".join(block.split())):
                if len(said.split()) >= WORDS_LEAST:
                    found.setdefault(said, Sentence(place, said))
    return list(found.values())


def _text(node: ast.AST) -> str:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(
            str(part.value) if isinstance(part, ast.Constant) else PLACE for part in node.values
        )
    return ""


def _never_said(tree: ast.AST) -> set[int]:
    """Docstrings, parts of f-strings, and style sheets."""
    skipped: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0] if node.body else None
            if isinstance(first, ast.Expr):
                skipped.add(id(first.value))
        elif isinstance(node, ast.JoinedStr):
            skipped.update(id(part) for part in ast.walk(node) if part is not node)
        elif isinstance(node, ast.Assign) and any(
            isinstance(name, ast.Name) and name.id.endswith("CSS") for name in node.targets
        ):
            skipped.update(id(part) for part in ast.walk(node))
    return skipped


def report(found: list[Sentence]) -> str:
    counts = [one.words for one in found]
    longest = sorted(found, key=lambda one: -one.words)[:20]
    lines = [f"{len(found)} sentences, median {statistics.median(counts):g} words, "
             f"{sum(count > 25 for count in counts)} of more than 25"]  # fmt: skip
    return "\n".join([*lines, *(f"{one.words:3}  {one.place}  {one.text}" for one in longest)])


if __name__ == "__main__":
    for name, found in (
        ("strings", sentences(user_strings())),
        ("pages", sentences(page_paragraphs())),
    ):
        print(name)
        if "--all" in sys.argv:
            print("\n".join(f"{one.place}: {one.text}" for one in found))
        else:
            print(report(found))
