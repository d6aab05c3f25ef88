"""A disk that hangs holds up neither stop nor line; what follows from a line waits for it, and a stop takes it back."""

from __future__ import annotations

import threading

import pytest
from opened_winds import SET_UP, open_on
from workshop_recipes import short_recipe

from firmware_protocol.framing import FrameReader
from firmware_protocol.messages import Pace, Start, Stop
from firmware_protocol.wire import LAYOUT_OF
from winder.clock import NS_PER_S, HandClock
from winder.errors import WinderError
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.service import journals
from winder.service.bodies import simulated_machine
from winder.service.journals import Gathered, RunJournal, WrittenBehind
from winder.service.opening import Numbers, Order, Station, end_run, open_wind
from winder.shelf import Logbook
from winder.wind.model import Asked, Intent, Phase, SessionEvent, TurnsOff

WAIT_S = 20.0
NAMES = {LAYOUT_OF[kind].kind: kind.__name__ for kind in (Start, Stop, Pace)}


class HangingJournal(RunJournal):
    """Writes once it is let go."""

    def __init__(self, logbook: Logbook, run_id: int) -> None:
        super().__init__(logbook, run_id)
        object.__setattr__(self, "go", threading.Event())
        object.__setattr__(self, "written", [])

    def write(self, events):
        assert self.go.wait(WAIT_S)
        self.written.append([event.text for event in events])


class Kinds(SimulatedLink):
    """Keeps the names of the commands that went out."""

    def __init__(self, machine, clock) -> None:
        super().__init__(machine, clock)
        self.sent: list[str] = []
        self._reader = FrameReader()

    def write(self, data: bytes) -> None:
        self.sent += [NAMES[frame.kind] for frame in self._reader.feed(data) if frame.kind in NAMES]
        super().write(data)


def step_until(wind, done) -> None:
    until_ns = wind.clock.now_ns() + round(WAIT_S * NS_PER_S)
    while not done():
        assert wind.clock.now_ns() < until_ns, wind.session.phase
        wind.step()


def event(text: str) -> SessionEvent:
    return SessionEvent("note", 0, text, 0)


def winding(book):
    """A wind that turns, at a computer whose disk has just begun to hang."""
    coil = short_recipe(turns=200)
    body, clock = simulated_machine(SIMULATED_BENCH, coil, 1), HandClock()
    link = Kinds(body, clock)
    wind = open_on(link, clock, coil, book, seed=1, simulated=body).wind
    step_until(wind, lambda: wind.session.phase is Phase.READY)
    wind.ask(Asked(Intent.START))
    step_until(wind, lambda: wind.session.phase is Phase.WINDING and body.turns > 3)
    hanging = HangingJournal(book, 1)
    wind._journal = WrittenBehind(hanging)
    link.sent.clear()
    return wind, body, link, hanging


def test_lines_are_kept_in_order_and_what_piles_up_is_one_commit():
    with Logbook.in_memory() as book:
        hanging = HangingJournal(book, 1)
        journal = WrittenBehind(hanging)
        for number in range(5):
            journal.write([event(f"{number}")])
        assert journal.number == 5 and journal.kept() == 0
        hanging.go.set()
        journal.close()
        assert journal.kept() == 5
        assert [text for batch in hanging.written for text in batch] == ["0", "1", "2", "3", "4"]
        assert len(hanging.written) <= 2


@pytest.mark.parametrize("trouble", [WinderError("full", remedy="make room"), ValueError("odd")])
def test_what_is_wrong_with_the_disk_is_told_to_whoever_asks_next(trouble):
    class Broken(RunJournal):
        def write(self, events):
            raise trouble

    with Logbook.in_memory() as book:
        journal = WrittenBehind(Broken(book, 1))
        journal.write([event("a")])
        with pytest.raises(WinderError):
            journal.wait()
        with pytest.raises(WinderError):
            journal.write([event("b")])


def test_a_disk_that_never_answers_is_told_within_a_limit(monkeypatch):
    monkeypatch.setattr(journals, "WAIT_S", 0.05)
    with Logbook.in_memory() as book:
        hanging = HangingJournal(book, 1)
        journal = WrittenBehind(hanging)
        journal.write([event("a")])
        with pytest.raises(WinderError, match="the disk has not taken"):
            journal.close()
        hanging.go.set()


def test_while_the_disk_hangs_the_line_is_served_and_a_stop_goes_out():
    with Logbook.in_memory() as book:
        wind, body, link, hanging = winding(book)
        heard = wind.host_end.frames_good
        until_ns = wind.clock.now_ns() + NS_PER_S
        while wind.clock.now_ns() < until_ns:
            wind.step()
        assert wind.host_end.frames_good > heard + 10  # statuses went on coming
        assert not wind.session.may_live(wind.clock.now_ns())  # and the board will stop by itself
        wind.ask(Asked(Intent.PAUSE))
        assert link.sent[:1] == ["Stop"] and hanging.written == []
        hanging.go.set()
        step_until(wind, lambda: not body.moving and wind.session.phase is Phase.PAUSED)
        assert wind.journal_lost is None and hanging.written
        wind.close()


def test_a_command_waits_for_the_line_that_it_follows_from():
    with Logbook.in_memory() as book:
        wind, _, link, hanging = winding(book)
        wind.ask(Asked(Intent.SLOWER))
        wind.step()
        assert link.sent == []
        hanging.go.set()
        wind._journal.wait()
        step_until(wind, lambda: link.sent)
        assert link.sent == ["Pace"]
        wind.close()


def test_a_stop_takes_back_a_start_that_waits_for_the_disk(monkeypatch):
    with Logbook.in_memory() as book:
        wind, body, link, hanging = winding(book)
        start = [Start(0, 1, 0, 0, 0)]
        ours = wind.session.take_requests
        monkeypatch.setattr(wind.session, "take_requests", lambda: [*start, *ours()])
        wind.ask(Asked(Intent.SLOWER))
        start.clear()
        wind.ask(Asked(Intent.PAUSE))
        hanging.go.set()
        step_until(wind, lambda: not body.moving and wind.session.phase is Phase.PAUSED)
        until_ns = wind.clock.now_ns() + NS_PER_S
        while wind.clock.now_ns() < until_ns:
            wind.step()
        assert "Stop" in link.sent and "Start" not in link.sent
        wind.close()


def test_what_a_person_says_of_the_coil_is_on_the_disk_before_it_is_shown():
    with Logbook.in_memory() as book:
        wind, body, _, hanging = winding(book)
        hanging.go.set()
        wind.ask(Asked(Intent.PAUSE))
        step_until(wind, lambda: not body.moving and wind.session.phase is Phase.PAUSED)
        wind.ask(Asked(Intent.TURNS_OFF, TurnsOff(1.0), by="somebody"))
        assert any("turns taken off" in text for text in hanging.written[-1]), hanging.written[-1]
        wind.close()


def _rows(keeps) -> list[tuple]:
    """The journal of one simulated wind, and what the shelf says of its coil."""
    machine = SIMULATED_BENCH
    coil = short_recipe(turns=12)
    body = simulated_machine(machine, coil, 4)
    clock = HandClock(body.now_ns)
    with Logbook.in_memory() as logbook:
        at = Station(SimulatedLink(body, clock), clock, "rehearsal", 4, body, keeps)
        order = Order(coil, machine, declared=SET_UP, cautions_accepted=True)
        opened = open_wind(at, order, logbook, Numbers.from_seed(4))
        wind = opened.wind
        step_until(wind, lambda: wind.session.phase is Phase.READY)
        wind.ask(Asked(Intent.START, by="test"))
        step_until(wind, lambda: wind.session.phase is Phase.COMPLETE)
        wind.ask(Asked(Intent.LEAVE, by="test"))
        step_until(wind, lambda: wind.finished)
        wind.close()
        end_run(opened, logbook)
        (run,) = logbook.coil(opened.coil_id).runs
        (row,) = logbook.coils()
        lines = [(line.at_ns, line.kind, line.text, line.counts, line.deeds) for line in run.lines]
        return [*lines, (row.state, row.truth)]


def test_a_gathered_journal_is_the_same_in_the_end():
    at_once, gathered = _rows(RunJournal.itself), _rows(Gathered)
    assert len(at_once) > 10
    assert gathered == at_once
