"""m40 to m47: meters that stand still, send other units, have a wrong clock or no zero."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bridge.commands.status import words
from bridge.runtime.control_socket import ask
from rules.events import Reading, Tick, Unreadable
from tests.support.brokers import Broker, wait_until
from tests.support.cabin import write_cabin
from tests.support.moments import Moment, bank_of
from tests.support.running_bridge import turning

PROBE = "electrolyte_temperature"
HOUR = 3600.0
SHAPES = [(4, 3, 200.0), (2, 6, 100.0), (8, 3, 375.0)]


def alive(
    shape: Any = (4, 3, 200.0), *, volts: float = 2.2, rate: float = 0.10, hours: float = 2.0, relay: bool = True
) -> Moment:
    """A bank under an even current, whose voltmeter and probe flicker in their last digits."""
    moment = Moment(bank_of(blocks=shape[0], cells=shape[1], capacity=shape[2], relay=relay))
    moment.flicker = {PROBE: 0.1, "voltage": 0.01}
    moment.begin(voltage=2.0 * moment.bank.cells, current=0.0, **{PROBE: 20.0})
    for _ in range(round(hours * 12)):
        moment.pass_time(300.0, every=20.0, voltage=volts * moment.bank.cells, current=rate * shape[2])
    return moment


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("volts", [2.15, 2.40, 2.60])
def test_m40_a_probe_that_flickered_and_stands_still_while_amperes_flow_is_not_believed(
    shape: Any, volts: float
) -> None:
    moment = alive(shape, volts=volts, hours=1.0)
    moment.flicker = {"voltage": 0.01}
    moment.pass_time(1.8 * HOUR, every=20.0)
    assert moment.now.allowed and "meter-suspect" not in moment.now.flags
    moment.pass_time(1.2 * HOUR, every=20.0)
    whole = moment.now
    assert "meter-suspect" in whole.flags and not whole.allowed
    assert "electrolyte temperature: stuck" in whole.texts
    assert [order for order in moment.orders if order.action == "cut"][-1].reason == "meter-suspect"
    moment.flicker = {PROBE: 0.1, "voltage": 0.01}
    moment.pass_time(600.0, every=20.0)
    assert moment.now.allowed, "it moves again"


def test_m40_a_probe_that_goes_on_flickering_in_an_even_hold_is_believed() -> None:
    moment = alive(volts=2.5, rate=0.03, hours=8.0)
    assert moment.now.allowed and "meter-suspect" not in moment.now.flags


@pytest.mark.parametrize("step", [0.5, 1.0])
@pytest.mark.parametrize("minutes", [5.0, 30.0])
def test_m41_a_coarse_probe_in_a_quiet_bank_is_no_sign_when_a_few_amperes_flow(step: float, minutes: float) -> None:
    moment = Moment(bank_of())
    moment.flicker = {}
    moment.begin(voltage=25.2, current=0.0, **{PROBE: 15.0 + step})
    moment.pass_time(120.0, **{PROBE: 15.0})
    moment.pass_time(8 * HOUR, every=30.0)
    moment.pass_time(60.0 * minutes, every=20.0, current=4.0, voltage=26.4)
    assert moment.now.allowed and "meter-suspect" not in moment.now.flags


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("factor", [0.6, 1.6])
def test_m42_a_voltmeter_that_stands_still_while_the_current_changes_by_a_third_is_not_believed(
    shape: Any, factor: float
) -> None:
    moment = alive(shape, rate=0.06, hours=0.5)
    moment.flicker = {PROBE: 0.1}
    moment.pass_time(400.0, every=20.0)
    moment.pass_time(1200.0, every=20.0, current=0.06 * shape[2] * factor)
    whole = moment.now
    assert "meter-suspect" in whole.flags and not whole.allowed and "voltage: stuck" in whole.texts


def test_m42_a_coarse_voltmeter_at_a_regulated_voltage_is_believed_through_the_taper() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.0, current=0.0, **{PROBE: 20.0})
    for volts in (28.0, 29.0, 30.0, 31.0, 31.9):
        moment.pass_time(900.0, every=20.0, voltage=volts, current=20.0)
    for amps in (20.0, 15.0, 11.0, 8.0, 6.0, 5.0):
        moment.pass_time(HOUR, every=30.0, voltage=32.0, current=amps)
    assert moment.now.allowed and "meter-suspect" not in moment.now.flags


@pytest.mark.parametrize(("before", "after"), [(20.0, 20_000.0), (1.5, 1500.0)])
@pytest.mark.parametrize("relay", [True, False])
def test_m44_a_shunt_that_sends_another_unit_is_withheld_with_the_key_to_set(
    before: float, after: float, relay: bool
) -> None:
    moment = alive(rate=before / 200.0, hours=0.5, relay=relay)
    moment.pass_time(60.0, current=after)
    whole = moment.now
    assert "meter-suspect" in whole.flags and not whole.latched
    assert f"says {after:g}, check unit of its [[bank.meter]]" in whole.texts and "cabin/current" in whole.texts
    moment.pass_time(120.0)
    assert not moment.now.allowed
    # Nought is nought in every unit: with the relay open the shunt can be believed again.
    assert moment.derived is not None and moment.derived.current == (0.0 if relay else None)


def test_m44_a_decimal_comma_is_withheld_with_topic_payload_and_key() -> None:
    moment = alive(hours=0.5)
    del moment.feed["current"]
    why = 'cabin/shunt says "12,64", decimal comma: write decimal = "," in its [[bank.meter]]'
    for _ in range(30):
        moment.fold(Unreadable("north", "current", moment.at, why))
        moment.pass_time(10.0)
    whole = moment.now
    assert why in whole.texts and "meter-suspect" in whole.flags and not whole.allowed
    moment.pass_time(400.0, current=10.0)
    assert moment.now.allowed, "understood again"


def test_m44_without_a_current_ever_read_no_bank_is_called_dead() -> None:
    bank = bank_of(relay=False)
    moment = Moment(bank)
    moment.flicker = {PROBE: 0.1, "voltage": 0.01}
    moment.pass_time(110 * HOUR, every=60.0, voltage=28.8, **{PROBE: 20.0})
    assert not moment.now.flags & {"not-reviving", "hopeless"}
    assert moment.derived is not None and moment.derived.verdict == ()


def test_m44_the_comma_is_told_on_the_bus_in_the_status_and_read_once_the_key_is_set(
    make_broker: Callable[..., Broker], tmp_path: Path
) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)
    path.write_text(path.read_text().replace('unit = "degF"', 'unit = "degF"\n# here'))
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        broker.publish("cabin/probe", "77,5", "-q", "1")
        wait_until(lambda: "north" in service.latest and "meter-suspect" in str(service.latest["north"].flags))
        said = "\n".join(words(ask(tmp_path / "revival.db", {"ask": "status"})))
        assert 'cabin/probe says "77,5", decimal comma: write decimal = "," in its [[bank.meter]]' in said
    path.write_text(path.read_text().replace("# here", 'decimal = ","'))
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        broker.publish("cabin/probe", "77,5", "-q", "1")
        wait_until(lambda: "north" in service.latest and service.latest["north"].temperature is not None)
        assert service.latest["north"].temperature == pytest.approx((77.5 - 32.0) / 1.8)


STAMPED = (
    ("voltage", 'style = "json"\npointer = "/v"\ntime = "/t"\nunit = "V"'),
    ("current", 'style = "json"\npointer = "/a"\ntime = "/t"\nunit = "A"'),
    ("electrolyte_temperature", 'unit = "degC"\nplaced = "cell"'),
)


def told_with(moment: Moment, lag: float, seconds: float, *, off: float = 0.0, jitter: float = 0.0) -> None:
    """The shunt's own time is so old [s]; or so far off that it is not believed at all."""
    for number in range(round(seconds / 10.0)):
        moment.at += 10.0
        late = lag + (jitter if number % 2 else 0.0)
        for meter, value in (("voltage", 26.4), ("current", 10.0)):
            moment.fold(Reading("north", meter, value, moment.at, moment.at - late, False, off))
        moment.fold(Reading("north", PROBE, 20.0 + 0.1 * (number % 2), moment.at, moment.at))
        if moment.bank.relay is not None:
            moment.fold(Reading("north", "relay_state", float(moment.lock.allowed), moment.at, moment.at))
        moment.fold(Tick(moment.at))


@pytest.mark.parametrize("hours", [0.2, 2.0, 30.0])
@pytest.mark.parametrize("jitter", [0.0, 2.0])
def test_m45_a_meter_whose_clock_is_slow_is_used_by_arrival_and_its_owner_is_told(hours: float, jitter: float) -> None:
    moment = Moment(bank_of(meters=STAMPED, relay=False))
    told_with(moment, 0.5, 300.0)
    assert "meter-clock-wrong" not in moment.now.flags
    told_with(moment, hours * HOUR, hours * HOUR + 600.0 if hours < 1.0 else 900.0, jitter=jitter)
    # A clock that was right and fell behind sends what is older than its newest, until it is past that.
    fresh = Moment(bank_of(meters=STAMPED, relay=False))
    told_with(fresh, hours * HOUR, 600.0, jitter=jitter)
    for each in (fresh,):
        whole = each.now
        assert each.derived is not None and each.derived.current == 10.0 and each.derived.voltage == 26.4
        assert "meter-clock-wrong" in whole.flags and "meter-silent" not in whole.flags
        assert f"{hours:.1f} h slow" in whole.texts and "the clock of cabin/" in whole.texts


@pytest.mark.parametrize(("days", "how"), [(365.0, "fast"), (-20000.0, "slow")])
def test_m45_a_stamp_a_year_ahead_is_not_used_and_its_owner_is_told(days: float, how: str) -> None:
    moment = Moment(bank_of(meters=STAMPED, relay=False))
    told_with(moment, 0.0, 300.0, off=days * 86400.0)
    assert moment.derived is not None and moment.derived.current == 10.0
    assert f"{abs(days):.0f} days {how}" in moment.now.texts
    told_with(moment, 0.0, 100.0)
    assert "meter-clock-wrong" not in moment.now.flags


def test_m45_a_backlog_after_a_radio_gap_is_no_wrong_clock_and_no_present() -> None:
    moment = Moment(bank_of(meters=STAMPED, relay=False))
    told_with(moment, 0.0, 300.0)
    gap = 2 * HOUR
    moment.at += gap
    for number in range(600):
        measured = moment.at - gap + 10.0 * number
        for meter, value in (("voltage", 26.0), ("current", 9.0)):
            moment.fold(Reading("north", meter, value, moment.at + 0.01 * number, measured))
    moment.at += 10.0
    moment.fold(Tick(moment.at))
    assert "meter-clock-wrong" not in moment.now.flags
    assert moment.derived is not None and moment.derived.current is None


def test_m45_a_stamp_of_next_year_comes_in_by_the_bus(make_broker: Callable[..., Broker], tmp_path: Path) -> None:
    broker = make_broker()
    path = write_cabin(tmp_path, broker.port, relay=False)
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed)
        far = time.time() + 365 * 86400.0
        broker.publish("cabin/shunt", json.dumps({"dc": {"mv": 26400, "a": 8.0}, "t": far}), "-q", "1")
        wait_until(lambda: "north" in service.latest and "meter-clock-wrong" in str(service.latest["north"].flags))
        assert service.latest["north"].voltage == pytest.approx(26.4)


@pytest.mark.parametrize("offset", [0.5, 0.3])
@pytest.mark.parametrize("relay", [True, False])
def test_m47_an_offset_at_rest_is_proposed_as_zero_and_its_night_is_not_charge(offset: float, relay: bool) -> None:
    moment = Moment(bank_of(relay=relay))
    moment.offset = {"current": offset}
    moment.prepare(voltage=25.2, current=0.0, **{PROBE: 20.0})
    moment.pass_time(12 * HOUR, every=30.0)
    whole = moment.now
    assert "zero-due" in whole.flags and "revival zero" in whole.texts
    assert moment.memory.flags["zero-due"].value == pytest.approx(offset)
    assert moment.memory.counters.charge == pytest.approx(0.0, abs=0.01)
    assert moment.memory.counters.charging_seconds == 0.0
    if not relay:  # nothing shows that the charger is off: a person who switched it off at the wall says so
        moment.hand("charger", {"volts": 0.0})
    assert moment.act("zero") == ""
    moment.pass_time(2 * HOUR, every=30.0)
    assert "zero-due" not in moment.now.flags and moment.derived is not None
    assert moment.derived.current == pytest.approx(0.0, abs=0.01)


def test_m47_a_waking_bank_that_takes_half_an_ampere_at_the_ceiling_is_charged() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.0, current=0.0, **{PROBE: 20.0})
    moment.pass_time(2 * HOUR, every=30.0, voltage=28.8, current=0.5)
    assert moment.memory.counters.charge == pytest.approx(1.0, rel=0.05)
    assert "zero-due" not in moment.now.flags


def test_m40_m42_a_ramp_that_ends_in_a_plateau_is_no_meter_that_stands_still() -> None:
    # Fine meters without noise: every sample higher than the one before, then the charger holds the voltage, the acid
    # has come to its temperature, and the current falls by two thirds.
    moment = Moment(bank_of())
    moment.flicker = {}
    moment.begin(voltage=25.0, current=0.0, **{PROBE: 18.0})
    for minute in range(120):
        moment.pass_time(60.0, every=30.0, voltage=25.0 + 3.8 * minute / 120.0, current=15.0)
        moment.show(**{PROBE: 18.0 + 0.05 * minute})
    for hour in range(5):
        moment.pass_time(HOUR, every=30.0, voltage=28.8, current=15.0 * 0.8**hour)
        assert moment.now.allowed and "meter-suspect" not in moment.now.flags


def test_a_coarse_voltmeter_that_fell_with_the_sun_and_rests_is_not_stuck() -> None:
    """Clouds take a panel's current away: the bank falls at once by two tenths of a volt and stands; so may a meter."""
    moment = Moment(bank_of(strings=1, blocks=1, cells=6, capacity=90.0))
    moment.flicker = {PROBE: 0.1}
    moment.begin(voltage=12.1, current=0.4, **{PROBE: 23.5})
    for _ in range(3):
        moment.pass_time(60.0, voltage=12.2, current=3.4)
        moment.pass_time(1740.0, voltage=12.3)
        moment.pass_time(1500.0, voltage=12.1, current=0.2)
        assert moment.now.allowed and "meter-suspect" not in moment.now.flags
    # One that shows the same through the charge and the rest after it stands still indeed.
    moment.pass_time(1800.0, voltage=12.3, current=3.4)
    moment.pass_time(1500.0, current=0.2)
    assert "voltage: stuck" in moment.now.texts and not moment.now.allowed
