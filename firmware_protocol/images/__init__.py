"""The firmware as it is loaded onto a board: built beforehand, a part of the package.

    python -m firmware_protocol.images          builds them anew and writes them here
    python -m firmware_protocol.images --check  says whether they are what the sources give

Building needs make and the chip's compiler: avr-gcc with avr-libc for the ATmega328P, arm-none-eabi-gcc for the RP2040.
The images are those of Debian 12's GCC 5.4.0 and 12.2.1; they carry no date and no path, so the same sources give the
same bytes.
"""

from __future__ import annotations

from pathlib import Path

from firmware_protocol.records import dataclass

HERE = Path(__file__).parent
CHIP = "atmega328p"
HEX, UF2 = ".hex", ".uf2"


@dataclass(frozen=True, slots=True)
class Image:
    """``target`` is what make calls it; ``form`` the ending of its file and how it is loaded: Intel HEX through a boot
    loader, or UF2 onto the drive as which the chip's boot ROM shows itself."""

    name: str
    target: str
    what: str
    form: str = HEX

    @property
    def path(self) -> Path:
        return HERE / f"{self.name}{self.form}"


IMAGES = {
    image.name: image
    for image in (
        Image("winding", "atmega328p", "drives a motor, a brake and a guide, and counts"),
        Image("counting", "smallest", "counts, and beeps at the target; for a drill or a treadle"),
        Image("rp2040", "rp2040", "drives a motor, a brake and a guide, and counts fast", UF2),
    )
}


def program_bytes(text: str) -> int:
    """Bytes of program in an Intel HEX file (record type 00)."""
    records = (line.strip() for line in text.splitlines())
    return sum(int(r[1:3], 16) for r in records if r[:1] == ":" and r[7:9] == "00")
