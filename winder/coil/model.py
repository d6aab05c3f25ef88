"""What the coil will be. SI units; every doubtful number is a band."""

from __future__ import annotations

from dataclasses import field

from firmware_protocol.records import dataclass
from winder.coil.allowances import STRETCH_BY_FEEL
from winder.coil.bands import Band
from winder.coil.core import Outline
from winder.coil.feed import wound_outline
from winder.coil.knowledge import Knowledge, prior
from winder.coil.window import Ground, Window
from winder.coil.wire import WireFacts
from winder.coil.wound import Wound
from winder.machine.instruments import Instruments
from winder.recipe.model import Recipe, ResistanceTarget


@dataclass(frozen=True, slots=True)
class Coil:
    recipe: Recipe
    wire: WireFacts
    turns: int
    core_perimeter_m: float  # P0: of what the wire lies on, tape included
    core_area_m2: float  # A0: likewise
    width_m: float  # winding width W between straight flanges; tapering: that of the same wire
    area_per_turn_m2: Band  # a: cross-section of the winding one turn takes
    turns_per_layer: float
    layers: float
    build_m: float  # nominal height of the finished winding
    fits: bool  # the high end of the build's band stays below the flange
    wire_length_m: float
    outer_turn_m: float  # length of the last turn
    resistance_ohm_20c: Band  # at ``turns``
    knowledge: Knowledge | None = None  # by which the bands are; None: nothing of it was measured
    window: Window | None = None  # between tapering flanges; None: straight ones, ``width_m`` apart
    stretch_share: float = STRETCH_BY_FEEL  # greatest rise of the ohms by stretch (``allowances``)
    instruments: Instruments = field(default_factory=Instruments)  # that measure it

    @property
    def ground(self) -> Ground:
        """What the wire lies on and between."""
        window = self.window or Window(self.width_m)
        return Ground(window, self.core_perimeter_m, self.core_area_m2)

    @property
    def wound(self) -> Wound:
        """The same by tables and practice alone, whatever was measured of it."""
        if self.knowledge is not None:
            return self.knowledge.wound
        return Wound(
            made_of=self.recipe.wire,
            wire=self.wire,
            outline=self.outline,
            ground=self.ground,
            area_per_turn_m2=self.area_per_turn_m2,
            turns=self.turns,
            turns_per_layer=self.turns_per_layer,
            leads_m=self.recipe.leads_m,
            stretch_share=self.stretch_share,
        )

    @property
    def outline(self) -> Outline:
        """Of what the first turn lies on."""
        return wound_outline(self.recipe.core, self.recipe.tape_under_m)

    @property
    def known(self) -> Knowledge:
        """All that is known of it: with what was measured, or by tables and practice."""
        return self.knowledge or prior(self.wound, self.instruments)

    @property
    def wind_long(self) -> bool:
        """Whether ``turns`` are more than the target takes, to be measured and taken off."""
        target = self.recipe.target
        return isinstance(target, ResistanceTarget) and target.wind_long
