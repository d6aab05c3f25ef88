"""The command line winds on the core built for this computer, over pyserial and a pseudo-terminal."""

from __future__ import annotations

import dataclasses
import re
import signal
import subprocess

import pytest
from emulator.bench_process import WinderProcess
from emulator.builds import FIRMWARE
from host.core import needs_compiler

from winder.machine.model import SIMULATED_BENCH

pytestmark = needs_compiler


class HostBoard:
    """``winder-host-board``; ``counts_turned`` is known when it has ended."""

    def __init__(self, program, counts: int, *words: str) -> None:
        command = [program, "--counts-per-turn", str(counts), *words]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.path = self.process.stdout.readline().strip()

    def counts_turned(self) -> int:
        self.process.send_signal(signal.SIGTERM)
        told, _ = self.process.communicate(timeout=10)
        found = re.match(r"(-?\d+) counts turned", told)
        assert found, told
        return int(found[1])

    def __enter__(self) -> HostBoard:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.communicate()


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    folder = tmp_path_factory.mktemp("host")
    target = folder / "winder-host-board"
    words = ["make", "-C", str(FIRMWARE), f"BUILD={folder}", str(target)]
    done = subprocess.run(words, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return str(target)


@pytest.mark.parametrize(
    ("counts", "turns", "bound"), [(20, 5, 0.05), (1, 5, 0.5)], ids=["20 counts", "1 count"]
)
def test_the_command_winds_a_coil_on_the_host_board(tmp_path, program, counts, turns, bound):
    profile = dataclasses.replace(
        SIMULATED_BENCH,
        name="host board",
        counts_per_turn=counts,
        direction_sense=False,
        speed_rpm_max=1000.0,
        coasting_rpm_s=400.0,
        braking_rpm_s=2000.0,
        traverse_travel_m=None,
    )
    with (
        HostBoard(program, counts, "--brake") as board,
        WinderProcess(tmp_path, board, profile, turns) as wind,
    ):
        assert wind.end() == 0, wind.told
        turned = board.counts_turned()
    last = float(re.findall(r"(\d+\.\d+) of \d+ turns", wind.told)[-1])
    assert "exact" in wind.lines[-1]
    assert turned == round(last * counts)
    assert 0 <= turned / counts - turns <= bound
