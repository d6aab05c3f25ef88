"""The foot pedal as a board has it: armed or not, and whether a press may go.

A press goes only if the pedal was seen released since it was armed, since the last press, and since anything
hindered it. A contact is believed once it has been so for ``PEDAL_SETTLE_MS``; until it was looked at for as long
it counts as pressed, and so does one that is just about to be.
"""

from __future__ import annotations

from .vocabulary import PEDAL_SETTLE_MS, PedalFlag


class Pedal:
    """One boot of one pedal. Times in milliseconds of the board's clock."""

    def __init__(self, now_ms: int) -> None:
        self.armed = False
        self.winds = False  # it began the winding under way
        self.pressed = True  # as its contact has settled
        self._release_seen = False
        self._level = True  # of the contact, as of the newest look
        self._agreed_ms = now_ms  # when the contact last was as it has settled

    def see(self, level: bool, now_ms: int) -> None:
        """Look at the contact; true: pressed."""
        self._level = level
        if level == self.pressed:
            self._agreed_ms = now_ms
        elif now_ms - self._agreed_ms >= PEDAL_SETTLE_MS:
            self.pressed = level
            self._agreed_ms = now_ms

    @property
    def settles_ms(self) -> int | None:
        """When the contact will have settled if it stays as it is; None: it has."""
        return None if self._level == self.pressed else self._agreed_ms + PEDAL_SETTLE_MS

    def arm(self) -> None:
        self.armed, self.winds, self._release_seen = True, False, False

    def disarm(self) -> None:
        self.armed = self.winds = self._release_seen = False

    def goes(self, hindered: bool) -> bool:
        """Whether it is armed and sets the spindle in motion now, at rest. ``hindered``: nothing may start."""
        if hindered or not self.armed:
            self._release_seen = False
        elif not self.pressed and not self._level:
            self._release_seen = True
        return self._release_seen and self.pressed

    def begin(self) -> None:
        """It set the spindle in motion."""
        self.armed, self.winds, self._release_seen = True, True, False

    @property
    def let_go(self) -> bool:
        """It began the winding under way and is pressed no more."""
        return self.winds and not self.pressed

    def flags(self) -> int:
        return (
            (PedalFlag.ARMED.value if self.armed else 0)
            | (PedalFlag.RELEASE_SEEN.value if self._release_seen else 0)
            | (PedalFlag.PRESSED.value if self.pressed else 0)
        )
