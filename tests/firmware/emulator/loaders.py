"""The two common kinds of boot loader, as they lie in flash beside the firmware.

SMALL: 512 bytes at 0x7E00, 115200 baud. It reads and clears the cause of the reset; unless that was the reset pin it
starts the program at once, else it waits a second for its own words and starts the program through its watchdog.
LARGE: 2 KB at 0x7800, 57600 baud. It leaves cause and watchdog as they are, and waits a while after every reset.

Both come from Debian's package of the board's core (REMEDY). The small one is built from the source there, without
the flashing of a lamp: the image that lies beside it was built two bytes too large for its 512.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from .builds import built, digest_of, run

SHARED = Path("/usr/share")
REMEDY = "apt-get install --no-install-recommends arduino-core-avr"
SMALL_AT, SMALL_BYTES = 0x7E00, 512
LARGE_AT, LARGE_BYTES = 0x7800, 2048


@dataclass(frozen=True, slots=True)
class Loader:
    kind: str
    at: int
    data: bytes


def read_hex(text: str) -> dict[int, int]:
    """Bytes by address of an Intel HEX file (records 00 to 02, and 04)."""
    memory: dict[int, int] = {}
    above = 0
    for line in text.split():
        raw = bytes.fromhex(line[1:])
        assert sum(raw) & 0xFF == 0, f"broken record {line}"
        length, address, kind = raw[0], int.from_bytes(raw[1:3], "big"), raw[3]
        data = raw[4 : 4 + length]
        if kind == 0:
            memory.update({above + address + i: byte for i, byte in enumerate(data)})
        elif kind in (2, 4):
            above = int.from_bytes(data, "big") << (4 if kind == 2 else 16)
    return memory


def _images(at: int) -> list[Path]:
    """Images for this chip that begin there."""
    found = SHARED.glob("*/hardware/*/avr/bootloaders/*/*atmega328.hex")
    return sorted(path for path in found if min(read_hex(path.read_text())) == at)


def missing_loaders() -> bool:
    return not (_images(SMALL_AT) and _images(LARGE_AT))


needs_loaders = pytest.mark.skipif(
    missing_loaders(),
    reason=f"NOT RUN, the board was not tried beside a boot loader: none found ({REMEDY})",
)


def _as_loader(kind: str, at: int, room: int, text: str) -> Loader:
    memory = read_hex(text)
    assert min(memory) == at and max(memory) < at + room, (
        f"the {kind} boot loader has no such place"
    )
    return Loader(kind, at, bytes(memory.get(at + i, 0xFF) for i in range(room)))


def large_loader() -> Loader:
    (image,) = _images(LARGE_AT)
    return _as_loader("large", LARGE_AT, LARGE_BYTES, image.read_text())


def small_loader() -> Loader:
    (source,) = _images(SMALL_AT)[0].parent.glob("*.c")
    words = ["avr-gcc", "-mmcu=atmega328p", "-DF_CPU=16000000L", "-DBAUD_RATE=115200"]
    words += ["-DLED_START_FLASHES=0", "-Os", "-fno-inline-small-functions"]
    words += ["-fno-split-wide-types", "-mshort-calls", "-nostartfiles", "-nostdlib", "-w"]
    words += [f"-Wl,--section-start=.text={SMALL_AT:#x}", "-Wl,--section-start=.version=0x7ffe"]
    words += ["-Wl,--relax"]

    def make(folder: Path) -> None:
        run([*words, str(source), "-o", str(folder / "loader.elf")])
        run(["avr-objcopy", "-O", "ihex", str(folder / "loader.elf"), str(folder / "loader.hex")])

    assert shutil.which("avr-gcc")
    folder = built("loader", digest_of(sorted(source.parent.glob("*.[ch]")), *words), make)
    text = (folder / "loader.hex").read_text()
    return _as_loader("small", SMALL_AT, SMALL_BYTES, text)
