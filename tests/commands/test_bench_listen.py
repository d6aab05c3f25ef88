"""``winder wind --record`` and ``winder bench listen``."""

from __future__ import annotations

import pytest

from tests.commands.running import AT_ONCE, short_recipe_file, winder
from winder.commands.main import main


def test_a_wind_is_recorded_and_read_as_sentences(tmp_path):
    recipe = short_recipe_file(tmp_path, turns=3)
    done = winder(
        "wind", str(recipe), "--port", "sim?pace=20", *AT_ONCE,
        "--logbook", "book", "--record", "wind.record", cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    read = winder("bench", "listen", "--port", "wind.record", cwd=tmp_path)
    assert read.returncode == 0
    for sentence in ("opens session", "board 'simulated' welcomes", "open wind", "wind on by plan"):
        assert sentence in read.stdout, sentence
    assert "damaged" not in read.stdout and "complete" in read.stdout


def test_a_recording_is_never_written_over(tmp_path):
    (tmp_path / "wind.record").write_text("mine")
    recipe = short_recipe_file(tmp_path, turns=3)
    done = winder(
        "wind", str(recipe), "--port", "sim", *AT_ONCE,
        "--logbook", "book", "--record", "wind.record", cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == 2 and "the recording cannot be written here" in done.stderr
    assert (tmp_path / "wind.record").read_text() == "mine"


def test_a_port_is_listened_to_for_a_while(capsys):
    assert main(["bench", "listen", "--port", "sim", "--seconds", "1"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert 15 <= len(lines) <= 21 and all("still" in line for line in lines)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--port", "/dev/none"), "does not exist"),
        (("--port", "sim", "--seconds", "0"), "not a time to listen"),
        (("--port", __file__), "is not a recording"),
    ],
)
def test_what_cannot_be_listened_to_is_one_clear_error(capsys, words, said):
    assert main(["bench", "listen", *words]) == 2
    err = capsys.readouterr().err
    assert said in err and err.count("\n") == 1
