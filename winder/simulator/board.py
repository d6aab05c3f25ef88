"""The machine's body as its board has it: sensor, drive, traverse, guard, wire, pedal and memory.

``SimulatedBody`` implements ``DeviceBody``: orders in, facts out, and one ``step`` a control tick. What is true (the
spindle, the wire on the bobbin, the guard) and what the board knows of it (edges, a traverse place it was told) live
side by side and meet nowhere else: the control loop gets edges and times. An edge that reaches the place to cut is
found inside the tick; the tick is then done again up to that very moment, and on from there with the drive off.
"""

from __future__ import annotations

from collections.abc import Iterable

from firmware_protocol.body import Drive, Facts, KeptRecord, Order
from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.messages import Side, Trip

from . import ordinary
from .build import RAD_PER_TURN, Build
from .carriage import Carriage
from .control import TICK_S, Control, Mode
from .faults import Fault, GuardOpened, Jam, SensorDropout, WatchdogReset, WireBreak
from .guide import Guide
from .hand import Hand
from .lay import Lay
from .spindle import Spindle, way_to_edge

DRIVING = (Mode.TRACK, Mode.SLOW, Mode.NUDGE)
TURNS_NEVER = 1 << 60


class SimulatedBody:
    """One machine's body. Time goes by whole control ticks; ``tick`` counts them."""

    def __init__(self, build: Build, seed: int, faults: Iterable[Fault]) -> None:
        self.build = build
        self.spindle = Spindle(build)
        self.guide = Guide(build.traverse_travel_m)
        self.carriage = Carriage(self.guide, build.traverse_um_s, build.room_m * 1e6)
        self.control = self._new_control()
        self.lay = Lay(build)
        self.tick = 0
        self.edges_lost = self._soon = 0
        self.guard_open, self.wire_present = False, True
        self.pedal_pressed = self.stop_pressed = False
        self.asks_watchdog = False
        self._hand = Hand(build, seed)
        self._kept = KeptRecord()
        self._kept_motion = False
        self._faults = sorted(faults, key=lambda fault: fault.turn)
        self._mounted_whole = 0
        self._bare_counts = 0  # of the spindle since the bobbin was put on that no wire is left of
        self._broken_counts = 0  # of wire that was on the bobbin when it parted
        self.dark_until = self._guard_until = self._jam_until = 0  # ticks
        self.edges_most = int(build.edge_rate_max_cps * TICK_S)
        self.parts_cps = build.counts_per_s(build.parts_rpm)
        self._plan_next_fault()

    def _new_control(self) -> Control:
        """What the board's program knows after a boot: nothing."""
        return Control(self.build)

    # --- what the device end asks ------------------------------------------------------------

    def obey(self, drive: Drive) -> None:
        self.lay_up()
        self.carriage.halt()
        if drive.order is Order.WIND:
            self.guide.follow(drive.legs, self.control.count)
        self.control.obey(drive)

    def facts(self) -> Facts:
        control = self.control
        self._guide_to(control.count)
        rest = control.at_rest and self.carriage.goal_um is None
        return Facts(
            count=control.count,
            unattributed=control.unattributed,
            rate_mcps=control.rate_mcps(),
            at_rest=rest,
            arrived=control.arrived or self.carriage.arrived,
            leg=control.leg,
            guard_open=self.guard_open and self.build.guard,
            wire_present=self.wire_present or not self.build.wire_sensor,
            stop_pressed=self.stop_pressed and self.build.pedal,
            pedal_pressed=self.pedal_pressed and self.build.pedal,
            traverse_um=round(self.guide.place_um),
            traverse_rightward=self.guide.rightward,
            brake_on=control.brake > 0.0,
            trip=self._trip(),
            implausible=self._soon,
        )

    @property
    def true_guide_m(self) -> float:
        return self.carriage.true_um * 1e-6

    def _guide_to(self, count: int) -> None:
        """Move the guide where the count leads it; at the end of its travel it stands."""
        if self.carriage.go(count):
            self.carriage.at_limit = not self.control.at_rest

    def _trip(self) -> Trip:
        if self.guard_open and self.build.guard:
            return Trip.GUARD_OPENED
        if not self.wire_present and self.build.wire_sensor:
            return Trip.WIRE_LOST
        if self.carriage.at_limit:  # once told, the cause is gone: the guide stands
            self.carriage.at_limit = False
            return Trip.TRAVERSE_LIMIT
        return Trip.NONE if self.control.at_rest else self.control.trip

    def zero_count(self) -> None:
        self.lay_up()
        self.guide.let_go(self.control.count)
        self.control.zero_count()
        self._soon = 0

    def mark_traverse(self, side: Side, at_um: int) -> None:
        self.lay_up()
        self.guide.let_go(self.control.count)
        self.carriage.mark(at_um)

    def step_traverse(self, distance_um: int) -> None:
        self.lay_up()
        self.guide.let_go(self.control.count)
        self.carriage.step(distance_um)

    def lead_far(self, ask: TraverseHome | TraverseMove) -> None:
        self.lay_up()
        self.guide.let_go(self.control.count)
        self.carriage.lead_far(ask)

    def keep(self, record: KeptRecord) -> None:
        self._kept = record

    def kept(self) -> KeptRecord:
        return self._kept

    def keep_motion(self, moving: bool) -> None:
        self._kept_motion = moving

    def kept_motion(self) -> bool:
        return self._kept_motion

    def show(self, wind: int, target: int, warn_before: int) -> None:
        """What the board shows to whoever stands before it; a motor needs nobody to look."""

    # --- the tick ----------------------------------------------------------------------------

    def outlook(self) -> tuple[object, ...]:
        """What the device end must hear of at once when it changes."""
        control = self.control
        return (
            control.at_rest,
            control.arrived,
            control.leg,
            control.trip,
            control.unattributed,
            self.carriage.goal_um is None,
            self.guard_open,
            self.wire_present,
            (self.pedal_pressed, self.stop_pressed),
        )

    def step(self) -> None:
        """One tick of a live board."""
        control, spindle = self.control, self.spindle
        spindle.duty, spindle.sense, spindle.brake = control.duty, control.sense, control.brake
        edges, edge_s = self._turn_a_tick()
        self.tick += 1
        control.step(edges, edge_s, self.tick * TICK_S)
        if self.carriage.goal_um is not None:
            self.carriage.walk(self.carriage.goal_um)
        if abs(spindle.speed) > self.parts_cps:
            self.break_wire()
        self._let_happen()

    def run(self, ticks: int, outlook: tuple[object, ...]) -> None:
        """So many ticks of a live board; fewer if the outlook is another then, or a watchdog bites."""
        until = self.tick + ticks
        while self.tick < until:
            if self.outlook() == outlook and self.pass_ordinary(until - self.tick):
                continue
            self.step()
            if self.asks_watchdog or self.outlook() != outlook:
                return

    def pass_ordinary(self, ticks: int) -> int:
        """Pass up to so many ticks in which nothing begins or ends; how many there were."""
        return (ordinary.wind if self.spindle.speed else ordinary.rest)(self, ticks)

    def quiet_ticks(self) -> int:
        """Ticks in which nothing that has befallen the body ends, and nothing new begins by time."""
        if self.carriage.goal_um is not None or self.spindle.whole >= self.fault_whole:
            return 0
        quiet = TURNS_NEVER
        if self.guard_open and self.tick < self._guard_until:
            quiet = self._guard_until - self.tick - 1
        if self.spindle.jam:
            quiet = min(quiet, self._jam_until - self.tick - 1)
        return quiet

    def step_dead(self) -> None:
        """One tick of a board that is being reset: nothing drives, nothing counts."""
        self.spindle.duty = self.spindle.brake = 0.0
        self.edges_lost += abs(self.spindle.advance(TICK_S))
        self.tick += 1
        self._let_happen()

    def _turn_a_tick(self) -> tuple[int, float]:
        """Edges that the board sees in this tick and the time of the last of them."""
        spindle, control = self.spindle, self.control
        whole, fraction, speed = spindle.whole, spindle.fraction, spindle.speed
        edges = spindle.advance(TICK_S)
        if edges == 0:
            return 0, 0.0
        if self.tick < self.dark_until:
            self.edges_lost += abs(edges)
            return 0, 0.0
        start_s = self.tick * TICK_S
        if edges * control.sense >= control.to_cut and control.mode in DRIVING:
            cut_s = spindle.time_of_way(way_to_edge(fraction, control.to_cut, control.sense))
            spindle.whole, spindle.fraction, spindle.speed = whole, fraction, speed
            return self._cut_within(start_s, cut_s)
        edge_s = spindle.time_of_way(way_to_edge(fraction, abs(edges), 1 if edges > 0 else -1))
        if abs(edges) > self.edges_most:
            self.edges_lost += abs(edges) - self.edges_most
            edges = self.edges_most if edges > 0 else -self.edges_most
        return edges, start_s + edge_s

    def _cut_within(self, start_s: float, cut_s: float) -> tuple[int, float]:
        """The tick again, with the drive cut by the edge at ``cut_s``."""
        spindle, control = self.spindle, self.control
        assert control.to_cut > 0, "a cut that was missed cannot be made up for"
        target, sense = spindle.whole + control.to_cut * control.sense, control.sense
        edges = control.to_cut * sense
        spindle.advance(cut_s)
        spindle.whole, spindle.fraction = target, 0.0 if sense > 0 else 1.0
        control.reach_cut(start_s + cut_s)
        spindle.duty, spindle.brake = control.duty, control.brake
        fraction = spindle.fraction
        more = spindle.advance(TICK_S - cut_s)
        if more:
            cut_s += spindle.time_of_way(way_to_edge(fraction, abs(more), sense))
        return edges + more, start_s + cut_s

    # --- the wire ----------------------------------------------------------------------------

    @property
    def bobbin_turns(self) -> float:
        """True turns since the bobbin was put on."""
        return self.spindle.turns - self._mounted_whole / self.build.counts_per_turn

    def change_bobbin(self) -> None:
        """An empty bobbin, a joined wire; the sensor's newest edge is where turns begin."""
        self.lay = Lay(self.build)
        self._mounted_whole, self._bare_counts = self.spindle.whole, 0
        self.wire_present = True
        self._plan_next_fault()

    @property
    def wire_counts(self) -> int:
        """Counts that are wound with wire; what a broken wire leaves on the bobbin stands still."""
        return self.turned_counts if self.wire_present else self._broken_counts

    @property
    def turned_counts(self) -> int:
        """The same, if the wire had not broken."""
        return self.spindle.whole - self._mounted_whole - self._bare_counts

    @property
    def wire_turns(self) -> float:
        """True turns of wire on the bobbin."""
        if not self.wire_present:
            return self._broken_counts / self.build.counts_per_turn
        return self.bobbin_turns - self._bare_counts / self.build.counts_per_turn

    def lay_up(self) -> None:
        """Lay (or take off) whole turns up to where the spindle is now."""
        per_turn = self.build.counts_per_turn
        turns, lay = self.wire_counts // per_turn, self.lay
        shift = self._bare_counts + self._mounted_whole + self.control.count - self.spindle.whole
        while lay.turns < turns:
            lay.lay_turn(self._led_to_m((lay.turns + 0.5) * per_turn + shift))
        while lay.turns > max(turns, 0):
            lay.take_off_turn()

    def break_wire(self) -> None:
        """The wire parts: what is on the bobbin stays, and nothing comes on."""
        if self.wire_present:
            self.lay_up()
            self._broken_counts = self.wire_counts
            self.wire_present = False

    def join_wire(self) -> None:
        """Join a broken wire; what was turned without it stays bare."""
        if not self.wire_present:
            self._bare_counts = self.spindle.whole - self._mounted_whole - self._broken_counts
            self.wire_present = True

    def pull_off(self, turns: float) -> None:
        """Take turns off the bobbin while the spindle stands: no sensor sees them go."""
        assert turns >= 0
        self.lay_up()
        counts = min(round(turns * self.build.counts_per_turn), max(self.wire_counts, 0))
        if self.wire_present:
            self._bare_counts += counts
        else:
            self._broken_counts -= counts
        self.lay_up()

    def _led_to_m(self, count: float) -> float:
        """Where the wire is led to, from the left flange; by hand it wanders over the width."""
        if self.guide.travel_um is not None:
            return (self.guide.place(count)[0] + self.carriage.offset_um) * 1e-6
        return self._hand.place_m(self.lay.turns)

    # --- faults ------------------------------------------------------------------------------

    def _plan_next_fault(self) -> None:
        self.fault_whole = TURNS_NEVER
        if self._faults:
            self.fault_whole = self._mounted_whole
            self.fault_whole += int(self._faults[0].turn * self.build.counts_per_turn)

    def _let_happen(self) -> None:
        if self.spindle.whole >= self.fault_whole:
            self._happen(self._faults.pop(0))
            self._plan_next_fault()
        if self.guard_open and self.tick == self._guard_until:
            self.guard_open = False
        if self.spindle.jam and self.tick >= self._jam_until:
            self.spindle.jam = 0.0

    def _happen(self, fault: Fault) -> None:
        if isinstance(fault, WireBreak):
            self.break_wire()
        elif isinstance(fault, GuardOpened):
            self.guard_open = True
            self._guard_until = self.tick + round(fault.open_s / TICK_S)
        elif isinstance(fault, SensorDropout):
            self.lay_up()
            self.dark_until = self.tick + round(fault.dark_s / TICK_S)
        elif isinstance(fault, Jam):
            per_nm = self.build.counts_per_turn / RAD_PER_TURN / self.build.inertia_kg_m2
            self.spindle.jam = fault.torque_nm * per_nm
            self._jam_until = self.tick + round(fault.jam_s / TICK_S)
        elif isinstance(fault, WatchdogReset):
            self.asks_watchdog = True

    def turn_by_hand(self, turns: float) -> None:
        """The operator turns the resting spindle; the board sees edges that nothing drove."""
        assert self.spindle.speed == 0.0, "the spindle is turning"
        edges = self.spindle.turn(turns * self.build.counts_per_turn)
        if edges and self.tick >= self.dark_until:
            self.control.see_undriven(edges)
            self._soon += abs(edges) * (self.build.bounce_us > self.build.board_waits_us)

    def put_guide_left(self) -> None:
        """By hand; the board knows nothing of it."""
        self.guide.let_go(self.control.count)
        self.carriage.offset_um = -self.guide.place_um

    def lose_memory(self) -> None:
        """The board is reset: all but the kept record is gone."""
        self.lay_up()
        self.guide.let_go(self.control.count)
        self.carriage.lose_place()
        self.asks_watchdog = False
        self.control = self._new_control()
        self.control.wake(self.tick * TICK_S)
