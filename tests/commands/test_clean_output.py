"""Nothing that comes from outside steers the terminal: arguments, file names, texts of the system."""

from __future__ import annotations

import argparse
import io
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from rich.console import Console

import winder
from winder.commands import main as front_door
from winder.commands.clean_output import CleanStream, clean, clean_output, one_line
from winder.commands.main import build_parser, main, words_of
from winder.errors import Complaint, FileComplaints, UserMistake

ROOT = Path(winder.__file__).parent.parent
# ECMA-48: C0 and C1 sets, and what begins a control sequence; bidi controls: Unicode annex 9.
STEERS = [*map(chr, range(32)), *map(chr, range(127, 160)), *"\u202e\u2066\u200b\u2028\ufeff\ud800"]
HOSTILE = "\x1b[31m\x9b2J\x07\u202e\rforged"


@pytest.mark.parametrize("char", STEERS, ids=lambda char: f"U+{ord(char):04X}")
def test_every_character_that_steers_is_replaced(char):
    assert one_line(f"a{char}b") == "a?b"
    assert clean(f"a{char}b") == (f"a{char}b" if char in "\n\t" else "a?b")


def test_letters_of_every_kind_are_left_alone():
    text = "Spule 7 mit 0,05 mm, \u03a9 \u00b5m \u00a0\u202f\u8033 \U0001f3b8"
    assert one_line(text) == text


def test_what_the_terminal_has_no_letter_for_is_no_reason_to_end():
    raw = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    print("5 \u03a9, \x1b[2J", file=CleanStream(raw), flush=True)
    assert raw.buffer.getvalue() == b"5 ?, ?[2J\n"


def test_the_streams_are_cleaned_inside_and_as_before_outside(capsys):
    before = sys.stdout, sys.stderr
    with clean_output():
        print(HOSTILE)
        sys.stderr.writelines([HOSTILE, "\n"])
        assert sys.stdout.isatty() is False
    assert (sys.stdout, sys.stderr) == before
    said = capsys.readouterr()
    assert said.out == said.err == "?[31m?2J???forged\n"


def test_no_standard_streams_at_all(monkeypatch):
    monkeypatch.setattr(sys, "stdout", None)
    monkeypatch.setattr(sys, "stderr", None)
    with clean_output():
        print("to nobody")
    assert main(["sheet", "no such file"]) == 2


def test_tables_and_colours_of_our_own_are_drawn_past_the_cleaning():
    raw = io.StringIO()
    stream = CleanStream(raw)
    Console(file=stream, force_terminal=True, color_system="standard").print("[red]stop[/red]")  # type: ignore[arg-type]
    assert "\x1b[31mstop" in raw.getvalue()


def parsers(parser: argparse.ArgumentParser) -> Iterator[argparse.ArgumentParser]:
    yield parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for each in action.choices.values():
                yield from parsers(each)


EVERY_PARSER = [each.prog.split()[1:] for each in parsers(build_parser())]


@pytest.mark.parametrize("words", EVERY_PARSER, ids=" ".join)
@pytest.mark.parametrize("hostile", [HOSTILE, f"--{HOSTILE}", "x\nwinder: forged"])
def test_no_parser_hands_an_argument_on_to_the_terminal(words, hostile, capsys):
    with pytest.raises(SystemExit) as ended:
        main([*words, "file", "one too many", hostile])
    assert ended.value.code == 2
    said = capsys.readouterr().err
    assert said.count("\n") == len(said.splitlines())  # no other end of a line
    assert clean(said) == said
    assert not any(line.startswith("winder: forged") for line in said.splitlines())


def test_an_error_is_one_line_for_each_thing_that_is_wrong():
    name = f"re\ncipe{HOSTILE}"
    assert words_of(UserMistake("is no file", where=name, remedy="x")).count("\n") == 0
    wrong = [Complaint(1, "name", HOSTILE, "x"), Complaint(2, "wire", "y", "z\nforged: line")]
    assert len(words_of(FileComplaints(name, wrong)).splitlines()) == 2


def test_an_unforeseen_fault_is_told_in_one_clean_line(monkeypatch, capsys):
    def fails(_: object) -> int:
        raise RuntimeError(f"{HOSTILE}\nforged")

    monkeypatch.setattr(front_door, "open_workbench", fails)
    assert main([]) == 1
    assert capsys.readouterr().err.count("\n") == 1
    monkeypatch.setenv(front_door.TRACE, "1")
    assert main([]) == 1
    traced = capsys.readouterr().err
    assert "Traceback" in traced
    assert clean(traced) == traced


def test_a_file_with_a_hostile_name_is_used_without_a_word_to_the_terminal(tmp_path):
    """The whole program, with a name that the file system allows."""
    name = f"{HOSTILE}\nforged.toml".encode() + b"\xff"
    for words in (
        ["recipe", "new"], ["recipe", "new"], ["recipe", "check"], ["sheet"], ["plan"], ["plan", "--compare-lays"],
        ["bench", "check"], ["shelf", "list", "--logbook"], ["wind", "--port"],
    ):  # fmt: skip
        done = subprocess.run(
            [sys.executable, "-m", "winder", *words, os.fsdecode(name)],
            cwd=tmp_path, capture_output=True, timeout=60, stdin=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        text = (done.stdout + done.stderr).decode()
        assert clean(text) == text
        assert "fault of this program" not in text, text
        if words[0] == "recipe":
            assert text.count("\nforged") == 0, text
