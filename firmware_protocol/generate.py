"""Derives everything that repeats the definition: ``python -m firmware_protocol.generate``.

``messages.py`` (with the device end's tables) is the only place where a kind, a byte, a limit or a
move between states is written down. From it come the C header for the boards and the tables in the
documents, which stand between a line ``<!-- derived: NAME -->`` and ``<!-- end derived -->``.
With ``--check`` nothing is written: every file that no longer agrees is named, and the exit code is 1.
What is derived carries no date and no machine, so the same definition always gives the same bytes.
"""

from __future__ import annotations

import enum
import inspect
import re
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from . import vocabulary
from .c_header import c_header
from .conformance.judging import by_number
from .state_tables import allowed_table, state_picture, state_table, table
from .wire import GROUPS6, I8, I32, REGISTER, TEXT10, U8, U16, U32, FieldLayout, Group

ROOT = Path(__file__).resolve().parent.parent
HEADER = Path("firmware_protocol/firmware/generated/messages.h")
DOCUMENTS = (
    Path("docs/protocol/specification.md"),
    Path("docs/protocol/counting.md"),
    Path("docs/protocol/conformance.md"),
)
_SECTION = re.compile(r"(<!-- derived: ([a-z ]+) -->\n).*?(<!-- end derived -->)", re.DOTALL)
FIELD_KINDS = (U8, I8, U16, U32, I32, TEXT10, GROUPS6)


class StaleDocument(Exception):
    """A document asks for a section that nothing derives."""


def source_remarks() -> dict[str, str]:
    """The remark behind each constant (``LEASE_MS``) and word (``State.STILL``) of the definition."""
    remarks: dict[str, str] = {}
    inside = ""
    for line in inspect.getsource(vocabulary).splitlines():
        if opened := re.match(r"class (\w+)\(enum\.", line):
            inside = opened[1] + "."
        elif found := re.match(r"( *)([A-Z][A-Z0-9_]*) = [^#]*(?:# *(.*))?$", line):
            remarks[(inside if found[1] else "") + found[2]] = (found[3] or "").strip()
    return remarks


def vocabularies() -> Iterator[type[enum.IntEnum] | type[enum.IntFlag]]:
    """Every vocabulary of the definition, in the order in which it is written down."""
    for thing in vars(vocabulary).values():
        if isinstance(thing, type) and issubclass(thing, enum.IntEnum | enum.IntFlag):
            yield thing


def limits() -> dict[str, int]:
    """Every number with a name in the definition."""
    return {name: n for name, n in vars(vocabulary).items() if name.isupper() and type(n) is int}


# --- the documents' tables -------------------------------------------------------------------


def message_tables(groups: Sequence[Group]) -> str:
    """A heading, a sentence and a table of fields for every message of these groups."""
    parts = []
    for kind, layout in sorted(REGISTER.items(), key=lambda item: (item[1].group, item[0])):
        if layout.group not in groups:
            continue
        about = " ".join((inspect.getdoc(layout.cls) or "").split())
        numbered = "numbered" if layout.numbered else "not numbered"
        parts.append(
            f"#### {layout.cls.__name__}, kind 0x{kind:02x}\n\n{about}\n\n"
            f"Group {layout.group.name}, sent by the {layout.sender.value}, {numbered}, "
            f"{layout.size} bytes of payload.\n"
        )
        if layout.fields:
            rows = [
                (index, f.offset, f"`{f.name}`", f.kind.name, f.unit, field_meaning(f))
                for index, f in enumerate(layout.fields)
            ]
            parts.append(table(("index", "at", "field", "written as", "unit", "meaning"), rows))
    return "\n".join(parts)


def field_meaning(field: FieldLayout) -> str:
    """What a field says, with a link to its vocabulary."""
    words = field.vocabulary or field.bits
    link = f"[{words.__name__}](specification.md#{words.__name__.lower()})" if words else ""
    return ": ".join(part for part in (field.text, link) if part)


def kind_table() -> str:
    """All kinds on one page."""
    rows = [
        (
            f"0x{kind:02x}",
            layout.cls.__name__,
            layout.group.name,
            layout.sender.value,
            "yes" if layout.numbered else "no",
            layout.size,
        )
        for kind, layout in sorted(REGISTER.items())
    ]
    return table(("kind", "message", "group", "sender", "numbered", "payload bytes"), rows)


def field_kind_table() -> str:
    rows = [
        (k.name, k.size, k.c_type, f"{k.low} to {k.high}" if k.high else "") for k in FIELD_KINDS
    ]
    return table(("written as", "bytes", "in C", "range"), rows)


def vocabulary_tables() -> str:
    """Every vocabulary under its own heading."""
    remarks = source_remarks()
    parts = []
    for words in vocabularies():
        bits = issubclass(words, enum.IntFlag)
        about = " ".join((words.__doc__ or "").replace("``", "`").split())
        parts.append(f"#### {words.__name__}\n" + (f"\n{about}\n" if about else ""))
        rows = [
            (
                f"bit {int(word).bit_length() - 1}" if bits else int(word),
                word.name,
                remarks.get(f"{words.__name__}.{word.name}", ""),
            )
            for word in words
        ]
        parts.append(table(("bit" if bits else "number", "word", "remark"), rows))
    return "\n".join(parts)


def counting_words() -> str:
    """The words that a board without a motor sends, with their numbers."""
    v = vocabulary
    sent: dict[str, tuple[enum.IntEnum | enum.IntFlag, ...]] = {
        "`state`": (v.State.STILL,),
        "`reason`": (v.Reason.NONE,),
        "`trip`": (v.Trip.NONE,),
        "`verdict`": (
            *(v.Verdict.DONE, v.Verdict.UNSUPPORTED, v.Verdict.NO_SESSION, v.Verdict.HELD),
            *(v.Verdict.CONFLICT, v.Verdict.STALE, v.Verdict.WRONG_STATE, v.Verdict.BAD_VALUE),
            v.Verdict.MALFORMED,
        ),
        "`flags`, added up": (v.Flag.LEASE_LIVE, v.Flag.WIRE_PRESENT, v.Flag.TRAVERSE_RIGHTWARD),
        "`has`, added up": (v.Has.DIRECTION_SENSE, v.Has.WIRE_SENSOR),
        "`kept_flags`, added up": tuple(v.Kept),
    }
    rows = [
        (field, ", ".join(f"{word.name} {int(word)}" for word in words))
        for field, words in sent.items()
    ]
    return table(("field", "word and number"), rows)


def limit_table() -> str:
    """Every limit and time of the definition, with its remark."""
    remarks = source_remarks()
    rows = [(f"`{name}`", number, remarks.get(name, "")) for name, number in limits().items()]
    return table(("name", "value", "what it is"), rows)


def clause_table() -> str:
    """Every clause of the examination."""
    rows = [
        (
            clause.number,
            clause.sentence,
            ", ".join(group.name for group in clause.needs),
            "yes" if clause.motion else "",
        )
        for clause in by_number()
    ]
    return table(("clause", "what is demanded", "needs", "moves"), rows)


SECTIONS = {
    "clauses": clause_table,
    "kinds": kind_table,
    "field kinds": field_kind_table,
    "messages": lambda: message_tables(tuple(Group)),
    "messages for counting": lambda: message_tables((Group.BASE, Group.COUNTING)),
    "vocabularies": vocabulary_tables,
    "words for counting": counting_words,
    "limits": limit_table,
    "states": state_table,
    "state picture": state_picture,
    "allowed": allowed_table,
}


def filled(document: str) -> str:
    """The document with every derived section derived anew. Raises ``StaleDocument``."""

    def fill(found: re.Match[str]) -> str:
        if found[2] not in SECTIONS:
            raise StaleDocument(f"nothing derives a section called {found[2]!r}")
        return f"{found[1]}\n{SECTIONS[found[2]]()}\n{found[3]}"

    return _SECTION.sub(fill, document)


def derived_files(root: Path) -> dict[Path, str]:
    """Path below ``root`` and due content of every file that has something derived in it."""
    files = {HEADER: c_header(tuple(vocabularies()), limits())}
    for path in DOCUMENTS:
        files[path] = filled((root / path).read_text(encoding="utf-8"))
    return files


def main(arguments: Sequence[str], root: Path = ROOT) -> int:
    """Returns the exit code: 0, 1 with ``--check`` and stale files, 2 for a wrong call."""
    if list(arguments) not in ([], ["--check"]):
        print("usage: python -m firmware_protocol.generate [--check]", file=sys.stderr)
        return 2
    stale = 0
    for path, due in derived_files(root).items():
        place = root / path
        if place.exists() and place.read_text(encoding="utf-8") == due:
            continue
        if arguments:
            stale += 1
            print(f"{path}: stale; run python -m firmware_protocol.generate", file=sys.stderr)
        else:
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_text(due, encoding="utf-8", newline="\n")
            print(f"{path}: written")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
