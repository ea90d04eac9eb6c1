"""The plan before the charger is switched on, against worked values of the trade and of the standards."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.bank.model import Bank, Block, ChargerSetting, HoldRule, Limits
from rules.laws.ac_side import PLAIN
from rules.plan.input import Charger, Found, PlanInput
from rules.plan.make import plan

CHARGER = Charger("charger", 32.1, 50.0, 20.0)
SMALL = Charger("small charger", 16.0, 40.0, 2.0)


def bank(
    name: str = "north", strings: int = 1, blocks: int = 4, cells: int = 3, capacity: float = 225.0, **more: Any
) -> Any:
    return Bank(
        name,
        tuple(tuple(Block(f"{name[0].upper()}{s}{b}", cells, capacity) for b in range(blocks)) for s in range(strings)),
        **more,
    )


def planned(found: Any, **more: Any) -> Any:
    return plan(PlanInput((found,), **more)).banks[0]


def words(made: Any) -> Any:
    return " ".join(made.steps)


def test_50_amps_into_12_cells_need_30_cubic_metres_and_850_square_centimetres() -> None:
    # EN 50272-2 / IEC 62485-2: 0.05 x cells x amps, 28 cm2 per m3/h.
    made = planned(Found(bank(strings=2), (CHARGER,), volts=24.0))
    assert made.figure("amps to set today").value == pytest.approx(50.0)
    assert made.figure("air").value == pytest.approx(30.0, rel=0.01)
    assert made.figure("opening, in and out each").value == pytest.approx(850.0, rel=0.01)
    assert "Air: 30 m3/h, or an opening of 847 cm2" in words(made)
    capped = planned(Found(bank(), (CHARGER,), volts=24.0))
    assert capped.figure("air").value == pytest.approx(30.0 * 29.25 / 50.0, rel=0.01)
    assert "Air: 18 m3/h" in words(capped) and "at its full 50 A the charger needs 30 m3/h, so cap it" in words(capped)


def test_openings_that_are_there_cap_the_amps_like_the_breaker_does() -> None:
    # 28 cm2 per m3/h of 0.05 x 24 cells x amps: 645 cm2 (100 sq in) carry 19 A.
    big = Found(bank(blocks=8), (Charger("c", 64.0, 30.0, 40.0),), volts=48.0)
    made = planned(big, opening=645.16)
    assert made.figure("amps the openings carry").value == pytest.approx(19.05, abs=0.01)
    assert made.figure("amps to set today").value == 19.0, "whole amps, never more than they carry"
    assert planned(big, opening=668.0).figure("amps to set today").value == 19.0, "19.7"
    assert "Set 58.8 V and 19 A on c today." in words(made)
    assert "Your openings of 645 cm2 each carry about 19 A: cap the charger there, or open the door" in words(made)
    wide = planned(big, opening=2000.0)
    assert wide.figure("amps to set today").value == pytest.approx(29.25)
    assert "carry about 59 A, no less than is set" in words(wide)
    fixed = planned(Found(bank(blocks=8), (Charger("c", 64.0, 29.0, 40.0, fixed=True),), volts=48.0), opening=645.16)
    assert "19 A: open the door, or add a fan" in words(fixed)
    assert fixed.figure("amps to set today").value == pytest.approx(29.0)


def test_a_charger_that_ends_as_near_as_chargers_regulate_holds_at_its_own_voltage() -> None:
    def told(volts: float) -> str:
        own = bank(blocks=8, chargers=(ChargerSetting(volts, 30.0),))
        return str(words(planned(Found(own, (Charger("c", volts, 30.0, 40.0),), volts=48.0))))

    assert "stay at 64.0 V" in told(64.0) and "cannot begin" not in told(64.0)
    assert "stay at 63.9 V" in told(63.9)
    for low in (60.0, 63.5):
        assert f"reaches only {low:g} V, equalising needs 64.1 V" in told(low)
    assert "Set 64.1 V and" in told(65.0) and "stay at 64.1 V" in told(65.0), "never set above what is held"


def test_the_first_setting_is_14_7_volts_on_6_cells_and_29_4_on_12() -> None:
    # Common practice, no source.
    assert planned(Found(bank(blocks=2), (CHARGER,), volts=12.0)).figure("volts to set today").value == pytest.approx(
        14.7
    )
    assert planned(Found(bank(), (CHARGER,), volts=24.0)).figure("volts to set today").value == pytest.approx(29.4)


def test_32_volts_on_12_cells_is_2_67_per_cell() -> None:
    # Common practice, no source.
    made = planned(Found(bank(), (CHARGER,), volts=24.0))
    assert made.figure("equalising volts").value == pytest.approx(32.0, abs=0.05)
    assert "raise to 32.0 V (2.67 V per cell)" in words(made)


def test_50_amps_in_two_strings_are_25_each() -> None:
    # Kirchhoff; common practice.
    made = planned(Found(bank(strings=2), (CHARGER,), volts=24.0))
    assert made.figure("amps to set today").value == 50.0
    assert made.figure("amps per string").value == 25.0
    assert "25.0 A in each of 2 strings" in words(made)


def unequal(first: float, second: float, **more: Any) -> Any:
    twin = bank(strings=2, **more)
    volts = {block.label: each for string, each in zip(twin.strings, (first, second), strict=True) for block in string}
    return planned(Found(twin, (CHARGER,), blocks=volts))


def test_strings_that_rest_apart_are_not_joined_before_the_lower_one_is_charged_alone() -> None:
    # Ohm and Kirchhoff: 2 V over two strings of 12 x 0.42 / 225 = 22.4 milliohm (J. Schiffer et al. 2007) are 44.6 A.
    made = unequal(6.2, 5.7)
    assert made.figure("amps between strings when joined").value == pytest.approx(44.64, abs=0.01)
    assert made.figure("volts that strings may rest apart").value == pytest.approx(1.31, abs=0.01)
    assert "rest 2.0 V apart: joined, up to 45 A" in words(made) and "within 1.3 V" in words(made)
    assert "alone first, at 29 A at most" in words(made) and "the bank in one piece" not in words(made)


def test_strings_that_rest_alike_are_joined_without_a_word_and_a_single_one_has_no_such_figure() -> None:
    made = unequal(6.1, 6.0)
    assert made.figure("amps between strings when joined").value == pytest.approx(8.93, abs=0.01)
    assert "apart: joined" not in words(made)
    names = {figure.name for figure in planned(Found(bank(), (CHARGER,), volts=24.0)).figures}
    assert "amps between strings when joined" not in names
    assert "amps between strings when joined" not in {figure.name for figure in unequal(6.1, -6.0).figures}


@pytest.mark.parametrize(("blocks", "volts"), [(2, 10.5), (4, 21.0), (8, 42.0)])
def test_the_plan_says_where_the_capacity_test_will_end(blocks: int, volts: float) -> None:
    # US Navy NAVEDTRA 14113: 1.75 V times cells.
    charger = Charger("charger", 2.7 * 3 * blocks, 50.0)
    made = planned(Found(bank(blocks=blocks), (charger,), volts=6.0 * blocks))
    assert made.figure("end of the capacity test").value == volts
    assert f"down to {volts:.1f} V" in made.steps[-1]


def test_oxygen_is_half_of_the_hydrogen() -> None:
    made = planned(Found(bank(), (CHARGER,), volts=24.0))
    assert made.figure("oxygen").value * 2.0 == made.figure("hydrogen").value


# 80 percent of a circuit for three hours or more: National Electrical Code 210.19(A); else conservation of energy.
@pytest.mark.parametrize(
    ("volts_ac", "breaker", "kind", "volts_dc", "cells", "carried"),
    [
        (120.0, 15.0, (0.99, 0.88), 29.0, 12, 43.3),
        (120.0, 15.0, PLAIN, 29.0, 12, 25.8),
        (120.0, 15.0, (0.70, 0.85), 15.5, 6, 55.3),
        (120.0, 15.0, (0.99, 0.88), 62.0, 24, 20.2),
        (230.0, 12.5, (0.95, 0.88), 58.0, 24, 33.2),
    ],
)
def test_the_outlet_bounds_the_amps(
    volts_ac: Any, breaker: Any, kind: str, volts_dc: Any, cells: int, carried: Any
) -> None:
    charger = Charger("charger", volts_dc, 100.0, 0.0, *kind)
    wide = bank(blocks=cells // 3, limits=Limits(string_current=1000.0))
    made = planned(Found(wide, (charger,), volts=cells * 2.0), outlet_amps=breaker, outlet_volts=volts_ac)
    assert made.figure("outlet limit").value == pytest.approx(0.8 * breaker)
    assert made.figure("charging amps the outlet carries").value == pytest.approx(carried, abs=0.1)
    assert made.figure("amps to set today").value == pytest.approx(carried, abs=0.1)


def test_the_bank_with_most_life_left_goes_first_and_a_reversed_block_last() -> None:
    dead = Found(bank("dead"), (CHARGER,), volts=10.0)
    better = Found(bank("better"), (CHARGER,), volts=23.0)
    wide = Found(bank("wide", blocks=8), (Charger("wide", 64.2, 50.0),), volts=44.0)
    reversed_ = Found(bank("odd"), (CHARGER,), blocks={"O00": -6.0, "O01": 11.0, "O02": 12.0, "O03": 12.0})
    unknown = Found(bank("unknown"), (CHARGER,))
    made = plan(PlanInput((unknown, reversed_, dead, wide, better)))
    assert made.order == ("better", "wide", "dead", "unknown", "odd")
    assert "most life left" in made.queue[0] and "begins day 1," in made.queue[0]
    assert "not as it is" in made.queue[-1]


def test_one_charger_serves_three_banks_one_after_the_other() -> None:
    banks = tuple(Found(bank(name), (CHARGER,), volts=24.0) for name in ("a", "b", "c"))
    made = plan(PlanInput(banks))
    on = made.banks[0].figure("hours with the charger on")
    assert on.high is not None
    assert f"begins day {1 + 2 * on.value / 24:.0f} to {1 + 2 * on.high / 24:.0f}" in made.queue[2]


def test_a_bank_too_low_for_its_charger_is_woken_in_halves_and_rejoined_above_the_threshold() -> None:
    made = planned(Found(bank(), (CHARGER, SMALL), volts=18.0))
    text = words(made)
    assert "N00 N01 and N02 N03" in text
    assert "small charger at 14.7 V" in text
    assert "up to 29 A, capped before it is connected" in text
    joined, lasts = made.figure("volts after rejoining"), made.figure("hours above the start threshold")
    assert 20.0 < joined.value < joined.high == pytest.approx(24.6)
    assert 0.0 < lasts.value < lasts.high
    assert made.figure("hours with the charger on").high > 48.0 + 48.0


def test_the_outlet_bounds_the_small_charger_too() -> None:
    plain = SMALL._replace(power_factor=0.65, efficiency=0.80)
    made = planned(Found(bank(), (CHARGER, plain), volts=18.0), outlet_amps=5.0)
    assert made.figure("amps for a half").value == pytest.approx(4.0 * 120.0 * 0.65 * 0.80 / 14.7)


def test_a_half_that_may_fall_below_the_threshold_gets_another_hour_before_joining() -> None:
    made = planned(Found(bank(), (CHARGER, SMALL), volts=6.0))
    assert made.figure("volts after rejoining").value < 20.0
    assert "another hour on the small charger" in words(made)


def test_without_a_charger_for_a_half_the_plan_says_which_one_to_find() -> None:
    assert "made for 6 cells (about 14.7 V) that starts below 9.0 V" in words(
        planned(Found(bank(), (CHARGER,), volts=18))
    )
    lone = bank(blocks=1, cells=12)
    assert "cannot be woken in halves" in words(planned(Found(lone, (CHARGER, SMALL), volts=18.0)))


def test_a_charger_that_starts_is_left_on_the_whole_bank() -> None:
    assert "Leave the bank in one piece." in planned(Found(bank(), (CHARGER, SMALL), volts=20.0)).steps


def test_a_charger_too_small_for_the_bank_stops_the_plan_and_one_too_strong_is_set_first() -> None:
    small = planned(Found(bank(), (SMALL,), volts=24.0))
    assert "no charger reaches 28.8 V" in small.stop[0]
    strong = planned(Found(bank(), (Charger("strong", 64.0, 20.0),), volts=24.0))
    assert "It can give 64 V, harmful from 33.0 V" in words(strong)


def test_a_charger_below_the_equalising_voltage_cannot_finish_the_work() -> None:
    assert "equalising needs 32.0 V" in words(planned(Found(bank(), (Charger("c", 29.4, 20.0),), volts=24.0)))


def test_sealed_banks_reversed_blocks_and_frost_stop_the_plan() -> None:
    stop = planned(Found(bank(), (CHARGER,), blocks={"N00": -5.9}, volts=6.0, sealed=True), ambient=-1.0).stop
    assert len(stop) == 3
    assert "flooded cells only" in stop[0]
    assert "N00 reads backwards" in stop[1]
    assert "too cold" in stop[2]


def test_frost_is_judged_by_the_weakest_cell_and_unknown_counts_as_almost_water() -> None:
    # US Army TM 5-1185: 1.150 freezes at -15 degC (5 degF); 3 K of margin is common practice, no source.
    assert planned(Found(bank(), gravity=1.150)).figure("coldest for charging").value == pytest.approx(-12.0)
    assert planned(Found(bank())).figure("coldest for charging").value == 1.0, "0.2 degC, up to a whole one"
    assert planned(Found(bank(), (CHARGER,), gravity=1.150, volts=24.0), ambient=-10.0).stop == ()


def test_the_water_of_the_longest_hold_is_weighed_against_what_stands_above_the_plates() -> None:
    # Faraday: 0.33609 g per Ah and cell; 240 Ah of gassing lowers 120 cm2 by 6.7 mm.
    hold = bank(capacity=200.0, hold=HoldRule(16.0, 20.0))
    made = planned(Found(hold, (CHARGER,), volts=24.0, reserve=5.0))
    assert made.figure("water per cell over the hold").value == pytest.approx(12.0 * 20.0 * 0.33609, rel=1e-4)
    assert made.figure("level falls over the hold").value == pytest.approx(6.7, abs=0.05)
    assert made.figure("hours until topping up").value == pytest.approx(0.5 * 5.0 / 6.74 * 20.0, abs=0.05)
    assert "top up with distilled water after 7 h" in words(made)
    assert "that lasts the hold" in words(planned(Found(hold, (CHARGER,), volts=24.0, reserve=14.0)))


def test_an_unknown_reserve_is_counted_as_usual_and_the_cabin_file_comes_before_that() -> None:
    usual = planned(Found(bank(), (CHARGER,), volts=24.0))
    told = planned(Found(bank(water_reserve=270.0), (CHARGER,), volts=24.0))
    assert "if it is as usual: look first" in words(usual)
    assert told.figure("hours until topping up").value == pytest.approx(
        2.0 * usual.figure("hours until topping up").value
    )


def test_a_cold_bank_is_given_time() -> None:
    assert "do not call it dead" in words(planned(Found(bank(), (CHARGER,), volts=24.0), ambient=5.0))
    assert "do not call it dead" not in words(planned(Found(bank(), (CHARGER,), volts=24.0), ambient=15.0))


def test_a_warm_shed_is_expected_to_overheat_and_a_cold_one_is_not() -> None:
    warm = planned(Found(bank(), (CHARGER,), volts=24.0, probe="cell"), ambient=32.0)
    cold = planned(Found(bank(), (CHARGER,), volts=24.0, probe="cell"), ambient=2.0)
    assert "will get too warm" in words(warm)
    assert warm.figure("temperature limit").value == pytest.approx(43.33, abs=0.01)
    assert cold.figure("hottest electrolyte in the hold").value < 43.3
    cap = warm.figure("amps per string that stay under the limit").value
    assert 0.0 < cap < cold.figure("amps per string that stay under the limit").value


def test_a_probe_on_the_case_lowers_the_limit() -> None:
    assert planned(Found(bank(), (CHARGER,), volts=24.0), ambient=20.0).figure("temperature limit").value == 40.0


def test_a_closed_shed_fills_in_hours() -> None:
    # Volume balance: 20 m3, 12 cells, 10 A: 3.65 h to 1 percent.
    made = planned(Found(bank(), (Charger("c", 32.1, 10.0),), volts=24.0), shed_volume=20.0)
    assert made.figure("hours to 1 % if closed").value == pytest.approx(3.65, abs=0.01)


def test_a_generator_that_runs_part_of_the_day_stretches_the_days() -> None:
    always = planned(Found(bank(), (CHARGER,), volts=24.0))
    evenings = planned(Found(bank(), (CHARGER,), volts=24.0), hours_a_day=6.0)
    name = "days until it can be tested"
    assert evenings.figure(name).value > 2 * always.figure(name).value
    with pytest.raises(ValueError, match="1 to 24"):
        planned(Found(bank(), (CHARGER,), volts=24.0), hours_a_day=0.0)


def test_the_owners_settings_and_limits_come_before_the_defaults() -> None:
    own = bank(chargers=(ChargerSetting(28.8, 20.0),), limits=Limits(string_current=15.0))
    made = planned(Found(own, (CHARGER,), volts=24.0))
    assert made.figure("volts to set today").value == 28.8
    assert made.figure("amps to set today").value == 15.0
    assert made.figure("string limit").source == "the cabin file"


def test_a_block_far_below_its_neighbours_is_marked_as_perhaps_shorted() -> None:
    made = planned(Found(bank(), (CHARGER,), blocks={"N00": 6.0, "N01": 6.0, "N02": 4.1, "N03": 6.1}))
    assert "Mark N02 (4.10 V)" in words(made)


def test_what_is_not_known_is_asked_for_instead_of_guessed() -> None:
    made = planned(Found(bank()))
    assert len(made.missing) == 9
    assert not [figure for figure in made.figures if figure.name == "hottest electrolyte in the hold"]
    with pytest.raises(KeyError):
        made.figure("air")


def test_every_figure_can_say_why() -> None:
    made = planned(
        Found(bank(), (CHARGER, SMALL), volts=18.0, reserve=10.0), outlet_amps=15.0, shed_volume=30.0, ambient=10.0
    )
    assert len(made.figures) >= 25
    for figure in made.figures:
        assert figure.formula and figure.source and figure.unit
    assert len({figure.name for figure in made.figures}) == len(made.figures)


def test_checklist_keys_are_unique_and_cautions_name_the_usual_dangers() -> None:
    made = plan(PlanInput((Found(bank()),)))
    keys = [key for key, _ in made.checklist]
    assert len(set(keys)) == len(keys) >= 12
    cautions = " ".join(made.cautions)
    for word in (
        "Hydrogen",
        "sparks",
        "goggles",
        "Never acid",
        "Bare plates",
        "rotten eggs",
        "Soda",
        "codes",
        "cut-out",
    ):
        assert word in cautions


@given(st.sampled_from([2, 4, 8]), st.integers(1, 4), st.floats(0.1, 2.2))
def test_12_24_and_48_volts_and_one_to_four_strings_scale_exactly(blocks: int, strings: int, per_cell: float) -> None:
    cells = 3 * blocks
    one = planned(Found(bank(blocks=2), (Charger("c", 16.05, 25.0),), volts=6 * per_cell), ambient=15.0)
    charger = Charger("c", 16.05 * cells / 6, 25.0 * strings)
    many = planned(Found(bank(blocks=blocks, strings=strings), (charger,), volts=cells * per_cell), ambient=15.0)
    for name, factor in (
        ("resting volts per cell", 1.0),
        ("equalising volts", cells / 6),
        ("amps to set today", strings),
        ("amps per string", 1.0),
        ("air", strings * cells / 6),
        ("AC draw on 120 V mains", strings * cells / 6),
        ("water per cell over the hold", 1.0),
        ("hottest electrolyte in the hold", 1.0),
        ("charge to return", strings),
        ("energy from the outlet", strings * cells / 6),
        ("days until it can be tested", 1.0),
    ):
        assert many.figure(name).value == pytest.approx(factor * one.figure(name).value), name


def test_compensation_in_the_cold_is_bounded() -> None:
    cold = replace(bank(), compensation=-0.005)
    assert planned(Found(cold, (CHARGER,), volts=24.0), ambient=0.0).figure("equalising volts").value == pytest.approx(
        12 * 2.72
    )
