"""``winder bench replay``: a recorded wind shown again, by the board's own words."""

from __future__ import annotations

import dataclasses
import re

import pytest
from running import AT_ONCE, short_recipe_file, winder

from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.framing import encode_frame, encode_message
from firmware_protocol.messages import Flag, Reason, State, Status, Trip
from winder.commands.main import main
from winder.links.recording import FIRST_LINE

REST = Status(
    state=State.STILL,
    reason=Reason.NONE,
    trip=Trip.NONE,
    flags=int(Flag.WIRE_PRESENT),
    count=0,
    unattributed=0,
    rate_mcps=0,
    traverse_um=0,
    leg=255,
    generation=0,
    wind=7,
    boot=3,
    uptime_ms=1000,
    revision=0,
    implausible=0,
)


@pytest.fixture(scope="module")
def recording(tmp_path_factory):
    """Of a wind of 12 turns whose wire breaks at the tenth."""
    folder = tmp_path_factory.mktemp("recorded")
    recipe, file = short_recipe_file(folder, turns=12), folder / "wind.record"
    port = "sim?pace=20&break=10"
    winder(
        *("wind", str(recipe), "--port", port, *AT_ONCE, "--logbook", str(folder / "book")),
        *("--record", str(file)),
    )
    return file


def replayed(capsys, *words) -> list[str]:
    assert main(["bench", "replay", *map(str, words)]) == 0
    return capsys.readouterr().out.splitlines()


def told(capsys, tmp_path, *statuses: tuple[int, Status], asked: object = None) -> list[str]:
    """The lines of a recording in which the board said only this, without their times; ``asked`` by the host first."""
    file = tmp_path / "made.record"
    lines = [] if asked is None else [f"0 > {encode_message(asked).hex()}"]
    lines += [f"{ms} < {encode_message(status).hex()}" for ms, status in statuses]
    file.write_text("\n".join([FIRST_LINE, *lines]) + "\n")
    return [line.partition(" s  ")[2] for line in replayed(capsys, file)]


def test_a_wind_is_shown_again_in_turns_with_its_target_and_its_trip(capsys, recording, tmp_path):
    machine = tmp_path / "m.toml"
    main(["bench", "new", str(machine)])
    capsys.readouterr()
    lines = replayed(capsys, recording, "--machine", machine)
    assert "the board 'simulated' answers, boot 1" in lines[0]
    assert any(re.search(r"winding +[1-9]\.\d\d of 12 turns, \d+ rpm", line) for line in lines)
    assert any("trip: the wire broke or ran out" in line for line in lines)
    assert any(re.search(r"tripped +1\d\.\d\d of 12 turns", line) for line in lines)
    assert lines[-1].endswith("the recording ends")
    times = [float(line.split()[0]) for line in lines]
    assert times == sorted(times) and times[-1] > 5


def test_without_a_machine_file_it_shows_counts(capsys, recording):
    lines = replayed(capsys, recording)
    assert any(re.search(r"winding +\d+ of 240 counts, \d+ counts/s", line) for line in lines)


def test_each_change_is_shown_as_it_came(capsys, tmp_path):
    said = told(
        capsys,
        tmp_path,
        (0, REST),
        (50, dataclasses.replace(REST, uptime_ms=1050, flags=0, implausible=2)),
        (2050, dataclasses.replace(REST, uptime_ms=3050, flags=int(Flag.GUARD_OPEN))),
        (2100, dataclasses.replace(REST, uptime_ms=20, boot=4)),
    )
    assert said == [
        "still      0 counts, 0 counts/s",
        "the wire is gone",
        "2 edges that came too soon, not counted",
        "nothing was heard for 2.0 s",
        "the guard is open",
        "the board was reset: boot 4",
        "the recording ends",
    ]


def test_a_slowing_says_why_and_a_damaged_frame_is_told(capsys, tmp_path):
    file = tmp_path / "made.record"
    slowing = dataclasses.replace(REST, state=State.SLOWING, reason=Reason.LEASE_LOST)
    hurt = bytearray(encode_message(REST))
    hurt[5] ^= 0x10
    strange = encode_frame(0xEE, 0, b"")
    rows = (encode_message(REST), bytes(hurt), strange, encode_message(slowing))
    file.write_text("\n".join([FIRST_LINE, *(f"9 < {row.hex()}" for row in rows)]) + "\n")
    said = "\n".join(replayed(capsys, file))
    assert "slowing: nothing heard from this program" in said
    assert "the recording ends, 1 frames from the board damaged" in said


def test_a_wind_cut_short_in_its_last_line_is_shown_up_to_there(capsys, tmp_path):
    file = tmp_path / "cut.record"
    file.write_text(f"{FIRST_LINE}\n0 < {encode_message(REST).hex()}\n50 < 0a")
    assert len(replayed(capsys, file)) == 2


@pytest.mark.parametrize(
    ("text", "words", "said"),
    [
        ("nothing", (), "is not a recording"),
        (None, (), "cannot be read"),
        (f"{FIRST_LINE}\n", ("--pace", "fast"), "is not a number"),
        (f"{FIRST_LINE}\n", ("--machine", "none.toml"), "none.toml"),
        (f"{FIRST_LINE}\n5 < 0x\n6 < 00\n", (), "does not belong to a recording"),
    ],
)
def test_what_cannot_be_shown_is_one_clear_error(capsys, tmp_path, text, words, said):
    file = tmp_path / "some.record"
    if text is not None:
        file.write_text(text)
    assert main(["bench", "replay", str(file), *words]) == 2
    out, err = capsys.readouterr()
    assert said in err and err.count("\n") == 1 and out == ""


def test_a_pace_plays_it_in_time(capsys, tmp_path, monkeypatch):
    slept = []
    monkeypatch.setattr("winder.clock.SystemClock.sleep_s", lambda self, s: slept.append(s))
    file = tmp_path / "made.record"
    rows = [f"{ms} < {encode_message(REST).hex()}" for ms in (0, 3000)]
    file.write_text("\n".join([FIRST_LINE, *rows]) + "\n")
    replayed(capsys, file, "--pace", "10")
    assert sum(slept) == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (TraverseHome, "trip: the guide's home was not found"),
        (TraverseMove, "trip: the guide met its limit"),
    ],
)
def test_a_guide_that_was_sent_home_is_told_from_one_that_ran_into_its_limit(
    capsys, tmp_path, kind, words
):
    led = dataclasses.replace(REST, state=State.SETTING_UP, uptime_ms=1050)
    limit = dataclasses.replace(led, state=State.TRIPPED, trip=Trip.TRAVERSE_LIMIT, uptime_ms=1100)
    asked = kind(0, 3, 7, 0, -5000, rate_um_s=10_000, accel_um_s2=40_000)
    assert words in told(capsys, tmp_path, (0, REST), (50, led), (100, limit), asked=asked)


def test_a_place_that_becomes_known_is_told(capsys, tmp_path):
    known = dataclasses.replace(REST, flags=REST.flags | int(Flag.REFERENCED), uptime_ms=1050)
    lost = dataclasses.replace(REST, uptime_ms=1100)
    lines = told(capsys, tmp_path, (0, REST), (50, known), (100, lost))
    assert "the guide's place is known" in lines and "the guide's place is not known" in lines
