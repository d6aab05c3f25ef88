"""The C11 header that every board includes, written from the register of messages.

A compiler may pad a struct and a chip may be big-endian, so each message gets a plain struct and two inline
functions that move it to and from a payload: byte by byte, or in one where struct and payload are the same.
An unused inline function costs a small board nothing. Sizes are asserted when the header is compiled.
Integers keep their exact width on chips whose ``int`` has 16 bits.
"""

from __future__ import annotations

import enum
import re
from collections.abc import Mapping, Sequence

from .device_table import BOARD_TABLE, Happening
from .framing import FRAME_BYTES_MAX
from .settings import LIMITS, Settings
from .state_tables import WIND_NEEDS, allowed_states, needed_wind
from .wire import (
    I8,
    I32,
    LAYOUT_OF,
    PAYLOAD_BYTES_MAX,
    REGISTER,
    U8,
    U16,
    U32,
    FieldKind,
    FieldLayout,
    Group,
    MessageLayout,
    Sender,
)

_BELIEFS = ("BELIEF_NONE", "BELIEF_BOOT_REVISION", "BELIEF_BOOT_WIND_REVISION")

Vocabulary = type[enum.IntEnum] | type[enum.IntFlag]

_HEAD = """\
/* What goes over the wire between the host and a board that counts.
 *
 * Derived from firmware_protocol/messages.py by `python -m firmware_protocol.generate`.
 * Change it there, not here.
 */
#ifndef FIRMWARE_PROTOCOL_MESSAGES_H
#define FIRMWARE_PROTOCOL_MESSAGES_H

#include <stdint.h>
#include <string.h>
"""

_BYTES = """\
/* --- bytes, little-endian ----------------------------------------------------------------- */

static inline void put_u16(uint8_t *to, uint16_t value) {
    to[0] = (uint8_t)(value & 0xFFu);
    to[1] = (uint8_t)(value >> 8);
}

static inline void put_u32(uint8_t *to, uint32_t value) {
    put_u16(to, (uint16_t)(value & 0xFFFFu));
    put_u16(to + 2, (uint16_t)(value >> 16));
}

static inline uint16_t get_u16(const uint8_t *from) {
    return (uint16_t)((uint16_t)from[0] | (uint16_t)((uint16_t)from[1] << 8));
}

static inline uint32_t get_u32(const uint8_t *from) {
    return (uint32_t)get_u16(from) | ((uint32_t)get_u16(from + 2) << 16);
}
"""

_SAME = """\
/* Whether a struct lies in memory as its payload on the line: little-endian, without padding. */
#define LIES_AS_SENT(of, bytes) (__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__ && sizeof(of) == (bytes))
"""

_PUT = {
    U8: "to[{at}] = from->{name};",
    I8: "to[{at}] = (uint8_t)from->{name};",
    U16: "put_u16(to + {at}, from->{name});",
    U32: "put_u32(to + {at}, from->{name});",
    I32: "put_u32(to + {at}, (uint32_t)from->{name});",
}
_GET = {
    U8: "to->{name} = from[{at}];",
    I8: "to->{name} = (int8_t)from[{at}];",
    U16: "to->{name} = get_u16(from + {at});",
    U32: "to->{name} = get_u32(from + {at});",
    I32: "to->{name} = (int32_t)get_u32(from + {at});",
}


def c_header(vocabularies: Sequence[Vocabulary], limits: Mapping[str, int]) -> str:
    """The whole header."""
    layouts = [REGISTER[kind] for kind in sorted(REGISTER)]
    parts = [
        _HEAD,
        _limits({"FRAME_BYTES_MAX": FRAME_BYTES_MAX, "PAYLOAD_BYTES_MAX": PAYLOAD_BYTES_MAX}, ""),
        _limits(limits, "PROTOCOL_"),
        _kinds(layouts),
        *(_vocabulary(words) for words in vocabularies),
        _command_words(),
        _commands(
            "NUMBERED_COMMANDS",
            [la for la in layouts if la.group is not Group.PEDAL and la.version == 1],
        ),
        _commands("PEDAL_COMMANDS", [la for la in layouts if la.group is Group.PEDAL]),
        _commands("FAR_COMMANDS", [la for la in layouts if la.version == 2]),
        _life(),
        _settings_limits(),
        _BYTES,
        _SAME,
        "/* --- messages ---------------------------------------------------------------------------- */\n",
        *(_message(layout) for layout in layouts),
        "#endif\n",
    ]
    return "\n".join(parts)


def snake(name: str) -> str:
    """``OpenWind`` as C names it: open_wind."""
    return re.sub(r"(?<!^)([A-Z])", r"_\1", name).lower()


def _limits(limits: Mapping[str, int], prefix: str) -> str:
    def number(value: int) -> str:
        return str(value) if value < 1 << 15 else f"INT32_C({value})"

    return "".join(f"#define {prefix}{name} {number(n)}\n" for name, n in limits.items())


def _enumeration(comment: str, entries: Sequence[tuple[str, str]]) -> str:
    body = "".join(f"    {name} = {value},\n" for name, value in entries)
    return f"/* {comment} */\nenum {{\n{body}}};\n"


def _kinds(layouts: Sequence[MessageLayout]) -> str:
    return _enumeration(
        "Kinds: the first byte of a frame; the board's have the highest bit set.",
        [(f"KIND_{snake(la.cls.__name__).upper()}", f"0x{la.kind:02X}") for la in layouts],
    )


def _vocabulary(words: Vocabulary) -> str:
    prefix = snake(words.__name__).upper()
    write = "0x{:02X}".format if issubclass(words, enum.IntFlag) else str
    return _enumeration(
        words.__name__, [(f"{prefix}_{word.name}", write(int(word))) for word in words]
    )


def _command_words() -> str:
    """What the lists of commands say of each."""
    return (
        _enumeration(
            "What a command carries behind its token, to be compared with what is so.",
            [(name, str(number)) for number, name in enumerate(_BELIEFS)],
        )
        + "\n"
        + _enumeration(
            "The wind that a command needs.",
            [(name, str(number)) for number, name in enumerate(WIND_NEEDS)],
        )
    )


def _commands(name_of_list: str, layouts: Sequence[MessageLayout]) -> str:
    """A list to expand: what a board must check of each numbered command before it looks inside."""
    lines = [
        f"    X(KIND_{name}, MSG_{name}_BYTES, GROUP_{la.group.name}, 0x{allowed_states(la.cls):02X},"
        f" {_belief(la)}, {needed_wind(la.cls)})"
        for la in layouts
        if la.sender is Sender.HOST and la.numbered
        for name in [snake(la.cls.__name__).upper()]
    ]
    return (
        "/* Numbered commands: X(kind, least payload bytes, group, states that allow it as bits, belief, wind"
        f" needed). */\n#define {name_of_list}(X) \\\n" + " \\\n".join(lines) + "\n"
    )


def _belief(layout: MessageLayout) -> str:
    """Which of boot, wind and revision follow the token, without a gap."""
    names = [field.name for field in layout.fields]
    if names[1:4] == ["boot", "wind", "revision"]:
        return "BELIEF_BOOT_WIND_REVISION"
    if names[1:3] == ["boot", "revision"]:
        return "BELIEF_BOOT_REVISION"
    assert "boot" not in names, layout.cls
    return "BELIEF_NONE"


def _life() -> str:
    """The moves between states, as a list to expand into a table or a switch."""
    lines = [
        f"    X(STATE_{state.name}, HAPPENING_{happening.name}, STATE_{after.name})"
        for (state, happening), after in BOARD_TABLE.items()
    ]
    return (
        _enumeration(
            "What can befall a board.",
            [(f"HAPPENING_{what.name}", str(number)) for number, what in enumerate(Happening)],
        )
        + "\n/* Moves between states: X(state, happening, state after). What is lacking cannot happen. */\n"
        + "#define BOARD_TABLE(X) \\\n"
        + " \\\n".join(lines)
        + "\n"
    )


def _settings_limits() -> str:
    """Each field's own limits, in the order of the content, none left out. What can be wired, each port says."""
    assert [limit.field for limit in LIMITS] == list(LAYOUT_OF[Settings].names)
    lines = [
        f"    X({f.kind.size}, LIMIT_{(limit.when or 'always').upper()}, {int(limit.not_zero)},"
        f" {'WIRED_BITS' if f.name == 'inputs' else limit.bits})"
        for limit, f in zip(LIMITS, LAYOUT_OF[Settings].fields, strict=True)
    ]
    return (
        "/* Limits of the settings, field after field: X(bytes, when it is looked at, not 0, bits that its number may"
        " have). */\n"
        "enum { LIMIT_ALWAYS, LIMIT_DRIVER, LIMIT_GUIDE };\n"
        "#define SETTINGS_LIMITS(X) \\\n" + " \\\n".join(lines) + "\n"
    )


def _message(layout: MessageLayout) -> str:
    name = f"msg_{snake(layout.cls.__name__)}"
    upper = name.upper()
    sizes = [(f"{upper}_BYTES", str(layout.size))]
    sizes += [(f"{upper}_{f.name.upper()}_AT", str(f.offset)) for f in layout.fields]
    text = _enumeration(f"{layout.cls.__name__}: payload bytes, and where each field begins", sizes)
    text += f'_Static_assert({upper}_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");\n'
    if not layout.fields:
        return text
    members = "".join(f"    {_declared(f)};{_unit(f)}\n" for f in layout.fields)
    text += f"\nstruct {name} {{\n{members}}};\n\n"
    last = layout.fields[-1].name
    text += (
        f"_Static_assert({upper}_{last.upper()}_AT + sizeof(((struct {name} *)0)->{last}) == "
        f'{upper}_BYTES, "nothing behind the last field");\n'
    )
    text += f"\nstatic inline void {name}_write(uint8_t *to, const struct {name} *from) {{\n"
    same = f"    if (LIES_AS_SENT(struct {name}, {upper}_BYTES)) {{\n        memcpy(to, from, {upper}_BYTES);\n        return;\n    }}\n"
    text += same
    text += "".join(f"    {_moved(f, upper, _PUT, writing=True)}\n" for f in layout.fields)
    text += (
        f"}}\n\nstatic inline void {name}_read(struct {name} *to, const uint8_t *from) {{\n{same}"
    )
    text += "".join(f"    {_moved(f, upper, _GET, writing=False)}\n" for f in layout.fields)
    return text + "}\n"


def _declared(field: FieldLayout) -> str:
    plain, bracket, size = field.kind.c_type.partition("[")
    return f"{plain} {field.name}{bracket}{size}"


def _unit(field: FieldLayout) -> str:
    words = field.vocabulary or field.bits
    remark = ", ".join(part for part in (field.unit, words.__name__ if words else "") if part)
    return f" /* {remark} */" if remark else ""


def _moved(field: FieldLayout, upper: str, how: Mapping[FieldKind, str], *, writing: bool) -> str:
    at = f"{upper}_{field.name.upper()}_AT"
    if field.kind in how:
        return how[field.kind].format(at=at, name=field.name)
    ends = (
        (f"to + {at}", f"from->{field.name}") if writing else (f"to->{field.name}", f"from + {at}")
    )
    return f"memcpy({ends[0]}, {ends[1]}, {field.kind.size});"
