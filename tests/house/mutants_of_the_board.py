"""Planted mistakes of the board: one for each check of its sensor, its drive and its stop.

Rows of what, file, before, after, tests; ``test_mutants.Mutant`` takes them as they stand.
"""

from __future__ import annotations

CORE = "firmware_protocol/firmware/core/"
SUSPICION = ("tests/firmware/test_core_suspicion.py",)
DISTURBED = ("tests/firmware/test_core_disturbed.py",)
BOUNDS = ("tests/protocol/test_device_bounds.py",)
SETTINGS = ("tests/firmware/test_core_settings.py",)
LOOP = ("tests/simulator/test_board_control.py",)

ROWS: tuple[tuple[str, str, str, str, tuple[str, ...]], ...] = (
    (
        "a silent sensor is believed",
        CORE + "judge.c",
        "if (seen.way <= SILENT_COUNTS)",
        "if (seen.way <= 1000.0f * SILENT_COUNTS)",
        SUSPICION,
    ),
    (
        "the first edges are driven for at full power",
        CORE + "loop.c",
        "if (motion.edges_known < 3)",
        "if (motion.edges_known > 3)",
        SUSPICION,
    ),
    (
        "edges against the drive are believed",
        CORE + "loop.c",
        "(now.backward != motion.backward && tracks)",
        "false",
        SUSPICION,
    ),
    (
        "edges that only go to and fro are a spindle that is held",
        CORE + "loop.c",
        "edges.turns != motion.turns ?",
        "false ?",
        SUSPICION,
    ),
    (
        "a count that was taken away and given back is as old as that",
        CORE + "edges.h",
        "edges.clock = was_away_shorter ? edges_past.lost : clock;",
        "edges.clock = clock;",
        DISTURBED,
    ),
    (
        "a count that was given and taken away leaves its time",
        CORE + "edges.h",
        "    edges.clock = edges.before;\n",
        "",
        DISTURBED,
    ),
    (
        "the newest edge is believed at once",
        CORE + "loop.c",
        ">= BELIEVED_TICKS)",
        ">= 0)",
        DISTURBED,
    ),
    (
        "a bounce is an edge",
        CORE + "edges.h",
        "edges_past.ended_recently && (uint16_t)(clock - edges_past.ended) < PORT_BOUNCE_TICKS",
        "false",
        SUSPICION,
    ),
    (
        "an edge that comes too soon is passed over without a word",
        CORE + "edges.h",
        "doubtful = !counts || edge_was_short();",
        "doubtful = edge_was_short();",
        SUSPICION,
    ),
    (
        "a long pulse behind the end of one is its bounce",
        CORE + "edges.h",
        "if (stayed && edges_past.late)",
        "if (false)",
        SUSPICION,
    ),
    (
        "bounces that never end are passed over without a word",
        CORE + "edges.h",
        "doubtful = bounces >= PORT_LEAST_TICKS && bounces >= edges_past.bounces_most;",
        "doubtful = false;",
        DISTURBED,
    ),
    (
        "a sensor that is half disbelieved winds on",
        CORE + "loop.c",
        "return (uint8_t)(told - doubted.told) > DOUBT_MOST;",
        "return false;",
        DISTURBED,
    ),
    (
        "what one wind doubted is held against the next",
        CORE + "loop.c",
        "if (!tracks || (uint8_t)(number - doubted.seen)",
        "if ((uint8_t)(number - doubted.seen)",
        DISTURBED,
    ),
    (
        "false edges may end a wind as fast as they like",
        CORE + "judge.c",
        "limit = known.rate_max * passed_s + TOO_FAST_EDGES;",
        "limit = 1e9f;",
        DISTURBED,
    ),
    (
        "a spindle that does not slow down is waited for",
        CORE + "judge.c",
        "seen.window_edges >= FALL_EDGES && rate >= FALL_LEAST * before",
        "seen.window_edges >= FALL_EDGES && rate >= 9.0f * before",
        SUSPICION,
    ),
    (
        "a spindle that turns faster after the cut is waited for as long as one that turns on",
        CORE + "judge.c",
        "passed_s >= RISE_S",
        "passed_s >= 99.0f",
        SUSPICION,
    ),
    (
        "a coast that reached its end goes on",
        CORE + "loop.c",
        "motion.mode == MODE_COAST && motion_to_stop() <= 0",
        "false",
        ("tests/firmware/test_core_motion.py",),
    ),
    (
        "a motor that starts by itself is a hand",
        CORE + "judge.c",
        "rate > HAND_SHARE * known.rate_max",
        "rate > 9.0f * known.rate_max",
        SUSPICION,
    ),
    (
        "a stop slows down as the plan says only",
        CORE + "board.c",
        "since_slow(identity.cut_ms) && !board.drive_cut",
        "false && !board.drive_cut",
        ("tests/firmware/test_same_answers.py",),
    ),
    (
        "drive and brake change places without a dead time",
        CORE + "drive.c",
        "return (uint16_t)(port_clock() - motion.off_clock) > settings.dead_ms * (uint16_t)(PORT_CLOCK_HZ / 1000);",
        "return true;",
        SUSPICION,
    ),
    (
        "the contactor stays closed",
        CORE + "motion.c",
        "        port_contactor(false);\n",
        "",
        SUSPICION,
    ),
    (
        "motion is forgotten at a reset",
        CORE + "kept.c",
        "kept.motion_wanted = kept.motion & 1u;",
        "kept.motion_wanted = false;",
        SUSPICION,
    ),
    (
        "the drive is never cut by the time",
        "firmware_protocol/device_board.py",
        "0 < self._cut_ms <= slowing_ms and not self._drive_cut",
        "False and not self._drive_cut",
        BOUNDS,
    ),
    (
        "a spindle that never rests is waited for",
        "firmware_protocol/device_board.py",
        "elif 0 < self._rest_ms <= slowing_ms:",
        "elif 0 < 99 * self._rest_ms <= slowing_ms:",
        BOUNDS,
    ),
    (
        "motion with the drive off is no trip",
        "firmware_protocol/device_board.py",
        "if self.trip not in ISOLATING and self.facts.trip in ISOLATING:",
        "if False:",
        BOUNDS,
    ),
    (
        "motion is not remembered",
        "firmware_protocol/device_board.py",
        "        self.body.keep_motion(True)\n",
        "",
        BOUNDS,
    ),
    (
        "a rest after a reset in motion forgets it",
        "firmware_protocol/device_board.py",
        "        self._rest_seen = True  # since the newest motion began\n",
        "        self._rest_seen = False\n",
        BOUNDS,
    ),
    (
        "a cut slows down",
        "firmware_protocol/device_board.py",
        "            self._drive_cut = True\n            self.body.obey(Drive(Order.CUT))\n        if self.state in (State",
        "            self._drive_cut = True\n        if self.state in (State",
        ("tests/protocol/test_device_motion.py",),
    ),
    (
        "a later stop takes a cut back",
        "firmware_protocol/host_stopping.py",
        "self._cutting = self._cutting or cutting",
        "self._cutting = cutting",
        ("tests/protocol/test_host_stop.py",),
    ),
    (
        "the simulated board believes a silent sensor",
        "winder/simulator/suspicion.py",
        "return self.way > SILENT_COUNTS",
        "return self.way > 1000 * SILENT_COUNTS",
        LOOP,
    ),
    (
        "the simulated board lets the spindle run away",
        "winder/simulator/suspicion.py",
        "return edges > limit * (self._time_s + stretch_s)",
        "return edges > 9 * limit * (self._time_s + stretch_s)",
        LOOP,
    ),
    (
        "settings whose check sum is wrong are used",
        CORE + "settings.c",
        "!= get_u32(copy + MSG_SETTINGS_BYTES)",
        "== 0",
        SETTINGS,
    ),
    (
        "a copy of the settings that a power cut has spoilt is left so",
        CORE + "settings.c",
        "        write_both(copy); /* a copy that a power cut has spoilt */\n",
        "",
        SETTINGS,
    ),
    (
        "a rest may be told before the cut",
        CORE + "settings.c",
        "ask.rest_ms <= ask.cut_ms ?",
        "ask.rest_ms < ask.cut_ms ?",
        SETTINGS,
    ),
)
