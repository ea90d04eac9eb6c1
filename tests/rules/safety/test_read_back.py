"""Each limit of the read-back, at it and just beside it. Numbers: common practice, no source."""

from __future__ import annotations

import pytest

from rules.bank.model import Relay
from rules.events import Event, Order
from rules.safety.read_back import (
    disobeyed,
    fallen,
    flows_again,
    follow_up,
    other_source,
    provable,
    reported,
    unconfirmed,
    waits,
)
from rules.safety.state import Interlock, Outcomes, Proof, Seen
from tests.support.fold import START, make_bank

BANK = make_bank()
DUMB = make_bank(relay=Relay(reports_state=False))
CUT = Interlock(order_at=START, repeated_at=START, current_before=10.0, allowed_at=START - 100.0)
SHOWN = CUT._replace(confirmed_at=START + 1.0)
PROVED = SHOWN._replace(proof=Proof(START - 1000.0, True, 1.0, True, ""))


MARKERS: Outcomes = [Order("north", "marker", START, "first"), Order("north", "marker", START, "second")]


def flowing(amps: float, after: float, **seen: float | bool) -> Seen:
    return Seen(current=amps, current_at=START + after, **seen)  # type: ignore[arg-type]


def said(closed: bool, after: float) -> Seen:
    return Seen(relay_closed=closed, relay_at=START + after)


@pytest.mark.parametrize(
    ("amps", "step", "proves"),
    [(1.0, 0.0, False), (1.1, 0.0, True), (3.0, 1.0, False), (3.1, 1.0, True), (None, 0.0, False)],
)
def test_a_current_is_provable_above_one_ampere_and_above_three_steps(
    amps: float | None, step: float, proves: bool
) -> None:
    assert provable(amps, step) is proves


def test_a_report_counts_only_from_after_the_order_it_answers() -> None:
    assert reported(CUT, said(True, 0.0)) is None and reported(CUT, said(True, 0.1)) is True
    assert reported(CUT, said(False, -100.0)) is None and reported(CUT, said(False, -99.9)) is False
    assert reported(CUT, Seen()) is None


def test_nothing_is_waited_for_before_the_first_order_with_a_permit_or_without_a_relay() -> None:
    assert waits(BANK, CUT)
    assert not waits(BANK, Interlock()) and not waits(BANK, CUT._replace(allowed=True))
    assert not waits(make_bank(relay=None), CUT) and not waits(BANK, CUT._replace(proving="opening"))
    assert waits(BANK, CUT._replace(order_at=0.5)), "any moment after the beginning of time is one"


def test_closed_after_the_cut_disobeys_from_ten_seconds_on() -> None:
    assert disobeyed(BANK, CUT, START + 9.9, said(True, 1.0)) is None
    assert disobeyed(BANK, CUT, START + 10.0, said(True, 1.0)) is not None


def test_a_current_that_stays_disobeys_once_it_is_known_for_more_than_ten_seconds() -> None:
    assert disobeyed(DUMB, CUT, START + 20.0, flowing(9.0, 10.0)) is None
    found = disobeyed(DUMB, CUT, START + 20.0, flowing(9.0, 10.1))
    assert found is not None and (found.value, found.limit) == (9.0, 2.0)
    assert disobeyed(DUMB, CUT, START + 20.0, flowing(2.0, 10.1)) is None
    assert disobeyed(DUMB, SHOWN, START + 20.0, flowing(9.0, 10.1)) is None, "it had fallen: something else is flowing"


def test_open_with_the_current_unmoved_is_a_weld_only_where_a_proof_saw_it_fall() -> None:
    def look(lock: Interlock, amps: float, after: float) -> object:
        return disobeyed(BANK, lock, START + 60.0, flowing(amps, after, relay_closed=False, relay_at=START + 1.0))

    assert look(PROVED, 8.0, 30.0) is None and look(PROVED, 7.9, 31.0) is None
    found = look(PROVED, 8.0, 30.1)
    assert found is not None and found.limit == 8.0  # type: ignore[attr-defined]
    assert look(SHOWN, 10.0, 50.0) is None
    assert look(PROVED._replace(current_before=0.9), 0.9, 50.0) is None


def test_what_nothing_has_shown_is_told_from_ten_seconds_on() -> None:
    assert unconfirmed(BANK, CUT, START + 9.9, Seen()) is None
    found = unconfirmed(BANK, CUT, START + 10.0, Seen())
    assert found is not None and (found.value, found.limit) == (10.0, 10.0)
    assert unconfirmed(BANK, SHOWN, START + 60.0, Seen()) is None
    assert unconfirmed(DUMB, CUT._replace(current_before=0.5), START + 60.0, Seen()) is None


def test_current_flows_again_well_above_nothing_and_half_a_minute_after_the_cut_was_shown() -> None:
    assert not flows_again(SHOWN, flowing(0.5, 40.0), 0.5) and flows_again(SHOWN, flowing(0.6, 40.0), 0.5)
    assert not flows_again(SHOWN, flowing(3.0, 40.0, current_step=1.0), 0.5)
    assert not flows_again(SHOWN, flowing(5.0, 31.0), 0.5) and flows_again(SHOWN, flowing(5.0, 31.1), 0.5)
    assert flows_again(SHOWN, flowing(5.0, 40.0), 0.5) is True
    assert flows_again(CUT, flowing(5.0, 40.0), 0.5) is False
    assert flows_again(SHOWN._replace(allowed=True), flowing(5.0, 40.0), 0.5) is False


def test_another_source_is_named_where_the_relay_is_known_to_be_open() -> None:
    opened = {"relay_closed": False, "relay_at": START + 1.0}
    assert other_source(SHOWN, START + 60.0, flowing(5.0, 40.0, **opened), 0.5) is not None
    assert other_source(SHOWN, START + 60.0, flowing(5.0, 20.0, **opened), 0.5) is None
    assert other_source(SHOWN, START + 60.0, flowing(5.0, 40.0), 0.5) is not None
    assert other_source(SHOWN, START + 60.0, flowing(1.9, 40.0), 0.5) is None, "a fifth of what it was"
    closed = {"relay_closed": True, "relay_at": START - 5.0}
    assert other_source(SHOWN, START + 60.0, flowing(5.0, 40.0, **closed), 0.5) is None


def test_the_current_tells_nothing_of_a_moment_before_the_order() -> None:
    assert fallen(CUT, flowing(0.0, 0.0)) is None and fallen(CUT, flowing(0.0, 0.1)) is True


def followed(lock: Interlock, after: float, seen: Seen) -> tuple[Interlock, Outcomes]:
    outcomes: Outcomes = list(MARKERS)
    return follow_up(BANK, lock, START + after, seen, outcomes), outcomes


def test_a_repeat_leaves_before_everything_else() -> None:
    lock, outcomes = followed(CUT, 10.0, Seen())
    assert isinstance(outcomes[0], Order) and outcomes[0].action == "cut" and lock.repeated_at == START + 10.0
    assert followed(CUT, 9.9, Seen()) == (CUT, MARKERS)


def test_a_relay_that_closed_again_is_ordered_at_most_every_second_and_watched_anew() -> None:
    lock = SHOWN._replace(repeated_at=START + 24.0)
    again = Seen(relay_closed=True, relay_at=START + 24.1, current=7.0, current_at=START + 24.1)
    assert followed(lock, 24.9, again)[0] == lock
    after, outcomes = followed(lock, 25.0, again)
    assert isinstance(outcomes[0], Order) and outcomes[0].action == "cut"
    assert (after.order_at, after.repeated_at, after.closed_at) == (START + 25.0,) * 3
    assert (after.confirmed_at, after.current_before) == (0.0, 7.0)
    assert followed(lock, 60.0, said(True, 1.0))[0] == lock, "reported at the very moment of the evidence"
    assert followed(lock, 25.0, said(True, 24.1))[0].current_before == 0.0, "no current known"


def test_current_that_returns_where_the_relay_says_nothing_is_ordered_every_five_minutes() -> None:
    lock = SHOWN._replace(repeated_at=START)
    assert followed(lock, 299.9, flowing(9.0, 290.0))[0] == lock
    after, outcomes = followed(lock, 300.0, flowing(9.0, 290.0))
    assert isinstance(outcomes[0], Order) and outcomes[0].action == "cut" and after.repeated_at == START + 300.0
    assert followed(lock, 300.0, flowing(9.0, 1.0))[0] == lock, "that sample is the evidence itself"
    assert followed(lock, 300.0, flowing(1.9, 290.0))[0] == lock


def test_f83_current_that_goes_on_beside_a_relay_that_reports_open_is_ordered_after_10_20_40_seconds() -> None:
    lock = SHOWN._replace(repeated_at=START)
    unmoved = flowing(9.0, 9.5, relay_closed=False, relay_at=START + 1.0)
    assert followed(lock, 9.9, unmoved)[0] == lock
    after, outcomes = followed(lock, 10.0, unmoved)
    assert isinstance(outcomes[0], Order) and outcomes[0].action == "cut" and after.repeated_at == START + 10.0
    assert followed(after, 19.9, unmoved)[0] == after
    assert followed(after, 20.0, unmoved)[0].repeated_at == START + 20.0
    assert followed(lock, 300.0, flowing(7.9, 290.0, relay_closed=False, relay_at=START + 1.0))[0] == lock, "it fell"


def test_a_permit_and_a_proof_that_closes_are_not_followed_up() -> None:
    for lock in (CUT._replace(allowed=True), CUT._replace(proving="closing"), Interlock()):
        assert followed(lock, 60.0, Seen())[0] == lock


def test_how_long_a_cut_took_is_told_to_the_millisecond() -> None:
    outcomes: Outcomes = []
    lock = follow_up(BANK, CUT, START + 3.0, said(False, 1.23456), outcomes)
    assert lock == CUT._replace(confirmed_at=START + 1.23456)
    assert [each.detail for each in outcomes if isinstance(each, Event)] == [{"seconds": 1.235, "by": "relay"}]
