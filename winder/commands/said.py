"""What a command prints, for a screen that shows it: same words, same errors, one place where they are made."""

from __future__ import annotations

import argparse
import io
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout

from winder.errors import UserMistake


def said(parser: argparse.ArgumentParser, words: Sequence[str]) -> str:
    """Runs ``winder WORDS`` and gives back what it would print. Raises ``WinderError`` as the command does."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            arguments = parser.parse_args(list(words))
            arguments.run(arguments)
        except SystemExit:  # the parser's way to refuse; its last line says why
            why = err.getvalue().strip().rpartition("\n")[2]
            raise UserMistake(
                why or "that is not possible", remedy="correct it and try again"
            ) from None
    return out.getvalue().rstrip("\n")
