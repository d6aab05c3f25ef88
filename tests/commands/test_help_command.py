"""``winder help``, the reference page, and the spellings of before."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.pages.command_page import PAGE, page_text
from winder.commands.main import build_parser, main
from winder.commands.old_spellings import OLD_SPELLINGS, verb_of
from winder.commands.verb_tree import every_verb
from winder.screens.keys import KEYS
from winder.screens.topics import TOPICS

ROOT = Path(__file__).parents[2]
VERBS = {verb.path: verb for verb in every_verb(build_parser())}
# What a person has to know before the first wind, and no list of names can replace.
ASKED = {"count", "wire", "pairs", "readings", "boards"}


def said(capsys, *words: str) -> tuple[int, str, str]:
    code = main([*words])
    out = capsys.readouterr()
    return code, out.out, out.err


def test_the_topics_people_ask_about_are_there():
    assert {topic.name for topic in TOPICS} >= ASKED
    assert len({topic.name for topic in TOPICS}) == len(TOPICS) <= 10


@pytest.mark.parametrize("topic", TOPICS, ids=lambda topic: topic.name)
def test_a_topic_is_printed_and_fits_a_small_terminal(capsys, topic):
    code, out, err = said(capsys, "help", topic.name)
    assert (code, err) == (0, "")
    assert topic.title in out
    lines = out.splitlines()
    assert max(map(len, lines)) <= 80 and len(lines) <= 22


def test_without_a_topic_all_are_listed(capsys):
    code, out, _ = said(capsys, "help")
    assert code == 0
    assert [line.split()[2] for line in out.splitlines()] == [topic.name for topic in TOPICS]


def test_a_topic_that_is_not_there_names_the_nearest(capsys):
    code, out, err = said(capsys, "help", "bords")
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert "did you mean boards?" in err


@pytest.mark.parametrize("topic", TOPICS, ids=lambda topic: topic.name)
def test_every_command_and_page_and_key_a_topic_names_exists(topic):
    for path in re.findall(r"docs/[\w/.]+\.md", topic.text):
        assert (ROOT / path).is_file(), path
    for typed in re.findall(r"winder ((?:[a-z]+ ?){1,2})", topic.text.replace("\n", " ")):
        words = tuple(typed.split())
        assert words[:1] in VERBS or words[0] in ("opens",), typed
        if VERBS.get(words[:1]) and VERBS[words[:1]].verbs:
            assert words in VERBS, typed
    caps = {key.cap for key in KEYS} | {"f"}
    for key in re.findall(r"[Pp]ress(?:ing)? ([a-z])\b", topic.text):
        assert key in caps


def test_help_loads_neither_numbers_nor_the_screen_toolkit(capsys):
    code = "from winder.commands.main import main; import sys; main(['help', 'count']);"
    code += "print([m for m in ('numpy', 'textual') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_reference_page_is_what_the_parsers_say():
    assert PAGE.read_text(encoding="utf-8") == page_text(), (
        "write it again: python -m tests.pages.command_page"
    )


@pytest.mark.parametrize("old", OLD_SPELLINGS, ids=" ".join)
def test_an_old_spelling_gives_one_line_that_names_a_new_one_that_works(capsys, old):
    code, out, err = said(capsys, *old, "bass.toml", "--json")
    assert (code, out, err.count("\n")) == (2, "", 1)
    new = OLD_SPELLINGS[old]
    assert f"winder {new}" in err
    verb, option = verb_of(new), new.partition(" --")[2]
    assert verb in VERBS and old not in VERBS
    if option:
        assert any(f"--{option}" in word.names for word in VERBS[verb].words)


def test_an_old_spelling_is_no_stumbling_block_as_a_value(capsys, tmp_path):
    (tmp_path / "lay").write_text("")
    _, _, err = said(capsys, "--logbook", "lay", "shelf", "list")
    assert "compare-lays" not in err
    _, _, err = said(capsys, "recipe", "check", "lay")
    assert "compare-lays" not in err


def test_the_verbs_are_those_agreed_on():
    """The list of verbs; what is added takes its place here."""
    top = {path[0] for path in VERBS if path}
    assert top == {
        "recipe", "sheet", "plan", "rehearse", "wind", "shelf", "spool", "bench", "desk", "help"
    }  # fmt: skip
    assert all(verb.summary for path, verb in VERBS.items() if path)
