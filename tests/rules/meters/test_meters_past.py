"""What one meter's past says of its next value, and what is learned from it: units, steps, clocks, pace, losses.

That electrolyte cannot warm by more than 5 K a minute is common practice, no source; 85 and -127 degC are what a
one-wire thermometer shows at power-on and when it is unplugged (its data sheet, from memory).
"""

from __future__ import annotations

import pytest

from rules.bank.model import Meter
from rules.events import Reading
from rules.meters.plausible import GOOD, LATE, MISSING, NEVER, SUSPECT, Trace, by_arrival, judge, remember, wrong_unit
from tests.support.fold import PROBE

AT = 1_795_590_000.0
KINDS = {
    "probe": Meter(PROBE, PROBE),
    "air": Meter("air", "ambient_temperature"),
    "amps": Meter("current", "current"),
    "string": Meter("s", "string_current", index="1"),
    "volts": Meter("voltage", "voltage"),
    "cell": Meter("voltage", "voltage"),
}


def at(after: float, value: float = 5.0, *, lag: float = 0.0, **more: float | bool) -> Reading:
    read = Reading("north", "m", value, AT + after, AT + after - lag)
    return read._replace(**more)  # type: ignore[arg-type]


def judged(kind: str, before: float | Trace | None, value: float, after: float = 10.0) -> tuple[str, str]:
    """Of a meter that spans twelve cells where it measures volts."""
    past = NEVER if before is None else before if isinstance(before, Trace) else Trace(before, AT, GOOD, changed_at=AT)
    return judge(KINDS[kind], 12 if kind == "volts" else 1, past, at(after, value))


# ------------------------------------------------------------------------------------------ believable


@pytest.mark.parametrize(
    ("kind", "before", "value", "after", "found"),
    [
        ("probe", None, -127.02, 10.0, (SUSPECT, "out of range")),
        ("air", None, -127.0, 10.0, (MISSING, "unplugged")),
        ("volts", None, -127.0, 10.0, (SUSPECT, "unit")),
        ("air", None, 85.0, 10.0, (SUSPECT, "unit")),
        ("probe", None, 84.98, 10.0, (GOOD, "")),
        ("probe", 25.0, 35.0, 120.0, (GOOD, "")),  # 5 K a minute
        ("probe", 25.0, 35.1, 120.0, (SUSPECT, "impossible step")),
        ("probe", 25.0, 20.0, 10.0, (GOOD, "")),
        ("probe", 25.0, 19.9, 10.0, (SUSPECT, "impossible step")),
        ("probe", 25.0, 77.0 + 5.3, 10.0, (SUSPECT, "unit")),  # 2.9 K off as degrees Fahrenheit
        ("probe", 25.0, 77.0 + 5.5, 10.0, (SUSPECT, "impossible step")),
        ("probe", 22.0, 77.0, 10.0, (SUSPECT, "impossible step")),  # 77 degF are 25 degC, 3 K off
        ("probe", 22.1, 77.0, 10.0, (SUSPECT, "unit")),
        ("amps", 0.15, 150.0, 10.0, (SUSPECT, "unit")),
        ("string", 0.15, 150.0, 10.0, (SUSPECT, "unit")),
        ("amps", 0.05, 50.0, 10.0, (GOOD, "")),  # a charger may switch on
        ("amps", 0.0, 150.0, 10.0, (GOOD, "")),
        ("amps", 0.2, 150.0, 10.0, (GOOD, "")),  # seven hundred and fifty times is no unit
        ("amps", 0.1, 150.0, 10.0, (GOOD, "")),
        ("amps", -0.15, 150.0, 10.0, (SUSPECT, "unit")),
        ("amps", 0.15, 120.08, 10.0, (SUSPECT, "unit")),  # eight hundred times, as a coarse meter rounds
        ("amps", 0.1, 125.05, 10.0, (GOOD, "")),
        ("amps", 0.25, 200.0, 10.0, (GOOD, "")),
        ("amps", 0.125, 156.25, 10.0, (GOOD, "")),
        ("amps", 0.1, 100.0, 10.0, (GOOD, "")),
        ("amps", 0.1, 100.5, 10.0, (SUSPECT, "unit")),
        ("volts", 2.0, 0.002, 10.0, (SUSPECT, "unit")),
        ("volts", 26.0, 0.026, 10.0, (SUSPECT, "unit")),
        ("volts", 26.0, 0.0313, 10.0, (GOOD, "")),  # a fifth off
        ("volts", 26.0, 0.03119, 10.0, (SUSPECT, "unit")),
        ("volts", 26.0, 0.0209, 10.0, (SUSPECT, "unit")),
        ("volts", 26.0, 0.0207, 10.0, (GOOD, "")),
        ("volts", 26.0, 0.0, 10.0, (GOOD, "")),
        ("volts", None, 0.026, 10.0, (GOOD, "")),
        ("volts", 1.0, 0.001, 10.0, (GOOD, "")),  # a dead bank
        ("cell", 0.1, 0.0001, 10.0, (GOOD, "")),  # a dead bank of one cell
        ("cell", 0.11, 0.00011, 10.0, (SUSPECT, "unit")),
    ],
)
def test_a_value_is_judged_by_its_range_and_its_past(
    kind: str, before: float | None, value: float, after: float, found: tuple[str, str]
) -> None:
    assert judged(kind, before, value, after) == found


def test_what_is_older_than_the_newest_is_late_unless_that_was_of_unknown_age() -> None:
    past = Trace(25.0, AT, GOOD, changed_at=AT)
    assert judged("probe", past, 25.0, -0.5) == (LATE, "older than the newest")
    assert judged("probe", past, 25.0, 0.0) == (GOOD, "")
    assert judged("probe", past._replace(retained=True), 25.0, -0.5) == (GOOD, "")


@pytest.mark.parametrize(
    ("second", "after", "believed"),
    [
        (40.0, 60.0, True),
        (40.0, 60.1, False),
        (43.0, 20.0, True),
        (43.1, 20.0, False),
        (37.0, 20.0, True),
        (40.0, 0.0, False),
    ],
)
def test_a_startling_value_is_believed_when_a_second_bears_it_out(second: float, after: float, believed: bool) -> None:
    first = remember(Trace(25.0, AT, GOOD, changed_at=AT), at(1.0, 40.0), SUSPECT, "impossible step")
    assert (judge(KINDS["probe"], 1, first, at(1.0 + after, second))[0] == GOOD) is believed
    missing = first._replace(quality=MISSING)
    assert judge(KINDS["probe"], 1, missing, at(21.0, 40.0))[0] == SUSPECT


def test_the_unit_that_was_meant_lies_inside_the_range_with_its_ends() -> None:
    assert wrong_unit(1000.0, 1.0, 2.0, False) and wrong_unit(2000.0, 1.0, 2.0, False)
    assert not wrong_unit(999.0, 1.0, 2.0, False) and not wrong_unit(2001.0, 1.0, 2.0, False)
    assert wrong_unit(50.0, 10.0, 20.0, True) and wrong_unit(68.0, 10.0, 20.0, True)
    assert not wrong_unit(49.9, 10.0, 20.0, True) and not wrong_unit(68.1, 10.0, 20.0, True)


# ---------------------------------------------------------------------------------------------- clocks


def told(lags: list[float], every: float = 10.0) -> tuple[Trace, list[bool]]:
    """So old says each sample it is [s]; whether it was dated by its arrival."""
    trace, moved = NEVER, []
    for n, lag in enumerate(lags):
        trace, dated = by_arrival(trace, at(every * n, lag=lag))
        moved.append(lag > 0.0 and dated.measured_at == dated.at)
    return trace, moved


def test_the_fourth_sample_that_stays_as_old_is_of_a_slow_clock() -> None:
    trace, moved = told([3600.0] * 5)
    assert moved == [False, False, False, True, True] and trace.clock_off == -3600.0
    assert told([300.0] * 6)[1] == [False] * 6, "up to five minutes are no wrong clock"
    assert told([301.0] * 5)[1][-1]
    assert told([3600.0] * 5, every=0.8)[1][-1], "however fast the meter speaks"


@pytest.mark.parametrize(("between", "found"), [(300.0, True), (301.0, False)])
def test_a_stamp_of_five_minutes_is_no_other_clock_between_old_ones(between: float, found: bool) -> None:
    assert told([3600.0, between, 3600.0, 3600.0, 3600.0])[1][-1] is found


def test_a_backlog_is_none() -> None:
    trace, moved = told([3600.0 - 40.0 * n for n in range(8)], every=1.0)
    assert moved == [False] * 8 and trace.clock_off == 0.0
    assert told([3600.0, 3600.0, 3605.0, 3600.0], every=10.0)[1][-1], "half of its pace may be jitter"
    assert not told([3600.0, 3600.0, 3605.1, 3600.0], every=10.0)[1][-1]
    assert not told([3600.0] * 5, every=0.0)[1][-1]


def test_a_clock_that_is_right_again_is_believed_again() -> None:
    slow, _ = told([3600.0] * 5)
    well, dated = by_arrival(slow, at(60.0))
    assert (well.clock_off, well.lagging) == (0.0, 0) and dated.measured_at == AT + 60.0
    assert by_arrival(NEVER, at(0.0))[0] is NEVER
    half, _ = told([3600.0] * 2)
    assert half.lagging == 1 and by_arrival(half, at(60.0))[0].lagging == 0
    kept, dated = by_arrival(slow, at(60.0, lag=3600.0, retained=True))
    assert kept.clock_off == 0.0 and dated.measured_at == AT + 60.0 - 3600.0


def test_a_stamp_that_nobody_could_believe_says_how_far_off_it_was() -> None:
    trace, dated = by_arrival(told([3600.0] * 3)[0], at(60.0, stamp_off=-86400.0))
    assert (trace.clock_off, trace.lagging) == (-86400.0, 0) and dated.measured_at == AT + 60.0


# ------------------------------------------------------------------------------------- pace and losses


def heard(*points: tuple[float, float]) -> Trace:
    """Believed values after so many seconds."""
    trace = NEVER
    for after, value in points:
        trace = remember(trace, at(after, value), GOOD, "")
    return trace


def test_the_pace_is_learned_slowly_and_a_bunch_teaches_nothing() -> None:
    assert heard((0.0, 1.0)).period == 0.0 and heard((0.0, 1.0), (10.0, 1.0)).period == 10.0
    assert heard((0.0, 1.0), (10.0, 1.0), (25.0, 1.0)).period == pytest.approx(10.5)
    assert heard((0.0, 1.0), (10.0, 1.0), (500.0, 1.0)).period == pytest.approx(11.0)
    assert heard((0.0, 1.0), (10.0, 1.0), (11.0, 1.0)).period == 10.0
    assert heard((0.0, 1.0), (10.0, 1.0), (11.1, 1.0)).period == pytest.approx(9.11)


def test_gaps_of_whole_periods_are_losses_and_a_long_silence_counts_as_three() -> None:
    steady = [(10.0 * n, 1.0) for n in range(3)]
    assert heard(*steady).lost == 0.0
    assert heard(*steady, (34.0, 1.0)).lost == 0.0
    assert heard(*steady, (36.0, 1.0)).lost == pytest.approx(0.01), "from one and a half periods on"
    assert heard(*steady, (40.0, 1.0)).lost == pytest.approx(0.01)
    assert heard(*steady, (50.0, 1.0)).lost == pytest.approx(0.02)
    assert heard(*steady, (900.0, 1.0)).lost == pytest.approx(0.03)
    once = heard(*steady, (40.0, 1.0))
    again = remember(once._replace(period=10.0), at(60.0, 1.0), GOOD, "")
    assert again.lost == pytest.approx(0.01 + 0.01 * (1.0 - 2.0 * 0.01))
    assert remember(once, at(50.0, 1.0), GOOD, "").lost < once.lost


@pytest.mark.parametrize(
    ("gap", "lost"), [(2.0, 0.0), (4.0, 0.0), (10.0, 0.0), (14.9, 0.0), (15.0, 0.01), (24.0, 0.01), (26.0, 0.02)]
)
def test_a_sample_is_lost_from_one_and_a_half_periods_on_and_none_comes_back_by_coming_early(
    gap: float, lost: float
) -> None:
    assert heard((0.0, 1.0), (10.0, 1.0), (20.0, 1.0), (20.0 + gap, 1.0)).lost == pytest.approx(lost)


def test_a_meter_that_begins_at_zero_has_changed_then() -> None:
    for first in (0.0, 3.7, -0.2):
        assert heard((0.0, first), (10.0, first)).changed_at == AT


def test_turns_of_the_last_digit_are_learned_and_a_ramp_is_none() -> None:
    to_and_fro = heard(*[(10.0 * n, 25.0 + 0.1 * (n % 2)) for n in range(6)])
    assert to_and_fro.usual == pytest.approx(10.0) and to_and_fro.step == pytest.approx(0.1)
    assert heard(*[(10.0 * n, 25.0 + 0.1 * n) for n in range(20)]).usual == 0.0
    assert heard((0.0, 25.0), (10.0, 25.1)).direction == 1.0 and heard((0.0, 25.0), (10.0, 24.9)).direction == -1.0
    later = remember(to_and_fro, at(500.0, 25.0), GOOD, "")
    assert later.usual == pytest.approx(11.0), "no standstill stretches it by more than a tenth"
    assert heard((0.0, 25.0), (10.0, 25.5), (20.0, 25.4), (30.0, 25.4)).changed_at == AT + 20.0


def test_what_is_not_believed_leaves_the_value_and_remembers_since_when() -> None:
    past = heard((0.0, 25.0))
    first = remember(past, at(10.0, 85.0), SUSPECT, "power-on value")
    again = remember(first, at(20.0, 85.0), SUSPECT, "power-on value")
    assert (again.value, again.at, again.suspect_since) == (25.0, AT, AT + 10.0)
    assert (again.doubtful, again.doubtful_at, again.reason) == (85.0, AT + 20.0, "power-on value")
    well = remember(again, at(30.0, 25.0), GOOD, "")
    assert (well.suspect_since, well.quality, well.reason) == (0.0, GOOD, "")
    assert (well.doubtful, well.doubtful_at, well.changed_at) == (85.0, AT + 20.0, AT)
    assert remember(past, at(-5.0, 24.0), LATE, "") == past._replace(late=1)
    ahead = remember(NEVER, Reading("north", "m", 25.0, AT, AT + 60.0), GOOD, "")
    assert ahead.at == AT, "nothing was measured later than it arrived"


def test_of_a_meter_that_never_spoke_nothing_is_remembered() -> None:
    assert set(NEVER) == {0.0, ""} and not NEVER.retained
