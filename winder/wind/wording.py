"""Plain words for phases, trips, refusals and reasons. What happened, then what to do.

A person reads these with wire in one hand: short, no jargon, the remedy in the same breath.
"""

from __future__ import annotations

from firmware_protocol.messages import Reason, Trip, Verdict

from .model import Intent, Phase

HEADLINES: dict[Phase, str] = {
    Phase.CONNECTING: "connecting",
    Phase.SETTING_UP: "setting up",
    Phase.PREPARING: "preparing",
    Phase.READY: "ready",
    Phase.STARTING: "starting",
    Phase.PEDAL: "foot pedal",
    Phase.WINDING: "winding",
    Phase.SLOWING: "slowing",
    Phase.PAUSED: "paused",
    Phase.TAKING_OFF: "taking off",
    Phase.COMPLETE: "complete",
    Phase.TRIPPED: "tripped",
    Phase.ALARM: "alarm",
    Phase.UNHEARD: "no signal",
    Phase.LOST: "wind lost",
    Phase.ENDED: "ended",
}

WOUND = (
    ("finish lead F", "fix, insulate, then cut"),
    ("tape", "before you let go of anything"),
)  # what a hand does as soon as a coil has its turns
# Where nothing about the plan has to be said: see ``viewing`` for the rest.
ADVICE: dict[Phase, str] = {
    Phase.CONNECTING: "waiting for the board to answer",
    Phase.SETTING_UP: "go through the list at the machine; nothing can turn until it is done",
    Phase.PREPARING: "loading the plan into the board; nothing moves",
    Phase.STARTING: "starting; keep hands clear of the spindle",
    Phase.WINDING: "winding; watch the wire",
    Phase.TRIPPED: "look for the cause at the machine, then clear the trip",
    Phase.SLOWING: "slowing down; keep hands clear until the spindle has stopped",
    Phase.UNHEARD: (
        "the board stops the spindle by itself: a second, then slowing down; watch it and check the cable"
    ),
}

TRIPS: dict[int, tuple[str, str]] = {
    Trip.WIRE_LOST: (
        "the wire broke or ran out",
        "take off the loose turns and say how many, join the wire and say so, then clear the trip",
    ),
    Trip.GUARD_OPENED: (
        "the guard was opened while the spindle turned",
        "close the guard, then clear the trip",
    ),
    Trip.OVERSPEED: (
        "the spindle ran faster than asked",
        "switch the motor's power off, check motor and drive, then clear the trip",
    ),
    Trip.SENSOR_IMPLAUSIBLE: (
        "the turn sensor's signal makes no sense",
        "check the sensor and its cable, set the count, then clear the trip",
    ),
    Trip.STALLED: (
        "the drive was on but the sensor saw no turning",
        "look for what is holding the spindle, or a loose sensor, then clear the trip",
    ),
    Trip.TRAVERSE_LIMIT: (
        "the guide met its limit",
        "check the guide's place and the flanges, then clear the trip",
    ),
    Trip.WATCHDOG: (
        "the board's watchdog stopped it",
        "check the board's power and earth, then clear the trip",
    ),
    Trip.NOT_STOPPED: (
        "the spindle did not stop after its drive was cut",
        "switch the motor's power off and leave it off until the drive is repaired",
    ),
    Trip.TURNED_UNDRIVEN: (
        "the spindle turned by itself, with the drive off",
        "switch the motor's power off and leave it off until the drive is repaired",
    ),
    Trip.RESET_IN_MOTION: (
        "the board lost its power or was reset while something moved",
        "see that the spindle has stopped, check the board's power, then clear the trip",
    ),
    Trip.STOP_PRESSED: (
        "the stop switch at the machine was pressed",
        "pull the stop switch out again, then clear the trip; nothing turns by itself",
    ),
}

VERDICTS: dict[int, str] = {
    Verdict.UNSUPPORTED: "the board does not know this command; its firmware is too old for this plan",
    Verdict.NO_SESSION: "the board has forgotten this program; connect again",
    Verdict.HELD: "another program holds the board; end it there first",
    Verdict.CONFLICT: "board and program are out of step; connect again",
    Verdict.STALE: "something changed at the board; look, then try again",
    Verdict.WRONG_STATE: "the board cannot do that now; look, then try again",
    Verdict.BAD_VALUE: "the board does not accept one of the values",
    Verdict.NO_LEASE: "the board has not heard from this program yet; try again in a second",
    Verdict.GUARD_OPEN: "the guard is open; close it and try again",
    Verdict.STOP_PRESSED: "the stop switch at the machine is pressed; pull it out and try again",
    Verdict.WIRE_LOST: "the wire sensor sees no wire; thread it and try again",
    Verdict.NOT_REFERENCED: "the guide's place is not known; put it at the left flange and start over",
    Verdict.PLAN_INCOMPLETE: "part of the plan did not arrive; start over",
    Verdict.WRONG_CHECKSUM: "the plan was garbled on the way; check the cable and start over",
    Verdict.CAUSE_REMAINS: "the cause is still there, or the spindle is still turning; fix it and clear the trip again",
    Verdict.MALFORMED: "the board could not read the command; its firmware does not fit this program",
}

REASONS: dict[int, str] = {
    Reason.NONE: "the board did not say why",
    Reason.STOP: "stopped",
    Reason.LEASE_LOST: "nothing heard from this program",
    Reason.LEG_PAUSE: "a planned pause",
    Reason.TARGET: "the end of the plan",
    Reason.MOVE_DONE: "a move has ended",
    Reason.TRIP: "a trip",
    Reason.CLEARED: "a trip was cleared",
    Reason.PEDAL_RELEASED: "the pedal was let go",
}

COMMANDS: dict[str, str] = {
    "OpenWind": "opening the wind",
    "SetTarget": "setting the target",
    "CloseWind": "closing the wind",
    "ClearTrip": "clearing the trip",
    "Start": "the start",
    "ArmPedal": "winding by foot pedal",
    "Pace": "the pace",
    "TraverseMark": "marking the guide's place",
    "TraverseStep": "moving the guide",
    "TraverseHome": "finding the guide's home",
    "TraverseMove": "moving the guide",
    "Move": "turning back",
    "PlanBegin": "loading the plan",
    "PlanLeg": "loading a leg of the plan",
    "PlanCommit": "confirming the plan",
}

NOT_NOW: dict[Phase, str] = {
    Phase.CONNECTING: "the board has not answered yet",
    Phase.SETTING_UP: "the set-up is not done",
    Phase.PREPARING: "the plan is still being loaded",
    Phase.READY: "winding has not begun; start it first",
    Phase.STARTING: "the spindle is starting",
    Phase.PEDAL: "the foot pedal is on; stop first",
    Phase.WINDING: "the spindle is turning; pause first",
    Phase.SLOWING: "the spindle is still coming to rest; wait for it",
    Phase.PAUSED: "the wind is paused; continue it, or end it here",
    Phase.TAKING_OFF: "the wind has reached its end; take turns off, or end here",
    Phase.COMPLETE: "the wind is complete",
    Phase.TRIPPED: "the board has tripped; clear the trip first",
    Phase.ALARM: "acknowledge the alarm first, with the spindle at rest",
    Phase.UNHEARD: "there is no signal from the board; wait for it, or leave",
    Phase.LOST: "this wind is over; continue the coil in a new wind",
    Phase.ENDED: "this wind has ended",
}

# Where the wire runs through the guide to the coil.
WIRE_ON_GUIDE = (Phase.READY, Phase.PAUSED, Phase.TAKING_OFF, Phase.TRIPPED)
PULLED_ASIDE = (
    "home is not possible now, it would pull the wire aside; step the guide to the wire and say so"
)


def trip_words(trip: int) -> tuple[str, str]:
    """What happened and what to do. A newer board may know more trips."""
    unknown = (f"a protective stop of kind {trip}", "find the cause at the machine, then clear it")
    return TRIPS.get(trip, unknown)


def alarm_advice(alarm: str) -> str:
    """What to do about a board that does not do what it is told."""
    if not alarm:
        return "look at the machine, then acknowledge"
    return "switch the motor's power off, keep hands clear, then look for the cause"


def reason_words(reason: int) -> str:
    return REASONS.get(reason, f"reason {reason}")


def verdict_words(command: object, verdict: int) -> str:
    """Why the board said no, with the remedy."""
    name = type(command).__name__
    why = VERDICTS.get(verdict, f"the board refused it for an unknown reason ({verdict})")
    return f"{COMMANDS.get(name, name)} was refused: {why}"


def not_now(phase: Phase, intent: Intent) -> str:
    """One sentence for an intent that the table does not have."""
    if intent is Intent.HOME_GUIDE and phase in WIRE_ON_GUIDE:
        return PULLED_ASIDE
    return f"{intent.value} is not possible now: {NOT_NOW[phase]}"
