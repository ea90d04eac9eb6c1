"""m43, m46, m70 to m73: where a bank is follows from what stood, moved and fell; what cannot be seen is not said."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import pairwise

import pytest

from bridge.words.bank_status import spans
from rules.events import Reading, Tick
from tests.support.moments import USUAL, Moment, bank_of, cells_of

PROBE = "electrolyte_temperature"
KEYS = 'chargers = [{{ volts = "{volts} V", amps = "{amps} A" }}]'


def on_charger(volts: float, amps: float = 30.0, *, blocks: int = 4, strings: int = 1, more: str = "") -> Moment:
    """A watched bank on a charger of this ceiling per cell [V] and current [A]."""
    keys = KEYS.format(volts=round(volts * 3 * blocks, 2), amps=amps) + more
    return Moment(bank_of(blocks=blocks, strings=strings, keys=keys, relay=False))


def test_m43_a_reversed_current_at_a_charger_voltage_withholds_the_hours_and_is_not_idle() -> None:
    moment = on_charger(2.67)
    moment.pass_time(3 * 3600.0, every=30.0, voltage=32.0, current=-20.0, **{PROBE: 30.0})
    assert moment.now.phase != "idle"
    assert moment.derived is not None and moment.derived.remaining_hours is None
    assert "reads below zero" in moment.derived.remaining_reason
    assert not {"not-reviving", "hopeless"} & moment.now.flags


def test_m46_a_meter_that_loses_eight_percent_is_not_called_silent() -> None:
    dice = random.Random(46)
    moment = Moment(bank_of(meters=USUAL, relay=False))
    silent = 0
    for minute in range(4 * 1440):
        moment.at += 60.0
        for meter, value in (("voltage", 25.0), ("current", 5.0), (PROBE, 20.0)):
            if dice.random() >= 0.08:
                shown = value + 0.01 * dice.random()
                moment.fold(Reading("north", meter, shown, moment.at, moment.at))
        moment.fold(Tick(moment.at))
        silent += minute > 720 and "meter-silent" in moment.memory.flags
    assert silent == 0


@pytest.mark.parametrize("blocks", [2, 4, 8])
def test_m70_a_full_bank_falls_from_the_first_minutes_on_and_never_blocked(blocks: int) -> None:
    moment = on_charger(2.62, blocks=blocks)
    cells = moment.bank.cells
    moment.pass_time(600.0, every=30.0, voltage=2.12 * cells, current=0.0, **{PROBE: 25.0})
    moment.pass_time(240.0, every=30.0, voltage=2.35 * cells, current=30.0)
    for minute in range(30 * 60):
        moment.pass_time(60.0, every=60.0, voltage=2.62 * cells, current=1.5 + 4.0 * math.exp(-minute / 150.0))
        if minute > 120:
            assert moment.now.phase not in ("waking", "reviving")
    assert "not-reviving" not in moment.now.flags


@pytest.mark.parametrize("peak", [0.35, 0.40, 0.60])
def test_m71_a_peak_at_a_part_of_the_charger_and_a_fall_is_a_bank_that_has_woken(peak: float) -> None:
    moment = on_charger(2.40, 40.0, strings=2)
    cells = moment.bank.cells
    moment.pass_time(3 * 3600.0, every=30.0, voltage=2.40 * cells, current=1.0, **{PROBE: 20.0})
    for minute in range(300):
        moment.pass_time(60.0, every=60.0, current=1.0 * (40.0 * peak) ** (minute / 300.0))
    for minute in range(300):
        moment.pass_time(60.0, every=60.0, current=40.0 * peak * math.exp(-minute / 400.0))
    assert moment.memory.phase.woken
    assert moment.now.phase in ("absorbing", "holding")


def test_m72_a_dead_bank_gets_no_hours_and_is_hopeless_when_that_is_earned() -> None:
    moment = on_charger(2.40)
    moment.pass_time(600.0, every=60.0, voltage=1.9 * 12, current=0.0, **{PROBE: 20.0})
    for _ in range(110):
        moment.pass_time(3600.0, every=60.0, voltage=28.8, current=0.6)
        assert moment.derived is not None and moment.derived.remaining_hours is None
    assert "hopeless" in moment.now.flags


def test_m73_a_hold_that_began_on_a_flat_current_is_revoked_when_the_current_rises_above_its_entry() -> None:
    keys = KEYS.format(volts=32.04, amps=30.0)
    bank = bank_of(keys=keys, relay=False)
    moment = Moment(replace(bank, hold=replace(bank.hold, minimum=20.0, maximum=20.0, starts="at-current", tail=6.0)))
    moment.pass_time(600.0, every=60.0, voltage=25.2, current=0.0, **{PROBE: 22.0})
    moment.pass_time(3 * 3600.0, every=60.0, voltage=28.0, current=30.0)
    for minute in range(16 * 60):
        moment.pass_time(60.0, every=60.0, voltage=32.04, current=8.5 + 18.0 * math.exp(-minute / 60.0))
    assert moment.now.phase == "holding"
    moment.pass_time(2 * 3600.0, every=60.0, current=12.0)
    assert moment.now.phase == "finishing"
    assert moment.memory.phase.hold_seconds == 0.0


def charged_on(strings: int, capacity: float, amps: float, hours: int, rise: float) -> Moment:
    """A woken bank behind a relay, after so many hours at full current; volts per cell rise by so much an hour."""
    keys = KEYS.format(volts=32.04, amps=amps) + f'\nlimits = {{ string_current = "{amps} A" }}'
    moment = Moment(bank_of(strings=strings, capacity=capacity, keys=keys))
    moment.begin(voltage=25.2, current=0.0, **{PROBE: 22.0})
    for hour in range(hours):
        moment.pass_time(3600.0, every=150.0, voltage=12 * (2.20 + rise * hour), current=amps, **{PROBE: 25.0})
        if hour % 12 == 11:  # the water of a long round is noted as it goes in
            moment.hand("water", {"": 5.0})
    return moment


@pytest.mark.parametrize(
    ("strings", "capacity", "amps", "hours", "rise"), [(2, 200.0, 30.0, 48, 0.004), (2, 220.0, 25.0, 70, 0.002)]
)
def test_m74_a_bank_that_still_rises_is_charged_on_beyond_three_times_its_rating(
    strings: int, capacity: float, amps: float, hours: int, rise: float
) -> None:
    moment = charged_on(strings, capacity, amps, hours, rise)
    assert moment.memory.counters.charge > 3.0 * strings * capacity
    assert "charge-limit" not in moment.now.flags and moment.now.allowed, moment.now.flags


@pytest.mark.parametrize(("capacity", "amps", "hours"), [(200.0, 30.0, 46), (110.0, 14.0, 50)])
def test_m74_a_bank_that_has_stopped_responding_is_cut_and_a_person_may_give_it_a_day(
    capacity: float, amps: float, hours: int
) -> None:
    moment = charged_on(2, capacity, amps, hours, 0.0)
    assert moment.memory.counters.charge > 3.0 * 2 * capacity
    assert "charge-limit" in moment.now.flags and not moment.now.allowed
    assert "charging hours nothing has moved" in moment.now.texts
    assert "nothing moves any more" in moment.now.advice and "`revival resume`" in moment.now.advice
    assert moment.act("resume") == ""
    moment.pass_time(23 * 3600.0, every=150.0)
    assert moment.now.allowed and "charge-limit" not in moment.now.flags
    moment.pass_time(2 * 3600.0, every=150.0)
    assert "charge-limit" in moment.now.flags and not moment.now.allowed


@pytest.mark.parametrize(("daily", "cut"), [(0.004, False), (0.0, True)])
def test_m74_a_gravity_that_gains_from_day_to_day_is_a_bank_that_still_responds(daily: float, cut: bool) -> None:
    moment = charged_on(2, 200.0, 30.0, 1, 0.0)
    for half_day in range(5):
        moment.hand("gravity", {cell: 1.200 + daily * half_day for cell in cells_of(moment.bank)}, 25.0)
        moment.pass_time(12 * 3600.0, every=150.0)
        # It does not gas at 2.20 V and needs no water: that would lie on the acid, and no gravity would count.
        moment.hand("level", {"": "full"})
    assert moment.memory.counters.charge > 3.0 * 400.0
    assert ("charge-limit" in moment.now.flags) is cut


FULL_CELLS = (1.265, 1.280, 1.270)


def read_at_rest(moment: Moment, gravities: tuple[float, ...], temperature: float | None = 26.7) -> None:
    """Read every cell of a bank that rests, in turn at these gravities, with the temperature of its acid."""
    cells = cells_of(moment.bank)
    moment.pass_time(1200.0, every=30.0, voltage=2.11 * moment.bank.cells, current=0.0, **{PROBE: 20.0})
    values: dict[str, float | str] = {cell: gravities[n % len(gravities)] for n, cell in enumerate(cells)}
    assert "hand" in moment.hand("gravity", values, temperature)


@pytest.mark.parametrize(("blocks", "volts"), [(2, 2.45), (4, 2.45), (4, 2.67), (8, 2.67)])
@pytest.mark.parametrize(
    ("gravities", "temperature", "full"),
    [
        (FULL_CELLS, 26.7, True),
        ((1.265, 1.265, 1.200), 26.7, False),  # one weak cell
        (FULL_CELLS, None, False),  # not corrected: nobody knows
        ((1.180, 1.175, 1.190), 26.7, False),  # a sulfated bank
    ],
)
def test_m70_a_bank_whose_gravities_are_full_is_not_told_to_wait_for_its_plates(
    blocks: int, volts: float, gravities: tuple[float, ...], temperature: float | None, full: bool
) -> None:
    moment = on_charger(volts, blocks=blocks)
    read_at_rest(moment, gravities, temperature)
    moment.pass_time(3600.0, every=30.0, voltage=volts * moment.bank.cells, current=1.2)
    assert moment.now.phase == "waking"
    if min(gravities) < 1.2 or full:
        assert ("covered plates" not in moment.now.advice) is full
    assert ("this bank is charged: every cell was read at 1.265 or more" in moment.now.advice) is full
    assert ("`revival finish`" in moment.now.advice) is full
    assert moment.derived is not None
    assert ("still blocking" not in moment.derived.remaining_reason) is full, moment.derived.remaining_reason
    moment.pass_time(26 * 3600.0, every=60.0)
    assert ("not-reviving" in moment.now.flags) is not full


@pytest.mark.parametrize(("gravities", "full"), [(FULL_CELLS, True), ((1.180, 1.175, 1.190), False)])
def test_m70_before_a_round_a_charged_bank_is_asked_whether_it_needs_one(
    gravities: tuple[float, ...], full: bool
) -> None:
    moment = on_charger(2.45)
    read_at_rest(moment, gravities)
    moment.pass_time(60.0)
    assert ("whether it needs a round at all: every cell was read at 1.265 or more" in moment.now.advice) is full
    assert "`revival checklist --name YOU`" in moment.now.advice


@pytest.mark.parametrize("after", ["a weaker reading", "water", "taken back", "warmth"])
def test_m70_full_gravities_count_no_longer_once_something_contradicts_them(after: str) -> None:
    moment = on_charger(2.45)
    read_at_rest(moment, FULL_CELLS)
    moment.pass_time(1800.0, every=30.0, voltage=2.45 * 12, current=1.2)
    assert "this bank is charged" in moment.now.advice
    first = cells_of(moment.bank)[0]
    if after == "a weaker reading":
        moment.hand("gravity", {first: 1.190}, 26.7)
    elif after == "water":
        moment.hand("water", {first: 200.0})
    elif after == "taken back":
        moment.hand("gravity", {}, undo=True)
    moment.pass_time(60.0, **({PROBE: 39.5} if after == "warmth" else {}))
    assert "this bank is charged" not in moment.now.advice
    assert ("Turn nothing up while the bank is warm" if after == "warmth" else "covered plates") in moment.now.advice


def test_the_curve_shades_a_phase_from_when_the_page_says_that_it_began() -> None:
    moment = on_charger(2.45)
    moment.pass_time(1200.0, every=30.0, voltage=2.05 * 12, current=0.0, **{PROBE: 20.0})
    moment.pass_time(1500.0, every=30.0, voltage=2.45 * 12, current=1.2)
    moment.pass_time(40 * 60.0, every=30.0, voltage=2.35 * 12, current=20.0)
    assert moment.derived is not None and moment.derived.phase_since is not None
    shaded = spans(moment.events, moment.at - 5 * 3600.0, moment.at)
    assert (shaded[-1]["phase"], shaded[-1]["from"]) == (moment.derived.phase, moment.derived.phase_since)
    waking = next(each for each in shaded if each["phase"] == "waking")
    known = next(event.at for event in moment.events if event.kind == "phase" and event.detail["phase"] == "waking")
    assert known - waking["from"] >= 540.0, "ten minutes of charging show it, and it was so from their beginning"
    assert all(one["to"] == after["from"] for one, after in pairwise(shaded))


def test_the_hatching_of_a_stop_lies_over_the_minutes_in_which_nothing_flowed() -> None:
    moment = on_charger(2.45)
    moment.pass_time(1200.0, every=30.0, voltage=2.05 * 12, current=0.0, **{PROBE: 20.0})
    moment.pass_time(3600.0, every=30.0, voltage=2.35 * 12, current=20.0)
    off = moment.at
    moment.pass_time(600.0, every=30.0, voltage=2.15 * 12, current=0.0)
    on = moment.at
    moment.pass_time(900.0, every=30.0, voltage=2.35 * 12, current=20.0)
    still = [each for each in spans(moment.events, off - 1800.0, moment.at) if each["interrupted"]]
    assert len(still) == 1
    assert abs(still[0]["from"] - off) <= 60.0 and abs(still[0]["to"] - on) <= 60.0, "to the minute that is judged"


def test_the_first_minutes_say_when_the_hours_come_and_that_is_when_they_come() -> None:
    moment = on_charger(2.45)
    moment.pass_time(1200.0, every=30.0, voltage=2.05 * 12, current=0.0, **{PROBE: 20.0})
    for minute in range(1, 40):
        moment.pass_time(60.0, every=30.0, voltage=2.45 * 12, current=1.2)
        assert moment.derived is not None
        waits = "from its first 20 min of charging" in moment.derived.remaining_reason
        if 12 <= minute <= 19 or minute >= 23:  # the round itself begins with its tenth minute
            assert waits is (minute <= 19), (minute, moment.derived.remaining_reason)


@pytest.mark.parametrize("amps", [2.3, 16.3])
def test_a_round_that_is_over_while_current_flows_rests_nowhere(amps: float) -> None:
    moment = on_charger(2.67)
    moment.pass_time(3600.0, every=30.0, voltage=32.0, current=amps, **{PROBE: 25.0})
    moment.act("start")
    assert moment.act("finish", sure=True) == ""
    moment.pass_time(300.0)
    assert moment.now.phase == "resting", "the word on the bus stays"
    said = moment.now.texts
    assert "  round over, still on charge; " in said and "  resting" not in said
    assert "the charger is still on" in said
    moment.pass_time(900.0, current=0.0, voltage=25.6)
    assert "  resting; " in moment.now.texts and "still on charge" not in moment.now.texts


def test_a_bank_that_gives_current_is_not_told_that_none_flows() -> None:
    moment = Moment(bank_of(relay=False))
    moment.pass_time(300.0, voltage=25.0, current=-1.2, **{PROBE: 25.0})
    said = moment.now.texts
    assert "-1.2 A" in said and "none flows into the bank, which gives 1.2 A" in said
    assert "no current is seen to flow" not in said
    moment.pass_time(60.0, current=-0.1)
    assert "no current is seen to flow" in moment.now.texts
