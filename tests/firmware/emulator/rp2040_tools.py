"""What the tests of the RP2040 need: the program through the command of its documentation, and npm's emulator, fetched once.

The emulator (rp2040js, MIT) is one file of the npm registry, pinned by version and by its sha512.
"""

from __future__ import annotations

import base64
import functools
import hashlib
import shutil
import subprocess
import tarfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from firmware_protocol.images.uf2 import program_of

from . import builds

PACKAGE = "rp2040js@1.4.1"
SHA512 = "Yzr5xG7ZwbtA50IYAU1k/oSoSyDAhPtT5qC/Q2eFApoLuAYE8DQbPIMPs/0kh4Ietd4P0OpKk3CIkfNqjcr56g=="
TOOLS = ("arm-none-eabi-gcc", "make", "node", "npm")
FETCH_WAIT_S = 60


@functools.cache
def emulator() -> Path:
    """The emulator's folder. ``OSError``, ``SubprocessError`` or ``AssertionError`` where it cannot be had."""

    def make(folder: Path) -> None:
        words = ["npm", "pack", "--silent", "--pack-destination", str(folder), PACKAGE]
        builds.run(words, timeout=FETCH_WAIT_S)
        (archive,) = folder.glob("*.tgz")
        digest = base64.b64encode(hashlib.sha512(archive.read_bytes()).digest()).decode()
        assert digest == SHA512, f"{PACKAGE} is not the file it was: sha512 {digest}"
        with tarfile.open(archive) as packed:
            packed.extractall(folder, filter="data")

    return builds.built("rp2040js", builds.digest_of([], PACKAGE, SHA512), make) / "package"


@functools.cache
def missing_tools() -> str:
    """What is not there of what the tests of this chip need; empty: nothing. Fetches the emulator where all else is."""
    missing = [tool for tool in TOOLS if not shutil.which(tool)]
    if not missing:
        try:
            emulator()
        except (OSError, subprocess.SubprocessError, AssertionError):
            missing = [f"npm's {PACKAGE}, which could not be fetched,"]
    return ", ".join(missing)


needs_rp2040_tools = pytest.mark.skipif(
    bool(missing_tools()),
    reason=f"NOT RUN, the firmware was not tested on the RP2040: {missing_tools()} missing "
    "(apt-get install gcc-arm-none-eabi make nodejs npm)",
)


@dataclass(frozen=True, slots=True)
class Program:
    """A built program. ``flash``: bytes of it; ``variables_end``: first address of memory behind them."""

    image: Path
    flash: int
    variables: int
    variables_end: int


@functools.cache
def program(changes: tuple[str, ...] = ()) -> Program:
    """The program as the sources give it; ``changes`` are options of the compiler, for a test that wants another."""
    sources = [
        p for p in builds.FIRMWARE.rglob("*") if p.suffix in (".c", ".h", ".S", ".ld", ".mk")
    ]
    sources += [builds.FIRMWARE / "Makefile", Path(__file__)]
    defines = " ".join(changes)

    def make(folder: Path) -> None:
        target = ["make", "-C", str(builds.FIRMWARE), "rp2040", f"BUILD={folder}"]
        builds.run([*target, f"RP2040_MORE={defines}"])
        (folder / "flash.bin").write_bytes(program_of((folder / "rp2040.uf2").read_bytes()))

    folder = builds.built("rp2040", builds.digest_of(sources, defines), make)
    symbols = {}
    for line in builds.run(["arm-none-eabi-nm", str(folder / "rp2040.elf")]).splitlines():
        value, _, name = line.split()
        symbols[name] = int(value, 16)
    image, end = folder / "flash.bin", symbols["bss_end"]
    return Program(image, image.stat().st_size, end - symbols["bss_begin"], end)
