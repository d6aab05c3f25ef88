"""Field kinds, the register of messages, and how a message becomes a payload.

A message is a frozen dataclass whose fields carry, through ``Annotated``, a wire kind (how many
bytes, signed or not), a unit and a sentence. ``@message`` enters the class into the register under
its kind number and prepares one ``struct.Struct`` for it. Everything is little-endian; there is no
padding. A payload longer than the known layout is read to the known length (a newer end may append
fields); a shorter one is refused.
"""

from __future__ import annotations

import dataclasses
import enum
import operator
import struct
import typing
from collections.abc import Callable
from functools import lru_cache
from typing import Any, TypeVar

from .records import dataclass

PAYLOAD_BYTES_MAX = 56  # a frame of 64: COBS code, kind, sequence, payload, four of CRC, delimiter
NEWEST = 32  # payloads remembered: in a rehearsal several ends read the same ones


class PayloadError(ValueError):
    """Bytes that are no payload of the kind they claim to be."""


@dataclass(frozen=True, slots=True)
class FieldKind:
    """One way of writing a value: name for the documents, struct code, C type, byte count."""

    name: str
    code: str
    c_type: str
    size: int
    low: int = 0
    high: int = 0


U8 = FieldKind("u8", "B", "uint8_t", 1, 0, 0xFF)
I8 = FieldKind("i8", "b", "int8_t", 1, -0x80, 0x7F)
U16 = FieldKind("u16", "H", "uint16_t", 2, 0, 0xFFFF)
U32 = FieldKind("u32", "I", "uint32_t", 4, 0, 0xFFFF_FFFF)
I32 = FieldKind("i32", "i", "int32_t", 4, -0x8000_0000, 0x7FFF_FFFF)
TEXT10 = FieldKind("text10", "10s", "char[10]", 10)  # ASCII, padded with zero bytes
GROUPS6 = FieldKind("groups6", "6s", "uint8_t[6]", 6)  # one version byte per feature group


class Group(enum.IntEnum):
    """Feature groups. ``BASE`` every board speaks; the others are listed in the welcome."""

    BASE = 0
    COUNTING = 1
    MOTOR = 2
    TRAVERSE = 3
    LEGS = 4
    PEDAL = 5
    SETTINGS = 6


class Sender(enum.Enum):
    HOST = "host"
    BOARD = "board"


@dataclass(frozen=True, slots=True)
class FieldLayout:
    """One field of a message: where it lies in the payload and what its number means."""

    name: str
    kind: FieldKind
    unit: str
    text: str
    vocabulary: type[enum.IntEnum] | None
    offset: int
    bits: type[enum.IntFlag] | None = None


@dataclass(frozen=True, slots=True)
class MessageLayout:
    """What the register knows of one message class."""

    cls: type
    kind: int
    group: Group
    sender: Sender
    numbered: bool
    version: int  # of the group, that has it first
    fields: tuple[FieldLayout, ...]
    struct: struct.Struct
    # Prepared once, because a status is packed and read 20 times a second and far more in rehearsals:
    words: tuple[tuple[int, dict[int, Any]], ...]  # field index, number -> word
    strings: tuple[int, ...]  # indices of the fields that struct gives and takes as bytes
    values: Callable[[Any], tuple[Any, ...]]  # of a message, in the order of its fields

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(field.name for field in self.fields)

    @property
    def size(self) -> int:
        return self.struct.size


REGISTER: dict[int, MessageLayout] = {}
LAYOUT_OF: dict[type, MessageLayout] = {}

T = TypeVar("T")


def message(
    kind: int, group: Group, sender: Sender, *, numbered: bool = False, version: int = 1
) -> Callable[[type[T]], type[T]]:
    """Enter a frozen dataclass into the register under its kind number."""

    def enter(cls: type[T]) -> type[T]:
        if kind in REGISTER:
            raise TypeError(f"kind 0x{kind:02x} is taken by {REGISTER[kind].cls.__name__}")
        fields = _fields(cls)
        packer = struct.Struct("<" + "".join(f.kind.code for f in fields))
        if packer.size > PAYLOAD_BYTES_MAX:
            raise TypeError(
                f"{cls.__name__} takes {packer.size} bytes; {PAYLOAD_BYTES_MAX} fit a frame"
            )
        words = tuple(
            (index, {int(word): word for word in field.vocabulary})
            for index, field in enumerate(fields)
            if field.vocabulary is not None
        )
        strings = tuple(i for i, field in enumerate(fields) if field.kind in (TEXT10, GROUPS6))
        layout = MessageLayout(
            cls,
            kind,
            group,
            sender,
            numbered,
            version,
            fields,
            packer,
            words,
            strings,
            _values_of(fields),
        )
        REGISTER[kind] = LAYOUT_OF[cls] = layout
        return cls

    return enter


def _fields(cls: type) -> tuple[FieldLayout, ...]:
    """Layouts of the fields, one after the other without padding.

    An annotation holds the type, the field kind, the unit, a sentence and, where the number is a
    sum of bits, their vocabulary. It is read as it stands: where messages are defined,
    annotations are not put off to be texts.
    """
    fields: list[FieldLayout] = []
    offset = 0
    for field in dataclasses.fields(cls):
        base, field_kind, unit, text, *bits = typing.get_args(field.type)
        vocabulary = base if isinstance(base, type) and issubclass(base, enum.IntEnum) else None
        fields.append(
            FieldLayout(
                field.name, field_kind, unit, text, vocabulary, offset, bits[0] if bits else None
            )
        )
        offset += field_kind.size
    return tuple(fields)


def _values_of(fields: tuple[FieldLayout, ...]) -> Callable[[Any], tuple[Any, ...]]:
    names = tuple(field.name for field in fields)
    if len(names) > 1:
        return operator.attrgetter(*names)
    return lambda message: tuple(getattr(message, name) for name in names)


def pack(message: Any) -> bytes:
    """The payload of a message. Raises ``PayloadError`` for a value that does not fit its field."""
    layout = LAYOUT_OF[type(message)]
    values = layout.values(message)
    if layout.strings:
        stored = list(values)
        for index in layout.strings:
            stored[index] = _string_bytes(layout.fields[index], stored[index])
        values = tuple(stored)
    try:
        return layout.struct.pack(*values)
    except struct.error as trouble:
        raise PayloadError(f"{type(message).__name__}: {trouble}") from None


def _string_bytes(field: FieldLayout, value: str | bytes) -> bytes:
    """Text as padded ASCII, group versions as they are; ``struct`` itself would cut in silence."""
    size = field.kind.size
    if field.kind is GROUPS6:
        if not isinstance(value, bytes) or len(value) != size:
            raise PayloadError(f"{field.name}: {value!r} is not {size} bytes")
        return value
    if not isinstance(value, str) or not value.isascii() or "\0" in value:
        raise PayloadError(f"{field.name}: {value!r} is not text of ASCII characters")
    if len(value) > size:
        raise PayloadError(f"{field.name}: {value!r} is longer than {size} bytes")
    return value.encode("ascii")


@lru_cache(NEWEST)
def unpack(kind: int, payload: bytes) -> Any:
    """The message of a payload. Raises ``KeyError`` for an unknown kind, ``PayloadError`` else.

    A number outside a vocabulary is kept as a plain ``int``: a newer board may know more words.
    """
    layout = REGISTER[kind]
    if len(payload) < layout.struct.size:
        raise PayloadError(
            f"{layout.cls.__name__}: {len(payload)} bytes, at least {layout.struct.size} needed"
        )
    values = list(layout.struct.unpack_from(payload))
    for index, words in layout.words:
        number = values[index]
        values[index] = words.get(number, number)
    for index in layout.strings:
        if layout.fields[index].kind is TEXT10:
            values[index] = values[index].split(b"\0", 1)[0].decode("ascii", "replace")
    return layout.cls(*values)


def as_word(vocabulary: type[enum.IntEnum], value: int) -> int:
    """The word for a number, or the number itself where the vocabulary has none."""
    return vocabulary._value2member_map_.get(value, value)  # type: ignore[return-value]
