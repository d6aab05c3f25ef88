"""What decides, compiled for the RP2040's core, over a body that a test sets: ``ScriptedCore`` of the host, called in the
emulated chip's memory. The same calls, so the same dialogues go through both.
"""

from __future__ import annotations

import ctypes
import dataclasses
import functools
import json
import os
import subprocess
from pathlib import Path
from typing import Any

from host.core import CIdentity, CSettings, fill_identity
from host.scripted import CAsked, CFacts, CKept, as_python

from firmware_protocol.body import Facts, Identity, KeptRecord

from . import builds
from .rp2040_tools import emulator

CALL = Path(__file__).parent / "rp2040" / "call.mjs"
SENT_AT, BYTES_AT, ROOM_BYTES = (
    0x20038000,
    0x20030000,
    4096,
)  # behind the variables, below the stack
CORE = ("board", "commands", "core", "device", "far", "frame", "kept", "link", "pedal", "settings")
WORDS = ["arm-none-eabi-gcc", "-mcpu=cortex-m0plus", "-mthumb", "-O2", "-std=gnu11", "-ffreestanding", "-fno-tree-loop-distribute-patterns", "-w", "-ffunction-sections", "-fdata-sections", "-nostdlib", "-nostartfiles", "-Wl,--gc-sections", "-Wl,-Ttext=0x20000000", "-Wl,-e,scripted_boot", "-Wl,-u,scripted_receive", "-Wl,-u,scripted_tick", "-Wl,-u,script_kept", "-Iports/host", "-Icore", "-Igenerated", "-Iports/rp2040/libc"]  # fmt: skip


@functools.cache
def image() -> tuple[Path, dict[str, int]]:
    """The program, as it lies in memory, and where its names are."""
    sources = [p for p in builds.FIRMWARE.rglob("*") if p.suffix in (".c", ".h")]

    def make(folder: Path) -> None:
        files = [f"core/{name}.c" for name in CORE]
        files += ["ports/host/host.c", "ports/host/scripted.c", "ports/rp2040/libc/libc.c"]
        elf = str(folder / "scripted.elf")
        builds.run([*WORDS, *files, "-o", elf, "-lgcc"], cwd=builds.FIRMWARE)
        builds.run(["arm-none-eabi-objcopy", "-O", "binary", elf, str(folder / "scripted.bin")])

    folder = builds.built("rp2040-scripted", builds.digest_of(sources, " ".join(WORDS)), make)
    names = {}
    for line in builds.run(["arm-none-eabi-nm", str(folder / "scripted.elf")]).splitlines():
        value, _, name = line.split()
        names[name] = int(value, 16)
    assert names["_end"] <= BYTES_AT
    return folder / "scripted.bin", names


class Rp2040Scripted:
    """The C end in the chip over its scripted body."""

    def __init__(self) -> None:
        binary, self._at = image()
        self.facts, self.kept = CFacts(), CKept()
        self.identity, self.settings = CIdentity(), CSettings()
        self._process = subprocess.Popen(
            ["node", str(CALL), str(binary)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "RP2040JS": str(emulator())},
        )

    def close(self) -> None:
        self._process.kill()
        self._process.communicate()

    def _ask(self, **request: Any) -> dict[str, Any]:
        assert self._process.stdin is not None and self._process.stdout is not None
        self._process.stdin.write(json.dumps(request).encode() + b"\n")
        self._process.stdin.flush()
        line = self._process.stdout.readline()
        assert line, "the emulator ended; its last words are above"
        return dict(json.loads(line))

    def _of(self, name: str, value: ctypes.Structure) -> list[Any]:
        return [self._at[name], bytes(value).hex()]

    # --- as ScriptedCore has it -----------------------------------------------------------------

    def set_identity(self, identity: Identity) -> None:
        fill_identity(self.identity, self.settings, identity)

    def set_facts(self, facts: Facts) -> None:
        for name, _ in CFacts._fields_:
            setattr(self.facts, name, getattr(facts, name))

    def boot(
        self, boot: int, now_ms: int, by_watchdog: bool, kept: KeptRecord, moving: bool
    ) -> None:
        for field in dataclasses.fields(kept):
            setattr(self.kept, field.name, getattr(kept, field.name))
        self._ask(
            write=[
                self._of("script", self.facts),
                self._of("script_kept", self.kept),
                self._of("identity", self.identity),
                self._of("settings", self.settings),
                [self._at["script_motion"], bytes([moving]).hex()],
            ],
            go=[self._at["scripted_boot"], boot, now_ms, int(by_watchdog)],
        )

    def _called(self, name: str, write: list[Any], *arguments: int) -> bytes:
        told = self._ask(
            write=[self._of("script", self.facts), *write],
            go=[self._at[name], *arguments],
            read=[[SENT_AT, ROOM_BYTES]],
        )
        return bytes.fromhex(told["read"][0])[: told["returned"]]

    def receive(self, data: bytes, now_ms: int) -> bytes:
        write = [[BYTES_AT, data.hex()]]
        return self._called("scripted_receive", write, BYTES_AT, len(data), now_ms & 0xFFFF_FFFF, SENT_AT)  # fmt: skip

    def tick(self, now_ms: int) -> bytes:
        return self._called("scripted_tick", [], now_ms & 0xFFFF_FFFF, SENT_AT)

    def take_asked(self) -> list[tuple[int, ...]]:
        size, at = ctypes.sizeof(CAsked), self._at
        length = bytes.fromhex(self._ask(read=[[at["asked_length"], 4]])["read"][0])
        number = int.from_bytes(length, "little")
        if not number:
            return []
        told = self._ask(read=[[at["asked"], number * size]])["read"][0]
        self._ask(write=[[at["asked_length"], "00000000"]])
        lines = (CAsked * number).from_buffer_copy(bytes.fromhex(told))
        return [as_python(line.what, list(line.numbers)) for line in lines]
