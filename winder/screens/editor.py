"""The person's own editor, for a text that a screen holds: ``$VISUAL``, else ``$EDITOR``.

The screen steps aside while the editor has the terminal. The text goes through a file of its own; what the
editor leaves there comes back, whatever the editor's exit code.
"""

from __future__ import annotations

import os
import shlex
import subprocess
import tempfile
import tomllib
from pathlib import Path

from textual.app import App, SuspendNotSupported

from winder.errors import UserMistake


def edited(app: App[int], text: str) -> str:
    """The text as the editor left it. ``UserMistake`` where there is none, it fails, or leaves no TOML."""
    command = os.environ.get("VISUAL") or os.environ.get("EDITOR")
    if not command:
        raise UserMistake(
            "no editor is set",
            where="$EDITOR",
            remedy="set it, as in EDITOR=nano, and start again",
        )
    with tempfile.TemporaryDirectory(prefix="recipe-") as folder:
        file = Path(folder) / "recipe.toml"
        file.write_text(text, encoding="utf-8", newline="")
        try:
            with app.suspend():
                subprocess.run([*shlex.split(command), str(file)], check=False)
        except (SuspendNotSupported, OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise UserMistake(
                f"the editor could not be started ({reason})",
                where=command[:40],
                remedy="name another one in $EDITOR",
            ) from None
        after = file.read_bytes().decode("utf-8", errors="replace")
    try:
        tomllib.loads(after)
    except tomllib.TOMLDecodeError as error:
        raise UserMistake(
            f"what the editor left is not TOML ({error})",
            where="editor",
            remedy="nothing was changed; open it again",
        ) from None
    return after
