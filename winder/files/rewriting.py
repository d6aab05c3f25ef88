"""One key of a file the user wrote, set or taken out, and everything else left as it stands.

Comments, order and spacing stay. A key that is taken out is turned into a comment, so that nothing a person wrote
is lost, and one that stands there as a comment is used again. Whatever was done is looked at afterwards: if the
text then says anything else than was asked for, nothing is changed and the person is told.
"""

from __future__ import annotations

import copy
import re
import tomllib
from typing import Any

from winder.errors import UserMistake
from winder.files.tomlfile import KeyPath, key_places, value_spans


def with_value(text: str, path: str, value: str) -> str:
    """The text with ``path`` (``section.key`` or ``key``) set to a TOML value.

    ``UserMistake`` where the file is written in a way that this cannot change. The text must be TOML.
    """
    wanted = _values(text)
    section, key = _parts(path)
    _table(wanted, section)[key] = tomllib.loads(f"v = {value}")["v"]
    return _looked_at(_written(text, path, value), wanted, path)


def without(text: str, path: str) -> str:
    """The text with a key turned into a comment; the same text where the key is not there. Raises as above."""
    wanted = _values(text)
    section, key = _parts(path)
    _table(wanted, section).pop(key, None)
    span = value_spans(text).get(_key_path(path))
    if span is None:
        return _looked_at(text, wanted, path)
    start = text.rfind("\n", 0, span[0]) + 1
    end = _line_end(text, span[1])
    lines = text[start:end].split("\n")
    commented = "\n".join(f"# {line}" for line in lines)
    return _looked_at(text[:start] + commented + text[end:], wanted, path)


def _written(text: str, path: str, value: str) -> str:
    span = value_spans(text).get(_key_path(path))
    if span is not None:
        return _replaced(text, span, value)
    section, key = _parts(path)
    begin, end = _section_span(text, section)
    if begin is None:
        gap = "" if not text or text.endswith("\n\n") else "\n" if text.endswith("\n") else "\n\n"
        return f"{text}{gap}[{section}]\n{key} = {value}\n"
    asleep = re.compile(rf"^# ({re.escape(key)} = [^\r\n]*)", re.MULTILINE).search(text, begin, end)
    if asleep and (slept := value_spans(asleep[1]).get((key,))):
        return text[: asleep.start()] + _replaced(asleep[1], slept, value) + text[asleep.end() :]
    place = _after_the_last_key(text, section, begin)
    before = "" if place == 0 or text[place - 1] == "\n" else "\n"
    return f"{text[:place]}{before}{key} = {value}\n{text[place:]}"


def _replaced(text: str, span: tuple[int, int], value: str) -> str:
    """The new value in the old one's place; a comment beside it stays in its column where there is room."""
    old = text[span[0] : span[1]]
    lead = old[: len(old) - len(old.lstrip())]
    tail = old[len(old.rstrip()) :]
    if tail and text[span[1] : span[1] + 1] == "#":
        tail = " " * max(1, len(old) - len(lead) - len(value))
    return f"{text[: span[0]]}{lead}{value}{tail}{text[span[1] :]}"


def _section_span(text: str, section: str) -> tuple[int | None, int]:
    """From behind the section's header to the next one or the end; None where there is no such section."""
    headers = list(re.finditer(r"^[ \t]*\[+([^\[\]\n]+)\]+[^\n]*\n?", text, re.MULTILINE))
    bounds = [(header[1].strip(), header.start(), header.end()) for header in headers]
    begins: int | None = 0 if not section else None
    for name, start, end in bounds:
        if begins is not None:
            return begins, start
        if name == section:
            begins = end
    return begins, len(text)


def _after_the_last_key(text: str, section: str, begin: int) -> int:
    """Behind the line of the last key of a section; behind its header where it has none."""
    spans = [
        span
        for path, span in value_spans(text).items()
        if (path[0] == section and len(path) > 1 if section else len(path) == 1)
    ]
    if not spans:
        return begin
    end = _line_end(text, max(end for _, end in spans))
    return end + 1 if end < len(text) else end


def _line_end(text: str, place: int) -> int:
    found = text.find("\n", place)
    return len(text) if found < 0 else found


def _looked_at(text: str, wanted: dict[str, Any], path: str) -> str:
    """The text, if it says what was wanted and nothing else."""
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        found = None
    if found is None or _full(found) != _full(wanted):
        line = next((place.line for place in key_places(text) if place.path == _key_path(path)), 0)
        raise UserMistake(
            "this is written in a way that this program cannot change",
            where=f"line {line}, {path}" if line else path,
            remedy="change it in your editor",
        )
    return text


def _table(values: dict[str, Any], section: str) -> dict[str, Any]:
    """The section's keys and values, to be changed; the file's own where it has no name."""
    table = values.setdefault(section, {}) if section else values
    if not isinstance(table, dict):
        raise UserMistake(
            "this is a value where a section is needed",
            where=section,
            remedy="change it in your editor",
        )
    return table


def _full(values: dict[str, Any]) -> dict[str, Any]:
    """Without empty sections, which say nothing."""
    return {name: value for name, value in values.items() if value != {}}


def _values(text: str) -> dict[str, Any]:
    return copy.deepcopy(tomllib.loads(text))


def _parts(path: str) -> tuple[str, str]:
    section, _, key = path.rpartition(".")
    return section, key


def _key_path(path: str) -> KeyPath:
    return tuple(path.split("."))
