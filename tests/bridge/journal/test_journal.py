"""The journal on a real SQLite file: what is handed over is there, once, and reads back as it was."""

from __future__ import annotations

import sqlite3
import threading
import zlib
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from bridge.journal import reader as reader_module
from bridge.journal.batch import Batch
from bridge.journal.reader import JournalReader
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.settings import JournalSettings
from rules.bank.model import Meter
from rules.events import Derived, Event, Flag, Reading
from tests.support.brokers import wait_until

METERS = {
    "north": (
        Meter("voltage", "voltage"),
        Meter("current", "current"),
        Meter("electrolyte_temperature", "electrolyte_temperature"),
        Meter("block_voltage:N1", "block_voltage", "N1"),
    )
}
T = 1_795_590_000.0  # a whole minute


class Desk:
    """A journal and what it hands back."""

    def __init__(self, path: Path, **settings: object) -> None:
        self.path = path
        self.journal = Journal.open(JournalSettings(path=path, **settings), METERS)  # type: ignore[arg-type]
        self.done: list[tuple[Batch, Exception | None]] = []
        self.committed = threading.Semaphore(0)
        self.journal.on_done = self._on_done

    def _on_done(self, batch: Batch, error: Exception | None) -> None:
        self.done.append((batch, error))
        self.committed.release()

    def commit(self, batch: Batch, timeout: float = 20.0) -> Exception | None:
        """Hand over and wait until it comes back."""
        self.journal.submit(batch)
        assert self.committed.acquire(timeout=timeout), "the journal did not hand the batch back"
        return self.done[-1][1]

    def reader(self) -> JournalReader:
        return JournalReader(self.path)


@pytest.fixture
def make_desk(tmp_path: Path) -> Iterator[Callable[..., Desk]]:
    desks: list[Desk] = []

    def make(name: str = "revival.db", **settings: object) -> Desk:
        desks.append(Desk(tmp_path / name, **settings))
        return desks[-1]

    yield make
    for desk in desks:
        assert desk.journal.close(10.0)


def message(number: int, at: float, payload: bytes = b"") -> Message:
    return Message("cabin/shunt", payload or b'{"n":%d}' % number, at, session="history", mid=number, qos=1)


def reading(meter: str, value: float, at: float) -> Reading:
    return Reading("north", meter, value, at, at)


def test_a_new_file_is_fresh_and_a_reopened_one_is_not(make_desk: Callable[..., Desk]) -> None:
    first = make_desk()
    assert first.journal.fresh
    assert first.journal.set_aside is None
    assert first.journal.degraded == ""
    assert first.journal.close()
    assert not make_desk().journal.fresh


def test_a_batch_comes_back_after_its_commit_with_its_acknowledgements(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    sent = message(1, T)
    batch = Batch(messages=[(sent, T)], acks=[sent])
    assert desk.commit(batch) is None
    assert desk.done == [(batch, None)]
    assert desk.journal.backlog == 0
    assert desk.journal.lag == 0.0
    with closing(desk.reader()) as reader:
        assert list(reader.messages(T - 1, T + 1)) == [(Message("cabin/shunt", b'{"n":1}', T, session="history"), T)]


def test_f12_a_redelivered_stamped_message_is_stored_once_and_an_unstamped_one_each_time(
    make_desk: Callable[..., Desk],
) -> None:
    desk = make_desk()
    for _ in range(3):
        desk.commit(Batch(messages=[(message(1, T), T - 5.0), (message(2, T), None)]))
    with closing(desk.reader()) as reader:
        stamps = [stamp for _, stamp in reader.messages(0, T + 1)]
    assert stamps.count(T - 5.0) == 1
    assert stamps.count(None) == 3


def test_two_payloads_with_one_stamp_are_two_messages(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    desk.commit(Batch(messages=[(message(1, T), T), (message(2, T), T)]))
    assert {crc for _, _, crc in desk.journal.recent_stamps()} == {zlib.crc32(b'{"n":1}'), zlib.crc32(b'{"n":2}')}


def test_recent_stamps_are_the_newest_in_order_of_time(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    desk.commit(Batch(messages=[(message(n, T), T + n + 0.25) for n in range(10)]))
    assert [(stamp, crc) for _, stamp, crc in desk.journal.recent_stamps(2)] == [
        (T + 8.25, zlib.crc32(b'{"n":8}')),
        (T + 9.25, zlib.crc32(b'{"n":9}')),
    ]


def test_messages_are_found_from_any_moment_on(make_desk: Callable[..., Desk], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader_module, "STRETCH", 3)
    desk = make_desk()
    desk.commit(Batch(messages=[(message(n, T + n), None) for n in range(10)]))
    with closing(desk.reader()) as reader:
        for since in range(-1, 12):
            found = [one.at - T for one, _ in reader.messages(T + since, T + 8)]
            assert found == list(range(max(since, 0), 8))


def test_readings_become_one_wide_row_a_second_with_the_last_value_of_each_meter(
    make_desk: Callable[..., Desk],
) -> None:
    desk = make_desk()
    desk.commit(
        Batch(
            readings=[
                reading("voltage", 25.0, T),
                reading("voltage", 26.3104, T + 0.5),
                reading("current", -9.876, T + 0.6),
                reading("electrolyte_temperature", 31.257, T + 0.7),
                reading("block_voltage:N1", 6.5432, T + 0.8),
                reading("voltage", 27.0, T + 1),
            ]
        )
    )
    with closing(desk.reader()) as reader:
        rows = reader.after("reading", 0, 10)
    assert [row.at for row in rows] == [T, T + 1]
    assert rows[0].values == {
        "voltage": 26.31,
        "current": -9.876,
        "electrolyte_temperature": 31.26,
        "block_voltage:N1": 6.5432,
    }
    assert rows[1].values == {"voltage": 27.0}


def test_a_retained_reading_of_unknown_age_is_in_no_chart(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    desk.commit(Batch(readings=[Reading("north", "voltage", 26.0, T, T, retained=True)]))
    with closing(desk.reader()) as reader:
        assert reader.after("reading", 0, 10) == []


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), 1e300])
def test_a_number_that_no_column_holds_does_not_cost_the_batch(make_desk: Callable[..., Desk], value: float) -> None:
    desk = make_desk()
    batch = Batch(
        readings=[reading("voltage", value, T), reading("current", 1.0, T)],
        derived=[Derived("north", T, voltage=value)],
    )
    assert desk.commit(batch) is None
    with closing(desk.reader()) as reader:
        assert reader.after("reading", 0, 10)[0].values == {"current": 1.0}
        state = reader.latest_state("north")
    assert state is not None
    assert state.voltage is None


def test_charts_from_the_roll_up_equal_charts_from_the_rows(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    for part in range(4):  # commits that cut minutes in two
        desk.commit(
            Batch(
                readings=[
                    reading("voltage", 26.0 + second % 7 * 0.1, T + second)
                    for second in range(part * 45, part * 45 + 45)
                ]
            )
        )
    with closing(desk.reader()) as reader:
        rolled = reader.readings("north", T, T + 180, 60)
        seconds = reader.readings("north", T, T + 180, 1)
    assert [bucket.at for bucket in rolled] == [T, T + 60, T + 120]
    assert len(seconds) == 180
    for bucket in rolled:
        volts = [one.voltage_mean for one in seconds if bucket.at <= one.at < bucket.at + 60 and one.voltage_mean]
        assert bucket.voltage_mean == pytest.approx(sum(volts) / len(volts))
        assert (bucket.voltage_min, bucket.voltage_max) == (min(volts), max(volts))
        assert bucket.current_mean is None


def test_charts_tell_the_hottest_of_several_thermometers_as_the_states_do(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    for part in range(3):  # commits that cut minutes in two
        batch = Batch()
        for at in range(round(T) + 40 * part, round(T) + 40 * part + 40, 10):
            batch.readings += [reading("voltage", 26.0, at), reading("electrolyte_temperature", 20.0, at)]
            batch.readings.append(reading("electrolyte_temperature#2", 30.0 + (at - T) / 100.0, at))
            batch.derived.append(Derived("north", float(at), temperature=30.0 + (at - T) / 100.0))
        desk.commit(batch)
    with closing(desk.reader()) as reader:
        rolled = reader.readings("north", T, T + 120, 60)
        stretches = reader.readings("north", T, T + 120, 10)
    assert [bucket.temperature_mean for bucket in stretches] == pytest.approx([30.0 + 0.1 * n for n in range(12)])
    told = [(one.temperature_min, one.temperature_mean, one.temperature_max) for one in rolled]
    assert told == [pytest.approx((30.0, 30.25, 30.5)), pytest.approx((30.6, 30.85, 31.1))]
    assert [bucket.voltage_mean for bucket in rolled] == [26.0, 26.0]


def test_a_state_reads_back_as_it_was_stored(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    state = Derived(
        "north",
        T + 0.125,
        voltage=31.987,
        volts_per_cell=2.66558,
        current=12.345,
        string_currents=(6.1, 6.245),
        temperature=38.25,
        phase="hold",
        phase_since=T - 7200.0,
        remaining_hours=11.5,
        remaining_reason="",
        hold_hours=2.0,
        energy=3.21,
        lowest_gravity=1.2345,
        cells=({"cell": "N1.1", "gravity": 1.255},),
        charge_allowed=True,
        tripped=False,
        relay="closed",
        flags=(Flag("gassing", "chore", T - 60.0, 2.66, 2.4, "V", "why", "ventilate"),),
        next_step="Ventilate.",
        freshness={"voltage": 1.5},
    )
    desk.commit(Batch(derived=[state]))
    with closing(desk.reader()) as reader:
        assert reader.latest_state("north") == state
        assert reader.states("north", T, T + 1) == [state]
        assert reader.latest_state("south") is None


def test_an_unchanged_state_is_stored_every_ten_seconds_and_a_changed_one_at_once(
    make_desk: Callable[..., Desk],
) -> None:
    desk = make_desk()
    states = [Derived("north", T + second, voltage=26.0, phase="bulk") for second in range(30)]
    states[15] = states[15]._replace(tripped=True)
    for state in states:
        desk.commit(Batch(derived=[state]))
    with closing(desk.reader()) as reader:
        stored = [state.at - T for state in reader.states("north", T, T + 60)]
    assert stored == [0, 10, 15, 16, 26]


def test_events_are_found_by_bank_time_and_kind(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    trip = Event("north", "trip", T, {"reason": "over-temperature", "value": 43.4})
    hand = Event("south", "hand", T + 1, {"kind": "gravity", "values": {"N1.1": 1.25}})
    desk.commit(Batch(events=[trip, hand], urgent=True))
    with closing(desk.reader()) as reader:
        assert reader.events(None, T, T + 2) == [trip, hand]
        assert reader.events("south", T, T + 2) == [hand]
        assert reader.events(None, T, T + 2, ["trip"]) == [trip]
        assert reader.events(None, T + 1, T + 2) == [hand]
        assert reader.banks() == ["north", "south"]


def test_snapshots_and_facts_are_there_after_a_restart_and_a_fact_can_be_forgotten(
    make_desk: Callable[..., Desk],
) -> None:
    desk = make_desk()
    desk.commit(Batch(snapshots={"north": '{"phase":"bulk"}'}, facts={"proof": "1", "old": "2"}))
    desk.commit(Batch(snapshots={"north": '{"phase":"hold"}'}, facts={"old": None}))
    assert desk.journal.close()
    again = make_desk()
    assert again.journal.snapshots() == {"north": '{"phase":"hold"}'}
    assert again.journal.facts() == {"proof": "1"}


def test_one_batch_that_cannot_be_stored_does_not_take_its_neighbours_along(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    poison = Batch(messages=[(Message("cabin/\ud800", b"1", T), None)])  # a topic that is no UTF-8
    good = Batch(messages=[(message(1, T), T)])
    desk.journal.submit(good)
    desk.journal.submit(poison)
    for _ in range(2):
        assert desk.committed.acquire(timeout=20.0)
    errors = {id(batch): error for batch, error in desk.done}
    assert errors[id(good)] is None
    assert isinstance(errors[id(poison)], UnicodeEncodeError)
    assert desk.journal.degraded == ""


def test_an_error_in_what_follows_a_commit_does_not_end_the_journal(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    answer = desk.journal.on_done

    def fail(batch: Batch, error: Exception | None) -> None:
        answer(batch, error)
        raise RuntimeError("in the engine")

    desk.journal.on_done = fail
    desk.commit(Batch(messages=[(message(1, T), T)]))
    assert desk.commit(Batch(messages=[(message(2, T), T)])) is None


def test_rows_of_an_untrusted_clock_get_their_true_time_when_it_is_known(make_desk: Callable[..., Desk]) -> None:
    """F52: monotonic time 100 s was read as 1970 + 1000 s; the true clock then says T for monotonic 100 s."""
    desk = make_desk()
    desk.commit(Batch(readings=[reading("voltage", 25.0, T - 600)]))
    untrusted = Batch(
        messages=[(message(1, 1000.0), None)],
        readings=[reading("voltage", 26.0, 1000.0), reading("voltage", 27.0, 1001.0)],
        derived=[Derived("north", 1000.0, voltage=26.0, temperature=31.0)],
        events=[Event("north", "phase", 1000.0, {"phase": "bulk"})],
        boot="boot-1",
        anchor=900.0,
    )
    desk.commit(untrusted)
    assert desk.journal.undated
    with closing(desk.reader()) as reader:
        assert [row.undated for row in reader.after("reading", 0, 10)] == [False, True, True]
        assert reader.readings("north", 0, 2000, 60) == []
        assert reader.readings("north", 0, 2000, 1) == []
    desk.journal.restamp("boot-1", T - 100.0)
    wait_until(lambda: not desk.journal.undated, 20.0)
    with closing(desk.reader()) as reader:
        assert [(row.at, row.undated) for row in reader.after("reading", 1, 10)] == [(T, False), (T + 1, False)]
        rolled = reader.readings("north", T, T + 60, 60)
        assert [(bucket.voltage_mean, bucket.temperature_mean) for bucket in rolled] == [(26.5, 31.0)]
        assert [one.at for one, _ in reader.messages(T - 1, T + 1)] == [T]
        assert [event.at for event in reader.events("north", T - 1, T + 1)] == [T]
        assert [state.at for state in reader.states("north", T - 1, T + 1)] == [T]


def test_a_batch_handed_over_just_before_the_clock_was_set_is_dated_as_well(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    for number in range(20):
        at = 1000.0 + number
        desk.journal.submit(Batch(readings=[reading("voltage", 26.0, at)], boot="boot-1", anchor=900.0))
    desk.journal.restamp("boot-1", T - 100.0)
    assert desk.journal.close(10.0)
    assert not desk.journal.undated
    with closing(desk.reader()) as reader:
        assert [row.at for row in reader.after("reading", 0, 100) if not row.undated] == [T + n for n in range(20)]


def test_positions_and_refused_rows_of_an_outlet_are_kept(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    desk.journal.advance("influx", "17")
    desk.journal.reject("influx", T, "bank_reading v=1 1", "type conflict")
    desk.commit(Batch(messages=[(message(1, T), T)]))
    with closing(desk.reader()) as reader:
        assert reader.position("influx") == "17"
        assert reader.position("other") == ""
    with closing(sqlite3.connect(desk.path)) as connection:
        assert connection.execute("SELECT outlet, line, words FROM rejected").fetchall() == [
            ("influx", "bank_reading v=1 1", "type conflict")
        ]
