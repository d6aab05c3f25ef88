"""A file is written whole or not at all: on a disk without room nothing of a new one is left, and an old one stays."""

from __future__ import annotations

import resource
from contextlib import contextmanager

import pytest

from winder.errors import UserMistake, WinderError
from winder.files.whole_file import replace_file, write_new_file

LIMIT, LONG = 4096, "wire " * 10_000


@contextmanager
def no_room():
    """Files may not grow beyond the limit: what a full disk is to a program."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (LIMIT, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_of_a_new_file_without_room_nothing_is_left(tmp_path):
    file = tmp_path / "bass.toml"
    with no_room(), pytest.raises(WinderError, match="make room on the disk") as told:
        write_new_file(file, LONG, "recipe")
    assert told.value.exit_code == 1 and list(tmp_path.iterdir()) == []
    write_new_file(file, LONG, "recipe")  # the name is free, once there is room
    assert file.read_text() == LONG


def test_an_old_file_stays_whole_where_the_new_one_has_no_room(tmp_path):
    file = tmp_path / "bench.toml"
    file.write_text("old")
    with no_room(), pytest.raises(OSError, match="too large"):
        replace_file(file, LONG)
    assert [each.name for each in tmp_path.iterdir()] == ["bench.toml"]
    assert file.read_text() == "old"


def test_a_file_is_replaced_with_its_rights_and_through_its_link(tmp_path):
    file, link = tmp_path / "bench.toml", tmp_path / "link.toml"
    file.write_text("old")
    file.chmod(0o640)
    link.symlink_to(file)
    replace_file(link, "new\r\n")
    assert link.is_symlink() and file.read_bytes() == b"new\r\n"
    assert file.stat().st_mode & 0o777 == 0o640
    assert len(list(tmp_path.iterdir())) == 2


def test_a_name_that_is_taken_and_one_that_cannot_be_are_told(tmp_path):
    file = tmp_path / "mine"
    file.write_text("mine")
    with pytest.raises(UserMistake, match="taken already"):
        write_new_file(file, "x", "card")
    with pytest.raises(UserMistake, match="choose a directory"):
        write_new_file(tmp_path / "none" / "x", "x", "card")
    with pytest.raises(UserMistake, match="cannot be written here"):
        write_new_file(tmp_path / "\0", "x", "card")
    assert file.read_text() == "mine"


def test_of_a_text_that_is_no_utf8_nothing_is_left(tmp_path):
    for write in (
        lambda file: write_new_file(file, "\udcff", "recipe"),
        lambda file: replace_file(file, "\udcff"),
    ):
        with pytest.raises((UserMistake, ValueError)):
            write(tmp_path / "bass.toml")
        assert list(tmp_path.iterdir()) == []
