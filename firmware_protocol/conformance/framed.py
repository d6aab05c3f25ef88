"""Sections 2 and 3: the line, frames, damage, kinds, long and short payloads."""

from __future__ import annotations

from ..framing import STUFFED_BYTES_MAX, encode_frame, encode_message
from ..messages import (
    BASE_VERSION,
    Alive,
    Answer,
    Flag,
    Hello,
    SettleNumber,
    Status,
    Stop,
    Verdict,
    Welcome,
)
from ..wire import LAYOUT_OF, pack
from .clauses import clause, require
from .examiner import Examiner, name, verdict_words, words

_HELLO = LAYOUT_OF[Hello].kind
_STOP = LAYOUT_OF[Stop].kind
_SETTLE = LAYOUT_OF[SettleNumber].kind
_ALIVE = LAYOUT_OF[Alive].kind
FIRST_BOARD_KIND = 0x80
LISTEN_S = 1.0


@clause(
    "3.1", "Every frame that the board sends is whole: COBS, at most 64 bytes, the right CRC-32."
)
def whole_frames(at: Examiner) -> None:
    counts = at.reader.counts
    good, damaged = counts.good, counts.damaged + counts.overlong
    at.hear(LISTEN_S)
    damaged = counts.damaged + counts.overlong - damaged
    good = counts.good - good
    require(damaged * 50 <= good, f"{damaged} of {good + damaged} frames in a second were damaged")


@clause("3.2", "A frame with a wrong CRC is not answered and does nothing.")
def wrong_crc(at: Examiner) -> None:
    revision = at.settled().revision
    for place in (1, 2, -2):
        frame = bytearray(encode_message(at.make(SettleNumber), at.next_sequence))
        frame[place] ^= 0x40 if frame[place] != 0x40 else 0x20
        at.say(b"\0", bytes(frame))
        at.silence("a frame with one bit turned")
    at.expect(at.make(SettleNumber), Verdict.DONE)
    require(at.status().revision == revision, "its revision changed")


@clause("3.3", "After any damage the next whole frame behind a zero is read.")
def after_damage(at: Examiner) -> None:
    for damage in (b"\x05\x01\x02\0", b"\xff\xfe\xfd\0", b"\x02\x03\0", b"\0\0\0", b"\x01\0"):
        at.say(b"\0", damage)
        said = at.stop()
        require(isinstance(said.message, Answer), f"a stop behind {damage.hex(' ')} went unheard")
        at.silence("damaged bytes")


@clause("3.4", "More than 63 bytes without a zero are dropped, up to the next zero.")
def overlong(at: Examiner) -> None:
    hidden = encode_message(Stop())
    for filling in (STUFFED_BYTES_MAX + 1, 2 * STUFFED_BYTES_MAX + 2, 400):
        at.say(b"\0", b"\x01" * filling, hidden)
        at.silence(f"a run of {filling} bytes without a zero with a stop at its end")
    require(isinstance(at.stop().message, Answer), "the stop behind it went unheard")


@clause("3.5", "A frame may come in pieces, a zero more or less makes no difference.")
def in_pieces(at: Examiner) -> None:
    frame = encode_message(at.make(SettleNumber) if at.status() else None, at.next_sequence)
    for place in range(len(frame) - 1):
        at.say(frame[place : place + 1])
        at.hear(0.005)
    at.say(frame[-1:], b"\0\0")
    said = at.hear(0.4)
    heard = [one for one in said if isinstance(one.message, Answer)]
    require(len(heard) == 1, f"a command sent byte by byte was answered {len(heard)} times")


@clause("3.6", "A payload longer than known is read to the known length.")
def longer(at: Examiner) -> None:
    at.status()
    payload = pack(at.make(SettleNumber)) + b"\x11\x22\x33"
    answer = at.answer_to(_SETTLE, at.next_sequence, payload)
    require(answer.verdict is Verdict.DONE, f"a longer SettleNumber got {verdict_words(answer)}")
    token = at.token
    said = at.reply(encode_frame(_HELLO, 0, pack(Hello(BASE_VERSION, token)) + b"\x99"), _HELLO)
    require(isinstance(said.message, Welcome), f"a longer hello was answered by {words(said)}")


@clause("3.7", "A shorter payload is answered MALFORMED under the frame's number, also a hello.")
def shorter(at: Examiner) -> None:
    at.status()
    for kind, payload in (
        (_SETTLE, pack(at.make(SettleNumber))[:-1]),
        (_SETTLE, b""),
        (_HELLO, pack(Hello(BASE_VERSION, at.token))[:-1]),
    ):
        answer = at.answer_to(kind, 77, payload)
        require(
            answer.verdict is Verdict.MALFORMED,
            f"{len(payload)} bytes of kind 0x{kind:02x} got {verdict_words(answer)}",
        )


@clause("3.8", "A sign of life that is too short is ignored.")
def short_life(at: Examiner) -> None:
    for size in (0, 4, 7):
        at.say(encode_frame(_ALIVE, 0, pack(Alive(at.token, 0xFFFF_0000))[:size]))
        at.silence(f"a sign of life of {size} bytes")
    require(not at.settled().flags & Flag.LEASE_LIVE, "it made the lease live")


@clause("3.9", "Kinds from 0x80 on are ignored: they can only be an echo.")
def echoes(at: Examiner) -> None:
    for kind in (FIRST_BOARD_KIND, 0x81, 0x82, 0x83, 0xC0, 0xFF):
        at.say(encode_frame(kind, 3, b"\x01" * 8))
        at.silence(f"a frame of kind 0x{kind:02x}")


@clause(
    "3.10",
    "The number of a frame that is not numbered is not looked at, and is 0 in what comes back.",
)
def unnumbered(at: Examiner) -> None:
    for sequence in (0, 1, 200, 255):
        said = at.reply(encode_message(Stop(), sequence), _STOP)
        require(said.sequence == 0, f"a stop was answered under number {said.sequence}")
        said = at.reply(encode_message(Hello(BASE_VERSION, at.token), sequence), _HELLO)
        require(isinstance(said.message, Welcome), f"a hello was answered by {words(said)}")
        require(said.sequence == 0, f"a welcome carried number {said.sequence}")


@clause("3.11", "What the board sends of kinds that are known has at least their length.")
def full_length(at: Examiner) -> None:
    at.say(encode_message(Hello(BASE_VERSION, at.token)), encode_message(Stop()))
    for one in at.hear(0.3):
        require(one.message is not None, f"the board sent {words(one)}")


def remark_on_bytes(raw: bytes) -> str:
    """What bytes look like that hold no whole frame."""
    pieces = [piece for piece in raw.split(b"\0")[1:-1] if piece]
    if not raw:
        return "nothing came at all"
    if not pieces:
        return f"{len(raw)} bytes came and no zero among them: another speed of the line?"
    return f"{len(pieces)} runs of bytes came and none of them is a whole frame with a right CRC-32"


def status_words(status: Status) -> str:
    return f"{name(status.state)}, wind {status.wind}, revision {status.revision}"
