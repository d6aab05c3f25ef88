"""Lines and tables as they are printed. Beside them stands the library that the screens use, whose breaking is right."""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from winder.commands import plain_lines
from winder.commands.plain_lines import broken, print_lines, terminal_columns, width_of
from winder.commands.plain_table import ruled_lines

SENTENCE = "the ohms are known to +-10 %, mostly because of the ohms per metre of this spool"
words = st.text(st.sampled_from("abc-.()/é線"), min_size=1, max_size=9)
sentences = st.lists(words, min_size=1, max_size=20).map(" ".join)


def console(columns: int) -> Console:
    return Console(file=io.StringIO(), width=columns, highlight=False, markup=False)


def printed_by_library(what: object, columns: int) -> list[str]:
    at = console(columns)
    at.print(what)
    return at.file.getvalue().split("\n")[:-1]


@given(sentences, st.integers(10, 100))
def test_a_sentence_is_broken_as_the_library_does(text, columns):
    assert broken(text, columns) == printed_by_library(Text(text), columns)


@given(st.text(st.characters(blacklist_categories=("C", "Z")), max_size=60), st.integers(2, 30))
def test_nothing_is_lost_and_nothing_is_too_wide(text, columns):
    lines = broken(text, columns)
    assert "".join(lines) == text
    assert all(width_of(line) <= columns for line in lines)


@pytest.mark.parametrize("text", ["", " ", "   ", "a", "a" * 80, SENTENCE])
def test_odd_lines(text):
    assert broken(text, 80) == printed_by_library(Text(text), 80)


def library_table(titles, rows, numbers: bool) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for place, title in enumerate(titles):
        table.add_column(title, justify="right" if numbers and place else "left")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    return table


ROWS = [
    ("turns", "1647", "exact", ""),
    ("fits, room to spare", "1.33 mm", "1.079 mm", "1.548 mm"),
    ("hum, 0.1 uT along axis, 50 Hz", "2.429 uV", "2.286 uV", "2.6 uV"),
    ("  near a transformer, 1 uT, 50 Hz", "24.29 uV", "22.86 uV", "26 uV"),
]


@pytest.mark.parametrize("numbers", [True, False])
@pytest.mark.parametrize("columns", [60, 65, 70, 80, 120])
def test_a_table_is_laid_out_as_the_library_does(columns, numbers):
    titles = ("", "value", "95 % low", "95 % high")
    drawn = printed_by_library(library_table(titles, ROWS, numbers), columns)
    assert ruled_lines(titles, ROWS, numbers, columns) == drawn


def test_texts_beside_each_other_give_alike():
    titles = ("known", "expected of it", "the coil's ohms at 20 C then")
    rows = [("would: tail of 20 m", "174.3 ohm (158.4 ohm to 190.2 ohm)", "350.1 ohm")]
    lines = ruled_lines(titles, rows, False, 60)
    assert {len(line) for line in lines} == {60}
    assert " ".join(" ".join(lines).split()).count("190.2") == 1


def test_the_terminal_is_asked_when_the_environment_says_nothing(monkeypatch):
    monkeypatch.setenv("COLUMNS", "47")
    assert terminal_columns() == 47
    monkeypatch.delenv("COLUMNS")

    def only_errors_are_seen(descriptor: int):
        if descriptor != 2:
            raise OSError
        return plain_lines.os.terminal_size((33, 10))

    monkeypatch.setattr(plain_lines.os, "get_terminal_size", only_errors_are_seen)
    assert terminal_columns() == 33


@pytest.mark.parametrize("told", ["", "0", "wide", "-3"])
def test_nobody_looks(told, monkeypatch):
    def nowhere(descriptor: int):
        raise OSError

    monkeypatch.setenv("COLUMNS", told)
    monkeypatch.setattr(plain_lines.os, "get_terminal_size", nowhere)
    assert terminal_columns() == 80


def test_no_control_character_is_printed(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    print_lines("a\x1b[31mred\x07", "two\nlines")
    assert capsys.readouterr().out == "a [31mred \ntwo\nlines\n"
