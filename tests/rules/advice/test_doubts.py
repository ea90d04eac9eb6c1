"""Nobody is told to turn anything up where the bank is warm, a meter is doubted, or a quantity is not seen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.advice.charger_now import ChargerNow
from rules.advice.doubts import doubts
from rules.bank.model import Bank, Block, Limits
from rules.bank_view import View

BANK = Bank("north", ((Block("N1", 6, 200.0),),))
COOLER = replace(BANK, limits=Limits(temperature_warning=35.0))
EVERYTHING = ("electrolyte_temperature", "voltage", "current")


def shown(probe: float | None = 20.0, case: float | None = None, volts: float | None = 13.0) -> View:
    cell = None if volts is None else volts / 6
    return View(volts, cell, 5.0, False, probe, case, None, (), None, 0.0)


def said(view: View, *flags: str, metered: bool = True, bank: Bank = BANK) -> tuple[str, tuple[str, ...]]:
    return doubts(bank, view, ChargerNow(metered=metered), flags)


@pytest.mark.parametrize(
    ("view", "metered", "unseen"),
    [
        (shown(), True, ()),
        (shown(probe=None), True, ("electrolyte_temperature",)),
        (shown(probe=None, case=22.0), True, ()),
        (shown(volts=None), True, ("voltage",)),
        (shown(), False, ("current",)),
        (shown(probe=None, volts=None), False, EVERYTHING),
    ],
)
def test_what_nobody_sees_is_named_and_is_a_doubt(view: View, metered: bool, unseen: tuple[str, ...]) -> None:
    assert said(view, metered=metered) == ("unseen" if unseen else "", unseen)


@pytest.mark.parametrize(
    ("view", "bank", "doubt"),
    [
        (shown(37.9), BANK, ""),
        (shown(38.0), BANK, "warm"),
        (shown(20.0, case=39.0), BANK, "warm"),
        (shown(36.0), BANK, ""),
        (shown(36.0), COOLER, "warm"),
        (shown(35.0), COOLER, "warm"),
    ],
)
def test_warm_begins_where_the_bank_says(view: View, bank: Bank, doubt: str) -> None:
    assert said(view, bank=bank) == (doubt, ())


@pytest.mark.parametrize("flag", ["temperature-high", "temperature-rising-fast"])
def test_a_flag_of_warmth_is_the_worst_doubt_of_all(flag: str) -> None:
    assert said(shown(), flag) == ("warm", ())
    assert said(shown(probe=None), flag, "meter-suspect", "water-due") == ("warm", ("electrolyte_temperature",))


@pytest.mark.parametrize("flag", ["meter-suspect", "mapping-suspect", "sensors-disagree"])
def test_a_meter_that_cannot_be_believed_is_worse_than_one_that_is_not_there(flag: str) -> None:
    assert said(shown(), flag) == ("suspect", ())
    assert said(shown(volts=None), flag, metered=False) == ("suspect", ("voltage", "current"))
    assert said(shown(39.0), flag) == ("warm", ())


def test_flags_that_say_neither_are_no_doubt() -> None:
    assert said(shown(), "water-due", "gravity-due", "imbalance") == ("", ())
