"""What a bank shows as a whole, situation by situation: on which side of each limit it stands, and what is said of it.

Bulk current per string is min(30 A, 0.13 C20), common practice for deep-cycle batteries; a lead-acid cell under an
equalising voltage stands near 2.67 V, a shorted one near or under 2.2 V (common practice, no source).
"""

from __future__ import annotations

import pytest

from rules.bank.model import Bank, Block, Meter
from rules.bank_view import View
from rules.meters import Thermal
from rules.meters.warming import Step
from rules.phase import PhaseMemory
from rules.phase.memory import Track
from rules.safety import Finding
from rules.safety.hazards import (
    Blocks,
    fallen_block,
    hogging,
    lowest_block,
    over_limit,
    remember_blocks,
    standing,
)
from tests.support.fold import CASE, PROBE, make_bank

ONE, TWO = make_bank(), make_bank(strings=2)
WOKEN = PhaseMemory(woken=True, track=Track(past_peak=True))
AT = 1_795_590_000.0
OVER = 1.25 * 26.0  # 0.13 x 200 Ah, and a quarter


def view(
    *,
    amps: float | None = 20.0,
    volts: float | None = 28.8,
    strings: tuple[float, ...] = (),
    estimated: bool = False,
    by_hand: bool = False,
    **living: list[tuple[str, float]],
) -> View:
    """What is fresh now; `living` lists places and values by quantity."""
    told = {
        quantity: tuple((Meter(f"{quantity}:{place}", quantity, index=place), value) for place, value in shown)
        for quantity, shown in living.items()
    }
    per_cell = None if volts is None else volts / 12
    return View(volts, per_cell, amps, estimated, 25.0, None, None, strings, None, 0.0, by_hand, living=told)


def hazards(
    seen: View, bank: Bank = ONE, *, ordered: bool = False, woken: bool = True, past: tuple[Blocks, ...] = ()
) -> dict[str, float]:
    """Hazard -> how long it must last."""
    return {
        name: lasts
        for name, (_, lasts) in standing(bank, seen, Thermal(), ordered, PhaseMemory(woken=woken), past).items()
    }


def said(
    name: str, seen: View, bank: Bank = ONE, past: tuple[Blocks, ...] = (), thermal: Thermal | None = None
) -> Finding:
    return standing(bank, seen, thermal or Thermal(), False, WOKEN, past)[name][0]


# ------------------------------------------------------------------------------------------------ one reading alone


@pytest.mark.parametrize(
    ("meter", "spanned", "value", "found"),
    [
        (Meter(PROBE, PROBE, placed="cell"), 1, 43.3, None),
        (Meter(PROBE, PROBE, placed="cell"), 1, 43.4, ("over-temperature", 43.4, "degC", False)),
        (Meter(CASE, PROBE, placed="case"), 1, 39.9, None),
        (Meter(CASE, PROBE, placed="case"), 1, 40.0, ("over-temperature", 40.0, "degC", False)),
        (Meter(PROBE, PROBE, placed="cell"), 1, 51.7, ("over-temperature", 51.7, "degC", True)),
        (Meter("voltage", "voltage"), 12, 33.0, None),
        (Meter("voltage", "voltage"), 12, 33.12, ("over-voltage", 2.76, "V", False)),
        (Meter("b", "block_voltage", index="N00"), 3, 8.25, None),
        (Meter("b", "block_voltage", index="N00"), 3, 8.28, ("over-voltage", 2.76, "V", False)),
        (Meter("c", "cell_voltage", index="N00.1"), 1, 2.76, ("over-voltage", 2.76, "V", False)),
        (Meter("h", "hydrogen"), 1, 0.0099, None),
        (Meter("h", "hydrogen"), 1, 0.01, ("gas", 0.01, "1", False)),
        (Meter("current", "current"), 1, 500.0, None),
        (Meter("h2", "ambient_temperature"), 1, 60.0, None),
    ],
)
def test_one_reading_stands_on_one_side_of_its_limit(
    meter: Meter, spanned: int, value: float, found: tuple[str, float, str, bool] | None
) -> None:
    told = over_limit(ONE, meter, spanned, value)
    if found is None:
        assert told is None
        return
    assert told is not None
    name, finding, at_once = told
    assert (name, finding.unit, at_once) == (found[0], found[2], found[3])
    assert finding.value == pytest.approx(found[1])


@pytest.mark.parametrize(
    ("meter", "spanned", "value", "words"),
    [
        (Meter("hydrogen", "hydrogen"), 1, 0.0123, "1.23 % hydrogen"),
        (Meter("hydrogen#2", "hydrogen"), 1, 0.0123, "1.23 % hydrogen (meter 2)"),
        (Meter("electrolyte_temperature:N00", "electrolyte_temperature", "N00", placed="cell"), 1, 44.5,
         "44.5 degC in the electrolyte of N00"),
        (Meter("block_voltage:N00#3", "block_voltage", "N00"), 6, 16.8, "2.800 V per cell of N00 (meter 3)"),
    ],
)  # fmt: skip
def test_what_is_over_its_limit_is_said_with_its_place_and_not_with_the_inner_name_of_its_meter(
    meter: Meter, spanned: int, value: float, words: str
) -> None:
    told = over_limit(ONE, meter, spanned, value)
    assert told is not None and told[1].reason == words


# ----------------------------------------------------------------------------------------------------- over-current


@pytest.mark.parametrize(
    ("bank", "amps", "trips"),
    [
        (ONE, OVER, False),
        (ONE, OVER + 0.1, True),
        (TWO, 2 * OVER, False),
        (TWO, 2 * OVER + 0.1, True),
        (ONE, None, False),
    ],
)
def test_the_current_of_a_string_is_the_total_over_the_strings(bank: Bank, amps: float | None, trips: bool) -> None:
    assert ("over-current" in hazards(view(amps=amps), bank)) is trips


def test_over_current_must_last_half_a_minute_and_says_what_was_estimated() -> None:
    assert hazards(view(amps=40.0))["over-current"] == 30.0
    assert said("over-current", view(amps=40.0)).reason == "40.0 A per string"
    assert said("over-current", view(amps=40.0)).limit == pytest.approx(OVER)
    assert "estimated" in said("over-current", view(amps=40.0, estimated=True)).reason
    assert "estimated" in said("over-current", view(amps=80.0), TWO).reason


def test_where_strings_are_measured_the_worst_one_counts_and_not_the_mean() -> None:
    assert "over-current" not in hazards(view(amps=90.0, strings=(OVER, 10.0)), TWO)
    assert "over-current" in hazards(view(amps=20.0, strings=(10.0, OVER + 0.1)), TWO)
    found = hogging(TWO, (10.0, 33.0))
    assert found is not None and found.reason == "string 2 takes 33.0 A" and found.limit == pytest.approx(OVER)
    assert hogging(TWO, ()) is None


# ------------------------------------------------------------------------------------------- gas, and what moves air


def air(quantity: str, value: float, amps: float | None) -> View:
    contact = [("", value)]
    return view(amps=amps, volts=25.0, fan=contact) if quantity == "fan" else view(amps=amps, volts=25.0, door=contact)


@pytest.mark.parametrize("quantity", ["fan", "door"])
@pytest.mark.parametrize(
    ("amps", "ordered", "value", "trips"),
    [
        (20.0, False, 0.0, True),
        (0.0, True, 0.0, True),
        (0.0, False, 0.0, False),
        (20.0, False, 1.0, False),
        (20.0, False, 0.5, False),
        (None, False, 0.0, False),
    ],
)
def test_air_that_does_not_move_matters_only_while_something_charges(
    quantity: str, amps: float | None, ordered: bool, value: float, trips: bool
) -> None:
    found = hazards(air(quantity, value, amps), ordered=ordered)
    assert found == ({"gas": 30.0} if trips else {})


# ---------------------------------------------------------------------------------------------------- heat and current


def thermal(*, warms: float, amps: tuple[float, float], lowest: float, rate: float | None = None) -> Thermal:
    """Two hours at a steady voltage: warmer by so many kelvins, from one current to another."""
    steps = tuple(
        Step(AT + 300.0 * n, 30.0 + warms * n / 24, amps[0] + (amps[1] - amps[0]) * n / 24, 2.67) for n in range(25)
    )
    return Thermal(steps=steps, opened_at=steps[-1].at, lowest=lowest, rate=rate)


def test_current_and_heat_that_climb_together_are_told_with_what_they_are_held_against() -> None:
    found = said("thermal-runaway", view(), thermal=thermal(warms=4.0, amps=(5.0, 8.0), lowest=5.0))
    assert found.unit == "A" and (found.value or 0.0) > 1.3 * 5.0 and found.limit == pytest.approx(1.3 * 5.0)
    assert "against 5.0 A at its lowest" in found.reason


def test_what_was_measured_over_half_an_hour_need_not_last_any_longer() -> None:
    for heat in (
        thermal(warms=4.0, amps=(5.0, 8.0), lowest=5.0),
        thermal(warms=20.0, amps=(5.0, 5.0), lowest=5.0, rate=10.0),
    ):
        assert standing(ONE, view(), heat, False, WOKEN)["thermal-runaway"][1] == 0.0


def test_heat_alone_is_told_by_its_rate() -> None:
    found = said("thermal-runaway", view(), thermal=thermal(warms=20.0, amps=(5.0, 5.0), lowest=5.0, rate=10.0))
    assert (found.value, found.limit, found.unit) == (10.0, 8.0, "K/h")


# ------------------------------------------------------------------------------------------------------ shorted cells


def cells(low: float, others: float, count: int = 4) -> list[tuple[str, float]]:
    return [("N00.1", low), *[(f"N0{n}.1", others) for n in range(1, count)]]


@pytest.mark.parametrize(
    ("seen", "suspected"),
    [
        (view(cell_voltage=cells(2.19, 2.4)), True),
        (view(cell_voltage=cells(2.2, 2.4)), False),
        (view(cell_voltage=cells(2.19, 2.39)), False),  # merely flat, all of them
        (view(cell_voltage=cells(2.3, 2.6)), False),
        (view(cell_voltage=cells(1.9, 2.6, count=2)), False),  # of two nobody knows which is wrong
        (view(cell_voltage=cells(1.9, 2.6, count=3)), True),
        (view(cell_voltage=cells(1.9, 2.6), amps=0.0), False),
        (view(cell_voltage=cells(1.9, 2.6), volts=None), False),
        (view(midpoint_voltage=[("", 13.65)]), True),  # the halves: 15.15 V and 13.65 V
        (view(midpoint_voltage=[("", 13.66)]), False),
        (view(midpoint_voltage=[("1", 15.15), ("2", 13.65)]), True),  # a short in the second string
        (view(midpoint_voltage=[("", 15.15)]), True),
        (view(midpoint_voltage=[("", 13.0)], by_hand=True), False),
    ],
)
def test_a_cell_that_stays_low_under_charge_is_suspected(seen: View, suspected: bool) -> None:
    assert hazards(seen) == ({"cell-short-suspected": 60.0} if suspected else {})


def test_what_is_said_of_a_short_names_the_place() -> None:
    assert said("cell-short-suspected", view(cell_voltage=cells(1.9, 2.6))).reason.startswith(
        "cell N00.1 stays at 1.90"
    )
    found = said("cell-short-suspected", view(midpoint_voltage=[("", 12.9)]))
    assert found.value == pytest.approx(3.0) and found.limit == 1.5


@pytest.mark.parametrize(
    ("volts", "low"),
    [
        ({"N00": 5.0, "N01": 6.5, "N02": 6.5, "N03": 6.5}, True),
        ({"N00": 5.01, "N01": 6.5, "N02": 6.5, "N03": 6.5}, False),
        ({"N00": 4.0, "N01": 6.44, "N02": 6.44, "N03": 6.44}, False),  # 2.147 V per cell: the mates are flat as well
        ({"N00": 4.0, "N01": 6.45, "N02": 6.45, "N03": 6.45}, True),
        ({"N00": 4.0, "N01": 2.15 * 3, "N02": 2.15 * 3}, True),
        ({"N00": 5.0, "N01": 6.5}, True),
        ({"N00": 5.0}, False),
        ({}, False),
        ({"elsewhere": 1.0, "N01": 6.5}, False),
    ],
)
def test_a_block_a_cell_under_its_mates_has_lost_one(volts: dict[str, float], low: bool) -> None:
    found = lowest_block(ONE, volts)
    assert (found is not None) is low
    if found is not None:
        mates = volts["N01"]
        assert found.value == volts["N00"] and found.limit == pytest.approx(mates - 1.5)
        assert found.reason == f"block N00 stands at {volts['N00']:.2f} V and the others at {mates:.2f} V"


def test_blocks_are_compared_with_their_own_size_and_over_strings_where_one_is_alone() -> None:
    mixed = Bank("odd", ((Block("A", 3, 200.0), Block("B", 6, 200.0)), (Block("C", 3, 200.0), Block("D", 6, 200.0))))
    assert lowest_block(mixed, {"A": 6.9, "B": 13.8}) is None, "12 V and 6 V blocks are no mates"
    assert lowest_block(mixed, {"A": 5.0, "B": 13.8, "C": 6.9, "D": 13.8}) is not None
    assert lowest_block(mixed, {"A": 6.9, "C": 6.9, "B": 12.2, "D": 13.8}) is not None


@pytest.mark.parametrize(
    ("now", "fell"),
    [
        ({"N00": 6.5, "N01": 7.0, "N02": 7.0}, True),
        ({"N00": 6.51, "N01": 7.0, "N02": 7.0}, False),
        ({"N00": 6.5, "N01": 6.9, "N02": 6.9}, True),
        ({"N00": 6.5, "N01": 6.89, "N02": 6.89}, False),  # all of them fell: the charger was turned down
        ({"N00": 6.5, "N01": 7.0}, True),
        ({"N00": 6.5}, False),
        ({"N00": 6.5, "N03": 7.0}, False),  # nobody knows how that mate stood before
        ({"N03": 6.0, "N01": 7.0}, False),
    ],
)
def test_a_block_that_fell_while_its_mates_stood_is_losing_a_cell(now: dict[str, float], fell: bool) -> None:
    past = [Blocks(AT - 3600.0, {"N00": 7.0, "N01": 7.0, "N02": 7.0})]
    found = fallen_block(ONE, now, past)
    assert (found is not None) is fell
    if found is not None:
        assert found.reason.startswith("block N00 fell by 0.50 V")
        assert found.value == 6.5 and found.limit == pytest.approx(6.5)
        shown = list(now.items())
        assert "cell-short-suspected" in hazards(view(block_voltage=shown), past=tuple(past))


@pytest.mark.parametrize(("now", "short"), [(6.71, False), (6.68, True)])
def test_a_block_that_falls_to_the_level_of_its_mates_has_woken(now: float, short: bool) -> None:
    past = [Blocks(AT - 3600.0, {"N00": 7.4, "N01": 6.95, "N02": 6.99, "N03": 6.9})]
    found = fallen_block(ONE, {"N00": now, "N01": 6.99, "N02": 6.99, "N03": 6.9}, past)
    assert (found is not None) is short, "a tenth of a volt per cell under the others"


@pytest.mark.parametrize(
    ("seen", "short"),
    [
        (view(block_voltage=[("N00", 6.31), ("N01", 7.9), ("N02", 7.9), ("N03", 7.9)]), False),  # 2.103 V per cell
        (view(block_voltage=[("N00", 6.29), ("N01", 7.9), ("N02", 7.9), ("N03", 7.9)]), True),
        (view(midpoint_voltage=[("", 12.61)], volts=30.0), False),  # 2.102 V per cell against 2.90
        (view(midpoint_voltage=[("", 12.59)], volts=30.0), True),
        (view(midpoint_voltage=[("", 17.41)], volts=30.0), True),
    ],
)
def test_as_long_as_a_bank_wakes_a_block_that_hangs_behind_is_short_only_where_no_sound_cell_stands(
    seen: View, short: bool
) -> None:
    assert ("cell-short-suspected" in hazards(seen, woken=False)) is short
    assert "cell-short-suspected" in hazards(seen)


def test_blocks_are_remembered_every_ten_minutes_for_two_hours_and_not_over_a_pause() -> None:
    past = remember_blocks((), {"N00": 7.0}, AT)
    assert [then.at for then in past] == [AT]
    assert remember_blocks(past, {"N00": 6.9}, AT + 599.0) is past
    past = remember_blocks(past, {"N00": 6.8}, AT + 600.0)
    assert [(then.at, then.volts["N00"]) for then in past] == [(AT, 7.0), (AT + 600.0, 6.8)]
    assert [then.at for then in remember_blocks(past, {"N00": 6.8}, AT + 7199.0)] == [AT, AT + 600.0, AT + 7199.0]
    assert [then.at for then in remember_blocks(past, {"N00": 6.8}, AT + 7200.0)] == [AT + 600.0, AT + 7200.0]
    assert remember_blocks(past, {}, AT + 1200.0) == ()
