"""The whole loop, closed: bank, charger, relay, person and engine under faults drawn at random."""

from __future__ import annotations

import pytest

from rules.events import Order, Outcome
from tests.bench.closed_loop import Life, lives


def test_whenever_a_cell_was_over_its_limit_for_longer_than_check_prints_the_charger_was_off() -> None:
    told = lives(range(5001, 5009))
    assert told.false == []
    assert told.over >= 6, "most of them went over a limit with the charger on"


def test_a_bridge_that_never_cuts_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    carry = Life._carry

    def deaf(self: Life, outcome: Outcome) -> None:
        if not (isinstance(outcome, Order) and outcome.action == "cut"):
            carry(self, outcome)

    monkeypatch.setattr(Life, "_carry", deaf)
    (found,) = lives(range(5001, 5002)).false
    assert found.lasted > found.allowed
