"""What the session wants kept is committed before what it wants sent goes out; without a logbook, rest."""

from __future__ import annotations

import sqlite3

import pytest
from opened_winds import open_on
from workshop_recipes import short_recipe

from firmware_protocol import connection
from firmware_protocol.framing import FrameReader
from firmware_protocol.messages import Cut, Start, Stop
from firmware_protocol.wire import LAYOUT_OF
from winder.clock import NS_PER_S, HandClock
from winder.errors import WinderError
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.service import wind as wind_of_service
from winder.service.bodies import simulated_machine
from winder.service.journals import RunJournal
from winder.shelf import Logbook
from winder.wind.guards import NOT_ANSWERED
from winder.wind.model import Asked, Intent, Phase

START_KIND = LAYOUT_OF[Start].kind
STOP_KIND, CUT_KIND = LAYOUT_OF[Stop].kind, LAYOUT_OF[Cut].kind


class Orders(SimulatedLink):
    """Notes stops and commits in the order in which they came."""

    def __init__(self, machine, clock) -> None:
        super().__init__(machine, clock)
        self.order: list[str] = []
        self._reader = FrameReader()

    def write(self, data: bytes) -> None:
        kinds = [frame.kind for frame in self._reader.feed(data)]
        self.order += [
            name for kind, name in ((STOP_KIND, "stop"), (CUT_KIND, "cut")) if kind in kinds
        ]
        super().write(data)


class ListeningLink(SimulatedLink):
    """Looks into the journal at the moment a start goes out."""

    def __init__(self, machine, clock, look) -> None:
        super().__init__(machine, clock)
        self._look = look
        self._reader = FrameReader()
        self.found_at_start: list[bool] = []

    def write(self, data: bytes) -> None:
        if any(frame.kind == START_KIND for frame in self._reader.feed(data)):
            self.found_at_start.append(self._look())
        super().write(data)


def ready_wind(book, look):
    coil = short_recipe(turns=200)
    body, clock = simulated_machine(SIMULATED_BENCH, coil, 1), HandClock()
    link = ListeningLink(body, clock, look)
    opened = open_on(link, clock, coil, book, seed=1, simulated=body)
    while opened.wind.session.phase is not Phase.READY:
        opened.wind.step()
    return opened, link, body


def test_the_intent_to_start_is_on_the_disk_before_the_start_is_sent(tmp_path):
    path = tmp_path / "book"

    def look() -> bool:
        other = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
        try:
            lines = other.execute("SELECT text FROM journal WHERE kind = 'intent'").fetchall()
        finally:
            other.close()
        return any("start" in text for (text,) in lines)

    with Logbook.open(path) as book:
        opened, link, _ = ready_wind(book, look)
        opened.wind.ask(Asked(Intent.START))
        for _ in range(20):
            opened.wind.step()
        assert link.found_at_start and all(link.found_at_start)
        opened.wind.close()


def test_a_logbook_that_fails_ends_the_wind_at_rest():
    with Logbook.in_memory() as book:
        opened, _, body = ready_wind(book, lambda: True)
        wind = opened.wind
        wind.ask(Asked(Intent.START))
        until_ns = wind.clock.now_ns() + 3 * NS_PER_S
        while wind.clock.now_ns() < until_ns:
            wind.step()
        assert body.moving

        class FullDisk(RunJournal):
            def write(self, _events):
                raise WinderError("the disk is full", remedy="make room", where="book")

        wind._journal = FullDisk(book, 1)
        while not wind.finished:
            wind.step()
        assert wind.journal_lost is not None
        assert not body.moving
        turns = body.turns
        wind.ask(Asked(Intent.CONTINUE))
        for _ in range(100):
            wind.step()
        assert body.turns == turns


@pytest.mark.parametrize(
    ("intents", "sent"), [((Intent.PAUSE,), "stop"), ((Intent.PAUSE, Intent.CUT), "cut")]
)
def test_a_stop_and_a_cut_wait_for_no_disk(intents, sent):
    """What was asked is committed behind them: a disk that hangs holds no stop up."""
    coil = short_recipe(turns=200)
    body, clock = simulated_machine(SIMULATED_BENCH, coil, 1), HandClock()
    link = Orders(body, clock)
    with Logbook.in_memory() as book:
        wind = open_on(link, clock, coil, book, seed=1, simulated=body).wind
        while wind.session.phase is not Phase.READY:
            wind.step()
        wind.ask(Asked(Intent.START))
        while wind.session.phase is not Phase.WINDING or not body.moving:
            wind.step()
        journal = wind._journal

        class Noting(RunJournal):
            def write(self, events):
                link.order.extend("kept" for event in events if event.kind == "intent")
                journal.write(events)

        wind._journal = Noting(book, 1)
        for intent in intents:
            link.order.clear()
            wind.ask(Asked(intent))
        assert link.order[0] == sent and "kept" in link.order


@pytest.mark.parametrize("case", ["answered", "stopped", "never"])
def test_what_comes_too_soon_after_a_command_waits_a_moment_and_a_stop_forgets_it(
    case, monkeypatch
):
    with Logbook.in_memory() as book:
        opened, _, body = ready_wind(book, lambda: True)
        wind, ask = opened.wind, opened.wind.session.ask
        busy = True

        def asked_while_busy(asked, now_ns):
            return NOT_ANSWERED if busy and asked.intent is Intent.START else ask(asked, now_ns)

        monkeypatch.setattr(wind.session, "ask", asked_while_busy)
        wind.ask(Asked(Intent.START))
        wind.step()
        assert not wind.refusals and wind.session.phase is Phase.READY
        if case == "stopped":
            wind.ask(Asked(Intent.PAUSE))
        busy = case == "never"
        until_ns = wind.clock.now_ns() + NS_PER_S
        while wind.clock.now_ns() < until_ns:
            wind.step()
        assert body.moving is (case == "answered")
        assert wind.refusals == ([NOT_ANSWERED] if case == "never" else [])
        wind.close()


def test_all_that_moves_is_named_alike_by_both_ends_of_the_program():
    """What is not sent any more once the journal is lost, is what the line withdraws behind a stop."""
    assert set(wind_of_service.MOVING) == set(connection.MOVING)
