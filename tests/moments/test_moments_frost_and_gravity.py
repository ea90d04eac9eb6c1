"""m01 to m06: when a bank is too cold to charge, and which hydrometer readings may be believed."""

from __future__ import annotations

from typing import Any

import pytest

from bridge.report.told import hand_readings
from rules.events import HandReading
from rules.laws.electrolyte import freezing_point
from tests.support.moments import Moment, bank_of, cells_of, labels

DAY = 86400.0
PROBE = "electrolyte_temperature"
#: Blocks in a string, cells in a block, rating [Ah].
BANKS = [(4, 3, 200.0), (2, 6, 100.0), (8, 3, 375.0)]


def cold(
    blocks: int, cells: int, capacity: float, gravity: float, *, volts: float = 2.10, temperature: float = -15.0
) -> Any:
    """A bank whose cells were all read, and the frost that came afterwards."""
    bank = bank_of(blocks=blocks, cells=cells, capacity=capacity)
    moment = Moment(bank)
    moment.prepare(voltage=volts * bank.cells, current=0.0, **{PROBE: 20.0})
    moment.hand("gravity", dict.fromkeys(cells_of(bank), gravity), temperature=20.0)
    moment.pass_time(60.0, **{PROBE: temperature})
    return moment


def may_start(moment: Moment) -> bool:
    assert moment.act("start") == ""
    moment.pass_time(60.0)
    return moment.now.allowed


@pytest.mark.parametrize("shape", BANKS)
def test_m01_a_young_gravity_of_every_cell_lets_a_strong_bank_start_in_the_frost(shape: tuple[int, int, float]) -> None:
    # 1.265 freezes at -75 degF (a maker's sheet), 1.250 at -62 degF (US Army TM 5-1185).
    assert may_start(cold(*shape, 1.265))


@pytest.mark.parametrize(("days", "starts"), [(6.5, True), (7.5, False), (150.0, False)])
def test_m01_a_gravity_of_another_season_does_not_count(days: float, starts: bool) -> None:
    moment = cold(4, 3, 200.0, 1.265)
    moment.later(days * DAY)
    moment.pass_time(60.0)
    assert may_start(moment) is starts
    assert ("frozen-risk" in moment.now.flags) is not starts
    if not starts:
        assert f"{days:.0f} days old" in moment.now.texts and "weak acid is assumed" in moment.now.texts


@pytest.mark.parametrize("shape", BANKS)
@pytest.mark.parametrize(("below", "starts"), [(1.00, False), (0.20, False), (0.06, False), (0.03, True)])
def test_m01_volts_that_contradict_the_gravity_make_it_count_for_nothing(
    shape: Any, below: float, starts: bool
) -> None:
    # Acid of 1.265 rests at 2.110 V (Bode, Lead-Acid Batteries, Wiley 1977).
    blocks, cells, capacity = shape
    moment = cold(blocks, cells, capacity, 1.265, volts=2.110 - below)
    assert may_start(moment) is starts
    assert ("frozen-risk" in moment.now.flags) is not starts
    if not starts:
        assert "contradict a gravity of 1.2" in moment.now.texts


def test_m01_charge_drawn_since_and_water_added_since_make_it_count_for_nothing() -> None:
    moment = cold(4, 3, 200.0, 1.265)
    moment.pass_time(2.2 * 3600.0, every=30.0, current=-10.0)
    assert "22 Ah were drawn" in moment.now.texts and not may_start(moment)
    moment = cold(4, 3, 200.0, 1.265)
    moment.pass_time(60.0)
    moment.hand("water", {"": 300.0})
    assert "water was added to" in moment.now.texts and not may_start(moment)


def test_m01_a_gravity_without_its_temperature_does_not_count_either() -> None:
    moment = cold(4, 3, 200.0, 1.265)
    moment.pass_time(60.0)
    moment.hand("gravity", dict.fromkeys(cells_of(moment.bank), 1.265))
    assert "read without its temperature" in moment.now.texts and not may_start(moment)


@pytest.mark.parametrize("shape", BANKS)
@pytest.mark.parametrize("others", [None, "none", "low"])
def test_m02_one_cell_read_says_nothing_of_the_others(shape: Any, others: str | None) -> None:
    bank = bank_of(blocks=shape[0], cells=shape[1], capacity=shape[2])
    moment = Moment(bank)
    moment.prepare(voltage=2.10 * bank.cells, current=0.0, **{PROBE: -10.0})
    cells = cells_of(bank)
    values: dict[str, float | str] = {cells[0]: 1.25}
    if others is not None:
        values |= dict.fromkeys(cells[1:], others)
    moment.hand("gravity", values, temperature=-10.0)
    assert not may_start(moment)
    assert "frozen-risk" in moment.now.flags and cells[1] in moment.now.texts
    assert "too cold" in moment.act("prove")


@pytest.mark.parametrize(("temperature", "starts"), [(-11.0, True), (-13.0, False)])
def test_m02_what_the_weakest_cell_allows_is_the_limit(temperature: float, starts: bool) -> None:
    # 1.150 freezes at -15 degC (US Army TM 5-1185), and three kelvin are kept (common practice, no source).
    assert freezing_point(1.150) == pytest.approx(-15.0)
    moment = Moment(bank_of())
    moment.prepare(voltage=2.005 * 12, current=0.0, **{PROBE: 26.0})
    gravities: dict[str, float | str] = dict.fromkeys(cells_of(moment.bank), 1.180)
    moment.hand("gravity", {**gravities, cells_of(moment.bank)[5]: 1.150}, temperature=80 / 1.8 - 32 / 1.8)
    moment.pass_time(30.0, **{PROBE: temperature})
    assert may_start(moment) is starts
    assert starts or moment.memory.flags["frozen-risk"].limit == pytest.approx(-12.0, abs=0.1)


def test_m06_a_frozen_bank_is_thawed_slowly_and_looked_over_before_any_charge() -> None:
    moment = cold(4, 3, 200.0, 1.265, temperature=-5.0)
    assert may_start(moment)
    moment.hand("seen", {labels(moment.bank)[1]: "frozen, ice in two cells"})
    whole = moment.now
    assert not whole.allowed and "case-damaged" in whole.flags and not whole.latched
    assert "thaws slowly in a warm room" in whole.advice and "cracks and leaks" in whole.advice
    assert "frozen" in moment.act("start") and "frozen" in moment.act("prove")
    moment.pass_time(400.0, **{PROBE: 12.0})
    assert not moment.now.allowed, "warm again is not enough"
    moment.hand("seen", {labels(moment.bank)[1]: "thawed"})
    moment.pass_time(400.0)
    assert not moment.now.allowed, "nobody has looked for cracks yet"
    moment.hand("seen", {labels(moment.bank)[1]: "thawed, no cracks, no leaks"})
    assert moment.act("resume") == "", "a second act, from away of the posts"
    moment.pass_time(400.0)
    assert moment.now.allowed and "case-damaged" not in moment.now.flags


def after_charging(shape: Any = (4, 3, 200.0)) -> Moment:
    """A bank that was charged, and has rested for half a day."""
    moment = Moment(bank_of(blocks=shape[0], cells=shape[1], capacity=shape[2]))
    moment.begin(voltage=2.0 * moment.bank.cells, current=0.0, **{PROBE: 20.0})
    moment.pass_time(900.0, voltage=2.3 * moment.bank.cells, current=8.0)
    moment.act("finish", sure=True)
    moment.pass_time(12 * 3600.0, every=60.0, voltage=2.1 * moment.bank.cells, current=0.0)
    return moment


@pytest.mark.parametrize("shape", BANKS)
@pytest.mark.parametrize(("hours", "mixed"), [(1.0, False), (7.0, False), (47.0, False), (49.0, True)])
def test_m03_a_gravity_read_over_water_that_is_not_mixed_condemns_nothing(
    shape: Any, hours: float, mixed: bool
) -> None:
    # US Bureau of Reclamation FIST 3-6, 2.17: an hour of gassing charge, or two days.
    moment = after_charging(shape)
    cells = cells_of(moment.bank)
    moment.hand("water", {cells[0]: 150.0})
    moment.pass_time(hours * 3600.0, every=60.0)
    moment.hand("gravity", {**dict.fromkeys(cells, 1.262), cells[0]: 1.212}, temperature=20.0)
    assert moment.derived is not None
    row = next(row for row in moment.derived.cells if row["cell"] == cells[0])
    assert row["trusted"] is mixed
    assert ("imbalance" in moment.now.flags) is mixed
    if not mixed:
        assert f"water was added {hours:.0f} h before" in str(row["why"])
        assert "an hour of gassing charge" in str(row["why"]) and "two days" in str(row["why"])
        assert moment.derived.gravity_spread == pytest.approx(0.0, abs=1e-6)


def test_m03_an_hour_of_gassing_charge_mixes_it() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.0, current=0.0, **{PROBE: 20.0})
    moment.hand("water", {"A1.1": 150.0})
    moment.pass_time(0.5 * 3600.0, every=30.0, voltage=30.0, current=8.0)
    moment.hand("gravity", {"A1.1": 1.212}, temperature=20.0)
    assert moment.derived is not None and "water was added" in str(moment.derived.cells)
    moment.pass_time(0.6 * 3600.0, every=30.0)
    moment.hand("gravity", {"A1.1": 1.212}, temperature=20.0)
    assert "water was added" not in str(moment.derived.cells)


def test_m04_a_reading_without_its_temperature_is_shown_as_uncorrected_and_counts_for_nothing() -> None:
    moment = after_charging()
    moment.hand("gravity", dict.fromkeys(cells_of(moment.bank), 1.262))
    assert moment.derived is not None
    for row in moment.derived.cells:
        assert (row["trusted"], row["corrected"], row["gravity"]) == (False, False, 1.262)
        assert "without the temperature of its acid: not corrected" in str(row["why"])
    assert "not all corrected" in moment.now.texts
    moment.hand("gravity", dict.fromkeys(cells_of(moment.bank), 1.262), temperature=20.0)
    assert all(row["corrected"] and row["trusted"] for row in moment.derived.cells)
    assert "not all corrected" not in moment.now.texts


@pytest.mark.parametrize(
    ("value", "others", "why"),
    [
        (1.365, 1.26, "stronger than a full cell"),
        (1.365, None, "stronger than a full cell"),
        (1.010, 1.26, "far from its neighbours at 1.2"),
        (1.262, 1.10, "far from its neighbours at 1."),
    ],
)
@pytest.mark.parametrize("together", [True, False])
def test_m05_a_strange_gravity_is_asked_about_before_it_is_taken(
    value: float, others: str | None, why: str, together: bool
) -> None:
    moment = Moment(bank_of())
    moment.pass_time(60.0, voltage=25.2, current=0.0, **{PROBE: 20.0})
    cells = cells_of(moment.bank)
    neighbours: dict[str, float | str] = {} if others is None else dict.fromkeys(cells[1:], others)
    values: dict[str, float | str] = {cells[0]: value}
    if together:
        values |= neighbours
    elif neighbours:
        moment.hand("gravity", neighbours, temperature=20.0)
    before = moment.memory.hand
    assert moment.hand("gravity", values, temperature=20.0, sure=False) == ["unsure"]
    assert why in str(moment.events[-1].detail["why"])
    assert moment.memory.hand == before, "it leaves no trace"
    kinds = moment.hand("gravity", values, temperature=20.0, sure=True)
    assert "hand" in kinds and cells[0] in {reading.cell for reading in moment.memory.hand.gravities}


@pytest.mark.parametrize("values", [(1.262, 1.258, 1.212), (1.05, 1.04, 1.09), (1.262,), ("low", 1.26, 1.25)])
def test_m05_what_cells_of_a_tired_bank_show_is_not_asked_about(values: Any) -> None:
    moment = Moment(bank_of())
    moment.pass_time(60.0, voltage=25.2, current=0.0, **{PROBE: 20.0})
    told = dict(zip(cells_of(moment.bank), values, strict=False))
    assert "hand" in moment.hand("gravity", told, temperature=20.0, sure=False)


@pytest.mark.parametrize(
    ("slip", "why"),
    [
        ({"A2.2": 1.265}, "A2.2 at 1.265 read 1.230, and that was 1 min before"),
        ({"A2.2": 1.021}, "A2.2 at 1.021 read 1.230"),
        ({"A1.1": 1.080}, "A1.1 at 1.080 read 1.230"),
        ({"A4.3": 1.120}, "A4.3 at 1.120 is far from its neighbours at 1.230"),  # 1.210, transposed
        ({"A4.3": 1.091}, "A4.3 at 1.091 is far from its neighbours at 1.230"),
    ],
)
def test_a_slip_of_one_cell_is_asked_about_by_its_neighbours_itself_the_time_and_its_digits(
    slip: dict[str, float | str], why: str
) -> None:
    moment = Moment(bank_of())
    moment.pass_time(60.0, voltage=25.2, current=0.0)
    cells = [cell for cell in cells_of(moment.bank) if cell != "A4.3"]
    assert "hand" in moment.hand("gravity", dict.fromkeys(cells, 1.230), sure=False)
    moment.pass_time(60.0, voltage=25.2, current=0.0)
    assert moment.hand("gravity", slip, sure=False) == ["unsure"]
    assert why in str(moment.events[-1].detail["why"])
    assert "hand" in moment.hand("gravity", slip, sure=True)
    assert "hand" in moment.hand("gravity", slip, sure=False), "it read so before"
    moment.hand("water", {"A2.1": 60.0})
    assert "hand" in moment.hand("gravity", {"A2.1": 1.150}, sure=False), "under the water that was poured"
    if "A2.2" in slip:
        moment.pass_time(3 * 3600.0, every=60.0, voltage=28.0, current=8.0)
        assert "hand" in moment.hand("gravity", {"A1.2": 1.265}, sure=False), "hours of charge lift it so far"


def test_one_cell_of_an_earlier_sheet_is_taken_back_and_the_rest_stays() -> None:
    moment = Moment(bank_of())
    moment.pass_time(60.0, voltage=25.2, current=0.0)
    cells = cells_of(moment.bank)
    moment.hand("gravity", {**dict.fromkeys(cells, 1.230), "A2.2": 1.320}, temperature=20.0)
    moment.hand("gravity", {"A1.1": 1.232}, temperature=20.0)
    moment.hand("gravity", {"A2.2": ""}, undo=True, sure=False)
    kept = {reading.cell: reading for reading in moment.memory.hand.gravities}
    assert "A2.2" not in kept and len(kept) == len(cells) - 1 and len(moment.memory.hand.entries) == 2
    gone = [event.detail["gone"] for event in moment.events if "gone" in event.detail]
    assert gone == [{"taken_at": moment.at, "values": {"A2.2": 1.320}, "note": ""}]
    found = hand_readings([event for event in moment.events if event.kind == "hand"])
    assert [len(dict(event.detail["values"])) for event in found] == [len(cells) - 1, 1]  # type: ignore[call-overload]
    assert moment.hand("gravity", {"A2.2": ""}, undo=True, sure=False) == ["refused"]


def test_digits_of_the_probe_in_the_other_scale_are_asked_about_and_trip_nothing() -> None:
    moment = Moment(bank_of())
    moment.pass_time(60.0, voltage=25.2, current=0.0, **{PROBE: 17.2})
    assert moment.hand("gravity", {"A2.2": 1.210}, temperature=63.0, sure=False) == ["unsure"]
    assert "did you mean 63 degF?" in str(moment.events[-1].detail["why"])
    assert moment.hand("temperature", {"": 63.0}) == ["unsure"]
    moment.pass_time(30.0, **{PROBE: 17.2})
    assert not moment.now.latched
    assert moment.hand("temperature", {"": -8.3}) == ["unsure"] and "17" in str(moment.events[-1].detail["why"])
    assert "hand" in moment.hand("temperature", {"": 17.0})
    moment.hand("temperature", {"": 63.0}, sure=True)
    moment.pass_time(90.0, **{PROBE: 17.2})
    assert "over-temperature" in moment.now.latched


def test_a_charger_s_setting_is_held_against_file_cells_strings_and_what_the_meter_shows() -> None:
    def why(**values: float) -> str:
        moment.hand("charger", dict(values))
        last = moment.events[-1]
        return str(last.detail["why"]) if last.kind == "unsure" else ""

    moment = Moment(bank_of())
    moment.pass_time(60.0, voltage=24.6, current=0.0, **{PROBE: 20.0})
    assert why(volts=25.0, amps=32.0) == "25 V and 32 A: did you mean 32 V and 25 A?"
    assert "which charges nothing" in why(volts=24.0) and "over the limit of" in why(volts=36.0)
    assert "are more than the" in why(volts=28.8, amps=80.0)
    assert why(volts=28.8, amps=20.0) == "" and why(volts=0.0) == ""
    moment.begin(voltage=24.6, current=0.0, **{PROBE: 20.0})
    assert why(volts=28.8, amps=20.0) == ""
    moment.pass_time(900.0, every=10.0, voltage=28.7, current=1.0, **{PROBE: 20.0})
    assert moment.now.phase == "waking"
    assert "27 V stand beside 28.7 V on the meter" in why(volts=27.0)
    raised = why(volts=32.0)
    assert raised.startswith("the bank still wakes, and its voltage is not raised then") and "28.8 V" in raised
    moment.hand("charger", {"volts": 32.0}, sure=True)
    noted = [event for event in moment.events if event.kind == "hand"][-1]
    assert "leave it at 28.8 V" in str(noted.detail["cautions"])


def test_nobody_is_told_to_set_a_charger_to_the_volts_at_which_the_bank_stands_after_a_cut() -> None:
    moment = Moment(bank_of(relay=False))
    moment.begin(voltage=24.6, current=0.0, **{PROBE: 20.0})
    moment.pass_time(900.0, every=10.0, voltage=28.7, current=1.0, **{PROBE: 20.0})
    moment.pass_time(20.0, every=10.0, voltage=26.74, current=0.0, **{PROBE: 20.0})
    assert moment.now.phase == "waking"
    moment.hand("charger", {"volts": 32.0}, sure=True)
    noted = [event for event in moment.events if event.kind == "hand"][-1]
    assert "26.74" not in str(noted.detail)


def test_gravities_read_before_the_charge_began_count_although_they_are_noted_in_it() -> None:
    moment = Moment(bank_of(relay=False))
    sheet: dict[str, float | str] = dict.fromkeys(cells_of(moment.bank), 1.250)

    def noted(ago: float) -> dict[str, object]:
        then = moment.at - ago
        moment.fold(HandReading("north", "gravity", moment.at, then, sheet, 25.0, f"Ann {ago}", "", sure=True))
        return dict([each for each in moment.events if each.kind == "hand"][-1].detail)

    moment.pass_time(1800.0, voltage=24.6, current=0.0, electrolyte_temperature=25.0)
    moment.pass_time(900.0, voltage=27.0, current=10.0)
    assert noted(20 * 60.0)["under_charge"] is False, "nothing charged yet"
    assert noted(10 * 60.0)["under_charge"] is True
    assert noted(24 * 3600.0)["under_charge"] is False
    moment.pass_time(2 * 3600.0, voltage=25.0, current=0.0)
    moment.pass_time(900.0, voltage=27.0, current=10.0)
    assert noted(3600.0)["under_charge"] is True, "two hours apart are one charge: it had not rested"
    found = Moment(bank_of(relay=False))
    found.pass_time(900.0, voltage=27.0, current=10.0, electrolyte_temperature=25.0)
    moment = found
    assert noted(20 * 60.0)["under_charge"] is True, "nobody saw it begin"


def test_after_a_night_of_rest_gravities_tell_how_long_it_was_though_the_next_charge_is_on() -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(60.0, voltage=24.6, current=0.0, electrolyte_temperature=25.0)
    moment.pass_time(900.0, voltage=27.0, current=10.0)
    moment.pass_time(8 * 3600.0, every=60.0, voltage=25.0, current=0.0)
    moment.pass_time(600.0, voltage=27.0, current=10.0)
    then = moment.at - 1200.0
    moment.fold(HandReading("north", "gravity", moment.at, then, {"A1.1": 1.25}, 25.0, "Ann", "", sure=True))
    told = [each for each in moment.events if each.kind == "hand"][-1].detail
    assert told["under_charge"] is False and 7.5 < float(str(told["rested_hours"])) < 8.1
