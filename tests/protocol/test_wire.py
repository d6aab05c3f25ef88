"""The register of messages: layouts, packing, and what happens to payloads that are not as expected."""

import dataclasses
import enum
import struct
from typing import Annotated

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import messages as m
from firmware_protocol.wire import (
    GROUPS6,
    LAYOUT_OF,
    PAYLOAD_BYTES_MAX,
    REGISTER,
    TEXT10,
    U8,
    FieldLayout,
    Group,
    MessageLayout,
    PayloadError,
    Sender,
    as_word,
    message,
    pack,
    unpack,
)

LAYOUTS = [REGISTER[kind] for kind in sorted(REGISTER)]
by_class = pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.cls.__name__)


def values_of(field: FieldLayout) -> st.SearchStrategy:
    if field.kind is TEXT10:
        return st.text(st.characters(min_codepoint=1, max_codepoint=127), max_size=10)
    if field.kind is GROUPS6:
        return st.binary(min_size=6, max_size=6)
    numbers = st.integers(field.kind.low, field.kind.high)
    if field.vocabulary is None:
        return numbers
    return st.one_of(
        numbers.map(lambda n: as_word(field.vocabulary, n)), st.sampled_from(field.vocabulary)
    )


def messages_of(layout: MessageLayout) -> st.SearchStrategy:
    return st.builds(layout.cls, *(values_of(field) for field in layout.fields))


any_message = st.one_of([messages_of(layout) for layout in LAYOUTS])


def an_example(layout: MessageLayout, **changed: object) -> object:
    plain = {TEXT10: "bench", GROUPS6: b"\1\0\0\0\0\0"}
    values = {field.name: plain.get(field.kind, 1) for field in layout.fields}
    return layout.cls(**(values | changed))


@by_class
def test_fields_lie_close_together_and_fit_a_frame(layout):
    offset = 0
    for field in layout.fields:
        assert field.offset == offset
        assert struct.calcsize("<" + field.kind.code) == field.kind.size
        offset += field.kind.size
    assert layout.size == offset <= PAYLOAD_BYTES_MAX


@by_class
def test_the_highest_bit_of_a_kind_tells_the_sender(layout):
    assert (layout.sender is Sender.BOARD) == (layout.kind >= 0x80)


@by_class
def test_every_numbered_command_comes_from_the_host_and_begins_with_the_token(layout):
    if layout.numbered:
        assert layout.sender is Sender.HOST
        assert layout.fields[0].name == "token"


@by_class
def test_a_vocabulary_fits_its_field(layout):
    for field in layout.fields:
        for word in field.vocabulary or field.bits or ():
            assert field.kind.low <= int(word) <= field.kind.high
        assert (field.unit == "bits") == (field.bits is not None)


@pytest.mark.parametrize("bits", [m.Flag, m.Has, m.Kept])
def test_flags_are_single_bits_without_gaps(bits):
    assert [int(bit) for bit in bits] == [1 << i for i in range(len(bits))]


@given(any_message)
def test_what_is_packed_is_read_again(sent):
    layout = LAYOUT_OF[type(sent)]
    payload = pack(sent)
    assert len(payload) == layout.size
    assert unpack(layout.kind, payload) == sent


@given(any_message, st.binary(min_size=1, max_size=40))
def test_a_longer_payload_is_read_to_the_known_length(sent, more):
    assert unpack(LAYOUT_OF[type(sent)].kind, pack(sent) + more) == sent


@by_class
def test_every_shorter_payload_is_refused(layout):
    payload = pack(an_example(layout))
    for size in range(layout.size):
        with pytest.raises(PayloadError, match=f"{size} bytes, at least {layout.size} needed"):
            unpack(layout.kind, payload[:size])


@given(st.sampled_from(LAYOUTS), st.binary(max_size=PAYLOAD_BYTES_MAX))
def test_any_payload_is_read_or_refused(layout, payload):
    if len(payload) < layout.size:
        with pytest.raises(PayloadError):
            unpack(layout.kind, payload)
    else:
        assert isinstance(unpack(layout.kind, payload), layout.cls)


@by_class
def test_a_number_that_no_word_has_is_kept(layout):
    for field in layout.fields:
        if field.vocabulary is not None:
            payload = bytearray(pack(an_example(layout)))
            payload[field.offset] = 250
            value = getattr(unpack(layout.kind, bytes(payload)), field.name)
            assert value == 250
            assert not isinstance(value, enum.Enum)
            assert pack(unpack(layout.kind, bytes(payload))) == bytes(payload)


def test_a_known_number_becomes_its_word():
    answer = unpack(0x83, bytes.fromhex("03 05 11 00 00 00 00 00"))
    assert answer.verdict is m.Verdict.STALE


def test_an_unknown_kind_is_a_key_error():
    with pytest.raises(KeyError):
        unpack(0x7F, b"")


@by_class
def test_a_number_that_does_not_fit_is_refused(layout):
    for field in layout.fields:
        if field.kind in (TEXT10, GROUPS6):
            continue
        for wrong in (field.kind.low - 1, field.kind.high + 1, 1.5, None, "1"):
            with pytest.raises(PayloadError):
                pack(an_example(layout, **{field.name: wrong}))


@pytest.mark.parametrize("name", ["eleven chrs", "Spüle", "a\0b", b"bytes", None])
def test_a_board_name_that_would_be_cut_is_refused(name):
    with pytest.raises(PayloadError, match="board"):
        pack(an_example(LAYOUT_OF[m.Welcome], board=name))


@pytest.mark.parametrize("groups", [b"", b"\1" * 5, b"\1" * 7, "111111", 1])
def test_group_versions_that_would_be_cut_are_refused(groups):
    with pytest.raises(PayloadError, match="groups"):
        pack(an_example(LAYOUT_OF[m.Welcome], groups=groups))


def test_a_name_of_hostile_bytes_is_still_read():
    payload = bytearray(pack(an_example(LAYOUT_OF[m.Welcome])))
    at = next(f.offset for f in LAYOUT_OF[m.Welcome].fields if f.name == "board")
    payload[at : at + 10] = b"\xff\x1b[2J\x80\x00\x07zz"
    assert unpack(0x81, bytes(payload)).board == "\ufffd\x1b[2J\ufffd"


def test_a_kind_cannot_be_taken_twice():
    @dataclasses.dataclass(frozen=True)
    class Second:
        number: Annotated[int, U8, "", ""]

    with pytest.raises(TypeError, match="0x01 is taken by Hello"):
        message(0x01, Group.BASE, Sender.HOST)(Second)
    assert REGISTER[0x01].cls is m.Hello


def test_a_message_that_no_frame_holds_is_not_registered():
    columns = [(f"f{i}", Annotated[int, U8, "", ""]) for i in range(PAYLOAD_BYTES_MAX + 1)]
    TooLong = dataclasses.make_dataclass("TooLong", columns, frozen=True)
    with pytest.raises(TypeError, match="57 bytes; 56 fit"):
        message(0x7E, Group.BASE, Sender.HOST)(TooLong)
    assert 0x7E not in REGISTER
