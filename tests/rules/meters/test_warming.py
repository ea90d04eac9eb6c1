"""Five-minute means of warmth and current, and what they say: when it warms too fast, and when it runs away.

3 K make about a fifth more gassing current, 6 % a kelvin: Schiffer and others, J. Power Sources 168 (2007) 66. The
rates that warn and trip, 5 and 8 K/h, are common practice, no source; the slow form's numbers are assumed.
"""

from __future__ import annotations

import pytest

from rules.advice.findings import findings
from rules.bank_view import look
from rules.hand import HandLog
from rules.meters import Counters, warming
from rules.meters.warming import Step, Thermal, observe, warming_too_fast
from rules.phase import PhaseMemory
from tests.support.fold import make_bank

AT = 1_795_590_000.0


def watched(
    minutes: int,
    *,
    celsius: float = 30.0,
    warms: float = 0.0,
    amps: float | None = 5.0,
    grows: float = 0.0,
    volts: float | None = 2.67,
    standing: bool = True,
    before: Thermal | None = None,
) -> Thermal:
    """Look once a minute: so many kelvins and amperes more in each hour."""
    thermal = Thermal(opened_at=AT) if before is None else before
    begin = max(AT, thermal.opened_at)
    for minute in range(1, minutes + 1):
        hours = minute / 60.0
        current = None if amps is None else amps + grows * hours
        thermal = observe(thermal, begin + 60.0 * minute, celsius + warms * hours, current, volts, standing)
    return thermal


def stepped(points: list[tuple[float, float, float]], lowest: float, halves: tuple[Step, ...] = ()) -> Thermal:
    """Means every five minutes: temperature, amps, volts per cell."""
    steps = tuple(Step(AT + 300.0 * n, *point) for n, point in enumerate(points))
    return Thermal(steps=steps, opened_at=steps[-1].at, lowest=lowest, halves=halves)


# -------------------------------------------------------------------------------------------------------- the memory


def test_every_five_minutes_become_one_mean() -> None:
    thermal = watched(5, celsius=30.0, warms=6.0, amps=4.0, grows=12.0)
    assert [step.at for step in thermal.steps] == [AT + 300.0]
    # minutes 1 to 5: the mean of minute 3
    assert thermal.steps[0].excess == pytest.approx(30.3) and thermal.steps[0].current == pytest.approx(4.6)
    assert thermal.steps[0].volts == pytest.approx(2.67)
    assert (thermal.looks, thermal.excess, thermal.current, thermal.volts) == (0, 0.0, 0.0, 0.0)
    assert watched(4).steps == () and watched(4).looks == 4


def test_two_hours_are_kept_and_a_little_more() -> None:
    thermal = watched(200)
    assert len(thermal.steps) == 26 and thermal.steps[-1].at == AT + 200 * 60.0
    assert [round((each.at - AT) / 60.0) for each in thermal.halves][:3] == [5, 35, 65]
    assert len(watched(12 * 60).halves) == 13


def test_without_a_temperature_nothing_is_known_and_after_a_gap_it_begins_anew() -> None:
    before = watched(30)
    assert observe(before, before.opened_at + 60.0, None, 5.0, 2.67, True) is before
    after = observe(before, before.opened_at + 1200.0, 30.0, 5.0, 2.67, True)
    assert len(after.steps) == 7, "twenty minutes are still one step"
    after = observe(before, before.opened_at + 1201.0, 30.0, 5.0, 2.67, True)
    assert after.steps == () and after.opened_at == before.opened_at + 1201.0
    old = before._replace(with_ambient=True)
    assert observe(old, before.opened_at + 60.0, 30.0, 5.0, 2.67, True).steps == ()


def test_a_voltage_that_nobody_sees_counts_as_none() -> None:
    assert watched(5, volts=None).steps[0].volts == 0.0


def test_the_lowest_half_hour_is_kept_while_the_voltage_stands() -> None:
    assert watched(25).lowest == 0.0
    assert watched(30, amps=5.0).lowest == pytest.approx(5.0)
    fell = watched(60, amps=6.0, before=watched(60, amps=8.0))
    assert fell.lowest == pytest.approx(6.0)
    assert watched(60, amps=9.0, before=fell).lowest == pytest.approx(6.0)
    assert watched(60, amps=3.0, standing=False, before=fell).lowest == 0.0


@pytest.mark.parametrize(("after", "found"), [(17.0, None), (21.0, (21.0, 17.0)), (23.0, (23.0, 17.0))])
def test_a_silent_ammeter_makes_no_lowest_and_hides_none(after: float, found: tuple[float, float] | None) -> None:
    """It falls silent at 17 A for an hour in which the electrolyte warms by 2 K; then it speaks again."""
    before = watched(60, amps=17.0)
    silent = watched(58, amps=None, warms=2.0, before=watched(2, amps=17.0, before=before))
    assert silent.lowest == pytest.approx(17.0) and silent.steps[-1].current == pytest.approx(17.0)
    again = watched(40, celsius=32.0, warms=2.0, amps=after, before=silent)
    assert again.lowest == pytest.approx(17.0)
    assert warming.runaway(again, True, True) == (None if found is None else pytest.approx(found))


def test_where_nobody_measures_the_current_it_counts_as_none() -> None:
    assert watched(40, amps=None).steps[-1].current == 0.0


def test_at_a_voltage_that_moves_nothing_is_the_lowest() -> None:
    moved = watched(30, amps=3.0, volts=2.60, before=watched(30, amps=5.0))
    assert watched(5, amps=3.0, volts=2.60, before=watched(30, amps=5.0)).lowest == pytest.approx(5.0)
    assert moved.lowest == pytest.approx(3.0), "half an hour later it stands again"


# ------------------------------------------------------------------------------------------------------ warms too fast


@pytest.mark.parametrize(
    ("warms", "minutes", "trips"),
    [(8.0, 60, False), (8.1, 60, True), (20.0, 34, False), (20.0, 35, True), (-20.0, 60, False), (0.0, 60, False)],
)
def test_more_than_eight_kelvin_an_hour_for_half_an_hour_trip(warms: float, minutes: int, trips: bool) -> None:
    rate = warming_too_fast(watched(minutes, warms=warms))
    assert (rate is not None) is trips
    if rate is not None:
        assert rate == pytest.approx(warms)


def test_the_rate_needs_ten_minutes_and_looks_back_half_an_hour() -> None:
    assert watched(10, warms=6.0).rate is None
    assert watched(15, warms=6.0).rate == pytest.approx(6.0)
    first = watched(5)
    second = observe(first, first.opened_at + 700.0, 40.0, 5.0, 2.67, True)
    assert len(second.steps) == 2 and second.rate is None, "two means are too few, however far apart"
    slower = watched(30, celsius=36.0, warms=2.0, before=watched(60, warms=6.0))
    # From the mean about minute 58 to that about minute 88: 35.8 and 36.93 degC.
    assert slower.rate == pytest.approx(2.267, abs=0.01)


def test_a_jump_that_does_not_go_on_is_no_warming() -> None:
    jumped = watched(20, celsius=36.0, before=watched(60))
    assert jumped.rate is not None and jumped.rate > 8.0
    assert warming_too_fast(jumped) is None
    # every ten minutes of the half hour it must have gone on by half of the limit
    pieces = [0.0, 1.0, 2.0, 2.0 + 0.34, 2.0 + 0.67, 4.0, 5.0]
    steps = tuple(Step(AT + 300.0 * n, 30.0 + kelvins, 5.0, 2.67) for n, kelvins in enumerate(pieces))
    assert warming_too_fast(Thermal(steps=steps, rate=10.0)) == 10.0
    slack = (*steps[:3], steps[3]._replace(excess=32.3), steps[4]._replace(excess=32.6), *steps[5:])
    assert warming_too_fast(Thermal(steps=slack, rate=10.0)) is None


#: Half of 8 K/h over ten minutes [K].
TEN_MINUTES = 0.5 * 8.0 / 3600.0 * 600.0


@pytest.mark.parametrize(
    ("kelvins", "trips"),
    [
        # Every five minutes, from 0 degC on. By 4 K/h it must have gone on, and no less.
        ([0.0, 0.1, TEN_MINUTES, 1.0, 3.0, 3.1, 5.0], True),
        ([0.0, 0.1, 0.6666, 1.0, 3.0, 3.1, 5.0], False),
        # What was before this half hour says nothing, and the newest ten minutes count.
        ([1.0, 0.4, 1.1, 1.5, 2.0, 2.6, 3.0, 3.7], True),
        ([0.0, 0.4, 1.1, 1.5, 2.0, 2.6, 3.0, 2.9], False),
    ],
)
def test_each_ten_minutes_of_the_last_half_hour_must_have_gone_on(kelvins: list[float], trips: bool) -> None:
    steps = tuple(Step(AT + 300.0 * n, each, 5.0, 2.67) for n, each in enumerate(kelvins))
    assert (warming_too_fast(Thermal(steps=steps, rate=9.0)) is not None) is trips


@pytest.mark.parametrize(("rate", "warns"), [(5.0, False), (5.1, True), (7.9, True), (-6.0, False), (None, False)])
def test_more_than_five_kelvin_an_hour_are_said_before_anything_trips(rate: float | None, warns: bool) -> None:
    bank = make_bank()
    seen = look(bank, {}, Counters(), AT)
    told = findings(bank, {}, seen, Thermal(rate=rate), PhaseMemory(), HandLog(), frozenset(), AT)
    assert ("temperature-rising-fast" in told) is warns


# ------------------------------------------------------------------------------------------------------- runs away


def runaway(thermal: Thermal) -> tuple[float, float] | None:
    """Below the equalising voltage, where other strings may wake."""
    return warming.runaway(thermal, peaked=True, held=False)


def climbing(kelvins: float, first: float, last: float, count: int = 25) -> list[tuple[float, float, float]]:
    share = [n / (count - 1) for n in range(count)]
    return [(30.0 + kelvins * each, first + (last - first) * each, 2.67) for each in share]


@pytest.mark.parametrize(
    ("kelvins", "last", "lowest", "runs"),
    [
        (3.1, 6.0, 4.0, True),  # over its lowest by more than 30 %
        (3.0, 6.0, 4.0, True),
        (2.9, 6.0, 4.0, False),  # and not warm enough
        (3.1, 6.4, 5.0, True),  # within the two hours by more than 18 %
        (3.1, 5.5, 5.0, False),
        (3.1, 6.0, 0.0, False),  # never stood at a ceiling
    ],
)
def test_three_kelvin_and_a_growing_current_run_away(kelvins: float, last: float, lowest: float, runs: bool) -> None:
    assert (runaway(stepped(climbing(kelvins, 5.0, last), lowest)) is not None) is runs


def test_it_is_told_with_the_mean_of_half_an_hour_and_what_it_is_held_against() -> None:
    found = runaway(stepped(climbing(4.0, 5.0, 5.0)[:19] + [(34.0, 8.0, 2.67)] * 6, 5.0))
    assert found is not None and list(found) == pytest.approx([8.0, 5.0])
    found = runaway(stepped([(30.0, 5.0, 2.67)] * 8 + [(33.5, 6.0, 2.67)] * 17, 5.0))
    assert found is not None and list(found) == pytest.approx([6.0, 5.0]), "against how the two hours began"


def test_a_voltage_that_was_turned_up_is_no_runaway() -> None:
    up = climbing(4.0, 5.0, 8.0)
    up[-2:] = [(celsius, amps, volts + 0.04) for celsius, amps, volts in up[-2:]]
    assert runaway(stepped(up, 5.0)) is None
    assert runaway(stepped(climbing(4.0, 5.0, 8.0)[-5:], 5.0)) is None, "half an hour is needed"
    lower = [(celsius, amps, 2.60 if n < 12 else 2.67) for n, (celsius, amps, _) in enumerate(climbing(4.0, 5.0, 6.4))]
    assert runaway(stepped(lower, 5.0)) is None, "what flowed at another voltage is not compared"


def test_what_the_air_did_before_two_hours_ago_is_forgotten() -> None:
    since = [Step(AT + 300.0 * n, 30.0, 7.0, 2.67) for n in range(25)]
    for before, runs in ((300.0, True), (301.0, False)):
        cold = Step(AT - before, 20.0, 5.0, 2.67)
        assert (runaway(Thermal(steps=(cold, *since), lowest=5.0)) is not None) is runs


def halves(kelvins: list[float], volts: float = 2.67) -> tuple[Step, ...]:
    return tuple(Step(AT - 21600.0 + 1800.0 * n, 30.0 + each, 5.0, volts) for n, each in enumerate(kelvins))


@pytest.mark.parametrize(
    ("kelvins", "amps", "runs"),
    [
        ([0.2 * n for n in range(13)], 10.1, True),
        ([0.2 * n for n in range(13)], 10.0, True),
        ([*[0.0] * 10, 0.2, 0.6, 1.0], 10.1, False),  # it warms on, and is hardly warmer
        ([0.0, *[1.0] * 9, 1.5, 1.75, 2.1], 10.1, True),
        ([*[0.0] * 9, 1.5, 1.9, 1.95, 2.1], 10.1, False),  # in its last hour it warms no more
        ([*[0.0] * 4, *[1.0] * 6, 1.5, 1.75, 2.0], 10.1, True),
        ([0.2 * n for n in range(13)], 9.9, False),  # not doubled
        ([0.2 * n for n in range(12)], 10.1, False),  # six hours are not over
        ([0.1 * n for n in range(13)], 10.1, False),  # hardly warmer
        ([0.3 * min(n, 8) for n in range(13)], 10.1, False),  # and warms no more
    ],
)
def test_slowly_it_runs_away_by_doubling_while_it_still_warms(kelvins: list[float], amps: float, runs: bool) -> None:
    now = 30.0 + kelvins[-1]
    thermal = stepped([(now, amps, 2.67)] * 25, 5.0, halves(kelvins))
    assert (runaway(thermal) is not None) is runs
    assert runaway(stepped([(now, amps, 2.67)] * 25, 5.0, halves(kelvins, 2.71))) is None


def test_at_the_very_limit_it_runs_away() -> None:
    level = [(celsius, 6.5, volts) for celsius, _, volts in climbing(3.1, 5.0, 5.0)]
    assert runaway(stepped(level, 5.0)) == (6.5, 5.0)
    assert runaway(stepped(climbing(4.0, 8.0, 8.0, count=6), 5.0)) is not None, "half an hour is enough"
    together = [(30.0, 50.0, 2.67)] * 8 + [(33.5, 59.0, 2.67)] * 17  # 18 % more, by 50 A over the lowest and before
    assert runaway(stepped(together, 50.0)) == (59.0, 50.0)
    # Six of the first seven means at this voltage are enough to compare with, five are not.
    for others, runs in ((1, True), (2, False)):
        points = [(30.0, 5.0, 2.60 if n < others else 2.67) for n in range(7)]
        points += [(33.5, 6.2, 2.67)] * 18
        assert (runaway(stepped(points, 5.0)) is not None) is runs


def test_six_means_are_no_half_hour_however_far_apart() -> None:
    steps = tuple(Step(AT + 400.0 * n, 30.0 + n, 5.0, 2.67) for n in range(6))
    assert warming_too_fast(Thermal(steps=steps, rate=9.0)) is None


def test_a_small_bank_runs_away_at_small_currents() -> None:
    assert runaway(stepped(climbing(3.1, 1.0, 1.8), 1.0)) is not None
    assert runaway(stepped([(30.0, 1.0, 2.67)] * 8 + [(33.5, 1.25, 2.67)] * 17, 1.0)) == (1.25, 1.0)


def test_a_current_must_have_grown_over_its_lowest_and_over_how_the_two_hours_began() -> None:
    assert runaway(stepped([(30.0, 6.0, 2.67)] * 8 + [(33.5, 6.2, 2.67)] * 17, 5.0)) is None
    assert runaway(stepped([(30.0, 4.0, 2.67)] * 8 + [(33.5, 5.0, 2.67)] * 17, 5.5)) is None


def test_the_newest_mean_is_what_it_is_now() -> None:
    warmest = stepped([(31.0, 10.1, 2.67)] * 24 + [(32.4, 10.1, 2.67)], 5.0, halves([0.2 * n for n in range(13)]))
    assert runaway(warmest) is not None
    steps = tuple(Step(AT + 1799.0 * n / 6.0, 30.0 + n, 5.0, 2.67) for n in range(7))
    assert warming_too_fast(Thermal(steps=steps, rate=9.0)) == 9.0, "a second of half an hour may be missing"
    short = tuple(Step(AT + 1798.5 * n / 6.0, 30.0 + n, 5.0, 2.67) for n in range(7))
    assert warming_too_fast(Thermal(steps=short, rate=9.0)) is None


def test_what_flowed_before_is_compared_at_the_voltage_of_now() -> None:
    # It crept up by 0.04 V in all: what flowed two hours ago was another voltage's.
    crept = [(30.0, 5.0, 2.64)] * 8 + [(33.5, 6.0, 2.66)] * 16 + [(33.5, 6.0, 2.68)]
    assert runaway(stepped(crept, 5.0)) is None
    assert runaway(stepped([*crept[:-1], crept[-2]], 5.0)) == (6.0, 5.0)


def test_in_the_last_hour_of_six_it_warms_on_by_a_third_of_a_kelvin() -> None:
    # A shed at the freezing point: -1.8 degC six hours ago, 0 degC an hour ago.
    for now, runs in ((0.3, True), (0.29, False)):
        cold = tuple(Step(AT - 21600.0 + 1800.0 * n, -1.8 if n < 10 else 0.0, 5.0, 2.67) for n in range(13))
        assert (runaway(stepped([(now, 10.1, 2.67)] * 25, 5.0, cold)) is not None) is runs


def test_before_the_first_look_nothing_is_remembered() -> None:
    assert all(each in ((), 0.0, None, {}) for each in Thermal())


# ------------------------------------------------------------------------- where the equalising voltage is held


def held(
    kelvins: float, growth: float, *, hours: float = 5.0, still: float = 0.5, volts: float = 2.67, before: float = 2.67
) -> bool:
    """Whether it runs away: from 20 A at its lowest so many hours ago by so much, and warmer by so many kelvins."""
    count = round(2.0 * hours)
    halves = []
    for n in range(count + 1):
        share = n / count
        warm = 25.0 + (kelvins - still) * share / (1.0 - 2.0 / count)
        if n > count - 2:
            warm = 25.0 + kelvins - still * (count - n) / 2.0
        at = AT + 1800.0 * n
        halves.append(Step(at, warm, 20.0 * (1.0 + (growth - 1.0) * share), before if n < count - 2 else volts))
    now = Step(halves[-1].at, 25.0 + kelvins, 20.0 * growth, volts)
    steps = tuple(now._replace(at=now.at - 300.0 * k) for k in reversed(range(6)))
    return warming.runaway(Thermal(steps=steps, lowest=20.0, halves=tuple(halves)), peaked=True, held=True) is not None


@pytest.mark.parametrize(
    ("kelvins", "growth", "runs"),
    [
        (3.0, 1.42, True),  # 3 K explain 20 %
        (3.0, 1.40, False),
        (2.9, 1.60, False),
        (5.0, 1.60, True),
        (5.0, 1.58, False),  # 5 K explain 35 %: the day was warm
        (2.0, 2.01, True),  # doubled
        (1.9, 2.01, False),
        (2.1, 1.98, False),
    ],
)
def test_where_it_is_held_a_current_that_grows_beyond_what_the_warmth_explains_runs_away(
    kelvins: float, growth: float, runs: bool
) -> None:
    assert held(kelvins, growth) is runs


def test_a_bank_that_wakes_late_doubles_its_current_and_warms_and_does_not_run_away() -> None:
    climb = tuple(Step(AT + 1800.0 * n, 21.0 + 0.2 * n, 5.0 + 2.0 * n, 2.65) for n in range(13))
    steps = tuple(climb[-1]._replace(at=climb[-1].at - 300.0 * k) for k in reversed(range(6)))
    thermal = Thermal(steps=steps, lowest=5.0, halves=climb)
    assert warming.runaway(thermal, peaked=False, held=True) is None
    assert warming.runaway(thermal, peaked=True, held=True) is not None


def test_growth_that_has_ended_or_came_with_more_volts_is_none() -> None:
    assert held(3.5, 1.6)
    assert not held(3.5, 1.6, still=0.2), "it no longer warms"
    assert not held(3.5, 1.6, before=2.60), "the charger was raised an hour ago"
    steps = tuple(Step(AT + 300.0 * n, 28.0, 32.0, 2.67) for n in range(6))
    assert warming.runaway(Thermal(steps=steps, lowest=20.0), peaked=True, held=True) is None, (
        "nothing is known of the hours before"
    )


def test_a_charger_that_is_raised_begins_a_new_taper_and_one_that_is_lowered_does_not() -> None:
    taper = watched(120, amps=4.0, volts=2.43)
    raised = watched(60, amps=9.0, volts=2.57, before=taper)
    assert taper.lowest == pytest.approx(4.0) and raised.lowest == pytest.approx(9.0)
    warmer = watched(90, celsius=30.0, warms=2.4, amps=9.0, volts=2.57, before=taper)
    assert warming.runaway(warmer, peaked=True, held=True) is None, "9 A at 2.57 V are no growth of 4 A at 2.43 V"
    assert watched(60, amps=5.0, volts=2.37, before=taper).lowest == pytest.approx(4.0)
    assert watched(60, amps=5.0, volts=2.445, before=taper).lowest == pytest.approx(4.0), "fifteen millivolts are none"
    kept = watched(60, amps=9.0, volts=2.43, before=taper._replace(lowest_volts=0.0))
    assert kept.lowest == pytest.approx(4.0), "a memory of before it was remembered"


@pytest.mark.parametrize(("last", "runs"), [((7.0, 7.3, 7.5), True), ((7.4, 7.0, 6.4), False)])
def test_a_waking_bank_that_has_passed_its_peak_does_not_run_away(last: tuple[float, ...], runs: bool) -> None:
    # Half-hour means of six hours: a current that comes round fourfold while the acid warms by 5 K, and then goes on
    # growing, or falls again as the sulfate ends (common practice, no source).
    amps = (1.7, 1.9, 2.1, 2.4, 2.8, 3.3, 3.9, 4.8, 6.1, 6.8, *last)
    kept = tuple(Step(AT - 21600.0 + 1800.0 * n, 25.0 + 0.4 * n, each, 2.64) for n, each in enumerate(amps))
    half_hour = tuple(Step(AT - 1500.0 + 300.0 * n, 30.0, last[-1], 2.64) for n in range(6))
    found = warming.runaway(Thermal(steps=half_hour, lowest=last[-1], halves=kept), peaked=True, held=True)
    assert (found is not None) is runs


def test_a_taper_earlier_in_the_six_hours_hides_no_runaway() -> None:
    amps = (30.0, 22.0, 15.0, 10.0, 7.0, 5.5, 5.0, 5.4, 6.2, 7.3, 8.6, 9.9, 11.0)
    warmth = (*(25.0,) * 7, 25.5, 26.3, 27.2, 28.3, 29.4, 30.5)
    kept = tuple(
        Step(AT - 21600.0 + 1800.0 * n, celsius, each, 2.64)
        for n, (celsius, each) in enumerate(zip(warmth, amps, strict=True))
    )
    half_hour = tuple(Step(AT - 1500.0 + 300.0 * n, 30.5, 11.0, 2.64) for n in range(6))
    found = warming.runaway(Thermal(steps=half_hour, lowest=5.0, halves=kept), peaked=True, held=True)
    assert found is not None and list(found) == pytest.approx([11.0, 5.0])


def after_a_pause(amps: tuple[float, ...], *, before: float = 1.35, warm: float = 31.0) -> tuple[float, float] | None:
    """Half hours at 2.51 V per cell, an hour and a half without the charger, and half hours of these amps since."""
    taper = [(before + 0.02 * n, 27.5, 2.51) for n in reversed(range(4))]
    off = [(-0.2, 28.0, 2.12)] * 3
    count = len(amps)
    back = [(each, 28.0 + (warm - 28.0) * n / (count - 1), 2.51) for n, each in enumerate(amps)]
    rows = [*taper, *off, *back]
    kept = tuple(Step(AT + 1800.0 * n, celsius, each, volts) for n, (each, celsius, volts) in enumerate(rows))
    half_hour = tuple(kept[-1]._replace(at=kept[-1].at - 300.0 * n) for n in reversed(range(6)))
    thermal = Thermal(steps=half_hour, lowest=min(amps[1:]), halves=kept)
    return warming.runaway(thermal, peaked=True, held=True)


@pytest.mark.parametrize(
    ("amps", "warm", "runs"),
    [
        # 2.1 A at its least since, 1.35 A before: it runs away beside either.
        ((2.2, 2.1, 2.5, 3.0, 3.5), 31.0, True),
        # What a load drew in the pause flows back at once, and less and less of it, while the day warms.
        ((6.0, 4.9, 4.8, 4.8, 4.8), 31.0, False),
        ((3.1, 3.0, 3.1, 3.3, 3.5), 31.0, False),  # 17 % since, as the warmth explains
        ((3.1, 3.0, 3.1, 3.3, 3.6), 31.0, True),
        ((1.4, 1.35, 1.4, 1.5, 1.6), 31.0, False),  # as much as before, and what 3.5 K explain
        ((2.2, 2.1, 2.5, 3.0, 3.5), 29.0, False),  # and hardly warmer
    ],
)
def test_what_a_bank_took_before_a_pause_it_takes_after_it(amps: tuple[float, ...], warm: float, runs: bool) -> None:
    # A generator stopped for an hour and a half in the hold; numbers invented, 6 % a kelvin as above.
    found = after_a_pause(amps, warm=warm)
    assert (found is not None) is runs
    if found is not None:
        assert found[1] == pytest.approx(1.35), "against what it took before"


def test_before_the_peak_of_its_waking_a_bank_that_grows_and_warms_does_not_run_away() -> None:
    # From 16 to 31 A in two hours, 5 K warmer, and the charger's amps reached on the way: it comes round.
    climb = stepped(climbing(5.0, 16.0, 31.0), 24.0)
    assert warming.runaway(climb, peaked=False, held=True) is None
    assert warming.runaway(climb, peaked=True, held=True) is not None
