"""The RP2040's shipped image: what the sources give, in the container's published form, with room for what is kept."""

from __future__ import annotations

import ctypes
import struct
import subprocess

import numpy as np
import pytest
from emulator.builds import FIRMWARE
from emulator.rp2040_tools import needs_rp2040_tools
from host.core import needs_compiler

from firmware_protocol.images import IMAGES
from firmware_protocol.images.__main__ import built
from firmware_protocol.images.uf2 import (
    boot_checksum,
    container,
    main,
    program_of,
    with_boot_checksum,
)

IMAGE = IMAGES["rp2040"]
STORE_AT = 0x100F_E000  # two sectors at the end of the first megabyte (ports/rp2040/store.c)
PORT = FIRMWARE / "ports" / "rp2040"


@needs_rp2040_tools
def test_the_image_is_what_the_sources_give(tmp_path):
    assert IMAGE.path.read_bytes() == built(IMAGE, tmp_path), "python -m firmware_protocol.images"


def test_every_block_is_one_by_the_published_format():
    """https://github.com/microsoft/uf2, "File format" and its list of families: magic words, sizes, the RP2040's number."""
    file = IMAGE.path.read_bytes()
    assert len(file) % 512 == 0
    blocks = [file[at : at + 512] for at in range(0, len(file), 512)]
    for number, block in enumerate(blocks):
        head = struct.unpack_from("<8I", block)
        assert head[:2] == (0x0A324655, 0x9E5D5157) and block[:4] == b"UF2\n"
        assert head[2] == 0x2000 and head[7] == 0xE48BFF56
        assert head[4:7] == (256, number, len(blocks))
        assert head[3] == 0x1000_0000 + 256 * number and head[3] % 256 == 0
        assert block[-4:] == struct.pack("<I", 0x0AB16F30)
    assert head[3] + 256 <= STORE_AT, "a load would write over what the board keeps"


def test_the_boot_stage_has_the_checksum_that_the_rom_wants():
    """RP2040 data sheet, 2.8.1.3.1. The algorithm's check value is that of CRC-32/MPEG-2 in the catalogue of
    parametrised CRC algorithms (reveng.sourceforge.io; from memory)."""
    assert boot_checksum(b"123456789") == 0x0376E6E7
    program = program_of(IMAGE.path.read_bytes())
    assert struct.unpack_from("<I", program, 252) == (boot_checksum(program[:252]),)
    assert any(program[200:252]) or any(program[:200])


def test_a_container_gives_its_program_back_and_a_damaged_one_is_told():
    program = with_boot_checksum(bytes(range(256)) * 5)
    file = container(program)
    assert program_of(file) == program
    for damaged, why in (
        (b"", "whole number"),
        (file[:-1], "whole number"),
        (file[:512] + file[1024:], "not where it belongs"),
        (b"X" + file[1:], "no mark"),
        (file[:28] + b"\0\0\0\0" + file[32:], "another chip"),
    ):
        with pytest.raises(ValueError, match=why):
            program_of(damaged)


def test_a_wrong_call_of_the_packer_says_how_to_call_it(capsys):
    assert main(["one"]) == 2
    assert "usage" in capsys.readouterr().err


@needs_compiler
def test_its_own_square_root_is_the_rounded_one(tmp_path):
    """Against numpy's, which is the processor's: IEEE 754 asks for the nearest."""
    library = tmp_path / "liblibc.so"
    renamed = [
        f"-D{name}=port_{name}" for name in ("memcpy", "memmove", "memset", "memcmp", "sqrtf")
    ]
    words = ["gcc", "-O2", "-fno-builtin", "-fPIC", "-shared", f"-I{PORT / 'libc'}", *renamed]
    subprocess.run([*words, str(PORT / "libc" / "libc.c"), "-o", str(library)], check=True)
    root = ctypes.CDLL(str(library)).port_sqrtf
    root.restype, root.argtypes = ctypes.c_float, [ctypes.c_float]
    chance = np.random.default_rng(16)
    numbers = chance.integers(0x0080_0000, 0x7F80_0000, 20_000, dtype=np.uint32).view(np.float32)
    numbers = np.concatenate([numbers, np.float32([1, 2, 4, 0.25, 3.4028235e38, 1.1754944e-38, 0])])
    for number, due in zip(numbers, np.sqrt(numbers), strict=True):
        assert root(number) == due, number
    assert root(-1.0) == 0.0
