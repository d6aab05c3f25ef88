"""What a machine is, as the planner needs to know it. A TOML file of the user's; SI and rpm."""

from __future__ import annotations

from dataclasses import field

from firmware_protocol.records import dataclass
from winder.machine.instruments import Instruments
from winder.machine.tensioner import FELT


@dataclass(frozen=True, slots=True)
class MachineProfile:
    name: str
    counts_per_turn: int  # sensor counts for one turn of the bobbin, a whole number
    direction_sense: bool  # the sensor knows which way it turns
    speed_rpm_max: float
    acceleration_rpm_s: float  # the drive can be relied on for this, bobbin mounted
    coasting_rpm_s: float  # measured loss of speed with the drive off (friction alone)
    braking_rpm_s: float | None  # measured with the brake on; None: no brake
    motor: bool = True  # False: a counter on a hand drill
    traverse_travel_m: float | None = None  # None: hand-guided
    edge_rate_max_cps: float | None = (
        None  # counts a second that sensor and board bear; None: not known
    )
    gear: float = 1.0  # turns of the motor for one of the spindle
    motor_rpm_max: float | None = None  # None: the spindle's limit is the only one
    steady_rpm: float | None = None  # slowest even speed, measured; None: not known
    steps_per_mm: float | None = None  # of the traverse; None: not known
    free_length_m: float = 0.05  # of the wire from the guide to the bobbin
    tensioner: str | None = None  # its kind, one of ``tensioner.TENSIONERS``; None: nobody told
    tensioner_kg: float | None = None  # mass that moves with the wire, where it was weighed
    tensioner_hz: float | None = None  # a spring arm's own frequency, where it was measured
    instruments: Instruments = field(default_factory=Instruments)
    # Paths of the fields that its file says; what is not among them is a default that nobody chose.
    told: tuple[str, ...] = field(default=(), compare=False)
    pedal: bool = False  # a foot pedal is wired to the board
    limit_switch: bool = False  # at the guide's left end, wired to the board
    switch_to_flange_m: float | None = None  # from there to the left flange; None: not measured
    plus_clockwise: bool = True  # the motor's + turns clockwise, seen from the free end


# What the simulated bench is unless told otherwise.
SIMULATED_BENCH = MachineProfile(
    name="simulated bench",
    counts_per_turn=20,
    direction_sense=True,
    speed_rpm_max=1500.0,
    acceleration_rpm_s=600.0,
    coasting_rpm_s=700.0,
    braking_rpm_s=5000.0,
    traverse_travel_m=0.1,
    tensioner=FELT,
)
