"""Prints a recorded byte stream as sentences: ``python -m firmware_protocol.explain FILE`` (or ``-``).

A recording holds the raw bytes of one direction or of both, one after the other; who sent a frame
is guessed from its kind (the board's kinds have the highest bit set). Nothing is passed over: a
damaged run of bytes, an unknown kind, a payload that is too short or longer than known all get
their line, with the place of their first byte. The bytes are nobody's friend: text from a board is
shown with everything unprintable escaped, and no input ends in an error.
"""

from __future__ import annotations

import sys
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO, Any

from . import messages as m
from .far import TraverseHome, TraverseMove
from .framing import BODY_BYTES_MIN, STUFFED_BYTES_MAX, cobs_decode
from .pedal import ArmPedal, PedalStatus
from .settings import ReadSettings, Settings, WriteSettings
from .wire import LAYOUT_OF, REGISTER, TEXT10, FieldLayout, Group, PayloadError, Sender, unpack

READ_BYTES = 4096
BOARD_BIT = 0x80  # set in every kind that the board sends

_GUARDED = "(session {token}, boot {boot}, wind {wind}, revision {revision})"
SENTENCES: dict[type, str] = {
    m.Hello: "opens session {token}, speaks base version {base_version}",
    m.Alive: "sign of life {number} of session {token}",
    m.Stop: "slow down and come to rest",
    m.Welcome: "board {board} welcomes session {token}: base version {base_version}, groups {groups}, "
    "wired {has}, boot {boot}, up {uptime_ms}, plans of up to {legs_max} legs, drives up to "
    "{rate_max_mcps}, counts up to {edge_rate_max_cps}, settings {settings_hash}; kept wind "
    "{kept_wind} at {kept_count} ({kept_flags}); cuts its drive within {cut_ms}, rests within {rest_ms}",
    m.Status: "{state}, reason {reason}, trip {trip}; {count} of wind {wind} at {rate_mcps}, "
    "{unattributed} unattributed; {flags}; guide at {traverse_um}; leg {leg} of plan {generation}; "
    "boot {boot}, up {uptime_ms}, revision {revision}; {implausible} implausible",
    m.Answer: "to {to}: {verdict}, revision {revision}, detail {detail}",
    m.OpenWind: "open wind {wind} (session {token}, boot {boot}, revision {revision})",
    m.SetTarget: "call out at {count}, warn {warn_before} before " + _GUARDED,
    m.CloseWind: "close the wind " + _GUARDED,
    m.SettleNumber: "settle this number (session {token})",
    m.ClearTrip: "clear the trip {trip} " + _GUARDED,
    m.Start: "wind on by plan {generation} " + _GUARDED,
    m.Move: "move the spindle by {counts} at {rate_mcps}, {accel_mcps2} " + _GUARDED,
    m.Pace: "wind at {permille} of each leg's speed " + _GUARDED,
    m.Cut: "drive off and brake on, now",
    m.TraverseStep: "move the guide by {distance_um} " + _GUARDED,
    m.TraverseMark: "the guide touches the {side} side, which is at {at_um} " + _GUARDED,
    m.PlanBegin: "plan {generation} of {legs} legs follows " + _GUARDED,
    m.PlanLeg: "leg {index} of plan {generation}: up to {end_count}, then {end_action}; spindle "
    "{spindle}, {rate_mcps}, {accel_mcps2}, creep {creep_mcps}, coasts {coast_counts}; guide "
    "{pitch_nm} in {pitch_counts} between {left_um} and {right_um}, dwells {dwell_counts}, "
    "scatter {scatter_seed} (session {token})",
    m.PlanCommit: "put plan {generation} in force if its checksum is {checksum} " + _GUARDED,
}
_CONTENT = (
    "number {number}; sensor {sensor}, filter {filter_us}, bounce {bounce_us}, least period {least_period_us}; "
    "driver {driver}, on while low: {low}, wired: {inputs}, line {line}, dead time {dead_ms}; drives up to "
    "{rate_max_mcps}, at full duty {full_rate_mcps} and {full_accel_mcps2}, friction {friction_permille}, brake "
    "{brake_permille}, cut within {cut_ms}, at rest within {rest_ms}; guide: {step_pm} a step, {travel_steps} of "
    "travel, up to {steps_a_ms}"
)
SENTENCES |= {
    TraverseHome: "lead the guide to its limit switch, which is at {at_um}, at up to {rate_um_s}, {accel_um_s2} "
    + _GUARDED,
    TraverseMove: "move the guide by {distance_um} at up to {rate_um_s}, {accel_um_s2} " + _GUARDED,
    ArmPedal: "wind on by plan {generation} while the pedal is pressed " + _GUARDED,
    PedalStatus: "foot pedal: {flags}; revision {revision}",
    ReadSettings: "which settings are in force?",
    Settings: _CONTENT,
    WriteSettings: "keep settings and boot anew (session {token}, boot {boot}, revision {revision}): "
    + _CONTENT,
}
_HEX_FIELDS = {"token", "wind", "kept_wind", "settings_hash", "checksum", "detail"}


def kind_name(kind: int) -> str:
    """``open wind`` for 0x10; the number itself for a kind that is not in the register."""
    layout = REGISTER.get(kind)
    return words_of(layout.cls.__name__) if layout else f"unknown kind 0x{kind:02x}"


def words_of(name: str) -> str:
    """``OpenWind`` and ``WIRE_LOST`` as a person writes them: open wind, wire lost."""
    if name.isupper():
        return name.replace("_", " ").lower()
    return "".join(f" {c.lower()}" if c.isupper() else c for c in name).strip()


def field_words(field: FieldLayout, value: Any) -> str:
    """One value of a message, with its unit, as it stands in a sentence."""
    if field.vocabulary is not None:
        named = isinstance(value, field.vocabulary)
        return words_of(value.name) if named else f"unknown ({value})"
    if field.bits is not None:
        names = [words_of(str(bit.name)) for bit in field.bits if bit & value]
        rest = value & ~sum(field.bits)
        return ", ".join([*names, f"unknown bits 0x{rest:02x}"] if rest else names) or "no bit set"
    if field.kind is TEXT10:
        return ascii(value)  # a board's text is printed, never trusted
    if isinstance(value, bytes):
        versions = [f"{words_of(Group(i).name)} {v}" for i, v in enumerate(value, 1) if v]
        return ", ".join(versions) or "none"
    return _number_words(field, value)


def _number_words(field: FieldLayout, value: int) -> str:
    if field.name in _HEX_FIELDS:
        return f"{value:08x}"
    if field.name == "to":
        return kind_name(value)
    if field.name == "leg" and value == m.NO_LEG:
        return "none"
    if field.unit.startswith("0.001"):  # thousandths, kept exact
        sign = "-" if value < 0 else ""
        whole, thousandths = divmod(abs(value), 1000)
        return f"{sign}{whole}.{thousandths:03d} {field.unit[6:]}".rstrip()
    return f"{value} {field.unit}".rstrip()


def message_words(message: Any) -> str:
    """A message of the register as a sentence that leaves no field out."""
    layout = LAYOUT_OF[type(message)]
    return SENTENCES[layout.cls].format_map(
        {field.name: field_words(field, getattr(message, field.name)) for field in layout.fields}
    )


def frame_words(kind: int, sequence: int, payload: bytes) -> str:
    """Any frame that passed its check: known or not, whole or not."""
    sender = Sender.BOARD if kind & BOARD_BIT else Sender.HOST
    head = f"{sender.value:5} {kind_name(kind)}" + (f" #{sequence}" if sequence else "")
    if kind not in REGISTER:
        return f"{head}, payload {payload.hex(' ') or 'empty'}"
    try:
        words = message_words(unpack(kind, payload))
    except PayloadError as trouble:
        return f"{head}, malformed: {trouble}"
    extra = len(payload) - REGISTER[kind].size
    return f"{head}: {words}" + (f"; and {extra} bytes that are not known here" if extra else "")


def piece_words(stuffed: bytes) -> str:
    """The bytes between two zeros, whatever they are."""
    if len(stuffed) > STUFFED_BYTES_MAX:
        return f"----- damaged: over {STUFFED_BYTES_MAX} bytes without a zero; no frame is so long"
    shown = stuffed.hex(" ")
    try:
        body = cobs_decode(stuffed)
    except ValueError as trouble:
        return f"----- damaged: {len(stuffed)} bytes, {trouble} [{shown}]"
    if len(body) < BODY_BYTES_MIN:
        return f"----- damaged: {len(stuffed)} bytes, too short for a frame [{shown}]"
    found, due = int.from_bytes(body[-4:], "little"), zlib.crc32(body[:-4])
    if found != due:
        return (
            f"----- damaged: {len(stuffed)} bytes, CRC {found:08x} where {due:08x} is due, "
            f"perhaps {kind_name(body[0])} [{shown}]"
        )
    return frame_words(body[0], body[1], body[2:-4])


class Explainer:
    """Bytes in as they come, lines out; holds no more than one frame's worth of bytes."""

    def __init__(self) -> None:
        self._held = bytearray()
        self._place = 0  # of the next byte in the stream
        self._begun_at = 0

    def feed(self, data: bytes) -> list[str]:
        """Lines for the runs of bytes that end in this data. A zero on its own gets none."""
        lines = []
        *whole, rest = data.split(b"\0")
        for piece in whole:
            self._hold(piece)
            if self._held:
                lines.append(f"{self._begun_at:8} {piece_words(bytes(self._held))}")
            self._held.clear()
            self._place += 1
        self._hold(rest)
        return lines

    def finish(self) -> list[str]:
        """The line, if any, for bytes that no zero followed."""
        if not self._held:
            return []
        count = self._place - self._begun_at
        self._held.clear()
        return [f"{self._begun_at:8} ----- unfinished: {count} bytes and no zero after them"]

    def _hold(self, piece: bytes) -> None:
        if piece and not self._held:
            self._begun_at = self._place
        room = STUFFED_BYTES_MAX + 1 - len(self._held)  # one too many tells that it is overlong
        self._held += piece[:room]
        self._place += len(piece)


def explain(chunks: Iterator[bytes]) -> Iterator[str]:
    """All lines of a stream that comes in chunks of any size."""
    explainer = Explainer()
    for chunk in chunks:
        yield from explainer.feed(chunk)
    yield from explainer.finish()


def _chunks(read: Callable[[int], bytes]) -> Iterator[bytes]:
    while chunk := read(READ_BYTES):
        yield chunk


def _print_stream(stream: IO[bytes]) -> None:
    read = getattr(stream, "read1", stream.read)  # a live pipe is told as it comes
    for line in explain(_chunks(read)):
        print(line, flush=True)


def main(arguments: list[str]) -> int:
    """Returns the exit code: 0, or 2 for a recording that cannot be read."""
    if len(arguments) != 1 or arguments[0] in ("-h", "--help"):
        print("usage: python -m firmware_protocol.explain FILE  (or - for standard input)")
        return 0 if arguments in (["-h"], ["--help"]) else 2
    try:
        if arguments[0] == "-":
            _print_stream(sys.stdin.buffer)
        else:
            with Path(arguments[0]).open("rb") as stream:
                _print_stream(stream)
    except BrokenPipeError:  # whoever reads our lines has seen enough
        sys.stdout = None
    except OSError as trouble:
        print(
            f"{arguments[0]}: cannot be read ({trouble.strerror}); "
            "name a file that holds the raw bytes of a link",
            file=sys.stderr,
        )
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
