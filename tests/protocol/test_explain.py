"""Recordings told as sentences: nothing left out, nothing invented, and no input that breaks it."""

import io
import string
import subprocess
import sys

import pytest
from golden_reading import streams, vectors
from hypothesis import given
from hypothesis import strategies as st

from firmware_protocol import explain as explain_module
from firmware_protocol import messages as m
from firmware_protocol.explain import SENTENCES, Explainer, explain, main
from firmware_protocol.framing import encode_frame, encode_message
from firmware_protocol.wire import LAYOUT_OF


def told(stream: bytes) -> list[str]:
    return list(explain(iter([stream])))


def line(frame: bytes) -> str:
    (only,) = told(frame)
    return only


@pytest.mark.parametrize("cls", LAYOUT_OF, ids=lambda cls: cls.__name__)
def test_a_sentence_names_every_field(cls):
    named = {name for _, name, _, _ in string.Formatter().parse(SENTENCES[cls]) if name}
    assert named == {field.name for field in LAYOUT_OF[cls].fields}


def test_every_golden_frame_is_told_by_its_name():
    golden = vectors()
    lines = told(b"".join(vector.bytes for vector in golden))
    assert len(lines) == len(golden)
    place = 0
    for vector, text in zip(golden, lines, strict=True):
        name = explain_module.words_of(vector.message)
        sender = "board" if vector.kind >= 0x80 else "host"
        assert text.split()[:2] == [str(place), sender]
        assert name in text
        assert "damaged" not in text and "malformed" not in text
        place += len(vector.bytes)


def test_a_status_is_told_in_the_words_of_the_trade():
    status = m.Status(
        m.State.SLOWING,
        m.Reason.LEASE_LOST,
        0,
        0x0A,
        -5,
        1,
        -1500,
        250,
        255,
        3,
        0xCAFE,
        7,
        900,
        4,
        2,
    )
    assert line(encode_message(status)) == (
        "       0 board status: slowing, reason lease lost, trip none; -5 counts of wind 0000cafe at "
        "-1.500 counts/s, 1 counts unattributed; driven, wire present; guide at 250 um; "
        "leg none of plan 3; boot 7, up 900 ms, revision 4; 2 counts implausible"
    )


def test_an_answer_tells_what_it_answers():
    answer = m.Answer(0x10, m.Verdict.STALE, 9, 0)
    assert line(encode_message(answer, 3)) == (
        "       0 board answer #3: to open wind: stale, revision 9, detail 00000000"
    )


def test_numbers_without_a_word_are_shown_as_numbers():
    assert "unknown (99)" in line(encode_message(m.Answer(0x7E, 99, 0, 0)))
    assert "unknown kind 0x7e" in line(encode_message(m.Answer(0x7E, 99, 0, 0)))
    strange = m.pedal.PedalStatus(0x81, 0)
    assert "armed, unknown bits 0x80" in line(encode_message(strange))


def test_an_unknown_kind_shows_its_bytes_and_guesses_the_sender():
    assert line(encode_frame(0x6F, 5, b"\1\2")).split(maxsplit=1)[1] == (
        "host  unknown kind 0x6f #5, payload 01 02"
    )
    assert "board unknown kind 0xef, payload empty" in line(encode_frame(0xEF, 0, b""))


def test_short_and_long_payloads_are_told():
    assert "malformed: Status: 3 bytes, at least 34 needed" in line(encode_frame(0x82, 0, b"abc"))
    assert "and 2 bytes that are not known here" in line(encode_frame(0x03, 0, b"ab"))


def test_damage_is_told_with_its_reason():
    assert "CRC 6a74413c where 6af4413c is due, perhaps stop" in line(
        bytes.fromhex("02 03 05 3c 41 74 6a 00")
    )
    assert "points past the end" in line(bytes.fromhex("06 03 05 00"))
    assert "too short" in line(bytes.fromhex("02 03 00"))
    assert "over 63 bytes without a zero" in line(b"\x01" * 70 + b"\0")
    assert "unfinished: 70 bytes" in line(b"\x01" * 70)


def test_a_board_name_cannot_write_on_the_terminal():
    payload = bytearray(next(v.payload for v in vectors() if v.message == "Welcome"))
    payload[11:21] = b"\x1b]0;x\x07\xff\x9b\n"
    text = line(encode_frame(0x81, 0, bytes(payload)))
    assert text.isprintable() and text.isascii()


@given(st.lists(st.binary(max_size=120), max_size=8))
def test_hostile_bytes_are_told_in_printable_lines(chunks):
    lines = list(explain(iter(chunks)))
    assert all(text.isprintable() for text in lines)
    runs = [run for run in b"".join(chunks).split(b"\0") if run]
    assert len(lines) == len(runs)


@given(st.integers(0, 255), st.integers(0, 255), st.binary(max_size=56))
def test_any_frame_with_a_right_crc_is_told(kind, sequence, payload):
    text = line(encode_frame(kind, sequence, payload))
    assert text.isprintable() and "damaged" not in text


@given(st.data())
def test_how_the_bytes_arrive_does_not_matter(data):
    stream = b"".join(vector.bytes for vector in vectors()[:6])
    stream += b"".join(damage.bytes for damage in streams())
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=9)))
    chunks = [stream[a:b] for a, b in zip([0, *cuts], [*cuts, len(stream)], strict=True)]
    assert list(explain(iter(chunks))) == told(stream)


def test_a_stream_without_zeros_takes_no_memory():
    explainer = Explainer()
    for _ in range(100):
        explainer.feed(b"\x01" * 10_000)
        assert len(explainer._held) <= 64
    (last,) = explainer.finish()
    assert "1000000 bytes" in last


def test_a_file_is_told_line_by_line(tmp_path, capsys):
    recording = tmp_path / "recording"
    recording.write_bytes(encode_message(m.Stop()) + encode_message(m.Hello(1, 5)))
    assert main([str(recording)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "       0 host  stop: slow down and come to rest",
        "       8 host  hello: opens session 00000005, speaks base version 1",
    ]


def test_standard_input_is_told_too(monkeypatch, capsys):
    stream = io.TextIOWrapper(io.BytesIO(encode_message(m.Stop())))
    monkeypatch.setattr(sys, "stdin", stream)
    assert main(["-"]) == 0
    assert "stop: slow down" in capsys.readouterr().out


def test_a_file_that_is_not_there_is_one_clear_error(tmp_path, capsys):
    assert main([str(tmp_path / "none")]) == 2
    written = capsys.readouterr()
    assert written.out == ""
    assert "none: cannot be read (No such file or directory); name a file" in written.err


@pytest.mark.parametrize("arguments", [[], ["a", "b"]])
def test_a_wrong_call_tells_the_right_one(arguments, capsys):
    assert main(arguments) == 2
    assert "usage" in capsys.readouterr().out


def test_a_reader_that_goes_away_is_no_error(tmp_path):
    recording = tmp_path / "recording"
    recording.write_bytes(encode_message(m.Stop()) * 20_000)
    command = [sys.executable, "-m", "firmware_protocol.explain", str(recording)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout.readline()
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 0
