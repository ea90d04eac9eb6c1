"""How old a value may be: three periods, between a minute and a quarter of an hour."""

from __future__ import annotations

import pytest

from rules.bank.model import Meter
from rules.meters.freshness import GRACE, ages, fresh, fresh_values, silence_limit
from rules.meters.plausible import NEVER, Trace
from tests.support.fold import CASE, PROBE, Fold, make_bank, ready

T = 1_795_590_000.0


@pytest.mark.parametrize(
    ("configured", "learned", "limit"),
    [(None, 0.0, 180.0), (10.0, 0.0, 60.0), (100.0, 5.0, 300.0), (None, 100.0, 300.0), (400.0, 0.0, 900.0)],
)
def test_silence_is_three_periods_within_bounds(configured: float | None, learned: float, limit: float) -> None:
    assert silence_limit(Meter("current", "current", period=configured), Trace(period=learned)) == limit


def by_chance(period: float, share: float) -> float:
    """The fewest samples that are lost in a row less than once in 200 days, counted one by one, and one more [s]."""
    row = 1
    while share**row * 86400.0 / period > 1.0 / 200.0:
        row += 1
    return (row + 1) * period


@pytest.mark.parametrize(
    ("period", "share", "bound"),
    [
        (60.0, 0.0049, 180.0),  # so little is chance
        (60.0, 0.005, None),
        (60.0, 0.08, None),
        (30.0, 0.01, None),
        (20.0, 0.02, None),
        (250.0, 0.05, None),
        (20.0, 0.005, None),
        (120.0, 0.1, None),
        (60.0, (0.999995 / 200.0 / 1440.0) ** (1.0 / 3.0), 240.0),  # three in a row just seldom enough
        (60.0, (1.000005 / 200.0 / 1440.0) ** (1.0 / 3.0), 300.0),  # and just not
        (10.0, 0.3, 90.0),  # nobody waits for more than nine periods
        (60.0, 0.75, 540.0),
        (60.0, 1.0, 540.0),  # nothing ever arrives
        (400.0, 0.05, 1800.0),  # nor for more than half an hour
        (900.0, 0.01, 1800.0),
    ],
)
def test_a_meter_that_loses_samples_may_be_silent_until_it_is_no_chance_any_more(
    period: float, share: float, bound: float | None
) -> None:
    limit = silence_limit(Meter("current", "current", period=period), Trace(lost=share))
    assert limit == pytest.approx(by_chance(period, share) if bound is None else bound)
    assert silence_limit(Meter("current", "current"), Trace(lost=share, period=period)) == limit


def test_a_value_is_fresh_up_to_its_limit_and_not_beyond() -> None:
    meter = Meter("current", "current", period=20.0)
    assert fresh(meter, Trace(1.0, T), T + 60.0)
    assert not fresh(meter, Trace(1.0, T), T + 60.1)
    assert not fresh(meter, NEVER, T) and not fresh(meter, None, T)
    assert not fresh(meter, Trace(1.0, T, retained=True), T)


def test_only_fresh_values_are_given_and_ages_are_told_of_the_freshest() -> None:
    bank = make_bank(more=(Meter(CASE, "electrolyte_temperature", period=10.0),))
    traces = {PROBE: Trace(25.0, T), CASE: Trace(30.0, T - 100.0)}
    assert fresh_values(bank, traces, "electrolyte_temperature", T + 1.0) == [25.0]
    assert ages(bank, traces, T + 1.0) == {"electrolyte_temperature": 1.0}
    assert ages(bank, traces, T + 2.26) == {"electrolyte_temperature": 2.3}, "to a tenth of a second"


def test_f09_a_meter_never_seen_is_excused_for_the_grace_time_but_the_permit_is_not() -> None:
    fold = Fold()
    fold.wait(GRACE, every=10, voltage=26.0, current=0.0)
    assert "meter-silent" not in fold.flags
    fold.wait(15, every=10, voltage=26.0, current=0.0)
    assert "never seen (cabin/probe)" in fold.memory.flags["meter-silent"].reason
    assert fold.derived is not None and not fold.derived.charge_allowed
    assert [order.action for order in fold.orders] == ["cut", *["cut"] * (len(fold.orders) - 1)]


def test_f08_freshness_is_per_quantity() -> None:
    fold = ready()
    fold.wait(80, every=10, voltage=28.0, current=20.0)
    assert fold.derived is not None and fold.derived.temperature is None and fold.derived.voltage == 28.0
    assert fold.derived.freshness["electrolyte_temperature"] > 60.0 > fold.derived.freshness["voltage"]


def test_one_of_two_probes_is_enough_for_the_permit_and_the_silent_one_is_told() -> None:
    fold = ready(make_bank(more=(Meter(CASE, "electrolyte_temperature", period=10.0, placed="case"),)))
    fold.read(CASE, 15.0)  # the cooler one: the hotter is needed, see f76
    fold.wait(120, every=10, voltage=28.0, current=20.0, **{PROBE: 25.0})
    assert fold.lock.allowed
    assert "electrolyte temperature (meter 2) (" in fold.memory.flags["meter-silent"].reason
