"""Every key's line is found, whatever way of TOML it is written in; what is not TOML is told plainly."""

from __future__ import annotations

import os
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.errors import FileComplaints, UserMistake
from winder.files.tomlfile import FILE_BYTES_MAX, read_toml, read_toml_text

# Values with their number of lines; some hold what looks like keys, tables and comments.
VALUES = [
    ("5000", 1),
    ('"9.5 mm"', 1),
    ('"a # b = \\"c\\" ]"', 1),
    ("'[x] = \"'", 1),
    ('"""\n[bobbin]\nwidth = 3\n"""', 4),
    ("'''a\n# '' b = 1'''", 2),
    ('""""quoted""""', 1),
    ("[1, 2]", 1),
    ('[\n  1, # one ]\n  "]", \n]', 4),
    ("[{ a = 1, b = 2 }, { a = 3 }]", 1),
    ("{}", 1),
    ("{ inner = 1, deep.er = { most = [3] } }", 1),
    ("1979-05-27T07:32:00Z", 1),
    ("true # a comment [", 1),
]
FILLERS = ["", "# width = 3", "   ", "# [bobbin]"]


@st.composite
def documents(draw):
    """A TOML document and the line of each of its keys, as they were put down."""
    lines: dict[tuple[str, ...], int] = {}
    text, line = "", 1
    table: tuple[str, ...] = ()
    for number in range(draw(st.integers(1, 12))):
        for filler in draw(st.lists(st.sampled_from(FILLERS), max_size=2)):
            text, line = text + filler + "\n", line + 1
        if draw(st.integers(0, 3)) == 0:
            table = draw(st.sampled_from([(f"t{number}",), (f"t{number}", "sub")]))
            text += draw(st.sampled_from(["[{}]\n", "  [ {} ] # so\n"])).format(".".join(table))
            lines[table] = line
            line += 1
            continue
        key = draw(st.sampled_from([(f"k{number}",), (f"d{number}", "of", "x"), (f"q {number}",)]))
        parts = [f'"{part}"' if " " in part else part for part in key]
        value, height = draw(st.sampled_from(VALUES))
        equals = draw(st.sampled_from([" = ", "=", "\t=  "]))
        text += draw(st.sampled_from([".", " . "])).join(parts) + equals + value + "\n"
        lines[table + key] = line
        line += height
    newline = draw(st.sampled_from(["\n", "\r\n"]))
    return text.replace("\n", newline), lines


@given(documents())
def test_every_key_is_found_on_the_line_it_was_written_on(document):
    text, lines = document
    tomllib.loads(text)  # or the document would prove nothing
    file = read_toml_text(text, "file")
    assert {path: file.line_of(path) for path in lines} == lines


def test_keys_inside_inline_tables_have_the_line_of_their_own():
    text = (
        'a = 1\nbobbin = { shape = "round", size = { across = 3 } }\n[[x]]\ny = 1\n[[x]]\ny = 2\n'
    )
    file = read_toml_text(text, "file")
    assert file.line_of(("bobbin", "size", "across")) == 2
    assert file.line_of(("bobbin", "nothing")) == 2  # the nearest that is there
    assert file.line_of(("x", 0, "y")) == 4
    assert file.line_of(("x", 1, "y")) == 6
    assert file.line_of(("nothing",)) == 0


SYNTAX = [
    # text, line, field, word of the remedy
    ("width = 9.5 mm\n", 1, "width", 'width = "9.5 mm"'),
    ("[bobbin]\r\nlength = 3\r\nwidth = 9,5 mm\r\n", 3, "bobbin.width", 'width = "9.5 mm"'),
    ("[bobbin]\nshape = round\n", 2, "bobbin.shape", 'shape = "round"'),
    ('[bobbin]\nwidth = "9.5 mm\nlength = 3\n', 2, "bobbin.width", "quotes are closed"),
    ("[bobbin\nwidth = 3\n", 1, "text", "[bobbin]"),
    ("just words\n", 1, "text", "key = value"),
    ("a = 1\n\nb =\n", 3, "b", "key = value"),
    ("pauses = [1, 2\n\n\n", 1, "pauses", "bracket"),
    ('a = 1\nnote = """\nnever\nclosed\n', 2, "note", "every quote"),
    ("a = 1\n[b", 2, "text", "[bobbin]"),
    ("a = 1\n[", 2, "text", "[bobbin]"),
    ("a = 1\nb = 2\na = 3\n", 3, "a", "one of the two"),
    ("[t]\nx = 1\n[u]\n[t]\n", 4, "t", "one of the two"),
    ("[t]\nx = 1\nx = '''\n\n'''\n", 3, "t.x", "one of the two"),
    ("t = { x = 1, x = 2 }\n", 1, "t.x", "one of the two"),
    ("a = 1\nb = " + "[" * 9999 + "\n", 2, "text", "take out"),
    ("a = 1\nb = " + "9" * 9999 + "\n", 2, "text", "shorter"),
    ("a = 1\nb = 1979-13-40\n", 2, "b", 'b = "1979-13-40"'),
    ("a = 1\n\x00\n", 2, "text", "key = value"),
]


@pytest.mark.parametrize(("text", "line", "field", "remedy"), SYNTAX)
def test_what_is_not_toml_is_told_with_line_field_and_remedy(text, line, field, remedy):
    with pytest.raises(FileComplaints) as caught:
        read_toml_text(text, "my.toml")
    (complaint,) = caught.value.complaints
    assert (complaint.line, complaint.field) == (line, field)
    assert remedy in complaint.remedy
    assert str(caught.value).isprintable()


def test_a_key_said_twice_is_told_beside_other_trouble():
    with pytest.raises(FileComplaints) as caught:
        read_toml_text("a = 1\nb = 3 mm\na = 2\n", "my.toml")
    other, twice = caught.value.complaints
    assert (other.line, other.field) == (2, "b")
    assert (twice.line, twice.what) == (3, "this was said before on line 1")


def test_a_byte_order_mark_and_windows_lines_mean_nothing(tmp_path):
    path = tmp_path / "my.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\r\nb = 2\r\n")
    file = read_toml(path)
    assert file.values == {"a": 1, "b": 2}
    assert file.line_of(("b",)) == 2


def test_text_that_is_not_utf8_is_told_with_its_line(tmp_path):
    path = tmp_path / "my.toml"
    path.write_bytes(b'a = 1\nnote = "50 \xb5m"\n')
    with pytest.raises(FileComplaints) as caught:
        read_toml(path)
    assert caught.value.complaints[0].line == 2
    assert "UTF-8" in caught.value.complaints[0].remedy


def test_what_cannot_be_read_is_a_mistake_with_a_remedy(tmp_path):
    (tmp_path / "coil.toml").write_text("")
    (tmp_path / "large.toml").write_bytes(b"#" * (FILE_BYTES_MAX + 1))
    (tmp_path / "full.toml").write_bytes(b"#" * FILE_BYTES_MAX)
    read_toml(tmp_path / "full.toml")
    for name, what, remedy in [
        ("coil.tml", "no such file", "coil.toml"),
        ("nothing/at/all", "no such file", "directory"),
        ("", "directory", "inside"),
        ("large.toml", "1 MB", "another"),
        ("coil.toml/x", "cannot be read", "another"),
        ("n" * 5000, "cannot be read", "another"),
        ("nul\x00", "cannot be read", "another"),
    ]:
        with pytest.raises(UserMistake) as caught:
            read_toml(f"{tmp_path}/{name}")
        assert what in caught.value.what
        assert remedy in caught.value.remedy
        assert caught.value.exit_code == 2


def test_a_pipe_or_a_device_is_refused_at_once_and_never_waited_for(tmp_path):
    pipe = tmp_path / "recipe.toml"
    os.mkfifo(pipe)
    for place in (pipe, "/dev/zero"):
        with pytest.raises(UserMistake) as caught:
            read_toml(place)
        assert "pipe or a device" in caught.value.what
        assert caught.value.where == str(place)


def test_a_file_that_may_not_be_read_names_the_remedy(monkeypatch):
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    # The gate may run as root, whom no permission stops.
    monkeypatch.setitem(read_toml.__globals__, "open", refuse)
    with pytest.raises(UserMistake) as caught:
        read_toml("my.toml")
    assert "permissions" in caught.value.remedy
