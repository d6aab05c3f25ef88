"""Planted mistakes in what a session makes of news that come at once, or from before, as rows like those of the board."""

from __future__ import annotations

AT_ONCE = "tests/wind/test_lost_at_once.py"

ROWS: tuple[tuple[str, str, str, str, tuple[str, ...]], ...] = (
    (
        "what was asked for before the session was lost is sent",
        "winder/wind/course.py",
        "[one for one in self.requests if isinstance(one, AT_ANY_TIME)]",
        "list(self.requests)",
        (AT_ONCE,),
    ),
    (
        "an end is judged as if it were still heard",
        "winder/wind/session.py",
        "        self.course.heard = False  # from now on; a wind that is closed needs no hearing\n",
        "",
        (AT_ONCE,),
    ),
    (
        "a start that nobody answered is forgotten at the first rest",
        "winder/wind/motion.py",
        " or self._may_start_late()",
        "",
        (AT_ONCE,),
    ),
    (
        "a spindle that still turns from before is called an alarm",
        "winder/wind/hearing.py",
        "if course.board.motor and not course.board.rests(status):",
        "if False:",
        ("tests/wind/test_set_up.py",),
    ),
    (
        "what was held up counts as time to obey",
        "winder/wind/watch.py",
        "min(self._passed_s(status, since[0]), (now_ns - since[1]) / NS_PER_S)",
        "self._passed_s(status, since[0])",
        ("tests/wind/test_watch.py",),
    ),
)
