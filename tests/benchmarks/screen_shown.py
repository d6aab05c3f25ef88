"""The program of the screen's benchmark: one screen in the terminal it was started in, measured from inside.

    python -m tests.benchmarks.screen_shown own|stock|wind|disk SECONDS FILE

``own`` is the wind screen, ``stock`` the same content in the toolkit's own widgets, both fed twenty invented statuses
a second. ``wind`` is the wind screen over a real wind in its thread, on the simulated machine in real time; with ``disk`` one
commit of its journal takes a second while it turns. What was measured goes into ``FILE`` as JSON; ``FILE.begun`` says that the measuring has begun.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import ClassVar

from textual.app import App, ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Digits, ProgressBar, Sparkline, Static

from tests.pages.scenes import COUNTS_PER_TURN, TARGET_TURNS, WINDING, lay_at, moment
from winder.files.digits import show_duration
from winder.plan.facing import Top
from winder.recipe.counted import count_only
from winder.screens.app import TICK_S, WinderApp
from winder.screens.calls import Call, Calling
from winder.screens.words import ohms, sentence
from winder.service.opening import Declared
from winder.service.run import WindRun
from winder.service.wind import STEP_S, Wind
from winder.service.workbench import WindRequest, close_run, open_run
from winder.shelf import Logbook
from winder.wind.model import Asked, CountTruth, Intent, Phase, SessionEvent, WindView

STATUSES_HZ = 20
TURNS_A_STATUS = 900 / 60 / STATUSES_HZ
FROM_TURNS = 1000
LAYER_TURNS = 135
SETTLED_S = 1.5
WIND_WAIT_S = 60.0
HANGS_S = 1.0
QUIET = Calling(frozenset(call.value for call in Call))


def views(seconds: float) -> list[WindView]:
    """A wind at 900 rpm as a status shows it twenty times a second: count, place, speed, time and ohms move on."""
    found = []
    for place in range(int(seconds * STATUSES_HZ)):
        turns = FROM_TURNS + place * TURNS_A_STATUS
        counts, left = int(turns * COUNTS_PER_TURN), TARGET_TURNS - turns
        layer, across = divmod(turns, LAYER_TURNS)
        right, share = layer % 2 == 0, across / LAYER_TURNS
        nominal = 853 * turns / TARGET_TURNS
        found.append(
            moment(
                WINDING,
                turns=turns,
                remaining_turns=left,
                truth=CountTruth(counts, counts, counts),
                speed_rpm=900.0 + place % 7,
                seconds_to_go=left / 15,
                advice=f"pauses (measure) in {int(left)} turns, about {show_duration(left / 15)}",
                layer=int(layer) + 1,
                guide_share=share if right else 1 - share,
                guide_rightward=right,
                ohm_now=(nominal, nominal * 0.98, nominal * 1.02),
                lay=lay_at(turns),
            )
        )
    return found


class MovingRun:
    """A wind whose view moves on with the clock; nothing else is behind it."""

    def __init__(self, seconds: float) -> None:
        self._views = views(seconds)
        self._begun_s = time.monotonic()
        self.finished = False
        self.trouble: BaseException | None = None
        self.ticks = 0

    @property
    def view(self) -> WindView:
        place = int((time.monotonic() - self._begun_s) * STATUSES_HZ)
        return self._views[min(place, len(self._views) - 1)]

    def ask(self, asked: Asked) -> None: ...

    def screen_is_alive(self) -> None:
        self.ticks += 1

    def refusals(self) -> list[str]:
        return []

    def close(self, wait_s: float) -> None: ...


class StockApp(App[None]):
    """What the wind screen shows, in the toolkit's own widgets, touched only where something changed."""

    CSS = """
    Digits { width: auto; } Sparkline { height: 7; } Horizontal { height: 1fr; } ProgressBar { height: 1; }
    """
    ENABLE_COMMAND_PALETTE = False
    FACTS: ClassVar[tuple[str, ...]] = ("sentence", "of", "go", "layer", "speed", "now", "end")

    def __init__(self, run: MovingRun) -> None:
        super().__init__()
        self._moving, self._shown = run, {}  # type: ignore[var-annotated]

    def compose(self) -> ComposeResult:
        view = self._moving.view
        yield Static(view.headline.upper(), id="state")
        yield Static(f"{view.coil.name}\n{view.coil.direction} from the top")
        yield Static(id="sentence")
        with Horizontal():
            with Vertical():
                yield Digits(id="count")
                yield Static(id="of")
                yield Digits(id="left")
                yield Static(id="go")
            with Vertical():
                yield ProgressBar(total=1000, show_eta=False, show_percentage=False, id="guide")
                yield Sparkline([0.0], id="lay")
                yield Static(id="layer")
        yield ProgressBar(total=TARGET_TURNS, show_eta=False, id="progress")
        with Horizontal():
            with Vertical():
                yield Static(id="speed")
                yield Static(id="now")
                yield Static(id="end")
            yield Static("\n".join(view.lines[-6:]))
        yield Static("SPACE stop    - slower    + faster    w wire broke")

    def on_mount(self) -> None:
        self.set_interval(TICK_S, self.tick)

    def tick(self) -> None:
        self._moving.screen_is_alive()
        view = self._moving.view
        turns, left = int(view.count.turns), TARGET_TURNS - int(view.count.turns)
        texts = (
            sentence(view.advice),
            f"turns of {TARGET_TURNS}, exact",
            f"turns to go, {show_duration(view.motion.seconds_to_go or 0)}",
            f"layer {view.lay.layer} of {view.coil.layers}, to scale",
            f"speed {view.motion.speed_rpm:.0f} rpm of {view.motion.planned_rpm:.0f} planned",
            f"ohm now {', '.join(map(ohms, view.ohm.now or ()))}",
            f"at the end {', '.join(map(ohms, view.ohm.end or ()))}",
        )
        for name, text in zip(self.FACTS, texts, strict=True):
            self._put(name, text, partial(self.query_one(f"#{name}", Static).update, text))
        for name, figure in (("count", turns), ("left", left)):
            self._put(name, figure, partial(self.query_one(f"#{name}", Digits).update, f"{figure}"))
        guide, lay = view.lay.guide_share or 0.0, [round(each, 2) for each in view.lay.heights]
        bar, done = (self.query_one(f"#{name}", ProgressBar) for name in ("guide", "progress"))
        self._put("guide", round(guide, 2), lambda: bar.update(progress=guide * 1000))
        self._put("progress", turns, lambda: done.update(progress=turns))
        self._put("lay", lay, lambda: setattr(self.query_one(Sparkline), "data", lay))

    def _put(self, name: str, value: object, show: Callable[[], object]) -> None:
        if self._shown.get(name) != value:
            self._shown[name] = value
            show()


def told(file: Path, facts: dict[str, float | str]) -> None:
    """Write what was measured and end, whatever the screen waits for."""
    file.write_text(json.dumps(facts))
    os._exit(0)


def measure_core(run: MovingRun, seconds: float, file: Path) -> None:
    """By the cost of a tick: a busy computer leaves ticks out, and the screen must not look cheaper for that."""
    time.sleep(SETTLED_S)
    Path(f"{file}.begun").touch()
    ticks, spent_s = run.ticks, time.process_time()
    time.sleep(seconds)
    spent_s, ticks = time.process_time() - spent_s, run.ticks - ticks
    told(file, {"core_percent": 100 * spent_s / max(1, ticks) / TICK_S, "ticks": ticks})


def measure_gaps(
    wind: Wind, run: WindRun, seconds: float, file: Path, hang: Callable[[], None]
) -> None:
    """The longest time between two steps of the link's loop; and what it came to."""
    gaps: list[float] = []
    step, last = wind.step, [time.monotonic()]

    def stepped(wait_s: float = STEP_S, *, alive: bool = True) -> None:
        now = time.monotonic()
        gaps.append(now - last[0])
        last[0] = now
        step(wait_s, alive=alive)

    wind.step = stepped  # type: ignore[method-assign]
    until = time.monotonic() + WIND_WAIT_S
    while run.view.phase is not Phase.WINDING and time.monotonic() < until:
        if run.view.phase is Phase.READY:
            run.ask(Asked(Intent.START))
        time.sleep(0.2)
    time.sleep(SETTLED_S)
    Path(f"{file}.begun").touch()
    hang()
    gaps.clear()
    time.sleep(seconds)
    seen = sorted(gaps)
    facts = {"steps": len(seen), "middle_ms": seen[len(seen) // 2] * 1e3, "most_ms": seen[-1] * 1e3}
    told(file, facts | {"phase": run.view.phase.value})


def still() -> None: ...


def hanging(logbook: Logbook) -> Callable[[], None]:
    """When it is called, the disk takes a second for the next commit."""

    def hang() -> None:
        write = logbook.write

        def slowly(run_id: int, events: Sequence[SessionEvent]) -> None:
            logbook.write = write  # type: ignore[method-assign]
            time.sleep(HANGS_S)
            write(run_id, events)

        logbook.write = slowly  # type: ignore[method-assign]

    return hang


def main(words: list[str]) -> int:
    what, seconds, file = words[0], float(words[1]), Path(words[2])
    if what in ("wind", "disk"):
        folder = tempfile.mkdtemp()
        declared = Declared(Top.OPERATOR, None, "bench")
        count = count_only("invented", 100_000)
        book = str(Path(folder) / "shelf.sqlite")
        opened, logbook = open_run(
            WindRequest(None, "sim?seed=1", logbook=book, declared=declared, count=count)
        )
        opened.wind.session.cautions_accepted = True
        run = WindRun(opened.wind, lambda: close_run(opened, logbook))
        app: App[int] | App[None] = WinderApp(run, cautions_accepted=True, calling=QUIET)
        measuring = threading.Thread(
            target=measure_gaps,
            args=(opened.wind, run, seconds, file, hanging(logbook) if what == "disk" else still),
            daemon=True,
        )
    else:
        moving = MovingRun(seconds + 3 * SETTLED_S)
        own = what == "own"
        app = WinderApp(moving, cautions_accepted=True, calling=QUIET) if own else StockApp(moving)
        measuring = threading.Thread(target=measure_core, args=(moving, seconds, file), daemon=True)
    measuring.start()
    app.run()
    return 1  # the measuring ends the program


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
