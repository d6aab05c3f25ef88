"""Every fault that is put to the board, and beside them the machines that have none.

Figures of contacts: a bare contact bounces some tens of microseconds, a worn or heavy one about a millisecond, a reed
bounces as it closes, up to a millisecond or two (common practice, no source). A person turns a spindle by hand at
some 60 to 120 rpm (no source).
"""

from __future__ import annotations

from collections.abc import Iterator

from tests.firmware.emulator.chip import RESET_DIP, RESET_PIN, RESET_POWER
from tests.firmware.emulator.sensor import BOTH, FALLING, RISING, A, B, Wire

from .chip_faults_run import RPM_MAX, Case, Must, Scene, When

SPEEDS_RPM = (15.0, 60.0, 240.0, 600.0, 1500.0)
TWO_CHANNELS = ((2, 2), (2, 20), (4, 1), (4, 4), (4, 20), (4, 100))  # sensor, counts a turn
ONE_CHANNEL = ((1, 1), (1, 4), (1, 20))
ALL_SENSORS = (*ONE_CHANNEL, *TWO_CHANNELS)
WIDTHS_US = (20.0, 100.0, 500.0, 2000.0)
BOUNCES = {
    "bare contact": (3, 20.0, RISING | FALLING, False),
    "worn contact": (4, 120.0, RISING | FALLING, True),
    "reed": (5, 150.0, RISING, True),
}
SECOND_SENSOR = "a sensor of two channels, or a shielded cable and a capacitor at the input"
UNEVEN_LEAST = 0.7  # from mark to mark, of what is even: 30 % uneven
LEAST_CPS = 1.0  # slower the board does not wind


def speeds(counts_per_turn: int) -> tuple[float, ...]:
    """Those that are at least a count a second."""
    return tuple(rpm for rpm in SPEEDS_RPM if rpm / 60 * counts_per_turn >= LEAST_CPS)


# --- the sensor's wires ---------------------------------------------------------------------------


def lost_channels() -> Iterator[Case]:
    for sensor, counts in TWO_CHANNELS:
        for channels, name in ((A, "channel A lost"), (B, "channel B lost"), (BOTH, "both lost")):
            for rpm in speeds(counts):
                for when in (When.BEFORE, When.RUNNING):
                    for wire in (Wire.HIGH, Wire.LOW) if rpm == 240 else (Wire.HIGH,):

                        def act(s: Scene, channels: int = channels, wire: Wire = wire) -> None:
                            s.chip.sensor.lose(channels, wire)

                        fault = f"{name} {when.value}, reads {wire.name.lower()}"
                        yield Case(fault, act, when, Must.TRIP, sensor, counts, rpm)


def dead_sensors() -> Iterator[Case]:
    for sensor, counts in ONE_CHANNEL:
        for rpm in speeds(counts):
            for when in (When.BEFORE, When.RUNNING):
                yield Case(
                    f"sensor dead {when.value}",
                    lambda s: s.chip.sensor.lose(BOTH, Wire.HIGH),
                    when,
                    Must.TRIP,
                    sensor,
                    counts,
                    rpm,
                )


def exchanged() -> Iterator[Case]:
    for sensor, counts in TWO_CHANNELS:
        for rpm in speeds(counts):
            yield Case(
                "channels exchanged before the start",
                lambda s: s.chip.sensor.exchange(),
                When.BEFORE,
                Must.TRIP,
                sensor,
                counts,
                rpm,
            )


# --- contacts and interference --------------------------------------------------------------------


def bounces() -> Iterator[Case]:
    for name, (times, width_us, edges, scattered) in BOUNCES.items():
        for sensor, counts in ((0, 1), (0, 4), *ALL_SENSORS):
            for rpm in (60.0, 240.0, 1500.0):
                cps = rpm / 60 * counts
                # A contact of so many edges that they run into each other is no contact.
                if cps < LEAST_CPS or 2 * times * width_us * 2 > 1e6 / cps / 2:
                    continue

                def act(
                    s: Scene,
                    bounce: tuple[int, float, int, bool] = (times, width_us, edges, scattered),
                ) -> None:
                    s.chip.sensor.bounce(*bounce[:3], scattered=bounce[3])

                yield Case(f"bounce, {name}", act, When.BEFORE, Must.EXACT, sensor, counts, rpm)


def shortest_period_us(counts_per_turn: int) -> float:
    """From mark to mark at the highest speed; a pulse of one channel that lasts longer is as good as a true one."""
    return UNEVEN_LEAST * 60e6 / RPM_MAX / counts_per_turn


def told_apart(period_us: float, share: float, width_us: float, counts_per_turn: int) -> bool:
    """Whether a pulse on one channel makes an edge sooner than a true one can come, marks uneven as they may be.

    In the first half of a period the level is high and the pulse's end rises, in the second its begin.
    """
    shortest_us = shortest_period_us(counts_per_turn)
    rises_us = share * period_us + (width_us if share < 0.5 else 0)
    return min(rises_us, period_us - rises_us) < shortest_us and width_us < shortest_us


def is_alone(sensor: int, period_us: float, share: float, width_us: float) -> bool:
    """Whether no edge of either channel falls into the pulse: two channels see it come and go."""
    room_us = period_us / 2 if sensor == 2 else period_us  # B's edge lies half a count behind A's
    begins_us = share * period_us % room_us
    return begins_us + width_us < 0.95 * room_us


def single_disturbances() -> Iterator[Case]:
    places = {"just behind an edge": 0.05, "late": 0.6, "just before an edge": 0.97}
    for width_us in WIDTHS_US:
        for sensor, counts in (*ONE_CHANNEL, (2, 20), (4, 4), (4, 20), (4, 100)):
            for rpm in (240.0, 1500.0):
                for place, share in places.items():

                    def act(s: Scene, width_us: float = width_us, share: float = share) -> None:
                        s.until_edge(share)
                        s.chip.sensor.disturb(width_us, channels=A, after_us=1, times=1)

                    period_us = 60e6 / rpm / counts
                    seen = sensor != 1 or told_apart(period_us, share, width_us, counts)
                    alone = sensor != 1 and is_alone(sensor, period_us, share, width_us)
                    yield Case(
                        f"one disturbance of {width_us:.0f} us, {place}",
                        act,
                        When.RUNNING,
                        Must.EXACT if alone else Must.HOLD,
                        sensor,
                        counts,
                        rpm,
                        unseeable="" if seen else SECOND_SENSOR,
                    )


def repeated_disturbances() -> Iterator[Case]:
    for width_us in WIDTHS_US:
        for sensor, counts in ((1, 1), (1, 20), (2, 20), (4, 4), (4, 100)):

            def act(s: Scene, width_us: float = width_us) -> None:
                s.chip.sensor.disturb(width_us, 7_300, after_us=500, times=200)

            seen = sensor != 1 or width_us < shortest_period_us(counts)
            yield Case(
                f"137 disturbances a second of {width_us:.0f} us",
                act,
                When.RUNNING,
                Must.HOLD,
                sensor,
                counts,
                600.0,
                unseeable="" if seen else SECOND_SENSOR,
            )


def storms() -> Iterator[Case]:
    def storm(s: Scene) -> None:
        s.chip.sensor.disturb(60, 400, channels=BOTH, after_us=200, times=1500, scattered=True)

    for sensor, counts in ALL_SENSORS:
        for when, rpm in (
            (When.BEFORE, 240.0),
            (When.RUNNING, 240.0),
            (When.RUNNING, 1500.0),
            (When.REST, 240.0),
        ):
            yield Case(f"storm {when.value}", storm, when, Must.HOLD, sensor, counts, rpm)


# --- the motor --------------------------------------------------------------------------------------


def motors() -> Iterator[Case]:
    for sensor, counts in ALL_SENSORS:
        for brake in (True, False):
            braked = "" if brake else ", no brake"
            for when in (When.CUT, When.REST):
                yield Case(
                    f"switch shorted {when.value}{braked}",
                    lambda s: s.chip.disobey(shorted=True),
                    when,
                    Must.TRIP,
                    sensor,
                    counts,
                    240.0,
                    brake=brake,
                )
            yield Case(
                f"switch shorted running{braked}",
                lambda s: s.chip.disobey(shorted=True),
                When.RUNNING,
                Must.TRIP,
                sensor,
                counts,
                240.0,
                brake=brake,
            )
        yield Case(
            "motor obeys 60 ms late",
            lambda s: s.chip.disobey(late_s=0.06),
            When.BEFORE,
            Must.HOLD,
            sensor,
            counts,
            240.0,
        )
        for rpm in (60.0, 240.0, 1500.0):
            for when in (When.BEFORE, When.RUNNING):
                yield Case(
                    f"jam {when.value}",
                    lambda s: s.chip.jam(1e6),
                    when,
                    Must.TRIP,
                    sensor,
                    counts,
                    rpm,
                )


# --- supply, program, guard, wire -------------------------------------------------------------------


def boards() -> Iterator[Case]:
    for loader in ("", "small", "large"):
        for sensor, counts in ((1, 1), (4, 20)):
            for fault, act in (
                ("program hangs", lambda s: s.chip.hang()),
                ("program hangs, interrupts off", lambda s: s.chip.hang(interrupts_off=True)),
                ("supply dips for 50 ms", lambda s: s.chip.reset(RESET_DIP, held_s=0.05)),
                ("power lost for 0.5 s", lambda s: s.chip.reset(RESET_POWER, held_s=0.5)),
                ("reset by the pin", lambda s: s.chip.reset(RESET_PIN)),
            ):
                beside = f", {loader} boot loader" if loader else ""
                yield Case(
                    fault + beside,
                    act,
                    When.RUNNING,
                    Must.TRIP,
                    sensor,
                    counts,
                    600.0,
                    loader=loader,
                )
    for fault, act in (
        ("guard opened", lambda s: s.board.open_guard(True)),
        ("wire lost", lambda s: s.board.lose_wire(True)),
    ):
        for sensor, counts in ALL_SENSORS:
            yield Case(fault, act, When.RUNNING, Must.TRIP, sensor, counts, 600.0)


FAULTS = (
    *(lost_channels, dead_sensors, exchanged, bounces, single_disturbances),
    *(repeated_disturbances, storms, motors, boards),
)
