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
    (
        "a recording that ended is not told",
        WIND,
        "            self.refusals.append(said)\n",
        "",
        ("tests/service/test_recorded_winds.py",),
    ),
    (
        "a recording is written by whoever serves the line",
        "winder/links/recording.py",
        "            self._lines.put(line)\n",
        '            self._file.write(line + "\\n")\n',
        ("tests/links/test_recording.py",),
    ),
    (
        "a part of a file is left on a full disk",
        "winder/files/whole_file.py",
        "            path.unlink()\n",
        "            pass\n",
        ("tests/files/test_whole_file.py",),
    ),
    (
        "what waits in the output's buffer is left to the end of the process",
        "winder/commands/main.py",
        "                sys.stdout.flush()\n",
        "                pass\n",
        ("tests/commands/test_full_output.py",),
    ),
)
