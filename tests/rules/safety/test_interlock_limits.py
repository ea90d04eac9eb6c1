"""The permit at each of its limits, and what an order leaves behind. Numbers: common practice, no source."""

from __future__ import annotations

import pytest

from rules.events import Event, Order
from rules.safety.interlock import decide
from rules.safety.state import Finding, Interlock, Outcomes, Seen
from tests.support.fold import START, make_bank

BANK = make_bank()
HOUR = 3600.0
#: Withdrawn some time ago and seen to have opened; everything but the order's own moment is left over from before.
AWAY = Interlock(
    started=True,
    order_at=START - 400.0,
    repeated_at=START - 380.0,
    allowed_at=START - HOUR,
    withdrawn_for="meter-silent",
    confirmed_at=START - 399.0,
)
OPEN = Seen(relay_closed=False, relay_at=START - 399.0)
SILENT = {"meter-silent": Finding(90.0, 60.0, "s", "silent")}


def told(outcomes: Outcomes) -> list[str]:
    return [each.action if isinstance(each, Order) else each.kind for each in outcomes]


def test_a_permit_that_returns_leaves_nothing_of_its_withdrawal() -> None:
    lock, outcomes = decide(BANK, AWAY, START, {}, {}, OPEN)
    assert told(outcomes) == ["allow", "permit-given"]
    assert lock == Interlock(
        started=True, allowed=True, order_at=START, repeated_at=START, allowed_at=START, returns=(START,), closings=1
    )


def test_a_cut_leaves_no_evidence_of_an_earlier_one() -> None:
    allowed = AWAY._replace(allowed=True, withdrawn_for="")
    lock, outcomes = decide(BANK, allowed, START, {}, SILENT, Seen(7.0, START - 1.0))
    assert told(outcomes) == ["cut", "permit-withdrawn"]
    assert lock == AWAY._replace(order_at=START, repeated_at=START, current_before=7.0, confirmed_at=0.0)


def test_an_unknown_current_before_a_cut_is_none_that_could_prove_it() -> None:
    lock, _ = decide(BANK, AWAY._replace(allowed=True), START, {}, SILENT, Seen())
    assert lock.current_before == 0.0


@pytest.mark.parametrize(("waited", "orders"), [(299.9, []), (300.0, ["allow", "permit-given"])])
def test_a_permit_stays_away_for_five_minutes(waited: float, orders: list[str]) -> None:
    away = AWAY._replace(order_at=START - waited, confirmed_at=START - waited + 1.0)
    assert told(decide(BANK, away, START, {}, {}, OPEN)[1]) == orders


@pytest.mark.parametrize(("age", "orders"), [(86399.5, ["permit-exhausted"]), (86400.0, ["allow", "permit-given"])])
def test_a_return_counts_for_a_day_and_no_longer(age: float, orders: list[str]) -> None:
    recent = (START - 3 * HOUR, START - 2 * HOUR, START - HOUR)
    lock, outcomes = decide(BANK, AWAY._replace(returns=(START - age, *recent)), START, {}, {}, OPEN)
    assert told(outcomes) == orders
    assert lock.returns[-4:-1] == recent or lock.exhausted


def test_an_exhausted_permit_forgets_returns_older_than_a_day() -> None:
    recent = tuple(START - hours * HOUR for hours in (4, 3, 2, 1))
    lock, outcomes = decide(BANK, AWAY._replace(returns=(START - 25 * HOUR, *recent)), START, {}, {}, OPEN)
    assert isinstance(outcomes[0], Event) and outcomes[0].detail == {"returns": 4}
    assert lock == AWAY._replace(exhausted=True, returns=recent)
