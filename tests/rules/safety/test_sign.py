"""When a current's sign is doubted, and when it is believed again; the limits are ours (assumed).

That a bank which gives sinks, and rises only while it is charged, is Ohm's law and the fall of the acid's density with
its charge; the half-ampere by which a Hall sensor strays is common practice, no source.
"""

from __future__ import annotations

import pytest

from rules.bank.model import Meter
from rules.bank_view import View
from rules.meters import Step
from rules.phase import REVERSED
from rules.safety import sign
from rules.safety.interlock import Interlock
from tests.support.fold import make_bank

BANK = make_bank()  # 200 Ah: charging begins at 0.5 A
AT = 1_795_590_000.0


def means(*points: tuple[float, float]) -> list[Step]:
    """Five-minute means of amps and volts per cell."""
    return [Step(AT + 300.0 * n, 25.0, amps, volts) for n, (amps, volts) in enumerate(points)]


def view(amps: float | None, volts: float | None = 2.4) -> View:
    return View(None if volts is None else 12 * volts, volts, amps, False, 25.0, None, None, (), None, 0.0)


def ramp(count: int, volts: float, *, amps: float = -20.0, begin: float = 2.05) -> list[Step]:
    """So many means in which the volts per cell change by so much in all."""
    return means(*[(amps, begin + volts * n / (count - 1)) for n in range(count)])


#: A voltmeter that falls silent in a discharge, and comes back in the middle of five minutes.
SILENT_FOR_A_WHILE = means(
    *[(-10.0, 2.05)] * 3, *[(-10.0, 0.0)] * 9, (-10.0, 1.65), *[(-10.0, 1.96 - 0.002 * n) for n in range(9)]
)


@pytest.mark.parametrize(
    ("steps", "rises"),
    [
        (ramp(8, 0.03), True),
        (ramp(7, 0.03), False),  # half an hour, with its first mean passed over, is not complete
        (ramp(8, 0.02), False),  # of which the first seventh is passed over
        (ramp(8, -0.03), False),
        (means((5.0, 2.30), *[(-20.0, 2.05 + 0.005 * n) for n in range(8)]), True),
        (means(*[(-20.0, 2.05 + 0.005 * n) for n in range(8)], (5.0, 2.30)), False),
        (means(*[(-20.0, 2.05 + 0.005 * n) for n in range(7)], (0.0, 2.09), *[(-20.0, 2.10)] * 3), False),
        (means(*[(-20.0 + 2.0 * n, 2.05 + 0.01 * n) for n in range(9)]), False),  # a load that is taken off
        (means(*[(-20.0 + 0.1 * n, 2.05 + 0.01 * n) for n in range(9)]), True),
        (means((-20.0, 2.00), *[(-20.0, 2.05)] * 9), False),  # the dip with which a discharge begins
        (SILENT_FOR_A_WHILE, False),
        (means(*[(-10.0, 2.05)] * 3, (-10.0, 1.40), *[(-10.0, 2.04 - 0.002 * n) for n in range(9)]), False),
        (means((-20.0, 2.0), *[(-20.0, 2.05 + 0.01 * n) for n in range(8)], (-18.0, 2.2)), True),  # nine tenths of it
        (means((-20.0, 2.0), *[(-20.0, 2.05 + 0.01 * n) for n in range(8)], (-17.9, 2.2)), False),
        (means((-20.0, 2.0), (-20.0, 2.05), *[(-10.0, 2.10)] * 8, (-15.0, 2.2)), False),  # less than at its beginning
        (means((-20.0, 2.0), (-20.0, 2.10), *[(-20.0, 2.05)] * 8, (-20.0, 2.11)), False),  # as it stood before
        (means((-20.0, 1.0), *[(-20.0, 1.5 + 0.01 * n) for n in range(8)]), True),
        (means((-20.0, 1.0), *[(-20.0, 1.49 + 0.01 * n) for n in range(8)]), False),  # its first means were not seen
        ([], False),
    ],
)  # fmt: skip
def test_a_bank_that_rises_while_it_gives_as_much_as_before_is_being_charged(steps: list[Step], rises: bool) -> None:
    assert sign.rises_while_giving(steps, 1.0) is rises


def test_what_may_be_the_meters_zero_is_no_giving() -> None:
    assert not sign.rises_while_giving(ramp(12, 0.1, amps=-0.9), 1.0)
    assert sign.rises_while_giving(ramp(12, 0.1, amps=-1.0), 1.0)


@pytest.mark.parametrize(
    ("amps", "reversed_seconds", "doubted"),
    [
        (-1.0, REVERSED, True),
        (-1.0, REVERSED - 1.0, False),
        (-0.9, REVERSED, False),  # Hall sensors stray by half an ampere
        (0.0, REVERSED, False),
        (4.0, REVERSED, False),
        (None, REVERSED, False),
    ],
)
def test_ten_minutes_below_zero_at_a_chargers_voltage_are_enough(
    amps: float | None, reversed_seconds: float, doubted: bool
) -> None:
    lock = sign.doubted(BANK, Interlock(), reversed_seconds, [], view(amps), AT)
    assert lock.sign_doubted == (AT if doubted else 0.0)


def test_a_large_bank_strays_by_more() -> None:
    large = make_bank(strings=4)  # 800 Ah: charging begins at 2 A
    assert sign.doubted(large, Interlock(), REVERSED, [], view(-1.9), AT).sign_doubted == 0.0
    assert sign.doubted(large, Interlock(), REVERSED, [], view(-2.0), AT).sign_doubted == AT


def test_rising_while_giving_is_enough_below_any_chargers_voltage() -> None:
    assert sign.doubted(BANK, Interlock(), 0.0, ramp(12, 0.1), view(-20.0, 2.1), AT).sign_doubted == AT
    assert sign.doubted(BANK, Interlock(), 0.0, ramp(12, -0.1), view(-20.0, 2.1), AT).sign_doubted == 0.0


@pytest.mark.parametrize(
    ("amps", "volts", "believed"),
    [
        (1.0, 2.25, True),
        (0.9, 2.4, False),
        (20.0, 2.24, False),  # a reversed shunt reads above zero while the bank gives
        (20.0, None, False),
        (-20.0, 2.4, False),
        (0.0, 2.0, False),  # the charger is off, which says nothing
        (None, 2.4, False),
    ],
)
def test_only_a_current_that_flows_in_is_believed_again(
    amps: float | None, volts: float | None, believed: bool
) -> None:
    before = Interlock(sign_doubted=AT - 60.0)
    lock = sign.doubted(BANK, before, REVERSED, ramp(12, 0.1), view(amps, volts), AT)
    assert lock.sign_doubted == (0.0 if believed else AT - 60.0)


def test_the_finding_names_the_meter_and_the_fix() -> None:
    found = sign.finding(BANK, -20.0)
    assert (found.value, found.limit, found.unit) == (-20.0, 0.0, "A")
    assert "sign (cabin/shunt)" in found.reason and "revival resume" in found.reason
    two = make_bank(more=(Meter("current#2", "current", source="cabin/other"),))
    assert "cabin/other" not in sign.finding(two, -20.0).reason
