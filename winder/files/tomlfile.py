"""A TOML file of the user's, with the line of every key.

The standard library reads TOML but tells no lines. Here a second, simple pass over the text notes
where each key stands: tables, dotted keys, inline tables, keys inside arrays of tables. It may be
simple because it need not decide what is valid: ``tomllib`` does. On text that ``tomllib`` refuses it still
finds keys said twice, which ``tomllib`` reports at the end of the value and without the first place.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

from winder.errors import Complaint, FileComplaints, UserMistake
from winder.files.nearest import nearest

# A recipe is one page; a megabyte is a file named by mistake.
FILE_BYTES_MAX = 1_000_000

KeyPath = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[^\s\[\]{}=,#\"'.]+")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_VALUE_STUFF = re.compile(r"[^\[\]{},#\"'\n]+")
_AT_LINE = re.compile(r"\(at (?:line (\d+), column \d+|end of document)\)$")


class KeyPlace(NamedTuple):
    """One place where a key or table is named. ``explicit`` is False for the parents of a dotted key."""

    path: KeyPath
    line: int
    explicit: bool


class _KeyScan:
    """Walks the text once and notes keys. Ends quietly where the text stops being TOML."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.places: list[KeyPlace] = []
        self.begun_line = 1  # of the newest key or table
        self.spans: dict[KeyPath, tuple[int, int]] = {}  # of values after their equals sign
        self._line = 1
        self._counted_to = 0
        self._elements: dict[KeyPath, int] = {}

    def run(self) -> list[KeyPlace]:
        table: KeyPath = ()
        while self._skip_blank():
            self.begun_line = self._line_here()
            if self.text[self.at] == "[":
                header = self._header()
                if header is None:
                    break
                table = header
            elif not self._key_and_value(table):
                break
        return self.places

    def _key_and_value(self, table: KeyPath) -> bool:
        if not self._key(table):
            return False
        path, start, whole = self._newest, self.at, self._value()
        self.spans[path] = (start, self.at)
        return whole

    def _line_here(self) -> int:
        self._line += self.text.count("\n", self._counted_to, self.at)
        self._counted_to = self.at
        return self._line

    def _skip_blank(self) -> bool:
        """Moves past white space and comments; False at the end of the text."""
        match = _BLANK.match(self.text, self.at)
        self.at = match.end() if match else self.at
        return self.at < len(self.text)

    def _take(self, mark: str) -> bool:
        if self.text.startswith(mark, self.at):
            self.at += len(mark)
            return True
        return False

    def _dotted(self) -> list[str]:
        """The parts of a key, empty when there is none. Dots and blanks between parts are skipped."""
        parts: list[str] = []
        while True:
            self._skip_spaces()
            if string := _STRING.match(self.text, self.at):
                self.at = string.end()
                parts.append(_unquoted(string[0]))
            elif bare := _BARE_KEY.match(self.text, self.at):
                self.at = bare.end()
                parts.append(bare[0])
            else:
                return []
            self._skip_spaces()
            if not self._take("."):
                return parts

    def _skip_spaces(self) -> None:
        while self.text[self.at : self.at + 1] in (" ", "\t"):
            self.at += 1

    def _note(self, base: KeyPath, parts: list[str], line: int) -> KeyPath:
        """Notes a key and the parents it implies; goes through the newest element of a table array."""
        path = base
        for index, part in enumerate(parts):
            last = index == len(parts) - 1
            path = (*path, part)
            self.places.append(KeyPlace(path, line, explicit=last))
            if not last and path in self._elements:
                path = (*path, self._elements[path])
        return path

    def _header(self) -> KeyPath | None:
        line = self._line_here()
        array = self._take("[[")
        if not array:
            self._take("[")
        parts = self._dotted()
        if not parts or not self._take("]]" if array else "]"):
            return None
        path = self._note((), parts, line)
        if array:
            self.places[-1] = KeyPlace(path, line, explicit=False)
            element = self._elements.get(path, -1) + 1
            self._elements[path] = element
            path = (*path, element)
        return path

    def _key(self, table: KeyPath) -> bool:
        line = self._line_here()
        parts = self._dotted()
        if not parts or not self._take("="):
            return False
        self._newest = self._note(table, parts, line)
        return True

    def _value(self) -> bool:
        """Moves past one value, noting the keys of inline tables that are not inside arrays."""
        # One entry for each open bracket: the path of an inline table, or None for an array.
        open_brackets: list[KeyPath | None] = []
        while True:
            if open_brackets:
                self._skip_blank()
            else:
                self._skip_spaces()
            if self._take("["):
                open_brackets.append(None)
            elif self._take("{"):
                inside_array = None in open_brackets
                open_brackets.append(None if inside_array else self._newest)
                if not self._inline_key(open_brackets):
                    return False
            elif string := _STRING.match(self.text, self.at):
                self.at = string.end()
            elif open_brackets and self._take(","):
                if not self._inline_key(open_brackets):
                    return False
            elif open_brackets and (self._take("]") or self._take("}")):
                open_brackets.pop()
            elif stuff := _VALUE_STUFF.match(self.text, self.at):
                self.at = stuff.end()
            else:  # a comment or the end of the line, or something that is not TOML
                return not open_brackets and self.text[self.at : self.at + 1] in ("", "#", "\n")

    def _inline_key(self, open_brackets: list[KeyPath | None]) -> bool:
        """Reads the key that must follow ``{`` or a comma inside an inline table."""
        table = open_brackets[-1]
        self._skip_blank()
        if table is None or self.text[self.at : self.at + 1] == "}":
            return True
        return self._key(table)


def _unquoted(string: str) -> str:
    """A quoted key's text; escapes are resolved by the same reader that read the file."""
    try:
        return str(tomllib.loads(f"key = {string}")["key"])
    except tomllib.TOMLDecodeError:
        return string[1:-1]


def key_places(text: str) -> list[KeyPlace]:
    """Every key and table named in the text, in order, as far as it is TOML. Lines count from 1."""
    return _KeyScan(text).run()


def value_spans(text: str) -> dict[KeyPath, tuple[int, int]]:
    """Where the value of each key stands, blanks around it included; not those of inline tables."""
    (scan := _KeyScan(text)).run()
    return scan.spans


@dataclass(frozen=True)
class TomlFile:
    """What a file says, and where. ``name`` is the file as messages call it."""

    name: str
    text: str
    values: dict[str, Any]

    @cached_property
    def _lines(self) -> dict[KeyPath, int]:
        lines: dict[KeyPath, int] = {}
        for place in key_places(self.text):
            if place.explicit or place.path not in lines:
                lines[place.path] = place.line
        return lines

    def line_of(self, path: KeyPath) -> int:
        """The line of a key, or of the nearest table above it; 0 when the file names neither."""
        while path:
            if path in self._lines:
                return self._lines[path]
            path = path[:-1]
        return 0


def read_toml(path: Path | str) -> TomlFile:
    """Reads a file. Raises ``UserMistake`` when it cannot, ``FileComplaints`` when it is not TOML."""
    name = str(path)
    try:
        data = _bytes_of(path)
    except FileNotFoundError:
        raise UserMistake(
            "there is no such file", where=name, remedy=_remedy_for_absent(Path(path))
        ) from None
    except IsADirectoryError:
        raise UserMistake(
            "this is a directory", where=name, remedy="name a file inside it"
        ) from None
    except PermissionError:
        raise UserMistake(
            "you do not have permission to read this file",
            where=name,
            remedy="change its permissions or copy it to a place of your own",
        ) from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        reason = getattr(error, "strerror", None) or str(error)
        raise UserMistake(
            f"this file cannot be read ({reason})", where=name, remedy="name another file"
        ) from None
    if len(data) > FILE_BYTES_MAX:
        raise UserMistake(
            "this file is larger than 1 MB",
            where=name,
            remedy="this cannot be the file you mean; name another",
        )
    try:
        # Some editors put a byte order mark in front; it means nothing here.
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        complaint = Complaint(
            line=data.count(b"\n", 0, error.start) + 1,
            field="text",
            what="this line is not UTF-8 text",
            remedy="save the file as UTF-8 in your editor",
        )
        raise FileComplaints(name, [complaint]) from None
    return read_toml_text(text, name)


def _bytes_of(path: Path | str) -> bytes:
    """What a file holds, and one byte more than it may. Never waits: a pipe nobody writes to is no file.

    Raises ``OSError`` or ``ValueError``, and ``UserMistake`` for what is no regular file.
    """
    with open(path, "rb", opener=_open_without_waiting) as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise UserMistake(
                "this is not a file with text in it but a pipe or a device",
                where=str(path),
                remedy="name a file",
            )
        return file.read(FILE_BYTES_MAX + 1)


def _open_without_waiting(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def read_toml_text(text: str, name: str) -> TomlFile:
    """Reads text that came from the file ``name``. Raises ``FileComplaints`` when it is not TOML."""
    try:
        values = tomllib.loads(text)
    except RecursionError:
        line = _line_with_most(text, re.compile(r"[\[{]"))
        complaint = Complaint(
            line, "text", "brackets are nested too deeply", "take out what does not belong here"
        )
        raise FileComplaints(name, [complaint]) from None
    except tomllib.TOMLDecodeError as error:
        raise FileComplaints(name, _syntax_complaints(text, str(error))) from None
    except ValueError:  # a whole number of more digits than the interpreter will turn into one
        line = _line_with_most(text, re.compile("[0-9]"))
        complaint = Complaint(line, "text", "a number is far too long", "write a shorter number")
        raise FileComplaints(name, [complaint]) from None
    return TomlFile(name, text, values)


def _line_with_most(text: str, marks: re.Pattern[str]) -> int:
    counts = [len(marks.findall(line)) for line in text.split("\n")]
    return counts.index(max(counts)) + 1


def _remedy_for_absent(path: Path) -> str:
    try:
        beside = [entry.name for entry in path.parent.iterdir()]
    except OSError:
        return "check the spelling of the directory"
    near = nearest(path.name, beside)
    return f"did you mean {path.with_name(near)}?" if near else "check the spelling"


def _syntax_complaints(text: str, message: str) -> list[Complaint]:
    """Keys said twice, each with its first place, and the one spot where the reader gave up."""
    twice = _said_twice(text)
    if twice and message.startswith(("Cannot", "Duplicate")):
        return twice  # the reader gave up on just that
    lines = text.split("\n")
    match = _AT_LINE.search(message)
    # When the text ended too early, what was begun last never ended.
    line = int(match[1]) if match and match[1] else _last_begun_line(text)
    content = lines[line - 1].strip()
    key, equals, value = (part.strip() for part in content.partition("="))
    field = _field_at(lines, line, key) if equals else "text"
    reason = _AT_LINE.sub("", message).strip().replace("\n", "\\n") or "unreadable"
    what = f"this is not TOML ({reason})"
    return [*twice, Complaint(line, field, what, _syntax_remedy(content, key, value))]


def _last_begun_line(text: str) -> int:
    scan = _KeyScan(text)
    scan.run()
    return scan.begun_line


def _said_twice(text: str) -> list[Complaint]:
    first: dict[KeyPath, int] = {}
    complaints = []
    for place in key_places(text):
        if not place.explicit:
            continue
        if place.path in first:
            what = f"this was said before on line {first[place.path]}"
            field = dotted(place.path)
            complaints.append(Complaint(place.line, field, what, "keep one of the two"))
        first.setdefault(place.path, place.line)
    return complaints


def dotted(path: KeyPath) -> str:
    """A key as messages name it: ``bobbin.width``. Shortened, and safe to print on a terminal."""
    name = ".".join(map(str, path))
    name = name if len(name) <= 60 else name[:57] + "..."
    return name if name.isprintable() else ascii(name)


def _field_at(lines: list[str], line: int, key: str) -> str:
    """The full name of the key on a line the reader gave up at, by the last table header above it."""
    table: KeyPath = ()
    for above in reversed(lines[: line - 1]):
        if header := re.fullmatch(r"\s*\[([^\[\]]+)\]\s*(?:#.*)?", above):
            table = tuple(part.strip(" \"'") for part in header[1].split("."))
            break
    return dotted((*table, key)) if key else "text"


def _syntax_remedy(content: str, key: str, value: str) -> str:
    """What to write instead of the line the reader gave up at."""
    if content.startswith("["):
        return "write a section's name in brackets on a line of its own, like [bobbin]"
    if not value:
        return 'write key = value, with words and quantities in double quotes: width = "9.5 mm"'
    closed = value[:1] in "\"'" and len(value) > 1 and value[-1] == value[0]
    if value[:1] in "\"'" and not closed:
        return "check that the quotes are closed; a comment begins with #"
    if value[0] not in "\"'[{" and re.fullmatch(r"[A-Za-z0-9_. -]{1,60}", key):
        plain = re.sub(r"[\"'\\]|[^\x20-\x7e]", "", value.partition("#")[0]).strip()[:40]
        plain = re.sub(r"([0-9]),([0-9]{1,2})(?![0-9])", r"\1.\2", plain)
        return f'put words and quantities in double quotes: {key} = "{plain}"'
    return "check that every quote and bracket on this line is closed"
