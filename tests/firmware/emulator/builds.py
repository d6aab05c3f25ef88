"""The binaries the tests run: the harness, and the firmware through the very command of its documentation.

Built once per content, into a folder of the temporary directory named by a hash of every source; two test processes that build the same thing at once do not disturb each other. Without the cross
tools the tests that need them are skipped with the remedy in the reason.
"""

from __future__ import annotations

import functools
import getpass
import hashlib
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

HERE = Path(__file__).parent
FIRMWARE = HERE.parents[2] / "firmware_protocol" / "firmware"
SIMAVR_HEADERS = Path("/usr/include/simavr")
REMEDY = "apt-get install gcc-avr avr-libc libsimavr-dev libelf-dev"
FLASH_BYTES, RAM_BYTES = 32_768, 2_048


def missing_tools() -> str:
    """What is not there of what the tests of the chip need; empty: nothing."""
    missing = [tool for tool in ("avr-gcc", "avr-nm", "make", "gcc") if not shutil.which(tool)]
    if not (SIMAVR_HEADERS / "sim_avr.h").exists():
        missing.append("libsimavr-dev")
    return ", ".join(missing)


needs_cross_tools = pytest.mark.skipif(
    bool(missing_tools()),
    reason=f"NOT RUN, the firmware was not tested on its chip: {missing_tools()} missing ({REMEDY})",
)


@dataclass(frozen=True, slots=True)
class Binary:
    """A built firmware. Sizes in bytes."""

    elf: Path
    flash: int
    variables: int  # static RAM
    stack_from: int  # first address behind it


def digest_of(sources: list[Path], *words: str) -> str:
    digest = hashlib.sha256()
    for path in sorted(sources):
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    digest.update("\0".join(words).encode())
    return digest.hexdigest()[:20]


def run(command: list[str], **more: object) -> str:
    done = subprocess.run(command, capture_output=True, text=True, **more)  # type: ignore[call-overload]
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}{done.stderr}"
    return str(done.stdout)


def built(name: str, digest: str, make: Callable[[Path], None]) -> Path:
    """A folder of built files, made in a folder of its own and then moved into place whole."""
    cache = Path(tempfile.gettempdir()) / f"exact-turns-firmware-{getpass.getuser()}"
    cache.mkdir(exist_ok=True)
    folder = cache / f"{name}-{digest}"
    if not folder.exists():
        fresh = Path(tempfile.mkdtemp(dir=cache))
        make(fresh)
        try:
            os.rename(fresh, folder)
        except OSError:  # another process was first, with the same content
            shutil.rmtree(fresh)
    return folder


@functools.cache
def harness() -> Path:
    """The emulator's library."""
    sources = sorted(HERE.glob("*.[ch]"))

    def make(folder: Path) -> None:
        words = ["gcc", "-std=gnu11", "-O2", "-Wall", "-Wextra", "-Werror", "-fPIC", "-shared"]
        c_files = [str(path) for path in sources if path.suffix == ".c"]
        libraries = ["-lsimavr", "-lelf", "-lm"]
        target = str(folder / "libchip.so")
        run([*words, *c_files, f"-I{SIMAVR_HEADERS}", "-o", target, *libraries])

    return built("harness", digest_of(sources), make) / "libchip.so"


@functools.cache
def firmware(port: str) -> Binary:
    """The binary of one port."""
    sources = [path for path in FIRMWARE.rglob("*") if path.suffix in (".c", ".h")]
    sources += [FIRMWARE / "Makefile", FIRMWARE / "ports" / "chip.mk"]

    def make(folder: Path) -> None:
        run(["make", "-C", str(FIRMWARE), port, f"BUILD={folder}"])

    elf = built(port, digest_of(sources, port), make) / f"{port}.elf"
    symbols = {}
    for line in run(["avr-nm", str(elf)]).splitlines():
        value, _, name = line.split()[-3:] if len(line.split()) == 3 else ("0", "", "")
        symbols[name] = int(value, 16)
    end = symbols["_end"] - 0x80_0000
    flash = symbols["__data_load_end"]
    return Binary(elf, flash, end - 0x100, end)
