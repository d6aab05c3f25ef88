"""From the command line: a counter on a hand drill, and a wire that parts, on the simulated bench."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys

import pytest
from running import AT_ONCE, short_recipe_file, winder


def machine_file(folder, *, sense: bool = True):
    path = folder / "handdrill.toml"
    made = winder("bench", "new", str(path))
    assert made.returncode == 0, made.stderr
    text = path.read_text().replace("motor = true", "motor = false")
    if not sense:
        text = text.replace("senses_direction = true", "senses_direction = false")
    path.write_text(text)
    return path


def typing(words, *steps, always=("never", "")):
    """A wind with somebody who types: when a line begins so, this; step after step, or every time."""
    process = subprocess.Popen(
        [sys.executable, "-u", "-m", "winder", "wind", *words, *AT_ONCE],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdin is not None and process.stdout is not None
    seen, left = [], list(steps)
    for line in process.stdout:
        seen.append(line)
        for step in (*left[:1], always):
            found = re.match(step[0], line)
            if found:
                left = [one for one in left if one is not step]
                process.stdin.write(found.expand(step[1]))
                process.stdin.flush()
    assert not left, f"never seen: {left}\n{''.join(seen)}"
    return process.wait(60), "".join(seen)


@pytest.mark.parametrize("sense", [True, False])
def test_a_hand_drill_is_rehearsed(tmp_path, sense):
    words = "rehearse", str(short_recipe_file(tmp_path)), "--machine"
    done = winder(*words, str(machine_file(tmp_path, sense=sense)), "--json")
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert report["state"] == "complete" and int(report["final_turns"]) == 40
    assert report["count_is"] == ("exact" if sense else "vouched")


def test_a_counter_on_the_simulated_bench_counts_back_to_its_turns(tmp_path):
    code, said = typing(
        [str(short_recipe_file(tmp_path)), "--port", "sim?pace=20", "--machine",
         str(machine_file(tmp_path)), "--logbook", str(tmp_path / "book")],
        ("taking off: .* they are counted", ""),
    )  # fmt: skip
    assert code == 0, said
    assert re.search(r"complete: write down: 40(\.\d+)? turns, exact", said)


def test_a_counter_without_direction_is_told_what_came_off(tmp_path):
    code, said = typing(
        [str(short_recipe_file(tmp_path)), "--port", "sim?pace=20", "--machine",
         str(machine_file(tmp_path, sense=False)), "--logbook", str(tmp_path / "book")],
        (r"taking off: ([\d.]+) turns past the target", r"turns off \1\n"),
    )  # fmt: skip
    assert code == 0, said
    assert "complete: write down: 40 turns, vouched for by you" in said


def test_a_wire_that_parts_is_joined_by_typed_words(tmp_path):
    code, said = typing(
        [str(short_recipe_file(tmp_path)), "--port", "sim?pace=10&break=20",
         "--logbook", str(tmp_path / "book")],
        ("tripped", "wire joined\n"),
        ("paused: set the count first", "counted 20\n"),
        ("paused: continue", ""),
        ("type: .*continue", "continue\n"),
        always=("type: .*clear trip.*wire broke", "clear trip\n"),  # until the spindle stands
    )  # fmt: skip
    assert code == 0, said
    assert "complete: write down: 40 turns, vouched for by you" in said
    shown = winder("shelf", "show", "test coil", "--logbook", str(tmp_path / "book"))
    assert re.search(r"splice at turn [\d.]+ to [\d.]+", shown.stdout), (
        "it was joined before the count was settled"
    )


def test_a_drill_behind_a_pseudo_terminal(tmp_path):
    port, machine = tmp_path / "port", str(machine_file(tmp_path))
    server = subprocess.Popen(
        [sys.executable, "-u", "-m", "winder", "bench", "simulate", "--machine", machine,
         "--link", str(port)],
        stdout=subprocess.PIPE, text=True, env={**os.environ},
    )  # fmt: skip
    try:
        assert server.stdout is not None
        assert "serving the simulated bench on" in server.stdout.readline()
        code, said = typing(
            [str(short_recipe_file(tmp_path, turns=15)), "--port", str(port), "--machine", machine,
             "--logbook", str(tmp_path / "book")],
            ("taking off", ""),
        )  # fmt: skip
        assert code == 0, said
        assert re.search(r"complete: write down: 15(\.\d+)? turns, exact", said)
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(10)


def test_a_break_beyond_the_coil_is_one_clear_error(tmp_path):
    done = winder(
        "wind", str(short_recipe_file(tmp_path)), "--port", "sim?break=40", *AT_ONCE,
        "--logbook", str(tmp_path / "book"),
    )  # fmt: skip
    assert done.returncode == 2 and done.stderr.count("\n") == 1
    assert "the wire cannot break at turn 40: the coil ends at 40" in done.stderr
