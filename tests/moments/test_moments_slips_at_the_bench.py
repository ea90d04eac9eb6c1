"""A figure that is a slip is asked about, or refused with what may have been meant."""

from __future__ import annotations

import pytest

from tests.support.moments import Moment, bank_of

WARMTH = {"electrolyte_temperature": 25.0}


def why(moment: Moment) -> str:
    """What was asked or refused last."""
    return next(str(event.detail["why"]) for event in reversed(moment.events) if "why" in event.detail)


def charged(amps: float, **bank: object) -> Moment:
    moment = Moment(bank_of(keys='ac_voltage = "230 V"', **bank))  # type: ignore[arg-type]
    moment.begin(voltage=25.0, current=0.0, **WARMTH)
    moment.pass_time(900.0, voltage=27.1, current=amps)
    return moment


def test_a_gravity_of_a_block_of_three_cells_is_not_taken_for_any_of_them() -> None:
    moment = charged(10.0)
    assert "refused" in moment.hand("gravity", {"A1": 1.25})
    assert why(moment) == (
        "A1 has 3 cells, and each has a gravity of its own: say of which, as in A1.1=1.25 A1.2=1.25 A1.3=1.25"
    )
    assert moment.derived is not None and moment.derived.lowest_gravity is None


def test_a_gravity_of_a_block_that_is_one_cell_is_that_of_the_cell() -> None:
    moment = charged(10.0, blocks=12, cells=1)
    assert "hand" in moment.hand("gravity", {"A1": 1.25}, temperature=25.0)
    assert moment.derived is not None and moment.derived.lowest_gravity is not None


def test_a_cell_that_a_block_has_not_is_answered_with_those_that_it_has() -> None:
    moment = charged(10.0)
    assert "refused" in moment.hand("gravity", {"A1.4": 1.24})
    assert why(moment) == "there is no 'A1.4': A1 has cells 1 to 3, A1.1 to A1.3"


@pytest.mark.parametrize(("outlet", "share"), [(2.4, "17 %"), (0.3, "137 %"), (6.0, "7 %")])
def test_amps_at_the_outlet_that_do_not_fit_what_reaches_the_bank_are_asked_about(outlet: float, share: str) -> None:
    moment = charged(3.5)
    assert "unsure" in moment.hand("ac_amps", {"": outlet})
    assert f"{share} of them" in why(moment) and "95 W reach the bank" in why(moment)
    assert "hand" in moment.hand("ac_amps", {"": outlet}, sure=True)


@pytest.mark.parametrize("outlet", [0.45, 0.6, 1.0, 1.25])
def test_amps_at_the_outlet_that_fit_are_taken(outlet: float) -> None:
    # 95 W at the bank: an efficiency of 92 % down to 50 % at a power factor of 0.65 (common practice, no source).
    assert "hand" in charged(3.5).hand("ac_amps", {"": outlet})


def test_a_charger_that_idles_is_not_asked_about() -> None:
    assert "hand" in charged(0.0).hand("ac_amps", {"": 0.2})


def test_volts_of_a_cell_noted_for_its_block_are_asked_about_and_those_of_a_dead_block_are_taken() -> None:
    moment = Moment(bank_of(blocks=8))
    moment.begin(voltage=49.0, current=0.0, **WARMTH)
    assert "hand" in moment.hand("voltage", {"A8": 6.21})
    moment.pass_time(900.0, voltage=63.8, current=8.0)
    assert moment.hand("voltage", {"A8": 2.05}) == ["unsure"]
    assert why(moment).startswith(
        "A8 at 2.05 V is 0.68 V per cell, it read 6.21 V before and the bank stands at 2.66 V per cell: did you mean a "
        "cell of A8?"
    )
    assert "hand" in moment.hand("voltage", {"A8.1": 2.05}), "a cell of it"
    assert "hand" in moment.hand("voltage", {"A8": 7.9}) and "hand" in moment.hand("voltage", {"A7": 7.9})
    assert "hand" in moment.hand("voltage", {"A8": 2.05}, sure=True)
    moment.pass_time(90.0)
    assert "cell-short-suspected" in moment.now.latched, "it has its consequences"


@pytest.mark.parametrize(
    ("place", "volts", "what"),
    [("A8.2", 6.4, "the block A8"), ("A8.2", 50.4, "the bank"), ("A8", 50.4, "the bank")],
)
def test_volts_of_more_cells_than_a_place_has_are_refused_with_what_may_be_meant(
    place: str, volts: float, what: str
) -> None:
    moment = Moment(bank_of(blocks=8))
    moment.begin(voltage=50.4, current=0.0, **WARMTH)
    assert "refused" in moment.hand("voltage", {place: volts})
    assert why(moment).endswith(f": did you mean {what}?")


def test_volts_of_a_block_noted_for_the_bank_are_asked_about_where_no_meter_tells_the_banks() -> None:
    moment = Moment(bank_of(meters=(), relay=False))
    moment.pass_time(60.0)
    assert "unsure" in moment.hand("voltage", {"": 6.3})
    assert why(moment) == "the bank at 6.30 V is 0.53 V per cell: did you mean a block, such as A1?"
    assert "hand" in moment.hand("voltage", {"": 6.3}, sure=True)


@pytest.mark.parametrize("volts", [0.3, -6.2])
def test_a_block_that_is_dead_or_reversed_is_taken_and_has_its_consequences(volts: float) -> None:
    moment = Moment(bank_of(blocks=8))
    moment.begin(voltage=49.0, current=0.0, **WARMTH)
    moment.pass_time(900.0, voltage=63.8, current=8.0)
    assert "hand" in moment.hand("voltage", {f"A{n}": 7.97 for n in range(1, 8)}, sure=True)
    assert "hand" in moment.hand("voltage", {"A8": volts}, sure=True)
    moment.pass_time(90.0)
    assert "cell-short-suspected" in moment.now.latched
    assert ("polarity-reversed" in moment.now.flags) is (volts < 0.0)


def test_volts_of_a_charger_near_its_limit_are_no_swap_and_the_file_is_asked_for() -> None:
    moment = Moment(bank_of(keys='chargers = [{ volts = "32 V", amps = "30 A" }]'))
    moment.begin(voltage=25.0, current=0.0, **WARMTH)
    moment.pass_time(900.0, voltage=31.0, current=8.0)
    assert "unsure" in moment.hand("charger", {"volts": 34.0, "amps": 30.0})
    assert "34 V are 2.83 V per cell, over the limit of" in why(moment)
    assert "did you mean 32 V, as in the cabin file?" in why(moment) and "30 V and 34 A" not in why(moment)
    assert "unsure" in moment.hand("charger", {"volts": 30.0, "amps": 32.0})
    assert "32 V and 30 A?" in why(moment)


def test_a_gravity_that_is_asked_about_names_what_was_typed_and_what_was_kept_of_it() -> None:
    moment = charged(10.0)
    moment.hand("gravity", {"A1.2": 1.275}, temperature=15.0)
    moment.pass_time(20.0)
    assert "unsure" in moment.hand("gravity", {"A1.2": 1.178}, temperature=15.0, sure=False)
    assert why(moment).startswith("A1.2 at 1.178 read 1.275 (corrected 1.267), and that was a moment before")
