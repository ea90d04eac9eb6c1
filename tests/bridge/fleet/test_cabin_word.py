"""The board believes a cabin's own state before what is worked out from its messages alone."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from bridge.fleet.board import bank_told, need, with_asides
from bridge.fleet.cabin_word import OLDER, SAME_TRIP, CabinWord, Watched, watched
from bridge.journal.reader import JournalReader
from bridge.outlets.parcel_file import Store, content
from bridge.outlets.parcel_schema import TABLES, Name, parse
from rules.events import Derived, Flag
from tests.support.made_parcels import CABIN, JOURNAL, Made, put, round_messages
from tests.support.parcel_house import Cabin

#: Messages of the round until charging.
ENOUGH = 700
#: When the invented rows begin [s since the epoch].
AT = 1_781_510_400.0


def test_a_reset_that_was_no_message_reaches_the_board(tmp_path: Path) -> None:
    cabin = Cabin(CABIN, tmp_path)
    cabin.live(round_messages(ENOUGH))
    with JournalReader(cabin.journal.path) as reader:
        latest: Derived = reader.after("state", 0, 10_000)[-1].values
    cabin.send(tmp_path / "parcels")
    cabin.journal.close()

    store = Store(str(tmp_path / "parcels"))
    parcels = [parse(path) for path, _ in store.below()]
    banks = {"tarn-hut": watched(cabin.text)}
    word = CabinWord(tmp_path / "said.json")
    word.hear(store, [name for name in parcels if name is not None and name.table == "state"], banks)
    # From afar it is still tripped: a reset at the page is no message on the bus.
    danger = Flag("danger-noted", "hazard", latest.at)
    afar = bank_told(Derived("north", latest.at, voltage=25.0, tripped=True, flags=(danger,), safe="no"), "degC")
    assert afar["level"] == "hazard"
    afar |= {"site": "tarn-hut", "bank": "north", "heard_at": cabin.now, "arrived_at": 9.0, "trips": [1.0]}
    afar["waits"] = None
    again = CabinWord(tmp_path / "said.json")
    again.hear(store, [], banks)
    for one in (word, again):
        (shown,) = one.over({"tarn-hut/north": afar})
        assert shown["level"] == bank_told(latest, "degC")["level"] and not shown["tripped"]
        assert (shown["phase"], shown["trips"], shown["heard_at"]) == (latest.phase, [1.0], cabin.now)
        assert shown["need"] and shown["causes"] != afar["causes"]
    assert shown["volts_per_cell"] == pytest.approx(latest.volts_per_cell, abs=0.001)
    assert shown["current"] == pytest.approx(latest.current, abs=0.1)
    (later,) = word.over({"tarn-hut/north": {**afar, "at": latest.at + OLDER + 60.0}})
    assert later["level"] == "hazard"
    (alone,) = word.over({})
    assert (alone["site"], alone["heard_at"]) == ("tarn-hut", latest.at)


def told_parcel(table: str, row: int, **columns: Any) -> Made:
    """One row of what a cabin says itself."""
    name = Name("tarn-hut", table, "2026-06-15", JOURNAL, row, row)
    filled = {"row": row, "at": round((AT + row) * 1000), "bank": "north", "undated": False, **columns}
    whole: dict[str, Sequence[Any]] = {column: [filled.get(column)] for column in TABLES[table]}
    return Made(name, content(name, whole, {"bridge": "test"}))


def state_parcel(row: int, **columns: Any) -> Made:
    usual = {"phase": "idle", "relay": "unknown", "charge_allowed": False, "tripped": False, "interrupted": False}
    return told_parcel("state", row, **{**usual, "flags": "", **columns})


def heard(store: Path, kept: Path, banks: dict[str, Watched]) -> CabinWord:
    word = CabinWord(kept)
    names = [parse(place) for place, _ in Store(str(store)).below()]
    word.hear(Store(str(store)), [name for name in names if name is not None], {"tarn-hut": banks})
    return word


def test_a_danger_noted_in_the_cabin_stands_with_its_words_amps_and_trip(tmp_path: Path) -> None:
    note = {"hazard": "danger-noted", "value": None, "limit": None, "unit": "", "reason": "noted: rotten eggs"}
    put(tmp_path, told_parcel("event", 1, kind="trip", detail=json.dumps(note)))
    put(tmp_path, state_parcel(1, tripped=True, voltage_mv=28000, current=18.3, temperature=29.5, flags="danger-noted"))
    word = heard(tmp_path, tmp_path / "said.json", {"north": Watched(12, False, 200.0, "degF")})
    (shown,) = word.over({})
    assert (shown["level"], shown["trips"], shown["causes"]) == (
        "hazard",
        [AT + 1],
        ["danger noted: noted: rotten eggs"],
    )
    assert (shown["current"], shown["warmth"]) == (18.3, "85.1 °F")  # as the cabin's own page says it
    assert shown["volts_per_cell"] == pytest.approx(28.0 / 12)
    assert shown["standing"].endswith("The charger is on: current flows into the bank.")
    told = " ".join((shown["need"], *shown["then"]))
    assert "no meter" not in told and "nothing is known of the relay" not in told
    assert "`revival reset`" in told and "`revival resume`" not in told
    afar = {**shown, "trips": [AT + 1 - SAME_TRIP / 2, AT - 86400.0]}
    assert word.over({"tarn-hut/north": afar})[0]["trips"] == [AT - 86400.0, AT + 1]
    # Messages go on, and nothing more comes of what the cabin says: the fold knows no danger that a person noted.
    well = Derived("north", AT + 2 * OLDER, voltage=26.0, safe="yes")
    safe = {**bank_told(well, "degC"), "trips": [], "site": "tarn-hut"}
    (shown,) = word.over({"tarn-hut/north": safe})
    assert (safe["level"], shown["level"], shown["tripped"]) == ("safe", "hazard", True)
    assert shown["causes"] == ["danger noted: noted: rotten eggs"]


def test_what_a_cabin_file_does_not_know_is_named_and_stands_on_no_board(tmp_path: Path) -> None:
    bad = "<b>north"
    put(tmp_path, state_parcel(1, bank=bad))
    put(tmp_path, state_parcel(2, phase=bad))
    torn = told_parcel("event", 3, kind="trip", detail="{}")
    put(tmp_path, Made(torn.name, torn.data[:99]))
    put(tmp_path, Made(torn.name._replace(table="hand"), torn.data))
    word = heard(tmp_path, tmp_path / "said.json", {"north": Watched(12, False, 200.0, "degC")})
    assert word.over({}) == []
    whys = [why for _, why in sorted(word.asides.items())]
    assert ["torn" in whys[0], "of another place" in whys[1]] == [True, True]
    assert whys[2:] == [f"its cabin file has no bank {bad!r}", f"its phase {bad!r} is none that this version knows"]
    put(tmp_path, torn)  # it was on its way
    assert (
        torn.name.place
        not in heard(tmp_path, tmp_path / "said.json", {"north": Watched(12, False, 200.0, "degC")}).asides
    )
    put(tmp_path, state_parcel(4))
    assert heard(tmp_path, tmp_path / "other.json", {}).over({}) == []
    (bank,) = with_asides(
        heard(tmp_path, tmp_path / "said.json", {"north": Watched(12, False, 200.0, "degC")}).over({}), {}
    )
    assert (bank["safe"], need(bank, bank["heard_at"] + 60.0), bank["aside"]) == ("unknown", "unseen", "")
    assert "table=" not in with_asides([bank], word.asides)[0]["aside"] != ""
