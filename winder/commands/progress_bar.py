"""A bar on the terminal for what takes a while; nothing where nobody looks."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from winder.service.rehearsal import Progress


class ProgressBar:
    """A bar on a terminal's standard error; nothing elsewhere."""

    def __init__(self, name: str, *, quiet: bool) -> None:
        self._show = not quiet and sys.stderr.isatty()
        self._name = name
        self._bar: Any = None

    def __enter__(self) -> Progress | None:
        if not self._show:
            return None
        from rich.console import Console
        from rich.progress import Progress as RichProgress
        from rich.text import Text

        self._bar = RichProgress(console=Console(stderr=True), transient=True)
        self._bar.start()
        task = self._bar.add_task(Text(f"rehearsing {self._name}").markup, total=1.0)
        return lambda share: self._bar.update(task, completed=share)

    def __exit__(self, *trouble: object) -> None:
        if self._bar is not None:
            self._bar.stop()
