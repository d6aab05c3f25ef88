"""Where things stand on the page of a wind, for each size of terminal.

Two tables: with a guide that the machine moves, and with a hand that guides, whose lane takes rows from
the progress bar and from the smaller figure. Smaller terminals lose what is asked last.
"""

from __future__ import annotations

from firmware_protocol.records import dataclass
from winder.screens.figures import LARGE, MIDDLE, SMALL, Figures


@dataclass(frozen=True, slots=True)
class Layout:
    """Where things stand for one size. Rows are counted from the top, keys from the bottom."""

    margin: int
    badge_y: int
    badge_rows: int  # 5 with block letters, 3 framed, 1
    sentence_y: int
    figures_y: int
    gap: int  # rows between the two figures
    sizes: tuple[Figures, Figures]  # for the figure that matters now, and for the other
    right_x: int  # where the second column begins; 0: there is none
    progress_y: int
    below_y: int  # facts and events; 0: no room below the progress bar
    bottom: int  # rows kept for keys and the space around them
    notice_rows: int  # above the keys, over whatever stands there
    lane_y: int = 0  # of a hand that guides
    lane_rows: int = 0  # words included; 0: no lane

    @property
    def right_end_y(self) -> int:
        """The row after the second column."""
        return (self.lane_y if self.lane_rows else self.progress_y) - 1


Sized = tuple[int, int, Layout]  # the least width and height, and the layout
LAYOUTS: tuple[Sized, ...] = (  # the first that fits is taken
    (112, 36, Layout(3, 1, 5, 7, 10, 1, (LARGE, MIDDLE), 66, 27, 29, 3, 2)),
    (96, 28, Layout(2, 0, 5, 5, 7, 0, (LARGE, MIDDLE), 56, 21, 23, 2, 2)),
    (76, 23, Layout(1, 0, 3, 3, 5, 0, (LARGE, MIDDLE), 53, 19, 0, 2, 2)),
    (56, 17, Layout(1, 0, 1, 1, 3, 0, (LARGE, SMALL), 0, 15, 0, 2, 1)),
)
LED_BY_HAND: tuple[Sized, ...] = (
    (112, 36, Layout(3, 1, 5, 7, 9, 1, (LARGE, MIDDLE), 66, 31, 33, 3, 2, 25, 5)),
    (96, 28, Layout(2, 0, 5, 5, 7, 0, (LARGE, SMALL), 56, 23, 24, 2, 2, 19, 4)),
    (76, 23, Layout(1, 0, 3, 3, 5, 0, (LARGE, SMALL), 53, 21, 0, 2, 1, 17, 4)),
    (56, 17, Layout(1, 0, 1, 1, 3, 0, (MIDDLE, SMALL), 0, 15, 0, 2, 1, 13, 2)),
)


def choose_layout(width: int, height: int, *, by_hand: bool = False) -> Layout | None:
    """The layout for a size, or None where only lines of text fit."""
    for least_width, least_height, layout in LED_BY_HAND if by_hand else LAYOUTS:
        if width >= least_width and height >= least_height:
            return layout
    return None
