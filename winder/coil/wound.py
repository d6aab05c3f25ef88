"""What is to be wound, by tables and practice alone: the facts from which everything in doubt is figured.

A ``Wound`` knows nothing of readings. What readings tell of it is ``knowledge``'s, and a ``Coil`` is the two
put together with the recipe.
"""

from __future__ import annotations

from firmware_protocol.records import dataclass
from winder.coil.allowances import STRETCH_BY_FEEL
from winder.coil.bands import Band
from winder.coil.core import Outline
from winder.coil.window import Ground
from winder.coil.wire import WireFacts
from winder.recipe.model import Wire


@dataclass(frozen=True, slots=True)
class Wound:
    """SI units, 20 C; every doubtful number is a band."""

    made_of: Wire  # as the recipe names it
    wire: WireFacts
    outline: Outline  # of what the first turn lies on
    ground: Ground
    area_per_turn_m2: Band  # cross-section of the winding that one turn takes
    turns: int  # that the coil is planned for
    turns_per_layer: float
    leads_m: float = 0.0
    stretch_share: float = STRETCH_BY_FEEL  # greatest rise of the ohms by stretch (``allowances``)
