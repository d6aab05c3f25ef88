"""What goes wrong in one rehearsed wind, drawn by seed: the machine, the person's pause, and where it strikes.

A scene is plain numbers; kind and seed alone give it, so one command replays it. Winds are short, machines fast:
what is looked for is wrong bookkeeping, not long motion. ``KINDS`` says every fault by name in one sentence.
"""

from __future__ import annotations

import random

from firmware_protocol.records import dataclass

from .wrong_board import Wrong, WrongBoard
from .wrong_counts import COUNT_KINDS
from .wrong_motion import MOTION_KINDS

WRONG_BOARDS: dict[str, type[WrongBoard]] = {
    board.name: board for board in (*COUNT_KINDS, *MOTION_KINDS)
}
# What befalls an honest board, its link, its host, the person and the disk.
WORLD = {
    "host killed in motion": "The program dies while the spindle turns, and the coil is continued.",
    "host killed at rest": "The program dies at a pause, and the coil is continued.",
    "host killed twice": "It dies in motion, and again soon after the coil was continued.",
    "begun again in motion": "It dies in motion, and the list of the next one is gone through as the spindle slows.",
    "link lost in motion": "The cable is out for some seconds while the spindle turns.",
    "link lost at rest": "The cable is out for some seconds at a pause.",
    "link held up in motion": "The bytes wait somewhere for some seconds, and then come in one go.",
    "link held up at rest": "The same at a pause; what the person asks for meanwhile comes late.",
    "only the board is heard": "For some seconds nothing reaches the board; what it says still comes.",
    "only the host is heard": "For some seconds nothing comes from the board; what is said to it still arrives.",
    "link late": "Every byte comes up to 0.7 s late.",
    "link doubled": "Every message is delivered twice, both ways.",
    "link damaged": "One byte in 125 is lost or bent, both ways.",
    "board reset in motion": "The board is reset while the spindle turns.",
    "board reset at rest": "The board is reset at a pause.",
    "board reset while the link is held up": "The bytes wait for some seconds, and the board is reset meanwhile.",
    "board swapped in motion": "The cable is put to another board with the same settings while the spindle turns.",
    "board swapped at rest": "The cable is put to another board with the same settings, at a pause.",
    "edges lost": "The sensor of a driven spindle sees nothing for some seconds.",
    "false edges in motion": "A burst of edges that no spindle made, while it turns.",
    "false edges at rest": "Edges that no spindle made, at a pause.",
    "wire breaks": "The wire parts; the person joins it and settles what is in doubt.",
    "guard opened": "The guard is opened while the spindle turns.",
    "spindle held": "Something holds the spindle fast for a while.",
    "hand at rest": "A hand turns the spindle at a pause, one way or the other.",
    "hand while the program is dead": "A hand turns the spindle between a death and the next wind.",
    "disk fails": "Nothing can be written any more from some moment on.",
    "disk slow": "Each writing takes up to a second and a half.",
    "disk hangs": "The disk takes some seconds for one writing; the program goes on meanwhile.",
    "host killed while the disk hangs": "What was not written yet is lost with the program, and the coil is continued.",
    "host killed while the link is held up": "What had not come yet is lost with the program, and the coil is continued.",
    "pedal stuck": "The foot pedal's contact sticks as the foot comes off; the person stops by a key.",
    "pedal held at arming": "A foot is on the pedal as it is turned on, and stays there for some seconds.",
    "pedal let go in a silence": "The foot comes off the pedal while the cable is out.",
    "limit switch never met": "The guide goes home before the wind, and its limit switch never closes.",
    "limit switch loose": "It closes, and opens again as the guide stands on it.",
    "limit switch stuck": "It is closed wherever the guide is.",
    "stopped while homing": "The person stops the guide by a key on its way home.",
    "board reset while homing": "The board is reset as the guide is on its way home.",
    "link lost while homing": "The cable is out for some seconds meanwhile.",
    "host killed while homing": "The program dies meanwhile, and the coil is continued.",
    "stopped while turning back": "The person stops by a key as the motor turns some turns back at a pause.",
    "board reset while turning back": "The board is reset meanwhile.",
    "link lost while turning back": "The cable is out for some seconds meanwhile.",
    "link held up while turning back": "The bytes wait somewhere meanwhile, and then come in one go.",
    "host killed while turning back": "The program dies meanwhile, and the coil is continued.",
    "stop switch pressed": "The stop switch at the machine is pressed while the spindle turns.",
}
SWAPPED = frozenset(("board swapped in motion", "board swapped at rest"))
BY_FOOT = frozenset(
    ("pedal stuck", "pedal held at arming", "pedal let go in a silence", "stop switch pressed")
)
HOMING = frozenset(
    (
        "limit switch never met", "limit switch loose", "limit switch stuck", "stopped while homing",
        "board reset while homing", "link lost while homing", "host killed while homing", "home found",
    )
)  # fmt: skip
TURNING_BACK = frozenset(
    (
        "turns taken back", "stopped while turning back", "board reset while turning back", "link lost while turning back",
        "link held up while turning back", "host killed while turning back",
    )
)  # fmt: skip
# Nothing is wrong: no alarm, no needless doubt, every untouched count exact.
CLEAN = {
    "untouched": "Nothing happens at all.",
    "bytes lost": "One byte in twenty is lost, both ways, a message at a time as full buffers lose them.",
    "slow computer": "The program comes to its work only four times a second.",
    "program stopped": "The program is stopped for some seconds and goes on (SIGSTOP, SIGCONT).",
    "computer suspended": "The computer sleeps; its clock jumps, and the board came to rest meanwhile.",
    "pause": "The person pauses, waits, and continues.",
    "spindle touched": "A hand turns the spindle at a pause and back, under a sensor that knows the way.",
    "turns taken back": "The motor turns some turns back at a pause, and winds them again.",
    "set-up moves": "The guide is moved to and fro before the wind.",
    "home found": "The guide finds its home before the wind.",
    "drill past the target": "Whoever drills stops turns past the target, and turns back.",
}
# What no host can see, however it watches: named when it is drawn, and never set upon one.
UNSEEABLE = {
    "counts evenly wrong": "Every thousandth edge is counted twice, and all it tells agrees with that.",
    "overrun and called complete": "The board tells the end's count and rest, and the spindle turns on.",
    "one turn, few counts": "One turn too many or too few, where a turn is three counts or fewer.",
    "a hand turns back a plain counter": "Without a motor or a sense of direction every edge is a count more.",
    "false record of an unseen rest": "A reset after a rest that no host saw, and a false kept count of it.",
}
KINDS = {**WORLD, **{name: board.sentence for name, board in WRONG_BOARDS.items()}, **UNSEEABLE}
TURN_SHOWS_FROM = 4  # counts a turn: with fewer, a turn is within a status' own grain

DISOBEYS_TURNS = 3
COUNTS_LEAST = 6  # of what is more than one turn: fewer are within a status' own grain

NEEDS_MOTOR = frozenset(
    (
        "guard opened", "spindle held", "set-up moves", "link late", "edges lost",
        "one turn back at rest", "one turn forward at rest", *BY_FOOT, *HOMING, *TURNING_BACK, "begun again in motion",
    )
)  # fmt: skip
NEEDS_PAUSE = frozenset(
    (
        "host killed at rest", "link lost at rest", "link held up at rest", "board reset at rest", "board swapped at rest", "false edges at rest", "hand at rest",
        "pause", "spindle touched", "deaf to stop", "slows in words only",
        "rests in words only", "executes twice", *TURNING_BACK,
    )
)  # fmt: skip
KNOWS_DIRECTION = frozenset(("spindle touched", "count back at rest", "count forward at rest",
                             "one turn back at rest", "one turn forward at rest"))  # fmt: skip


@dataclass(frozen=True, slots=True)
class Scene:
    """One wind. ``at_turn`` is where it strikes, by the true spindle; a ``pause_turn`` of 0 is no pause."""

    kind: str
    seed: int
    motor: bool
    sense: bool  # the sensor knows the direction
    says_sense: bool  # the machine file and the board say that it does
    counts_per_turn: int
    brake: bool
    guide: bool
    turns: int
    rpm: int
    resets: bool  # opening the port resets the board
    at_turn: float
    pause_turn: float
    pause_s: float
    amount_turns: float
    seconds: float  # of whatever lasts
    settles: bool  # the person counts and says so when the count is in doubt
    coin: bool  # which of two ways, where a kind has two
    unseeable: bool

    @property
    def wrong(self) -> Wrong:
        at, amount = self.at_turn * self.counts_per_turn, self.amount_turns * self.counts_per_turn
        return Wrong(round(at), max(1, round(amount)))

    @property
    def by_foot(self) -> bool:
        """The person winds by the foot pedal."""
        return self.kind in BY_FOOT

    @property
    def homes(self) -> bool:
        """The guide is led home before the wind."""
        return self.kind in HOMING

    @property
    def turns_back(self) -> bool:
        """The motor is asked to turn some turns back at the pause."""
        return self.kind in TURNING_BACK

    @property
    def by_list(self) -> bool:
        """The person goes through the list before the wind."""
        return self.homes or self.kind in ("set-up moves", "begun again in motion")

    @property
    def trusting(self) -> bool:
        """The person does not see that it is another board, and says that nothing moved."""
        return self.kind in SWAPPED and not self.settles

    @property
    def untouched(self) -> bool:
        """Nothing was done that could cast a doubt on the count."""
        return self.kind in CLEAN and self.kind not in ("drill past the target", "spindle touched")


def draw_kind(names: tuple[str, ...], seed: int) -> str:
    return random.Random(f"kind {seed}").choice(names)


def draw_scene(kind: str, seed: int) -> Scene:
    """The scene of this kind and seed, always the same."""
    chance = random.Random(f"{kind} {seed}")
    board = WRONG_BOARDS.get(kind)
    motor = chance.random() < 0.7 or kind in NEEDS_MOTOR or bool(board and board.needs_motor)
    motor = motor and kind != "drill past the target"
    sense = chance.random() < 0.7 or kind in KNOWS_DIRECTION
    boasts = kind == "boasts of a sense of direction"
    counts = chance.choice((1, 2, 3, 4, 8, 12, 20, 20, 48, 100))
    turns = chance.randint(24, 45) if motor else chance.randint(12, 22)
    pauses = kind in NEEDS_PAUSE or bool(board and board.rests)
    long = kind in ("slows for ever", "host killed while the disk hangs")
    if (board is not None and board.drives_on and pauses) or long:
        turns *= DISOBEYS_TURNS  # room to be seen before the end of the plan
    pause = chance.uniform(0.35, 0.6) * turns if pauses else 0.0
    at = chance.uniform(0.1, 0.7) * turns
    if pauses:
        at = min(at, pause - 1)
    if kind == "executes twice":
        at = 0.0
    one = kind.startswith("one turn")
    unseeable = kind in UNSEEABLE
    if one and counts < TURN_SHOWS_FROM:
        counts = chance.choice((4, 8, 12, 20, 48, 100))
    return Scene(
        kind=kind,
        seed=seed,
        motor=motor,
        sense=sense and not boasts,
        says_sense=sense or boasts,
        counts_per_turn=counts,
        brake=chance.random() < 0.6,
        guide=motor and (chance.random() < 0.3 or kind == "set-up moves" or kind in HOMING),
        turns=turns,
        rpm=chance.choice((450, 700, 1000)),
        resets=chance.random() < 0.4,
        at_turn=at,
        pause_turn=pause,
        pause_s=chance.uniform(1.0, 2.5),
        amount_turns=1.0 if one else max(chance.uniform(2.0, 0.2 * turns), COUNTS_LEAST / counts),
        seconds=chance.uniform(0.6, 4.0),
        settles=chance.random() < 0.6,
        coin=chance.random() < 0.5,
        unseeable=unseeable,
    )
