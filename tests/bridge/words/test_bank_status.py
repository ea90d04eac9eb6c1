"""An event as a line for people."""

from __future__ import annotations

from bridge.words.bank_status import event_words
from bridge.words.spoken import spoken
from rules.events import Event


def test_what_was_noted_by_hand_is_told_with_its_values_and_a_whole_sheet_by_its_first() -> None:
    def told(kind: str, values: dict[str, float | str], **more: object) -> str | None:
        return event_words(Event("north", "hand", 0.0, {"kind": kind, "values": values, **more}))

    assert told("charger", {"volts": 28.8, "amps": 25.0}) == "charger by hand: volts 28.8 V, amps 25 A"
    assert told("gravity", {f"N1.{cell}": 1.26 for cell in range(1, 7)}) == (
        "gravity by hand: N1.1 1.260, N1.2 1.260, N1.3 1.260, N1.4 1.260, 2 more"
    )
    assert told("note", {}, note="all well") == "note by hand: all well"
    assert told("level", {}, undo=True) == "took back the last level"
    assert told("level", {"N1": ""}, undo=True) == "took back level of N1"


def test_a_proof_test_in_the_log_says_whether_it_passed() -> None:
    detail = {"passed": False, "note": "the current did not fall"}
    assert event_words(Event("north", "proof", 1.0, detail)) == "proof test FAILED: the current did not fall"
    shown = {"passed": True, "note": "the relay opened and the current fell"}
    assert (
        event_words(Event("north", "proof", 1.0, shown)) == "proof test passed: the relay opened and the current fell"
    )


def test_a_limit_that_was_moved_is_told_with_its_unit_in_the_owner_s_scale() -> None:
    told = {"limit": "temperature", "before": 43.3, "after": 40.0}
    words = event_words(Event("north", "limit-changed", 1_795_590_000.0, told))
    assert words is not None and spoken(words, "degF") == "limit temperature changed from 110.0 °F to 104.0 °F"
    told = {"limit": "cell_voltage", "before": 2.7, "after": 2.65}
    assert event_words(Event("north", "limit-changed", 0.0, told)) == "limit cell_voltage changed from 2.7 to 2.65"
