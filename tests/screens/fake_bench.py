"""A bench that only pretends: winds run by themselves in time, without workshop or machine.

Run it to look at the screens by hand: ``python tests/screens/fake_bench.py [wind|start|hang]``.
Everything in it is invented.
"""

from __future__ import annotations

import sys
import threading
from pathlib import Path

from tests.pages.scenes import SCENES, WINDING, moment
from tests.pages.still import StillBench
from winder.clock import NS_PER_S, SystemClock
from winder.screens import run_wind_screen, run_workbench
from winder.wind.model import Asked, CountTruth, Intent, Phase, WindView

REST = frozenset({Intent.PAUSE, Intent.NOTE, Intent.LEAVE, Intent.END_HERE, Intent.SETTLE_COUNT})
TURNING = frozenset({Intent.PAUSE, Intent.NOTE, Intent.LEAVE, Intent.SLOWER, Intent.FASTER})
SLOWING_S = 1.0
COUNTS_PER_TURN = 4


class PretendedRun:
    """A wind whose count follows the clock. ``journal`` is a file that gets a line when closed."""

    def __init__(self, journal: Path | None = None, speed_rpm: float = 900.0) -> None:
        self._clock = SystemClock()
        self._journal = journal
        self._speed_rpm = speed_rpm
        self._phase = Phase.READY
        self._turns = 4700.0
        self._since_ns = self._clock.now_ns()
        self._accepted = False
        self._lines: list[str] = ["opened: 4700 turns, exact"]
        self._lock = threading.RLock()
        self.closed = False
        self.trouble: BaseException | None = None
        self.signs_of_life = 0

    @property
    def finished(self) -> bool:
        return self.closed

    @property
    def view(self) -> WindView:
        with self._lock:
            self._move_on()
            turns = float(round(self._turns * COUNTS_PER_TURN)) / COUNTS_PER_TURN
            counts = round(turns * COUNTS_PER_TURN)
            turning = self._phase in (Phase.WINDING, Phase.SLOWING)
            share = turns % 140 / 140
            return moment(
                WINDING,
                phase=self._phase,
                headline=self._phase.value,
                advice=self._advice(),
                truth=CountTruth(counts, counts, counts),
                turns=turns,
                remaining_turns=5000 - turns,
                speed_rpm=self._speed_rpm if turning else 0.0,
                seconds_to_go=(5000 - turns) / self._speed_rpm * 60 if turning else None,
                next_stop_turns=5000 - turns,
                next_stop_is="end",
                layer=1 + int(turns // 140),
                guide_share=share if int(turns // 140) % 2 == 0 else 1 - share,
                guide_rightward=int(turns // 140) % 2 == 0,
                may=self._may(),
                lines=tuple(self._lines[-50:]),
            )

    def ask(self, asked: Asked) -> None:
        with self._lock:
            self._move_on()
            self._lines.append(f"asked: {asked.intent.value} {asked.value or ''}".strip())
            if asked.intent is Intent.ACCEPT_CAUTIONS:
                self._accepted = True
            elif asked.intent in self._may():
                self._take(asked.intent)

    def screen_is_alive(self) -> None:
        self.signs_of_life += 1

    def refusals(self) -> list[str]:
        return []

    def close(self, wait_s: float) -> None:
        self.ask(Asked(Intent.LEAVE))
        if not self.closed and self._journal is not None:
            self._journal.write_text(f"closed at {self._turns:.1f} turns\n", encoding="utf-8")
        self.closed = True

    def _take(self, intent: Intent) -> None:
        if intent in (Intent.START, Intent.CONTINUE):
            self._enter(Phase.WINDING)
        elif intent in (Intent.PAUSE, Intent.LEAVE) and self._phase is Phase.WINDING:
            self._enter(Phase.SLOWING)
        elif intent is Intent.END_HERE:
            self._enter(Phase.ENDED)

    def _enter(self, phase: Phase) -> None:
        self._phase = phase
        self._since_ns = self._clock.now_ns()

    def _move_on(self) -> None:
        now_ns = self._clock.now_ns()
        past_s = (now_ns - self._since_ns) / NS_PER_S
        if self._phase is Phase.WINDING:
            self._turns = min(5000.0, self._turns + past_s * self._speed_rpm / 60)
            self._since_ns = now_ns
            if self._turns >= 5000.0:
                self._enter(Phase.COMPLETE)
        elif self._phase is Phase.SLOWING and past_s > SLOWING_S:
            self._enter(Phase.PAUSED)

    def _may(self) -> frozenset[Intent]:
        if self._phase is Phase.READY:
            gate = {Intent.START} if self._accepted else {Intent.ACCEPT_CAUTIONS}
            return REST | gate
        if self._phase is Phase.PAUSED:
            return REST | {Intent.CONTINUE}
        return TURNING if self._phase in (Phase.WINDING, Phase.SLOWING) else REST

    def _advice(self) -> str:
        return "complete by itself" if self._phase is Phase.WINDING else "waits for you"


class PretendedBench(StillBench):
    def open_wind(  # type: ignore[override]
        self, recipe_path: str, port: str, goes_on: int | None = None, spool: str | None = None
    ) -> PretendedRun:
        super().open_wind(recipe_path, port, goes_on, spool)
        return PretendedRun()


def main(words: list[str]) -> int:
    what = words[0] if words else "wind"
    journal = Path(words[1]) if len(words) > 1 else None
    if what == "start":
        return run_workbench(PretendedBench(SCENES["ready"]))
    return run_wind_screen(PretendedRun(journal))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
