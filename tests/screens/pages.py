"""Pages drawn without a terminal, and what is asked of them."""

from __future__ import annotations

from winder.screens.figures import SIZES, draw_word
from winder.screens.keys import shown_keys
from winder.screens.page import Ink, Page
from winder.screens.trip_page import draw_trip
from winder.screens.wind_page import draw_wind
from winder.screens.wind_screen import FILLED
from winder.wind.model import WindView

SIZES_ASKED = [(120, 40), (100, 30), (80, 24), (60, 18)]


def drawn(view: WindView, width: int, height: int, notices: tuple[str, ...] = ()) -> Page:
    if view.phase in FILLED:
        return draw_trip(view, width, height, since_s=75, lit=True, notices=notices)
    return draw_wind(view, width, height, notices)


def has_word(page: Page, word: str) -> bool:
    """The state word in block letters, spaced out, or plain."""
    text = page.text()
    block = draw_word(word)
    in_blocks = block is not None and all(row.strip() in text for row in block)
    return in_blocks or " ".join(word.upper()) in text or word.upper() in text


def has_figure(page: Page, value: int) -> bool:
    text = page.text()
    return any(all(row.strip() in text for row in size.draw(value)) for size in SIZES)


def assert_keys_shown(view: WindView, text: str) -> None:
    for key in shown_keys(view):
        assert f"{key.cap} " in text
        labels = (key.label, key.short, key.tight or key.short)
        assert any(label in text for label in labels)  # an empty one leans on the next


def rows_of(page: Page, ink: Ink) -> set[int]:
    return {y for y, row in enumerate(page.rows()) for piece in row if piece.ink is ink}
