"""The terminal UI. The toolkit is loaded only when a screen is opened."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from winder.screens.bench import WindRun, Workbench


def run_wind_screen(run: WindRun, workbench: Workbench | None = None) -> int:
    """Show one wind until the person leaves; the exit code. Raises ``WinderError``."""
    from winder.screens.running import show_wind

    return show_wind(run, workbench)


def run_workbench(workbench: Workbench) -> int:
    """Show the workbench until the person leaves; the exit code. Raises ``WinderError``."""
    from winder.screens.running import show_workbench

    return show_workbench(workbench)
