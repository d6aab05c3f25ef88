"""A sound command of the person's own, run with the word of an event. It never holds anything up."""

from __future__ import annotations

import shlex
import subprocess
from collections.abc import Callable

from winder.errors import UserMistake

RUNNING_MAX = 4  # a command that does not end is not started again and again


def sound_command(text: str) -> Callable[[str], None]:
    """What runs ``text`` with an event's word as its last argument. ``UserMistake`` for no command."""
    try:
        words = shlex.split(text)
    except ValueError:
        words = []
    if not words:
        raise UserMistake(
            f"'{text[:40]}' is not a command",
            where="--sound",
            remedy="write a command as in a shell, for example --sound 'paplay bell.oga'",
        )
    running: list[subprocess.Popen[bytes]] = []

    def sound(event: str) -> None:
        running[:] = [one for one in running if one.poll() is None]
        if len(running) >= RUNNING_MAX:
            return
        nothing = subprocess.DEVNULL
        try:
            made = subprocess.Popen([*words, event], stdin=nothing, stdout=nothing, stderr=nothing)
        except OSError:
            return  # the screen is still there to be seen
        running.append(made)

    return sound
