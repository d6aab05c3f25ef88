"""Corners of the core that no wind comes to: full rings, a memory gone round, limits of the guide, a sensor's jump."""

from __future__ import annotations

import ctypes
from dataclasses import replace

import pytest
from host.bench import Bench, leg, wound
from host.core import Core, Machine, needs_compiler

from firmware_protocol.framing import encode_message
from firmware_protocol.messages import (
    CloseWind,
    EndAction,
    Hello,
    Kept,
    PlanBegin,
    Side,
    State,
    TraverseMark,
    TraverseStep,
    Trip,
    Verdict,
)
from firmware_protocol.wire import Group

pytestmark = needs_compiler
SLOTS_AT, SLOT_BYTES = 136, 15
LINE = {"rate_mcps": 300_000, "pitch_nm": 60_000, "left_um": 0, "right_um": 900}


def marked() -> Bench:
    bench = Bench(Machine(1))
    bench.open()
    bench.do(TraverseMark(**bench.beliefs(), side=Side.LEFT, at_um=0))
    return bench


def test_a_frame_longer_than_any_message_is_not_written_nor_sent():
    core = Core()
    core.boot()
    core.data_to_send()
    core.library.frame_write.restype = ctypes.c_uint8
    place = (ctypes.c_uint8 * 512)()
    assert core.library.frame_write(place, 0x81, 1, bytes(255), 255) == 0
    core.library.link_put_frame(0x81, 1, bytes(255), 255)
    assert core.data_to_send() == b""


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"end_action": EndAction.PAUSE}, 3),
        ({"spindle": 0}, 4),
        ({"end_count": 0}, 5),
        ({"rate_mcps": 999}, 6),
        ({"accel_mcps2": 0}, 7),
        ({"creep_mcps": 600_000}, 8),
        ({"pitch_nm": 60_000}, 10),  # there is no guide
        ({"pitch_counts": 0}, 11),
        ({"left_um": 900}, 13),
    ],
)
def test_a_leg_that_cannot_be_is_refused_by_its_field(changes, field):
    machine = Machine(1)
    machine.identity.groups[Group.TRAVERSE - 1] = 0
    bench = Bench(machine)
    bench.open()
    bench.do(PlanBegin(**bench.beliefs(), generation=1, legs=1))
    answer = bench.ask(replace(leg(0, 100, EndAction.COMPLETE), **changes))
    assert (answer.verdict, answer.detail) == (Verdict.BAD_VALUE, field)


def test_the_newest_record_is_found_wherever_it_lies():
    machine = Machine(1)
    bench = wound(machine, leg(0, 100, EndAction.PAUSE), leg(1, 200, EndAction.COMPLETE))
    bench.to_rest()
    bench.run(300)
    bench.start()
    newest = bench.to_rest().count
    bench.run(300)
    first, second = (
        slice(SLOTS_AT + n * SLOT_BYTES, SLOTS_AT + (n + 1) * SLOT_BYTES) for n in (1, 2)
    )
    memory = bytearray(machine.host.nv)
    memory[first], memory[second] = memory[second], memory[first]
    ctypes.memmove(machine.host.nv, bytes(memory), len(memory))
    machine.boot()
    bench = Bench(machine)
    machine.receive(b"\0" + encode_message(Hello(1, 77)))
    bench.host.open(0)
    bench.run(100)
    welcome = bench.host.welcome
    assert (welcome.kept_count, welcome.kept_flags) == (newest, Kept.VALID | Kept.AT_REST)


def test_a_closed_wind_forgets_the_guides_way():
    bench = marked()
    bench.load(leg(0, 200, EndAction.COMPLETE, **LINE))
    bench.start()
    bench.to_rest()
    bench.run(200)
    bench.do(CloseWind(**bench.beliefs()))
    assert bench.status.state is State.STILL


def test_a_stop_ends_a_step_of_the_guide_and_it_stands():
    bench = marked()
    bench.do(TraverseStep(**bench.beliefs(), distance_um=20_000))
    bench.stop()
    stood = bench.to_rest().traverse_um
    assert 0 < stood < 20_000
    bench.run(500)
    assert bench.status.traverse_um == stood


def test_a_guide_led_beyond_its_travel_trips_at_its_end():
    bench = marked()
    bench.do(TraverseMark(**bench.beliefs(), side=Side.RIGHT, at_um=95_000))
    bench.run(60)
    bench.do(TraverseStep(**bench.beliefs(), distance_um=20_000))
    while bench.status.state is not State.TRIPPED:
        bench.run(100)
        assert bench.now_ms < 60_000, bench.status
    assert bench.status.trip is Trip.TRAVERSE_LIMIT
    assert bench.status.traverse_um == 100_000


def test_a_stroke_that_no_wind_lasts_for_leaves_the_guide_where_it_is():
    """65.394 mm at 32 nm in 35729 counts: 17 times 2^32 counts and 530."""
    bench = marked()
    far = {"pitch_nm": 32, "pitch_counts": 35_729, "left_um": 0, "right_um": 65_394}
    bench.load(leg(0, 4000, EndAction.COMPLETE, **far))
    bench.start()
    for _ in range(30):
        bench.run(100)
        assert bench.status.traverse_um == 0
    assert bench.status.count > 500


@pytest.mark.parametrize("pitch_nm", [60_000, 7])
def test_a_scattered_lay_comes_again_by_its_seed_and_differs_by_another(pitch_nm):
    def places(seed: int) -> list[int]:
        bench = marked()
        bench.load(
            leg(0, 4000, EndAction.COMPLETE, **{**LINE, "pitch_nm": pitch_nm}, scatter_seed=seed)
        )
        bench.start()
        found = []
        for _ in range(30):
            bench.run(100)
            found.append(bench.status.traverse_um)
        assert all(0 <= place <= 900 for place in found)
        return found

    again, other = places(5), places(6)
    assert places(5) == again
    assert (again != other) == (pitch_nm > 1000)


def test_a_way_taken_up_behind_the_first_leg_begins_in_the_leg_of_its_count():
    bench = marked()
    legs = (leg(0, 100, EndAction.CONTINUE, **LINE), leg(1, 4000, EndAction.COMPLETE, **LINE))
    bench.load(*legs)
    bench.start()
    while bench.status.leg != 1:
        bench.run(20)
    bench.stop()
    bench.to_rest()
    bench.do(TraverseStep(**bench.beliefs(), distance_um=50))
    bench.to_rest()
    bench.start()
    assert bench.to_rest().state is State.COMPLETE
    assert 0 <= bench.status.traverse_um <= 900


def test_a_stroke_shorter_than_a_count_leaves_the_guide_where_it_is():
    bench = marked()
    bench.load(
        leg(0, 400, EndAction.COMPLETE, rate_mcps=300_000, pitch_nm=60_000, left_um=5, right_um=6)
    )
    bench.start()
    assert bench.to_rest().state is State.COMPLETE
    assert bench.status.traverse_um == 0
