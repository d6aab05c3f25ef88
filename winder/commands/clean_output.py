"""What is printed cannot steer the terminal.

File names, arguments, board names and texts of the system are hostile: an escape character in one of
them moves the cursor, colours the screen or forges a line. Everything this program prints goes through
one place, the stream, where every control character becomes a question mark. Only the library that draws
our tables and bars writes past it (it looks for ``rich_proxied_file``); it is given texts that were
cleaned before.
"""

from __future__ import annotations

import re
import sys
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, TextIO, cast

_LAYOUT = "\n\t"
_PARTS = re.compile(f"([{_LAYOUT}])")


def clean(text: str) -> str:
    """The text with everything that could steer a terminal replaced, line ends and tabs kept."""
    if text.isprintable():
        return text
    return "".join(
        part if part.isprintable() else "".join(char if _harmless(char) else "?" for char in part)
        for part in _PARTS.split(text)
    )


def one_line(text: object) -> str:
    """Text from outside within a line of ours: it can forge no line of its own."""
    return clean(str(text).translate({ord(char): "?" for char in _LAYOUT}))


def _harmless(char: str) -> bool:
    # The thin and the hard blank are not "printable" but do no harm.
    return char.isprintable() or char in _LAYOUT or unicodedata.category(char) == "Zs"


class CleanStream:
    """A text stream that cleans what is written; all else is the stream's own."""

    def __init__(self, stream: TextIO) -> None:
        self.rich_proxied_file = stream

    def write(self, text: str) -> int:
        stream = self.rich_proxied_file
        shown = clean(text)
        encoding = getattr(stream, "encoding", None)
        if encoding:  # what the terminal has no letter for is no reason to end
            shown = shown.encode(encoding, "replace").decode(encoding)
        stream.write(shown)
        return len(text)

    def writelines(self, lines: list[str]) -> None:
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.rich_proxied_file, name)


@contextmanager
def clean_output() -> Iterator[None]:
    """While inside, standard output and standard error are cleaned."""
    before = sys.stdout, sys.stderr
    # A program that is started without a standard stream has None in its place.
    cleaned = [stream and CleanStream(stream) for stream in before]
    sys.stdout, sys.stderr = cast(list[TextIO], cleaned)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before
