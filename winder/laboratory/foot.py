"""The foot of a person who winds by pedal, in the scenes that are about one.

A foot presses once the screen says that the pedal goes, and stays on it until something happens. The judge hears of
every press and every release: nothing but a press is motion that was asked for.
"""

from __future__ import annotations

from winder.clock import NS_PER_S
from winder.laboratory.judge import Judge
from winder.simulator.machine import SimulatedMachine
from winder.simulator.scene import Scene
from winder.wind.model import Phase

HELD, STUCK, SILENT = "pedal held at arming", "pedal stuck", "pedal let go in a silence"
PRESSES_S = 0.4  # after the pedal was seen to go
HELD_S = 4.0  # by a foot that is on the pedal as it is armed: longer than a judge waits
SEES_STUCK_S = 1.0  # that it turns on, and which key stops it
TRIES_S = 1.5  # on a pedal that does nothing, until they let go and press again
FOOT_OFF = (Phase.READY, Phase.PAUSED, Phase.TRIPPED, Phase.COMPLETE, Phase.ENDED)


class Foot:
    """``down``: the foot is on the pedal; a contact that sticks stays closed without it."""

    def __init__(self, scene: Scene, machine: SimulatedMachine, judge: Judge) -> None:
        self._scene, self._machine, self._judge = scene, machine, judge
        self.down = False
        self._sticks_until_ns: int | None = None
        self._stuck_since_ns: int | None = None
        self._held = False
        self._pressed_ns = 0

    def act(self, phase: Phase, since_ns: int) -> None:
        """``since_ns``: when the phase began."""
        now_ns = self._machine.now_ns
        if self._sticks_until_ns is not None and now_ns >= self._sticks_until_ns:
            self._sticks_until_ns = None
            self._contact(self.down)
        passed_s = (now_ns - since_ns) / NS_PER_S
        if phase is Phase.PEDAL and self._machine.moving:
            return
        if phase is Phase.PEDAL and self._held_through(passed_s):
            return
        if phase is Phase.PEDAL and not self.down and passed_s > PRESSES_S:
            self.down, self._pressed_ns = True, now_ns
            self._contact(True)
            self._judge.motion_asked()
        elif (
            phase is Phase.PEDAL and self.down and now_ns - self._pressed_ns > TRIES_S * NS_PER_S
        ) or (
            phase in FOOT_OFF and self.down and not self._machine.moving and not self._keeps(phase)
        ):
            self.come_off()

    def _keeps(self, phase: Phase) -> bool:
        return self._scene.kind == HELD and not self._held and phase is not Phase.COMPLETE

    def before_arming(self) -> None:
        """The person is about to turn the pedal on."""
        if self._scene.kind == HELD and not self._held:
            self.down = True
            self._contact(True)

    def _held_through(self, passed_s: float) -> bool:
        """A foot that was on it as it was armed stays for long, and then lets go for once."""
        if self._scene.kind != HELD or self._held:
            return False
        if passed_s > HELD_S:
            self._held = True
            self.come_off()
        return True

    def come_off(self) -> None:
        self.down = False
        if self._sticks_until_ns is None:
            self._contact(False)
        self._judge.foot_off()

    def stick(self) -> None:
        """The foot comes off, and the contact stays closed."""
        now_ns = self._machine.now_ns
        self._sticks_until_ns = now_ns + round((SEES_STUCK_S + 2 + self._scene.seconds) * NS_PER_S)
        self._stuck_since_ns = now_ns
        self.down = False

    @property
    def sees_it_turn_on(self) -> bool:
        """The foot is off, the spindle turns, and a person has noticed."""
        since = self._stuck_since_ns
        turns = since is not None and self._machine.moving
        if not turns or since is None or self._machine.now_ns - since < SEES_STUCK_S * NS_PER_S:
            return False
        self._stuck_since_ns = None
        return True

    def _contact(self, closed: bool) -> None:
        self._machine.press_pedal(closed)
