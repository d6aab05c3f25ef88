"""The logbook: which coils were made, in which runs, and the journal of the wind under way."""

from winder.shelf.logbook import Logbook, default_path

__all__ = ["Logbook", "default_path"]
