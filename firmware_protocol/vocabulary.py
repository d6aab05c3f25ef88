"""Every vocabulary and every time limit of the protocol; ``messages.py`` hands them on.

A word's number never changes its meaning. A number without a word here is kept as it is: a newer board may
know more words.
"""

from __future__ import annotations

import enum

from .wire import Group

BASE_VERSION = 1  # of the base set
GROUP_VERSIONS = {
    Group.COUNTING: 1,
    Group.MOTOR: 1,
    Group.TRAVERSE: 2,
    Group.LEGS: 1,
    Group.PEDAL: 1,
    Group.SETTINGS: 1,
}

STATUS_PERIOD_MS = 50  # 20 a second
ALIVE_PERIOD_MS = 200  # five a second
LEASE_MS = 1000  # silence of this length means: slow down, come to rest, keep the count
ANSWER_WAIT_MS = 200  # after this the host sends the same command again
SENDINGS_MAX = 10  # of one command, before the host calls the board silent
STOP_REPEAT_MS = 100  # the host repeats a stop until a status shows no motion
WELCOME_WAIT_MS = 3000  # boards that reset on opening need up to this long
COUNT_MAX = 1 << 30  # a target beyond this is refused
LEGS_MAX_LEAST = 8  # a board with LEGS holds at least this many
RATE_LEAST_MCPS = 1000  # slower than a count a second nothing is driven
CREEP_RATE_LEAST_MCPS = 4000  # edges at least four times a second while creeping
PEDAL_SETTLE_MS = 20  # a pedal's contact must have been so for as long before it is believed


class State(enum.IntEnum):
    STILL = 0  # at rest, no wind open or no plan loaded
    ARMED = 1  # at rest, plan loaded and checked, ready for a start
    WINDING = 2
    SLOWING = 3  # on the way to rest
    PAUSED = 4  # at rest within a wind; a start continues it
    COMPLETE = 5  # at rest at the end of the plan
    TRIPPED = 6  # a protective stop, latched until cleared
    SETTING_UP = 7  # a finite move asked for at the bench


class Reason(enum.IntEnum):
    """Why the newest slowing or rest came about."""

    NONE = 0
    STOP = 1
    LEASE_LOST = 2
    LEG_PAUSE = 3  # the plan asked for it
    TARGET = 4  # the plan's last leg ended
    MOVE_DONE = 5
    TRIP = 6
    CLEARED = 7  # a trip was cleared
    PEDAL_RELEASED = 8


class Trip(enum.IntEnum):
    NONE = 0
    WIRE_LOST = 1
    GUARD_OPENED = 2
    OVERSPEED = 3
    SENSOR_IMPLAUSIBLE = 4
    STALLED = 5
    TRAVERSE_LIMIT = 6
    WATCHDOG = 7
    NOT_STOPPED = 8  # the drive is cut and the spindle does not come to rest
    TURNED_UNDRIVEN = 9  # with the drive off, faster than a hand turns it
    RESET_IN_MOTION = 10  # the board remembered at its start that something had been set in motion
    STOP_PRESSED = 11  # the wired stop switch


class Verdict(enum.IntEnum):
    DONE = 0
    UNSUPPORTED = 1  # this board does not know the kind
    NO_SESSION = 2  # the token is not the open session's
    HELD = 3  # another host's session is alive
    CONFLICT = 4  # this number was used with other content, or is out of turn
    STALE = 5  # boot, wind or revision is not the board's any more
    WRONG_STATE = 6
    BAD_VALUE = 7  # detail: index of the field in the payload
    NO_LEASE = 8  # nothing moves before the first sign of life
    GUARD_OPEN = 9
    WIRE_LOST = 10
    NOT_REFERENCED = 11
    PLAN_INCOMPLETE = 12
    WRONG_CHECKSUM = 13  # detail: the board's checksum
    CAUSE_REMAINS = 14
    MALFORMED = 15  # payload shorter than the kind needs
    STOP_PRESSED = 16


class EndAction(enum.IntEnum):
    CONTINUE = 0  # into the next leg, without a stop
    PAUSE = 1
    COMPLETE = 2


class Side(enum.IntEnum):
    LEFT = 0
    RIGHT = 1


class Flag(enum.IntFlag):
    """Bits of ``Status.flags``."""

    LEASE_LIVE = 1 << 0
    DRIVEN = 1 << 1  # the drive may be on: moving, or about to
    GUARD_OPEN = 1 << 2
    WIRE_PRESENT = 1 << 3
    REFERENCED = 1 << 4
    TRAVERSE_RIGHTWARD = 1 << 5
    BRAKE_ON = 1 << 6
    STOP_PRESSED = 1 << 7


class Has(enum.IntFlag):
    """Bits of ``Welcome.has``: what is wired to this board."""

    DIRECTION_SENSE = 1 << 0
    BRAKE = 1 << 1
    GUARD = 1 << 2
    WIRE_SENSOR = 1 << 3
    PEDAL = 1 << 4
    STOP_INPUT = 1 << 5
    LIMIT_SWITCH = 1 << 6


class PedalFlag(enum.IntFlag):
    """Bits of ``PedalStatus.flags``."""

    ARMED = 1 << 0
    RELEASE_SEEN = 1 << 1  # since it was armed and since anything hindered it: the next press goes
    PRESSED = 1 << 2  # as its contact has settled


class Kept(enum.IntFlag):
    """Bits of ``Welcome.kept_flags``: the record of the last rest, from non-volatile memory."""

    VALID = 1 << 0
    AT_REST = 1 << 1  # the record was written at a rest and nothing was started since


class Sensor(enum.IntEnum):
    """How the spindle's sensor is wired, and what a count is."""

    FOUR_EDGES = 0  # A and B a quarter period apart, the edges of both
    TWO_EDGES = 1  # A and B a quarter period apart, the edges of A
    ONE_PULSE = 2  # one pulse a count on A; no sense of direction


class Driver(enum.IntEnum):
    """What drives the spindle."""

    NONE = 0  # a hand; the board drives nothing, and its outputs stay inputs
    ENABLE_AND_DIRECTION = 1  # enable, duty and backward; by gates also a driver of two inputs


class LineSpeed(enum.IntEnum):
    FAST = 0  # 500000 baud
    SLOW = 1  # 115200 baud


class Wired(enum.IntFlag):
    """Bits of ``Settings.inputs``."""

    GUARD = 1 << 0
    WIRE_SENSOR = 1 << 1
    PEDAL = 1 << 2
    STOP_INPUT = 1 << 3
    LIMIT_SWITCH = 1 << 4  # of the guide, at its left end


class Low(enum.IntFlag):
    """Bits of ``Settings.low``: outputs that are on while they are low."""

    ENABLE = 1 << 0
    DUTY = 1 << 1
    BRAKE = 1 << 2
    BACKWARD = 1 << 3
    CONTACTOR = 1 << 4


NO_LEG = 255  # in place of a leg's index: none
NO_WIND = 0  # in place of a wind's number: none
