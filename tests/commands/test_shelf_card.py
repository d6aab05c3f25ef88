"""``winder shelf card``: one page, the same for the same coil, harmless whatever a person wrote."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

from tests.commands.shelf_of_coils import shelf_with, told
from winder.commands.main import main

NASTY = "<script>alert(1)</script>\x1b[31m"


def test_the_card_tells_the_coil_and_is_the_same_each_time(tmp_path, capsys):
    words = shelf_with(tmp_path / "book", (NASTY, 1200, 225.0))
    told(capsys, "shelf", "edit", "1", "--note", NASTY, "--start-colour", "white", *words)
    told(capsys, "shelf", "measure", "1", "999 ohm, 20 C", *words)
    told(capsys, "shelf", "measure", "1", "--strike", "2", "--because", "wrong", *words)
    pages = []
    for name in ("a.html", "b.html"):
        file = tmp_path / name
        told(capsys, "shelf", "card", "1", "--html", str(file), *words)
        pages.append(file.read_text())
    assert pages[0] == pages[1]
    page = pages[0]
    assert "<script" not in page and "\x1b" not in page
    for words_of_it in ("1200, exact", "225 ohm at 20 C", "white", "42 AWG single", "clockwise"):
        assert words_of_it in page
    assert "999" not in page  # struck out
    (svg,) = re.findall(r"<svg.*?</svg>", page, re.DOTALL)
    root = ElementTree.fromstring(svg)
    assert len([each for each in root if each.tag.endswith("circle")]) == 1
    book = ["--logbook", str(tmp_path / "book")]
    assert main(["shelf", "card", "1", "--html", str(tmp_path / "a.html"), *book]) == 2
    assert "this name is taken already" in capsys.readouterr().err
