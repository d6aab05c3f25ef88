"""What a person may say with an intent, drawn at random: anything, and what fits."""

from __future__ import annotations

import hypothesis.strategies as st
from test_coil_orders import Ohms

from winder.plan.facing import Top
from winder.recipe.observations import BuildCaliper, OhmReading
from winder.wind.model import Intent, Item, Reading, TurnsOff

numbers = st.one_of(st.floats(-2, 70), st.floats(allow_nan=True, allow_infinity=True))
readings = st.builds(
    Reading,
    st.text(max_size=5),
    st.one_of(
        st.builds(OhmReading, st.floats(0, 60), st.none() | st.floats(0.1, 90)),
        st.builds(BuildCaliper, st.floats(0, 60), st.floats(1e-4, 1e-3)),
    ).filter(lambda made: isinstance(made, BuildCaliper) or made.ohm is not None),
    st.booleans(),
)
values = st.one_of(
    st.none(),
    numbers,
    st.text(max_size=6),
    st.sampled_from(list(Top)),
    st.sampled_from(list(Item)),
    st.builds(TurnsOff, numbers, st.booleans()),
    readings,
)
FITTING = {
    Intent.SETTLE_COUNT: st.floats(0, 70),
    Intent.NOTE: st.just("a remark"),
    Intent.DECLARE_TOP: st.sampled_from(list(Top)),
    Intent.CONFIRM: st.sampled_from(list(Item)),
    Intent.SET_TENSION: st.floats(1, 50),
    Intent.STEP_GUIDE: st.floats(-9, 9),
    Intent.MEASURED: readings,
    Intent.TURNS_OFF: st.builds(TurnsOff, st.floats(0.1, 9), st.booleans()),
    Intent.TAKE_OFF: st.floats(0.1, 9),
}


class EditedOhms(Ohms):
    """An estimate that takes calipers too."""

    def objection(self, reading: Reading, turns: float) -> str:
        return "" if isinstance(reading.observation, OhmReading) else "only ohms are taken here"
