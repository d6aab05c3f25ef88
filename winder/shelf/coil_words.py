"""What a person says of a coil on the shelf: note, place, direction, lead colours, hidden, spoiled, its spool."""

from __future__ import annotations

from winder.errors import UserMistake
from winder.recipe.model import Direction
from winder.shelf.book import Book, clean

TEXT_MAX = 2000


class CoilWords:
    """Written into a book. Raises ``WinderError`` as ``Book`` does."""

    def __init__(self, book: Book) -> None:
        self._book = book

    def say(
        self,
        coil_id: int,
        *,
        note: str | None = None,
        place: str | None = None,
        direction: Direction | None = None,
        start_colour: str | None = None,
        finish_colour: str | None = None,
        hidden: bool | None = None,
        spoiled: str | None = None,
        spool_id: int | None = None,
    ) -> None:
        """Each that is not None, together; "" takes a word back. ``UserMistake`` for a text too long."""
        told = {
            "note": note,
            "place": place,
            "declared": None if direction is None else direction.value,
            "start_colour": start_colour,
            "finish_colour": finish_colour,
            "hidden": None if hidden is None else int(hidden),
            "spoiled": spoiled,
            "spool": spool_id,
        }
        values = {name: value for name, value in told.items() if value is not None}
        if not values:
            return
        for name, value in values.items():
            if isinstance(value, str):
                if len(value) > TEXT_MAX:
                    raise UserMistake(
                        f"{len(value)} letters is too long",
                        where=name,
                        remedy=f"say it in at most {TEXT_MAX}",
                    )
                values[name] = clean(value)
        columns = ", ".join(f"{name} = ?" for name in values)
        with self._book.transaction() as execute:
            execute(f"UPDATE coils SET {columns} WHERE id = ?", (*values.values(), coil_id))
