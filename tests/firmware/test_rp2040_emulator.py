"""What npm's rp2040js does otherwise than the part: each mend of the harness, with it and without it.

The reasons are the RP2040's data sheet and the ARMv6-M manual, named beside each. A mend without which nothing
differs would be no mend, and these tests would fail.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from emulator.board import FOUR_EDGES, bench
from emulator.rp2040_board import GP, UART, USB, Rp2040Board
from emulator.rp2040_chip import SERVE
from emulator.rp2040_tools import needs_rp2040_tools
from emulator.traffic import BusyHost

pytestmark = needs_rp2040_tools
PIN_INTERRUPT, USB_INTERRUPT = 29, 21
ENTRY_CYCLES = (
    15  # Cortex-M0+ Technical Reference Manual, 3.9: interrupt latency without wait states
)
BYTE_NS = 20_000  # ten bits at 500000 baud


def board(*unmended: str, over: str = USB) -> Rp2040Board:
    return Rp2040Board(bench(20, FOUR_EDGES), over, unmended=unmended)


@pytest.fixture(scope="module")
def mended() -> Rp2040Board:
    """One with every mend, for the tests that leave it as it was."""
    one = board()
    one.run_s(0.2)
    return one


def greets(one: Rp2040Board) -> bool:
    try:
        BusyHost(one).open()
    except AssertionError:
        return False
    return True


def an_edge(one: Rp2040Board) -> int:
    """The fewest cycles of the pins' interrupt."""
    one.run_s(0.2)
    one.chip.call("clear")
    one.chip.force(2000, 20)
    one.run_s(0.02)
    assert one.chip.vector(PIN_INTERRUPT).calls >= 20
    return one.chip.vector(PIN_INTERRUPT).least


def test_exceptions_take_time(mended):
    assert an_edge(mended) == an_edge(board("exceptions take time")) + ENTRY_CYCLES


@pytest.mark.parametrize(
    "mend",
    [
        # An exception's entry ends its pending (ARMv6-M manual B1.5.6); else the pins' handler runs for ever.
        "pending ends by the entry",
        # WFI returns at once while an exception is pending (ARMv6-M manual, WFI).
        "a wait with something pending is none",
    ],
)
def test_without_it_the_program_hangs_and_the_watchdog_bites(mend):
    hung = board(mend)
    hung.run_s(0.4)
    assert hung.chip.resets >= 1


def test_lines_are_the_interfaces():
    """PSTN subclass 1.2 of USB's communication class, 6.3.12: the recipient is the interface. With it the other tests talk."""
    assert not greets(board("lines are the interface's"))


def test_flash_behind_its_interface():
    """Without it nothing that was kept is read, and the board is one that was never taught."""
    bare = board("flash behind its interface")
    host = BusyHost(bare)
    assert host.open().groups == bytes((1, 0, 0, 0, 0, 1))
    assert any("QSPI" in problem for problem in bare.chip.problems)


def shortest_between_bytes(one: Rp2040Board) -> int:
    """Nanoseconds from one byte of a status to the next."""
    one.run_s(0.25)
    times: list[int] = []
    for _ in range(300):
        one.chip.run_s(0.0002)
        times += [one.now_ns] * len(one.chip.read())
    assert len(times) > 30
    return min(later - first for first, later in zip(times, times[30:], strict=False)) // 30


def test_bytes_take_time():
    """Ten bits each (data sheet 4.2.3): thirty take 0.6 ms."""
    assert shortest_between_bytes(board(over=UART)) >= BYTE_NS * 0.6
    assert shortest_between_bytes(board("bytes take time", over=UART)) < BYTE_NS * 0.6


def pin_interrupts_of_no_edge(one: Rp2040Board) -> int:
    one.run_s(0.2)
    one.chip.pin(GP["A"], True)
    one.run_s(0.001)
    before = one.chip.vector(PIN_INTERRUPT).calls
    for _ in range(10):
        one.chip.pin(GP["A"], True)
        one.run_s(0.001)
    return one.chip.vector(PIN_INTERRUPT).calls - before


def test_a_level_that_stays_is_no_edge(mended):
    """An edge is a change of level (data sheet 2.19.3)."""
    assert pin_interrupts_of_no_edge(mended) == 0
    assert pin_interrupts_of_no_edge(board("a level that stays is no edge")) == 10


def usb_interrupts(one: Rp2040Board) -> int:
    one.run_s(0.25)
    before = one.chip.vector(USB_INTERRUPT).calls
    one.run_s(0.05)
    return one.chip.vector(USB_INTERRUPT).calls - before


def test_a_computer_waits_until_it_has_something_to_say(mended):
    """A host sends no packet without data; the emulator's own answers every poll with an empty one."""
    assert usb_interrupts(mended) < 100
    assert usb_interrupts(board("a computer waits until it has something to say")) > 200


def high_share(one: Rp2040Board, samples: int = 120) -> float:
    """Of the duty pin while half of full duty is asked for by its registers, looked at from outside."""
    one.run_s(0.2)
    pwm3, ctrl = 0x4005003C, 0x40014004 + 8 * GP["DUTY"]
    for at, word in ((pwm3 + 0x0C, 3125), (ctrl, 4)):
        one.chip.call("pokeWord", at, word)
    high = 0
    for _ in range(samples):
        one.chip.ask(until=one.now_ns + 7_310)
        high += bool(one.chip.output(GP["DUTY"]))
    return high / samples


def test_pulse_widths_by_their_registers():
    """The pin toggles 40000 times a second in the bare emulator; with the mend the machine reads what it would do."""
    assert 0.35 < high_share(board("pulse widths by their registers")) < 0.65
    mended = board()
    assert high_share(mended) in (0.0, 1.0)
    assert mended.chip.call("machine", "share", GP["DUTY"], False) == pytest.approx(0.5, abs=1e-3)


def resets_after_one(one: Rp2040Board) -> int:
    one.run_s(0.2)
    one.chip.call("poke", one.binary.variables_end + 64, 0)
    one.reset()
    one.run_s(0.3)
    return one.chip.resets


def test_a_reset_makes_everything_anew():
    """What the chip had under way goes with it: in the bare emulator the watchdog of before bites the one that boots.
    Memory may keep anything (data sheet 2.6.2); the harness paints it, so no program can count on it."""
    mended = board()
    assert resets_after_one(mended) == 1
    assert mended.chip.call("peek", mended.binary.variables_end + 64, 1) == [0xA5]
    assert resets_after_one(board("a reset makes everything anew")) > 1


def test_each_mend_has_its_test():
    chip = (SERVE.parent / "chip.mjs").read_text(encoding="utf-8").replace("\\'", "\N{APOSTROPHE}")
    named = set(re.findall(r"mends\('(.*?)'\)", chip))
    tests = Path(__file__).read_text(encoding="utf-8")
    assert len(named) == 10
    assert not [mend for mend in named if f'"{mend}"' not in tests]
