"""Text from outside, made harmless.

Names of recipes, notes, port names and messages of errors are all hostile: a square bracket is
markup to the toolkit and a control character moves the terminal's cursor. ``plain_text`` leaves only
what can be printed, ``plain`` wraps it so that no markup is ever read from it. Every text that
reaches the screen goes through one of the two; a house test looks for raw strings.
"""

from __future__ import annotations

from textual.content import Content


def plain_text(text: str) -> str:
    """``text`` on one line: blanks for white space, a question mark for what cannot be printed."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else " " if sign.isspace() else "?" for sign in text)


def plain(text: str) -> Content:
    """Content for a widget: line by line harmless, and never markup."""
    return Content("\n".join(plain_text(line) for line in text.split("\n")))
