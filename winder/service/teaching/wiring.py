"""What hangs on the board, asked of a person and written into the board: its settings.

A board that was never taught drives nothing, so this comes first. What could hurt is confirmed by the person at the
machine: with the motor's supply disconnected before it is written, and again at the pins behind it. If they say no
there, the board is made to drive nothing again.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass, replace

from firmware_protocol.settings import UNTAUGHT, Settings
from firmware_protocol.vocabulary import Driver, Low, Sensor, Wired
from winder.errors import WinderError

from .asking import Ended, ask, number, yes
from .bench import TaughtBoard
from .dialogue import Person
from .foot import foot_anew, foot_asked
from .writing import write

SENSORS = {"1": Sensor.ONE_PULSE, "2": Sensor.TWO_EDGES, "4": Sensor.FOUR_EDGES}
EDGES_OF = {Sensor.ONE_PULSE: "one pulse", Sensor.TWO_EDGES: "two", Sensor.FOUR_EDGES: "four"}
FILTER_US = 4  # of one pulse a count; two channels mend a disturbance by themselves
BOUNCE_SHARE, LEAST_SHARE = (
    0.16,
    0.48,
)  # of the period at the highest speed: marks are uneven, speeds a fifth too high
FREE_SHARE = (
    1.5  # the motor without load, over the highest speed that is driven; our judgement, no source
)
RISE_S = 0.5
FRICTION_PERMILLE = 150
DEAD_MS = 5  # a relay or a bridge of transistors has let go by then (common practice, no source)
CUT_MS, REST_MORE_MS = 2000, 3000
STEP_PM_A_MM = 1_000_000_000
OUTPUTS = ("enable", "duty", "brake", "backward", "contactor")
LEVELS = {True: "low", False: "high"}
LIMIT_SWITCH = "Is there a limit switch at the guide's left end?"
TIMES_MOST_US = 0xFFFF


@dataclass(frozen=True, slots=True)
class Speeds:
    """Highest speed and counts of a turn, as told; good enough for settings."""

    rpm: float
    counts: float

    @property
    def mcps(self) -> int:
        return max(round(self.rpm / 60 * self.counts * 1000), 1000)


def wire_up(board: TaughtBoard, person: Person, *, anew: bool = False) -> Speeds | None:
    """The settings asked for and written; the speeds as told, where they were asked. Those of a board that was taught
    before stay, but ``anew``. Raises ``WinderError``."""
    before = board.read_settings()
    if before.number and not anew:
        person.tell(f"This board knows what is wired to it, {_told(before)}. --wiring asks again.")
        after = foot_anew(person, before, board.input_pins) if before.driver else before
        if after != before:
            write(board, after)
        return None
    if before.number == 0 and before != UNTAUGHT:  # a counter's own sensor: nothing to ask
        write(board, replace(before, number=_drawn()))
        return None
    asked, speeds = _asked(person, board.input_pins())
    content = replace(asked, number=before.number or _drawn())
    if content.driver:
        _confirm_disconnected(person, content)
    write(board, content)
    if content.driver:
        _confirm_levels(board, person, content)
    return speeds


def _drawn() -> int:
    return secrets.randbelow(0xFFFF_FFFF) + 1


def _told(content: Settings) -> str:
    sensor = EDGES_OF.get(content.sensor, "unknown edges")
    drives = f"a motor up to {content.rate_max_mcps / 1000:.0f} counts a second"
    guide = " and a guide" if content.step_pm else ""
    return f"number {content.number:08x}: {sensor} a count, {drives + guide if content.driver else 'no motor'}"


# --- the questions ----------------------------------------------------------------------------------


def _asked(person: Person, pins: Wired) -> tuple[Settings, Speeds]:
    person.tell("First what is wired to the board.")
    sensor = _sensor(person)
    speeds = Speeds(
        number(person, "Top speed for the spindle, in turns a minute:"),
        number(person, "About how many counts does a turn give? It is measured later:"),
    )
    content = Settings(sensor=sensor, filter_us=FILTER_US if sensor is Sensor.ONE_PULSE else 0)
    if yes(person, "Is there a motor that the board drives?"):
        content = foot_asked(person, _guide(person, _motor(person, content)), pins)
        content = _limit_switch(person, content, pins)
    return timed(content, speeds), speeds


def timed(content: Settings, speeds: Speeds) -> Settings:
    """The same wiring, with the figures in counts and their times for these speeds."""
    if content.sensor == Sensor.ONE_PULSE:
        content = replace(
            content,
            bounce_us=_share_us(speeds, BOUNCE_SHARE),
            least_period_us=_share_us(speeds, LEAST_SHARE),
        )
    if not content.driver:
        return content
    full_mcps = round(FREE_SHARE * speeds.mcps)
    return replace(
        content,
        rate_max_mcps=speeds.mcps,
        full_rate_mcps=full_mcps,
        full_accel_mcps2=round(full_mcps / RISE_S),
    )


def _sensor(person: Person) -> Sensor:
    for _ in range(3):
        told = ask(
            person,
            "The sensor: 1 for one pulse a count (magnet, reed, light barrier), 4 for two channels, every edge, "
            "2 for two channels, A only:",
        )
        if told in SENSORS:
            return SENSORS[told]
        person.tell("Please type 1, 2 or 4, or leave.")
    raise Ended("no sensor was named", remedy="nothing was written; teach it again")


def _share_us(speeds: Speeds, share: float) -> int:
    """Of the period at the highest speed."""
    return min(int(share * 1e9 / speeds.mcps), TIMES_MOST_US)


def _motor(person: Person, content: Settings) -> Settings:
    inputs = Wired(0)
    if yes(person, "Is there a switch at the guard?"):
        inputs |= Wired.GUARD
    if yes(person, "Is there a sensor that sees the wire?"):
        inputs |= Wired.WIRE_SENSOR
    brake = yes(person, "Is there a brake?")
    coasts_s = number(
        person, "For how many seconds does it turn on from that speed, once the motor is off?"
    )
    return replace(
        content,
        driver=Driver.ENABLE_AND_DIRECTION,
        low=int(_low(person)),
        inputs=int(inputs),
        dead_ms=DEAD_MS,
        friction_permille=FRICTION_PERMILLE,
        brake_permille=1000 if brake else 0,
        cut_ms=CUT_MS,
        rest_ms=min(CUT_MS + round(1500 * coasts_s) + REST_MORE_MS, 0xFFFF),
    )


def _limit_switch(person: Person, content: Settings, pins: Wired) -> Settings:
    """What only some boards have a pin for, and only a guide has."""
    if not (pins & Wired.LIMIT_SWITCH and content.step_pm and yes(person, LIMIT_SWITCH)):
        return content
    return replace(content, inputs=content.inputs | Wired.LIMIT_SWITCH)


def _low(person: Person) -> Low:
    for _ in range(3):
        told = ask(
            person,
            f"Which of {', '.join(OUTPUTS)} are on while their pin is LOW? Name them, or press Enter if each is on "
            "while high:",
        )
        words = told.lower().replace(",", " ").split()
        if set(words) <= set(OUTPUTS):
            low = Low(0)
            for word in words:
                low |= Low[word.upper()]
            return low
        person.tell(f"Please name some of {', '.join(OUTPUTS)}, or nothing.")
    raise Ended("no levels were named", remedy="nothing was written; teach it again")


def _guide(person: Person, content: Settings) -> Settings:
    if not yes(person, "Is there a step motor that guides the wire?"):
        return content
    steps = number(person, "Steps that move it by one millimetre, microsteps included:")
    travel = number(person, "Millimetres that it can travel from end to end:")
    fastest = number(person, "Millimetres a second at which it still follows without losing steps:")
    return replace(
        content,
        step_pm=round(STEP_PM_A_MM / steps) if steps else 0,
        travel_steps=round(travel * steps),
        steps_a_ms=max(int(fastest * steps / 1000), 1),
    )


# --- what could hurt --------------------------------------------------------------------------------


def _confirm_disconnected(person: Person, content: Settings) -> None:
    levels = "; ".join(
        f"{name} on while {LEVELS[bool(content.low & Low[name.upper()])]}" for name in OUTPUTS
    )
    person.tell(f"This is what the board is told: {levels}.")
    if not yes(
        person,
        "A wrong level can start the motor. Is that right, and is the motor's supply disconnected?",
    ):
        raise Ended(
            "the levels were not confirmed", remedy="nothing was written; teach it again when it is"
        )


def _confirm_levels(board: TaughtBoard, person: Person, content: Settings) -> None:
    off = {name: LEVELS[not content.low & Low[name.upper()]] for name in ("enable", "contactor")}
    if yes(
        person,
        f"Now measure at the board: enable must be {off['enable']} and contactor {off['contactor']}. Are both so?",
    ):
        person.tell("Connect the motor's supply, hands clear. It must stand still.")
        if yes(person, "Does the motor stand still?"):
            return
    write(board, Settings(number=content.number, sensor=Sensor(content.sensor)))
    raise WinderError(
        "the levels are not right",
        where=board.port,
        remedy="disconnect the supply. The board drives nothing again; fix the wiring or the levels, and teach it again",
    )
