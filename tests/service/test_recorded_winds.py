"""A wind whose line is recorded: a disk without room ends the recording, not the wind, and it is told."""

from __future__ import annotations

import threading

from opened_winds import open_on
from workshop_recipes import short_recipe

from winder.clock import NS_PER_S, HandClock
from winder.links.recording import RecordedLink
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.service.bodies import simulated_machine
from winder.shelf import Logbook
from winder.wind.model import Asked, Intent, Phase

TOLD = "recording stopped (No space left on device); the wind goes on"
WAIT_S = 60.0


class Disk:
    """Has room until ``full`` is set; says so with ``noticed``."""

    def __init__(self) -> None:
        self.full, self.noticed = threading.Event(), threading.Event()

    def write(self, line: str) -> None:
        if self.full.is_set():
            self.noticed.set()
            raise OSError(28, "No space left on device")

    def flush(self) -> None: ...

    def __enter__(self):
        return self

    def __exit__(self, *_) -> None: ...


def test_the_wind_goes_on_to_its_end_and_says_once_that_it_is_recorded_no_more():
    coil, disk = short_recipe(turns=30), Disk()
    body, clock = simulated_machine(SIMULATED_BENCH, coil, 1), HandClock()
    with Logbook.in_memory() as book:
        link = RecordedLink(SimulatedLink(body, clock), clock, disk)
        opened = open_on(link, clock, coil, book, seed=1, simulated=body)
        wind = opened.wind
        for _ in range(round(WAIT_S * NS_PER_S / 50_000_000)):
            wind.step()
            if wind.session.phase is Phase.READY and Intent.START in wind.session.may():
                assert not wind.refusals
                wind.ask(Asked(Intent.START))
            if body.turns > 3 and not disk.full.is_set():
                disk.full.set()
                wind.step()
                assert disk.noticed.wait(20)
            if wind.session.phase is Phase.COMPLETE:
                break
        assert wind.session.phase is Phase.COMPLETE and wind.session.course.truth.is_sharp
        wind.close()
        assert wind.refusals == [TOLD]
        (run,) = book.coil(opened.coil_id).runs
        assert [line.text for line in run.lines if "recording" in line.text] == [TOLD]


def test_last_lines_that_found_no_room_are_told_at_the_end():
    coil, disk = short_recipe(turns=30), Disk()
    body, clock = simulated_machine(SIMULATED_BENCH, coil, 1), HandClock()
    with Logbook.in_memory() as book:
        link = RecordedLink(SimulatedLink(body, clock), clock, disk)
        opened = open_on(link, clock, coil, book, seed=1, simulated=body)
        wind = opened.wind
        wind.step()
        wind.ask(Asked(Intent.LEAVE))
        while not wind.finished:
            wind.step()
        disk.full.set()
        link.write(b"\0")  # one word more
        wind.close()
        assert wind.refusals == ["recording stopped (No space left on device)"]
        (run,) = book.coil(opened.coil_id).runs
        assert run.lines[-1].text == wind.refusals[0]
