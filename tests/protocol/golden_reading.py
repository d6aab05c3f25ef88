"""Reads the golden vectors: plain text, so that the C side can read the same files.

Nothing in here comes from ``firmware_protocol``. The independent frame (zlib, the ``cobs`` package) is
built here too, as is the one for the frames in the specification.
"""

import re
import zlib
from dataclasses import dataclass, field
from pathlib import Path

from cobs import cobs

GOLDEN = Path(__file__).parent / "golden"
SPECIFICATION = Path(__file__).parents[2] / "docs/protocol/specification.md"


@dataclass
class Vector:
    name: str
    message: str = ""
    kind: int = -1
    sequence: int = -1
    fields: dict[str, int | str | bytes] = field(default_factory=dict)
    payload: bytes = b""
    crc: int = -1
    bytes: bytes = b""


@dataclass
class Stream:
    name: str
    bytes: bytes = b""
    good: int = -1
    damaged: int = -1
    overlong: int = -1


def lines(file: str) -> list[tuple[str, str]]:
    """First word and the rest of every line that is neither empty nor a remark."""
    found = []
    for line in (GOLDEN / file).read_text(encoding="ascii").splitlines():
        if line.strip() and not line.startswith("#"):
            key, _, rest = line.partition(" ")
            found.append((key, rest.strip()))
    return found


def vectors() -> list[Vector]:
    found: list[Vector] = []
    for file in ("base.txt", "counting.txt", "far.txt", "motion.txt", "pedal.txt", "settings.txt"):
        for key, rest in lines(file):
            if key == "frame":
                found.append(Vector(rest))
            elif key == "field":
                name, _, value = rest.partition(" ")
                found[-1].fields[name] = field_value(name, value)
            elif key in ("payload", "bytes"):
                setattr(found[-1], key, bytes.fromhex(rest))
            elif key in ("kind", "sequence", "crc"):
                setattr(found[-1], key, int(rest, 0))
            elif key == "message":
                found[-1].message = rest
            else:
                raise ValueError(f"{file}: unknown key {key!r}")
    return found


def field_value(name: str, text: str) -> int | str | bytes:
    if text.startswith('"'):
        return text.strip('"')
    return bytes.fromhex(text) if name == "groups" else int(text, 0)


def streams() -> list[Stream]:
    found: list[Stream] = []
    for key, rest in lines("damaged.txt"):
        if key == "stream":
            found.append(Stream(rest))
        elif key == "bytes":
            found[-1].bytes += bytes.fromhex(rest)
        elif key in ("good", "damaged", "overlong"):
            setattr(found[-1], key, int(rest))
        else:
            raise ValueError(f"damaged.txt: unknown key {key!r}")
    return found


def stuffings() -> list[tuple[bytes, bytes]]:
    """Pairs of plain and stuffed bytes."""
    found = lines("cobs.txt")
    plain = [bytes.fromhex(rest) for key, rest in found if key == "plain"]
    stuffed = [bytes.fromhex(rest) for key, rest in found if key == "stuffed"]
    assert len(plain) == len(stuffed) == len(found) // 2
    return list(zip(plain, stuffed, strict=True))


def documented_frames() -> dict[str, bytes]:
    """The frames worked out in the specification, by the name of their block, in order."""
    text = SPECIFICATION.read_text(encoding="utf-8")
    blocks = re.findall(r"```frame ([a-z0-9-]+)\n(.*?)```", text, re.DOTALL)
    assert len(blocks) == len(dict(blocks)), "two blocks of one name"
    return {name: bytes.fromhex(frame) for name, frame in blocks}


def independent_frame(kind: int, sequence: int, payload: bytes) -> bytes:
    body = bytes([kind, sequence]) + payload
    return cobs.encode(body + zlib.crc32(body).to_bytes(4, "little")) + b"\0"


def independent_body(frame: bytes) -> tuple[int, int, bytes]:
    """Kind, sequence, payload of one whole frame; asserts that it is one."""
    assert frame[-1] == 0 and frame.count(0) == 1 and len(frame) <= 64
    body = cobs.decode(frame[:-1])
    assert zlib.crc32(body[:-4]).to_bytes(4, "little") == body[-4:]
    return body[0], body[1], body[2:-4]
