"""The planted mistakes: one small, plausible slip each, with the tests that ought to see it."""

from __future__ import annotations

from dataclasses import dataclass

from mutants_of_bursts import ROWS as BURST_ROWS
from mutants_of_storms import ROWS as STORM_ROWS
from mutants_of_the_board import ROWS
from mutants_of_writing import ROWS as WRITING_ROWS


@dataclass(frozen=True)
class Mutant:
    what: str
    file: str
    before: str
    after: str
    tests: tuple[str, ...]


_ACCOUNT, _DEEDS = "winder/wind/account.py", "winder/wind/deeds.py"
_LAWS = "tests/wind/test_account.py::"
_WATCHED = "tests/wind/test_watch.py::"
_DONE = "tests/wind/test_complete.py::"
_STOPS = "tests/wind/test_session_stops.py::"
_PAGES = "tests/screens/test_wind_pages.py::"
_SETTLED = "tests/wind/test_session_settling.py::"

PROTOCOL = (
    Mutant(
        "a lease that never ends",
        "firmware_protocol/device.py",
        "now_ms - self._alive_ms >= LEASE_MS",
        "now_ms - self._alive_ms >= 1000 * LEASE_MS",
        ("tests/protocol/test_device_end.py", "tests/protocol/test_device_motion.py"),
    ),
    Mutant(
        "stale commands are carried out",
        "firmware_protocol/device.py",
        "if self._is_stale(command):",
        "if False and self._is_stale(command):",
        ("tests/protocol/test_device_end.py",),
    ),
    Mutant(
        "frames whose CRC is wrong are taken",
        "firmware_protocol/framing.py",
        "len(body) < BODY_BYTES_MIN or zlib.crc32(body[:-4]) !=",
        "len(body) < BODY_BYTES_MIN or -1 ==",
        ("tests/protocol/test_golden_vectors.py", "tests/protocol/test_framing.py"),
    ),
)

ACCOUNT = (
    Mutant(
        "a word that was said before replaces a later one",
        _ACCOUNT,
        "entry is None or entry.final or not entry.may_follow(word.uptime_ms)",
        "entry is None or entry.final",
        (_LAWS + "test_a_later_word_replaces_an_earlier_one_and_never_the_other_way_round",),
    ),
    Mutant(
        "something follows a last word",
        _ACCOUNT,
        "entry is None or entry.final or not",
        "entry is None or not",
        (_LAWS + "test_a_later_word_replaces_an_earlier_one_and_never_the_other_way_round",),
    ),
    Mutant(
        "what may have come stays in doubt although the wind is heard",
        _ACCOUNT,
        "if entry.wind != self._live and not entry.final:",
        "if not entry.final:",
        (_LAWS + "test_what_may_have_come_is_gone_when_the_same_wind_is_heard_again",),
    ),
    Mutant(
        "what may have come after a kill is passed over",
        _ACCOUNT,
        "if entry.wind != self._live and not entry.final:",
        "if False:",
        (_LAWS + "test_the_run_on_by_hand",),
    ),
    Mutant(
        "turns before a vouched number are added to it",
        _ACCOUNT,
        "counts = entry.counted() - entry.counted(begin)",
        "counts = entry.counted()",
        (_LAWS + "test_a_vouch_closes_what_lies_before_its_place",),
    ),
    Mutant(
        "a number that waits for a word is placed at the wind's zero",
        _ACCOUNT,
        "replace(said, place=place)",
        "replace(said, place=Place(place.wind, 0))",
        (_LAWS + "test_a_number_said_while_nobody_is_heard_is_placed_at_the_first_word_after_it",),
    ),
    Mutant(
        "a break's doubt reaches behind a vouched count",
        _ACCOUNT,
        "down = min(down, max(0, doubt.end.count - begin.count))",
        "down = doubt.down",
        (_LAWS + "test_a_doubt_does_not_reach_behind_a_number_that_was_vouched_for",),
    ),
    Mutant(
        "a statement does not replace its namesake",
        _ACCOUNT,
        "if said.name != deed.name)",
        "if True)",
        ("tests/wind/test_account_lived.py::test_nothing_is_added_twice",),
    ),
    Mutant(
        "edges that nobody drove leave the count exact",
        _ACCOUNT,
        "self._widen(edges, edges,",
        "self._widen(0, 0,",
        (_LAWS + "test_edges_that_turns_off_explain_are_no_doubt",),
    ),
    Mutant(
        "an older rest that the board kept replaces a later word",
        _ACCOUNT,
        "(beyond < 0 and not word.back and entry.driven)",
        "False",
        (_LAWS + "test_what_the_board_kept_is_evidence_and_not_a_word",),
    ),
    Mutant(
        "a look at the spindle settles what comes after it",
        _ACCOUNT,
        "here = entry.wind == look.place.wind and entry.word.uptime_ms == look.uptime_ms",
        "here = entry.wind == look.place.wind",
        (_LAWS + "test_a_look_settles_what_came_before_it_and_nothing_later",),
    ),
    Mutant(
        "a wire found whole takes back what comes later",
        _ACCOUNT,
        "if isinstance(one, Doubt) and not self._taken_back(one, after[at + 1 :]):",
        "if isinstance(one, Doubt) and not self._taken_back(one, after):",
        (_LAWS + "test_a_wire_found_whole_takes_back_its_own_doubt_and_no_other",),
    ),
    Mutant(
        "turns taken off twice at one place come off once",
        _DEEDS,
        'return "off", self.number',
        'return "off", self.place',
        (_LAWS + "test_turns_that_came_off_twice_at_one_place_came_off_twice",),
    ),
    Mutant(
        "the run-on forgets how long nobody hears a board go on",
        _DEEDS,
        "return speed * (unseen_s + (self.rest_s",
        "return speed * ((self.rest_s",
        (_LAWS + "test_the_run_on_by_hand",),
    ),
    Mutant(
        "a board that has been up for weeks is not heard",
        _DEEDS,
        "return before_ms < 0 or (uptime_ms - before_ms)",
        "return (uptime_ms - max(before_ms, 0))",
        (_LAWS + "test_a_board_that_has_been_up_for_a_month_is_heard_and_its_clock_may_wrap",),
    ),
    Mutant(
        "bounds the wrong way round are a truth",
        "winder/wind/truth.py",
        "low, high = max(0, min(low, high)), max(0, low, high)",
        "low, high = max(0, low), max(0, high)",
        ("tests/wind/test_count_truth.py",),
    ),
)

SESSION = (
    Mutant(
        "the upper bound at the target is called complete",
        "winder/wind/seen.py",
        "if left is None or not truth.is_sharp:\n        return Seen.BEYOND\n    if left <= truth.low <",
        "if left is None:\n        return Seen.BEYOND\n    if left <= truth.high <",
        (_DONE + "test_a_count_between_two_bounds_is_not_complete",),
    ),
    Mutant(
        "turns to take off are told by the lower bound",
        "winder/wind/wire.py",
        "return (course.truth.high - left_counts) / course.per_turn",
        "return (course.truth.low - left_counts) / course.per_turn",
        (_DONE + "test_turns_to_take_off_are_told_by_the_upper_bound",),
    ),
    Mutant(
        "the first adopted target is restored, not the last",
        "winder/service/going_on.py",
        "return said[-1] if said else None",
        "return said[0] if said else None",
        ("tests/service/test_adopted_target.py",),
    ),
    Mutant(
        "no caution before the first start",
        "winder/wind/phases.py",
        "_TURNING = (g.cautions_read, ",
        "_TURNING = (",
        ("tests/wind/test_session_table.py::test_a_start_needs_the_cautions",),
    ),
    Mutant(
        "a broken wire winds on",
        "winder/wind/phases.py",
        "_STARTS = (g.not_turning_back, g.wire_known_whole, ",
        "_STARTS = (g.not_turning_back, ",
        (
            "tests/wind/test_coil_orders.py::test_nothing_winds_on_before_the_wire_is_joined_or_found_whole",
        ),
    ),
    Mutant(
        "the list before a wind is passed over",
        "winder/wind/seen.py",
        "if session.set_up.pending and not course.board.opened:",
        "if False:",
        (
            "tests/wind/test_set_up.py::test_a_board_that_moves_by_itself_during_the_list_is_stopped",
        ),
    ),
    Mutant(
        "motion that nobody asked for is only watched",
        "winder/wind/seen.py",
        "return Seen.SLOWING if known else Seen.DISOBEYED",
        "return Seen.SLOWING",
        (_STOPS + "test_motion_after_a_planned_pause_is_unasked_too",),
    ),
    Mutant(
        "an alarm keeps the motor's lease",
        "winder/wind/session.py",
        "if self.phase is Phase.ALARM:\n            return False",
        "if self.phase is Phase.ALARM:\n            return True",
        (_WATCHED + "test_a_board_that_is_deaf_to_a_stop",),
    ),
    Mutant(
        "a sign of life is sent although nothing is on the disk",
        "winder/wind/session.py",
        "now_ns - self._recorded_ns < COMMIT_GAP_S * NS_PER_S",
        "now_ns - self._told_ns < COMMIT_GAP_S * NS_PER_S",
        (_DONE + "test_a_sign_of_life_is_sent_only_while_the_newest_count_on_record_is_fresh",),
    ),
    Mutant(
        "an alarm that falls silent leaves the count exact",
        "winder/wind/session.py",
        "        self.course.heard = False\n        self.go(Seen.SILENT)",
        "        self.go(Seen.SILENT)",
        (_WATCHED + "test_an_alarm_whose_board_falls_silent_leaves_the_count_in_doubt",),
    ),
    Mutant(
        "a count that jumps is taken as it comes",
        "winder/wind/watch.py",
        "if low <= rise <= high:",
        "if True:",
        (
            _WATCHED
            + "test_a_count_that_jumps_or_falls_at_rest_leaves_its_bounds_and_stops_nothing",
        ),
    ),
    Mutant(
        "a clock that stands is not seen",
        "winder/wind/watch.py",
        "return self._same >= FROZEN_STATUSES and since_s >= FROZEN_S",
        "return False",
        (_WATCHED + "test_a_board_whose_clock_stands_while_bytes_come",),
    ),
    Mutant(
        "an end that pauses is not watched",
        "winder/wind/watch.py",
        "any(begun < end < count for end in ends)",
        "False",
        (_WATCHED + "test_a_board_that_runs_on_past_an_end_that_stops",),
    ),
    Mutant(
        "a stop is sent once",
        "winder/wind/motion.py",
        "if self.stopping and self._course.now_ns",
        "if False and self._course.now_ns",
        (_STOPS + "test_a_pause_is_repeated_until_the_board_rests",),
    ),
    Mutant(
        "a start that was stale is sent again",
        "winder/wind/commands.py",
        "MOVING = (*STARTS, Move, *LEADS_GUIDE)",
        "MOVING = (Move, *LEADS_GUIDE)",
        (_STOPS + "test_a_refused_start_is_never_repeated_by_itself",),
    ),
    Mutant(
        "what was done to the account is not in the journal",
        "winder/wind/log.py",
        "deeds, self._deeds = tuple(self._deeds), []",
        "deeds, self._deeds = (), []",
        (_SETTLED + "test_a_wind_killed_again_and_again_adds_nothing_twice",),
    ),
    Mutant(
        "a wrong value ends the list before a wind",
        "winder/wind/guards.py",
        "if intent is Intent.DECLARE_TOP and not isinstance(value, Top):",
        "if False:",
        ("tests/wind/test_set_up.py::test_what_does_not_fit_is_refused_in_words",),
    ),
    Mutant(
        "a hung screen keeps the motor's lease",
        "winder/service/run.py",
        "self._screen_age_s() < SCREEN_AGE_S_MAX",
        "True",
        ("tests/service/test_wind_run.py",),
    ),
)

LOGBOOK = (
    Mutant(
        "commits that are not on the disk",
        "winder/shelf/book.py",
        "PRAGMA synchronous = FULL",
        "PRAGMA synchronous = OFF",
        ("tests/shelf/test_shelved_account.py",),
    ),
    Mutant(
        "the journal forgets what was done to the account",
        "winder/shelf/logbook.py",
        "deeds = clean(deeds_to_json(event.deeds))",
        'deeds = "[]"',
        ("tests/shelf/test_shelved_account.py",),
    ),
    Mutant(
        "runs are folded by the number of their lines alone",
        "winder/shelf/logbook.py",
        "WHERE coil = ? ORDER BY run, number",
        "WHERE coil = ? ORDER BY number, run DESC",
        ("tests/shelf/test_shelved_account.py",),
    ),
    Mutant(
        "the shelf shows the best guess as if it were sure",
        "winder/shelf/logbook.py",
        "numbers = (account.per_turn, truth.low, truth.best, truth.high)",
        "numbers = (account.per_turn, truth.best, truth.best, truth.best)",
        ("tests/shelf/test_shelved_account.py",),
    ),
    Mutant(
        "the last word of another coil's wind is lost",
        "winder/shelf/logbook.py",
        'self.write(found["id"], [SessionEvent("link", 0, text, said.word.count, {}, (said,))])',
        "pass",
        ("tests/shelf/test_shelved_account.py",),
    ),
    Mutant(
        "a turn grows by pi per turn, not two",
        "winder/coil/window.py",
        "return self.perimeter_m + 2 * math.pi * self.build_m(turns, area_m2)",
        "return self.perimeter_m + math.pi * self.build_m(turns, area_m2)",
        ("tests/coil/test_outermost_turn.py",),
    ),
)

SCREENS = (
    Mutant(
        "a count in doubt is shown as one figure",
        "winder/screens/words.py",
        "return view.count.truth.low // per_turn, -(-view.count.truth.high // per_turn)",
        "return view.count.truth.low // per_turn, view.count.truth.low // per_turn",
        (_PAGES + "test_a_count_in_doubt_is_shown_as_two_figures_with_the_reason",),
    ),
    Mutant(
        "a count that somebody vouched for reads like a counted one",
        "winder/screens/words.py",
        "if truth.certainty is Certainty.VOUCHED:",
        "if False:",
        (_PAGES + "test_a_vouched_count_names_who_vouched",),
    ),
    Mutant(
        "a part of a turn to take off is rounded down",
        "winder/screens/words.py",
        "whole = math.ceil(abs(off) - _TURN_PART)",
        "whole = math.floor(abs(off))",
        (
            "tests/screens/test_lay_and_lane.py::test_parts_of_turns_and_too_many_taken_off_are_told",
        ),
    ),
    Mutant(
        "a spindle that turns back cannot be stopped by a key",
        "winder/screens/words.py",
        "or view.motion.guide_moves or view.motion.unwinds",
        "or view.motion.guide_moves",
        ("tests/screens/test_coil_keys.py::test_every_stop_key_stops_a_spindle_that_turns_back",),
    ),
)

BOARD = tuple(Mutant(*row) for row in (*ROWS, *BURST_ROWS, *STORM_ROWS, *WRITING_ROWS))

MUTANTS = (*PROTOCOL, *ACCOUNT, *SESSION, *LOGBOOK, *SCREENS, *BOARD)
