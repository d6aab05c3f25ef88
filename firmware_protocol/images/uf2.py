"""The container in which a program is copied to the drive of an RP2040: UF2, an open published format.

    python uf2.py PROGRAM.bin PROGRAM.uf2

Blocks of 512 bytes, each with 256 bytes of program and the address they belong to; the chip's boot ROM takes them in any
order (https://github.com/microsoft/uf2, "File format"). The first 256 bytes of a program are its boot stage: 252 and
their CRC-32 (polynomial 04C11DB7, begun with all ones, nothing reflected, nothing inverted), which the ROM wants to
find there (RP2040 data sheet, 2.8.1.3.1). It is put in here.
"""

from __future__ import annotations

import struct
import sys
from collections.abc import Sequence
from pathlib import Path

FIRST_MAGIC, SECOND_MAGIC, LAST_MAGIC = 0x0A324655, 0x9E5D5157, 0x0AB16F30
BLOCK_BYTES, PAYLOAD_BYTES, ROOM_BYTES = 512, 256, 476
HAS_FAMILY = 0x2000  # a flag: the field behind the number of blocks says which chip
RP2040_FAMILY = 0xE48BFF56
FLASH_BEGIN = 0x1000_0000
BOOT_STAGE_BYTES = 252


def boot_checksum(data: bytes) -> int:
    """The CRC-32 that the boot ROM computes over a boot stage."""
    value = 0xFFFF_FFFF
    for byte in data:
        value ^= byte << 24
        for _ in range(8):
            value = (value << 1 ^ (0x04C11DB7 if value >> 31 else 0)) & 0xFFFF_FFFF
    return value


def with_boot_checksum(program: bytes) -> bytes:
    """The program with its boot stage's checksum in place."""
    stage = program[:BOOT_STAGE_BYTES]
    return stage + struct.pack("<I", boot_checksum(stage)) + program[BOOT_STAGE_BYTES + 4 :]


def container(program: bytes) -> bytes:
    """The UF2 file of a program that lies at the begin of flash."""
    parts = [program[at : at + PAYLOAD_BYTES] for at in range(0, len(program), PAYLOAD_BYTES)]
    blocks = []
    for number, part in enumerate(parts):
        at = FLASH_BEGIN + number * PAYLOAD_BYTES
        head = (FIRST_MAGIC, SECOND_MAGIC, HAS_FAMILY, at, PAYLOAD_BYTES, number, len(parts))
        blocks.append(
            struct.pack("<8I", *head, RP2040_FAMILY)
            + part.ljust(ROOM_BYTES, b"\0")
            + struct.pack("<I", LAST_MAGIC)
        )
    return b"".join(blocks)


def program_of(file: bytes) -> bytes:
    """The program in a UF2 file of one piece. ``ValueError`` if it is none for this chip, or a part is missing."""
    if not file or len(file) % BLOCK_BYTES:
        raise ValueError("not a whole number of blocks")
    program = b""
    for number in range(len(file) // BLOCK_BYTES):
        block = file[number * BLOCK_BYTES : (number + 1) * BLOCK_BYTES]
        first, second, flags, at, size, own, of, family = struct.unpack_from("<8I", block)
        (last,) = struct.unpack_from("<I", block, BLOCK_BYTES - 4)
        if (first, second, last) != (FIRST_MAGIC, SECOND_MAGIC, LAST_MAGIC):
            raise ValueError(f"block {number} has no mark of a UF2 file")
        if not flags & HAS_FAMILY or family != RP2040_FAMILY:
            raise ValueError("made for another chip")
        due = (FLASH_BEGIN + len(program), number, len(file) // BLOCK_BYTES)
        if (at, own, of) != due or size > ROOM_BYTES:
            raise ValueError(f"block {number} is not where it belongs")
        program += block[32 : 32 + size]
    return program


def main(arguments: Sequence[str]) -> int:
    """Returns the exit code."""
    if len(arguments) != 2:
        print("usage: python uf2.py PROGRAM.bin PROGRAM.uf2", file=sys.stderr)
        return 2
    program = with_boot_checksum(Path(arguments[0]).read_bytes())
    Path(arguments[1]).write_bytes(container(program))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
