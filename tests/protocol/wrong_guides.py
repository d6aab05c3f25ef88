"""Boards that go wrong with a limit switch and far moves: section 23."""

from __future__ import annotations

from dataclasses import replace

from pair import FULL_BOARD
from wrong_frames import Ends

from firmware_protocol.device_commands import DONE, Outcome
from firmware_protocol.far import TraverseHome, TraverseMove
from firmware_protocol.messages import Has, Verdict

SWITCH_BOARD = replace(FULL_BOARD, groups=(1, 1, 2, 1, 0, 1), has=FULL_BOARD.has | Has.LIMIT_SWITCH)


class Guides(Ends):
    identity_of = SWITCH_BOARD


class SaysVersion2WithoutSwitch(Ends):
    clause = "23.1"
    identity_of = replace(FULL_BOARD, groups=(1, 1, 2, 1, 0, 1))


class HomesWithoutSwitch(Ends):
    clause = "23.1"
    identity_of = FULL_BOARD

    def _speaks(self, group, version=1) -> bool:
        return super()._speaks(group)


class HomesWithoutLease(Guides):
    clause = "23.2"

    def _judge(self, command) -> Outcome:
        outcome = super()._judge(command)
        return DONE if outcome.verdict is Verdict.NO_LEASE else outcome


class TakesAnySpeed(Guides):
    clause = "23.2"

    def _judge(self, command) -> Outcome:
        far = isinstance(command, TraverseHome | TraverseMove)
        return super()._judge(
            replace(command, rate_um_s=command.rate_um_s or 1) if far else command
        )


class KnowsItsPlaceTooSoon(Guides):
    clause = "23.3"

    def _judge(self, command) -> Outcome:
        outcome = super()._judge(command)
        if isinstance(command, TraverseHome) and outcome is DONE:
            self.board.referenced = True
        return outcome


class HomesElsewhere(Guides):
    clause = "23.3"

    def _judge(self, command) -> Outcome:
        home = isinstance(command, TraverseHome)
        return super()._judge(replace(command, at_um=command.at_um + 1) if home else command)


class GoesOnWithoutItsPlace(Guides):
    """A cut on the way leaves the place known."""

    clause = "23.4"

    def _take(self, frame) -> None:
        super()._take(frame)
        if frame.kind == 0x23:
            self.board.referenced = True


class GoesTooFar(Guides):
    clause = "23.4"

    def _judge(self, command) -> Outcome:
        far = isinstance(command, TraverseMove) and command.distance_um > 0
        return super()._judge(replace(command, distance_um=6000) if far else command)
