"""The reference page of the command line, written from the parsers.

``python -m tests.pages.command_page`` writes it, ``--check`` compares.
"""

from __future__ import annotations

import sys

from tests.pages.reference_page import DOCS, main
from winder.commands.main import build_parser
from winder.commands.old_spellings import OLD_SPELLINGS
from winder.commands.verb_tree import Verb, Word, every_verb

BAR = "\\|"  # in a cell of a table
PAGE = DOCS / "commands.md"
OPENING = """\
# The command line

Written from the code by `python -m tests.pages.command_page`; change it there.

Every verb with its options, as `--help` shows them. `source <(winder --completion bash)` lets the shell
finish what you type (also `zsh`; for fish: `winder --completion fish | source`).
"""


def page_text() -> str:
    """The whole page in Markdown."""
    parts = [OPENING]
    for verb in every_verb(build_parser()):
        parts.append("\n".join(_section(verb)))
    old = [
        f"| `winder {' '.join(words)}` | `winder {new}` |" for words, new in OLD_SPELLINGS.items()
    ]
    parts.append(
        "\n".join(
            [
                "## Old spellings",
                "",
                "They do nothing but name the new one.",
                "",
                "| before | now |",
                "|---|---|",
                *old,
                "",
            ]
        )
    )
    return "\n".join(parts)


def _section(verb: Verb) -> list[str]:
    lines = [f"## `{' '.join(('winder', *verb.path))}`", "", "```text"]
    lines += [verb.description, *(["", verb.epilog] if verb.epilog else []), "```", ""]
    told = [word for word in verb.words if "--help" not in word.names]
    if told:
        lines += ["| | |", "|---|---|", *(_row(word) for word in told), ""]
    return lines


def _row(word: Word) -> str:
    if not word.names:
        typed = word.value if word.needed else f"[{word.value}]"
    else:
        typed = ", ".join(word.names) + (f" {word.value}" if word.value else "")
        typed += " (needed)" if word.needed else ""
    means = " ".join(word.means.split())
    return f"| `{typed.replace('|', BAR)}` | {means.replace('|', BAR)} |"


if __name__ == "__main__":
    sys.exit(main(PAGE, page_text()))
