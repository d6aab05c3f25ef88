"""The C core built for this computer and called through ctypes: a board, a counter, and a scripted board.

Built by the makefile once per content, into a folder of the temporary directory named by a hash of the
sources. A library holds one board, so each ``Core`` loads a copy of its own; nothing is shared.
"""

from __future__ import annotations

import ctypes
import dataclasses
import functools
import getpass
import hashlib
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

from firmware_protocol.body import Identity
from firmware_protocol.messages import Welcome
from firmware_protocol.settings import Settings
from firmware_protocol.wire import GROUPS6, I32, LAYOUT_OF, TEXT10, U8, U16, U32

FIRMWARE = Path(__file__).parents[3] / "firmware_protocol" / "firmware"
SENT_BYTES_MAX = 1 << 16

needs_compiler = pytest.mark.skipif(
    shutil.which("gcc") is None or shutil.which("make") is None,
    reason="NOT RUN, the C core was not tested: gcc or make missing (apt-get install gcc make)",
)
CLANG = next((name for name in ("clang", "clang-14") if shutil.which(name)), None)
needs_clang = pytest.mark.skipif(
    CLANG is None,
    reason="NOT RUN, nothing was fuzzed: clang missing (apt-get install clang-14 libclang-rt-14-dev)",
)


def run(command: list[str], **more: object) -> str:
    done = subprocess.run(command, capture_output=True, text=True, **more)  # type: ignore[call-overload]
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}{done.stderr}"
    return str(done.stdout)


def digest_of(folder: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if (
            path.is_file()
            and path.parent.name != "build"
            and path.suffix in (".c", ".h", ".mk", "")
        ):
            digest.update(str(path.relative_to(folder)).encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:20]


@functools.cache
def built(target: str, sources: Path = FIRMWARE) -> Path:
    """The folder with everything that ``make target`` builds from these sources."""
    counting = os.environ.get("CORE_COVERAGE_FOLDER")  # tests.campaigns.core_coverage
    if counting and target == "host":
        run(["make", "-C", str(sources), target, f"BUILD={counting}", "CFLAGS=-O0 -g --coverage"])
        return Path(counting)
    cache = Path(tempfile.gettempdir()) / f"exact-turns-core-{getpass.getuser()}"
    cache.mkdir(exist_ok=True)
    # Of planted mistakes: a test has to notice them, not a compiler's warning.
    quick = os.environ.get("CORE_QUICKLY_BUILT")
    folder = cache / f"{target}-{digest_of(sources)}{'-quick' if quick else ''}"
    if not folder.exists():
        fresh = Path(tempfile.mkdtemp(dir=cache))
        # Sanitizers make compilers warn of what is not there, so only the plain build is strict.
        strict = ["CFLAGS=-O2 -g -Werror"] if target == "host" else []
        if quick and target == "host":
            strict = ["CFLAGS=-O0 -w"]
        run(["make", "-C", str(sources), target, f"BUILD={fresh}", *strict])
        try:
            os.rename(fresh, folder)
        except OSError:  # another process was first, with the same content
            shutil.rmtree(fresh)
    return folder


_C_TYPES = {
    U8: ctypes.c_uint8,
    U16: ctypes.c_uint16,
    U32: ctypes.c_uint32,
    I32: ctypes.c_int32,
    TEXT10: ctypes.c_uint8 * 10,
    GROUPS6: ctypes.c_uint8 * 6,
}


def _c_fields(message: type) -> tuple[tuple[str, type], ...]:
    """The struct of a message as the generated header has it."""
    return tuple((field.name, _C_TYPES[field.kind]) for field in LAYOUT_OF[message].fields)


class CIdentity(ctypes.Structure):
    _fields_ = _c_fields(Welcome)


class CSettings(ctypes.Structure):
    _fields_ = _c_fields(Settings)


class CHost(ctypes.Structure):
    _fields_ = (
        ("clock", ctypes.c_uint32),
        ("duty_permille", ctypes.c_uint16),
        ("brake_permille", ctypes.c_uint16),
        ("reverse", ctypes.c_bool),
        ("direction_sense", ctypes.c_bool),
        ("guard_open", ctypes.c_bool),
        ("wire_lost", ctypes.c_bool),
        ("stop_pressed", ctypes.c_bool),
        ("pedal_pressed", ctypes.c_bool),
        ("limit_met", ctypes.c_bool),
        ("nv_write_ms", ctypes.c_uint16),
        ("nv_wait_ms", ctypes.c_uint16),
        ("watchdog_kicks", ctypes.c_uint32),
        ("nv_writes", ctypes.c_uint32),
        ("nv", ctypes.c_uint8 * 1024),
        ("step_high", ctypes.c_bool),
        ("step_rightward", ctypes.c_bool),
        ("steps_a_ms", ctypes.c_uint8),
        ("guide_steps", ctypes.c_int32),
        ("contactor", ctypes.c_bool),
        ("bounce_ticks", ctypes.c_uint16),
        ("least_ticks", ctypes.c_uint16),
        ("off_clock", ctypes.c_uint32),
        ("gap_ticks", ctypes.c_uint32),
        ("overlapped", ctypes.c_bool),
        ("last_driven", ctypes.c_bool),
        ("last_braked", ctypes.c_bool),
        ("nv_writes_most", ctypes.c_uint32),
        ("worn_at", ctypes.c_uint16),
        ("worn_bytes", ctypes.c_uint16),
        ("locks_to_edge", ctypes.c_uint32),
    )


class CModel(ctypes.Structure):
    _fields_ = (
        ("free_cps", ctypes.c_double),
        ("accel_cps2", ctypes.c_double),
        ("friction_cps2", ctypes.c_double),
        ("brake_cps2", ctypes.c_double),
        ("uneven", ctypes.c_double),
        ("held", ctypes.c_bool),
        ("dark", ctypes.c_bool),
        ("place", ctypes.c_double),
        ("speed_cps", ctypes.c_double),
        ("next_up", ctypes.c_double),
        ("next_down", ctypes.c_double),
        ("tick_rest", ctypes.c_double),
    )


def load(name: str, target: str = "host") -> ctypes.CDLL:
    """A library of its own: loaded from a copy, for a second load of one path gives the first again."""
    if target == "host-sanitized":
        name = name.replace(".so", "-sanitized.so")
    original = built(target) / name
    with tempfile.NamedTemporaryFile(suffix=".so", delete=False) as copy:
        copy.write(original.read_bytes())
    try:
        return ctypes.CDLL(copy.name)
    finally:
        os.unlink(copy.name)


_SAID = tuple(f.name for f in dataclasses.fields(Identity) if f.name not in ("settings", "pins"))


def set_identity(library: ctypes.CDLL, identity: Identity) -> None:
    """Make the board say of itself what ``identity`` says."""
    fill_identity(
        CIdentity.in_dll(library, "identity"), CSettings.in_dll(library, "settings"), identity
    )


def fill_identity(mine: CIdentity, settings: CSettings, identity: Identity) -> None:
    for name in _SAID:
        value = getattr(identity, name)
        if name == "board":
            value = (ctypes.c_uint8 * 10)(*value.encode("ascii"))
        elif name == "groups":
            value = (ctypes.c_uint8 * 6)(*value)
        setattr(mine, name, value)
    for name, _ in CSettings._fields_:
        setattr(settings, name, getattr(identity.settings, name))


class Core:
    """One board: bytes, edges and milliseconds in; bytes and outputs out."""

    def __init__(self, name: str = "libboard.so", target: str = "host") -> None:
        self.library = load(name, target)
        told = ctypes.c_uint32.in_dll(self.library, "host_bytes").value
        assert told == ctypes.sizeof(CHost), "CHost is not what port.h says"
        self.host = CHost.in_dll(self.library, "host")
        self.identity = CIdentity.in_dll(self.library, "identity")
        self.settings = CSettings.in_dll(self.library, "settings")
        ctypes.memset(self.host.nv, 0xFF, 1024)  # as memory comes from the factory
        self._sent = (ctypes.c_uint8 * SENT_BYTES_MAX)()
        self.library.host_sent.restype = ctypes.c_size_t

    def boot(self, by_watchdog: bool = False) -> None:
        self.library.host_boot(ctypes.c_bool(by_watchdog))

    def receive(self, data: bytes) -> None:
        self.library.host_receive(data, ctypes.c_size_t(len(data)))

    def pass_ms(self, span_ms: int = 1) -> None:
        for _ in range(span_ms):
            self.library.host_millisecond()

    def edge(self, backward: bool = False) -> None:
        self.library.host_edge(ctypes.c_bool(backward))

    def data_to_send(self) -> bytes:
        length = self.library.host_sent(self._sent, ctypes.c_size_t(SENT_BYTES_MAX))
        return bytes(self._sent[:length])


class Machine(Core):
    """A board with the model of a spindle under it. ``turned`` is the truth, in counts."""

    def __init__(self, seed: int = 1, brake: bool = True, target: str = "host") -> None:
        super().__init__("libboard.so", target)
        self.settings.brake_permille = 500 if brake else 0
        self.model = CModel.in_dll(self.library, "model")
        self.library.model_build(ctypes.c_uint32(seed), ctypes.c_bool(brake))
        self.turned = 0

    def pass_ms(self, span_ms: int = 1) -> None:
        self.turned = self.library.model_run(ctypes.c_uint32(span_ms))
