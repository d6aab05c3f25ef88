"""``winder bench simulate``: a simulated bench that any serial program can open, until Ctrl-C."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

import winder
from firmware_protocol.framing import FrameReader, encode_message
from firmware_protocol.messages import BASE_VERSION, Hello, Welcome
from firmware_protocol.wire import LAYOUT_OF, unpack
from winder.commands.main import main
from winder.links.serial_link import open_serial

ROOT = Path(winder.__file__).parent.parent
TOKEN = 0x1234


@contextmanager
def serving(*words: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The path it is served on, and the process; interrupted at the end if it still runs."""
    with subprocess.Popen(
        [sys.executable, "-m", "winder", "bench", "simulate", *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    ) as bench:
        try:
            said = bench.stdout.readline()
            assert said.startswith("serving the simulated bench on /dev/pts/"), bench.stderr.read()
            yield said.split()[-1], bench
        finally:
            bench.send_signal(signal.SIGINT)


def welcome_at(path: str, folder: Path) -> Welcome:
    """Say hello to whatever is at a port, as often as a host would."""
    link, reader = open_serial(path, lock_folder=folder), FrameReader()
    try:
        while True:
            link.write(encode_message(Hello(BASE_VERSION, TOKEN)))
            for _ in range(20):
                for frame in reader.feed(link.read(0.1)):
                    if frame.kind == LAYOUT_OF[Welcome].kind:
                        return unpack(frame.kind, frame.payload)
    finally:
        link.close()


def test_a_host_finds_a_board_behind_the_port_and_ctrl_c_ends_it(tmp_path):
    with serving("--seed", "7") as (path, bench):
        welcome = welcome_at(path, tmp_path)
        assert (welcome.board, welcome.token) == ("simulated", TOKEN)
        assert welcome.boot == 2  # opening the port reset it
        bench.send_signal(signal.SIGINT)
        assert bench.wait() == 0
        assert bench.stderr.read() == ""
    assert not os.path.exists(path)


def test_a_board_may_be_left_alone_when_its_port_is_opened(tmp_path):
    with serving("--no-reset-on-open") as (path, _):
        assert welcome_at(path, tmp_path).boot == 1


ENDS = ("INT", "TERM", "HUP", "QUIT", "USR1", "USR2", "ALRM", "ABRT")


@pytest.mark.parametrize("name", ENDS)
def test_a_link_to_the_port_lasts_as_long_as_it_is_served(tmp_path, name):
    link = tmp_path / "bench"
    with serving("--link", str(link)) as (path, bench):
        assert os.readlink(link) == path
        if name == "INT":
            assert welcome_at(str(link), tmp_path).board == "simulated"
        bench.send_signal(signal.Signals[f"SIG{name}"])
        assert bench.wait(10) == 0
    assert list(tmp_path.glob("bench*")) == []


def test_a_link_that_a_killed_bench_left_is_taken_over(tmp_path):
    link = tmp_path / "bench"
    with serving("--link", str(link)) as (_, bench):
        bench.kill()
        bench.wait(10)
    assert link.is_symlink() and not link.exists()
    with serving("--link", str(link)) as (path, _):
        assert os.readlink(link) == path


def test_a_link_that_leads_nowhere_but_is_nobody_knows_whose_stays(tmp_path, capsys):
    link = tmp_path / "bench"
    link.symlink_to("/dev/pts/99999")
    assert main(["bench", "simulate", "--link", str(link)]) == 2
    told = capsys.readouterr().err
    assert "no bench of yours left it" in told and told.count("\n") == 1
    assert os.readlink(link) == "/dev/pts/99999"
    assert not (tmp_path / "bench.served").exists()


def test_a_link_made_anew_after_a_kill_stays_too(tmp_path):
    link = tmp_path / "bench"
    with serving("--link", str(link)) as (_, bench):
        bench.kill()
        bench.wait(10)
    link.unlink()
    link.symlink_to("/dev/pts/99999")
    assert main(["bench", "simulate", "--link", str(link)]) == 2
    assert os.readlink(link) == "/dev/pts/99999"


def test_two_benches_never_share_a_link(tmp_path, capsys):
    link = tmp_path / "bench"
    with serving("--link", str(link)) as (path, _):
        assert main(["bench", "simulate", "--link", str(link)]) == 2
        assert "is served now" in capsys.readouterr().err
        assert os.readlink(link) == path


def test_a_marker_is_never_written_through_a_link(tmp_path):
    (tmp_path / "precious").write_text("mine")
    (tmp_path / "bench.served").symlink_to(tmp_path / "precious")
    assert main(["bench", "simulate", "--link", str(tmp_path / "bench")]) in (1, 2)
    assert (tmp_path / "precious").read_text() == "mine"


def test_truth_is_told_twice_a_second_and_at_the_end(tmp_path):
    truth = tmp_path / "truth.jsonl"
    with serving("--truth", str(truth), "--hands", "-") as (_, bench):
        bench.stdin.write("turn on 2.25\nturn back 1\nfly\ndrill on\npull off 0\n")
        bench.stdin.flush()
        assert bench.stdout.readline() == "hands: turn on 2.25\n"
        assert bench.stdout.readline() == "hands: turn back 1\n"
        assert "say one of: wire joined" in bench.stderr.readline()
        assert "this machine has a motor" in bench.stderr.readline()
        assert "not a number of turns" in bench.stderr.readline()
        for _ in range(100):  # at most ten seconds
            if len(truth.read_text().splitlines()) >= 3:
                break
            with pytest.raises(subprocess.TimeoutExpired):
                bench.wait(0.1)
        bench.send_signal(signal.SIGTERM)
        assert bench.wait(10) == 0
    told = [json.loads(line) for line in truth.read_text().splitlines()]
    assert set(told[0]) == {"t_s", "turns", "counts", "moving", "boot", "wind"}
    assert told[1]["t_s"] - told[0]["t_s"] == pytest.approx(0.5, abs=0.1)
    assert told[-1]["turns"] == pytest.approx(1.25) and told[-1]["moving"] is False


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--seed", "x"], "--seed: seed 'x' is not a whole number"),
        (["--machine", "missing.toml"], "missing.toml"),
        (["--link", __file__], "already exists, and no bench of yours left it; name another"),
        (["--truth", "/missing/truth"], "--truth cannot be opened"),
        (["--truth", "/dev/null"], "is no file that --truth can use"),
        (["--hands", "/dev/null"], "is no file that --hands can use"),
        (["--hands", "missing"], "--hands cannot be opened"),
        (["--link", "/missing/bench"], "no link can be made here"),
    ],
)
def test_a_mistake_ends_with_one_clear_line(capsys, words, told):
    code = main(["bench", "simulate", *words])
    said = capsys.readouterr()
    assert code in (1, 2)
    assert told in said.err
    assert said.err.count("\n") == 1
    assert said.out == ""


def test_a_board_behind_a_port_lives_no_faster_than_its_host(capsys):
    with pytest.raises(SystemExit):
        main(["bench", "simulate", "--pace", "5"])
    assert "--pace" in capsys.readouterr().err


def test_what_is_no_link_of_ours_is_never_replaced(tmp_path, capsys):
    for made in ("file", "folder", "other"):
        path = tmp_path / made
        if made == "file":
            path.write_text("mine")
        elif made == "folder":
            path.mkdir()
        else:
            path.symlink_to(tmp_path / "file")
        assert main(["bench", "simulate", "--link", str(path)]) == 2
    assert (tmp_path / "file").read_text() == "mine"
    assert os.readlink(tmp_path / "other") == str(tmp_path / "file")
