"""One of several thermometers is excused by the name that `check` prints; the others go on counting."""

from __future__ import annotations

import pytest

from rules.bank.model import Meter
from tests.support.fold import CASE, PROBE, Fold, make_bank, ready

SECOND = Meter(CASE, "electrolyte_temperature", source="cabin/second", period=10.0, placed="cell")
OPEN = {"voltage": 25.4, "current": 0.0, "relay_state": 0.0}


def one_silent() -> Fold:
    """Two thermometers, of which the second falls silent."""
    fold = ready(make_bank(more=(SECOND,)), **{CASE: 25.0})
    fold.wait(60, every=5, voltage=28.0, current=20.0, **{PROBE: 25.0})
    fold.wait(30, every=5, **OPEN, **{PROBE: 25.0})
    assert "meter-silent" in fold.flags and not fold.lock.allowed
    return fold


def test_the_thermometer_that_is_named_is_excused_and_the_others_go_on_counting() -> None:
    fold = one_silent()
    assert fold.act("bypass", quantity=CASE, minutes=30) == ""
    fold.wait(420, every=5, **OPEN, **{PROBE: 25.0})
    assert fold.kinds().count("permit-given") == 2
    assert fold.memory.flags["bypassed"].reason.startswith("silence of electrolyte temperature (meter 2) excused")
    fold.wait(120, every=5, **OPEN)
    assert not fold.lock.allowed, "the one that is left fell silent too"


def test_the_name_of_the_first_excuses_not_the_second() -> None:
    fold = one_silent()
    assert fold.act("bypass", quantity=PROBE, minutes=30) == ""
    fold.wait(420, every=5, **OPEN, **{PROBE: 25.0})
    assert not fold.lock.allowed and fold.kinds().count("permit-given") == 1


@pytest.mark.parametrize("named", ["electrolyte_temperature", "electrolyte_temperature#3", "hydrogen"])
def test_a_name_that_is_nobodys_or_of_several_is_asked_back(named: str) -> None:
    placed = tuple(Meter(f"{PROBE}:N0{n}", PROBE, f"N0{n}", source=f"cabin/{n}", placed="cell") for n in (1, 2))
    bank = make_bank()
    bank = bank.__class__(bank.id, bank.strings, meters=(*bank.meters[:2], *placed), relay=bank.relay)
    fold = Fold(bank)
    why = fold.act("bypass", quantity=named, minutes=30)
    known = f"which electrolyte temperature? One by its name, the others count: {PROBE}:N01, {PROBE}:N02"
    assert why == (known if named == PROBE else f"no meter of {named!r} is mapped")
