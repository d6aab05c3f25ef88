"""Tables of the shelf as plain text: what comes from files and boards is never read as markup.

Control characters are left out; in a narrow terminal texts go on in the next line, numbers stay whole.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text


def plain_console() -> Console:
    from rich.console import Console

    # Nothing printed here is markup, and numbers need no colours of their own.
    return Console(markup=False, highlight=False, emoji=False)


def plain_table(*columns: str) -> Table:
    from rich import box
    from rich.table import Table

    table = Table(box=box.SIMPLE, pad_edge=False, padding=(0, 1, 0, 0), show_edge=False)
    for column in columns:
        # In a narrow terminal texts go on in the next line; numbers and words stay whole.
        whole = column not in ("name", "turns", "text", "kind") and not column.startswith("number")
        justify: Any = "right" if column in ("no.", "line", "turn", "wanted") else "left"
        least = len("between") if column == "turns" else None
        table.add_column(column, justify=justify, no_wrap=whole, overflow="fold", min_width=least)
    return table


def plain_text(text: str, keep_lines: bool = False) -> Text:
    """Text from outside as it is, without control characters."""
    from rich.text import Text

    kept = "\n" if keep_lines else ""
    return Text("".join(c if c.isprintable() or c in kept else " " for c in text))
