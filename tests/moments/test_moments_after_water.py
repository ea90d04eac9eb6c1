"""Gravity read right after topping up is the water's, and what water cannot do is a slip that is asked about."""

from __future__ import annotations

from tests.support.moments import Moment, bank_of, cells_of


def topped_up() -> Moment:
    """A bank under charge whose cells all read 1.240, and into whose third block water was poured two minutes ago."""
    moment = Moment(bank_of())
    moment.begin(voltage=24.0, current=0.0, electrolyte_temperature=20.0)
    moment.pass_time(600.0, voltage=27.6, current=8.0)
    assert "hand" in moment.hand("gravity", dict.fromkeys(cells_of(moment.bank), 1.240), temperature=20.0)
    moment.hand("water", {"A3": 300.0})
    moment.pass_time(120.0)
    return moment


def test_whoever_reads_a_cell_right_after_topping_up_hears_that_it_is_not_true_yet_and_when_it_is() -> None:
    # Mixing takes an hour of gassing charge or two days: US Bureau of Reclamation, FIST 3-6, 2.17.
    moment = topped_up()
    assert "hand" in moment.hand("gravity", {"A3.1": 1.150, "A3.2": 1.160}, temperature=20.0, sure=False)
    told = next(event.detail for event in reversed(moment.events) if event.kind == "hand")
    heard = " ".join(str(each) for each in told["cautions"])  # type: ignore[attr-defined]
    assert "not true yet and not for a verdict: A3.1, A3.2: water was added 2 min before and lies on the acid" in heard
    assert "read again after an hour of gassing charge, or two days after the water" in heard


def test_acid_that_grew_stronger_by_water_is_a_slip() -> None:
    moment = topped_up()
    assert moment.hand("gravity", {"A3.1": 1.290}, temperature=20.0, sure=False) == ["unsure"]
    why = str(moment.events[-1].detail["why"])
    assert "water was added to it, and makes no acid stronger" in why
    assert "hand" in moment.hand("gravity", {"A3.1": 1.290}, temperature=20.0, sure=True), "who means it has it"


def test_a_cell_that_was_never_read_and_stands_over_its_neighbours_after_water_is_asked_about() -> None:
    moment = Moment(bank_of())
    moment.begin(voltage=24.0, current=0.0, electrolyte_temperature=20.0)
    moment.pass_time(600.0, voltage=27.6, current=8.0)
    others = [cell for cell in cells_of(moment.bank) if cell != "A3.1"]
    moment.hand("gravity", dict.fromkeys(others, 1.200), temperature=20.0)
    moment.hand("water", {"A3.1": 100.0})
    assert moment.hand("gravity", {"A3.1": 1.260}, temperature=20.0, sure=False) == ["unsure"]
    assert "is stronger than its neighbours at 1.19" in str(moment.events[-1].detail["why"])
