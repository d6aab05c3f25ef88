"""What a simulated machine is made of: its body, and what its board was told about that body.

Plain SI numbers, so that nothing of the planner's or the coil's arithmetic comes along. The drive is a
motor behind a switch: it pushes in one direction, ``torque = stall * (duty - speed / no-load speed)``,
never below nought and never above its limit; it cannot hold the spindle back. Slowing is the work of
friction (Coulomb and viscous) and of a brake where there is one, whose torque the board sets as a share.
The board runs on *learned* numbers (``Learned``), as found when the machine was set up; they may be wrong.
"""

from __future__ import annotations

import math

from firmware_protocol.records import dataclass

RAD_PER_TURN = 2 * math.pi
RAD_S_PER_RPM = 2 * math.pi / 60
COUNTS_PER_TURN_MAX = 2400
ROOM_M = 5e-3


@dataclass(frozen=True, slots=True)
class Learned:
    """What the board knows of its drive from its set-up; all speeds in rpm of the spindle."""

    rpm_per_duty: float  # speed that one more unit of duty adds at steady running
    friction_duty: float  # duty that just overcomes friction
    full_torque_rpm_s: float  # acceleration the stall torque alone would give
    brake_duty: float | None  # full brake torque as a share of the stall torque


@dataclass(frozen=True, slots=True)
class Build:
    """The machine's body. The defaults are a small bench machine with a brake."""

    # spindle, all that turns with it included
    inertia_kg_m2: float = 5e-5
    coulomb_nm: float = 3.2e-3
    viscous_nm_s: float = 6e-6  # per rad/s
    # drive
    motor: bool = True  # False: a person turns the spindle, and the board only counts
    stall_nm: float = 0.04  # at full duty and standstill
    no_load_rpm: float = 2800.0  # at full duty without any friction
    torque_limit_nm: float = 0.03
    brake_nm: float | None = 0.0225  # None: no brake
    speed_rpm_max: float = 1500.0  # fastest the board will drive
    # sensor
    counts_per_turn: int = 20
    direction_sense: bool = True
    edge_rate_max_cps: int = 100_000  # beyond this the board loses edges
    bounce_us: int = 0  # of its contacts, while a hand turns them; longer than the board waits, each edge brings one more
    board_waits_us: int = 0  # behind an edge, by its settings
    guard: bool = True
    wire_sensor: bool = True
    pedal: bool = False  # a foot pedal, and with it a stop switch
    # traverse; None: the wire is guided by hand
    traverse_travel_m: float | None = 0.1
    traverse_um_s: float = 20_000.0  # speed of a move at the bench
    limit_switch: bool = False  # of the guide, at its left end
    room_m: float = ROOM_M  # that the guide has to the left of the flange before it meets its limit
    # bobbin and wire
    core_perimeter_m: float = 0.0314
    width_m: float = 0.008  # between the flanges, at the core
    rim_width_m: float | None = None  # between them at their rims; None: straight flanges
    flange_height_m: float | None = None  # of the rims above the core; needed where they taper
    raised_m: float = 0.0  # what lies on the core below the first turn
    margin_m: float = 0.0  # at each flange; the winding is meant to lie between the margins
    free_length_m: float = 0.05  # of the wire from the guide (or the hand) to the bobbin
    wire_overall_m: float = 75e-6
    ohm_per_m: float = 5.36  # true, at 20 C
    packing: float = 0.78  # share of the winding's cross-section that is wire over its enamel
    stretch: float = 0.0  # of the wire's length, as it is wound
    bulge: float = 0.0  # of the height on flat sides, over that at the ends
    flats_m: tuple[float, ...] = ()  # lengths of the core's flat sides
    warm_k: float = 0.0  # of the coil over its room, just wound
    parts_rpm: float = math.inf  # the speed at which tension and its ripple tear the wire
    # board
    resets_on_open: bool = False  # opening its port resets it
    boot_s: float = 0.4  # from reset until it counts
    learned: Learned | None = None  # None: it learned the truth

    def __post_init__(self) -> None:
        assert 1 <= self.counts_per_turn <= COUNTS_PER_TURN_MAX
        assert min(self.inertia_kg_m2, self.coulomb_nm, self.stall_nm, self.no_load_rpm) > 0
        assert self.viscous_nm_s >= 0 and self.torque_limit_nm > 0
        assert self.brake_nm is None or self.brake_nm > 0
        assert 0 < self.packing <= 1 and 0 < self.wire_overall_m < self.width_m
        assert self.margin_m >= 0 and self.free_length_m > 0 and self.raised_m >= 0
        assert self.rim_width_m is None or (self.rim_width_m > 0 and self.flange_height_m)

    def learned_truly(self) -> Learned:
        """What a set-up without error would find."""
        rad_s_per_duty = self.stall_nm / (
            self.stall_nm / (self.no_load_rpm * RAD_S_PER_RPM) + self.viscous_nm_s
        )
        return Learned(
            rpm_per_duty=rad_s_per_duty / RAD_S_PER_RPM,
            friction_duty=self.coulomb_nm / self.stall_nm,
            full_torque_rpm_s=self.stall_nm / self.inertia_kg_m2 / RAD_S_PER_RPM,
            brake_duty=None if self.brake_nm is None else self.brake_nm / self.stall_nm,
        )

    @property
    def board_knows(self) -> Learned:
        return self.learned or self.learned_truly()

    def counts_per_s(self, speed_rpm: float) -> float:
        return speed_rpm / 60 * self.counts_per_turn

    @property
    def widest_m(self) -> float:
        """The greatest distance between the flanges, at the core or at the rims."""
        return max(self.width_m, self.rim_width_m or 0.0)

    def left_face_m(self, height_m: float) -> float:
        """Where the left flange stands, this high above what the first turn lies on.

        From the left flange where the bobbin is widest, which is where the guide has its zero; the right
        flange stands as far in from the other end. Above the rims it is taken as at them.
        """
        if self.rim_width_m is None or self.flange_height_m is None:
            return 0.0
        at_core, at_rim = (
            (self.widest_m - width_m) / 2 for width_m in (self.width_m, self.rim_width_m)
        )
        share = min((self.raised_m + height_m) / self.flange_height_m, 1.0)
        return at_core + share * (at_rim - at_core)

    def face_height_m(self, place_m: float) -> float:
        """How high the wound ground is at a place where there is nothing but a flange that leans outward.

        0 between the flanges at the core, and everywhere if they lean inward.
        """
        if self.rim_width_m is None or self.flange_height_m is None:
            return 0.0
        out_m = max(self.width_m, self.widest_m - 2 * min(place_m, self.widest_m - place_m))
        if self.rim_width_m <= self.width_m:
            return 0.0
        share = (out_m - self.width_m) / (self.rim_width_m - self.width_m)
        return max(share * self.flange_height_m - self.raised_m, 0.0)
