"""Numbers and durations for people, all digits as one types them: the one style of every screen, line and page.

No exponent, which nobody reads at a bench, and no gaps or commas between thousands, which cannot be typed back.
"""

from __future__ import annotations

from decimal import Decimal


def show_number(value: float, figures: int) -> str:
    """At most so many significant figures: ``show_number(26378.4, 4)`` is ``26380``."""
    return f"{Decimal(f'{value:.{figures}g}'):f}"


def show_duration(seconds: float) -> str:
    """As a glance takes it: ``14 s``, ``2 min 06 s``, ``1 h 05 min``."""
    whole = max(0, round(seconds))
    if whole < 60:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes} min {rest:02d} s"
    return f"{minutes // 60} h {minutes % 60:02d} min"
