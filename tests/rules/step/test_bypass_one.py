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


def test_what_is_said_of_the_excuse_names_the_topic_and_that_the_other_watches() -> None:
    fold = one_silent()
    fold.act("bypass", quantity=CASE, minutes=30)
    fold.wait(20, every=5, **OPEN, **{PROBE: 25.0})
    said = fold.memory.flags["bypassed"].reason
    assert "that of cabin/second alone; while it is silent only the others watch for over-temperature" in said


def test_an_excuse_ends_when_its_thermometer_speaks_again_and_not_before() -> None:
    fold = one_silent()
    fold.act("bypass", quantity=CASE, minutes=30)
    fold.wait(60, every=5, **OPEN, **{PROBE: 25.0})
    assert "bypassed" in fold.flags
    fold.wait(10, every=5, **OPEN, **{PROBE: 25.0, CASE: 25.0})
    assert "bypassed" not in fold.flags and not fold.lock.bypasses
    fold.wait(90, every=5, **OPEN, **{PROBE: 25.0})
    assert "meter-silent" in fold.flags and not fold.lock.allowed, "its next silence is no longer excused"


def test_an_excuse_given_before_the_silence_waits_for_it() -> None:
    fold = ready(make_bank(more=(SECOND,)), **{CASE: 25.0})
    fold.act("bypass", quantity=CASE, minutes=30)
    fold.wait(20, every=5, voltage=28.0, current=20.0, **{PROBE: 25.0, CASE: 25.0})
    assert "bypassed" in fold.flags
    fold.wait(120, every=5, voltage=28.0, current=20.0, relay_state=1.0, **{PROBE: 25.0})
    assert "bypassed" in fold.flags and fold.lock.allowed


@pytest.mark.parametrize("dead", [PROBE, CASE])
def test_an_excuse_ends_with_its_thermometer_in_the_cabin_file_and_is_not_the_others(dead: str) -> None:
    fold = ready(make_bank(more=(SECOND,)), **{CASE: 25.0})
    assert fold.act("bypass", quantity=dead, minutes=30) == ""
    fold.wait(20, every=5, voltage=28.0, current=20.0, relay_state=1.0, **{CASE if dead == PROBE else PROBE: 25.0})
    assert "bypassed" in fold.flags
    # The dead one is taken out of the file: the other is the first of its kind now, and has its name.
    left = fold.bank.by_name[CASE if dead == PROBE else PROBE]
    alone = Meter(PROBE, "electrolyte_temperature", source=left.source, period=10.0, placed="cell")
    others = tuple(meter for meter in fold.bank.meters if meter.quantity != "electrolyte_temperature")
    fold.bank = fold.bank.__class__(
        fold.bank.id, fold.bank.strings, relay=fold.bank.relay, meters=(*others, alone), limits=fold.bank.limits
    )
    fold.wait(20, every=5, voltage=28.0, current=20.0, relay_state=1.0, **{PROBE: 25.0})
    assert "bypassed" not in fold.flags and not fold.lock.bypasses
    fold.wait(120, every=5, voltage=28.0, current=20.0, relay_state=1.0)
    assert not fold.lock.allowed, "nobody excused the one that is left"


def test_two_dead_thermometers_are_excused_together_by_name() -> None:
    fold = one_silent()
    fold.wait(90, every=5, **OPEN)
    assert fold.act("bypass", quantity=f"{PROBE},{CASE}", minutes=30) == ""
    fold.wait(420, every=5, **OPEN)
    assert fold.kinds().count("permit-given") == 2
    assert fold.memory.flags["bypassed"].reason.count("nobody watches for over-temperature") == 2
    assert fold.act("bypass", quantity=CASE, minutes=0) == ""
    fold.wait(420, every=5, **OPEN)
    assert fold.kinds().count("permit-given") == 2, "the other alone is not excused"
    assert "never two quantities at once" in fold.act("bypass", quantity=f"{PROBE},current", minutes=30)
