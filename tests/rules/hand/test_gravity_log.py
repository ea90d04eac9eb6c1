"""The hydrometer log at its limits: what counts, what is left out, what rises and what stands."""

from __future__ import annotations

from typing import Any

import pytest

from rules.hand.gravity import GravityReading, add, latest, latest_of_each, lowest, reading, spread, standing_out
from rules.hand.gravity_trend import plateau, still_rising, trend_per_hour, water_loss_alone
from rules.laws.hydrometer import REFERENCE

MINUTE, HOUR = 60.0, 3600.0


def read(value: float | str = 1.25, **known: Any) -> GravityReading:
    told = {"temperature": REFERENCE, "under_charge": False, "rested_hours": 12.0, **known}
    return reading(0.0, "N1.1", value, **told)


def taken(*pairs: tuple[float, float | None], cell: str = "N1.1", **known: Any) -> tuple[GravityReading, ...]:
    """Readings of one cell at (minute, gravity), under charge."""
    told = {"under_charge": True, **known}
    return tuple(GravityReading(minute * MINUTE, cell, value, **told) for minute, value in pairs)


# ------------------------------------------------------------------------------------ one reading


@pytest.mark.parametrize(
    ("known", "trusted", "why"),
    [
        ({}, True, ""),
        ({"rested_hours": None}, True, ""),
        ({"rested_hours": 6.0}, True, ""),
        ({"rested_hours": 5.9}, False, "only 5.9 h after charging, 6 h are needed"),
        ({"under_charge": True}, False, "under charge, or within 6 h after it"),
        ({"under_charge": True, "rested_hours": 1.0}, False, "under charge, or within 6 h after it"),
        ({"temperature": None}, False, "without the temperature of its acid: not corrected"),
        (
            {"temperature": None, "rested_hours": 1.0},
            False,
            "only 1.0 h after charging, 6 h are needed; without the temperature of its acid: not corrected",
        ),
    ],
)
def test_a_reading_that_does_not_count_says_why(known: dict[str, Any], trusted: bool, why: str) -> None:
    # Six hours: common practice, no source.
    made = read(**known)
    assert (made.trusted, made.why, made.mixed) == (trusted, why, True)
    assert made.corrected is (known.get("temperature", 1.0) is not None)
    assert made.under_charge is known.get("under_charge", False)


@pytest.mark.parametrize(
    ("watered", "stirred", "mixed"),
    [(None, 0.0, True), (0.0, 0.0, False), (47.9, 0.9, False), (48.0, 0.0, True), (1.0, 1.0, True), (1.0, 0.9, False)],
)
def test_water_is_mixed_after_an_hour_of_gassing_or_two_days(
    watered: float | None, stirred: float, mixed: bool
) -> None:
    # US Bureau of Reclamation, FIST 3-6, 2.17.
    for value in (1.25, "low"):
        made = read(value, watered_hours=watered, stirred_hours=stirred)
        assert made.mixed is made.trusted is mixed
        ago = f"{watered:.0f} h" if watered else "0 min"
        assert made.why.startswith(f"water was added {ago} before" if not mixed else "")
    assert read(watered_hours=10.0).mixed is False, "nothing stirred unless it is told"


def test_a_mark_is_no_number_and_needs_no_temperature() -> None:
    low = read("low", temperature=None, discharge=4.0)
    assert (low.gravity_corrected, low.mark, low.trusted, low.discharge) == (None, "low", True, 4.0)
    assert low.corrected and not read("low", under_charge=True).trusted
    number = read(discharge=5.0)
    assert (number.mark, number.discharge) == ("", 5.0) and read().discharge == 0.0


def test_a_reading_of_which_nothing_else_is_said_counts_for_no_verdict() -> None:
    bare = GravityReading(0.0, "N1.1", 1.25)
    assert (bare.trusted, bare.under_charge, bare.corrected, bare.mixed, bare.why) == (False, False, True, True, "")
    assert (bare.mark, bare.discharge) == ("", 0.0)


# ------------------------------------------------------------------------------------------ a log


def test_the_newest_twenty_four_of_each_cell_are_kept_and_a_correction_replaces_what_it_corrects() -> None:
    log = add((), taken(*[(minute, 1.2) for minute in range(30)]))
    assert [entry.taken_at / MINUTE for entry in log] == list(range(6, 30))
    corrected = add(log, taken((29, 1.3)))
    assert len(corrected) == 24 and latest(corrected)["N1.1"].gravity_corrected == 1.3
    assert len(add((), taken(*[(minute, 1.2) for minute in range(24)]))) == 24


@pytest.mark.parametrize(("hours", "counts"), [(0.0, True), (24.0, True), (24.1, False)])
def test_readings_within_a_day_of_the_newest_belong_together(hours: float, counts: bool) -> None:
    # Common practice, no source.
    log = (*taken((0, 1.20)), *taken((hours * 60.0, 1.25), cell="N1.2"))
    assert set(latest(log)) == ({"N1.1", "N1.2"} if counts else {"N1.2"})
    assert spread(log) == (pytest.approx(0.05) if counts else None)
    assert lowest(log) == (1.20 if counts else 1.25)
    assert set(latest_of_each(log)) == {"N1.1", "N1.2"}


def test_what_is_not_trusted_not_a_number_or_unmixed_is_left_out_where_it_must_be() -> None:
    log = (
        *taken((0, 1.260), trusted=True),
        *taken((0, 1.250), cell="N1.2", trusted=True),
        *taken((0, 1.100), cell="N1.3"),
        *taken((0, None), cell="N1.4", mark="low", trusted=True),
        *taken((1, 1.180), cell="N1.5", mixed=False),
    )
    assert set(latest(log)) == {"N1.1", "N1.2", "N1.3", "N1.5"}
    assert set(latest(log, trusted_only=True)) == {"N1.1", "N1.2"}
    assert spread(log) == pytest.approx(0.160)
    assert lowest(log) == pytest.approx(1.100)
    assert latest_of_each(log)["N1.4"].mark == "low"
    assert (spread(()), lowest(()), spread(taken((0, 1.2)))) == (None, None, None)
    # An untrusted reading does not hide the trusted one before it.
    later = (*log, *taken((30, 1.0), cell="N1.1"))
    assert latest(later, trusted_only=True)["N1.1"].gravity_corrected == 1.260


# ------------------------------------------------------------------------------------- the trend


@pytest.mark.parametrize(
    ("pairs", "slope"),
    [
        (((0, 1.250), (30, 1.251)), 0.002),
        (((0, 1.250), (29, 1.251)), None),
        (((0, 1.250), (60, 1.254), (120, 1.254)), 0.002),
        (((0, 1.260), (120, 1.250)), -0.005),
        (((0, 1.250),), None),
        # Half an hour from first to last, whatever lies between: least squares by hand, 0.0015 of 0.5 h^2.
        (((0, 1.250), (60, 1.250), (120, 1.253), (180, 1.253)), 0.0012),
    ],
)
def test_the_trend_of_a_cell_is_its_straight_line_over_half_an_hour_at_least(
    pairs: tuple[tuple[float, float], ...], slope: float | None
) -> None:
    told = trend_per_hour(taken(*pairs), pairs[-1][0] * MINUTE)
    assert told is None if slope is None else told == pytest.approx(slope)


def test_the_trend_looks_back_as_far_as_it_is_told_and_never_ahead() -> None:
    log = taken((0, 1.200), (360, 1.250), (420, 1.252))
    assert trend_per_hour(log, 420 * MINUTE) == pytest.approx(0.002)
    assert trend_per_hour(log, 360 * MINUTE) == pytest.approx(0.05 / 6)
    assert trend_per_hour(log, 361 * MINUTE) is None
    assert trend_per_hour(log, 420 * MINUTE - 0.5) is None, "what is still to come says nothing yet"
    assert trend_per_hour(log, 420 * MINUTE, hours=7.0) == pytest.approx(0.0077, abs=0.0002)
    assert trend_per_hour(log, 420 * MINUTE, hours=0.5) is None


@pytest.mark.parametrize(
    ("minutes", "gravities", "rising"),
    [
        ((0, 60, 120, 180), (1.250, 1.252, 1.254, 1.256), True),
        ((0, 60, 120, 180), (1.250, 1.251, 1.251, 1.252), False),
        ((0, 60, 120, 180), (1.256, 1.254, 1.252, 1.250), False),
        ((0, 60, 120, 180), (1.250, 1.256, 1.240, 1.250), False),
        ((0, 25, 50, 75), (1.250, 1.252, 1.254, 1.256), True),
        ((0, 24, 48, 72), (1.250, 1.252, 1.254, 1.256), None),
        ((0, 60, 120), (1.250, 1.252, 1.254), None),
        ((0, 60, 110, 120, 180), (1.250, 1.250, 1.256, 1.250, 1.250), False),
        ((0, 60, 120, 180, 240), (1.200, 1.250, 1.250, 1.251, 1.251), False),
        ((0, 300, 340, 380), (1.250, 1.252, 1.254, 1.256), None),
        ((0, 60, 120, 180), (1.250, 1.258, 1.250, 1.254), True),
        ((600.0, 624.7, 649.4, 674.1), (1.250, 1.252, 1.254, 1.256), None),
    ],
)
def test_four_readings_apart_within_six_hours_say_whether_it_rises(
    minutes: tuple[float, ...], gravities: tuple[float, ...], rising: bool | None
) -> None:
    # US Navy NAVEDTRA 14113: successive hourly readings; a point of resolution counted as equal.
    log = taken(*zip(minutes, gravities, strict=True))
    assert still_rising(log, minutes[-1] * MINUTE) is rising


@pytest.mark.parametrize(
    ("minutes", "gravities", "flat"),
    [
        ((0, 60, 120, 180), (1.262,) * 4, True),
        ((0, 60, 120, 180), (1.261, 1.262, 1.262, 1.263), True),
        ((0, 60, 120, 180), (1.260, 1.262, 1.262, 1.262), False),
        ((0, 60, 120, 180), (1.262, 1.262, 1.262, 1.264), False),
        ((0, 60, 120), (1.262,) * 3, False),
        # Ten minutes early is an hour, and three.
        ((0, 50, 110, 170), (1.262,) * 4, True),
        ((0, 49, 110, 170), (1.262,) * 4, False),
        ((0, 50, 110, 169), (1.262,) * 4, False),
        ((0, 50, 100, 150), (1.262,) * 4, False),
        ((600, 650, 700, 750), (1.262,) * 4, False),
        # After two hours without a reading nobody knows what it did.
        ((0, 120, 180, 240), (1.262,) * 4, True),
        ((0, 121, 181, 241), (1.262,) * 4, False),
        # One in between must agree, one before them need not.
        ((0, 60, 90, 120, 180), (1.262, 1.262, 1.262, 1.262, 1.262), True),
        ((0, 60, 90, 120, 180), (1.262, 1.262, 1.270, 1.262, 1.262), False),
        ((0, 60, 120, 180, 240), (1.200, 1.262, 1.262, 1.262, 1.262), True),
    ],
)
def test_four_hourly_readings_within_a_point_are_a_plateau(
    minutes: tuple[float, ...], gravities: tuple[float, ...], flat: bool
) -> None:
    # US Army TM 10-3930-644-14&P: successive hourly readings without increase. The minutes: assumed.
    log = taken(*zip(minutes, gravities, strict=True))
    assert plateau(log, ["N1.1"]) is flat


def test_every_cell_must_stand_none_may_be_silent_and_none_may_be_unread() -> None:
    hours = (0, 60, 120, 180)
    both = add(taken(*((m, 1.262) for m in hours)), taken(*((m, 1.250) for m in hours), cell="N1.2"))
    assert plateau(both, ["N1.1", "N1.2"]) and plateau(both, ["N1.1", "N1.2"], ["N9.9"])
    assert not plateau(both, ["N1.1", "N1.2"], ["N1.2"])
    assert not plateau(both, ["N1.1", "N1.2", "N1.3"]) and not plateau(both, [])
    marked = (*both, *taken((200, None), mark="none"))
    assert plateau(marked, ["N1.1"]), "a cell that was passed over does not undo what was read"


@pytest.mark.parametrize(
    ("kilograms", "grams", "possible"),
    [(2.6, 80.0, True), (2.6, -80.0, True), (2.6, 0.0, True), (0.0, 10.0, False), (0.5, 500.0, False),
     (0.5, 499.0, False), (-1.0, 0.0, False), (0.0, -10.0, False), (float("nan"), 1.0, False),
     (2.6, float("nan"), False), (0.9, 30.0, True)],
)  # fmt: skip
def test_lost_water_strengthens_what_is_left_by_the_mass_of_acid_that_stays(
    kilograms: float, grams: float, possible: bool
) -> None:
    if not possible:
        with pytest.raises(ValueError, match=r"cannot lose|is outside"):
            water_loss_alone(1.270, kilograms, grams)
        return
    rise = water_loss_alone(1.270, kilograms, grams)
    assert (rise > 0.0) is (grams > 0.0) and (rise < -1e-9) is (grams < 0.0)
    # A mass balance by hand: 36 % of acid, about 0.0084 of gravity for each percent by weight.
    share = grams / (1000.0 * kilograms)
    assert rise == pytest.approx(0.0084 * 36.0 * share / (1.0 - share), abs=0.001)


# ------------------------------------------------------------------------------------- the spread


def walked(at: float, charged: float, **cells: float) -> list[GravityReading]:
    """One walk round the bank, an hour or so of it [h], after so much charging [h]."""
    return [
        GravityReading(at * HOUR, name.replace("_", "."), value, "", True, False, charged=charged * HOUR)
        for name, value in cells.items()
    ]


def test_a_cell_with_fresh_water_on_it_is_not_compared_by_what_it_showed_before_the_charge() -> None:
    before = walked(0.0, 0.0, N1_1=1.180, N1_2=1.182, N1_3=1.181)
    after = walked(9.0, 9.0, N1_1=1.150, N1_2=1.240, N1_3=1.241)
    after[0] = after[0]._replace(mixed=False)
    assert spread(add((), [*before, *after])) == pytest.approx(0.001)
    assert spread(add((), [*before, *after[:1]])) == pytest.approx(0.002), "one cell read again is no walk"
    drowned = [entry._replace(mixed=False) for entry in after]
    assert spread(add((), [*before, *drowned])) is None, "an older spread is not shown beside newer numbers"


def test_one_cell_read_every_hour_makes_no_spread_against_the_walk_before_the_charge() -> None:
    log = add((), [*walked(0.0, 0.0, N1_1=1.180, N1_2=1.182), *walked(6.0, 6.0, N1_1=1.240)])
    assert spread(log) == pytest.approx(0.002)
    assert spread(add(log, walked(6.5, 6.5, N1_2=1.200))) == pytest.approx(0.040)


def test_the_cells_that_make_the_spread_are_named_the_farthest_first() -> None:
    log = add((), walked(0.0, 0.0, N1_1=1.262, N1_2=1.205, N1_3=1.260, N2_1=1.261, N2_2=1.210))
    assert standing_out(log) == "N1.2 at 1.205, N2.2 at 1.210, the middle is 1.260"
    assert standing_out(add((), walked(0.0, 0.0, N1_1=1.2))) == ""
    many = {f"N{n}_1": 1.2 + 0.06 * (n % 2) for n in range(1, 20)}
    assert "3 more" in standing_out(add((), walked(0.0, 0.0, **many)))
