"""Opens a screen, and closes the wind however the screen ended."""

from __future__ import annotations

from collections.abc import Callable

from winder.errors import WinderError
from winder.screens.app import CLOSE_WAIT_S, WinderApp
from winder.screens.bench import WindRun, Workbench
from winder.screens.calls import RINGS, Calling
from winder.screens.farewell import guarded_against_hangup
from winder.screens.plain import plain_text
from winder.screens.teach_screen import TeachScreen, words_of
from winder.screens.words import FINISHED, counted, number, sentence
from winder.service.teaching.by_screen import LessonRun
from winder.service.teaching.dialogue import Person


def show_wind(run: WindRun, calling: Calling | None = None) -> int:
    """One wind. The last lines on the terminal afterwards are what was counted, and what to type to go on."""
    code = _show(WinderApp(run, calling=calling or RINGS))
    view = run.view
    name = plain_text(view.coil.name)
    print(
        f"{name}: {counted(view)}, of {number(view.coil.target_turns)}; {plain_text(view.headline)}"
    )
    if view.phase not in FINISHED:
        print(plain_text(sentence(view.advice)))  # what to type to go on
    return code


def show_workbench(workbench: Workbench, calling: Calling | None = None) -> int:
    return _show(WinderApp(workbench=workbench, calling=calling or RINGS))


def show_lesson(teach: Callable[[Person], str], what: str) -> str:
    """One lesson, in a thread of its own. Raises ``WinderError`` where no machine file was written."""
    run = LessonRun(teach)
    try:
        _show(WinderApp(lesson=TeachScreen(run, what)))
    finally:
        run.close(CLOSE_WAIT_S)
    if run.trouble is not None:
        raise words_of(run.trouble)
    return run.view.ended


def _show(app: WinderApp) -> int:
    run = app.run_under_way
    try:
        with guarded_against_hangup(app):
            app.run()
    finally:
        run = app.run_under_way or run
        if run is not None:
            run.close(CLOSE_WAIT_S)
        if app.lesson is not None:
            app.lesson.lesson.close(CLOSE_WAIT_S)
    if run is not None and run.trouble is not None:
        raise _in_words(run.trouble)
    return app.return_code or 0


def _in_words(trouble: BaseException) -> WinderError:
    if isinstance(trouble, WinderError):
        return trouble
    return WinderError(
        f"the wind ended early: {plain_text(str(trouble))}",
        remedy="the count is kept; look on the shelf",
    )
