"""A bank's parcels in any order give the rows of one fold over all; a gap is waited for, and told when given up.

Expected rows come from the fold alone (`tests/bridge/fleet/test_fold.py` holds it against `revival replay`); how long
is waited is this program's own choice, no source.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.fleet.board import SILENT_AFTER
from bridge.fleet.fold import InRow, OutRow
from bridge.fleet.follow import opened
from bridge.fleet.kept_bank import SETTLED, WAIT, Bank, Kept, as_offer, from_text, to_text
from bridge.fleet.waybill import TICK, Desk
from bridge.outlets.parcel_file import Store
from tests.support.made_parcels import (
    JOURNAL,
    Made,
    cabin_parcel,
    cabin_text,
    folded,
    message_parcels,
    put,
    round_messages,
    rows_of,
)

NOW = 1_800_000_000.0
#: Messages of the round: to the first commands, and into charging.
ENOUGH = 1000
TEXT = cabin_text("alm")


@pytest.fixture(scope="module")
def rows() -> list[InRow]:
    return rows_of(round_messages(ENOUGH))


class Yard:
    """A store, the desk in front of it, and one bank that is handed what the desk offers."""

    def __init__(self, folder: Path) -> None:
        self.where, self._papers = folder / "store", folder / "waybills"
        self.where.mkdir()
        self.desk = Desk(Store(str(self.where)), self._papers)
        self.kept = Kept()
        self.out: list[OutRow] = []
        self._seen = 0

    def look(self, now: float) -> int:
        """One look at the store; what is new goes to the bank."""
        self.desk.look(now)
        papers = sorted(self._papers.glob("*.jsonl"))
        lines = [json.loads(line) for paper in papers[self._seen :] for line in paper.read_text().splitlines()]
        self._seen = len(papers)
        offers = [as_offer(json.loads(line["offer"])) for line in lines if line["bank"] == "north"]
        if offers:
            self.act(lambda one: one.take(offers, offers[0].arrived))
        return len(offers)

    def act(self, act: Callable[[Bank], None]) -> None:
        """Let something happen to the bank, of which nothing but its text is left from before."""
        one = Bank("alm", "north", from_text(to_text(self.kept)), opened(str(self.where)))
        act(one)
        self.kept = one.close()
        self.out += one.out

    def lines(self, *tables: str) -> list[str]:
        return [row.line for row in self.out if row.table in tables]

    def links(self) -> list[tuple[str, int]]:
        told = [json.loads(line) for line in self.lines("link")]
        return [(line["kind"], line["detail"].get("first", 0)) for line in told]


def made(rows: list[InRow], hours: float = 0.25) -> list[Made]:
    return list(message_parcels("alm", rows, [(1, TEXT)], hours))


def expected(rows: list[InRow], cabins: list[tuple[int, str]]) -> list[str]:
    return [row.line for row in folded("alm", "north", rows, cabins)]


def test_parcels_in_any_order_and_twice_give_the_rows_of_one_fold(rows: list[InRow], tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    parcels = [cabin_parcel("alm", TEXT, 1, rows[0].at), *made(rows)]
    random.Random(7).shuffle(parcels)
    waited = 0
    for number, parcel in enumerate(parcels):
        put(yard.where, parcel)
        yard.look(NOW + number)
        put(yard.where, parcel)
        assert yard.look(NOW + number + 0.5) == 0
        waited = max(waited, len(yard.kept.early))
    assert waited > 2
    assert yard.kept.early == ()
    assert yard.lines("state", "event") == expected(rows, [(1, TEXT)])
    assert yard.links() == []
    shown = Bank("alm", "north", yard.kept, opened(str(yard.where))).shown()
    assert shown is not None
    assert shown["heard_at"] == rows[-1].at
    assert (shown["phase"], shown["waits"]) == (json.loads(yard.lines("state")[-1])["phase"], None)


def test_a_gap_is_waited_for_and_then_given_up_and_told(rows: list[InRow], tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    first, missing, *later = made(rows)
    for parcel in (cabin_parcel("alm", TEXT, 1, rows[0].at), first, *later):
        put(yard.where, parcel)
    yard.look(NOW)
    assert yard.kept.row == first.name.last
    yard.act(lambda one: one.pass_time(NOW + WAIT - 1.0))
    assert yard.kept.row == first.name.last
    yard.act(lambda one: one.pass_time(one.due() or 0.0))
    assert yard.kept.row == rows[-1].row
    without = [row for row in rows if not missing.name.first <= row.row <= missing.name.last]
    assert yard.lines("state", "event") == expected(without, [(1, TEXT)])
    put(yard.where, missing)
    yard.look(NOW + WAIT + 5.0)
    assert yard.lines("state", "event") == expected(without, [(1, TEXT)])
    assert yard.links() == [
        ("silent", 0),
        ("given-up", missing.name.first),
        ("heard-again", 0),
        ("too-late", missing.name.first),
    ]


def test_a_new_journal_begins_once_the_old_one_has_settled(rows: list[InRow], tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    half = len(rows) // 2
    old = rows[:half]
    new = [row._replace(journal=JOURNAL + 9, row=number) for number, row in enumerate(rows[half:], 1)]
    *early, late = made(old)
    fresh = made(new)
    put(yard.where, cabin_parcel("alm", TEXT, 1, rows[0].at))
    put(yard.where, cabin_parcel("alm", TEXT, 1, new[0].at, JOURNAL + 9))
    for parcel in (*early, fresh[0]):
        put(yard.where, parcel)
    yard.look(NOW)
    put(yard.where, late)
    yard.look(NOW + SETTLED / 2)
    assert (yard.kept.journal, yard.kept.row) == (JOURNAL, half)
    yard.act(lambda one: one.pass_time(one.due() or 0.0))
    assert yard.kept.journal == JOURNAL + 9
    for parcel in fresh[1:]:
        put(yard.where, parcel)
    yard.look(NOW + 2 * SETTLED)
    assert yard.lines("state", "event") == expected(rows, [(1, TEXT)])
    assert yard.links() == []


def test_a_cabin_file_that_changes_in_mid_round_is_waited_for(rows: list[InRow], tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    changed = TEXT.replace('"cabin/shunt"', '"cabin/other"')
    turn = len(rows) // 2
    cabins = [(1, TEXT), (turn, changed)]
    put(yard.where, cabin_parcel("alm", TEXT, 1, rows[0].at))
    for parcel in message_parcels("alm", rows, cabins, 0.25):
        put(yard.where, parcel)
    yard.look(NOW)
    assert yard.kept.row == turn - 1
    assert set(yard.desk.refused.values()) == {"the cabin file that it is judged by has not come"}
    put(yard.where, cabin_parcel("alm", changed, turn, rows[turn].at, before=TEXT))
    yard.look(NOW + 1.0)
    assert yard.lines("state", "event") == expected(rows, cabins)
    assert yard.lines("state", "event") != expected(rows, [(1, TEXT)])
    assert yard.desk.refused == {}


def test_a_cabin_file_does_not_hide_the_one_before_it(rows: list[InRow], tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    between, last = TEXT.replace('"2.67 V"', '"2.60 V"'), TEXT.replace('"2.67 V"', '"2.63 V"')
    put(yard.where, cabin_parcel("alm", TEXT, 1, rows[0].at))
    put(yard.where, cabin_parcel("alm", last, 700, rows[700].at, before=between))
    for parcel in made(rows):
        put(yard.where, parcel)
    assert yard.look(NOW) == 0
    assert "the cabin file before it has not come" in yard.desk.refused.values()


def test_half_a_parcel_is_left_until_it_is_whole_and_a_foreign_one_for_good(rows: list[InRow], tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    first, second, *_ = made(rows)
    put(yard.where, cabin_parcel("alm", TEXT, 1, rows[0].at))
    put(yard.where, first)
    half = Made(second.name, second.data[: len(second.data) // 2])
    put(yard.where, half)
    foreign = yard.where / "site=alm" / "table=message" / "day=2026-06-15" / "holiday.parquet"
    foreign.write_bytes(first.data)
    assert yard.look(NOW) == 1
    assert sorted(path.rpartition("/")[2] for path in yard.desk.refused) == [second.name.file, "holiday.parquet"]
    damaged = bytearray(second.data)
    damaged[len(damaged) // 3] ^= 0xFF  # inside a page: only its checksum tells
    put(yard.where, Made(second.name, bytes(damaged)))
    assert yard.look(NOW + 1.0) == 0
    put(yard.where, second)
    assert yard.look(NOW + 2.0) == 1
    assert yard.kept.row == second.name.last


def test_silence_is_told_once_and_its_end_too(rows: list[InRow], tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    first, second, *_ = made(rows)
    put(yard.where, cabin_parcel("alm", TEXT, 1, rows[0].at))
    put(yard.where, first)
    yard.look(NOW)
    one = Bank("alm", "north", yard.kept, opened(str(yard.where)))
    assert one.due() == NOW + SILENT_AFTER
    yard.act(lambda bank: bank.pass_time(NOW + SILENT_AFTER))
    yard.act(lambda bank: bank.pass_time(NOW + 2 * SILENT_AFTER))
    put(yard.where, second)
    yard.look(NOW + 3 * SILENT_AFTER)
    assert [json.loads(line)["kind"] for line in yard.lines("link")] == ["silent", "heard-again"]
    assert json.loads(yard.lines("link")[1])["detail"] == {"silent_hours": 18.0}


def test_a_desk_that_begins_again_offers_nothing_twice_and_writes_empty_waybills_now_and_then(
    rows: list[InRow], tmp_path: Path
) -> None:
    yard = Yard(tmp_path)
    for parcel in (cabin_parcel("alm", TEXT, 1, rows[0].at), *made(rows)):
        put(yard.where, parcel)
    assert yard.look(NOW) > 3
    again = Desk(Store(str(yard.where)), tmp_path / "waybills")
    assert again.look(NOW + TICK / 2) == 0
    assert len(list((tmp_path / "waybills").glob("*.jsonl"))) == 1
    assert again.look(NOW + TICK) == 0
    assert again.look(NOW - 1000.0) == 0  # the centre's clock was set back
    papers = sorted((tmp_path / "waybills").glob("*.jsonl"))
    assert [path.stem for path in papers] == ["00000000", "00000001"]
    assert json.loads(papers[1].read_text())["bank"] == ""
