"""A line of the table, and how a cost is taken."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Line:
    """``against``: the peer or the limit, in the same unit; ``whose`` says which."""

    name: str
    figure: float
    unit: str
    against: float
    whose: str

    @property
    def ratio(self) -> float:
        return self.figure / self.against if self.against else float("inf")

    def shown(self, before: dict[str, Any] | None) -> str:
        earlier = f"{before['figure']:10.4g}" if before else f"{'-':>10}"
        figures = f"{self.figure:10.4g} {self.unit:18} {self.against:10.4g}  {self.whose:26}"
        return f"{self.name:52} {figures} {self.ratio:7.2f} {earlier}"

    def facts(self) -> dict[str, Any]:
        return asdict(self) | {"ratio": self.ratio}


def core_s(what: Callable[[], object], times: int = 3) -> float:
    """Processor seconds of the cheapest of several goes, children's included."""
    return min(_once(what) for _ in range(times))


def _once(what: Callable[[], object]) -> float:
    begun, ours = _children_s(), time.process_time()
    what()
    return time.process_time() - ours + _children_s() - begun


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
