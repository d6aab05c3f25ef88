"""The examination of boards: good ones pass, each wrong one fails at its clause, nothing moves unasked."""

from __future__ import annotations

import ast
import zlib
from pathlib import Path

import minimal_board
import pytest
from board_link import BoardLink, VirtualClock
from cobs import cobs as published_cobs
from reference_board import COUNTER_BOARD, FULL_BOARD, AttendedBoard, ReferenceBoard
from wrong_boards import COUNTER, WRONG_BOARDS
from wrong_guides import SWITCH_BOARD

from firmware_protocol.conformance.clauses import CLAUSES, Outcome
from firmware_protocol.conformance.judging import Permission, by_number, judge
from firmware_protocol.framing import FrameReader
from firmware_protocol.messages import Move, Start, TraverseMark, TraverseStep
from firmware_protocol.wire import LAYOUT_OF

TOKEN = 0x1A2B3C4D
MAY_MOVE = Permission(moves=lambda what: True)


def examined(board, permission=MAY_MOVE, sections=()):
    clock = VirtualClock()
    link = BoardLink(board, clock)
    found = {f.clause.number: f for f in judge(link, clock, TOKEN, permission, sections)}
    return found, link


def numbers(found, outcome):
    return {number for number, finding in found.items() if finding.outcome is outcome}


class MinimalBoard:
    """The second board at the end of a link."""

    def __init__(self) -> None:
        self.record = minimal_board.powered_up(boot=3)
        self.now_ms = 1000

    def receive(self, data: bytes, now_ms: int) -> None:
        minimal_board.hears(self.record, data)

    def tick(self, now_ms: int) -> None:
        minimal_board.passes(self.record, now_ms - self.now_ms)
        self.now_ms = now_ms

    def data_to_send(self) -> bytes:
        data, self.record["out"] = bytes(self.record["out"]), bytearray()
        return data


def test_the_reference_keeps_every_clause_that_can_be_asked():
    found, _ = examined(ReferenceBoard())
    assert numbers(found, Outcome.FAILED) == set()
    pedal = {number for number in CLAUSES if number.startswith("22.")}
    switch = {"23.2", "23.3", "23.4"}
    assert numbers(found, Outcome.NOT_TESTED) == {"10.1", "10.2", "10.3"} | pedal | switch
    assert len(found) == len(CLAUSES)


def test_a_board_with_a_pedal_and_a_stop_switch_keeps_their_clauses_too():
    board = AttendedBoard()
    found, _ = examined(board, Permission(moves=board.listens))
    assert {n: found[n].why for n in numbers(found, Outcome.FAILED)} == {}
    assert numbers(found, Outcome.NOT_TESTED) == {"10.1", "10.2", "10.3", "23.2", "23.3", "23.4"}


def test_a_guide_with_a_limit_switch_keeps_its_clauses_too():
    found, _ = examined(ReferenceBoard(SWITCH_BOARD), sections=(23,))
    assert {number for number in found if number.startswith("23.")} == {
        "23.1",
        "23.2",
        "23.3",
        "23.4",
    }
    assert numbers(found, Outcome.PASSED) == set(found)


def test_where_nobody_presses_anything_that_was_not_tested():
    found, _ = examined(ReferenceBoard(AttendedBoard().device.identity), sections=(22,))
    untested = {n: found[n].why for n in numbers(found, Outcome.NOT_TESTED)}
    assert untested == {
        "22.4": "nobody pressed the pedal",
        "22.5": "nobody pressed the pedal",
        "22.6": "nobody pressed the stop switch",
    }
    assert numbers(found, Outcome.FAILED) == set()


def test_a_board_without_a_stop_switch_is_not_asked_about_one():
    asked = []
    examined(ReferenceBoard(), Permission(moves=lambda what: bool(asked.append(what)) or True))
    assert asked and not any("stop switch" in what for what in asked)


def test_a_counter_keeps_every_clause_that_is_about_it():
    found, _ = examined(ReferenceBoard(COUNTER))
    assert numbers(found, Outcome.FAILED) == set()
    untested = {n: found[n].why for n in numbers(found, Outcome.NOT_TESTED)}
    reasons = ("no MOTOR", "no LEGS", "no SETTINGS", "off and on", "no PEDAL", "no TRAVERSE")
    assert all(any(reason in why for reason in reasons) for why in untested.values())


def test_the_second_board_keeps_every_clause_too():
    found, _ = examined(MinimalBoard())
    assert {n: found[n].why for n in numbers(found, Outcome.FAILED)} == {}
    assert {"2.1", "3.4", "4.6", "5.11", "5.22", "7.3", "8.2"} <= numbers(found, Outcome.PASSED)


def test_the_second_board_shares_nothing_with_this_project():
    tree = ast.parse(Path(minimal_board.__file__).read_text(encoding="utf-8"))
    imported = [n for n in ast.walk(tree) if isinstance(n, ast.Import | ast.ImportFrom)]
    assert [alias.name for node in imported for alias in node.names] == ["struct"]


def test_the_second_board_agrees_with_published_implementations():
    # zlib's CRC-32 and the cobs package are neither this project's nor that board's.
    for data in (b"123456789", bytes(range(56)), b"\0\0\x01\0", b"\x03\0"):
        assert minimal_board.crc32(data) == zlib.crc32(data)
        assert minimal_board.stuffed(data) == published_cobs.encode(data) + b"\0"
        assert minimal_board.unstuffed(published_cobs.encode(data)) == data
    assert minimal_board.crc32(b"123456789") == 0xCBF43926


def test_the_second_board_counts_and_calls_out():
    board = minimal_board.powered_up()
    minimal_board.edge(board)
    assert board["count"] == 0
    board |= {"wind": 9, "target": 3}
    for _ in range(5):
        minimal_board.edge(board)
    assert (board["count"], board["called"]) == (5, 1)


@pytest.mark.parametrize("wrong", WRONG_BOARDS, ids=lambda wrong: wrong.name)
def test_a_wrong_board_fails_at_its_clause(wrong):
    board = wrong.board()
    permission = Permission(moves=getattr(board, "listens", lambda what: True))
    found, _ = examined(board, permission, sections=(int(wrong.clause.split(".")[0]),))
    failed = numbers(found, Outcome.FAILED)
    assert wrong.clause in failed, {n: found[n].why for n in failed}
    assert found[wrong.clause].why


def test_there_are_many_wrong_boards_and_they_break_many_clauses():
    assert len(WRONG_BOARDS) >= 20
    assert len({wrong.clause for wrong in WRONG_BOARDS}) >= 20


def test_nothing_that_could_move_is_sent_without_leave():
    board = ReferenceBoard()
    found, link = examined(board, Permission())
    kinds = {frame.kind for frame in FrameReader().feed(bytes(link.written))}
    assert not kinds & {LAYOUT_OF[each].kind for each in (Start, Move, TraverseStep, TraverseMark)}
    moving = {c.number for c in CLAUSES.values() if c.motion}
    assert moving and moving <= numbers(found, Outcome.NOT_TESTED)
    assert board.body.seen.count == 0


def test_only_what_was_announced_and_agreed_to_moves():
    asked = []
    board = ReferenceBoard()
    found, _ = examined(board, Permission(moves=lambda what: bool(asked.append(what))))
    moving = [c for c in by_number() if c.motion and c.section not in (22, 23)]
    assert asked == [c.motion for c in moving]
    assert board.body.seen.count == 0
    assert {found[c.number].why for c in moving} == {"you did not agree to it"}


def test_a_board_with_a_wind_open_is_left_alone():
    board = ReferenceBoard(COUNTER_BOARD)
    board.device.board.open_wind(77)
    found, _ = examined(board)
    assert numbers(found, Outcome.PASSED) == {"2.1"}
    assert "wind 77 is open" in found["5.20"].why
    assert board.device.board.wind == 77


def test_a_tripped_board_is_left_alone():
    board = ReferenceBoard(FULL_BOARD)
    board.device.board._trip(3)
    found, _ = examined(board)
    assert "TRIPPED (OVERSPEED)" in found["13.1"].why
    assert board.device.board.trip == 3


class Mute:
    def receive(self, data: bytes, now_ms: int) -> None:
        pass

    def tick(self, now_ms: int) -> None:
        pass

    def data_to_send(self) -> bytes:
        return b""


def test_nothing_at_the_port_fails_the_greeting_and_leaves_the_rest_untested():
    found, _ = examined(Mute())
    assert numbers(found, Outcome.FAILED) == {"2.1"}
    assert "nothing came at all" in found["2.1"].why


def test_every_section_of_a_clause_stands_in_the_specification():
    text = Path("docs/protocol/specification.md").read_text(encoding="utf-8")
    for clause in CLAUSES.values():
        assert f"\n## {clause.section}. " in text, clause.number
