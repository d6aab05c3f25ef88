"""Winds without an end on record: they go on now, or their program was lost. Said at the next start, with their count."""

from __future__ import annotations

from winder.shelf.logbook import Logbook
from winder.wind.truth import words


def words_of_unfinished(logbook: Logbook, besides: int | None = None) -> list[str]:
    """One sentence for each coil with a run that has no end; ``besides``: the coil that goes on now."""
    return [
        f"'{row.name}', begun {row.date}, has no recorded end: {words(row.truth, row.counts_per_turn)};"
        f" to go on with it: {row.next_words or f'winder wind RECIPE --port PORT --continue {row.coil_id}'}"
        for row in logbook.without_end()
        if row.counts_per_turn and row.coil_id != besides
    ]
