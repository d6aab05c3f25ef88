"""What a scene's bench is made of, and what happens to bench, link, host and disk while it is played."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from winder.clock import NS_PER_S
from winder.coil.model import Coil
from winder.errors import WinderError
from winder.laboratory.judge import Judge
from winder.laboratory.late_disk import LateDisk
from winder.laboratory.underway import STEP_S, Underway
from winder.links.line import LineFaults, LinkFaults
from winder.machine.model import MachineProfile
from winder.service.bodies import simulated_machine
from winder.simulator.between import Between
from winder.simulator.carriage import Switch
from winder.simulator.faults import Fault, GuardOpened, Jam, SensorDropout, WireBreak
from winder.simulator.scene import SWAPPED, WRONG_BOARDS, Scene
from winder.wind.model import Intent, Phase

if TYPE_CHECKING:
    from winder.laboratory.scene_person import ScenePerson

AFTER_REST_S = 0.5  # of a rest, until something happens to it
SLOW_STEP_S = 0.25
SUSPENDED = 5.0  # times the scene's seconds
LATE_S = 0.35  # each of latency and jitter, both ways together
DISK_SLOW_S_MAX = 1.5
HANGS = 4.0  # times the scene's seconds, and more than any bound reckons with
HUNG_SHARE = 0.8  # of that when the program dies
SWITCH_TO_FLANGE_M = 0.02  # some seconds of a guide on its way home
SWITCHES = {
    "limit switch never met": Switch.NEVER,
    "limit switch loose": Switch.LOOSE,
    "limit switch stuck": Switch.STUCK,
}
DARK_S = 2.5  # at least: longer than a board goes on driving without an edge
UNRECORDED_TURNS = 0.9  # by hand: what a coil at rest is taken to be left alone within
UNANSWERED_S = 3.0  # after that nobody waits for an answer any more
BACK_SHARE = 0.4  # of a scene's seconds, from the asking: turning back is short
HAND_SHARE = 0.6  # of a scene's amount, by hand
OTHER_BOOT = 40  # boots that the other board has seen more
LOST = 0.05  # share of the messages, and so of the bytes


def profile_of(scene: Scene) -> MachineProfile:
    """The machine file of the scene's bench, as its owner measured it."""
    return MachineProfile(
        name="scene",
        counts_per_turn=scene.counts_per_turn,
        direction_sense=scene.says_sense,
        speed_rpm_max=1200.0,
        acceleration_rpm_s=2500.0,
        coasting_rpm_s=700.0,
        braking_rpm_s=4000.0 if scene.brake and scene.motor else None,
        motor=scene.motor,
        traverse_travel_m=0.1 if scene.guide else None,
        pedal=scene.by_foot,
        limit_switch=scene.homes,
        switch_to_flange_m=SWITCH_TO_FLANGE_M if scene.homes else None,
    )


def bench_of(scene: Scene, coil: Coil, profile: MachineProfile) -> Between:
    """The machine, with whoever stands between it and its link."""
    body = dataclasses.replace(profile, direction_sense=scene.sense)
    machine = simulated_machine(body, coil, scene.seed, faults=_faults_of(scene))
    machine.bend_switch(SWITCHES.get(scene.kind, Switch.SOUND))
    board = WRONG_BOARDS.get(scene.kind)
    bench = Between(machine, scene.seed) if board is None else board(machine, scene.wrong)
    bench.loses = LOST if scene.kind == "bytes lost" else 0.0
    bench.doubled = scene.kind == "link doubled"
    return bench


def _faults_of(scene: Scene) -> tuple[Fault, ...]:
    at, kind = scene.at_turn, scene.kind
    if kind == "wire breaks":
        return (WireBreak(at),)
    if kind == "guard opened":
        return (GuardOpened(at, scene.seconds),)
    if kind == "spindle held":
        return (Jam(at, jam_s=scene.seconds),)
    return (SensorDropout(at, DARK_S + scene.seconds),) if kind == "edges lost" else ()


def line_of(scene: Scene) -> LinkFaults:
    """The line between bench and host."""
    line = {
        "link damaged": LineFaults(loss=0.004, corruption=0.004),
        "link late": LineFaults(latency_s=LATE_S / 2, jitter_s=LATE_S / 2),
    }.get(scene.kind, LineFaults())
    return LinkFaults(scene.seed, line, line)


class World:
    """Lets happen what the scene says, once, when its moment has come."""

    def __init__(self, scene: Scene, underway: Underway, judge: Judge, person: ScenePerson) -> None:
        self.struck = False
        self.waits = True  # until the spindle rests, before the next host is opened
        self._scene, self._underway, self._judge, self._person = scene, underway, judge, person
        self._bench = underway.bench
        self._machine = underway.bench.machine
        self._rest_ns: int | None = None
        self._over_ns: int | None = None  # when what lasts is over
        self._then_ns: int | None = None  # what a second deed waits for, while disk or link hangs
        self._deaths = 2 if scene.kind == "host killed twice" else 1
        self._deed = getattr(self, f"_do_{scene.kind.replace(' ', '_').replace('-', '_')}", None)
        self._body_fault = bool(_faults_of(scene))
        if scene.kind == "disk slow":
            underway.logbook.before_writing = self._write_slowly
        self._disk = LateDisk(underway.clock, self._be_away)
        if "disk hangs" in scene.kind:
            underway.disk = self._disk

    def act(self) -> None:
        self._watch_rest()
        if self._body_fault:
            self.struck = self._machine.bobbin_turns > self._scene.at_turn
        if self._over_ns is not None and self._bench.now_ns >= self._over_ns:
            if self._scene.kind in SWAPPED and not self._swap_board():
                return
            self._over_ns = None
            self._bench.silent = self._bench.deaf = self._bench.mute = False
            if self._underway.cable is not None:
                self._underway.cable.plug_in()
            if self._scene.by_foot:
                self._machine.press_stop(False)
        if self._deed is not None and not self.struck and self._underway.there and self._due():
            self.struck = self._deed()

    def step(self) -> None:
        """One step of the host, at the pace of its computer."""
        if self._scene.kind == "slow computer":
            self._be_away(SLOW_STEP_S)
            self._underway.step(0.0)
        else:
            self._underway.step()

    def host_ended(self) -> None:
        """The run is over; what was broken about the computer is put right before the next."""
        self._bench.silent = self._bench.deaf = self._bench.mute = False
        if self._scene.kind == "disk fails":
            self._underway.logbook.before_writing = None

    def _be_away(self, seconds: float) -> None:
        """The host does nothing for so long; what comes meanwhile waits for it."""
        self._underway.clock.sleep_s(seconds)
        if self._underway.cable is not None:
            self._underway.cable.catch_up()

    def _watch_rest(self) -> None:
        if self._machine.moving or self._underway.phase is not Phase.PAUSED:
            self._rest_ns = None
        elif self._rest_ns is None:
            self._rest_ns = self._bench.now_ns

    def _due(self) -> bool:
        scene = self._scene
        if self._then_ns is not None:
            return True
        if scene.homes:
            return self._person.homing_s >= (STEP_S if scene.kind in SWITCHES else scene.seconds)
        if scene.turns_back:
            return self._person.turning_back_s >= scene.seconds * BACK_SHARE
        if scene.pause_turn:
            since = self._rest_ns
            rests = since is not None and self._bench.now_ns - since >= AFTER_REST_S * NS_PER_S
            return rests and self._person.pausing
        if self._underway.opened_times > 1:  # again, soon after a coil was continued
            return True
        return self._machine.moving and self._machine.bobbin_turns >= scene.at_turn

    def _lasts(self) -> None:
        """What happens now is over after the scene's seconds."""
        self._over_ns = self._bench.now_ns + round(self._scene.seconds * NS_PER_S)

    # --- the host ----------------------------------------------------------------------------

    def _die(self) -> bool:
        self._judge.committed()
        self._underway.kill()
        self._judge.host_gone()
        self.waits = self._scene.coin
        drill = self._machine.drill
        if drill is not None and self._scene.coin:
            drill.lay_down()
        self._underway.let_pass(self._scene.seconds if self._scene.coin else 0.1)
        self._deaths -= 1
        return self._deaths == 0

    _do_begun_again_in_motion = _do_host_killed_while_turning_back = (
        _do_host_killed_while_homing
    ) = _do_host_killed_in_motion = _do_host_killed_at_rest = _do_ignores_the_lease = _die

    def _do_host_killed_twice(self) -> bool:
        if self._deaths == 1:
            wait_s = 0.3 + self._scene.seconds / 2
            if self._over_ns is None:
                self._over_ns = self._bench.now_ns + round(wait_s * NS_PER_S)
            if self._bench.now_ns + round(STEP_S * NS_PER_S) < self._over_ns:
                return False
        return self._die()

    def _do_hand_while_the_program_is_dead(self) -> bool:
        drill = self._machine.drill
        if drill is not None:
            drill.lay_down()
        self._judge.committed()
        self._underway.kill()
        self._judge.host_gone()
        self.waits = False  # how far a hand turns, no shelf can know before the board is asked
        self._underway.let_pass(3.0)
        for _ in range(20):
            if self._machine.moving:
                self._underway.let_pass(0.5)
        # What a hand turns before a reset nobody has on record: less than a turn, or no host can know.
        hand = self._by_hand()
        most = UNRECORDED_TURNS if self._scene.resets else abs(hand)
        self._machine.turn_by_hand(max(-most, min(hand, most)))
        return True

    def _do_program_stopped(self) -> bool:
        self._be_away(self._scene.seconds)
        return True

    def _do_computer_suspended(self) -> bool:
        self._underway.let_pass(self._scene.seconds * SUSPENDED)
        return True

    def _do_disk_fails(self) -> bool:
        self._underway.logbook.before_writing = _write_nothing
        return True

    def _do_disk_hangs(self) -> bool:
        self._disk.hang(self._scene.seconds)
        return True

    def _do_host_killed_while_the_disk_hangs(self) -> bool:
        now_ns = self._bench.now_ns
        if self._then_ns is None:
            hangs_s = HANGS * self._scene.seconds
            self._disk.hang(hangs_s)
            self._then_ns = now_ns + round(HUNG_SHARE * hangs_s * NS_PER_S)
        return now_ns >= self._then_ns and self._die()

    def _do_host_killed_while_the_link_is_held_up(self) -> bool:
        return self._held_for_long() and self._die()

    def _do_board_reset_while_the_link_is_held_up(self) -> bool:
        return self._held_for_long() and self._reset_board()

    def _held_for_long(self) -> bool:
        """The link is held up, and has been for half its time."""
        if self._then_ns is None:
            self._hold_link()
            self._then_ns = self._bench.now_ns + round(self._scene.seconds * NS_PER_S / 2)
        return self._bench.now_ns >= self._then_ns

    def _write_slowly(self) -> None:
        if self._machine.moving:
            self.struck = True
            self._be_away(min(self._scene.seconds, DISK_SLOW_S_MAX))

    # --- the link ----------------------------------------------------------------------------

    def _lose_link(self) -> bool:
        self._lasts()
        if self._scene.coin:
            self._bench.silent = True
        elif self._underway.cable is not None:
            self._underway.cable.pull()
        return True

    _do_link_lost_while_turning_back = _do_link_lost_while_homing = _do_link_lost_in_motion = (
        _do_link_lost_at_rest
    ) = _lose_link

    def _do_only_the_board_is_heard(self) -> bool:
        self._lasts()
        self._bench.deaf = True
        return True

    def _do_only_the_host_is_heard(self) -> bool:
        self._lasts()
        self._bench.mute = True
        return True

    def _hold_link(self) -> bool:
        self._lasts()
        if self._underway.cable is not None:
            self._underway.cable.hold_up(both_ways=self._scene.coin)
        return True

    _do_link_held_up_in_motion = _do_link_held_up_while_turning_back = _hold_link

    def _do_link_held_up_at_rest(self) -> bool:
        """For so long that a host gives up a start, which arrives all the same."""
        self._hold_link()
        self._over_ns = (self._over_ns or 0) + round(UNANSWERED_S * NS_PER_S)
        return True

    def _take_cable(self) -> bool:
        self._lasts()
        if self._underway.cable is not None:
            self._underway.cable.pull()
        return True

    _do_board_swapped_in_motion = _do_board_swapped_at_rest = _take_cable

    def _swap_board(self) -> bool:
        """The board comes to rest by itself; the other one has a coil of its own, with fewer turns on it."""
        if self._machine.drill is not None:
            self._machine.drill.lay_down()
        if self._machine.moving:
            return False
        self._judge.coil_away()
        boot = self._machine.boot if self._scene.coin else self._machine.boot + OTHER_BOOT
        self._machine.change_board(boot)
        self._machine.pull_off(self._scene.amount_turns)
        return True

    # --- foot and hand -----------------------------------------------------------------------

    def _do_pedal_stuck(self) -> bool:
        self._person.foot.stick()
        return True

    def _do_pedal_let_go_in_a_silence(self) -> bool:
        self._person.foot.come_off()
        return self._lose_link()

    def _do_stop_switch_pressed(self) -> bool:
        self._lasts()
        self._machine.press_stop(True)
        return True

    def _do_pedal_held_at_arming(self) -> bool:
        return True  # the foot did it before

    def _do_stopped_while_turning_back(self) -> bool:
        self._judge.stop_asked()
        return self._underway.ask(Intent.CUT if self._scene.coin else Intent.PAUSE)

    def _do_stopped_while_homing(self) -> bool:
        return self._underway.ask(Intent.CUT if self._scene.coin else Intent.PAUSE)

    def _limit_switch_was_sought(self) -> bool:
        return True

    _do_limit_switch_never_met = _do_limit_switch_loose = _limit_switch_was_sought
    _do_limit_switch_stuck = _limit_switch_was_sought

    # --- the bench ---------------------------------------------------------------------------

    def _reset_board(self) -> bool:
        self._bench.reset(watchdog=self._scene.coin)
        return True

    _do_board_reset_while_turning_back = _do_board_reset_while_homing = (
        _do_board_reset_in_motion
    ) = _do_board_reset_at_rest = _reset_board

    def _do_false_edges_in_motion(self) -> bool:
        control, counts = self._machine.body.control, self._scene.wrong.amount
        if control.to_cut <= counts + 2:
            return False
        self._bench.miscount(counts)
        return True

    def _do_false_edges_at_rest(self) -> bool:
        self._machine.body.control.see_undriven(self._scene.wrong.amount)
        return True

    def _do_hand_at_rest(self) -> bool:
        self._machine.turn_by_hand(self._by_hand())
        return True

    def _do_spindle_touched(self) -> bool:
        self._machine.turn_by_hand(self._by_hand())
        self._machine.turn_by_hand(-self._by_hand())
        return True

    def _by_hand(self) -> float:
        turns = self._scene.amount_turns * HAND_SHARE
        if self._scene.coin or not (self._scene.sense or self._scene.motor):
            return turns
        return -min(turns, self._person.counted_turns())  # no hand takes off more than there is


def _write_nothing() -> None:
    raise WinderError("could not be written (no room)", where="logbook", remedy="make room")
