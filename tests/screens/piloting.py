"""Drives the real app without a terminal, with an invented wind and a clock moved by hand."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

from textual.pilot import Pilot
from textual.widgets import Static

from tests.pages.still import StillRun
from winder.clock import NS_PER_S, HandClock
from winder.screens.app import WinderApp
from winder.screens.bench import Workbench
from winder.screens.face import Face
from winder.screens.starting import COUNTDOWN_S, SECOND_KEY
from winder.wind.model import Intent


class Stage:
    """The app on stage: press keys, let time pass, read the screen."""

    def __init__(self, app: WinderApp, pilot: Pilot[int], clock: HandClock) -> None:
        self.app = app
        self.pilot = pilot
        self.clock = clock

    async def tick(self, seconds: float = 0.0) -> None:
        self.clock.sleep_s(seconds)
        await self.pilot.pause()
        self.app.tick()
        await self.pilot.pause()

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)
        await self.tick(1.0)  # well apart from the next press, so that none counts as held

    async def start(self, first: str) -> None:
        """Both keys and the countdown."""
        await self.press(first)
        await self.press(SECOND_KEY)
        await self.tick(COUNTDOWN_S)

    @property
    def text(self) -> str:
        """Everything on the terminal, line by line, as the compositor would paint it."""
        strips = self.app.screen._compositor.render_strips()
        return "\n".join(strip.text.rstrip() for strip in strips)

    @property
    def question(self) -> str:
        """What the open question says, however it is broken into lines."""
        return str(self.app.screen.query(Static).first().content)

    @property
    def face(self) -> Face:
        assert self.app.wind is not None
        return self.app.wind.query_one(Face)


def on_stage(
    play: Callable[[Stage], Awaitable[None]],
    run: StillRun | None = None,
    *,
    workbench: Workbench | None = None,
    size: tuple[int, int] = (80, 24),
    cautions_accepted: bool = True,
) -> WinderApp:
    """Run a play against the app; returns the app for its exit code."""
    clock = HandClock(start_ns=1000 * NS_PER_S)
    app = WinderApp(run, workbench, clock, cautions_accepted=cautions_accepted)

    async def perform() -> None:
        async with app.run_test(size=size) as pilot:
            stage = Stage(app, pilot, clock)
            await stage.tick()
            await play(stage)

    asyncio.run(perform())
    return app


def intents(run: StillRun) -> list[Intent]:
    return [asked.intent for asked in run.asked]
