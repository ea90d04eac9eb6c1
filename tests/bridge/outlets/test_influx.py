"""The time-series outlet against a real victoria-metrics, and its line protocol against the published grammar."""

from __future__ import annotations

import re
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import SecretStr

from bridge.commands.check import _database as check_database
from bridge.errors import CannotReachError
from bridge.journal.batch import Batch
from bridge.journal.rows import Row
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.outlets.influx import InfluxOutlet
from bridge.outlets.line_protocol import field_name, format_line, line, parts
from bridge.settings import InfluxSettings, JournalSettings
from rules.bank.model import Meter
from rules.events import Derived, Event, Flag, Reading
from rules.phase import PHASES
from tests.support.brokers import free_port, need, wait_until
from tests.support.databases import Metrics, OlderInflux

METERS = {
    "north": (Meter("voltage", "voltage"), Meter("current", "current"), Meter("cell_voltage:N1.2", "cell_voltage"))
}
NOW = float(int(time.time()) // 60 * 60 - 3600)  # the database keeps a month: an hour ago is inside


def test_special_characters_are_escaped_as_the_line_protocol_reference_says() -> None:
    # InfluxDB v2 line protocol reference, "Special characters": comma, equals sign and space in keys and tags,
    # double quote and backslash in string values.
    written = format_line("bank_event", {"site": "a b,c=d"}, {"x y": 1, "words": 'say "hi" \\ now'}, 5)
    assert written == r'bank_event,site=a\ b\,c\=d x\ y=1.0,words="say \"hi\" \\ now" 5'


@pytest.mark.parametrize("value", [float("nan"), float("inf"), None])
def test_what_is_not_a_finite_number_is_left_out_and_a_point_of_nothing_is_no_point(value: object) -> None:
    assert format_line("m", {"site": "s"}, {"a": value, "b": 1}, 5) == "m,site=s b=1.0 5"
    assert format_line("m", {"site": "s"}, {"a": value}, 5) is None


def test_whole_numbers_and_booleans_are_floats() -> None:
    assert format_line("m", {}, {"a": 12, "b": True, "c": 1e-7}, 5) == "m a=12.0,b=1.0,c=1e-07 5"


def test_fields_carry_their_unit_in_their_name() -> None:
    row = Row(7, NOW, "north", False, {"voltage": 26.3, "cell_voltage:N1.2": 2.19, "fan": 1.0, "hydrogen": 0.002})
    time_ = int(NOW) * 1_000_000
    assert line("reading", row, "tarn-hut") == (
        "bank_reading,site=tarn-hut,bank=north,source=meter "
        f"voltage_v=26.3,cell_voltage_N1.2_v=2.19,fan=1.0,hydrogen=0.002 {time_}"
    )


#: What a name may be without two becoming one: what has no safe spelling is written as an underscore.
NAMES = st.text(st.characters(codec="utf-8", exclude_characters='"\\\n\r\t_'), min_size=1, max_size=8)


@pytest.mark.parametrize(
    "meter", ["electrolyte_temperature#2", "block_voltage:N 1", 'cell_voltage:a"b,c=d\\e', "fan:ä"]
)
def test_field_names_are_letters_digits_points_and_underscores(meter: str) -> None:
    assert re.fullmatch(r"[A-Za-z0-9_.]+", field_name(meter))


@given(st.dictionaries(NAMES, st.floats(-1e6, 1e6) | st.text(max_size=12), min_size=1, max_size=5))
def test_a_line_taken_apart_and_put_together_is_the_same_line(fields: dict[str, object]) -> None:
    written = format_line("bank_event", {"site": "a b,c=d"}, fields, 5)
    assert written is not None
    row = parts(written)
    assert row.line(row.fields) == written
    assert len(row.fields) == written_fields(written)


def written_fields(line: str) -> int:
    """Fields of a line by the published grammar, letter by letter: commas outside quotes that nothing escapes."""
    count, quoted, escaped = 1, False, False
    for letter in line.split("d ", 1)[1]:
        if escaped:
            escaped = False
        elif letter == "\\":
            escaped = True
        elif letter == '"':
            quoted = not quoted
        elif letter == "," and not quoted:
            count += 1
    return count


def test_two_events_of_one_kind_in_one_millisecond_are_two_points() -> None:
    event = Event("north", "flag", NOW, {"flag": "gassing"})
    first, second = (line("event", Row(number, NOW, "north", False, event), "hut") for number in (1, 2))
    assert first is not None
    assert second is not None
    assert first.rsplit(" ", 1)[0] == second.rsplit(" ", 1)[0]
    assert first != second


def test_hand_readings_become_numbers() -> None:
    event = Event("north", "hand", NOW, {"kind": "gravity", "values": {"N1.2": 1.25, "N1.3": "low"}})
    written = line("event", Row(1, NOW, "north", False, event), "hut")
    assert written is not None
    assert written.startswith("bank_event,site=hut,bank=north,source=hand,kind=hand count=1.0,gravity_N1.2=1.25,")


@pytest.fixture(scope="module")
def metrics(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Metrics]:
    running = Metrics(tmp_path_factory.mktemp("metrics"))
    yield running
    running.stop()


@pytest.fixture
def make_journal(tmp_path: Path) -> Iterator[Callable[[], Journal]]:
    made: list[Journal] = []

    def make() -> Journal:
        made.append(Journal.open(JournalSettings(path=tmp_path / f"journal{len(made)}.db"), METERS))
        return made[-1]

    yield make
    for journal in made:
        assert journal.close(10.0)


def follow(metrics: Metrics, journal: Journal, site: str) -> InfluxOutlet:
    settings = InfluxSettings(metrics.url, "hut", "revival", SecretStr("no-token-here"))
    return InfluxOutlet(settings, site, journal, lambda: True, look=0.05, drain=0.05)


def test_every_point_is_read_back_from_a_real_database(metrics: Metrics, make_journal: Callable[[], Journal]) -> None:
    journal = make_journal()
    batch = Batch(messages=[(Message("cabin/shunt", b"26.0", NOW), None)])
    for second in range(600):
        at = NOW + second
        batch.readings += [Reading("north", "voltage", 26.0 + second / 1000, at, at)]
        batch.readings += [Reading("north", "cell_voltage:N1.2", 2.2, at, at)]
        batch.derived.append(Derived("north", at, voltage=26.0, hold_hours=second / 3600, charge_allowed=True))
    batch.events = [Event("north", "trip", NOW + 5, {"value": 43.5}), Event("north", "trip", NOW + 5, {"value": 43.6})]
    journal.submit(batch)
    outlet = follow(metrics, journal, "read-back")
    outlet.start()
    wait_until(lambda: outlet.sent >= 600 + 60 + 2 + 1, 30.0, "outlet sends")
    selector = "{site=%22read-back%22}"
    wait_until(lambda: len(metrics.series(selector).get(("bank_reading_voltage_v", "north"), [])) == 600, 30.0)
    found = metrics.series(selector)
    assert found["bank_reading_voltage_v", "north"] == [
        (round((NOW + second) * 1000), round(26.0 + second / 1000, 3)) for second in range(600)
    ]
    assert len(found["bank_reading_cell_voltage_N1.2_v", "north"]) == 600
    assert found["bank_state_charge_allowed", "north"] == [
        (round((NOW + second) * 1000), 1.0) for second in range(0, 600, 10)
    ]
    assert sorted(value for _, value in found["bank_event_value", "north"]) == [43.5, 43.6]
    assert [time_ for time_, _ in found["bridge_health_journal_size_bytes", ""]] == [round(NOW * 1000)]
    assert outlet.rejected == 0
    assert outlet.stop()


def test_after_a_restart_it_goes_on_where_it_was(metrics: Metrics, make_journal: Callable[[], Journal]) -> None:
    journal = make_journal()
    journal.submit(Batch(readings=[Reading("north", "voltage", 1.0, NOW, NOW)]))
    first = follow(metrics, journal, "restart")
    first.start()
    wait_until(lambda: first.sent == 1, 20.0)
    assert first.stop()
    journal.submit(Batch(readings=[Reading("north", "voltage", 2.0, NOW + 1, NOW + 1)]))
    wait_until(lambda: journal.backlog == 0, 20.0)
    second = follow(metrics, journal, "restart")
    second.start()
    wait_until(lambda: second.sent >= 1, 20.0)
    assert second.stop()
    assert second.sent == 1
    wait_until(
        lambda: (
            metrics.series("{site=%22restart%22}").get(("bank_reading_voltage_v", "north"))
            == [(round(NOW * 1000), 1.0), (round(NOW * 1000) + 1000, 2.0)]
        ),
        30.0,
    )


def test_f41_a_real_database_that_was_away_gets_everything_when_it_is_back(
    tmp_path: Path, make_journal: Callable[[], Journal]
) -> None:
    database = Metrics(tmp_path)
    journal = make_journal()
    outlet = follow(database, journal, "away")
    outlet.start()
    try:
        journal.submit(Batch(readings=[Reading("north", "voltage", 1.0, NOW, NOW)]))
        wait_until(lambda: outlet.sent == 1, 20.0)
        database.kill()
        batch = Batch(readings=[Reading("north", "voltage", float(n), NOW + n, NOW + n) for n in range(1, 3000)])
        journal.submit(batch)
        wait_until(lambda: outlet.state == "unreachable", 20.0)
        database.start()
        wait_until(lambda: outlet.sent >= 3000, 60.0)
        key = ("bank_reading_voltage_v", "north")
        # What was sent just before the kill was in memory alone, and is sent again; this store keeps both of two equal
        # samples, others one.
        wait_until(lambda: len(set(database.series("{site=%22away%22}").get(key, []))) == 3000, 30.0)
        assert outlet.rejected == 0
    finally:
        assert outlet.stop(20.0)
        database.stop()


def test_f44_f60_a_real_token_check_refuses_and_then_lets_everything_in(
    metrics: Metrics, tmp_path: Path, make_journal: Callable[[], Journal], caplog: pytest.LogCaptureFixture
) -> None:
    rules, port = tmp_path / "auth.yaml", free_port()
    rules.write_text(f'users: [{{bearer_token: "right", url_prefix: "{metrics.url}"}}]')
    with (tmp_path / "vmauth.log").open("wb") as log:
        process = subprocess.Popen(
            [need("vmauth"), f"-auth.config={rules}", f"-httpListenAddr=127.0.0.1:{port}"], stdout=log, stderr=log
        )
    journal = make_journal()
    journal.submit(Batch(readings=[Reading("north", "voltage", 5.0, NOW, NOW)]))

    def outlet_with(token: str) -> InfluxOutlet:
        settings = InfluxSettings(f"http://127.0.0.1:{port}", "hut", "revival", SecretStr(token))
        return InfluxOutlet(settings, "token", journal, lambda: True, look=0.05, refused=0.05)

    wrong, right = outlet_with("wrong-token"), outlet_with("right")
    try:
        wrong.start()
        wait_until(lambda: wrong.state == "refused", 30.0)
        # Debian 12's check answers 400 and repeats the token: neither a bad row nor a reason to tell anybody the
        # secret. Newer ones (1.145) answer 401.
        assert "cannot find the provided auth token" in wrong.words or wrong.words == "401 Unauthorized"
        assert "wrong-token" not in wrong.words + caplog.text
        assert wrong.sent == wrong.rejected == 0
        right.start()
        wait_until(lambda: right.sent == 1, 30.0)
        assert wrong.stop(20.0)
        assert right.stop(20.0)
    finally:
        process.terminate()
        process.wait(20)


def test_flags_and_words_of_a_state_are_fields() -> None:
    state = Derived(
        "north", NOW, phase="hold", relay="closed", flags=(Flag("a", "chore", NOW), Flag("b", "hazard", NOW))
    )
    written = line("state", Row(1, NOW, "north", False, state), "hut")
    assert written is not None
    for field in (
        'phase="hold"',
        'relay="closed"',
        'trip_reason=""',
        'remaining_reason=""',
        'flags="a,b"',
        "flag_count=2.0",
    ):
        assert f",{field}" in written
    quiet = line("state", Row(2, NOW, "north", False, state._replace(flags=())), "hut")
    assert quiet is not None
    assert 'flags="",flag_count=0.0' in quiet  # the last flag must not seem to be up for ever


# ------------------------------------------------------------------------------ a server before 1.8, as Debian has it


@pytest.fixture(scope="module")
def older(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OlderInflux]:
    running = OlderInflux(tmp_path_factory.mktemp("older"))
    running.ask("CREATE DATABASE revival")
    yield running
    running.stop()


def follow_older(older: OlderInflux, journal: Journal, site: str, database: str = "revival") -> InfluxOutlet:
    settings = InfluxSettings(older.url, "", database, SecretStr(""), before_1_8=True)
    return InfluxOutlet(settings, site, journal, lambda: True, look=0.05, drain=0.05, refused=0.05)


def test_a_server_before_1_8_gets_every_value_and_every_word(
    older: OlderInflux, make_journal: Callable[[], Journal]
) -> None:
    journal = make_journal()
    batch = Batch()
    for second in range(300):
        at = NOW + second
        batch.readings.append(Reading("north", "voltage", 26.0 + second / 1000, at, at))
        batch.derived.append(
            Derived("north", at, phase=PHASES[2], next_step='air the "room"', hold_hours=second / 3600)
        )
    batch.events = [Event("north", "trip", NOW + 5, {"value": 43.5})]
    journal.submit(batch)
    outlet = follow_older(older, journal, "older")
    outlet.start()
    wait_until(lambda: outlet.sent >= 300 + 30 + 1, 30.0)
    assert outlet.stop()
    (found,) = older.ask("SELECT voltage_v FROM bank_reading WHERE site = 'older'")
    assert found["values"] == [[round((NOW + n) * 1000), round(26.0 + n / 1000, 3)] for n in range(300)]
    (words,) = older.ask("SELECT phase, next_step, phase_number FROM bank_state WHERE site = 'older' LIMIT 1")
    assert words["values"][0][1:] == [PHASES[2], 'air the "room"', 2.0]
    (trip,) = older.ask("SELECT value FROM bank_event WHERE site = 'older' AND kind = 'trip'")
    assert [value for _, value in trip["values"]] == [43.5]
    assert outlet.rejected == 0


def test_f41_a_server_before_1_8_that_was_killed_gets_everything_when_it_is_back(
    tmp_path: Path, make_journal: Callable[[], Journal]
) -> None:
    database = OlderInflux(tmp_path)
    database.ask("CREATE DATABASE revival")
    journal = make_journal()
    outlet = follow_older(database, journal, "killed")
    outlet.start()
    try:
        journal.submit(Batch(readings=[Reading("north", "voltage", 0.0, NOW, NOW)]))
        wait_until(lambda: outlet.sent == 1, 20.0)
        database.kill()
        journal.submit(
            Batch(readings=[Reading("north", "voltage", float(n), NOW + n, NOW + n) for n in range(1, 3000)])
        )
        wait_until(lambda: outlet.state == "unreachable", 20.0)
        database.start()
        wait_until(lambda: outlet.state == "up to date" and outlet.sent >= 3000, 60.0)
        (found,) = database.ask("SELECT voltage_v FROM bank_reading WHERE site = 'killed'")
        assert found["values"] == [[round((NOW + n) * 1000), float(n)] for n in range(3000)]
    finally:
        assert outlet.stop(20.0)
        database.stop()


def test_f42_a_column_that_a_real_server_refuses_costs_no_row(
    older: OlderInflux, make_journal: Callable[[], Journal]
) -> None:
    """Somebody wrote the temperature as words once: the server then takes no number there any more."""
    older.ask("CREATE DATABASE mixed")
    older.write(f'bank_reading,bank=north electrolyte_temperature_c="warm" {round(NOW)}000000000', "mixed")
    journal = make_journal()
    journal.submit(
        Batch(
            readings=[
                Reading("north", quantity, 25.0, NOW + second, NOW + second)
                for second in range(60)
                for quantity in ("voltage", "electrolyte_temperature", "current")
            ]
        )
    )
    outlet = follow_older(older, journal, "mixed", "mixed")
    outlet.start()
    wait_until(lambda: outlet.state == "up to date" and outlet.sent >= 60, 30.0)
    assert outlet.stop()
    (kept,) = older.ask("SELECT voltage_v, current_a FROM bank_reading WHERE site = 'mixed'", "mixed")
    assert len(kept["values"]) == 60
    assert all(row[1:] == [25.0, 25.0] for row in kept["values"])
    assert outlet.rejected == 60


def test_f44_a_database_that_does_not_exist_yet_is_waited_for(
    older: OlderInflux, make_journal: Callable[[], Journal]
) -> None:
    journal = make_journal()
    journal.submit(Batch(readings=[Reading("north", "voltage", 5.0, NOW, NOW)]))
    outlet = follow_older(older, journal, "late", "late")
    outlet.start()
    wait_until(lambda: outlet.state == "refused", 20.0)
    settings = InfluxSettings(older.url, "", "late", SecretStr(""), before_1_8=True)
    with pytest.raises(CannotReachError, match='has no database "late": create it'):
        check_database(settings)
    assert 'database not found: "late"' in outlet.words
    older.ask("CREATE DATABASE late")
    assert check_database(settings) == f"{older.url} lets us write"
    wait_until(lambda: outlet.sent == 1, 20.0)
    assert outlet.stop()
    assert outlet.rejected == 0
