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
