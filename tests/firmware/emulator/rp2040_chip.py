"""The emulated RP2040 from Python: the chip and the machine around it run in a process of node, in virtual time.

The same calls give the same run, bit for bit. ``now`` is in sixteenths of a microsecond, as of the other chip, so that
whoever drives one can drive the other; ``vector`` and ``latency`` are in this chip's cycles of 8 ns.
"""

from __future__ import annotations

import json
import os
import selectors
import subprocess
import weakref
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from .chip import RESET_PIN, DriveTimes, ProgramDied, StepTimes, VectorTimes
from .rp2040_tools import Program, emulator
from .sensor import FALLING, RISING, A, Wire

SERVE = Path(__file__).parent / "rp2040" / "serve.mjs"
ANSWER_WAIT_S = 240.0  # of real time: one stretch of virtual time
VECTORS = {29: "GPIO, sensor A and B", 16: "timer alarm, half a step of the guide", 15: "SysTick, 1 ms",
           21: "USB", 36: "UART"}  # fmt: skip


class Rp2040Sensor:
    """What can be wrong with the sensor; ``SensorFaults`` of the other chip. Times are microseconds."""

    def __init__(self, chip: Rp2040Chip) -> None:
        self._chip = weakref.proxy(
            chip
        )  # no circle: a chip that nobody holds ends its process at once

    def lose(self, channels: int, wire: Wire = Wire.HIGH) -> None:
        self._chip.call("sensor", "lose", channels, int(wire))

    def exchange(self, exchanged: bool = True) -> None:
        self._chip.call("sensor", "exchange", exchanged)

    def bounce(
        self, times: int, width_us: float, edges: int = RISING | FALLING, *, scattered: bool = False
    ) -> None:
        self._chip.call("sensor", "bounce", times, width_us, edges, scattered)

    def disturb(
        self,
        width_us: float,
        period_us: float = 0.0,
        *,
        channels: int = A,
        after_us: float | None = None,
        times: int = -1,
        scattered: bool = False,
    ) -> None:
        after = period_us if after_us is None else after_us
        period = max(period_us, width_us + 1)
        self._chip.call("sensor", "disturb", channels, after, width_us, period, times, scattered)

    def bend(self, offsets: Sequence[float]) -> None:
        self._chip.call("sensor", "bendBorders", list(offsets))

    def seed(self, number: int) -> None:
        self._chip.call("sensor", "seed", number)


class Rp2040Chip:
    """One chip from power-up. ``kept``: what its flash holds behind the program, and where.

    ``unmended``: names of mends of the emulator to do without (``rp2040/chip.mjs``).
    """

    def __init__(
        self, program: Program, line: str, kept: tuple[int, bytes], unmended: Sequence[str] = ()
    ) -> None:
        at, content = kept
        words = ["node", str(SERVE), str(program.image), line, str(at), content.hex()]
        self._variables_end = program.variables_end
        self._sent = b""
        self.state: dict[str, Any] = {}
        self.sensor = Rp2040Sensor(self)
        self._process = subprocess.Popen(
            [*words, ",".join(unmended)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "RP2040JS": str(emulator())},
        )
        self._answers = selectors.DefaultSelector()
        self._answers.register(self._process.stdout, selectors.EVENT_READ)  # type: ignore[arg-type]
        self.ask()

    def __del__(self) -> None:
        if hasattr(self, "_process"):
            self._process.kill()
            self._process.communicate()

    def ask(self, **request: Any) -> list[Any]:
        """One request; what its calls gave. ``ProgramDied`` where the program or the emulator gave up."""
        assert self._process.stdin is not None and self._process.stdout is not None
        self._process.stdin.write(json.dumps(request).encode() + b"\n")
        self._process.stdin.flush()
        if not self._answers.select(ANSWER_WAIT_S):
            raise AssertionError(f"the emulator did not answer within {ANSWER_WAIT_S:.0f} s")
        line = self._process.stdout.readline()
        assert line, "the emulator ended; its last words are above"
        said = json.loads(line)
        if "died" in said:
            raise ProgramDied(said["died"])
        self.state = said
        self._sent += bytes.fromhex(said["sent"])
        return list(said["results"])

    def call(self, *call: Any) -> Any:
        (result,) = self.ask(calls=[call])
        return result

    # --- time and bytes ------------------------------------------------------------------------

    @property
    def now_ns(self) -> int:
        return int(self.state["now"])

    @property
    def now(self) -> int:
        return self.now_ns * 2 // 125

    def run_until(self, cycle: int) -> None:
        if cycle > self.now:
            self.ask(until=cycle * 125 / 2)

    def run_s(self, seconds: float) -> None:
        self.ask(until=self.now_ns + round(seconds * 1e9))

    def write(self, data: bytes) -> None:
        if data:
            self.ask(send=data.hex())

    def read(self) -> bytes:
        data, self._sent = self._sent, b""
        return data

    def set_host_baud(self, baud: int) -> None:
        self.call("baud", baud)

    # --- pins, spindle, guide ------------------------------------------------------------------

    def pin(self, gp: int, level: bool) -> None:
        self.call("machine", "pin", gp, level)

    def output(self, gp: int) -> bool | None:
        """An output's level; None while it floats."""
        level = self.call("output", gp)
        return None if level is None else bool(level)

    def force(self, counts_per_s: float, counts: int = -1) -> None:
        self.call("machine", "force", counts_per_s, counts)

    def let_go(self) -> None:
        self.call("machine", "letGo")

    def jam(self, counts_per_s2: float) -> None:
        self.call("machine", "jam", counts_per_s2)

    def disobey(self, *, shorted: bool = False, late_s: float = 0.0) -> None:
        self.call("machine", "disobey", shorted, late_s)

    def set_character(
        self, *, stiction: float = 0.0, rock_counts: float = 0.0, rock_s: float = 0.06
    ) -> None:
        self.call("machine", "character", stiction, rock_counts, rock_s)

    @property
    def duty(self) -> float:
        """Of the drive's pins, 0 to 1."""
        return float(self.state["duty"])

    @property
    def push(self) -> float:
        """What the motor truly does."""
        return float(self.state["push"])

    @property
    def moved_at(self) -> int:
        """When the spindle last moved, as ``now``."""
        return int(self.state["movedAt"] * 2 // 125)

    def take_peak_cps(self) -> float:
        """The highest speed since the last call, counts/s."""
        return float(self.call("machine", "takePeak"))

    def take_steps(self) -> list[tuple[int, float, int]]:
        """Every step since the last call: sixteenths of a microsecond, the spindle's place, the guide's after it."""
        steps = self.call("machine", "takeSteps")
        return [(int(at * 2 // 125), spindle, place) for at, spindle, place in steps]

    @property
    def true_count(self) -> int:
        return int(self.state["count"])

    @property
    def edges(self) -> int:
        return int(self.state["edges"])

    @property
    def speed_cps(self) -> float:
        return float(self.state["speed"])

    @property
    def place(self) -> float:
        return float(self.state["place"])

    @property
    def place_now(self) -> float:
        return float(self.state["placeNow"])

    @property
    def enabled(self) -> bool:
        return bool(self.state["enabled"])

    @property
    def drive_off_ns(self) -> float:
        """When the drive's pins were last taken off."""
        return float(self.state["watch"]["driveOffAt"]) * 8

    @property
    def contactor_open(self) -> bool:
        return bool(self.state["contactorOpen"])

    @property
    def guide_steps(self) -> int:
        return int(self.state["guide"]["place"])

    @property
    def step_times(self) -> StepTimes:
        guide = self.state["guide"]
        least = (guide[name] / 1000 for name in ("gap", "high", "setUp"))
        return StepTimes(guide["made"], *least)

    # --- resets --------------------------------------------------------------------------------

    def reset(self, cause: int = RESET_PIN, *, held_s: float = 0.0) -> None:
        """By the pin, or by the supply, which leaves a flash that burns in the middle of it."""
        self.call("reset", round(held_s * 1e9), cause != RESET_PIN)

    def burn(self, at: int, content: bytes) -> None:
        """Begin again from power-up, with this in the flash from there on, and nothing behind it."""
        self.call("burn", at, content.hex())

    def fail_at(self, operation: int) -> None:
        """The power fails in the middle of the so manieth write or erasure from now on; 0: never."""
        self.call("failAt", operation)

    @property
    def flash_operations(self) -> int:
        return int(self.state["flash"]["operations"])

    def hang(self, *, interrupts_off: bool = False) -> None:
        self.call("hang", interrupts_off)

    # --- what is watched -----------------------------------------------------------------------

    @property
    def overruns(self) -> int:
        return int(self.state["overruns"])

    @property
    def resets(self) -> int:
        return int(self.state["resets"])

    @property
    def latency(self) -> int:
        """Longest wait of an edge for its interrupt, cycles."""
        return round(self.state["latency"] / 8)

    @property
    def problems(self) -> list[str]:
        return list(self.state["problems"])

    def vector(self, number: int) -> VectorTimes:
        """Cycles, entry and return included, of what let it in the meantime too."""
        t = self.state["times"].get(str(number))
        if t is None:
            return VectorTimes(0, 0, 0, 0.0)
        return VectorTimes(t["calls"], round(t["least"]), round(t["most"]), t["sum"] / t["calls"])

    @property
    def drive_times(self) -> DriveTimes:
        w = self.state["watch"]
        names = ("overlaps", "overlapMost", "driveToBrake", "brakeToDrive", "drives", "brakes")
        return DriveTimes(*(round(w[name]) for name in names))

    def stack_free(self) -> int:
        """Bytes between the program's variables and the deepest the stack ever was."""
        return int(self.call("untouched", self._variables_end))

    def stack_used(self) -> int:
        return int(self.call("stackTop")) - self._variables_end - self.stack_free()
