"""The way back to closed: how long a relay stays open, how often it closes by itself, and who opened it otherwise.

Five minutes, four times a day, ten seconds to obey and a minute for a will are common practice, no source.
"""

from __future__ import annotations

import pytest

from rules.events import Event, Order
from rules.safety import closing
from rules.safety.state import Interlock, Outcomes, Seen
from tests.support.fold import START, make_bank

BANK = make_bank()
DAY = 86400.0


@pytest.mark.parametrize(
    ("why", "open_for", "comes_back"),
    [("meter-silent", 299.0, False), ("meter-silent", 300.0, True), ("restart", 10.0, False), ("", 1.0, True)],
)
def test_what_a_fault_opened_stays_open_for_five_minutes(why: str, open_for: float, comes_back: bool) -> None:
    lock = Interlock(withdrawn_for=why, order_at=START - open_for)
    assert closing.rested(lock, START) is comes_back


@pytest.mark.parametrize(
    ("ago", "why", "used_up"),
    [
        ([4.0, 3.0, 2.0, 1.0], "meter-silent", True),
        ([3.0, 2.0, 1.0], "meter-silent", False),
        ([24.0, 3.0, 2.0, 1.0], "meter-silent", False),  # a day is over
        ([23.99, 3.0, 2.0, 1.0], "meter-silent", True),
        ([5.0, 4.0, 3.0, 2.0, 1.0], "restart", True),
        ([4.0, 3.0, 2.0, 1.0], "", False),  # a person asks
    ],
)
def test_it_closes_by_itself_four_times_a_day(ago: list[float], why: str, used_up: bool) -> None:
    lock = Interlock(withdrawn_for=why, returns=tuple(START - 3600.0 * hours for hours in ago))
    assert closing.used_up(lock, START) is used_up
    assert len(closing.returns_today(lock, START)) == sum(hours < 24.0 for hours in ago)


@pytest.mark.parametrize("why", ["meter-silent", ""])
def test_an_order_to_close_stands_in_front_and_forgets_what_was_seen_of_the_last(why: str) -> None:
    before = Interlock(
        order_at=START - 400.0, repeated_at=START - 380.0, allowed_at=START - 9000.0, confirmed_at=START - 399.0,
        seen_closed=True, opened_for="restart", closings=6, withdrawn_for=why,
        returns=(START - DAY, START - 3600.0),
    )  # fmt: skip
    outcomes: Outcomes = [Event("north", "resumed", START, {}), Event("north", "flag-cleared", START, {})]
    after = closing.close(BANK, before, START, "all is well", outcomes)
    assert outcomes[0] == Order("north", "allow", START, "all is well") and len(outcomes) == 3
    assert (after.order_at, after.repeated_at, after.allowed_at) == (START, START, START)
    assert (after.confirmed_at, after.seen_closed, after.opened_for, after.closings) == (0.0, False, "", 7)
    # Only what comes back by itself is counted for the day.
    assert after.returns == ((START - 3600.0, START) if why else (START - 3600.0,))


ALLOWED = Interlock(allowed=True, allowed_at=START - 100.0, order_at=START - 100.0)


@pytest.mark.parametrize(
    ("lock", "closed", "seen_at", "by_hand", "seen_closed"),
    [
        (ALLOWED, True, START - 99.0, False, True),
        (ALLOWED, False, START - 99.0, False, False),  # on its way when the permit was given
        (ALLOWED, False, START - 90.0, False, False),  # ten seconds to obey
        (ALLOWED, False, START - 89.0, True, False),
        (ALLOWED._replace(seen_closed=True), False, START - 99.0, True, True),
        (ALLOWED._replace(seen_closed=True), False, START - 100.0, False, True),  # of before
        (ALLOWED, True, START - 100.0, False, False),
        (ALLOWED._replace(seen_closed=True), None, START - 50.0, False, True),
        (ALLOWED, None, START - 50.0, False, False),
        (ALLOWED._replace(allowed=False, seen_closed=True), False, START - 50.0, False, True),
        (ALLOWED._replace(proving="opening", seen_closed=True), False, START - 50.0, False, True),
        (ALLOWED._replace(held_by="south", seen_closed=True), False, START - 50.0, False, True),
    ],
)
def test_a_relay_seen_open_while_it_may_be_closed_was_opened_by_somebody(
    lock: Interlock, closed: bool | None, seen_at: float, by_hand: bool, seen_closed: bool
) -> None:
    outcomes: Outcomes = []
    after = closing.opened_outside(BANK, lock, START, Seen(relay_closed=closed, relay_at=seen_at), outcomes)
    assert after == lock._replace(opened_by_hand=START if by_hand else 0.0, seen_closed=seen_closed)
    told = [Event("north", "opened-by-hand", START, {"reported_at": seen_at})]
    assert outcomes == (told if by_hand else [])


@pytest.mark.parametrize(
    ("unanswered", "ago", "was_will"),
    [(True, 0.0, True), (True, 60.0, True), (True, 61.0, False), (False, 5.0, False), (True, None, False)],
)
def test_an_opening_seen_just_before_the_connection_was_lost_was_the_will(
    unanswered: bool, ago: float | None, was_will: bool
) -> None:
    opened = 0.0 if ago is None else START - ago
    lock = Interlock(opened_by_hand=opened)
    after = closing.link_changed(lock, START, "relay-link-lost", "", unanswered)
    assert after.link == "relay-link-lost"
    assert (after.opened_by_hand, after.withdrawn_for) == ((0.0, "relay-link-lost") if was_will else (opened, ""))


@pytest.mark.parametrize(
    ("told", "link"),
    [
        ("", ""),
        ("relay-link-lost", "relay-link-lost"),
        ("nobody-listens", "nobody-listens"),
        ("auto-off-missing", "auto-off-missing"),
        ("something newer", "relay-link-lost"),
    ],
)
def test_what_stands_in_the_way_to_the_relay_is_a_flag_and_what_nobody_knows_is_a_lost_link(
    told: str, link: str
) -> None:
    assert closing.link_changed(Interlock(link="nobody-listens"), START, told, "", False).link == link


def test_what_may_have_opened_it_counts_only_while_it_may_be_closed_or_is_being_proved() -> None:
    for lock, opened in (
        (Interlock(allowed=True), "restart"),
        (Interlock(proving="closing"), "restart"),
        (Interlock(opened_for="pause"), ""),
    ):
        assert closing.link_changed(lock, START, "", "restart", False).opened_for == opened
