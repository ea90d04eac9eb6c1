"""m20 and m21: air and water by the current that flows, from the onset of gassing on."""

from __future__ import annotations

import re
from typing import Any

import pytest

from bridge.words.bank_status import gas
from rules.events import Tick
from tests.support.moments import USUAL, Moment, bank_of

PROBE = "electrolyte_temperature"
#: Strings, blocks in each, cells in a block, rating of a block [Ah].
SHAPES = [(1, 4, 3, 200.0), (1, 1, 6, 100.0), (2, 8, 3, 225.0)]
HOUR = 3600.0


def sulfated(shape: Any, volts: float, amps: float, temperature: float = 25.0, *, relay: bool = True) -> Moment:
    """A bank that stands at this voltage per cell and takes an even current."""
    strings, blocks, cells, capacity = shape
    bank = bank_of(strings=strings, blocks=blocks, cells=cells, capacity=capacity, relay=relay)
    moment = Moment(bank)
    moment.begin(voltage=2.0 * bank.cells, current=0.0, **{PROBE: temperature})
    moment.pass_time(1800.0, every=30.0, voltage=volts * bank.cells, current=amps)
    return moment


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("rate", [0.01, 0.05, 0.10])
@pytest.mark.parametrize(("volts", "temperature"), [(2.58, 25.0), (2.40, 25.0), (2.67, 10.0), (2.30, 40.0)])
def test_m20_the_air_is_that_of_the_whole_current_from_the_onset_of_gassing_on(
    shape: Any, rate: float, volts: float, temperature: float
) -> None:
    # EN 50272-2 with the whole current: 0.0504 m3/h for each cell and ampere; 10 A into 12 cells are 6.05 m3/h.
    amps = rate * shape[0] * shape[3]
    moment = sulfated(shape, volts, amps, temperature)
    assert moment.derived is not None and moment.derived.ventilation_needed is not None
    assert moment.derived.ventilation_needed == pytest.approx(0.0504 * moment.bank.cells * amps, rel=0.10)
    # 0.45642 L of hydrogen for each Ah and cell at 25 degC (Faraday).
    assert moment.derived.hydrogen_rate == pytest.approx(0.45642 * moment.bank.cells * amps, rel=0.10)
    assert f"{moment.derived.ventilation_needed:.1f} m3/h of air needed now" in moment.now.texts


def test_m20_ten_amperes_into_twelve_cells_ask_for_six_cubic_metres() -> None:
    moment = sulfated(SHAPES[0], 2.58, 10.0)
    assert moment.derived is not None
    assert moment.derived.ventilation_needed == pytest.approx(6.05, rel=0.10)


def test_m20_below_the_onset_next_to_nothing_gasses() -> None:
    moment = sulfated(SHAPES[0], 2.20, 10.0)
    assert moment.derived is not None and moment.derived.ventilation_needed is not None
    assert moment.derived.ventilation_needed < 0.05 * 6.05


def test_m20_a_bank_that_has_shown_a_fall_is_credited_with_less_than_it_still_falls() -> None:
    # A taper of 4 h toward 2 A of gas at a voltage under the equalising one: the truth is i - 2 A of charge.
    moment = sulfated(SHAPES[0], 2.45, 22.0)
    for minute in range(0, 240, 5):
        amps = 2.0 + 20.0 * 2.718281828 ** (-minute / 240.0)
        moment.pass_time(300.0, every=30.0, current=amps)
        assert moment.derived is not None and moment.derived.gassing_share is not None
        assert moment.derived.gassing_share * amps >= 2.0, "never less than what really gasses"
    assert moment.derived is not None and moment.derived.gassing_share is not None
    assert moment.derived.gassing_share < 0.85


def aired(moment: Moment, amps: float) -> None:
    """Page, wall, bus and `revival status` ask for the air of the whole current, and bound no gas from above."""
    whole = 0.0504 * moment.bank.cells * amps  # EN IEC 62485-2 with five-fold safety, all of the current taken as gas
    derived = moment.derived
    assert derived is not None and derived.ventilation_needed == pytest.approx(whole, rel=0.01)
    assert f"{whole:.1f} m3/h of air needed now" in moment.now.texts and f"{whole:.1f} m3/h" in gas(derived)
    assert "of hydrogen; " in moment.now.texts or "no volts are known" in moment.now.texts, "also `revival status`"
    assert not re.search(r"up to \d+ % of the current", moment.now.texts)


@pytest.mark.parametrize("volts", [2.30, 2.34, 2.40, 2.50])
@pytest.mark.parametrize("temperature", [5.0, 16.0, 25.0, 39.0])
def test_m20_the_air_is_never_less_than_that_of_all_the_current_where_gas_can_form(
    volts: float, temperature: float
) -> None:
    aired(sulfated((1, 4, 3, 400.0), volts, 2.9, temperature), 2.9)


def test_m20_a_fall_that_credits_the_gas_does_not_credit_the_air() -> None:
    moment = sulfated(SHAPES[0], 2.45, 22.0)
    for minute in range(0, 240, 5):
        moment.pass_time(300.0, every=30.0, current=2.0 + 20.0 * 2.718281828 ** (-minute / 240.0))
    assert moment.derived is not None and moment.derived.gassing_share is not None
    assert moment.derived.gassing_share < 0.85
    aired(moment, moment.feed["current"])


def test_m20_a_nearly_full_bank_gasses_with_all_of_its_small_current_under_the_onset_too() -> None:
    moment = Moment(bank_of(relay=False))
    moment.hand("gravity", {cell: 1.252 for cell in moment.bank.every_cell}, temperature=25.0)
    moment.pass_time(900.0, every=30.0, voltage=2.25 * moment.bank.cells, current=2.9, **{PROBE: 25.0})
    aired(moment, 2.9)


def test_m20_with_a_silent_voltmeter_the_air_is_that_of_all_the_current() -> None:
    moment = sulfated(SHAPES[0], 2.40, 20.0, relay=False)
    del moment.feed["voltage"]
    moment.pass_time(300.0, every=10.0)
    assert moment.derived is not None and moment.derived.volts_per_cell is None
    aired(moment, 20.0)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(("volts", "amps", "hours"), [(2.67, 6.0, 9.0), (2.58, 3.0, 4.0)])
def test_m21_water_is_that_of_the_whole_current(shape: Any, volts: float, amps: float, hours: float) -> None:
    # 0.33609 g for each Ah of a string and cell (Faraday); 6 A for 9 h into one string are 18.1 g.
    moment = sulfated(shape, volts, amps)
    before = moment.derived.water_used if moment.derived else 0.0
    moment.pass_time(hours * HOUR, every=30.0)
    assert moment.derived is not None
    lost = 0.33609 * amps * hours / shape[0]
    assert moment.derived.water_used - before == pytest.approx(lost, rel=0.10)
    assert moment.derived.safe_to_approach_at == pytest.approx(moment.at + HOUR, abs=60.0)


def test_m21_water_due_and_the_reserve_follow() -> None:
    # 30 g above the plates: half is gone after 15 g, that is 44.6 Ah; the permit goes at four fifths.
    bank = bank_of(keys='water_reserve = "30 g"')
    moment = Moment(bank)
    moment.begin(voltage=24.0, current=0.0, **{PROBE: 25.0})
    moment.pass_time(8 * HOUR, every=30.0, voltage=32.0, current=5.0)
    assert "water-due" not in moment.now.flags
    moment.pass_time(1.5 * HOUR, every=30.0)
    assert "water-due" in moment.now.flags and moment.now.allowed
    moment.pass_time(5.5 * HOUR, every=30.0)
    assert "water-reserve" in moment.now.flags and not moment.now.allowed
    assert moment.derived is not None
    assert moment.derived.safe_to_approach_at is not None


def test_m21_where_nobody_measures_the_current_gassing_volts_ask_for_the_hour_of_air() -> None:
    moment = Moment(bank_of(meters=(USUAL[0], USUAL[2]), relay=False))
    moment.pass_time(HOUR, every=30.0, voltage=31.0, **{PROBE: 25.0})
    assert moment.derived is not None
    assert moment.derived.safe_to_approach_at == pytest.approx(moment.at + HOUR, abs=60.0)
    last = moment.at
    moment.pass_time(600.0, voltage=25.6)
    assert moment.derived.safe_to_approach_at == pytest.approx(last + HOUR, abs=90.0)
    moment.fold(Tick(moment.at + 1.0))
    assert moment.derived.hydrogen_rate is None and "0.0 m3/h" not in moment.now.texts


@pytest.mark.parametrize("finished", [False, True])
def test_m21_a_charge_that_nobody_sees_end_goes_on_making_gas_until_somebody_has_seen_the_charger_off(
    finished: bool,
) -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(HOUR, every=10.0, voltage=31.0, current=5.0, **{PROBE: 25.0})
    if finished:
        assert moment.act("finish", sure=True) == ""
    moment.feed.clear()
    moment.pass_time(1.5 * HOUR, every=30.0)
    assert moment.derived is not None and moment.derived.current is None
    assert moment.derived.safe_to_approach_at == pytest.approx(moment.at + HOUR, abs=90.0)
    assert "until an hour after charging has ended" in gas(moment.derived)
    moment.hand("charger", {"volts": 0.0})
    off = moment.at
    moment.pass_time(600.0, every=30.0)
    assert moment.derived.safe_to_approach_at == pytest.approx(off + HOUR, abs=90.0)
    assert "before" in gas(moment.derived)
