"""Did you mean ...?"""

from __future__ import annotations

from collections.abc import Iterable


def nearest(word: str, among: Iterable[str]) -> str | None:
    """The one that was probably meant; None where nothing is like it."""
    import difflib  # only where something is wrong

    return next(iter(difflib.get_close_matches(word, list(among), n=1)), None)
