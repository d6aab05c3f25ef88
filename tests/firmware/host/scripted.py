"""The same script for the Python device end and for the C one: same bytes, same ticks, same facts.

``Both`` gives everything to both ends and insists that they answer the same bytes and ask the same of their
bodies, in the same order. What the bodies say is set by the test; they do nothing of themselves.
"""

from __future__ import annotations

import ctypes
from dataclasses import replace

from firmware_protocol.body import Drive, Facts, Identity, KeptRecord, Order
from firmware_protocol.device import DeviceEnd
from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.messages import Side, Trip

from .core import load, set_identity

SENT_BYTES_MAX = 1 << 14
ORDERS = tuple(Order)  # in the order of enum order in body.h
OBEY, OPEN_WIND, CLOSE_WIND, MARK, STEP, KEEP, KEEP_MOTION, FAR = range(8)


class CFacts(ctypes.Structure):
    _fields_ = (
        ("count", ctypes.c_int32),
        ("rate_mcps", ctypes.c_int32),
        ("traverse_um", ctypes.c_int32),
        ("unattributed", ctypes.c_uint16),
        ("implausible", ctypes.c_uint16),
        ("trip", ctypes.c_uint8),
        ("at_rest", ctypes.c_bool),
        ("arrived", ctypes.c_bool),
        ("guard_open", ctypes.c_bool),
        ("wire_present", ctypes.c_bool),
        ("traverse_rightward", ctypes.c_bool),
        ("brake_on", ctypes.c_bool),
        ("stop_pressed", ctypes.c_bool),
        ("pedal_pressed", ctypes.c_bool),
    )


class CKept(ctypes.Structure):
    _fields_ = (
        ("wind", ctypes.c_uint32),
        ("count", ctypes.c_int32),
        ("valid", ctypes.c_bool),
        ("at_rest", ctypes.c_bool),
    )


class CAsked(ctypes.Structure):
    _fields_ = (("what", ctypes.c_int32), ("numbers", ctypes.c_int32 * 8))


def i32(value: int) -> int:
    return ctypes.c_int32(value).value


class Script:
    """The body of the Python end: says what it is told, notes what it is asked."""

    def __init__(self, kept: KeptRecord, moving: bool) -> None:
        self.moving = moving
        self.facts_told = Facts()
        self.record = kept
        self.asked: list[tuple[int, ...]] = []

    def obey(self, drive: Drive) -> None:
        move, legs = drive.move, drive.legs
        self.asked.append(
            (
                OBEY,
                ORDERS.index(drive.order),
                len(legs),
                drive.pace_permille if legs else 0,
                legs[0].generation if legs else 0,
                move.counts if move else 0,
                i32(move.rate_mcps) if move else 0,
                i32(move.accel_mcps2) if move else 0,
                legs[-1].end_count if legs else 0,
            )
        )

    def facts(self) -> Facts:
        return replace(self.facts_told)

    def zero_count(self) -> None:
        told = self.facts_told
        told.count = told.unattributed = told.implausible = 0
        self.asked.append((OPEN_WIND,))

    def mark_traverse(self, side: Side, at_um: int) -> None:
        self.asked.append((MARK, int(side), at_um))

    def step_traverse(self, distance_um: int) -> None:
        self.asked.append((STEP, distance_um))

    def lead_far(self, ask: TraverseHome | TraverseMove) -> None:
        home = isinstance(ask, TraverseHome)
        um = ask.at_um if isinstance(ask, TraverseHome) else ask.distance_um
        self.asked.append((FAR, int(home), um, i32(ask.rate_um_s), i32(ask.accel_um_s2)))

    def keep(self, record: KeptRecord) -> None:
        self.record = record
        self.asked.append((KEEP, i32(record.wind), record.count, record.valid, record.at_rest))

    def kept(self) -> KeptRecord:
        return self.record

    def keep_motion(self, moving: bool) -> None:
        self.moving = moving
        self.asked.append((KEEP_MOTION, int(moving)))

    def kept_motion(self) -> bool:
        return self.moving


class ScriptedCore:
    """The C end over its scripted body."""

    def __init__(self, target: str = "host") -> None:
        self.library = load("libscripted.so", target)
        self.facts = CFacts.in_dll(self.library, "script")
        self.kept = CKept.in_dll(self.library, "script_kept")
        self._asked = (CAsked * 4096).in_dll(self.library, "asked")
        self._asked_length = ctypes.c_uint32.in_dll(self.library, "asked_length")
        self._sent = (ctypes.c_uint8 * SENT_BYTES_MAX)()
        self._receive = self.library.scripted_receive
        self._tick = self.library.scripted_tick
        self._receive.restype = self._tick.restype = ctypes.c_size_t

    def set_identity(self, identity: Identity) -> None:
        set_identity(self.library, identity)

    def set_facts(self, facts: Facts) -> None:
        for name, _ in CFacts._fields_:
            setattr(self.facts, name, getattr(facts, name))

    def boot(
        self, boot: int, now_ms: int, by_watchdog: bool, kept: KeptRecord, moving: bool
    ) -> None:
        ctypes.c_bool.in_dll(self.library, "script_motion").value = moving
        for name, _ in CKept._fields_:
            setattr(self.kept, name, getattr(kept, name))
        self.library.scripted_boot(
            ctypes.c_uint16(boot), ctypes.c_uint32(now_ms), ctypes.c_bool(by_watchdog)
        )

    def receive(self, data: bytes, now_ms: int) -> bytes:
        length = self._receive(
            data, ctypes.c_size_t(len(data)), ctypes.c_uint32(now_ms & 0xFFFF_FFFF), self._sent
        )
        return bytes(self._sent[:length])

    def tick(self, now_ms: int) -> bytes:
        length = self._tick(ctypes.c_uint32(now_ms & 0xFFFF_FFFF), self._sent)
        return bytes(self._sent[:length])

    def take_asked(self) -> list[tuple[int, ...]]:
        taken = [
            as_python(line.what, list(line.numbers))
            for line in self._asked[: self._asked_length.value]
        ]
        self._asked_length.value = 0
        return taken


def as_python(what: int, numbers: list[int]) -> tuple[int, ...]:
    if what == OBEY:
        if numbers[1] == 0:  # no legs: the pace means nothing
            numbers[2] = 0
        return (what, *numbers)
    lengths = {OPEN_WIND: 0, MARK: 2, STEP: 1, KEEP: 4, KEEP_MOTION: 1, FAR: 4}
    return (what, *numbers[: lengths[what]])


class Both:
    """One boot of a Python end and of a C end, held to the same answers."""

    def __init__(
        self,
        core: ScriptedCore,
        identity: Identity,
        *,
        boot: int = 5,
        now_ms: int = 0,
        by_watchdog: bool = False,
        kept: KeptRecord | None = None,
        facts: Facts | None = None,
        moving: bool = False,
    ) -> None:
        kept = kept or KeptRecord()
        self.now_ms = now_ms
        self.body = Script(kept, moving)
        if facts is not None:
            self.body.facts_told = facts
        self.core = core
        core.set_identity(identity)
        core.set_facts(self.body.facts_told)
        core.boot(boot, now_ms & 0xFFFF_FFFF, by_watchdog, kept, moving)
        self.device = DeviceEnd(self.body, identity, boot, now_ms, by_watchdog)
        self._compare(b"", b"", "boot")

    def tell(self, **facts: int | bool | Trip) -> None:
        """Change what both bodies say."""
        for name, value in facts.items():
            setattr(self.body.facts_told, name, value)

    def receive(self, data: bytes) -> bytes:
        self.core.set_facts(self.body.facts_told)
        self.device.receive(data, self.now_ms)
        mine = self.device.data_to_send()
        return self._compare(mine, self.core.receive(data, self.now_ms), data.hex(" "))

    def tick(self, span_ms: int = 1) -> bytes:
        self.now_ms += span_ms
        self.core.set_facts(self.body.facts_told)
        self.device.tick(self.now_ms)
        mine = self.device.data_to_send()
        return self._compare(mine, self.core.tick(self.now_ms), f"tick of {span_ms} ms")

    def _compare(self, mine: bytes, theirs: bytes, cause: str) -> bytes:
        assert theirs == mine, f"{cause}: C answers {theirs.hex(' ')}, Python {mine.hex(' ')}"
        asked = self.core.take_asked()
        assert asked == self.body.asked, f"{cause}: C asks {asked}, Python {self.body.asked}"
        self.body.asked.clear()
        self.core.set_facts(self.body.facts_told)
        return mine
