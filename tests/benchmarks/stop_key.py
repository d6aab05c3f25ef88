"""From the stop key to the stop on the line, whatever stands over the wind; all of it is ``bench_stop_key.py``."""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.bench_stop_key import measure
from tests.benchmarks.lines import Line

SAMPLES = 6  # with each of the dialogs
BOUND_MS = 50.0


def lines() -> Iterator[Line]:
    with tempfile.TemporaryDirectory() as folder:
        found = asyncio.run(measure(SAMPLES, Path(folder)))
    every = sorted(each for times in found.values() for each in times)
    yield Line("stop key, in the middle", every[len(every) // 2], "ms", BOUND_MS, "bound")
    yield Line("stop key, at most", every[-1], "ms", BOUND_MS, "bound")
