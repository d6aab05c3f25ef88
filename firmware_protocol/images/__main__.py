"""Builds the images: ``python -m firmware_protocol.images [--check]``."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from . import HEX, IMAGES, Image

FIRMWARE = Path(__file__).parents[1] / "firmware"


def built(image: Image, folder: Path) -> bytes:
    """The image as the sources give it now. Raises ``CalledProcessError`` and ``OSError``."""
    words = ["make", "-C", str(FIRMWARE), image.target, f"BUILD={folder}"]
    subprocess.run(words, check=True, capture_output=True, text=True)
    content = (folder / f"{image.target}{image.form}").read_bytes()
    # The tools of Windows and Linux end their lines differently; a record is the same.
    return content.replace(b"\r\n", b"\n") if image.form == HEX else content


def main(arguments: Sequence[str]) -> int:
    """Returns the exit code: 0, 1 with ``--check`` and stale images or where they cannot be built, 2 for a wrong call."""
    if list(arguments) not in ([], ["--check"]):
        print("usage: python -m firmware_protocol.images [--check]", file=sys.stderr)
        return 2
    stale = 0
    with tempfile.TemporaryDirectory() as folder:
        for image in IMAGES.values():
            try:
                due = built(image, Path(folder))
            except (OSError, subprocess.CalledProcessError) as error:
                told = getattr(error, "stderr", "") or str(error)
                print(f"{image.name}: could not be built: {told.strip()}", file=sys.stderr)
                return 1
            if image.path.exists() and image.path.read_bytes() == due:
                continue
            if arguments:
                stale += 1
                print(f"{image.path.name}: stale; run python -m firmware_protocol.images")
            else:
                image.path.write_bytes(due)
                print(f"{image.path.name}: written")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
