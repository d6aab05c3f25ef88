"""Planted mistakes in the order of writing and sending, as rows like those of the board."""

from __future__ import annotations

WIND = "winder/service/wind.py"
ORDER, JOURNALS = "tests/service/test_order_of_writing.py", "tests/service/test_journals.py"

ROWS: tuple[tuple[str, str, str, str, tuple[str, ...]], ...] = (
    (
        "nothing is written",
        WIND,
        "        waits = self._keep(now_ns)\n",
        "        waits = False\n",
        (ORDER,),
    ),
    (
        "a command does not wait for the line it follows from",
        WIND,
        "while self._held and self._held[0][0] <= kept:",
        "while self._held:",
        (JOURNALS,),
    ),
    (
        "a stop leaves a start that waits for the disk",
        WIND,
        '            self._withdraw(now_ns, "a stop overtook it")\n',
        "            pass\n",
        (JOURNALS,),
    ),
    (
        "what a person says is shown before it is kept",
        WIND,
        "                self._journal.wait()\n",
        "                pass\n",
        (JOURNALS,),
    ),
)
