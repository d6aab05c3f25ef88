"""The person of a rehearsed scene: at the keys and at the bench, honest, and able to count turns at rest.

They do what is asked of them. Whoever ``settles`` counts the coil when its count is in doubt and says so; the others
go on in doubt for as long as that is possible, so that bounds are tried too.
"""

from __future__ import annotations

from winder.clock import NS_PER_S
from winder.laboratory.foot import Foot
from winder.laboratory.judge import Judge
from winder.laboratory.underway import Underway
from winder.simulator.carriage import Switch
from winder.simulator.scene import Scene
from winder.wind.model import Intent, Phase, TurnsOff, Value

ASKS_EVERY_S = 0.25
REST_S = 0.5  # that a person waits for the spindle before doing anything by hand
SEES_BREAK_S = 0.8  # until whoever winds by hand sees that the wire has parted
POWER_OFF_S = 1.5  # from an alarm to the motor's switch
LEAVES_S = 4.0  # from an alarm to the end of it
TURNS_BACK_S = 25.0  # for whoever drills to turn back to the target
STARTS_MOST = 10  # before they believe that this board starts no more
PATIENCE_S = 35.0  # in one phase that is not winding
TAKEN_BACK_TURNS = 3.0
SENSOR_MENDED_S = 8.0  # until a sensor that tripped the board is looked at and sees again
HOMINGS_MOST = 3
GUIDE_MM = (1.0, -0.5, 2.0)


class ScenePerson:
    def __init__(self, scene: Scene, underway: Underway, judge: Judge) -> None:
        self._scene, self._underway, self._judge = scene, underway, judge
        self._machine = underway.bench.machine
        self.foot = Foot(scene, self._machine, judge)
        self._next_ns = 0
        self._since_ns = 0  # since when the phase is what it is
        self._phase: Phase | None = None
        self._starts = 0  # asked for, and nothing has turned since
        self._broke_ns: int | None = None
        self._alarm_ns: int | None = None
        self._guide_left = list(GUIDE_MM) if scene.kind == "set-up moves" else []
        self._homings = HOMINGS_MOST if scene.homes else 0  # to be tried
        self._homing_ns: int | None = None  # the newest was asked for then
        self._taken_back = not scene.turns_back
        self._back_ns: int | None = None  # it was asked for then
        self.paused = scene.pause_turn == 0.0  # what they wanted to pause for is done
        self.pausing = False
        self.gave_up = False

    # --- what they can see -------------------------------------------------------------------

    @property
    def stands(self) -> bool:
        return not self._machine.moving

    def counted_turns(self) -> float:
        """On the coil, as anybody can count them at rest."""
        return self._machine.body.wire_counts / self._scene.counts_per_turn

    def _for_s(self, since_ns: int) -> float:
        return (self._machine.now_ns - since_ns) / NS_PER_S

    @property
    def homing_s(self) -> float:
        """For how long the guide has been on its way home."""
        if self._homing_ns is None or self._machine.body.carriage.goal_um is None:
            return 0.0
        return self._for_s(self._homing_ns)

    @property
    def turning_back_s(self) -> float:
        """For how long the motor has been turning turns back."""
        if self._back_ns is None or self._machine.body.spindle.speed >= 0.0:
            return 0.0
        return self._for_s(self._back_ns)

    @property
    def alarmed(self) -> bool:
        """There was an alarm, and they went no further."""
        return self._alarm_ns is not None

    # --- every step --------------------------------------------------------------------------

    def act(self) -> None:
        phase, now_ns = self._underway.phase, self._machine.now_ns
        if not self.stands:
            self._starts = 0
        if phase is not self._phase:
            self._phase, self._since_ns = phase, now_ns
        if phase is not None and self._scene.by_foot:
            self.foot.act(phase, self._since_ns)
        if now_ns < self._next_ns or phase is None:
            return
        self._next_ns = now_ns + round(ASKS_EVERY_S * NS_PER_S)
        if self._underway.alarm or self._alarm_ns is not None:
            self._heed_alarm(now_ns)
        elif self._for_s(self._since_ns) > PATIENCE_S and phase is not Phase.WINDING:
            self.gave_up = True  # nothing they could do brought it on
            if not self._ask(Intent.END_HERE):
                self._ask(Intent.LEAVE)
        elif self.foot.sees_it_turn_on:
            self._judge.stop_asked()
            self._judge.foot_off()
            self._ask(Intent.PAUSE)
        elif not self._look_at_wire(now_ns) and not self._pause(phase):
            self._go_on(phase)

    def _heed_alarm(self, now_ns: int) -> None:
        self._alarm_ns = self._alarm_ns or now_ns
        self.gave_up = True
        if self._for_s(self._alarm_ns) > POWER_OFF_S + HEEDED_BY_HOST_S:
            self._machine.body.spindle.limit = 0.0  # the motor's switch
        if self._for_s(self._alarm_ns) > LEAVES_S + HEEDED_BY_HOST_S:
            self._ask(Intent.LEAVE)

    def _look_at_wire(self, now_ns: int) -> bool:
        """Whoever winds by hand sees a break; a sensor sees it on a motor."""
        if self._machine.body.wire_present or self._scene.motor:
            return False
        self._broke_ns = self._broke_ns or now_ns
        if self._for_s(self._broke_ns) < SEES_BREAK_S:
            return False
        return self._ask(Intent.WIRE_BROKE)

    def _pause(self, phase: Phase) -> bool:
        if self.paused or self.pausing:
            return False
        if phase is Phase.WINDING and self._machine.turns >= self._scene.pause_turn:
            self._judge.stop_asked()
            self.pausing = self._ask(Intent.PAUSE)
            return True
        return False

    # --- phase by phase ----------------------------------------------------------------------

    def _go_on(self, phase: Phase) -> None:
        if phase is Phase.SETTING_UP:
            self._set_up()
        elif phase in (Phase.READY, Phase.PAUSED):
            self._wind_on(phase)
        elif phase is Phase.TAKING_OFF:
            self._take_off()
        elif phase is Phase.TRIPPED and self.stands:
            self._clear_trip()
        elif phase is Phase.COMPLETE:
            self._settle()
            self._ask(Intent.LEAVE)

    def _set_up(self) -> None:
        if self._guide_left:
            if self._ask(Intent.STEP_GUIDE, self._guide_left[0]):
                self._judge.motion_asked()
                self._guide_left.pop(0)
        elif self._homings and not self._underway.home_found:
            self._go_home()
        elif self._for_s(self._since_ns) > REST_S:
            self._ask(Intent.DECLARE_SET_UP)

    def _go_home(self) -> None:
        """Twice, perhaps with the switch mended; then they push it to the left flange by hand."""
        if self._machine.body.carriage.goal_um is not None or not self._underway.may(
            Intent.HOME_GUIDE
        ):
            return
        if self._homings == 1:
            self._homings = 0
            self._machine.put_guide_left()
            return
        if self._homings < HOMINGS_MOST and self._scene.coin:
            self._machine.bend_switch(Switch.SOUND)
        if self._ask(Intent.HOME_GUIDE):
            self._judge.motion_asked()
            self._homings -= 1
            self._homing_ns = self._machine.now_ns

    def _wind_on(self, phase: Phase) -> None:
        if not self.stands:
            return
        waits_s = self._scene.pause_s if self.pausing else REST_S
        if self._for_s(self._since_ns) < waits_s:
            return
        if self.pausing and not self._taken_back and phase is Phase.PAUSED:
            self._taken_back = self._ask(Intent.TAKE_OFF, TAKEN_BACK_TURNS)
            if self._taken_back:
                self._judge.motion_asked()
                self._back_ns = self._machine.now_ns
            return
        if self._settle():
            return
        if self.pausing:
            self.pausing, self.paused = False, True
        if not self._machine.body.wire_present:
            self._ask(Intent.WIRE_JOINED)
        elif self._starts >= STARTS_MOST:
            self._ask(Intent.END_HERE)
        elif self._scene.by_foot:
            self.foot.before_arming()
            if self._ask(Intent.PEDAL):
                self._starts += 1
        elif self._ask(Intent.START if phase is Phase.READY else Intent.CONTINUE):
            self._starts += 1
            self._judge.motion_asked()
        elif self._for_s(self._since_ns) > TURNS_BACK_S:
            self._ask(Intent.END_HERE)

    def _settle(self, *, must: bool = False) -> bool:
        """Count the coil and say so, if its count is in doubt."""
        claim = self._underway.claim()
        if claim is None or claim.sure or not self.stands:
            return False
        if self._scene.trusting:
            return self._ask(Intent.VOUCH_UNMOVED)
        if not (self._scene.settles or must):
            return False
        return self._ask(Intent.SETTLE_COUNT, self.counted_turns())

    def _take_off(self) -> None:
        if not self.stands or self._settle():
            return
        off, scene = self._underway.off_turns, self._scene
        claim = self._underway.claim()
        if off and claim is not None and claim.sure:
            if scene.motor:
                if self._ask(Intent.TAKE_OFF, off):
                    self._judge.motion_asked()
                return
            if not scene.says_sense:
                self._ask(Intent.TURNS_OFF, TurnsOff(off))
                return
        if self._for_s(self._since_ns) > (TURNS_BACK_S if scene.says_sense else REST_S):
            self._ask(Intent.END_HERE)

    def _clear_trip(self) -> None:
        looks_s = SENSOR_MENDED_S if self._scene.kind == "edges lost" else REST_S
        if self._for_s(self._since_ns) < looks_s:
            return
        if not self._machine.body.wire_present and self._ask(Intent.WIRE_JOINED):
            return
        if not self._settle():
            self._ask(Intent.CLEAR_TRIP)

    def _ask(self, intent: Intent, value: Value = None) -> bool:
        return self._underway.may(intent) and self._underway.ask(intent, value)


HEEDED_BY_HOST_S = 8.0  # the host is given this long before a person's hand hides what it does
