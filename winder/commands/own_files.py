"""Files of the user's own, recipes and machine files, judged.

What is wrong with one is a list of complaints, also where the trouble is with the file as a whole.
"""

from __future__ import annotations

from winder.errors import Complaint, FileComplaints, WinderError


def complaints_of(error: WinderError, file: str) -> tuple[Complaint, ...]:
    """Everything that an error says of a file, in one form."""
    if isinstance(error, FileComplaints):
        return error.complaints
    field = error.where if error.where not in ("", file) else "file"
    return (Complaint(0, field, error.what, error.remedy),)
