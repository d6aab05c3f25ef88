"""The machines that have no fault: nothing may trip, and the count stays exact."""

from __future__ import annotations

from collections.abc import Iterator

from tests.firmware.emulator.board import bench

from .chip_faults_list import ALL_SENSORS, TWO_CHANNELS
from .chip_faults_run import RPM_MAX, Case, Must, Scene, When

BODY = bench(20, 4).build
HEAVY = 8.0  # times the bench's chuck
WEIGHED = ((1, 1), (1, 20), (4, 20))  # sensors at which it is tried; it takes its time
STIFF, STICKY = 1.3, 0.4  # times its friction warm; more at rest, as a share of that (no source)


def _nothing(scene: Scene) -> None:
    """No fault."""


def _clean(fault: str, sensor: int, counts: int, rpm: float, **more: object) -> Case:
    return Case(fault, _nothing, When.BEFORE, Must.EXACT, sensor, counts, rpm, **more)  # type: ignore[arg-type]


# Borders of A and B in one period of two channels, in quarters of it: A rises, B rises, A falls, B falls.
def quarters(apart_deg: float, high_share: float) -> tuple[float, float, float, float]:
    """How far each border lies behind its even place when B follows A so far and levels are high so long."""
    late, wide = apart_deg / 90 - 1, (high_share - 0.5) * 2
    return -wide, late - wide, wide, late + wide


def bent(sensor: int, apart_deg: float, high_share: float) -> list[float]:
    """As offsets of the borders of the phases 0 to 3."""
    a_rises, b_rises, a_falls, b_falls = quarters(apart_deg, high_share)
    by_level = [b_falls, a_rises, b_rises, a_falls]  # borders into the levels 0, A, AB, B
    return [by_level[(phase + (3 if sensor == 2 else 0)) & 3] for phase in range(4)]


def bounce_of(counts: int) -> tuple[tuple[str, int], ...]:
    """A bounce time for marks this uneven: the shortest gap between two is 0.15 of a period, at the highest speed too."""
    return (("bounce_us", round(0.1 * 60e6 / RPM_MAX / counts)),)


def uneven() -> Iterator[Case]:
    """Marks 30 % off: from one to the next 1.3 and 0.7 of a count by turns."""

    def prepare(s: Scene) -> None:
        s.chip.sensor.bend([0.0, 0.1, 0.6, 0.7])

    for counts in (4, 20):
        for rpm in (60.0, 240.0, 1500.0):
            yield _clean(
                "marks 30 % uneven", 1, counts, rpm, prepare=prepare, settings=bounce_of(counts)
            )


def channels() -> Iterator[Case]:
    for sensor, counts in TWO_CHANNELS:
        for apart_deg, share in ((70.0, 0.5), (110.0, 0.5), (90.0, 0.6), (70.0, 0.6)):

            def prepare(
                s: Scene, sensor: int = sensor, apart: float = apart_deg, share: float = share
            ) -> None:
                s.chip.sensor.bend(bent(sensor, apart, share))

            for rpm in (60.0, 240.0, 1500.0):
                fault = f"channels {apart_deg:.0f} degrees apart, {share * 100:.0f}:{100 - share * 100:.0f}"
                yield _clean(fault, sensor, counts, rpm, prepare=prepare)


def slow_and_heavy() -> Iterator[Case]:
    for sensor, counts in ALL_SENSORS:
        least_rpm = max(60.0 / counts, 3.0)
        yield _clean(
            "creep at the least speed",
            sensor,
            counts,
            least_rpm,
            turns=max(3 / counts, 0.5),
            aftermath_s=60.0,
        )
        for rpm in (60.0, 240.0, 1500.0):
            yield _clean("nothing wrong", sensor, counts, rpm)
            yield _clean(
                "cold stiff start",
                sensor,
                counts,
                rpm,
                build=(
                    ("coulomb_nm", STIFF * BODY.coulomb_nm),
                    ("viscous_nm_s", 2 * BODY.viscous_nm_s),
                    ("learned", BODY.learned_truly()),  # measured warm
                ),
                prepare=_stick,
            )
            for brake in (True, False) if (sensor, counts) in WEIGHED else ():
                braked = ", with its brake" if brake else ", no brake"
                build = (("inertia_kg_m2", HEAVY * BODY.inertia_kg_m2),)
                fault = f"heaviest chuck{braked}"
                yield _clean(
                    fault,
                    sensor,
                    counts,
                    rpm,
                    build=build,
                    brake=brake,
                    accel_rpm_s=600 / HEAVY,
                    aftermath_s=60.0,
                )


def _stick(scene: Scene) -> None:
    """At rest it holds faster than it rubs."""
    scene.chip.set_character(stiction=STICKY * scene.board.friction_cps2)


def at_rest() -> Iterator[Case]:
    for sensor, counts in ALL_SENSORS:

        def rock(s: Scene) -> None:
            s.chip.set_character(rock_counts=0.4 * s.case.counts_per_turn**0.5, rock_s=0.08)

        blind = sensor == 1
        yield Case(
            "a belt that rocks back",
            _nothing,
            When.BEFORE,
            Must.EXACT,
            sensor,
            counts,
            240.0,
            prepare=rock,
            unseeable="a sensor of two channels" if blind else "",
        )

        def turn(s: Scene) -> None:
            s.chip.force(-s.case.counts_per_turn, max(1, s.case.counts_per_turn // 2))
            s.host.live(1.0)
            s.chip.force(2 * s.case.counts_per_turn, 2 * s.case.counts_per_turn)
            s.host.live(1.2)
            s.chip.let_go()

        must = Must.HOLD if blind else Must.EXACT
        yield Case("a hand at rest", turn, When.REST, must, sensor, counts, 240.0)


CLEAN = (uneven, channels, slow_and_heavy, at_rest)
