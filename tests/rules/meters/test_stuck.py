"""What stands still although it must have moved, and what stands by rights; the limits are common practice, no source.

A 6 V block of 200 Ah holds about 30 kJ/K by its parts, so a cell of it 10 kJ/K; 3 K make 18 % of gassing current, 6 % a
kelvin (Schiffer and others, J. Power Sources 168 (2007) 66).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.meters import Counters, Thermal, Trace, missed_the_heat, stuck
from rules.meters.warming import Step
from tests.support.fold import PROBE, make_bank

AT = 1_795_590_000.0
BANK = make_bank()
HOUR = 3600.0


def means(*amps: float, volts: float = 2.67) -> tuple[Step, ...]:
    """Five-minute means up to now."""
    return tuple(Step(AT - 300.0 * (len(amps) - 1 - n), 25.0, each, volts) for n, each in enumerate(amps))


def stands(hours: float, *, step: float = 0.1, usual: float = 0.0, value: float = 25.0) -> Trace:
    return Trace(value, AT - 5.0, changed_at=AT - hours * HOUR, step=step, usual=usual)


def probe(trace: Trace, steps: tuple[Step, ...]) -> bool:
    return stuck(BANK, BANK.by_name[PROBE], trace, Thermal(steps=steps), Counters(), AT)


DOUBLED, EVEN = means(*[5.0] * 12, *[10.1] * 13), means(*[8.0] * 25)


@pytest.mark.parametrize(
    ("trace", "steps", "found"),
    [
        (stands(2.0), DOUBLED, True),
        (stands(1.99), DOUBLED, False),
        (stands(2.1, step=0.31), DOUBLED, False),  # a coarse one may rest for six hours
        (stands(6.0, step=0.31), DOUBLED, True),
        (stands(2.1, step=0.3), DOUBLED, True),
        (stands(5.99, step=0.0), DOUBLED, False),  # nobody knows how fine it is
        (stands(6.0, step=0.0), DOUBLED, True),
        (stands(2.1), means(*[5.0] * 12, *[10.0] * 13), False),  # not quite twice as much
        (stands(2.1), means(*[0.1] * 12, *[0.9] * 13), False),  # of next to nothing, and no heat
        (stands(2.1), EVEN, False),
        (stands(2.1, usual=630.0), EVEN, True),  # twelve times longer than its last digit ever stood
        (stands(2.1, usual=631.0), EVEN, False),
        (stands(2.1, usual=60.0, step=0.31), EVEN, False),
        (stands(2.1), DOUBLED[-11:], False),  # an hour of means is needed
        (stands(2.1, usual=60.0), means(*[8.0] * 12), True),
        (stands(2.1, usual=60.0), means(*[8.0] * 11), False),
        (stands(9.0, step=4.0), DOUBLED, False),  # it could not have moved by two of its steps
        (Trace(), DOUBLED, False),
        (stands(2.1)._replace(changed_at=0.0), DOUBLED, False),
    ],
)
def test_a_probe_that_stands_through_a_changing_current_is_stuck(
    trace: Trace, steps: tuple[Step, ...], found: bool
) -> None:
    assert probe(trace, steps) is found


def test_as_long_as_the_charge_warms_nothing_a_still_probe_is_no_sign() -> None:
    # 10 A x (2.67 - 2.0) V into 10 kJ/K: 2.4 K/h; at 2.05 V and below the least overvoltage of 50 mV counts, 0.18 K/h.
    assert probe(stands(2.1, usual=60.0), means(*[10.0] * 25))
    assert not probe(stands(2.1, usual=60.0), means(*[10.0] * 25, volts=1.9))
    assert probe(stands(2.1, usual=60.0), means(*[14.0] * 25, volts=1.9))
    assert not probe(stands(2.1, usual=60.0), means(*[-20.0] * 25))


# ------------------------------------------------------------------------------------------------------- the voltage


def voltage(
    still: float, steps: tuple[Step, ...], *, value: float = 26.0, amps: float = 20.0, heard: float = 0.0, **more: float
) -> bool:
    trace = Trace(value, AT - 5.0, changed_at=AT - still, step=0.01, usual=10.0)._replace(**more)  # type: ignore[arg-type]
    counters = Counters(current=amps, current_at=AT - heard)
    return stuck(BANK, BANK.by_name["voltage"], trace, Thermal(steps=steps), counters, AT)


CHANGED = means(20.0, 20.0, 13.0)
CHARGED = means(20.0, 20.0, 20.0, 20.0)


@pytest.mark.parametrize(
    ("found", "still", "steps", "more"),
    [
        (True, 900.0, CHANGED, {}),
        (False, 599.0, CHANGED, {}),
        (False, 900.0, CHANGED, {"value": 27.97}),  # 2.33 V per cell: a charger may hold it there
        (True, 900.0, CHANGED, {"value": 27.95}),
        (False, 900.0, CHANGED, {"usual": 0.0}),  # never flickered
        (False, 900.0, CHANGED, {"usual": 121.0}),
        (False, 900.0, CHANGED, {"step": 0.061}),  # coarse: cables alone drop more than 5 mV per cell
        (True, 900.0, CHANGED, {"step": 0.06}),
        (False, 900.0, CHANGED, {"usual": 75.1}),  # it has stood as long before
        (False, 900.0, means(20.0, 20.0, 13.4), {}),  # not a third
        (False, 900.0, means(2.5, 2.5, 1.0), {}),  # little current moves little
        (True, 900.0, means(2.6, 2.6, 1.0), {}),
        (False, 900.0, means(13.0), {}),
        (True, 900.0, means(20.0, 13.0), {}),
        (False, 900.0, CHANGED, {"value": 27.96}),
        (True, 1500.0, CHANGED, {"usual": 120.0}),
        (False, 1500.0, CHANGED, {"usual": 121.0}),
        (True, 750.0, means(20.0, 13.0, 13.0), {}),
        (False, 740.0, means(20.0, 13.0, 13.0), {}),  # these five minutes lie mostly before it stood
        (True, 900.0, CHARGED, {"amps": 0.0, "usual": 0.0}),  # charging has stopped
        (False, 900.0, CHARGED, {"amps": 0.5, "usual": 0.0}),
        (False, 900.0, means(2.5, 2.5, 2.5, 2.5), {"amps": 0.0, "usual": 0.0}),
        (False, 900.0, means(20.0), {"amps": 0.0, "usual": 0.0}),  # nothing is known of before it stopped
        (False, 900.0, CHARGED, {"amps": 0.0, "usual": 0.0, "heard": 900.0}),  # the current is as old
        (False, 900.0, (), {"amps": 0.0, "usual": 0.0}),
        (False, 600.0, CHARGED, {"amps": 0.0, "usual": 0.0}),  # it moved after the last of the charge, and rests now
        (False, 1500.0, CHARGED, {"amps": 0.0, "usual": 0.0, "step": 0.25}),  # a coarse one need not show the fall
        (True, 1500.0, CHARGED, {"amps": 0.0, "usual": 0.0, "step": 0.24}),
    ],
)
def test_a_voltage_that_stands_through_a_change_of_the_current_is_stuck(
    found: bool, still: float, steps: tuple[Step, ...], more: dict[str, float]
) -> None:
    assert voltage(still, steps, **more) is found


def test_what_was_drawn_cools_nothing() -> None:
    charged = means(*[10.0] * 12, volts=2.14)  # warms by half a kelvin
    drawn = tuple(each._replace(at=each.at - HOUR, current=-3.0) for each in charged)
    assert probe(stands(2.1, usual=60.0), drawn + charged)


def test_an_ammeter_is_not_held_against_itself() -> None:
    assert not stuck(BANK, BANK.by_name["current"], stands(9.0), Thermal(steps=DOUBLED), Counters(), AT)


# --------------------------------------------------------------------------------------------- the heat of a hold


GROWN = means(*[5.0] * 8, *[6.0] * 6)


def missed(steps: tuple[Step, ...], *, hours: float = 1.5, step: float = 0.1, lowest: float = 5.0) -> bool:
    return missed_the_heat(BANK, {}, stands(hours, step=step), Thermal(steps=steps, lowest=lowest))


def test_a_current_that_grows_by_a_fifth_at_no_more_volts_is_heat_that_a_still_probe_missed() -> None:
    assert missed(GROWN)
    assert not missed(means(*[5.0] * 8, *[5.8] * 6)), "sixteen per cent are less than three kelvin"
    assert not missed(means(*[1.0] * 8, *[1.4] * 6)), "less than counts as charging"
    assert not missed(GROWN, lowest=0.0), "not at a ceiling"
    assert not missed(GROWN, hours=0.9), "an hour is needed"
    assert not missed(GROWN, step=1.1) and missed(GROWN, step=1.0)
    up = tuple(each._replace(volts=each.volts + 0.006 * (n > 7)) for n, each in enumerate(GROWN))
    assert not missed(up), "the charger was turned up"
    assert not missed_the_heat(BANK, {}, Trace(), Thermal(steps=GROWN, lowest=5.0))


def test_a_slow_growth_is_held_against_a_glance_every_half_hour() -> None:
    slowly = means(*[5.9] * 7, *[6.0] * 6)
    assert not missed(slowly)
    glances = tuple(Step(AT - 6 * HOUR + 1800.0 * n, 25.0, 5.0 + 0.1 * n, 2.67) for n in range(10))
    thermal = Thermal(steps=slowly, lowest=5.0, halves=glances)
    assert missed_the_heat(BANK, {}, stands(6.2), thermal)
    assert not missed_the_heat(BANK, {}, stands(1.5), thermal), "what was before the probe stood says nothing"


@pytest.mark.parametrize(
    ("steps", "hours", "found"),
    [
        (means(*[5.0] * 6, *[6.0] * 6), 1.0, True),  # an hour of means, all of it since it stands
        (means(*[5.0] * 6, *[6.0] * 6), 0.99, False),
        (means(*[5.0] * 5, *[6.0] * 6), 2.0, False),
        (means(*[7.0] * 3, *[5.0] * 6, *[5.5] * 4, *[6.0] * 6), 2.0, True),  # the lowest half hour, wherever it lies
        (means(*[7.0] * 3, *[5.0] * 5, *[5.9] * 5, *[6.0] * 6), 2.0, False),  # five low means are none
        (means(*[5.0] * 9, *[6.2] * 9), 1.0, False),  # what flowed before it stood says nothing
        (means(*[6.0] * 7, *[5.0] * 5, *[6.0] * 6), 2.0, False),  # nor are they at its end
        (means(*[5.0] * 6, *[5.9] * 6), 1.5, True),  # 18 % are 3 K
        (means(*[5.0] * 6, *[5.89] * 6), 1.5, False),
        (means(*[2.0] * 6, *[2.5] * 6), 1.5, True),  # half an ampere, from which 200 Ah count as charging
        (means(*[2.0] * 6, *[2.49] * 6), 1.5, False),
        (means(*[5.0] * 6, *[3.0] * 3, *[9.0] * 3), 1.5, True),  # 6 A in the mean of the last half hour
        (means(*[5.0] * 8, *[4.0] * 3, *[6.5] * 1, *[6.0] * 6), 2.0, True),
    ],
)
def test_the_lowest_half_hour_since_the_probe_stands_is_held_against_the_last(
    steps: tuple[Step, ...], hours: float, found: bool
) -> None:
    assert missed(steps, hours=hours) is found


@pytest.mark.parametrize(("more", "found"), [(0.0, True), (0.0049, True), (0.0051, False), (-0.03, True)])
def test_a_charger_that_was_turned_up_by_five_millivolts_explains_the_growth(more: float, found: bool) -> None:
    turned = tuple(each._replace(volts=each.volts + more * (n > 7)) for n, each in enumerate(GROWN))
    assert missed(turned) is found


@pytest.mark.parametrize(
    ("resolution", "learned", "amps", "found"),
    [
        (1.0, 0.1, 7.0, True),  # two of its steps
        (1.0, 0.1, 6.9, False),
        (0.1, 1.0, 6.9, True),
        (0.0, 1.0, 6.9, False),  # nobody says how fine it is: by what it has shown
        (0.0, 0.2, 6.0, True),
        (0.0, 0.0, 6.0, True),
    ],
)
def test_less_than_two_steps_of_the_shunt_are_no_growth(
    resolution: float, learned: float, amps: float, found: bool
) -> None:
    meters = tuple(replace(each, resolution=resolution) if each.name == "current" else each for each in BANK.meters)
    traces = {"current": Trace(amps, AT, step=learned)}
    thermal = Thermal(steps=means(*[5.0] * 8, *[amps] * 6), lowest=5.0)
    assert missed_the_heat(replace(BANK, meters=meters), traces, stands(1.5), thermal) is found
    blind = replace(BANK, meters=tuple(each for each in BANK.meters if each.quantity != "current"))
    assert missed_the_heat(blind, {}, stands(1.5), thermal), "power tells the current, and has no step"


@pytest.mark.parametrize(
    ("stood", "glance_at", "found"),
    [
        (3.0, 2.9, True),  # a glance at 5 A since it stands
        (3.0, 3.0, False),  # half of whose five minutes was before
        (3.0, 0.5, True),
        (3.0, 1500.0 / 3600.0, False),  # the first of the last six means
        (3.0, 0.3, False),  # within the last half hour it is now, not before
    ],
)
def test_a_glance_counts_since_the_probe_stands_and_before_the_last_half_hour(
    stood: float, glance_at: float, found: bool
) -> None:
    slowly = means(*[5.9] * 7, *[6.0] * 6)
    glance = Step(AT - glance_at * HOUR, 25.0, 5.0, 2.67)
    thermal = Thermal(steps=slowly, lowest=5.0, halves=(glance,))
    assert missed_the_heat(BANK, {}, stands(stood), thermal) is found


@pytest.mark.parametrize(
    ("amps", "volts", "step", "found"),
    [
        # Half a kelvin, or two of its steps: 50 J/K for each of 200 Ah; 12 means are an hour.
        (10.0, 2.14, 0.1, True),  # 3600 s x 10 A x 0.14 V / 10 kJ/K = 0.504 K
        (10.0, 2.138, 0.1, False),
        (10.0, 2.16, 0.29, False),  # 0.576 K of 0.58
        (10.0, 2.162, 0.29, True),
        (30.0, 2.0, 0.1, True),  # 50 mV of overvoltage at least: 0.54 K
        (27.0, 2.0, 0.1, False),
    ],
)
def test_a_probe_must_move_when_the_charge_warms_it_by_half_a_kelvin_or_two_of_its_steps(
    amps: float, volts: float, step: float, found: bool
) -> None:
    assert probe(stands(2.1, step=step, usual=60.0), means(*[amps] * 12, volts=volts)) is found


@pytest.mark.parametrize(
    ("amps", "stopped", "still", "found"),
    [
        (2.6, 900.0, 1050.0, True),
        (2.5, 900.0, 1050.0, False),  # five times what counts as charging
        (20.0, 600.0, 750.0, True),  # ten minutes ago it still was charged
        (20.0, 599.0, 750.0, False),
        (20.0, 900.0, 1050.0, True),
        (20.0, 900.0, 1049.0, False),  # it fell with the current, and has rested since
    ],
)
def test_a_voltage_must_fall_within_ten_minutes_after_charging(
    amps: float, stopped: float, still: float, found: bool
) -> None:
    steps = tuple(Step(AT - stopped - 300.0 * n, 25.0, amps if n == 0 else 0.0, 2.4) for n in (3, 2, 1, 0))
    assert voltage(still, steps, amps=0.0, usual=0.0) is found
    later = tuple(Step(AT - stopped + 300.0 * n, 25.0, 0.0, 2.4) for n in (1, 2, 3, 4))
    assert voltage(still, (*steps, *later), amps=0.0, usual=0.0) is found, "and as long as it stands"
