"""The terminal UI. The toolkit is loaded only when a screen is opened."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from winder.screens.bench import WindRun, Workbench
    from winder.screens.calls import Calling
    from winder.service.teaching.dialogue import Person


def run_wind_screen(run: WindRun, calling: Calling | None = None) -> int:
    """Show one wind until the person leaves; the exit code. Raises ``WinderError``."""
    from winder.screens.running import show_wind

    return show_wind(run, calling)


def run_workbench(workbench: Workbench, calling: Calling | None = None) -> int:
    """Show the workbench until the person leaves; the exit code. Raises ``WinderError``."""
    from winder.screens.running import show_workbench

    return show_workbench(workbench, calling)


def run_lesson_screen(teach: Callable[[Person], str], what: str) -> str:
    """Show one lesson to its end; what became of it. Raises ``WinderError``: then nothing was written."""
    from winder.screens.running import show_lesson

    return show_lesson(teach, what)
