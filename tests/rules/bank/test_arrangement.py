"""Ampere-hours and hours follow the block however it is wired."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.bank.arrangement import Arrangement, add, arranged, as_configured, change, halves, isolate
from rules.bank.ledger import BlockLedger, credit
from rules.bank.model import Bank, Block, ChargerSetting


def bank(strings: int = 2, blocks: int = 4, cells: int = 3) -> Bank:
    return Bank(
        "north",
        tuple(tuple(Block(f"N{s}{b}", cells, 225.0) for b in range(blocks)) for s in range(strings)),
        chargers=(ChargerSetting(32.0, 45.0),),
    )


def test_a_24_volt_bank_is_woken_as_two_12_volt_halves_and_rejoined() -> None:
    north = bank()
    first, second = halves(north, as_configured(north))
    assert arranged(north, first).cells == arranged(north, second).cells == 6
    assert first.strings == second.aside == (("N00", "N01"), ("N10", "N11"))
    assert change(north, first, "swap") == second
    assert change(north, change(north, first, "swap"), "rejoin") == as_configured(north)


def test_charger_settings_for_the_whole_bank_are_not_applied_to_a_half() -> None:
    north = bank()
    assert arranged(north, halves(north, as_configured(north))[0]).chargers == ()
    assert arranged(north, isolate(as_configured(north), 2)).chargers == north.chargers


def test_an_isolated_string_stays_aside_when_the_halves_are_rejoined() -> None:
    north = bank()
    alone = isolate(as_configured(north), 2)
    joined = change(north, change(north, alone, "split", 2), "rejoin")
    assert joined == alone
    assert add(north, joined, 1) == as_configured(north)


@pytest.mark.parametrize(
    ("act", "number", "words"),
    [
        ("rejoin", 1, "nothing to rejoin"),
        ("isolate", 3, "no number 3"),
        ("add", 1, "no number 1"),
        ("split", 3, "no number 3"),
        ("swap", 1, "nothing to rejoin"),
        ("explode", 1, "split, swap, rejoin, isolate or add"),
    ],
)
def test_what_cannot_be_done_is_refused_in_words(act: str, number: int, words: str) -> None:
    north = bank()
    with pytest.raises(ValueError, match=words):
        change(north, as_configured(north), act, number)


def test_the_last_string_a_half_beside_a_whole_and_a_single_block_are_refused() -> None:
    single = bank(strings=1)
    with pytest.raises(ValueError, match="last string"):
        isolate(as_configured(single), 1)
    half = halves(single, as_configured(single))[0]
    mixed = Arrangement((("N00", "N01", "N02"),), (("N03",),))
    with pytest.raises(ValueError, match="not in parallel"):
        add(single, mixed, 1)
    assert add(single, half, 1).strings == (("N00", "N01"), ("N02", "N03"))
    one = bank(strings=1, blocks=1, cells=6)
    with pytest.raises(ValueError, match="no joint"):
        halves(one, as_configured(one))


def test_an_arrangement_names_only_blocks_of_the_bank_and_each_once() -> None:
    with pytest.raises(ValueError, match="no block X1"):
        arranged(bank(), Arrangement((("X1",),)))
    with pytest.raises(ValueError, match="wired twice"):
        arranged(bank(), Arrangement((("N00",),), (("N00",),)))


def test_charge_and_hours_follow_the_block_through_split_and_rejoin() -> None:
    north = bank(strings=1)
    first, second = halves(north, as_configured(north))
    ledger = credit({}, first, [20.0], 24.0)
    ledger = credit(ledger, second, [10.0], 12.0)
    ledger = credit(ledger, as_configured(north), [100.0], 8.0)
    assert ledger["N00"] == BlockLedger(120.0, 32.0)
    assert ledger["N03"] == BlockLedger(110.0, 20.0)
    with pytest.raises(ValueError, match="2 charges for 1 strings"):
        credit({}, first, [1.0, 2.0], 1.0)


@given(st.lists(st.sampled_from(["split", "swap", "rejoin", "isolate", "add"]), max_size=12), st.integers(1, 3))
def test_no_sequence_of_acts_loses_or_doubles_a_block(acts: Any, number: int) -> None:
    north = bank(strings=3)
    labels = sorted(block.label for string in north.strings for block in string)
    now = as_configured(north)
    for act in acts:
        try:
            now = change(north, now, act, number)
        except ValueError:
            continue
        assert sorted(label for string in now.strings + now.aside for label in string) == labels
        arranged(north, now)
