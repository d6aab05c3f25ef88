"""The machines that were taught: known by the board's own number, never guessed among several."""

from __future__ import annotations

import os

import pytest

from winder.errors import UserMistake, WinderError
from winder.service.known_machines import (
    Known,
    known_file,
    known_machines,
    moved,
    plugged_in,
    ports_of_known,
)
from winder.service.recognising import Introduced, machine_of, remember_taught

ONE, OTHER = 0x1A2B3C4D, 0x00000007


@pytest.fixture
def ports(tmp_path):
    """Two pseudo-terminals with lasting names, as a folder of the system has them."""
    by_id = tmp_path / "by-id"
    by_id.mkdir()
    pairs = [os.openpty() for _ in range(2)]
    names = []
    for number, (_, other) in enumerate(pairs):
        name = by_id / f"usb-adapter-{number}"
        name.symlink_to(os.ttyname(other))
        names.append(str(name))
    yield by_id, names
    for pair in pairs:
        for end in pair:
            os.close(end)


@pytest.fixture
def learns(tmp_path, ports):
    """Writes a machine down as teaching does; at its old port, if any, is a board of the number ``there``."""

    def taught(port: str, number: int, file: str, board: str = "winding", there: int = 0) -> str:
        def ask(old: str) -> Introduced:
            assert old != port
            if not there:
                raise WinderError("nothing answers", remedy="")
            return Introduced(board, there)

        who = Introduced(board, number)
        return remember_taught(port, who, tmp_path / file, tmp_path, ports[0], ask)

    return taught


@pytest.fixture
def finds(tmp_path, ports):
    """The machine file of the board that says this at that port, and the remark; None where nobody knows it."""

    def found(port: str, number: int, board: str = "winding") -> tuple[str | None, str]:
        known, remark = machine_of(port, Introduced(board, number), tmp_path, ports[0])
        return (os.path.basename(known.machine) if known else None), remark

    return found


def test_nothing_known_says_how_to_begin(tmp_path):
    with pytest.raises(UserMistake, match="no machine has been taught here yet"):
        ports_of_known(tmp_path)


def test_a_taught_machine_is_written_down_under_its_lasting_name(tmp_path, ports, learns, finds):
    by_id, names = ports
    device = os.path.realpath(names[0])
    assert learns(device, ONE, "bench.toml") == ""
    known = Known(names[0], "winding", str(tmp_path / "bench.toml"), ONE)
    assert known_machines(tmp_path) == [known]
    assert ports_of_known(tmp_path, by_id) == [names[0]]
    assert finds(names[0], ONE) == finds(device, ONE) == ("bench.toml", "")


def test_taught_again_it_takes_the_place_of_what_was_known(tmp_path, ports, learns):
    _, names = ports
    learns(names[0], ONE, "old.toml")
    learns(names[1], ONE, "new.toml")
    assert [one.machine for one in known_machines(tmp_path)] == [str(tmp_path / "new.toml")]


def test_boards_exchanged_between_two_ports_keep_their_files(ports, learns, finds):
    _, names = ports
    learns(names[0], ONE, "one.toml")
    learns(names[1], OTHER, "other.toml")
    assert finds(names[1], ONE) == ("one.toml", "")
    assert finds(names[0], OTHER) == ("other.toml", "")


def test_two_boards_taken_in_turn_at_one_port_keep_their_files(ports, learns, finds):
    _, names = ports
    learns(names[0], ONE, "one.toml")
    learns(names[0], OTHER, "other.toml")
    assert finds(names[0], ONE) == ("one.toml", "")
    assert finds(names[0], OTHER) == ("other.toml", "")


@pytest.mark.parametrize(
    ("taught", "there"),
    [
        ((ONE, "winding"), (OTHER, "winding")),
        ((ONE, "winding"), (0, "winding")),
        ((0, "winding"), (ONE, "winding")),
        ((0, "winding"), (0, "counting")),
    ],
    ids=["another number", "a number lost", "a number come", "another name"],
)
def test_another_board_at_the_port_never_gets_the_machine_file(ports, learns, finds, taught, there):
    _, names = ports
    learns(names[0], taught[0], "bench.toml", taught[1])
    with pytest.raises(UserMistake, match=r"not the one that .*bench\.toml was taught with") as no:
        finds(names[0], *there)
    assert "--machine" in no.value.remedy and no.value.where == names[0]


def test_a_board_that_nobody_taught_is_no_known_machine(ports, learns, finds):
    _, names = ports
    learns(names[0], ONE, "bench.toml")
    assert finds(names[1], 0) == (None, "")
    with pytest.raises(UserMistake, match="no machine was taught with it here"):
        finds(names[1], OTHER)


def test_a_board_without_a_number_is_known_by_its_port_and_that_is_said(ports, learns, finds):
    _, names = ports
    assert "known by its port" in learns(names[0], 0, "drill.toml", "counting")
    file, remark = finds(names[0], 0, "counting")
    assert file == "drill.toml" and "known by its port" in remark
    assert finds(names[1], 0, "counting") == (None, "")


def test_two_boards_with_one_number_are_known_by_their_ports_and_that_is_said(ports, learns, finds):
    _, names = ports
    learns(names[0], ONE, "one.toml")
    assert f"on {names[0]} has the same number" in learns(names[1], ONE, "other.toml", there=ONE)
    for name, file in zip(names, ("one.toml", "other.toml"), strict=True):
        found, remark = finds(name, ONE)
        assert found == file and "Two boards have the number 1a2b3c4d" in remark
    with pytest.raises(UserMistake, match="2 machines were taught with boards of that number"):
        finds("/dev/elsewhere", ONE)


def test_a_board_that_changed_its_port_is_not_taken_for_two(tmp_path, ports, learns):
    _, names = ports
    learns(names[0], ONE, "one.toml")
    assert learns(names[1], ONE, "other.toml", there=OTHER) == ""
    assert len(known_machines(tmp_path)) == 1


def test_a_known_board_on_a_new_port_is_found_there_from_then_on(tmp_path, ports, learns):
    by_id, names = ports
    learns(names[0], ONE, "bench.toml")
    moved(known_machines(tmp_path)[0], os.path.realpath(names[1]), tmp_path, by_id)
    assert [one.port for one in known_machines(tmp_path)] == [names[1]]


def test_one_that_is_unplugged_is_not_taken(tmp_path, ports, learns):
    by_id, names = ports
    learns(names[0], ONE, "bench.toml")
    os.unlink(names[0])
    assert plugged_in(tmp_path, by_id) == []
    with pytest.raises(UserMistake, match="none of the 1 known machines is plugged in"):
        ports_of_known(tmp_path, by_id)


BROKEN = ["{", "[1]", '[{"port": 1}]', '{"a": 1}', "\0", '[{"port":"a","board":"b","machine":7}]']
NUMBERS = ["-1", "4294967296", '"7"', "true"]
ENTRY = '[{"port": "a", "board": "b", "machine": "c", "number": %s}]'


@pytest.mark.parametrize("text", BROKEN + [ENTRY % number for number in NUMBERS])
def test_a_spoilt_list_is_one_clear_error_and_is_left_as_it_is(tmp_path, text):
    known_file(tmp_path).write_text(text)
    with pytest.raises(WinderError, match="cannot be read as the list of known machines"):
        ports_of_known(tmp_path)
    assert known_file(tmp_path).read_text() == text
