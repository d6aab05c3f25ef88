"""The main job from the command line: rehearse, wind on the simulated bench, look at the shelf."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys

import pytest
from running import AT_ONCE, short_recipe_file, winder


def test_rehearse_without_a_recipe_winds_the_shipped_example():
    done = winder("rehearse", "--json")
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert report["state"] == "complete"
    assert int(report["final_turns"]) == report["target_turns"] >= 4000
    words = winder("rehearse", "--seed", "3")
    assert words.returncode == 0
    assert "complete" in words.stdout
    assert "seed 3" in words.stdout


def test_many_drawn_machines_have_runs_and_a_summary(tmp_path):
    recipe = short_recipe_file(tmp_path)
    done = winder("rehearse", str(recipe), "--machine", "any", "--runs", "6", "--json")
    assert done.returncode == 0, done.stderr
    campaign = json.loads(done.stdout)
    assert len(campaign["runs"]) == campaign["summary"]["runs"] == 6
    assert campaign["summary"]["bounds_held"]
    assert {run["seed"] for run in campaign["runs"]} == set(range(1, 7))
    assert len({run["machine"]["inertia_kg_m2"] for run in campaign["runs"]}) == 6
    table = winder("rehearse", str(recipe), "--machine", "any", "--runs", "2")
    assert "2 rehearsals: 2 complete" in table.stdout


def test_a_wind_on_the_simulated_bench_reaches_the_shelf(tmp_path):
    recipe, logbook = short_recipe_file(tmp_path), tmp_path / "book"
    done = winder(
        "wind", str(recipe), "--port", "sim?pace=50&seed=4", *AT_ONCE,
        "--logbook", str(logbook),
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "complete" in done.stdout
    assert "not an emergency stop" in done.stdout
    assert "mounted: top towards you: the spindle turns counter-clockwise" in done.stdout
    coils = json.loads(winder("shelf", "list", "--json", "--logbook", str(logbook)).stdout)
    assert len(coils) == 1
    shown = winder("shelf", "show", "test coil", "--logbook", str(logbook))
    assert shown.returncode == 0
    assert "40" in shown.stdout
    assert "exact" in shown.stdout


def test_the_word_start_starts_and_nothing_moves_before_it(tmp_path):
    recipe = short_recipe_file(tmp_path)
    words = ("wind", str(recipe), "--port", "sim?pace=50", "--plain", "--logbook")
    refused = winder(*words, str(tmp_path / "a"), typed="start\n")
    assert refused.returncode == 2, "a pipe is no terminal"
    assert "--start" in refused.stderr


def test_a_planned_pause_without_anybody_ends_the_run_with_the_count_kept(tmp_path):
    recipe = short_recipe_file(tmp_path, more="pauses = [20]")
    book = str(tmp_path / "book")
    done = winder("wind", str(recipe), "--port", "sim?pace=50", *AT_ONCE, "--logbook", book)
    assert done.returncode == 1
    shown = winder("shelf", "show", "1", "--logbook", book)
    assert "20" in shown.stdout


def test_a_planned_pause_is_continued_by_the_typed_word(tmp_path):
    recipe = short_recipe_file(tmp_path, more="pauses = [20]")
    process = subprocess.Popen(
        [
            sys.executable, "-u", "-m", "winder", "wind", str(recipe), "--port", "sim?pace=20",
            *AT_ONCE, "--logbook", str(tmp_path / "book"),
        ],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdin is not None and process.stdout is not None
    seen = []
    for line in process.stdout:
        seen.append(line)
        if line.startswith("paused"):
            process.stdin.write("note half way\ncontinue\n")
            process.stdin.flush()
    assert process.wait(60) == 0, "".join(seen)
    assert any(line.startswith("complete") for line in seen)


def test_ctrl_c_pauses_and_a_second_one_leaves_with_the_count_kept(tmp_path):
    recipe, book = short_recipe_file(tmp_path, turns=2000), str(tmp_path / "book")
    process = subprocess.Popen(
        [
            sys.executable, "-u", "-m", "winder", "wind", str(recipe), "--port", "sim?pace=5",
            *AT_ONCE, "--logbook", book,
        ],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    seen = []
    for line in process.stdout:
        seen.append(line)
        if re.search(r"^ +\d+\.\d+ of", line) and not line.strip().startswith("0.00"):
            process.send_signal(signal.SIGINT)
            break
    for line in process.stdout:
        seen.append(line)
        if line.startswith("paused"):
            process.send_signal(signal.SIGINT)
            break
    seen += list(process.stdout)
    assert process.wait(60) == 1, "".join(seen)
    last = [line for line in seen if " of 2000 turns" in line][-1]
    turns = float(last.split()[0])
    assert 0 < turns < 2000
    (coil,) = json.loads(winder("shelf", "list", "--json", "--logbook", book).stdout)
    low, high = coil["turns"]
    assert low <= turns <= high <= low + 2, "a spindle nobody listens to may be turned, by a turn"
    go_on = f"winder wind {recipe} --port 'sim?pace=5' --logbook {book} --continue 1"
    assert go_on in "".join(seen), "what to type next is said whole"


def test_across_a_pseudo_terminal(tmp_path):
    port, recipe = tmp_path / "port", short_recipe_file(tmp_path, turns=25)
    server = subprocess.Popen(
        [sys.executable, "-u", "-m", "winder", "bench", "simulate", "--link", str(port)],
        stdout=subprocess.PIPE, text=True, env={**os.environ},
    )  # fmt: skip
    try:
        assert server.stdout is not None
        assert "serving the simulated bench on" in server.stdout.readline()
        done = winder(
            "wind", str(recipe), "--port", str(port), *AT_ONCE,
            "--logbook", str(tmp_path / "book"),
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        assert "25.00 of 25 turns, exact" in done.stdout
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(10)


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["wind", "{recipe}", "--port", "/dev/none", "--start", "--top", "operator", "--tension", "12 cN"], 2, "does not exist"),
        (["wind", "{recipe}", "--port", "{folder}", "--start", "--top", "operator", "--tension", "12 cN"], 2, "folder"),
        (["wind", "{recipe}", "--port", "{recipe}", "--start", "--top", "operator", "--tension", "12 cN"], 2, "is a file"),
        (["wind", "{recipe}", "--port", "sim?pase=3", "--start", "--top", "operator", "--tension", "12 cN"], 2, "did you mean 'pace'"),
        (["wind", "{folder}", "--port", "sim", "--start", "--top", "operator", "--tension", "12 cN"], 2, "directory"),
        (["wind", "{folder}/none.toml", "--port", "sim", "--start", "--top", "operator", "--tension", "12 cN"], 2, "none.toml"),
        (["wind", "{recipe}", "--port", "sim", "--start", "--top", "operator", "--tension", "12 cN", "--logbook", "{folder}"], 2, "folder"),
        (["wind", "{recipe}", "--port", "sim", "--start", "--top", "operator", "--tension", "12 cN", "--logbook", "{recipe}"], 2, "logbook"),
        (["wind", "{recipe}", "--port", "sim", "--start", "--top", "operator", "--tension", "12 cN", "--machine", "{recipe}"], 2, "short.toml:"),
        (["rehearse", "{recipe}", "--runs", "0"], 2, "--runs"),
        (["rehearse", "{recipe}", "--seed", "x"], 2, "not a number"),
        (["shelf", "show", "nothing", "--logbook", "{folder}/book"], 2, "no such logbook"),
        (["wind", "{recipe}", "--start", "--top", "operator", "--tension", "12 cN"], 2, "--port"),
        (["wind", "{recipe}", "--port", "sim", "--start", "--tension", "12 cN"], 2, "--top"),
        (["wind", "{recipe}", "--port", "sim", "--start", "--top", "chuck"], 2, "--tension"),
        (["wind", "{recipe}", "--port", "sim", "--start"], 2, "--tension '12 cN'"),
        (["wind", "{recipe}", "--port", "sim", "--start", "--top", "chuck", "--tension", "hard"], 2, "12 cN"),
    ],
)  # fmt: skip
def test_a_mistake_is_one_clear_error_and_loses_nothing(tmp_path, words, code, says):
    recipe = short_recipe_file(tmp_path)
    before = recipe.read_text()
    done = winder(*[word.format(recipe=recipe, folder=tmp_path) for word in words])
    assert done.returncode == code, done.stderr
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert recipe.read_text() == before
