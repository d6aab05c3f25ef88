"""Boards that go wrong with a foot pedal or a stop switch: section 22."""

from __future__ import annotations

from reference_board import PEDAL_BOARD
from wrong_frames import Ends

from firmware_protocol.device_commands import DONE, Outcome
from firmware_protocol.messages import Start, Trip, Verdict
from firmware_protocol.pedal import ArmPedal


class Pedals(Ends):
    identity_of = PEDAL_BOARD


class TellsOnce(Pedals):
    """Tells of its pedal only as often as every fifth status."""

    clause = "22.1"
    told = 0

    def _send(self, message) -> None:
        if type(message).__name__ == "PedalStatus":
            self.told += 1
            if self.told % 5:
                return
        super()._send(message)


class ArmsWithoutLease(Pedals):
    clause = "22.2"

    def _judge(self, command) -> Outcome:
        outcome = super()._judge(command)
        if isinstance(command, ArmPedal) and outcome.verdict is Verdict.NO_LEASE:
            self.board.pedal.arm()
            return DONE
        return outcome


class ArmedForEver(Pedals):
    """A stop that does nothing at rest."""

    clause = "22.3"

    def _take(self, frame) -> None:
        armed = self.board.pedal.armed
        super()._take(frame)
        if frame.kind == 3 and armed:
            self.board.pedal.arm()


class ArmedBeyondTheLease(Pedals):
    clause = "22.3"

    def _look(self, now_ms: int) -> None:
        armed = self.board.pedal.armed
        super()._look(now_ms)
        if armed and not self.lease_live:
            self.board.pedal.arm()


class GoesOnByItself(Pedals):
    """Takes a press for a start, and the release for nothing."""

    clause = "22.4"

    def _look(self, now_ms: int) -> None:
        super()._look(now_ms)
        self.board.pedal.winds = False


class PausesDisarmed(Pedals):
    clause = "22.4"

    def _look(self, now_ms: int) -> None:
        wound = self.board.pedal.winds
        super()._look(now_ms)
        if wound and not self.board.pedal.winds:
            self.board.pedal.disarm()


class StartLeavesItArmed(Pedals):
    clause = "22.4"

    def _judge(self, command) -> Outcome:
        outcome = super()._judge(command)
        if isinstance(command, Start) and outcome is DONE:
            self.board.pedal.arm()
        return outcome


class GoesAtArming(Pedals):
    """Whoever has a foot on the pedal as it is armed sets it going."""

    clause = "22.5"

    def _judge(self, command) -> Outcome:
        outcome = super()._judge(command)
        if isinstance(command, ArmPedal) and outcome is DONE:
            self.board.pedal._release_seen = True
        return outcome


class DeafToTheSwitch(Pedals):
    clause = "22.6"

    def _look(self, now_ms: int) -> None:
        self.board._cause = lambda: Trip.NONE
        super()._look(now_ms)


class ForgetsTheSwitch(Pedals):
    """Clears the trip while the switch is pressed."""

    clause = "22.6"

    def _judge(self, command) -> Outcome:
        facts = self.board.facts
        pressed, facts.stop_pressed = facts.stop_pressed, False
        outcome = super()._judge(command)
        facts.stop_pressed = pressed
        return outcome
