"""The board believes a cabin's own state before what is worked out from its messages alone."""

from __future__ import annotations

from pathlib import Path

from bridge.fleet.board import bank_told
from bridge.fleet.cabin_word import OLDER, CabinWord
from bridge.journal.reader import JournalReader
from bridge.outlets.parcel_file import Store
from bridge.outlets.parcel_schema import parse
from rules.events import Derived, Flag
from tests.support.made_parcels import CABIN, round_messages
from tests.support.parcel_house import Cabin

#: Messages of the round until charging.
ENOUGH = 700


def test_a_reset_that_was_no_message_reaches_the_board(tmp_path: Path) -> None:
    cabin = Cabin(CABIN, tmp_path)
    cabin.live(round_messages(ENOUGH))
    with JournalReader(cabin.journal.path) as reader:
        latest: Derived = reader.after("state", 0, 10_000)[-1].values
    cabin.send(tmp_path / "parcels")
    cabin.journal.close()

    store = Store(str(tmp_path / "parcels"))
    parcels = [parse(path) for path, _ in store.below()]
    word = CabinWord(tmp_path / "said.json")
    word.hear(store, [name for name in parcels if name is not None and name.table == "state"])
    # From afar it is still tripped: a reset at the page is no message on the bus.
    danger = Flag("danger-noted", "hazard", latest.at)
    afar = bank_told(Derived("north", latest.at, voltage=25.0, tripped=True, flags=(danger,)))
    assert afar["level"] == "hazard"
    afar |= {"site": "tarn-hut", "bank": "north", "heard_at": cabin.now, "arrived_at": 9.0, "trips": [1.0]}
    afar["waits"] = None
    for again in (word, CabinWord(tmp_path / "said.json")):
        (shown,) = again.over({"tarn-hut/north": afar})
        assert shown["level"] == bank_told(latest)["level"] != "hazard"
        assert (shown["phase"], shown["trips"], shown["heard_at"]) == (latest.phase, [1.0], cabin.now)
        assert shown["need"] and shown["causes"] != afar["causes"]
    (later,) = word.over({"tarn-hut/north": {**afar, "at": latest.at + OLDER + 60.0}})
    assert later["level"] == "hazard"
    (alone,) = word.over({})
    assert (alone["site"], alone["heard_at"]) == ("tarn-hut", latest.at)
