"""Of one warmth one limit is told, and every number of a doubted meter has its unit."""

from __future__ import annotations

from bridge.words.bank_status import cause
from bridge.words.spoken import spoken
from tests.support.fold import PROBE, ready


def test_beside_the_trip_for_heat_no_milder_flag_tells_of_another_limit() -> None:
    fold = ready()
    fold.wait(30, every=5, voltage=28.0, current=20.0, **{PROBE: 42.0})
    warm = fold.memory.flags["temperature-high"]
    assert spoken(cause(warm), "degF").endswith("warm; the work stops at the limit, 107.6 °F, limit 110.0 °F")
    fold.wait(30, every=5, voltage=28.0, current=20.0, **{PROBE: 47.8})
    assert "over-temperature" in fold.flags and "temperature-high" not in fold.flags


def test_a_doubted_thermometer_is_told_in_the_owners_degrees() -> None:
    fold = ready()
    fold.wait(10, every=10, **{PROBE: 55.11})
    doubted = fold.memory.flags["meter-suspect"]
    assert spoken(cause(doubted), "degF") == "meter-suspect: electrolyte temperature: impossible step, 131.2 °F"
    raised = next(e for e in reversed(fold.events) if e.kind == "flag-raised" and e.detail["flag"] == "meter-suspect")
    assert raised.detail["unit"] == "degC"
    fold.wait(10, every=10, **{PROBE: 77.0})
    assert "says 171 °F, check unit" in spoken(cause(fold.memory.flags["meter-suspect"]), "degF")
