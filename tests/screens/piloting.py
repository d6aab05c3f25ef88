"""Drives the real app without a terminal, with an invented wind and a clock moved by hand."""

from __future__ import annotations

import asyncio
import unicodedata
from collections.abc import Awaitable, Callable

from textual import events
from textual.keys import REPLACED_KEYS, _character_to_key, _get_unicode_name_from_key
from textual.pilot import Pilot
from textual.widgets import Static

from tests.pages.still import StillRun
from winder.clock import NS_PER_S, HandClock
from winder.screens.app import WinderApp
from winder.screens.bench import Workbench
from winder.screens.face import Face
from winder.screens.starting import COUNTDOWN_S, SECOND_KEY
from winder.wind.model import Intent

ROUNDS = 4  # a key opens a screen, which is laid out, which gives the focus, which is painted


class Stage:
    """The app on stage: press keys, let time pass, read the screen."""

    def __init__(self, app: WinderApp, pilot: Pilot[int], clock: HandClock) -> None:
        self.app = app
        self.pilot = pilot
        self.clock = clock

    async def tick(self, seconds: float = 0.0) -> None:
        self.clock.sleep_s(seconds)
        await self.settle()
        self.app.tick()
        await self.settle()

    async def press(self, *keys: str) -> None:
        await self.send(*keys)
        await self.tick(1.0)  # well apart from the next press, so that none counts as held

    async def send(self, *keys: str) -> None:
        """The pilot's own way waits until the whole process idles, which a wind beside it never does."""
        for key in keys:
            name = _character_to_key(key) if len(key) == 1 and not key.isalnum() else key
            try:
                sign = unicodedata.lookup(_get_unicode_name_from_key(REPLACED_KEYS.get(name, name)))
            except KeyError:
                sign = key if len(key) == 1 else None
            self.app.post_message(events.Key(name, sign))
            await self.settle()

    async def settle(self) -> None:
        """Until the app, the screen and all on it have handled what was sent, and what came of it."""
        for _ in range(ROUNDS):
            await self.pilot.pause(0)

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
