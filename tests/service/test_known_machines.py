"""The machines that were taught: found by their ports, never guessed among several."""

from __future__ import annotations

import os

import pytest

from winder.errors import UserMistake, WinderError
from winder.service.known_machines import (
    Known,
    known_file,
    known_machines,
    machine_of,
    plugged_in,
    remember,
    the_machine,
)


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
        names.append(name)
    yield by_id, names
    for pair in pairs:
        for end in pair:
            os.close(end)


def test_nothing_known_says_how_to_begin(tmp_path):
    with pytest.raises(UserMistake, match="no machine has been taught here yet"):
        the_machine(tmp_path)


def test_a_taught_machine_is_found_by_its_lasting_name(tmp_path, ports):
    by_id, names = ports
    device = os.path.realpath(names[0])
    known = remember(device, "winding", tmp_path / "bench.toml", tmp_path, by_id)
    assert known == Known(str(names[0]), "winding", str(tmp_path / "bench.toml"))
    assert the_machine(tmp_path, by_id) == known
    assert machine_of(device, tmp_path, by_id) == known
    assert machine_of(os.path.realpath(names[1]), tmp_path, by_id) is None


def test_taught_again_it_takes_the_place_of_what_was_known(tmp_path, ports):
    by_id, names = ports
    remember(str(names[0]), "winding", tmp_path / "old.toml", tmp_path, by_id)
    remember(str(names[0]), "winding", tmp_path / "new.toml", tmp_path, by_id)
    assert [one.machine for one in known_machines(tmp_path)] == [str(tmp_path / "new.toml")]


def test_of_two_that_are_plugged_in_none_is_taken(tmp_path, ports):
    by_id, names = ports
    for name in names:
        remember(str(name), "winding", tmp_path / f"{name.name}.toml", tmp_path, by_id)
    with pytest.raises(UserMistake, match="2 known machines are plugged in") as refused:
        the_machine(tmp_path, by_id)
    assert all(f"--port {name}" in refused.value.remedy for name in names)


def test_one_that_is_unplugged_is_not_taken(tmp_path, ports):
    by_id, names = ports
    remember(str(names[0]), "winding", tmp_path / "bench.toml", tmp_path, by_id)
    names[0].unlink()
    assert plugged_in(tmp_path, by_id) == []
    with pytest.raises(UserMistake, match="none of the 1 known machines is plugged in"):
        the_machine(tmp_path, by_id)


@pytest.mark.parametrize("text", ["{", "[1]", '[{"port": 1}]', '{"a": 1}', "\0"])
def test_a_spoilt_list_is_one_clear_error_and_is_left_as_it_is(tmp_path, text):
    known_file(tmp_path).write_text(text)
    with pytest.raises(WinderError, match="cannot be read as the list of known machines"):
        the_machine(tmp_path)
    assert known_file(tmp_path).read_text() == text
