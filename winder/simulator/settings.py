"""The settings that a simulated board keeps: what one would write after measuring its body, or what a host wrote.

Its pins have no polarity and its sensor bounces only where a fault says so; what it has no use for it keeps and gives
back. A board taught with other figures of the motor drives by those, as a real one does.
"""

from __future__ import annotations

import dataclasses
import zlib

from firmware_protocol.body import Identity
from firmware_protocol.messages import Has
from firmware_protocol.settings import Settings
from firmware_protocol.vocabulary import Driver, Sensor, Wired
from firmware_protocol.wire import Group, pack

from .build import Build, Learned

STEP_PM = 2_500_000  # as on the bench machine: a screw of 1 mm and 400 steps a turn
PERMILLE = 1000
LEAST_SHARE = 0.48  # of the period at the highest speed
LEGS_MAX = 16


def settings_of(build: Build, cut_ms: int, rest_ms: int) -> Settings:
    """The content of a board that knows its body."""
    sensor = Sensor.FOUR_EDGES if build.direction_sense else Sensor.ONE_PULSE
    number = zlib.crc32(f"{build.counts_per_turn} {build.speed_rpm_max}".encode("ascii")) | 1
    times = _times_of(build, sensor)
    if not build.motor:
        wired = Wired.WIRE_SENSOR if build.wire_sensor else Wired(0)
        return Settings(number, sensor, *times, inputs=int(wired))
    known = build.board_knows
    guide = build.traverse_travel_m is not None
    return Settings(
        number=number,
        sensor=sensor,
        filter_us=times[0],
        bounce_us=times[1],
        least_period_us=times[2],
        driver=Driver.ENABLE_AND_DIRECTION,
        inputs=(Wired.GUARD if build.guard else 0)
        | (Wired.WIRE_SENSOR if build.wire_sensor else 0)
        | (Wired.PEDAL | Wired.STOP_INPUT if build.pedal else 0)
        | (Wired.LIMIT_SWITCH if guide and build.limit_switch else 0),
        dead_ms=1,
        rate_max_mcps=_mcps(build, build.speed_rpm_max),
        full_rate_mcps=_mcps(build, known.rpm_per_duty),
        full_accel_mcps2=_mcps(build, known.full_torque_rpm_s),
        friction_permille=round(known.friction_duty * PERMILLE),
        brake_permille=round((known.brake_duty or 0.0) * PERMILLE),
        cut_ms=cut_ms,
        rest_ms=rest_ms,
        step_pm=STEP_PM if guide else 0,
        travel_steps=round((build.traverse_travel_m or 0.0) * 1e12 / STEP_PM),
        steps_a_ms=round(build.traverse_um_s * 1e3 / STEP_PM) if guide else 0,
    )


def _times_of(build: Build, sensor: Sensor) -> tuple[int, int, int]:
    """Filter, bounce and shortest period; where nothing bounces the board needs none of them."""
    if sensor is not Sensor.ONE_PULSE:
        return build.board_waits_us, 0, 0
    if not build.bounce_us:
        return 0, 0, 0
    return (
        0,
        build.board_waits_us,
        min(int(LEAST_SHARE * 1e9 / _mcps(build, build.speed_rpm_max)), 0xFFFF),
    )


def _mcps(build: Build, rpm: float) -> int:
    return round(build.counts_per_s(rpm) * 1000)


def hash_of(content: Settings) -> int:
    """Of what bears on counting."""
    return zlib.crc32(pack(content)[4:10])


def said_of(identity: Identity, content: Settings) -> Identity:
    """What a board says of itself once it boots with this content."""
    drives = int(content.driver != Driver.NONE)
    has = Has(content.inputs << 2)
    if content.sensor != Sensor.ONE_PULSE:
        has |= Has.DIRECTION_SENSE
    if content.brake_permille:
        has |= Has.BRAKE
    groups = list(identity.groups)
    groups[Group.MOTOR - 1] = groups[Group.LEGS - 1] = drives
    switch = content.step_pm > 0 and bool(content.inputs & Wired.LIMIT_SWITCH)
    groups[Group.TRAVERSE - 1] = 2 if switch else int(content.step_pm > 0)
    groups[Group.PEDAL - 1] = int(drives and bool(content.inputs & Wired.PEDAL))
    c, m, t, le, p, s = groups
    return dataclasses.replace(
        identity,
        groups=(c, m, t, le, p, s),
        has=int(has),
        legs_max=(identity.legs_max or LEGS_MAX) if drives else 0,
        rate_max_mcps=content.rate_max_mcps,
        settings_hash=hash_of(content),
        cut_ms=content.cut_ms,
        rest_ms=content.rest_ms,
        settings=content,
    )


def knowing(build: Build, content: Settings) -> Build:
    """The same body, whose board goes by these figures."""
    waits_us = content.bounce_us if content.sensor == Sensor.ONE_PULSE else content.filter_us
    build = dataclasses.replace(build, board_waits_us=waits_us)
    if content.driver == Driver.NONE:
        return build

    def rpm(mcps: int) -> float:
        return mcps / 1000 / build.counts_per_s(1.0)

    brake = content.brake_permille / PERMILLE if content.brake_permille else None
    learned = Learned(
        rpm(content.full_rate_mcps),
        content.friction_permille / PERMILLE,
        rpm(content.full_accel_mcps2),
        brake,
    )
    pedal = bool(content.inputs & (Wired.PEDAL | Wired.STOP_INPUT))
    return dataclasses.replace(
        build,
        learned=learned,
        speed_rpm_max=rpm(content.rate_max_mcps),
        pedal=pedal,
        limit_switch=bool(content.inputs & Wired.LIMIT_SWITCH),
    )
