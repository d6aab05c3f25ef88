"""Kill the real program at a random moment, continue the coil, and compare what it claims with what is true.

    python -m tests.campaigns.kill_and_continue --runs N [--seed S] [--json]

Each run is one coil on one simulated bench behind a pseudo-terminal: with a motor or a drill, a board that is reset
when its port is opened or one that is not, few counts a turn or many. Its wind is ended by a signal, a closed
terminal or a full disk, once or twice in a row, and continued with ``--continue``. The person here is honest: they
answer what they are asked, and look at the bench only to count turns at rest, as anybody can.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import random
import re
import signal
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from tests.campaigns.bench_and_wind import (
    Bench,
    Claim,
    TooLong,
    Winding,
    claim_on_shelf,
    serving,
    true_counts,
)

DEATHS = ("KILL", "TERM", "HUP", "QUIT", "terminal closed", "disk full")
ATTEMPTS_MAX = 8  # to continue one coil
RUN_S = 150.0  # longest run, on a busy computer
CLAIM_WAITS_S = 12.0  # for the spindle to rest, before the shelf is looked at
LOOKS_FROM_S = 1.0  # whoever waits so long between two winds looks at the shelf meanwhile
ENDS_S = 30.0  # for a program that was told to end
AT_ONCE_PER_CORE = 2  # runs: they mostly wait for the spindle

RECIPE = """\
name = "kill and continue"
note = "Invented, for the tests."

[wire]
gauge = "36 AWG"
film = "single"

[bobbin]
shape = "round"
diameter = "10 mm"
width = "8 mm"
flange_height = "4 mm"

[target]
turns = {turns}

[winding]
direction = "clockwise"
speed = "{rpm} rpm"
"""
MACHINE = """\
name = "campaign"

[sensor]
counts_per_turn = {counts_per_turn}
senses_direction = {sense}

[spindle]
motor = {motor}
speed_max = "1500 rpm"
acceleration = "900 rpm/s"
coasting = "700 rpm/s"
braking = "4000 rpm/s"
"""


@dataclass(frozen=True)
class Scene:
    """One coil, its bench, and how its winds end."""

    seed: int
    motor: bool
    sense: bool
    counts_per_turn: int
    resets: bool
    turns: int
    rpm: int
    screen: bool  # the first wind on the wind screen instead of lines
    deaths: tuple[str, ...]
    moments: tuple[
        float, ...
    ]  # s after the spindle began to turn; below 0: that long after the program began
    rests: tuple[float, ...]  # s between a death and the next attempt
    drill_notices_s: float | None  # whoever drills sees that the program is gone; None: never


def draw_scene(seed: int) -> Scene:
    chance = random.Random(f"kill and continue {seed}")
    motor = chance.random() < 0.6
    sense = chance.random() < 0.7
    turns, rpm = chance.randint(30, 60), chance.choice((500, 700, 900))
    winds_s = turns / rpm * 60 + 1 if motor else turns / 6
    number = 2 if chance.random() < 0.4 else 1
    return Scene(
        seed=seed,
        motor=motor,
        sense=sense,
        counts_per_turn=chance.choice((1, 4, 12, 20, 100)),
        resets=chance.random() < 0.5,
        turns=turns,
        rpm=rpm,
        screen=chance.random() < 0.25,
        deaths=tuple(chance.choice(DEATHS) for _ in range(number)),
        moments=tuple(
            chance.uniform(0.0, winds_s) if chance.random() < 0.85 else -chance.uniform(0.3, 3.0)
            for _ in range(number)
        ),
        rests=tuple(chance.choice((0.0, 0.3, 1.0, 2.5)) for _ in range(ATTEMPTS_MAX)),
        drill_notices_s=chance.choice((None, 0.5, 1.5)),
    )


@dataclass
class Result:
    """What one run came to. Claims: where, the claim in counts, the truth in counts."""

    seed: int
    scene: dict[str, Any]
    claims: list[tuple[str, Claim | None, int]] = field(default_factory=list)
    complete: bool = False
    on_the_turn: bool = False
    trouble: str = ""
    said: str = ""

    @property
    def wrong_exact(self) -> int:
        return sum(c is not None and c.sure and not c.holds(true) for _, c, true in self.claims)

    @property
    def bounds_missed(self) -> int:
        return sum(c is not None and not c.sure and not c.holds(true) for _, c, true in self.claims)

    @property
    def unclaimed(self) -> int:
        """Times at which turns lay on the coil and the shelf said nothing of them."""
        return sum(c is None and true > 0 for _, c, true in self.claims)

    @property
    def good(self) -> bool:
        wrong = self.wrong_exact or self.bounds_missed or self.unclaimed
        return not wrong and self.complete and self.on_the_turn


class Person:
    """Sits at the terminal and at the bench; answers what is asked, and counts turns when asked to."""

    def __init__(self, scene: Scene, bench: Bench) -> None:
        self._scene = scene
        self._bench = bench

    def counted_turns(self) -> str:
        """What they count on the coil, the spindle at rest."""
        self.drill(False)
        truth, per_turn = self._bench.at_rest(), self._scene.counts_per_turn
        counts = true_counts(truth, per_turn, self._bench.pulled_counts)
        return f"{counts / per_turn:.6f}".rstrip("0").rstrip(".")

    def drill(self, on: bool) -> None:
        if not self._scene.motor:
            self._bench.hand("drill on" if on else "drill off")

    def read(self, wind: Winding, line: str) -> None:
        """One line of the program's, and what they do about it."""
        if line.startswith(("winding:", "starting:")):
            self.drill(True)
        elif line.startswith(("paused:", "ready:", "complete:", "ended:")):
            self.drill(False)
        if line.startswith("complete:"):
            wind.type("leave")
        elif line.startswith("type: "):
            self._answer(wind, line.removeprefix("type: ").split(", "))

    def _answer(self, wind: Winding, may: list[str]) -> None:
        told = [line for line in wind.said.split("\n") if re.match("[a-z ]+: ", line)]
        newest = next((line for line in reversed(told) if not line.startswith("type: ")), "")
        off = re.match(r"taking off: ([\d.]+) turns", newest)
        if "counted TURNS" in may and re.search("doubt|between|set the count", newest):
            wind.type(f"counted {self.counted_turns()}")
        elif off and "turns off TURNS" in may and not (self._scene.sense or self._scene.motor):
            turns = off.group(1)
            self._bench.hand(f"pull off {turns}")
            self._bench.pulled_counts += round(float(turns) * self._scene.counts_per_turn)
            wind.type(f"turns off {turns}")
        elif off and not self._scene.motor:
            self._bench.hand(f"turn back {off.group(1)}")
        elif "clear trip" in may:
            wind.type("clear trip")
        elif "continue" in may:
            wind.type("continue")


class Run:
    """One coil from its first wind to its end."""

    def __init__(self, scene: Scene, folder: Path, bench: Bench, result: Result) -> None:
        self._scene, self._folder, self._bench = scene, folder, bench
        self._logbook = folder / "logbook.sqlite"
        self._person = Person(scene, bench)
        self._until = time.monotonic() + RUN_S
        self.result = result
        self._recipe, self._machine = folder / "coil.toml", folder / "machine.toml"
        self._recipe.write_text(RECIPE.format(turns=scene.turns, rpm=scene.rpm))

    def wind(self) -> None:
        deaths = list(zip(self._scene.deaths, self._scene.moments, strict=True))
        told_turns = ""
        for attempt in range(ATTEMPTS_MAX):
            words = [str(self._recipe), "--port", str(self._bench.port), "--machine"]
            words += [str(self._machine), "--logbook", str(self._logbook), "--start"]
            words += ["--top", "operator", "--tension", "12 cN"]
            words += [] if self._scene.screen and not attempt else ["--plain"]
            if self._logbook.exists() and self._begun():
                words += ["--continue", "1", *told_turns.split()]
            told_turns = ""
            wind = Winding(*words)
            try:
                death = deaths.pop(0) if deaths else None
                self._attend(wind, death, screen="--plain" not in words)
            finally:
                wind.end(0.0)
                self.result.said += f"\n$ winder wind {' '.join(words)}\n{wind.said[-4000:]}"
            if self._scene.rests[attempt] >= LOOKS_FROM_S:
                self._claim(f"after wind {attempt + 1}" + (f" ({death[0]})" if death else ""))
            if death is None and wind.code == 0:
                self.result.complete = True
                return
            if wind.code and re.search("--turns|wound already", wind.said):
                told_turns = f"--turns {self._person.counted_turns()}"
            if time.monotonic() > self._until:
                raise TooLong("the run")
            time.sleep(self._scene.rests[attempt])
        raise TooLong("no attempt finished the coil")

    def _begun(self) -> bool:
        import sqlite3

        with sqlite3.connect(f"file:{self._logbook}?mode=ro", uri=True) as book:
            try:
                return bool(book.execute("SELECT count(*) FROM runs").fetchone()[0])
            except sqlite3.Error:
                return False

    def _attend(self, wind: Winding, death: tuple[str, float] | None, *, screen: bool) -> None:
        """Sit there until the program has ended, or it is time for its death."""
        began = time.monotonic()
        turning_since = None
        while not wind.ended():
            now = time.monotonic()
            if now > self._until:
                raise TooLong("the program went on and on")
            lines = wind.listen(0.05)
            if not screen:
                for line in lines:
                    self._person.read(wind, line)
            elif turning_since is None and "--start asked: start" in wind.said:
                self._person.drill(True)
            if turning_since is None and self._bench.newest()["moving"]:
                turning_since = now
            if death is None:
                continue
            after = death[1]
            if after < 0 and now - began >= -after:
                return self._die(wind, death[0])
            if after >= 0 and turning_since is not None and now - turning_since >= after:
                return self._die(wind, death[0])
        return None

    def _die(self, wind: Winding, death: str) -> None:
        if death == "terminal closed":
            wind.close_terminal()
        elif death == "disk full":
            files = [Path(f"{self._logbook}{end}") for end in ("", "-wal")]
            wind.fill_disk(*files)
        else:
            wind.signal(signal.Signals[f"SIG{death}"])
        if self._scene.drill_notices_s is not None:
            wind.listen(self._scene.drill_notices_s)
            self._person.drill(False)
        if not wind.end(ENDS_S):
            self.result.said += f"\n(killed: it went on for {ENDS_S:g} s after {death})\n"

    def _claim(self, where: str) -> None:
        """Compare what the shelf says with what is true, if the spindle rests before and after."""
        with contextlib.suppress(TooLong):
            self._bench.at_rest(CLAIM_WAITS_S)
        before = self._bench.newest()
        claim = claim_on_shelf(self._logbook) if self._logbook.exists() else None
        after = self._bench.newest()
        if before["turns"] == after["turns"] and not before["moving"] and not after["moving"]:
            per_turn = self._scene.counts_per_turn
            true = true_counts(after, per_turn, self._bench.pulled_counts)
            self.result.claims.append((where, claim, true))

    def judge_end(self) -> None:
        truth, per_turn = self._bench.at_rest(), self._scene.counts_per_turn
        true = true_counts(truth, per_turn, self._bench.pulled_counts)
        self.result.claims.append(("at the end", claim_on_shelf(self._logbook), true))
        self.result.on_the_turn = true // per_turn == self._scene.turns


def run_one(seed: int) -> Result:
    scene = draw_scene(seed)
    with tempfile.TemporaryDirectory(prefix="kill-") as name:
        folder = Path(name)
        machine = folder / "machine.toml"
        machine.write_text(
            MACHINE.format(
                counts_per_turn=scene.counts_per_turn,
                sense=str(scene.sense).lower(),
                motor=str(scene.motor).lower(),
            )
        )
        result = Result(seed, asdict(scene))
        try:
            with serving(folder, machine, seed, resets=scene.resets) as bench:
                run = Run(scene, folder, bench, result)
                run.wind()
                run.judge_end()
        except TooLong as trouble:
            result.trouble = str(trouble)
        return result


def run_many(runs: int, seed: int) -> list[Result]:
    workers = max(1, AT_ONCE_PER_CORE * (os.cpu_count() or 1))
    with ProcessPoolExecutor(workers) as pool:
        return list(pool.map(run_one, range(seed, seed + runs)))


def figures(results: list[Result]) -> dict[str, Any]:
    return {
        "runs": len(results),
        "wrong_exact": sum(result.wrong_exact for result in results),
        "bounds_missed": sum(result.bounds_missed for result in results),
        "unclaimed": sum(result.unclaimed for result in results),
        "unfinished": sum(not result.complete for result in results),
        "finished_on_the_turn": sum(result.on_the_turn for result in results if result.complete),
        "deaths": {d: sum(d in r.scene["deaths"] for r in results) for d in DEATHS},
        "failing": [result.seed for result in results if not result.good],
    }


def words_of(result: Result) -> str:
    lines = [f"seed {result.seed}: {result.trouble or 'finished'}; {result.scene}"]
    for where, claim, true in result.claims:
        said = (
            "nothing"
            if claim is None
            else f"{claim.certainty} {claim.low} to {claim.high or 'any'}"
        )
        lines.append(f"  {where}: shelf says {said}, true {true} counts")
    lines.append(
        f"  again: python -m tests.campaigns.kill_and_continue --runs 1 --seed {result.seed} --talk"
    )
    return "\n".join(lines)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true", help="print figures and every run")
    parser.add_argument("--talk", action="store_true", help="print what the program said")
    arguments = parser.parse_args()
    results = run_many(arguments.runs, arguments.seed)
    if arguments.json:
        print(json.dumps({**figures(results), "results": [asdict(r) for r in results]}, indent=2))
    else:
        for result in results:
            if not result.good or arguments.talk:
                print(words_of(result))
            if arguments.talk:
                print(result.said)
        print(json.dumps(figures(results), indent=2))
    return 0 if all(result.good for result in results) else 1


if __name__ == "__main__":
    sys.exit(main())
