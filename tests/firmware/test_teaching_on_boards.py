"""A machine taught at the real binary in the emulator: a hand that errs, a motor of figures that nobody tells."""

from __future__ import annotations

import random

import pytest
from emulator.board import FOUR_EDGES, ONE_PULSE, EmulatedBoard, bench
from emulator.builds import needs_cross_tools

from firmware_protocol.messages import Status
from firmware_protocol.settings import Settings
from winder.clock import HandClock
from winder.links.simulated_link import SimulatedLink
from winder.machine.reader import read_machine_text
from winder.service.teaching.bench import TaughtBoard
from winder.service.teaching.dialogue import Deed, Kind, Question, Step
from winder.service.teaching.lesson import teach
from winder.service.teaching.written import machine_text
from winder.simulator.build import RAD_S_PER_RPM

pytestmark = needs_cross_tools
BY_HAND_CPS = 0.8  # turns a second: below what the board takes for a motor that runs away


class Hands:
    """Turns the emulated spindle from mark to mark, five degrees wrong at each end, and says yes."""

    def __init__(self, board: EmulatedBoard, link: SimulatedLink, counts: int) -> None:
        self.board, self.link, self.counts = board, link, counts
        self.chance = random.Random(3)
        self.told: list[str] = []
        self.steps: list[Step] = []
        self.leads = ["50", "29.5", ""]  # from 20 mm to the right end

    def begin(self, step: Step, coming: tuple[Step, ...]) -> None:
        self.steps.append(step)

    def watch(self, status: Status | None) -> bool:
        return True

    def tell(self, line: str) -> None:
        self.told.append(line)

    def ask(self, question: Question) -> str:
        if question.deed is Deed.TURN:
            errs = sum(self.chance.uniform(-5, 5) for _ in range(2)) / 360
            counts = round((question.turns + errs) * self.counts)
            chip = self.board.chip
            end = chip.true_count + counts
            chip.force(BY_HAND_CPS * self.counts, counts)
            for _ in range(3 * int(counts / (BY_HAND_CPS * self.counts))):
                self.board.run_s(1.0)
                if chip.true_count >= end:
                    break
            assert chip.true_count == end
            chip.let_go()
            self.link.read(0.01)  # the clock of the lesson goes on to where the machine is
            return ""
        if question.deed is not None:
            self.do(question.deed)
            return ""
        for part, told in KNOWN.items():
            if part in question.text:
                return told
        if "Lead the guide" in question.text:
            return self.leads.pop(0)
        return "" if question.kind is Kind.KEEP else "yes"

    def do(self, deed: Deed) -> None:
        """Guard and wire, at the chip's pins; the guide stands at its left end as it is."""
        if deed is Deed.GUIDE_LEFT:
            return
        if deed in (Deed.OPEN_GUARD, Deed.CLOSE_GUARD):
            self.board.open_guard(deed is Deed.OPEN_GUARD)
        else:
            self.board.lose_wire(deed is Deed.WIRE_OUT)


KNOWN = {
    "What do you call": "emulated",
    "printed on the sensor": "",
    "by your caliper?": "20.0",
    "between the flanges": "",
    "The sensor: 1 for": "4",
    "Top speed for the spindle": "1500",
    "About how many counts": "20",
    "For how many seconds": "1.5",
    "while their pin is LOW": "",
    "Steps that move it": "400",
    "Millimetres that it can": "100",
    "Millimetres a second": "10",
}


@pytest.mark.parametrize(
    ("image", "machine"),
    [("atmega328p", bench(20, FOUR_EDGES)), ("smallest", bench(4, ONE_PULSE))],
    ids=["winding", "counting"],
)
def test_an_emulated_machine_is_taught(image, machine):
    """From a chip that was only loaded: nothing is wired as far as it knows."""
    board, clock = EmulatedBoard(machine, image, taught=False), HandClock()
    board.run_s(0.5)
    link = SimulatedLink(board, clock)
    hands = Hands(board, link, machine.profile.counts_per_turn)
    taught = TaughtBoard(link, clock, "emulated")
    try:
        learned = teach(taught, hands)
        kept = taught.read_settings() if image == "atmega328p" else None
    finally:
        taught.close()
    assert learned.counts_per_turn == machine.profile.counts_per_turn
    profile = read_machine_text(machine_text(learned, "a port", "a board"), "taught.toml")
    assert profile.motor is (image == "atmega328p")
    if kept is None:
        assert hands.steps[-1] is Step.DIRECTION
        return
    assert [step for step in Step if step not in (Step.BOUNCE, Step.DIRECTION)] == hands.steps
    build = machine.build
    assert build.brake_nm is not None and profile.braking_rpm_s is not None
    rpm_s = RAD_S_PER_RPM * build.inertia_kg_m2
    truly = (build.coulomb_nm + build.brake_nm) / rpm_s
    assert profile.braking_rpm_s == pytest.approx(truly, rel=0.12)
    assert profile.speed_rpm_max == pytest.approx(build.speed_rpm_max, rel=0.10)
    assert profile.coasting_rpm_s <= build.coulomb_nm / rpm_s * 1.1
    assert not board.turning
    assert learned.steady_rpm is not None and 12.0 <= learned.steady_rpm <= 192.0
    assert learned.travel_mm == pytest.approx(99.5, abs=0.1)
    knows(kept, truly, build.speed_rpm_max)


def knows(kept: Settings, slows_rpm_s: float, top_rpm: float) -> None:
    """The chip's own settings, as they were read back after the lesson."""
    assert 1000 <= kept.cut_ms <= 2000
    slows_s = (kept.rest_ms - kept.cut_ms - 3000) / 1500
    assert slows_s == pytest.approx(top_rpm / slows_rpm_s, rel=0.12)
    assert kept.rate_max_mcps == pytest.approx(top_rpm / 60 * 20 * 1000, rel=0.10)
    assert kept.travel_steps * kept.step_pm * 1e-9 == pytest.approx(99.5, abs=0.1)
