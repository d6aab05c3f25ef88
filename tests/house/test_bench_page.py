"""The page for the bench names every key and every word, side by side, as the program has them."""

from __future__ import annotations

from source_tree import ROOT

from winder.commands.plain_words import NUMBERS, TEXTS, WORDS
from winder.screens.keys import KEYS
from winder.wind.model import Intent

PAGE = (ROOT / "docs" / "bench.md").read_text(encoding="utf-8")
SPOKEN = {
    **{asked.intent: word for word, asked in WORDS.items()},
    **{
        intent: f"{word} {what}"
        for table in (NUMBERS, TEXTS)
        for word, (intent, what) in table.items()
    },
}


def test_every_key_stands_beside_its_word():
    rows = {tuple(part.strip() for part in line.split("|")[1:3]) for line in rows_of("All keys")}
    keys = [key for key in KEYS if key.intent is not Intent.ACCEPT_CAUTIONS]
    stops = {("space, Esc, F9", "`pause`"), ("the same again, or held", "`cut`")}
    assert {(f"`{key.cap}`", f"`{SPOKEN[key.intent]}`") for key in keys} | stops == rows


def test_every_word_is_on_the_page():
    missing = [word for word in SPOKEN.values() if f"`{word}`" not in PAGE]
    assert not missing


def rows_of(heading: str) -> list[str]:
    part = PAGE.split(f"## {heading}")[1].split("\n## ")[0]
    return [line for line in part.splitlines() if line.startswith("| ") and "---" not in line][1:]
