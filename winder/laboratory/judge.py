"""The judge of a rehearsed wind: knows the true turns, believes nobody, and looks after every step.

What the host claims is compared with the wire that truly lies on the bobbin. While the spindle turns a claim may lag,
for what went wrong takes a moment to show: it must hold at some moment of the last ``SEES_S``. When the spindle has
stood for so long, and in the end on the shelf, it must hold as it is. Motion is judged by the drive and by the words
that went to the board: who was asked, whether a stop was said in time, whether signs of life were withheld from a
board that does not heed it.
"""

from __future__ import annotations

from collections import deque

from firmware_protocol.messages import State
from winder.clock import NS_PER_S
from winder.laboratory.underway import Claim, Underway
from winder.simulator.scene import WORLD, WRONG_BOARDS, Scene

SEES_S = 3.0  # from something wrong to a host that says so
BLIND_S = 12.0  # the same where no edge comes, and as long again where a turn has one: boards call that a stall
STUCK = (
    "frozen count",
    "frozen status",
    "slows for ever",
)  # from their strike on nobody sees what they do
WRITES_S = 3.0  # that a host with a slow disk may be writing, twice, before it looks again
BLIND = ("edges lost", "frozen count", "overrun with a false count", "slows for ever")
UNASKED_S = 1.5  # of motion nobody asked for, until a stop is said
ASKED_STOP_S = 0.5  # from a person's stop to the board's
LETS_GO_S = 0.5  # from a foot that comes off to a board that winds no more
HEEDS_S = 3.0  # from a stop to a drive that is cut (2 s at the most), or to an alarm
ASKED_S = 3.0  # from an intent to the motion that follows
PLACE_UM = 100.0  # that a guide may be beside its place, led there by board or hand
LIFE_S = 1.2  # without a sign of life: they are withheld; an alarm has so long to do it

IN_MOTION = (State.WINDING, State.SLOWING, State.SETTING_UP)

MISCOUNT, BOUNDS, UNASKED, NOT_STOPPED = (
    "silent_miscounts",
    "bounds_missed",
    "unasked_motion",
    "not_stopped",
)
MISPLACED = "guide_misplaced"
RECORDS, UNENDED, FALSE_ALARM, NEEDLESS = (
    "lost_records",
    "unended",
    "false_alarms",
    "needless_doubts",
)
WRONGS = (
    MISCOUNT,
    BOUNDS,
    MISPLACED,
    UNASKED,
    NOT_STOPPED,
    RECORDS,
    UNENDED,
    FALSE_ALARM,
    NEEDLESS,
)
# Where an alarm may well be right: the board, its sensor or the disk is not what it should be.
MAY_ALARM = frozenset(
    (*WRONG_BOARDS, "edges lost", "false edges in motion", "spindle held", "disk fails")
)


def sees_s(scene: Scene) -> float:
    """How long what goes wrong in this scene may take to show."""
    if scene.kind == "disk slow":
        return SEES_S + WRITES_S
    return SEES_S + (BLIND_S * (1 + 1 / scene.counts_per_turn) if scene.kind in BLIND else 0.0)


class Judge:
    """``found`` holds the first finding of each sort, in words."""

    def __init__(self, scene: Scene, underway: Underway) -> None:
        self.found: dict[str, str] = {}
        self.width_turns: float | None = None  # of the newest bounds told at rest
        self._scene, self._underway, self._bench = scene, underway, underway.bench
        self._body = underway.bench.machine.body
        self._sees_s = sees_s(scene)
        self._sees_ns = round(self._sees_s * NS_PER_S)
        self._seen: deque[tuple[int, int, int]] = deque()  # when, least and most that is true
        self._asked_ns: int | None = None  # motion that was asked for goes on since
        self._unasked_ns: int | None = None
        self._stop_due_ns: int | None = None
        self._stop_within_s = 0.0
        self._foot_off_ns: int | None = None  # since then nothing is asked for by foot
        self._alarmed_ns: int | None = None
        self._moved = False  # at the look before; the last edges came since
        self._committed = 0
        self._away: int | None = (
            None  # counts of the coil that a host believes to be at this port, and is not
        )

    # --- what the person did -----------------------------------------------------------------

    def motion_asked(self) -> None:
        self._asked_ns, self._unasked_ns, self._stop_due_ns = self._bench.now_ns, None, None
        self._foot_off_ns = None

    def stop_asked(self) -> None:
        if self._moves:
            self._stop_is_due(ASKED_STOP_S)

    def foot_off(self) -> None:
        """The pedal was let go, or a stop was said to it: it is the board that must come to rest."""
        self._foot_off_ns = self._bench.now_ns

    def coil_away(self) -> None:
        """Another board, and so another coil, is at the port: what a host claims is of the coil that it counted."""
        self._away = self._body.wire_counts

    def coil_here(self) -> None:
        """A new host takes up what lies at this board."""
        self._away = None
        self._seen.clear()

    def host_gone(self) -> None:
        """Nobody can say stop now: the lease must."""
        self._asked_ns = self._unasked_ns = self._stop_due_ns = None
        lines = self._underway.lines()
        if lines < self._committed:
            self._find(RECORDS, f"{self._committed} lines were committed, {lines} are left")

    # --- after every step --------------------------------------------------------------------

    def look(self) -> None:
        now_ns = self._bench.now_ns
        self._seen.append((now_ns, *self._true_now()))
        self._moved = self._moves
        while len(self._seen) > 1 and self._seen[1][0] < now_ns - self._sees_ns:
            self._seen.popleft()  # the last look before counts too: a program that was stopped saw that
        claim = self._underway.claim()
        if claim is not None:
            self._judge_claim("shown", claim)
        alarm = self._underway.alarm
        self._alarmed_ns = (self._alarmed_ns or now_ns) if alarm else None
        if alarm and self._scene.kind not in MAY_ALARM:
            self._find(FALSE_ALARM, alarm)
        if self._scene.motor:
            self._look_at_motion(now_ns)
        if self._scene.homes and self._driven:
            self._look_at_place()

    def _look_at_place(self) -> None:
        """Who winds believes that zero is at the left flange."""
        off_um = self._body.carriage.offset_um
        if abs(off_um) > PLACE_UM:
            self._find(MISPLACED, f"the wire is laid {off_um / 1000:+.2f} mm beside its place")

    def _true_now(self) -> tuple[int, int]:
        """Counts of wire on the coil. A wire that parts by hand is seen by the person only: until the
        spindle rests, what turned without it counts too."""
        if self._away is not None:
            return self._away, self._away
        wire = self._body.wire_counts
        if self._body.wire_present or not (self._moves or self._moved):
            return wire, wire
        return wire, max(wire, self._body.turned_counts)

    def _judge_claim(self, where: str, claim: Claim) -> None:
        _, least, most = self._seen[-1]
        if not claim.holds(least, most):  # now; else perhaps at some moment since
            least = min(low for _, low, _ in self._seen)
            most = max(high for _, _, high in self._seen)
        if not claim.sure and not self._moves:
            self.width_turns = (claim.high - claim.low) / self._scene.counts_per_turn
        if not claim.holds(least, most):
            true = f"{least} to {most}" if least != most else least
            words = f"{where} at {self._bench.now_ns / NS_PER_S:.2f} s: {_words(claim)}, true {true} counts"
            self._find(MISCOUNT if claim.sure else BOUNDS, words)

    # --- motion ------------------------------------------------------------------------------

    @property
    def _moves(self) -> bool:
        return self._body.spindle.speed != 0.0

    @property
    def _driven(self) -> bool:
        return self._moves and self._body.control.duty > 0.0

    def _look_at_motion(self, now_ns: int) -> None:
        status = self._bench.status
        if not self._moves and (status is None or status.state not in IN_MOTION):
            asked = self._asked_ns
            by_foot = self._foot_off_ns is not None
            if asked is not None and (by_foot or now_ns - asked > ASKED_S * NS_PER_S):
                self._asked_ns = None
            self._unasked_ns = self._stop_due_ns = None
            return
        off_ns = self._foot_off_ns
        winds = status is not None and status.state == State.WINDING and self._driven
        late_s = LETS_GO_S if winds else HEEDS_S
        if off_ns is not None and self._driven and now_ns - off_ns > late_s * NS_PER_S:
            self._find(
                NOT_STOPPED, f"driven {(now_ns - off_ns) / NS_PER_S:.1f} s after the foot came off"
            )
        if not self._underway.there:
            return
        if self._driven and self._asked_ns is None:
            self._unasked_ns = self._unasked_ns or now_ns
            unstopped = (self._bench.stop_ns or 0) < self._unasked_ns
            if unstopped and now_ns - self._unasked_ns > UNASKED_S * NS_PER_S:
                self._find(UNASKED, f"driven unasked, no stop said, at {now_ns / NS_PER_S:.2f} s")
        if self._must_stop():
            self._stop_is_due(self._sees_s)
        if self._stop_due_ns is not None:
            self._judge_stop(now_ns, self._stop_due_ns)

    def _must_stop(self) -> bool:
        """The drive is on where no host may leave it so: past the end, or on a board that is wrong so."""
        scene, board = self._scene, WRONG_BOARDS.get(self._scene.kind)
        past = self._counted() - scene.turns * scene.counts_per_turn
        told = board is None or board.drives_on  # a board that counts wrong ends by its own count
        winds = self._body.spindle.speed > 0.0  # turning back past the end is as asked
        past_end = told and winds and past > 2 * scene.counts_per_turn
        stuck = scene.kind in STUCK and self._bench.struck
        return self._driven and (past_end or stuck)

    def _counted(self) -> int:
        """By what a host winds: a count in doubt is wound on by its best guess, for nobody knows better."""
        claim = self._underway.claim()
        return self._body.wire_counts if claim is None or claim.sure else claim.best

    def _stop_is_due(self, within_s: float) -> None:
        if self._stop_due_ns is None:
            self._stop_due_ns, self._stop_within_s = self._bench.now_ns, within_s

    def _judge_stop(self, now_ns: int, due_ns: int) -> None:
        late_s = (now_ns - due_ns) / NS_PER_S
        if late_s > self._stop_within_s and (self._bench.stop_ns or 0) < due_ns:
            self._find(NOT_STOPPED, f"no stop said {late_s:.1f} s after one was due")
        if late_s > self._stop_within_s + HEEDS_S and self._driven:
            alive_s = (now_ns - (self._bench.alive_ns or 0)) / NS_PER_S
            if self._alarmed_ns is None:
                self._find(NOT_STOPPED, f"driven {late_s:.1f} s after a stop was due, and no alarm")
            elif alive_s < LIFE_S < (now_ns - self._alarmed_ns) / NS_PER_S:
                self._find(NOT_STOPPED, "driven against a stop, and signs of life go on")

    # --- the end -----------------------------------------------------------------------------

    def committed(self) -> None:
        """Remember how much can be read back now."""
        self._committed = max(self._committed, self._underway.lines())

    def judge_shelf(self, *, finally_so: bool, given_up: bool = False) -> None:
        """What lies on the shelf, the spindle at rest. ``finally_so``: nothing more is done with this coil, because it
        is finished, or because an alarm or a limit of the machine forbids it (``given_up``)."""
        true = self._body.wire_counts if self._away is None else self._away
        self._seen.clear()
        self._seen.append((self._bench.now_ns, true, true))
        state, claim = self._underway.shelf()
        scene = self._scene
        if claim is None:
            if true > 0 and self._underway.begun:
                self._find(RECORDS, f"the shelf says nothing of {true} counts")
            return
        self._judge_claim("on the shelf", claim)
        if not finally_so:
            return
        target = scene.turns * scene.counts_per_turn
        on_the_turn = target <= true < target + scene.counts_per_turn
        if state == "complete" and not (claim.sure and on_the_turn):
            self._find(
                MISCOUNT, f"called complete: {_words(claim)}, true {true} of {target} counts"
            )
        if scene.untouched or scene.unseeable or scene.kind in ("link doubled", "link damaged"):
            if not claim.sure:
                self._find(NEEDLESS, f"{_words(claim)}; true {true}")
            if not (state == "complete" and on_the_turn):
                self._find(UNENDED, f"left '{state}' with {true} of {target} counts")
        elif scene.kind in WORLD and not given_up and state not in ("complete", "ended short"):
            self._find(UNENDED, f"left '{state}' with {true} of {target} counts, {_words(claim)}")

    def crashed(self, words: str) -> None:
        self._find(UNENDED, words)

    def _find(self, what: str, words: str) -> None:
        self.found.setdefault(what, words)


def _words(claim: Claim) -> str:
    if claim.sure:
        return f"sure {claim.low}"
    return f"between {claim.low} and {claim.high} ({claim.why})"
