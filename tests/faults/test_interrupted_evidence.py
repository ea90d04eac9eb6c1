"""Interrupted or contradicted evidence is evidence: F74, F76 and F83, second by second through the rules' door."""

from __future__ import annotations

import pytest

from rules.bank.model import Meter
from rules.events import Reading
from tests.support.fold import PROBE, Fold, make_bank, ready

FAN = Meter("fan", "fan", source="cabin/fan", period=5.0)
SECOND = "electrolyte_temperature#2"
TWO = (Meter(SECOND, "electrolyte_temperature", source="cabin/probe2", period=10.0, placed="cell"),)


def seconds(fold: Fold, count: int, **values: tuple[float, float]) -> None:
    """Each second the first value of each meter, each thirtieth second the second."""
    for second in range(count):
        shown = {meter: pair[1] if second % 30 == 29 else pair[0] for meter, pair in values.items()}
        fold.wait(1, every=1, **shown)


def test_f74_amps_over_their_limit_for_29_of_every_30_seconds_trip() -> None:
    fold = ready()
    seconds(fold, 70, voltage=(28.0, 28.0), current=(40.0, 20.0), electrolyte_temperature=(25.0, 25.0))
    assert "over-current" in fold.lock.latched


def test_f74_amps_over_their_limit_for_a_third_of_the_time_do_not() -> None:
    fold = ready()
    for _ in range(10):
        fold.wait(10, every=1, voltage=28.0, current=40.0, **{PROBE: 25.0})
        fold.wait(20, every=1, voltage=28.0, current=20.0, **{PROBE: 25.0})
    assert not fold.lock.latched


def test_f74_a_fan_that_stands_for_29_of_every_30_seconds_trips() -> None:
    fold = ready(make_bank(more=(FAN,)), fan=1.0)
    seconds(fold, 70, voltage=(28.0, 28.0), current=(20.0, 20.0), electrolyte_temperature=(25.0, 25.0), fan=(0.0, 1.0))
    assert "gas" in fold.lock.latched


def test_f74_two_senders_on_one_topic_one_of_them_hot_trip() -> None:
    fold = ready(temperature=40.0)
    for second in range(1, 41):
        fold.wait(1, every=1, voltage=28.0, current=20.0, **{PROBE: 44.0 if second % 20 == 0 else 41.0})
    assert "over-temperature" in fold.lock.latched


def test_f74_a_single_hot_reading_among_cool_ones_is_forgotten_after_a_minute() -> None:
    fold = ready(temperature=41.0)
    for _ in range(5):
        fold.read(PROBE, 44.0)
        fold.wait(70, every=5, voltage=28.0, current=20.0, **{PROBE: 41.0})
    assert not fold.lock.latched and not fold.memory.pending


def test_f74_one_good_sample_does_not_clear_what_was_confirmed() -> None:
    fold = ready(temperature=41.0)
    for value in (44.0, 44.0, 43.0):
        fold.wait(1, every=1, **{PROBE: value})
    assert "is still there" in fold.act("reset")
    fold.wait(2, every=1, **{PROBE: 43.0})
    assert fold.act("reset") == ""


def test_f76_the_hotter_of_two_probes_that_goes_silent_withdraws_the_permit() -> None:
    for silent, other, allowed in ((PROBE, SECOND, False), (SECOND, PROBE, True)):
        fold = ready(make_bank(more=TWO), temperature=38.0, **{SECOND: 30.0})
        fold.wait(30, every=5, voltage=28.0, current=20.0, **{PROBE: 38.0, SECOND: 30.0})
        assert fold.lock.allowed
        fold.wait(120, every=5, voltage=28.0, current=20.0, **{other: 38.0 if other == PROBE else 30.0})
        assert "meter-silent" in fold.flags
        assert fold.lock.allowed is allowed, silent


@pytest.mark.parametrize(("back", "trips"), [(3000.0, True), (2 * 86400.0, False)])
def test_f76_a_late_reading_over_the_limit_still_counts_as_hot_and_one_of_days_ago_does_not(
    back: float, trips: bool
) -> None:
    fold = ready(temperature=40.0)
    for _ in range(3):  # the probe's clock went back: each reading is older than the newest that is known
        fold.at += 5.0
        fold.fold(Reading("north", PROBE, 44.0, fold.at, fold.at - back))
    assert ("over-temperature" in fold.lock.latched) is trips
    assert fold.memory.meters[PROBE].value == 40.0, "a late reading changes no state"


@pytest.mark.parametrize("proved", [True, False])
def test_f83_a_relay_that_reports_open_while_current_flows_is_ordered_again_and_the_words_say_pull_the_plug(
    proved: bool,
) -> None:
    fold = ready()
    fold.memory = fold.memory._replace(
        interlock=fold.lock._replace(proof=fold.lock.proof._replace(current_proved=proved), tried_at=fold.at)
    )
    fold.wait(1, every=1, **{PROBE: 44.0})
    fold.wait(1, every=1, **{PROBE: 44.0})
    ordered = fold.lock.order_at
    fold.read("relay_state", 0.0)
    fold.orders.clear()
    fold.wait(100, every=1, voltage=28.0, current=20.0, **{PROBE: 44.0})
    again = [round(order.at - ordered) for order in fold.orders]
    assert [order.action for order in fold.orders] == ["cut"] * len(again)
    assert again[:4] == [10, 20, 40, 80]
    assert ("relay-disobeys" if proved else "other-source") in fold.flags
    if proved:
        assert fold.derived is not None
        said = " ".join([fold.derived.next_step, *[flag.action for flag in fold.derived.flags]])
        assert "pull the charger's plug" in said.lower()
