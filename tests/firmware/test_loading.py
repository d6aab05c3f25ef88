"""The shipped images: built again they are the same; avrdude writes them through both kinds of loader."""

from __future__ import annotations

import itertools
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from emulator.builds import FIRMWARE, needs_cross_tools
from emulator.loaders import needs_loaders, read_hex

from firmware_protocol import images
from firmware_protocol.images.__main__ import built, main
from tests.commands.running import winder
from winder.service.recognising import introduced

FIRMWARE_TESTS = Path(__file__).parent
needs_avrdude = pytest.mark.skipif(
    not shutil.which("avrdude"),
    reason="NOT RUN, no image was loaded: avrdude missing (apt-get install avrdude)",
)


HEX_IMAGES = [image for image in images.IMAGES.values() if image.form == images.HEX]


@needs_cross_tools
@pytest.mark.parametrize("image", HEX_IMAGES, ids=lambda image: image.name)
def test_an_image_is_what_the_sources_give(tmp_path, image):
    assert image.path.read_bytes() == built(image, tmp_path), "python -m firmware_protocol.images"


@pytest.mark.parametrize("image", HEX_IMAGES, ids=lambda image: image.name)
def test_an_image_leaves_the_loader_its_room(image):
    """Every record is whole, and nothing lies where the larger loader of 2 KB begins (0x7800)."""
    memory = read_hex(image.path.read_text())
    assert min(memory) == 0 and max(memory) < 0x7800
    assert images.program_bytes(image.path.read_text()) == len(memory)


SKIPS = (0x1000, 0xFC00), (0xFC00, 0xFC00), (0x9900, 0xFD00)  # CPSE; SBRC, SBRS; SBIC, SBIS
LONG_JUMPS = (0x940C, 0x940D, 0x940E, 0x940F)


@pytest.mark.parametrize("image", HEX_IMAGES, ids=lambda image: image.name)
def test_no_skip_goes_over_what_the_emulator_takes_for_a_long_jump(image):
    """libsimavr 1.6 skips two words where ADIW or SBIW has a certain number (it looks at 0xFC0F of the opcode, in which
    they are like JMP and CALL): the emulated chip would do what no real one does. Found by a leg that was refused."""
    memory = read_hex(image.path.read_text())
    words = [memory[at] | memory[at + 1] << 8 for at in range(0, max(memory), 2)]
    for skip, over in itertools.pairwise(words):
        if any(skip & mask == code for code, mask in SKIPS) and over & 0xFC0F in LONG_JUMPS:
            assert over & 0xFE0C == 0x940C, f"{over:04x} behind a skip: write it otherwise"


def test_a_wrong_call_of_the_builder_says_how_to_call_it(capsys):
    assert main(["--nonsense"]) == 2
    assert "usage" in capsys.readouterr().err


@contextmanager
def erased_chip(kind: str, target: str) -> Iterator[str]:
    """The port of a chip that has nothing but a boot loader."""
    words = [sys.executable, "-m", "emulator.erased", kind, "--board", target]
    path = f"{FIRMWARE_TESTS}{os.pathsep}{FIRMWARE_TESTS.parents[1]}"
    chip = subprocess.Popen(
        words,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": path},
    )
    try:
        assert chip.stdout is not None
        yield chip.stdout.readline().strip()
    finally:
        chip.kill()
        chip.communicate()


@needs_cross_tools
@needs_loaders
@needs_avrdude
@pytest.mark.parametrize(
    ("kind", "board", "target", "speed"),
    [("small", "winding", "atmega328p", 115200), ("large", "counting", "smallest", 57600)],
    ids=["512 bytes", "2 KB"],
)
def test_avrdude_loads_an_erased_chip_and_the_board_answers(tmp_path, kind, board, target, speed):
    with erased_chip(kind, target) as port:
        done = winder(
            "bench", "load", "--port", port, "--board", board, cwd=tmp_path, typed="yes\n"
        )
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"Loaded and verified, at {speed} baud." in done.stdout
    assert "It answers as" in done.stdout


def make_load(build: Path, typed: str, *words: str) -> subprocess.CompletedProcess[str]:
    called = ["make", "-C", str(FIRMWARE), f"BUILD={build}", "load", *words]
    return subprocess.run(
        called, capture_output=True, text=True, input=typed, timeout=240, check=False
    )


@needs_cross_tools
@needs_loaders
@needs_avrdude
def test_who_builds_loads_with_make_through_the_second_kind_of_loader(tmp_path):
    with erased_chip("large", "smallest") as port:
        done = make_load(tmp_path, "yes\n", f"PORT={port}", "BOARD=smallest")
        assert done.returncode == 0, done.stdout + done.stderr
        assert "Loaded and verified, at 57600 baud." in done.stdout
        assert introduced(port).board


@needs_cross_tools
@needs_avrdude
def test_make_load_without_a_port_or_a_yes_loads_nothing(tmp_path):
    done = make_load(tmp_path, "yes\n", "BOARD=smallest")
    assert done.returncode == 2 and "name the port" in done.stderr
    done = make_load(tmp_path, "no\n", "BOARD=smallest", "PORT=/dev/none")
    assert done.returncode == 2 and "Nothing was loaded." in done.stderr
