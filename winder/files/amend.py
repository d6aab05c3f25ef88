"""Setting one key in the text of a TOML file; every other line, comments and all, stays as it was."""

from __future__ import annotations

import re
import tomllib

from winder.files.tomlfile import key_places

_HEADER = re.compile(r"\s*\[([^\[\]]+)\]\s*(?:#.*)?$")
_COMMENT_AFTER = re.compile(r"(?:\"[^\"\n]*\"|'[^'\n]*'|[^#\n\"'])*?(\s*#.*)?$")


def amended(text: str, path: str, value: str) -> str:
    """The text with ``section.key`` (or ``key`` at the top) set to this TOML value of one line.

    A key that is there gets the value and keeps the comment beside it; a new one goes below the last line that its section
    uses; a new section goes to the end. The text must be TOML, and the value one that fits on a line.
    """
    section, _, key = path.rpartition(".")
    assert tomllib.loads(f"value = {value}") and "\n" not in value
    lines = text.split("\n")
    wanted = (section, key) if section else (key,)
    for place in key_places(text):
        if place.path == wanted:
            lines[place.line - 1] = _with_value(lines[place.line - 1], value)
            return "\n".join(lines)
    new = f"{key} = {value}"
    begun = _section_line(lines, section)
    if begun is None:
        end = "" if text.endswith("\n") or not text else "\n"
        return f"{text}{end}\n[{section}]\n{new}\n"
    last = begun
    for number in range(begun + 1, len(lines)):
        if _HEADER.match(lines[number]) or lines[number].lstrip().startswith("[["):
            break
        if lines[number].strip() and not lines[number].lstrip().startswith("#"):
            last = number
    lines.insert(last + 1, new)
    return "\n".join(lines)


def _section_line(lines: list[str], section: str) -> int | None:
    """The line of a section's header; before the first line where there is no section's name."""
    if not section:
        return -1
    for number, line in enumerate(lines):
        if (header := _HEADER.match(line)) and header[1].strip() == section:
            return number
    return None


def _with_value(line: str, value: str) -> str:
    """A line of one key with another value. A value over more lines than one is not changed by this."""
    before, _, after = line.partition("=")
    comment = _COMMENT_AFTER.match(after)
    kept = comment[1] if comment and comment[1] else ""
    return f"{before.rstrip()} = {value}{kept}"
