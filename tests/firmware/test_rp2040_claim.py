"""The RP2040 at the rate that it claims, with everything on, and the rule by which it claims: no more than 500000 counts
a second, and no more than half of the first loss (``python tests/benchmarks/bench_rp2040.py``, docs/firmware.md).
"""

from __future__ import annotations

import dataclasses
import re

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE, TWO_EDGES, bench
from emulator.builds import FIRMWARE
from emulator.guided import NO_BELIEFS, GuidedHost
from emulator.limits import leg_at_rate
from emulator.rp2040_board import STORE_AT, UART, USB, Rp2040Board, memory_with
from emulator.rp2040_limits import ACCEL_MCPS2, gear_of, geared, run_at
from emulator.rp2040_scenes import full_log
from emulator.rp2040_tools import needs_rp2040_tools
from emulator.traffic import BusyHost

from firmware_protocol.messages import Reason, State, Verdict
from firmware_protocol.pedal import ArmPedal
from firmware_protocol.settings import write_of
from tests.benchmarks.bench_rp2040 import SENSORS, allowed_cps

PAGE = (FIRMWARE.parents[1] / "docs" / "firmware.md").read_text()
CLAIMS_CPS = {FOUR_EDGES: 300_000, TWO_EDGES: 150_000, ONE_PULSE: 125_000}
CLAIM_CPS = CLAIMS_CPS[FOUR_EDGES]


@pytest.mark.parametrize("sensor", [FOUR_EDGES, TWO_EDGES, ONE_PULSE])
def test_what_the_page_says_of_the_claim_keeps_the_rule(sensor):
    row = rf"^\| {SENSORS[sensor]} \| (\d+) \| (\d+) \| (\d+) \|$"
    (found,) = re.findall(row, PAGE, re.MULTILINE)
    first_loss, may, claims = map(int, found)
    assert claims <= may <= min(500_000, first_loss / 2) + 0.5
    assert allowed_cps(first_loss) == min(500_000, first_loss / 2)
    assert claims == CLAIMS_CPS[sensor]


@needs_rp2040_tools
@pytest.mark.parametrize("sensor", [FOUR_EDGES, TWO_EDGES, ONE_PULSE])
def test_the_board_claims_that_and_takes_no_settings_beyond(sensor):
    one_pulse = {"bounce_us": 0, "least_period_us": 0, "filter_us": 0}
    board = Rp2040Board(bench(20, sensor), **(one_pulse if sensor == ONE_PULSE else {}))
    host = BusyHost(board)
    claimed = CLAIMS_CPS[sensor]
    assert host.open().edge_rate_max_cps == claimed
    for rate_cps, verdict in ((claimed + 1, Verdict.BAD_VALUE), (claimed, Verdict.DONE)):
        rate = {"rate_max_mcps": 1000 * rate_cps, "full_rate_mcps": 1000 * rate_cps}
        assert host.ask(write_of(dataclasses.replace(board.settings, **rate), 0, 0, 0)) is verdict


def by_foot(over: str, log: bytes = b"") -> GuidedHost:
    """Armed for the pedal, which is pressed, with everything on."""
    board = geared(CLAIM_CPS, over, FOUR_EDGES, {"rate_max_mcps": 1000 * CLAIM_CPS})
    if log:
        board.chip.burn(STORE_AT, log)
    host = GuidedHost(board, commands_per_s=20)
    board.chip.take_steps()
    host.load(leg_at_rate(CLAIM_CPS, gear_of(CLAIM_CPS) * ACCEL_MCPS2, 10 * CLAIM_CPS, 4000))
    assert host.ask(ArmPedal(**NO_BELIEFS, generation=1)) is Verdict.DONE
    board.press_pedal(True)
    return host


@needs_rp2040_tools
def test_with_the_longest_filter_no_count_is_lost_at_twice_the_claim():
    host = BusyHost(Rp2040Board(bench(20, ONE_PULSE), filter_us=31))
    claimed = host.open().edge_rate_max_cps
    run = run_at(2 * claimed, 0.2, sensor=ONE_PULSE, filter_us=31)
    assert run.lossless and run.injected > claimed / 4, run


@needs_rp2040_tools
@pytest.mark.parametrize("over", [USB, UART])
def test_wound_by_foot_at_the_claim_and_cut_at_full_speed_it_has_every_count(over):
    host = by_foot(over)
    board = host.board
    while board.chip.speed_cps < 0.99 * CLAIM_CPS:
        BusyHost.live(host, 0.01)
        assert host.status.state in (State.ARMED, State.WINDING), host.status
    BusyHost.live(host, 0.1)
    assert board.chip.speed_cps > 0.98 * CLAIM_CPS
    host.end.cut(board.now_ns)
    BusyHost.live(host, 0.01)
    assert not board.chip.enabled and board.chip.speed_cps > CLAIM_CPS / 2
    until_at_rest(host)
    assert (host.status.state, host.status.reason) == (State.PAUSED, Reason.STOP)
    assert host.status.count == board.chip.true_count == board.chip.edges > CLAIM_CPS / 5
    assert len(board.chip.take_steps()) > 300
    board.assert_sound()


@needs_rp2040_tools
def test_turned_at_twice_the_claim_while_flash_is_erased_and_written_it_has_every_count():
    """The mark of a start leaves less room than a start wants: a sector is erased and the log copied before the drive goes
    on, and meanwhile somebody turns the spindle."""
    log = full_log(memory_with(geared(CLAIM_CPS, USB, FOUR_EDGES, {}).settings))[: -4 * 6]
    host = by_foot(USB, log)
    board = host.board
    while not board.chip.state["flash"]["erasures"]:
        BusyHost.live(host, 0.001)
    operations = board.chip.state["flash"]["operations"]
    board.chip.force(2 * CLAIM_CPS, round(2 * CLAIM_CPS * 0.1))
    BusyHost.live(host, 0.1)
    assert not board.chip.enabled
    assert board.chip.state["flash"]["operations"] > operations + 40
    board.chip.let_go()
    until_at_rest(host)
    assert host.status.count + host.status.unattributed == board.chip.true_count
    assert board.chip.edges > 2 * CLAIM_CPS * 0.09
    board.assert_sound()


def until_at_rest(host: GuidedHost) -> None:
    end_ns = host.board.now_ns + 3_000_000_000
    while host.board.turning:
        assert host.board.now_ns < end_ns, host.status
        BusyHost.live(host, 0.05)
    BusyHost.live(host, 0.4)
