"""What stands between board and link: as good as nothing until it goes wrong, and wrong as it says it is."""

from __future__ import annotations

import pytest

from firmware_protocol.connection import HostEnd
from firmware_protocol.heard import Answered
from firmware_protocol.messages import (
    CloseWind,
    OpenWind,
    Status,
    Verdict,
    Welcome,
)
from winder.laboratory.faulty import rehearse_scene
from winder.simulator.between import Between
from winder.simulator.build import Build
from winder.simulator.machine import SimulatedMachine
from winder.simulator.scene import CLEAN, KINDS, UNSEEABLE, WRONG_BOARDS, draw_kind, draw_scene

MS = 1_000_000


class Talk:
    """A host end and a board with somebody between them; every byte arrives."""

    def __init__(self, between: Between) -> None:
        self.between, self.host = between, HostEnd(77)
        self.heard: list = []
        self.host.open(0)
        self.run(100)

    def run(self, ms: int) -> None:
        for _ in range(ms // 10):
            now_ns = self.between.now_ns
            data = self.host.data_to_send(now_ns)
            if data:
                self.between.receive(data)
            self.between.run_until(now_ns + 10 * MS)
            self.heard += self.host.receive(self.between.take_bytes(), self.between.now_ns)

    def newest(self, kind: type):
        return next(one for one in reversed(self.heard) if isinstance(one, kind))

    def send(self, make) -> Verdict:
        status = self.newest(Status)
        self.host.send(make(status), self.between.now_ns)
        self.run(100)
        return self.newest(Answered).answer.verdict


def test_nobody_notices_who_only_hands_on():
    """The same bytes come out of the bare machine and of one with somebody before it."""
    bare, other = SimulatedMachine(Build()), Between(SimulatedMachine(Build()))
    for at_ms in range(0, 1000, 50):
        bare.run_until(at_ms * MS)
        other.run_until(at_ms * MS)
        assert bare.take_bytes() == other.take_bytes()


def test_commands_of_its_own_leave_the_hosts_numbers_alone():
    talk = Talk(Between(SimulatedMachine(Build())))
    assert talk.newest(Welcome).token == 77
    assert talk.send(lambda s: OpenWind(0, s.boot, s.revision, 5)) is Verdict.DONE
    assert talk.newest(Status).wind == 5
    talk.between.command(CloseWind(0, 0, 0, 0))
    talk.run(100)
    assert talk.newest(Status).wind == 0, "carried out, though no host asked"
    for wind in range(6, 9):
        assert talk.send(lambda s, w=wind: OpenWind(0, s.boot, s.revision, w)) is Verdict.DONE
        assert talk.send(lambda s: CloseWind(0, s.boot, s.wind, s.revision)) is Verdict.DONE


@pytest.mark.parametrize("kind", [*KINDS, *CLEAN])
def test_a_scene_is_what_its_kind_and_seed_say(kind):
    for seed in range(1, 40):
        scene = draw_scene(kind, seed)
        assert scene == draw_scene(kind, seed)
        assert scene.unseeable == (kind in UNSEEABLE)
        if scene.pause_turn:
            assert scene.at_turn < scene.pause_turn < scene.turns
        board = WRONG_BOARDS.get(kind)
        assert scene.motor or not (board and board.needs_motor)


def test_every_kind_is_drawn():
    drawn = {draw_kind(tuple(KINDS), seed) for seed in range(2000)}
    assert drawn == set(KINDS)


@pytest.mark.parametrize("kind", WRONG_BOARDS)
def test_every_wrong_board_goes_wrong(kind):
    assert any(rehearse_scene(draw_scene(kind, seed)).struck for seed in range(1, 6))


def test_one_seed_gives_one_run():
    scene = draw_scene("host killed twice", 5)
    assert rehearse_scene(scene) == rehearse_scene(scene)


def test_at_least_eighteen_ways_to_be_wrong_each_with_its_words():
    assert len(WRONG_BOARDS) >= 18
    for board in WRONG_BOARDS.values():
        assert board.sentence.endswith(".") and board.sees and board.name.islower()
