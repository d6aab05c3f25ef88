"""The lesson: one thing after the other, each told with what was found, and taken or measured again."""

from __future__ import annotations

from dataclasses import replace

from firmware_protocol.messages import Has, Move, Start, State, TraverseStep
from firmware_protocol.wire import Group
from winder.errors import WinderError

from .asking import Ended, ask, number, number_or_none, yes
from .bench import Person, TaughtBoard
from .runs import RISES_S, find, leg_of
from .turns import TURNS_FIRST, Stretch, judge_turns
from .wiring import wire_up, write
from .written import SAFE_SHARE, Learned

SLOW_SHARE = 0.1  # of the fastest that the board drives
PROOF_TURNS = 25
GUIDE_MM = 20
COASTS_SHARE = 0.1  # of what the brake does: friction alone is seldom less
SPREAD = 0.1  # by which two runs may differ


def teach(board: TaughtBoard, person: Person, *, wiring: bool = False) -> Learned:
    """Everything that this machine's file must say. Raises ``WinderError``; then nothing was learned.

    What is wired to the board is asked where it does not know, or with ``wiring``.
    """
    learned = Learned(_name(person))
    wire_up(board, person, anew=wiring)
    learned.motor = board.has(Group.MOTOR)
    learned.senses_direction = bool(board.welcome.has & Has.DIRECTION_SENSE)
    learned.pedal = bool(board.welcome.has & Has.PEDAL)
    learned.counts_per_turn = _counts(board, person)
    if not learned.motor:
        learned.plus_clockwise = yes(person, "Seen from the free end, did you turn it clockwise?")
        return learned
    _learn_motor(board, person, learned)
    if board.has(Group.TRAVERSE):
        _learn_guide(board, person, learned)
    _prove(board, person, learned)
    return learned


def _name(person: Person) -> str:
    return ask(person, "What do you call this machine?") or "my machine"


# --- counts of a turn -------------------------------------------------------------------------------


def _counts(board: TaughtBoard, person: Person) -> int:
    told = number_or_none(
        person,
        "Counts a turn, if they are printed on the sensor or in its data sheet (else just Enter):",
    )
    if told is not None and (told != int(told) or not 1 <= told <= 10_000):
        raise WinderError(
            f"a turn cannot give {told:g} counts",
            where="counts a turn",
            remedy="it is a whole number from 1 to 10000; the sensor belongs on the bobbin's spindle",
        )
    printed = None if told is None else int(told)
    stretches: list[Stretch] = []
    turns = TURNS_FIRST
    while True:
        stretches.append(_turned(board, person, turns))
        verdict = judge_turns(stretches, printed)
        person.tell(f"{stretches[-1].counts} counts in {turns} turns.")
        if verdict.counts is not None:
            person.tell(
                f"So a turn gives {verdict.counts} count{'s' if verdict.counts > 1 else ''}."
            )
            return verdict.counts
        if verdict.refused:
            raise WinderError(
                verdict.refused,
                where="counts a turn",
                remedy="no machine file was written; then teach it again",
            )
        turns = verdict.more
        person.tell(
            "More turns are needed to be sure." if len(stretches) > 1 else "Now to check it:"
        )


def _turned(board: TaughtBoard, person: Person, turns: int) -> Stretch:
    board.fresh_wind()
    ask(
        person,
        f"Put a mark on the spindle. Turn it by hand, slowly, {turns} whole turns the way it winds, "
        "from the mark to the mark; then press Enter:",
    )
    board.hear(1.5)
    status = board.newest
    if status.state is State.TRIPPED:
        raise board.trouble("the board tripped: it was turned too fast, or the sensor misread")
    if status.count < 0:
        raise WinderError(
            "the sensor counts backward as it winds",
            where=board.port,
            remedy="exchange its channels A and B (with the power off), and teach it again",
        )
    if status.implausible:
        person.tell(
            f"{status.implausible} pulses came too close together and were left out: contacts bounce, or the cable needs a screen."
        )
    return Stretch(turns, status.count + status.unattributed)


# --- the motor --------------------------------------------------------------------------------------


def _learn_motor(board: TaughtBoard, person: Person, learned: Learned) -> None:
    most = board.welcome.rate_max_mcps
    per_rpm = learned.counts_per_turn / 60
    _agree(
        person,
        "Take bobbin and wire off. Next the motor turns the spindle slowly, about two turns.",
    )
    slow = max(round(most * SLOW_SHARE), 4000 if most >= 4000 else most)
    board.fresh_wind()
    counts = max(2 * learned.counts_per_turn, 2)
    board.move(lambda: board.make(Move, counts=counts, rate_mcps=slow, accel_mcps2=slow), 60.0)
    learned.plus_clockwise = yes(person, "Seen from the free end, did it turn clockwise?")
    rpm = most / 1000 / per_rpm
    _agree(
        person,
        f"Next it runs up to {rpm:.0f} rpm, the fastest that the board drives, up to {len(RISES_S)} times, each time "
        "harder.",
    )

    def clears(what: str) -> bool:
        return yes(
            person,
            f"It cannot go harder: {what}. Look at the machine. Clear the trip and go on with what was found so far?",
        )

    seen = find(board, most, clears)
    learned.speed_rpm_max = _down(min(seen.top_cps, most / 1000) / per_rpm)
    learned.acceleration_rpm_s = _down(SAFE_SHARE * seen.rise_cps2 / per_rpm)
    if seen.tripped:
        person.tell(f"Harder than that {seen.tripped}; what it did before is taken.")
    if seen.apart > SPREAD:
        person.tell(
            f"The runs slowed down differently, by {seen.apart:.0%}; the middle one is taken."
        )
    slows = _down(seen.fall_cps2 / per_rpm)
    person.tell(
        f"At most {learned.speed_rpm_max:.0f} rpm; it speeds up by {seen.rise_cps2 / per_rpm:.0f} rpm/s, "
        f"of which {learned.acceleration_rpm_s:.0f} are relied on; it slows down by {slows:.0f} rpm/s."
    )
    if board.welcome.has & Has.BRAKE:
        learned.braking_rpm_s = slows
        learned.coasting_rpm_s = _down(slows * COASTS_SHARE)
        person.tell(
            f"That was the brake. How it coasts without it cannot be seen: {learned.coasting_rpm_s:.0f} rpm/s is "
            "written, on the cautious side."
        )
    else:
        learned.coasting_rpm_s = slows


def _down(value: float) -> float:
    """To three figures, downward: on the cautious side."""
    step = 10 ** max(len(str(int(value))) - 3, 0)
    return float(int(value / step) * step)


def _agree(person: Person, what: str) -> None:
    if not yes(person, f"{what} Keep hands, hair and sleeves clear. Go ahead?"):
        raise Ended(
            "you did not agree to it",
            remedy="no machine file was written; teach again when you like",
        )


# --- guide, and the proof ---------------------------------------------------------------------------


def _learn_guide(board: TaughtBoard, person: Person, learned: Learned) -> None:
    _agree(person, f"Put the guide near its left end. Next it moves {GUIDE_MM} mm to the right.")
    board.move(lambda: board.make(TraverseStep, distance_um=GUIDE_MM * 1000), 60.0)
    moved = number(person, "How far did it move, in mm, by your caliper?")
    learned.travel_mm = number(person, "How far can it travel from end to end, in mm?")
    if abs(moved - GUIDE_MM) > 0.01 * GUIDE_MM:
        _mend_guide(board, person, moved, learned.travel_mm)


def _mend_guide(board: TaughtBoard, person: Person, moved_mm: float, travel_mm: float) -> None:
    if not board.has(Group.SETTINGS) or not moved_mm:
        factor = GUIDE_MM / moved_mm if moved_mm else 0.0
        person.tell(
            f"The board's steps are off: its steps per metre are to be {factor:.4f} times what they are. Mend that "
            "before you wind with the guide."
        )
        return
    content = board.read_settings()
    step_pm = max(round(content.step_pm * moved_mm / GUIDE_MM), 1)
    write(board, replace(content, step_pm=step_pm, travel_steps=round(travel_mm * 1e9 / step_pm)))
    person.tell("The board's steps were off; it now knows how long they are.")


def _prove(board: TaughtBoard, person: Person, learned: Learned) -> None:
    """25 turns without wire, and they must end on the turn."""
    counts = PROOF_TURNS * learned.counts_per_turn
    most = board.welcome.rate_max_mcps
    _agree(
        person, f"Last: set the mark, and it makes {PROOF_TURNS} turns and must stop on the mark."
    )
    assert learned.acceleration_rpm_s is not None and learned.coasting_rpm_s is not None
    safe = min(learned.acceleration_rpm_s, learned.braking_rpm_s or learned.coasting_rpm_s)
    accel = max(round(safe / 2 * learned.counts_per_turn / 60 * 1000), 1)
    rate = max(most // 2, 4000 if most >= 4000 else most)
    board.fresh_wind()
    generation = board.load(leg_of(counts, rate, accel, creep_mcps=min(4000, rate)))
    heard = board.move(lambda: board.make(Start, generation=generation), 180.0)
    over = heard[-1].count - counts
    allowed = max(1, learned.counts_per_turn // 20)
    if not 0 <= over <= allowed:
        raise board.trouble(f"it stopped {over} counts from the {PROOF_TURNS}th turn")
    if not yes(person, f"It counted {heard[-1].count} of {counts}. Is the mark back at its place?"):
        raise WinderError(
            f"{PROOF_TURNS} turns did not end on the turn",
            where="counts a turn",
            remedy="the sensor does not sit on the bobbin's spindle, or misses counts; no machine file was written",
        )
