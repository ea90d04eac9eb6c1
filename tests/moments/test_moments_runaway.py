"""m31 to m34: current and heat that feed each other are seen at any ceiling, and a revival is none of it."""

from __future__ import annotations

import math

import pytest

from tests.support.moments import Moment, bank_of

PROBE = "electrolyte_temperature"
KEYS = 'chargers = [{{ volts = "{volts} V", amps = "30 A" }}]'


def held(shown: float, blocks: int = 4, relay: bool = True) -> tuple[Moment, float]:
    """A woken bank whose voltage stands at what its meter shows of 2.67 V per cell, and its cells."""
    keys = KEYS.format(volts=round(2.67 * 3 * blocks, 2))
    moment = Moment(bank_of(blocks=blocks, keys=keys, relay=relay))
    cells = moment.bank.cells
    moment.begin(voltage=2.05 * cells, current=0.0, **{PROBE: 25.0})
    moment.pass_time(3 * 3600.0, every=30.0, voltage=2.30 * cells, current=30.0)
    for minute in range(150):
        moment.pass_time(60.0, every=30.0, voltage=shown * cells, current=8.0 + 20.0 * math.exp(-minute / 40.0))
    assert not moment.now.latched
    return moment, cells


@pytest.mark.parametrize(("shown", "blocks"), [(2.67, 4), (2.63, 2), (2.60, 8)])
def test_m31_current_and_warmth_together_trip_at_the_ceiling_that_this_meter_shows(shown: float, blocks: int) -> None:
    moment, _ = held(shown, blocks)
    moment.pass_time(3600.0, every=30.0, current=8.0)
    for minute in range(180):
        part = min(1.0, minute / 120.0)
        moment.pass_time(60.0, every=30.0, current=8.0 * (1.0 + 0.25 * part), **{PROBE: 25.0 + 4.0 * part})
        if moment.now.latched:
            break
    assert moment.now.latched == {"thermal-runaway"}


def test_m32_a_current_that_doubles_slowly_while_the_electrolyte_warms_trips_before_the_temperature_does() -> None:
    moment, _ = held(2.67)
    moment.pass_time(3600.0, every=30.0, current=6.0)
    for minute in range(15 * 60):
        hours = minute / 60.0
        warm = 25.0 + 1.3 * min(hours, 6.0) + 0.8 * max(0.0, hours - 6.0)
        moment.pass_time(60.0, every=30.0, current=6.0 * (1.0 + 2.0 * hours / 15.0), **{PROBE: warm})
        if moment.now.latched:
            break
    assert moment.now.latched == {"thermal-runaway"}
    assert moment.feed[PROBE] < 38.0


@pytest.mark.parametrize("volts", [2.40, 2.67])
def test_m33_a_bank_that_wakes_climbs_tenfold_and_warms_and_nothing_trips(volts: float) -> None:
    moment = Moment(bank_of(keys=KEYS.format(volts=round(volts * 12, 2))))
    cells = moment.bank.cells
    moment.begin(voltage=1.90 * cells, current=0.0, **{PROBE: 15.0})
    moment.pass_time(3 * 3600.0, every=30.0, voltage=volts * cells, current=2.0)
    for minute in range(240):
        part = minute / 240.0
        amps, sag = 2.0 * 12.0**part, 0.15 * part**2
        moment.pass_time(60.0, every=30.0, voltage=(volts - sag) * cells, current=amps, **{PROBE: 15.0 + 8.0 * part})
        assert not moment.now.latched
    assert moment.now.phase in ("reviving", "bulk")


@pytest.mark.parametrize("warm", [38.5, 41.0])
def test_m34_nobody_is_told_to_turn_the_charger_up_while_the_bank_is_warm(warm: float) -> None:
    moment = Moment(bank_of(keys=KEYS.format(volts=28.8)))
    cells = moment.bank.cells
    moment.begin(voltage=2.05 * cells, current=0.0, **{PROBE: 30.0})
    moment.pass_time(2 * 3600.0, every=30.0, voltage=2.30 * cells, current=30.0)
    moment.pass_time(600.0, every=30.0, **{PROBE: 34.0})
    moment.pass_time(600.0, every=30.0, **{PROBE: warm})
    for minute in range(180):
        moment.pass_time(60.0, every=30.0, voltage=2.40 * cells, current=10.0 + 18.0 * math.exp(-minute / 60.0))
        assert "charger-limit-low" not in moment.now.flags
        assert "raise the charger" not in moment.now.advice.lower()
