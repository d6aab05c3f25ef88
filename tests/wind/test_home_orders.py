"""Everything in any order, once more, with a guide that is led home again and again: stopped, cut off, gone on with."""

from __future__ import annotations

import hypothesis.strategies as st
from hypothesis import settings
from hypothesis.stateful import initialize, invariant, precondition, rule
from session_bench import CPT
from test_random_orders import HOMES, Orders

from winder.wind.account import Account
from winder.wind.model import Intent


class HomeOrders(Orders):
    """Begins at the list before the wind."""

    @initialize(stage=st.integers(1, 2), coil=st.sampled_from([Account(CPT)]))
    def begin(self, stage, coil) -> None:
        Orders.begin(self, HOMES, True, "", coil, (), stage)

    @rule(stopped=st.booleans(), lost=st.booleans(), times=st.integers(1, 12))
    def finds_home(self, stopped, lost, times) -> None:
        """Perhaps stopped on the way, by a stop that is lost on the line."""
        if Intent.HOME_GUIDE in self.session.may():
            self.ask(Intent.HOME_GUIDE, None)
            self.the_board_obliges(times)
            if stopped and Intent.PAUSE in self.session.may():
                self.ask(Intent.PAUSE, None)
                self.heeded = len(self.sent) if lost else self.heeded
                self.the_board_obliges(1)

    @precondition(lambda self: hasattr(self, "session"))
    @invariant()
    def nothing_leads_the_guide_on_behind_a_stop(self) -> None:
        assert not any(self.led_on)
        home, todo = self.session.set_up.home, self.session.set_up.list
        if home.under_way:
            assert todo is not None and not todo.left_touched and not self.session.finished
        if todo is not None and todo.homed:
            assert todo.left_touched and home.found and not home.why


TestHomeOrders = HomeOrders.TestCase
TestHomeOrders.settings = settings(max_examples=150, stateful_step_count=25, deadline=None)
