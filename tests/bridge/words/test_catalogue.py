"""One row says everything of a field, and no field of a state is missing on any way out."""

from __future__ import annotations

from pathlib import Path
from typing import Any, get_type_hints

import pytest

from bridge.journal.batch import Batch
from bridge.journal.reader import JournalReader
from bridge.journal.rows import Row
from bridge.journal.writer import Journal
from bridge.outlets.line_protocol import STATE_FIELDS, line
from bridge.settings import JournalSettings
from bridge.words.catalogue import BANK, SUFFIXES
from rules.events import Derived, Flag

#: Said elsewhere than in a row of their own: whose it is and when; ages have a row for each quantity of the bank.
FRAME = {"bank", "at", "freshness"}
#: Tables go out as JSON on the bus and stay in the journal; a database draws numbers and words.
TABLES = {row.field for row in BANK if row.datatype == "json"} - {"flags", "verdict"}
KINDS = get_type_hints(Derived)
NUMBERS: dict[str, Any] = {name: 1.5 for name, kind in KINDS.items() if kind in (float, float | None) and name != "at"}
FLAGS: dict[str, Any] = {name: True for name, kind in KINDS.items() if kind is bool}
STATE = Derived(
    "north",
    1_795_700_000.0,
    **NUMBERS,
    **FLAGS,
    phase="bulk",
    relay="closed",
    trip_reason="over-temperature",
    remaining_reason="the charge still to return",
    next_step="Wait.",
    flags=(Flag("over-temperature", "hazard", 1_795_699_000.0),),
    string_currents=(1.0, 2.0),
    verdict=({"word": "keep"},),
)


def test_every_field_of_a_state_has_a_row_and_every_row_a_field() -> None:
    rows = {row.field for row in BANK if row.field}
    assert set(Derived._fields) - FRAME - rows == set()
    assert rows - set(Derived._fields) == set()


def test_every_unit_of_a_row_has_its_suffix() -> None:
    assert {row.unit for row in BANK} <= set(SUFFIXES)


def test_every_number_flag_and_word_reaches_the_database() -> None:
    written = line("state", Row(1, STATE.at, "north", False, STATE), "tarn-hut") or ""
    fields = {part.partition("=")[0] for part in written.partition(" ")[2].split(",")}
    for name in set(Derived._fields) - FRAME - TABLES - {"string_currents", "flags"}:
        assert STATE_FIELDS.get(name, name) in fields, name
    assert {"string_current_1_a", "string_current_2_a", "flags", "flag_count"} <= fields


def test_a_metric_store_that_keeps_no_words_can_draw_phase_relay_and_hazards() -> None:
    written = line("state", Row(1, STATE.at, "north", False, STATE), "tarn-hut") or ""
    assert "phase_number=3.0" in written and "relay_closed=1.0" in written
    assert "flag_over_temperature=1.0" in written and "flag_over_voltage=0.0" in written


def test_every_field_comes_back_from_the_journal(tmp_path: Path) -> None:
    """What each block took and what falls due follow from the snapshot and are not kept in the rows."""
    journal = Journal.open(JournalSettings(path=tmp_path / "revival.db"), {"north": ()})
    batch = Batch()
    batch.derived.append(STATE)
    journal.submit(batch)
    assert journal.close(20.0)
    with JournalReader(tmp_path / "revival.db") as reader:
        (kept,) = reader.states("north", 0.0, 1e11)
    for name in set(Derived._fields) - {"blocks", "chores"}:
        value = getattr(STATE, name)
        assert getattr(kept, name) == (pytest.approx(value) if isinstance(value, float) else value), name
