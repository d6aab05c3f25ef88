"""Reading one file by its fields, and writing the pages about them.

Reading never stops at the first fault: a ``Form`` collects complaints, each with its line and
remedy, and raises them together at the end. A field that was wrong or absent reads as None, and
checks that need it are skipped, so that one slip gives one complaint. The template for a new file
and the tables of the reference page are written from the same fields.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from winder.errors import Complaint, FileComplaints
from winder.files.fields import Field, FieldFault, Section, type_name
from winder.files.nearest import nearest
from winder.files.tomlfile import KeyPath, TomlFile, dotted


class Form:
    """One file read by one format's fields; collects what is wrong."""

    def __init__(self, file: TomlFile, sections: Sequence[Section]) -> None:
        self.file = file
        self.sections = sections
        self.fields = {field.path: field for section in sections for field in section.fields}
        self.complaints: list[Complaint] = []
        self._meant: set[str] = set()  # fields that a misspelt key was probably meant for
        self._broken: set[str] = set()  # sections that are absent or no sections
        self._read: set[str] = set()
        for section in sections:
            self._look_at(section)

    def _raw(self, path: str) -> Any:
        section, _, key = path.rpartition(".")
        table = self.file.values.get(section) if section else self.file.values
        return table.get(key) if isinstance(table, dict) else None

    def given(self, path: str) -> bool:
        """Whether the file says anything for this field, right or wrong."""
        return self._raw(path) is not None or path in self._meant

    def text(self, path: str) -> str:
        """What the file says for this field when that is text, unread; else nothing."""
        raw = self._raw(path)
        return raw if isinstance(raw, str) else ""

    def value(self, path: str) -> Any:
        """The field's value; None when it is absent or wrong, with a complaint where one is due."""
        field = self.fields[path]
        raw = self._raw(path)
        if raw is None:
            if field.needed:
                self.miss(path)
            return None
        assert path not in self._read, "each field is read once, or its complaint comes twice"
        self._read.add(path)
        try:
            return field.kind.read(field.key, raw)
        except FieldFault as fault:
            self.complain(path, fault.what, fault.remedy)
            return None

    def filled(self, section: str) -> dict[str, Any]:
        """The values of a section whose fields say what they fill, by those names; absent ones are left out."""
        found = {}
        for field in self.fields.values():
            if field.fills and field.section == section:
                value = self.value(field.path)
                if value is not None:
                    found[field.fills] = value
        return found

    def miss(self, path: str, why: str = "this is missing") -> None:
        """Complains that a field is not there, unless that follows from another complaint."""
        field = self.fields[path]
        if field.section in self._broken or path in self._meant:
            return
        below = f" under [{field.section}]" if field.section else ""
        self.complain(path, why, f"add {field.key} = {field.example}{below}")

    def complain(self, path: str, what: str, remedy: str) -> None:
        key_path: KeyPath = tuple(path.split("."))
        self.complaints.append(Complaint(self.file.line_of(key_path), path, what, remedy))

    def finish(self) -> None:
        """Raises ``FileComplaints`` with everything collected, if anything was."""
        if self.complaints:
            raise FileComplaints(self.file.name, self.complaints)

    def _look_at(self, section: Section) -> None:
        table = self.file.values.get(section.name) if section.name else self.file.values
        if table is None:
            self._broken.add(section.name)
            if section.needed and not self._misspelt_section(section.name):
                keys = ", ".join(field.key for field in section.fields if field.needed)
                remedy = f"add [{section.name}]" + (f" with {keys}" if keys else "")
                self.complain(section.name, "this section is missing", remedy)
            return
        if not isinstance(table, dict):
            self._broken.add(section.name)
            what = f"this is {type_name(table)} where a section is needed"
            self.complain(section.name, what, f"write [{section.name}] on a line of its own")
            return
        known = {field.key for field in section.fields}
        for key in table:
            if key not in known and (section.name or key not in self._section_names()):
                self._refuse_key(section, key, isinstance(table[key], dict))

    def _section_names(self) -> list[str]:
        return [section.name for section in self.sections if section.name]

    def _misspelt_section(self, name: str) -> bool:
        """Whether a table of the file is probably this section under a wrong name."""
        tables = [key for key, value in self.file.values.items() if isinstance(value, dict)]
        strange = [key for key in tables if key not in self._section_names()]
        return any(_near(key, self._section_names()) == name for key in strange)

    def _refuse_key(self, section: Section, key: str, is_table: bool) -> None:
        """Complains of a key that is not in the format, with the nearest one that is."""
        path: KeyPath = (section.name, key) if section.name else (key,)
        names = [field.key for field in section.fields]
        elsewhere = [field for field in self.fields.values() if field.key == key]
        kind = "section" if is_table else "key"
        if is_table and not section.name:
            near = _near(key, self._section_names())
            remedy = f"did you mean [{near}]?" if near else self._list_sections()
        elif near := _near(key, names):
            self._meant.add(f"{section.name}.{near}" if section.name else near)
            remedy = f"did you mean {near}?"
        elif elsewhere:
            self._meant.add(elsewhere[0].path)
            place = f"under [{elsewhere[0].section}]" if elsewhere[0].section else "at the top"
            remedy = f"write it {place}"
        else:
            remedy = f"take it out; known here: {', '.join(names)}"
        line = self.file.line_of(path)
        what = f"there is no such {kind}"
        self.complaints.append(Complaint(line, dotted(path), what, remedy))

    def _list_sections(self) -> str:
        return "take it out; sections are " + ", ".join(
            f"[{name}]" for name in self._section_names()
        )


def _near(word: str, known: Sequence[str]) -> str | None:
    """The known word that was probably meant: the same parts in another order, or a few letters off."""
    plain = word.lower().replace("-", "_").replace(" ", "_")
    for other in known:
        if sorted(plain.split("_")) == sorted(other.split("_")):
            return other
    return nearest(plain, known)


def template_text(
    sections: Sequence[Section], opening: str, values: Mapping[str, str] | None = None
) -> str:
    """A file that uses every field: its meaning as a comment, its example as the value.

    Fields that are alternatives or may be left out stand there commented out. ``values`` are TOML
    values, by path, to write in place of examples.
    """
    parts = [_comment(opening)]
    for section in sections:
        lines = [_comment(section.means)]
        if section.name:
            lines.append(f"[{section.name}]")
        for field in section.fields:
            when = f" {field.when}" if field.when else ""
            lines.append(_comment(f"{field.means}{when} ({field.kind.words})"))
            value = (values or {}).get(field.path, field.example)
            lines.append(f"{'' if field.in_template else '# '}{field.key} = {value}")
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"


def toml_string(text: str, otherwise: str) -> str:
    """A TOML basic string of at most 80 characters; what cannot be printed is left out."""
    plain = "".join(character for character in text if character.isprintable())[:80].strip()
    plain = plain.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{plain or otherwise}"'


def _comment(text: str) -> str:
    return textwrap.fill(text, 90, initial_indent="# ", subsequent_indent="# ")


def tables_text(sections: Sequence[Section]) -> str:
    """The reference tables in Markdown, one for each section."""
    parts = []
    for section in sections:
        title = f"[{section.name}]" if section.name else "Before any section"
        rows = ["| key | value | needed | meaning |", "|---|---|---|---|"]
        rows += [_table_row(field) for field in section.fields]
        parts.append("\n".join([f"## {title}", "", section.means, "", *rows]))
    return "\n\n".join(parts) + "\n"


def _table_row(field: Field) -> str:
    needed = "always" if field.needed else field.when or "no"
    example = f"`{field.key} = {field.example}`"
    return f"| `{field.key}` | {field.kind.words} | {needed} | {field.means} {example} |"
