"""One reading into the memory: what counts as evidence, where the current comes from, and what is only an offset.

A charger gives AC volts x amps x power factor x efficiency to the bank; the gassing of a cell begins above 2.2 V (a
thousandth of the current below it). The offsets and ages are common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.bank.model import Meter
from rules.events import Reading, Unreadable
from rules.meters import SUSPECT
from rules.step.memory import view_of
from tests.support.fold import PROBE, Fold, make_bank, ready

WARM = {"voltage": 28.0, "current": 20.0, PROBE: 25.0}
HOT = 44.0


def hot(fold: Fold, after: float, *, lag: float = 0.0, value: float = HOT, retained: bool = False) -> None:
    """A reading of the probe that arrives after so many seconds and was true so long before [s]."""
    fold.at += after
    fold.fold(Reading("north", PROBE, value, fold.at, fold.at - lag, retained))


def warm(*, period: float = 10.0) -> Fold:
    """A bank just under its limit."""
    meters = tuple(replace(each, period=period) if each.name == PROBE else each for each in make_bank().meters)
    return ready(replace(make_bank(), meters=meters), temperature=42.0)


# ------------------------------------------------------------------------------------------------ evidence


@pytest.mark.parametrize(
    ("period", "lag", "counts"),
    [(10.0, 0.0, True), (10.0, 60.0, True), (10.0, 61.0, False), (100.0, 299.0, True), (100.0, 301.0, False)],
)
def test_a_hot_reading_counts_up_to_the_age_at_which_it_would_be_silence(
    period: float, lag: float, counts: bool
) -> None:
    fold = warm(period=period)
    trace = fold.memory.meters[PROBE]._replace(at=fold.at - 2000.0, period=0.0)
    fold.memory = fold.memory._replace(meters={**fold.memory.meters, PROBE: trace})
    hot(fold, 1.0, lag=lag)
    assert bool(fold.memory.pending) is counts
    hot(fold, 5.0, lag=lag)
    assert ("over-temperature" in fold.lock.latched) is counts


@pytest.mark.parametrize(("lag", "counts"), [(61.0, True), (3600.0, True), (3601.0, False)])
def test_what_comes_after_a_newer_one_and_was_hot_is_evidence_for_an_hour(lag: float, counts: bool) -> None:
    fold = warm()
    fold.read(PROBE, 42.0)
    for _ in range(2):
        hot(fold, 1.0, lag=lag)
    assert ("over-temperature" in fold.lock.latched) is counts
    assert fold.memory.meters[PROBE].value == 42.0, "it moves nothing else"


def test_late_ones_that_were_well_or_of_unknown_age_are_no_evidence() -> None:
    fold = warm()
    fold.read(PROBE, 42.0)
    for _ in range(3):
        hot(fold, 1.0, lag=100.0, value=41.0)
        hot(fold, 1.0, lag=100.0, retained=True)
    assert not fold.memory.pending and not fold.lock.latched
    fold.read("current", 20.0)
    for _ in range(3):
        fold.fold(Reading("north", "current", 90.0, fold.at, fold.at - 100.0))
    assert not fold.lock.latched, "a current that came late is no state of now"


def test_the_second_of_two_hot_readings_trips_at_once_and_one_alone_at_no_second() -> None:
    fold = warm()
    hot(fold, 1.0)
    assert not fold.lock.latched
    hot(fold, 5.0)
    assert fold.lock.latched["over-temperature"].at == fold.at and fold.orders[-1].action == "cut"


@pytest.mark.parametrize(
    ("second", "after", "trips"),
    [(44.0, 5.0, True), (47.0, 60.0, True), (41.0, 5.0, True), (47.1, 5.0, False), (44.0, 61.0, False)],
)
def test_a_startling_value_that_the_next_bears_out_was_the_first_of_the_two(
    second: float, after: float, trips: bool
) -> None:
    # 14 K within seconds no electrolyte can do; a case may be at 40 degC.
    case = Meter("case", "electrolyte_temperature", source="cabin/case", period=10.0, placed="case")
    fold = ready(make_bank(more=(case,)), case=30.0)
    fold.at += 1.0
    fold.read("case", 44.0)
    assert fold.memory.meters["case"].quality == SUSPECT and not fold.lock.latched
    fold.at += after
    fold.read("case", second)
    assert ("over-temperature" in fold.lock.latched) is trips


@pytest.mark.parametrize("doubted", [[-60.0], [44.0, 36.0]])
def test_a_value_that_nobody_believed_bears_out_none_that_is_unlike_it_or_came_after_a_good_one(
    doubted: list[float],
) -> None:
    case = Meter("case", "electrolyte_temperature", source="cabin/case", period=10.0, placed="case")
    fold = ready(make_bank(more=(case,)), case=36.0)
    for value in [*doubted, 41.0]:
        fold.at += 5.0
        fold.read("case", value)
    assert fold.memory.meters["case"].value == 41.0 and fold.memory.pending and not fold.lock.latched


def test_a_probe_whose_clock_is_an_hour_slow_trips_as_soon_as_that_is_sure() -> None:
    fold = Fold(make_bank())
    for _ in range(4):
        hot(fold, 10.0, lag=5000.0, value=42.0)
    assert fold.memory.meters[PROBE].clock_off == -5000.0
    hot(fold, 10.0, lag=5000.0)
    assert fold.memory.pending and not fold.lock.latched
    hot(fold, 10.0, lag=5000.0)
    assert "over-temperature" in fold.lock.latched


def test_good_readings_end_what_one_hot_one_began() -> None:
    fold = warm()
    hot(fold, 1.0)
    assert fold.memory.pending
    for _ in range(7):
        hot(fold, 10.0, value=42.0)
    assert not fold.memory.pending and not fold.lock.latched


def test_a_voltage_over_its_limit_does_not_end_by_a_good_temperature() -> None:
    fold = ready()
    fold.read("voltage", 34.0)
    fold.at += 1.0
    fold.read(PROBE, 25.0)
    fold.at += 1.0
    fold.read("voltage", 34.0)
    assert "over-voltage" in fold.lock.latched


def test_what_the_relay_says_is_judged_at_once() -> None:
    fold = ready()
    fold.at += 2.0
    fold.read("relay_state", 0.0)
    assert fold.memory.judged_at == fold.at
    fold.at += 0.5
    fold.read("current", 0.0)
    hot(fold, 0.0, lag=30.0, value=24.0)
    assert fold.memory.judged_at == fold.at - 0.5, "a current waits for the second, and so does what came late"
    for name, value in (("voltage", 27.0), ("current", 19.0)):
        fold.memory = fold.memory._replace(sampled=False)
        fold.read(name, value)
        assert fold.memory.sampled, "at which it is looked at"


def test_a_message_that_cannot_be_read_leaves_the_value_and_says_since_when() -> None:
    fold = ready()
    before = fold.memory.meters["voltage"]
    for n in range(2):
        fold.at += 5.0
        fold.fold(Unreadable("north", "voltage", fold.at, "no key 'volts'"))
        trace = fold.memory.meters["voltage"]
        assert (trace.value, trace.at, trace.quality, trace.reason) == (
            before.value,
            before.at,
            SUSPECT,
            "no key 'volts'",
        )
        assert (trace.suspect_since, trace.doubtful_at) == (fold.at - 5.0 * n, fold.at)
    fold.fold(Unreadable("north", "hall", fold.at, "no key 'amps'"))
    assert fold.memory.meters["hall"].suspect_since == fold.at


# ----------------------------------------------------------------------------------- where the current comes from

STRINGS = (Meter("s1", "string_current", index="1", period=10.0), Meter("s2", "string_current", index="2", period=10.0))
POWER = Meter("watts", "power", period=10.0)
AC = (
    Meter("va", "ac_power", period=10.0),
    Meter("outlet", "ac_voltage", period=10.0),
    Meter("plug", "ac_current", period=10.0),
)


def without_shunt(*more: Meter, strings: int = 1) -> Fold:
    plain = make_bank(relay=None, strings=strings, more=more)
    fold = Fold(replace(plain, meters=tuple(meter for meter in plain.meters if meter.name != "current")))
    fold.read("voltage", 28.0)
    return fold


def test_the_shunt_is_read_less_its_zero() -> None:
    fold = Fold(replace(make_bank(relay=None), zero_offset=0.5))
    fold.memory = fold.memory._replace(counters=fold.memory.counters._replace(zero=0.2))
    fold.read("current", 20.0)
    counters = fold.memory.counters
    assert counters.current == pytest.approx(19.3) and not counters.estimated and not counters.by_hand


def test_strings_make_the_current_only_where_every_one_is_known() -> None:
    fold = without_shunt(*STRINGS, strings=2)
    fold.read("s1", 12.0)
    assert fold.memory.counters.current_at == 0.0
    fold.read("s2", 9.5)
    assert fold.memory.counters.current == pytest.approx(21.5) and not fold.memory.counters.estimated
    fold.at += 100.0
    fold.read("s1", 3.0)
    assert fold.memory.counters.current == pytest.approx(21.5), "the other one is silent"


def test_power_and_the_charger_s_outlet_tell_the_current_where_nothing_better_does() -> None:
    fold = without_shunt(POWER, *AC)
    fold.read("plug", 6.0)
    assert fold.memory.counters.current_at == 0.0, "without the outlet's volts its amps say nothing"
    fold.read("outlet", 115.0)
    fold.read("plug", 6.0)
    assert fold.memory.counters.current == pytest.approx(115.0 * 6.0 * 0.99 * 0.88 / 28.0)
    fold.read("va", 700.0)
    assert fold.memory.counters.current == pytest.approx(700.0 * 0.88 / 28.0)
    fold.read("watts", 588.0)
    assert fold.memory.counters.current == pytest.approx(21.0) and fold.memory.counters.estimated
    fold.read("va", 100.0)
    fold.read("plug", 1.0)
    assert fold.memory.counters.current == pytest.approx(21.0), "what is more direct stands"
    fold.at += 100.0
    fold.read("va", 100.0)
    assert fold.memory.counters.current == pytest.approx(100.0 * 0.88 / 28.0), "until it falls silent"


def test_of_two_outlets_the_first_counts() -> None:
    fold = without_shunt(*AC, Meter("other", "ac_voltage", period=10.0))
    fold.read("outlet", 115.0)
    fold.read("other", 230.0)
    fold.read("plug", 6.0)
    assert fold.memory.counters.current == pytest.approx(115.0 * 6.0 * 0.99 * 0.88 / 28.0)


@pytest.mark.parametrize("amps", [(0.0, 0.0), (-3.0, -1.0), (0.0, -2.0)])
def test_strings_that_take_nothing_have_no_shares(amps: tuple[float, float]) -> None:
    fold = Fold(make_bank(relay=None, strings=2, more=STRINGS))
    fold.read("voltage", 25.0)
    for _ in range(2):
        fold.read("s1", amps[0])
        fold.read("s2", amps[1])
        fold.read("current", 10.0)
        fold.at += 36.0
    assert fold.memory.counters.string_charge == pytest.approx((0.05, 0.05)), "equal parts of what the shunt tells"


def test_a_current_that_ends_is_counted_to_its_end_and_an_offset_is_not() -> None:
    for last, charge in ((0.0, 0.1), (0.5, 0.0)):
        fold = Fold(make_bank())
        fold.read("relay_state", 0.0)
        fold.read("voltage", 25.0)
        fold.read("current", 20.0)
        fold.at += 36.0
        fold.read("current", last)
        assert fold.memory.counters.charge == pytest.approx(charge)


@pytest.mark.parametrize(("volts", "known"), [(0.0, False), (1.0, False), (1.1, True), (28.0, True)])
def test_no_current_is_reckoned_from_power_while_the_voltmeter_starts(volts: float, known: bool) -> None:
    fold = without_shunt(POWER)
    fold.read("voltage", volts)
    fold.read("watts", 50.0)
    assert (fold.memory.counters.current_at > 0.0) is known


@pytest.mark.parametrize(
    ("amps", "shares"),
    [((15.0, 5.0), (0.75, 0.25)), ((15.0, -5.0), (1.0, 0.0)), ((10.0, None), (0.5, 0.5)), ((0.4, 0.2), (2 / 3, 1 / 3))],
)
def test_strings_are_charged_with_what_they_take(amps: tuple[float, float | None], shares: tuple[float, float]) -> None:
    fold = Fold(make_bank(relay=None, strings=2, more=STRINGS))
    fold.read("voltage", 25.0)
    for _ in range(2):
        for name, value in zip(("s1", "s2"), amps, strict=True):
            if value is not None:
                fold.read(name, value)
        fold.read("current", 10.0)
        fold.at += 36.0
    # Ten amperes for 36 s are a tenth of an ampere-hour.
    assert fold.memory.counters.charge == pytest.approx(0.1)
    assert fold.memory.counters.string_charge == pytest.approx(tuple(0.1 * share for share in shares))


@pytest.mark.parametrize(
    ("volts", "celsius", "amps", "gas"),
    [
        (12 * 2.19, 25.0, 20.0, 0.0),
        (12 * 2.20, 25.0, 20.0, 0.0),
        (12 * 2.67, 45.0, 6.0, 1.0),  # all of it
        (12 * 2.67, 45.0, -6.0, 0.0),
        (12 * 2.67, None, 6.0, 1.0),
    ],
)
def test_gas_is_counted_above_2_2_volts_per_cell(volts: float, celsius: float | None, amps: float, gas: float) -> None:
    fold = Fold(make_bank(relay=None))
    for _ in range(2):
        fold.read("voltage", volts)
        if celsius is not None:
            fold.read(PROBE, celsius)
        fold.read("current", amps)
        fold.at += 36.0
    assert fold.memory.counters.gassing == pytest.approx(gas * 0.01 * amps, abs=1e-9)


def test_a_warmer_cell_gasses_more() -> None:
    made = []
    for celsius in (10.0, 25.0, 40.0):
        fold = Fold(make_bank(relay=None))
        for _ in range(2):
            fold.read("voltage", 12 * 2.28)
            fold.read(PROBE, celsius)
            fold.read("current", 20.0)
            fold.at += 36.0
        made.append(fold.memory.counters.gassing)
    assert made == sorted(made) and made[0] < made[1] < made[2]
    unknown = Fold(make_bank(relay=None))
    for _ in range(2):
        unknown.read("voltage", 12 * 2.28)
        unknown.read("current", 20.0)
        unknown.at += 36.0
    assert unknown.memory.counters.gassing == pytest.approx(made[1]), "where nobody knows, at 25 degC"


@pytest.mark.parametrize(
    ("relay", "volts", "amps", "counted"),
    [
        (0.0, 25.0, 4.0, False),  # 2 % of 200 Ah, and the relay is open
        (0.0, 25.0, 4.1, True),
        (1.0, 25.0, 0.8, False),  # 1.6 times the half ampere from which it counts as charging
        (1.0, 25.0, 0.9, True),
        (None, 25.0, 0.8, False),
        (None, 25.0, 0.9, True),
        (0.0, 26.5, 4.0, True),  # 2.21 V per cell: a charger stands behind it
        (0.0, 12 * 2.20, 4.0, True),
        (0.0, 26.3, 4.0, False),
        (1.0, 26.5, 0.8, True),
        (0.0, 25.0, -4.0, True),  # what is drawn is drawn
    ],
)
def test_a_little_current_at_a_voltage_that_no_charger_holds_is_the_meter_s_offset(
    relay: float | None, volts: float, amps: float, counted: bool
) -> None:
    fold = Fold(make_bank())
    for _ in range(2):
        if relay is not None:
            fold.read("relay_state", relay)
        fold.read("voltage", volts)
        fold.read("current", amps)
        fold.at += 36.0
    counters = fold.memory.counters
    assert counters.current == amps, "shown all the same"
    assert (counters.charge + counters.discharge > 0.0) is counted


def test_a_relay_whose_report_is_of_unknown_age_or_that_is_none_of_ours_is_not_seen_open() -> None:
    for bank, retained in (
        (make_bank(), True),
        (make_bank(relay=None, more=(Meter("relay_state", "relay_state"),)), False),
    ):
        fold = Fold(bank)
        fold.read("relay_state", 0.0, retained=retained)
        for _ in range(2):
            fold.read("voltage", 25.0)
            fold.read("current", 2.0)
            fold.at += 36.0
        assert fold.memory.counters.charge == pytest.approx(0.02)


def test_a_retained_value_is_kept_until_something_fresh_comes_and_then_never_again() -> None:
    fold = Fold()
    fold.read("current", 20.0, retained=True)
    assert fold.memory.meters["current"].retained and fold.memory.counters.current_at == 0.0
    fold.read("current", 15.0)
    fold.at += 1.0
    fold.read("current", 20.0, retained=True)
    assert fold.memory.meters["current"].value == 15.0 and not fold.memory.meters["current"].retained


def test_a_meter_whose_clock_is_slow_is_dated_by_arrival_from_the_fourth_sample_on() -> None:
    fold = Fold()
    ages = []
    for _ in range(5):
        fold.at += 10.0
        fold.fold(Reading("north", "voltage", 28.0, fold.at, fold.at - 3600.0))
        ages.append(fold.at - fold.memory.meters["voltage"].at)
    assert ages == [3600.0, 3600.0, 3600.0, 0.0, 0.0]
    fold.at += 10.0
    fold.read("voltage", 28.0)
    assert fold.memory.meters["voltage"].clock_off == 0.0
    fold.fold(Reading("north", "voltage", 28.0, fold.at, fold.at, stamp_off=-86400.0))
    assert fold.memory.meters["voltage"].clock_off == -86400.0


# ------------------------------------------------------------------------------------------------ what the relay said


def test_a_relay_that_moved_while_nobody_listened_is_not_known_any_more_and_is_told_to_open_again() -> None:
    fold = ready()
    assert view_of(fold.bank, fold.memory, fold.at).relay_closed is True
    fold.read("relay_state", 1.0, retained=True)
    assert view_of(fold.bank, fold.memory, fold.at).relay_closed is True, "the broker keeps what was heard"
    fold.read("relay_state", 0.0, retained=True)
    view = view_of(fold.bank, fold.memory, fold.at)
    assert view.relay_closed is None and view.relay_at == 0.0
    fold.read("relay_state", 1.0)
    assert view_of(fold.bank, fold.memory, fold.at).relay_closed is True
