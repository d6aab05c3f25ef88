"""The logbook: which coils were made, in which runs, and the journal of the wind under way."""

from winder.shelf.book import default_path
from winder.shelf.logbook import Logbook

__all__ = ["Logbook", "default_path"]
