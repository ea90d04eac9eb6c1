"""What a hand notes against what was noted before, and against the meters of the same place."""

from __future__ import annotations

import pytest

from tests.support.moments import USUAL, Moment, bank_of, cells_of

PROBE = "electrolyte_temperature"


def why(moment: Moment) -> str:
    """Why the last reading was asked about."""
    return str(moment.events[-1].detail["why"])


def test_one_figure_for_the_bank_covers_no_plates_that_were_noted_bare_and_none_stands_a_hand_high() -> None:
    moment = Moment(bank_of())
    moment.prepare(voltage=24.6, current=0.0, **{PROBE: 25.0})
    moment.hand("level", {"A3.1": -3.0})
    assert "plates-bare" in moment.now.flags
    # Room above the plates of this trade's blocks, 40 mm at most: common practice, no source.
    assert moment.hand("level", {"": 100.0}) == ["unsure"]
    assert "100 mm above the plates is more than a case has room for" in why(moment)
    assert moment.hand("level", {"": 12.0}) == ["unsure"]
    assert why(moment).startswith("A3.1 was noted bare, and one figure for the bank")
    assert moment.hand("level", {"A3": 12.0}) == ["unsure"] and "one figure for A3" in why(moment)
    assert moment.hand("level", {"A2.1": 45.0}) == ["unsure"]
    assert "plates-bare" in moment.now.flags, "nothing that was asked about counts"
    assert "hand" in moment.hand("level", {"A2": 40.0}) and "hand" in moment.hand("level", {"": -2.0})
    moment.hand("level", {"": 12.0})
    assert "plates-bare" not in moment.now.flags, "one figure made good by one figure"
    moment.hand("level", {"A3.1": "below-plates"})
    moment.hand("level", {"A3.1": 12.0})
    assert "plates-bare" not in moment.now.flags
    moment.hand("level", {"A3.1": "below-plates"})
    moment.hand("level", {"": 12.0}, sure=True)
    assert "plates-bare" not in moment.now.flags


@pytest.mark.parametrize("rest", ["low", "none"])
def test_a_cell_that_does_not_float_the_hydrometer_is_weaker_than_any_number_it_showed_before(rest: str) -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.0, current=0.0, **{PROBE: 20.0})
    moment.pass_time(600.0, voltage=27.6, current=8.0)
    cells = cells_of(moment.bank)
    moment.hand("gravity", {**dict.fromkeys(cells, 1.240), "A3.1": 1.180}, temperature=20.0)
    assert "gravities-doubted" in moment.now.flags
    moment.hand("gravity", {"A3.1": "low", "A3.2": rest, "A3.3": "high"}, temperature=20.0)
    assert moment.derived is not None and "gravities-doubted" in moment.now.flags
    assert moment.derived.gravity_spread is not None and moment.derived.gravity_spread >= 0.130
    assert moment.derived.lowest_gravity == pytest.approx(1.100), (
        "the lowest mark of the scale, and no number of before"
    )
    assert "A3.1 too weak to float the hydrometer" in moment.now.texts and "lowest at most 1.100" in moment.now.texts


def four() -> Moment:
    """A bank under charge with a meter on each of its four blocks."""
    meters = [("block_voltage", f'unit = "V"\nindex = "A{n}"') for n in range(1, 5)]
    moment = Moment(bank_of(*meters))
    moment.begin(voltage=24.8, current=0.0, **{PROBE: 25.0})
    moment.pass_time(120.0, voltage=28.6, current=6.0, **{f"block_voltage__A{n}": 7.12 for n in range(1, 5)})
    return moment


def test_volts_of_a_block_far_from_its_own_meter_are_asked_about_with_both_figures() -> None:
    moment = four()
    assert moment.hand("voltage", {"A4": 6.0}) == ["unsure"]
    assert why(moment) == "6.00 V by hand at A4 stand beside 7.12 V on its own meter"
    assert "hand" in moment.hand("voltage", {"A4": 7.0}), "inside what both may be off"
    moment.hand("voltage", {"A1": 7.1, "A2": 7.1, "A3": 7.1})
    assert moment.hand("voltage", {"A4": 5.0}) == ["unsure"]
    moment.pass_time(60.0)
    assert not moment.now.latched
    moment.hand("voltage", {"A4": 5.0}, sure=True)
    moment.pass_time(60.0)
    assert "cell-short-suspected" in moment.now.latched, "a danger that nothing else confirms trips all the same"
    assert "5.00 V by hand at A4 stand beside 7.12 V on its own meter" in moment.now.texts


def test_volts_that_read_backwards_are_asked_about_with_and_without_a_meter_of_the_block() -> None:
    for moment in (four(), Moment(bank_of())):
        moment.pass_time(60.0, voltage=28.6)
        assert moment.hand("voltage", {"A1": -7.13}) == ["unsure"]
        assert "A1 at -7.13 V reads backwards: hold red to plus" in why(moment)
        moment.pass_time(60.0)
        assert not moment.now.latched and "polarity-reversed" not in moment.now.flags
        assert "hand" in moment.hand("voltage", {"A1": 7.13})
        moment.hand("voltage", {"A1": -7.13}, sure=True)
        assert "polarity-reversed" in moment.now.flags


@pytest.mark.parametrize(("amps", "said"), [(3.2, False), (3.9, True)])
def test_amps_a_little_apart_from_the_ammeter_are_taken_and_remarked_on(amps: float, said: bool) -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.8, current=0.0, **{PROBE: 25.0})
    moment.pass_time(120.0, voltage=27.0, current=3.0)
    moment.hand("amps", {"": amps})
    (event,) = [event for event in moment.events if event.kind == "hand"]
    assert (f"{amps} A by hand differs by 0.9 A from the ammeter" in str(event.detail.get("cautions"))) is said


@pytest.mark.parametrize(
    ("kind", "noted", "what", "gone"),
    [
        (
            "seen",
            {"A2": "cracked and leaks"},
            "crack, leak at A2",
            '`revival record seen north "A2 crack gone, leak gone"`',
        ),
        ("seen", {"": "a crack"}, "crack at the bank", '`revival record seen north "crack gone"`'),
        ("seen", {"A2": "frozen"}, "frozen at A2", '`revival record seen north "A2 thawed, no cracks, no leaks"`'),
        ("level", {"A3.1": -3.0}, "bare plates at A3.1", "`revival record level north A3.1=10mm`"),
        ("voltage", {"A1": -6.2}, "wrong polarity of A1", "`revival record voltage north A1=VOLTS`"),
    ],
)
def test_a_resume_that_is_refused_gives_the_words_that_note_it_gone_and_they_do(
    kind: str, noted: dict[str, float | str], what: str, gone: str
) -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.8, current=0.0, **{PROBE: 25.0})
    moment.hand(kind, noted, sure=True)
    moment.pass_time(30.0)
    refused = moment.act("resume")
    assert refused.startswith(f"{what} is noted, and nothing charges while it is: ") and gone in refused
    assert "until it is mended" not in refused
    said = gone.strip("`").replace("VOLTS", "6.2").partition(" north ")[2]
    if kind == "seen":
        moment.hand(kind, {"": said.strip('"')})
    else:
        place, _, number = said.partition("=")
        moment.hand(kind, {place: float(number.removesuffix("mm"))})
    moment.pass_time(30.0)
    assert moment.now.flags.isdisjoint({"case-damaged", "plates-bare", "polarity-reversed"})
    assert moment.act("resume") == ""


@pytest.mark.parametrize(
    ("values", "trips", "said"),
    [
        ({"A1.1": 42.0}, False, ""),  # the case limit is 40 degC, that of the acid 110 degF, 43.3 degC
        ({"A1.1": 43.4}, True, "43.4 degC in the electrolyte of A1.1 (by hand)"),
        ({"A1": 42.0}, True, "42.0 degC on the case of A1 (by hand)"),
    ],
)
def test_a_thermometer_in_a_cell_is_held_against_the_limit_of_the_acid(
    values: dict[str, float | str], trips: bool, said: str
) -> None:
    moment = Moment(bank_of(relay=False, meters=(("voltage", 'unit = "V"'), ("current", 'unit = "A"'))))
    moment.pass_time(60.0, voltage=27.0, current=3.0)
    moment.hand("temperature", values)
    moment.pass_time(20.0)
    assert ("over-temperature" in moment.now.latched) is trips
    assert said in " ".join(str(event.detail) for event in moment.events)
    assert moment.memory.hand.temperature_at > 0.0 or "A1" in values


def blocked(rested: float, gravity: float, *, under: bool = True) -> Moment:
    """A round whose volts stand at the ceiling with hardly any amps, and gravities read before or under charge."""
    moment = Moment(bank_of(cells=3, blocks=4))
    sheet: dict[str, float | str] = dict.fromkeys(cells_of(moment.bank), gravity)
    moment.prepare(voltage=12.0 * rested, current=0.0, **{PROBE: 25.0})
    moment.pass_time(180.0)
    if not under:
        moment.hand("gravity", sheet, temperature=25.0)
    assert moment.act("start") == ""
    moment.pass_time(1800.0, voltage=28.8, current=1.8)
    if under:
        moment.hand("gravity", sheet, temperature=25.0)
    moment.pass_time(30.0)
    return moment


@pytest.mark.parametrize("under", [True, False])
def test_full_gravities_beside_resting_volts_that_were_not_are_told_as_what_they_are(under: bool) -> None:
    moment = blocked(2.00, 1.265, under=under)
    said, derived = moment.now, moment.derived
    assert derived is not None and derived.phase == "waking"
    for part in ("contradict", "1.264", "2.00 V per cell", "2.11 V", "The volts are believed", "cells in the cabin"):
        assert part in said.advice, said.advice
    assert "covered plates" not in said.advice and "contradict" in derived.remaining_reason
    # Nobody is sent to the posts of a bank under charge.
    assert "When nothing charges any more, air the room for an hour, then hold a multimeter" in said.advice
    assert derived.safe != "yes" or "witch the charger off" not in said.texts
    assert "contradict" in said.texts


@pytest.mark.parametrize(("rested", "gravity"), [(2.00, 1.150), (2.10, 1.265), (2.07, 1.240)])
def test_gravities_that_fit_the_resting_volts_contradict_nothing(rested: float, gravity: float) -> None:
    said = blocked(rested, gravity).now
    assert "contradict" not in said.texts


def test_gravities_that_rose_by_the_charge_that_went_in_contradict_nothing() -> None:
    moment = blocked(2.00, 1.150)
    moment.pass_time(8 * 3600.0, every=60.0, voltage=27.0, current=15.0)
    moment.hand("gravity", dict.fromkeys(cells_of(moment.bank), 1.250), temperature=25.0)
    moment.pass_time(30.0)
    assert "contradict" not in moment.now.texts


def test_volts_of_the_whole_bank_by_hand_are_held_against_its_own_meter() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.8, current=0.0, **{PROBE: 25.0})
    moment.pass_time(120.0, voltage=28.6, current=6.0)
    assert moment.hand("voltage", {"": 26.8}) == ["unsure"]
    assert why(moment) == "26.80 V of the bank by hand stand beside 28.60 V on its own meter"
    assert "hand" in moment.hand("voltage", {"": 28.2}), "inside what both may be off"
    assert "hand" in moment.hand("voltage", {"": 26.8}, sure=True)
    assert "read both once more" in str(moment.events[-1].detail["beside"])
    assert "hand" in moment.hand("voltage", {"": 36.0}), "what is a danger as it stands is never asked about first"


def test_volts_by_hand_of_all_blocks_are_held_against_the_bank() -> None:
    moment = Moment(bank_of(strings=2))
    moment.begin(voltage=24.8, current=0.0, **{PROBE: 25.0})
    moment.pass_time(120.0, voltage=28.6, current=6.0)
    assert moment.hand("voltage", {"B1": 7.2, "B2": 7.1, "B3": 6.1, "B4": 7.1}) == ["unsure"]
    assert (
        why(moment)
        == "B1, B2, B3 and B4 by hand make 27.50 V together, and the bank stands at 28.60 V on its own meter"
    )
    assert "hand" in moment.hand("voltage", {"B1": 7.2, "B2": 7.1, "B3": 7.1, "B4": 7.1})
    assert "hand" in moment.hand("voltage", {"A1": 7.2, "A2": 6.1}), "two of four tell nothing of the whole"
    unmetered = Moment(bank_of(meters=(), relay=False))
    assert unmetered.hand("voltage", {"": 25.2, "A1": 6.3, "A2": 6.3, "A3": 6.3, "A4": 5.2}) == ["unsure"]
    assert "24.10 V together, and the bank stands at 25.20 V by hand" in why(unmetered)


def test_one_block_that_the_meter_of_the_bank_contradicts_is_asked_about_and_trips_nothing() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.8, current=0.0, **{PROBE: 25.0})
    moment.pass_time(120.0, voltage=31.6, current=6.0)
    assert moment.hand("voltage", {"A1": 6.3, "A2": 6.4, "A3": 6.3}) == ["unsure"]
    assert "A1, A2 and A3 by hand leave 12.60 V for A4, 4.20 V per cell" in why(moment)
    assert moment.hand("voltage", {"A1": 1.25}) != ["unsure"], "three blocks that nobody read may hold the rest"
    moment.hand("voltage", {}, undo=True)
    for label in ("A1", "A2", "A3", "A4"):
        assert "hand" in moment.hand("voltage", {label: 7.9})
    assert moment.hand("voltage", {"A1": 1.25}) == ["unsure"]
    assert "A1 by hand and the others as noted before make 24.95 V together" in why(moment)
    assert not moment.now.latched
    moment.hand("voltage", {"A1": 1.25}, sure=True)
    moment.pass_time(20.0)
    assert moment.now.latched == {"cell-short-suspected"}
    assert "block A1 stands at 1.25 V and the others at 7.90 V, limit 6.4 V" in moment.now.texts
    fallen = Moment(bank_of())
    fallen.begin(voltage=24.8, current=0.0, **{PROBE: 25.0})
    fallen.pass_time(120.0, voltage=28.4, current=6.0)
    for label in ("A1", "A2", "A3", "A4"):
        fallen.hand("voltage", {label: 7.1})
    fallen.pass_time(120.0, voltage=26.3, current=6.0)
    assert "hand" in fallen.hand("voltage", {"A1": 5.0}), "the bank fell by as much: it is no slip"
    assert fallen.now.latched == {"cell-short-suspected"}


@pytest.mark.parametrize(
    ("kind", "slip", "right", "shown"),
    [
        ("temperature", {"A1.1": 61.0}, {"A1.1": 25.0}, "(25.0 °C)"),
        ("voltage", {"": 36.0}, {"": 28.6}, "(28.60 V)"),
        ("voltage", {"A1": 7.1, "A2": 7.1, "A3": 7.1, "A4": 5.0}, {"A1": 7.1, "A2": 7.1, "A3": 7.1, "A4": 7.1}, ""),
    ],
)
def test_a_later_reading_by_hand_is_told_beside_the_trip_that_an_earlier_one_caused(
    kind: str, slip: dict[str, float | str], right: dict[str, float | str], shown: str
) -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.8, current=0.0, **{PROBE: 25.0})
    moment.pass_time(120.0, voltage=28.6, current=6.0)
    moment.hand(kind, slip, sure=True)
    moment.pass_time(90.0)
    assert moment.now.latched and "says otherwise" not in moment.now.texts
    if kind == "temperature":
        assert "unsure" in moment.hand(kind, right), "no cell cools so fast"
    moment.hand(kind, right, sure=True)
    moment.pass_time(10.0)
    said = moment.now
    assert said.latched, "the trip stays"
    assert f"a later reading by hand says otherwise{' ' * bool(shown)}{shown}: the trip stays until a" in said.texts
    if kind == "temperature":
        moment.hand(kind, slip, sure=True)
        moment.pass_time(10.0)
        assert "says otherwise" not in moment.now.texts, "it was read again as it was at first"
        moment.hand(kind, {}, undo=True)
        moment.pass_time(10.0)
        assert "that reading was taken back: the trip stays until a person resets it" in moment.now.texts
    assert moment.act("reset") == ""


@pytest.mark.parametrize("keys", ["", 'chargers = [ { volts = "32 V", amps = "25 A" } ]'])
def test_amps_that_are_a_danger_and_that_the_ammeter_does_not_show_are_asked_about_with_what_to_do(keys: str) -> None:
    moment = Moment(bank_of(keys=keys))
    moment.begin(voltage=24.8, current=0.0, **{PROBE: 25.0})
    moment.pass_time(120.0, voltage=27.0, current=10.0)
    assert moment.hand("amps", {"": 95.0}) == ["unsure"]
    assert why(moment).startswith("95.0 A by hand stand beside 10.0 A on the ammeter")
    assert "switch the charger off at the wall at once" in why(moment)
    assert ("the charger gives 25 A" in why(moment)) is bool(keys)
    assert not moment.now.latched, "nothing that was asked about counts"
    moment.hand("amps", {"": 95.0}, sure=True)
    assert "sensors-disagree" in moment.now.flags and "95.0 A by hand" in moment.now.texts


def test_amps_that_are_a_danger_are_taken_at_once_where_no_ammeter_says_otherwise() -> None:
    moment = Moment(bank_of(meters=USUAL[::2]))
    moment.begin(voltage=24.8, **{PROBE: 25.0})
    moment.pass_time(120.0, voltage=27.0)
    assert "hand" in moment.hand("amps", {"": 95.0})
    moment.pass_time(60.0)
    assert "over-current" in moment.now.latched


@pytest.mark.parametrize(("written", "meant"), [(6.3, "63 degF or 6.3 °C"), (7.0, "70 degF or 7 °C")])
@pytest.mark.parametrize("where", ["", "A1.1", "A1"])
def test_a_warmth_at_which_acid_would_be_ice_is_asked_about_in_both_scales(
    written: float, meant: str, where: str
) -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.8, current=0.0, **{PROBE: 18.0})
    values: dict[str, float | str] = {where: (written - 32.0) / 1.8}
    assert moment.hand("temperature", values) == ["unsure"]
    assert f"did you mean {meant}?" in why(moment) and "would be freezing" in why(moment)
    assert "hand" in moment.hand("temperature", values, sure=True)


def test_frost_that_the_probe_shows_too_is_no_slip() -> None:
    moment = Moment(bank_of())
    moment.pass_time(60.0, voltage=24.8, current=0.0, **{PROBE: -13.0})
    assert "hand" in moment.hand("temperature", {"": -14.3})
    assert "frozen-risk" in moment.now.flags


def test_one_warmth_for_the_bank_far_from_its_probe_is_remarked_on() -> None:
    moment = Moment(bank_of())
    moment.pass_time(60.0, voltage=25.0, current=0.0, electrolyte_temperature=19.0)

    def remarked(where: str, value: float) -> bool:
        moment.later(600.0)
        moment.pass_time(30.0)
        assert moment.hand("temperature", {where: value}) == ["hand"]
        told = [event for event in moment.events if event.kind == "hand"][-1].detail.get("cautions", ())
        return "stands far from the probe" in str(told)

    assert remarked("", 28.9), "84 degF"
    assert not remarked("", 22.0)
    assert not remarked("A1.1", 26.0), "one cell may be warmer"
    assert remarked("A1.1", 31.0)


def test_water_beyond_what_bare_plates_take_is_asked_about_with_that_figure() -> None:
    moment = Moment(bank_of(capacity=225.0))
    # 0.6 g per Ah are 135 g above the plates, and three times that are 405 g.
    assert moment.hand("water", {"A3.1": 354.9}) == ["hand"]
    assert moment.hand("water", {"A3.1": 1000.0}) == ["unsure"]
    assert "even a cell with bare plates takes no more than about 405 mL" in why(moment)
    assert moment.hand("charger", {"volts": 60.0, "amps": 10.0}) == ["refused"]
    assert str(moment.events[-1].detail["why"]).startswith("charger: 60 V is not between 0 V and 42 V")
