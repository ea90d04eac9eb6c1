"""People count blocks: "block 2" is the block that it plainly is, and where it is not plain they are asked."""

from __future__ import annotations

import pytest

from rules.bank.model import Bank, Block
from rules.events import HandReading
from rules.hand import located, spelled_out
from tests.support.fold import Fold

ONE = Bank("north", (tuple(Block(f"A{n}", 3, 200.0) for n in (1, 2, 3, 4)),))
TWO = Bank("north", tuple(tuple(Block(f"{s}{n}", 3, 200.0) for n in (1, 2)) for s in "AB"))
BARE = Bank("north", (tuple(Block(str(n), 3, 200.0) for n in (1, 2)),))


@pytest.mark.parametrize(
    ("bank", "words", "where"),
    [
        (ONE, "a crack in block 2", ["A2"]),
        (ONE, "battery no. 3 leaks", ["A3"]),
        (ONE, "blocks 1 and 4 bulge", ["A1", "A4"]),
        (ONE, "cell 2 of block 1 is cracked", ["A1.2"]),
        (ONE, "block 4, cell 3 gasses", ["A4.3"]),
        (ONE, "cell 2 of A3 gasses", ["A3.2"]),
        (ONE, "looked at every block 2 days ago", [""]),
        (ONE, "block 2: crack, block 3 is fine", ["A2", "A3"]),
        (TWO, "a crack in block 2", [""]),
        (BARE, "a crack in battery 2", ["2"]),
        (BARE, "3 cells gas, 2 do not", [""]),
    ],
)
def test_a_counted_block_is_the_one_that_it_plainly_is(bank: Bank, words: str, where: list[str]) -> None:
    assert [place for place, _ in located("", words, bank.places)] == where


def test_which_block_is_asked_where_several_have_the_number_but_no_danger_waits_for_it() -> None:
    assert spelled_out("a crack in block 2", TWO.places)[1] == ("block 2: A2 or B2",)
    fold = Fold(TWO)
    fold.note("seen", **{"": "a crack in block 2"})
    asked = next(event for event in fold.events if event.kind == "unsure")
    assert "A2 or B2" in str(asked.detail["why"]) and "case-damaged" not in fold.flags
    fold.fold(HandReading("north", "seen", fold.at, fold.at, {"": "block 2 stinks of rotten eggs"}))
    fold.wait(1)
    assert "danger-noted" in fold.lock.latched
