"""The provisioned dashboard: one JSON file, held against the database outlet's own table of fields."""

from __future__ import annotations

import json
import re
import runpy
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from pydantic import SecretStr

from bridge.journal.batch import Batch
from bridge.journal.writer import Journal
from bridge.message import Message
from bridge.outlets.influx import InfluxOutlet
from bridge.outlets.line_protocol import MEASUREMENTS, STATE_FIELDS, STATE_WORDS, field_name
from bridge.settings import InfluxSettings, JournalSettings
from rules.bank.model import Limits, Meter
from rules.bank.quantity import QUANTITIES
from rules.events import Derived, Event, Flag, Reading
from tests.support.brokers import wait_until
from tests.support.databases import Metrics, OlderInflux

FOLDER = Path(__file__).parents[3] / "docker/dashboards"
DASHBOARD: dict[str, Any] = json.loads((FOLDER / "revival.json").read_text())
PANELS: list[dict[str, Any]] = DASHBOARD["panels"]
CHARTS = [panel for panel in PANELS if panel["type"] != "row"]
EVERY_BANK = ["Heard from", "Latch of every bank"]
FIELDS = {
    "bank_state": {*STATE_FIELDS.values(), *STATE_WORDS, "flags", "flag_count", "string_current_1_a"},
    "bank_reading": {field_name(name) for name in QUANTITIES},
    "bank_event": {"count", "text"},
}


def queries(node: object) -> Iterator[str]:
    """Every query text anywhere in the document."""
    if isinstance(node, dict):
        if isinstance(node.get("query"), str) and "bucket:" in node["query"]:
            yield node["query"]
        for value in node.values():
            yield from queries(value)
    elif isinstance(node, list):
        for value in node:
            yield from queries(value)


QUERIES = sorted(set(queries(DASHBOARD)))


@pytest.mark.parametrize("query", [query for query in QUERIES if "_measurement" in query])
def test_every_query_asks_for_something_the_outlet_writes(query: str) -> None:
    measurement = re.findall(r'r\._measurement == "(\w+)"', query)
    assert len(measurement) == 1
    assert measurement[0] in MEASUREMENTS.values()
    exact, patterns = re.findall(r'r\._field == "([^"]+)"', query), re.findall(r"r\._field =~ /(.+?)/", query)
    assert len(exact) + len(patterns) == (measurement[0] != "bridge_health")
    assert set(exact) <= FIELDS.get(measurement[0], set())
    for pattern in patterns:
        assert any(re.search(pattern, field) for field in FIELDS[measurement[0]])


def test_every_query_is_bounded_in_time_and_to_the_chosen_site_and_bank() -> None:
    every = {target["query"] for panel in CHARTS if panel["title"] in EVERY_BANK for target in panel["targets"]}
    for query in (query for query in QUERIES if "from(" in query):
        assert "range(start: v.timeRangeStart, stop: v.timeRangeStop)" in query or "range(start: -" in query
        assert 'r.site == "${site}"' in query
        assert ('r.bank == "${bank}"' in query) == ("bridge_health" not in query and query not in every)


def test_what_is_shown_as_now_is_two_minutes_old_at_most_and_else_a_red_gap() -> None:
    for panel in (panel for panel in CHARTS if panel["type"] == "stat"):
        for target in panel["targets"]:
            # Whether a bank is heard at all is asked of a week, and answered with when it was.
            since = "-7d" if panel["title"] == "Heard from" else "-2m"
            assert f"range(start: {since})" in target["query"], panel["title"]
        missing = panel["fieldConfig"]["defaults"]["mappings"][-1]
        assert missing["options"]["match"] == "null+nan" and missing["options"]["result"]["text"] == "NO DATA"
        assert missing["options"]["result"]["color"] == "#D55E00" and panel["options"]["colorMode"] == "background"


def test_temperatures_and_their_limits_are_in_the_degrees_that_the_owner_chose() -> None:
    chosen = next(one for one in DASHBOARD["templating"]["list"] if one["name"] == "scale")
    assert [one["text"] for one in chosen["options"]] == ["°C", "°F"]
    assert chosen["query"] == ", ".join(f"{one['text']} : {one['value']}" for one in chosen["options"])
    for query in (target["query"] for panel in CHARTS for target in panel["targets"]):
        assert ("${scale:raw}" in query) == ("temperature" in query)
    assert "celsius" not in json.dumps(DASHBOARD), "a unit would go on saying the other"


def test_curves_are_thinned_by_the_server_and_peaks_of_temperature_are_kept() -> None:
    for panel in CHARTS:
        for target in panel["targets"]:
            if panel["type"] in ("timeseries", "state-timeline"):
                assert "aggregateWindow(every: v.windowPeriod" in target["query"], panel["title"]
            if "electrolyte_temperature" in target["query"] or '"temperature_c"' in target["query"]:
                assert "fn: max" in target["query"], panel["title"]


def test_all_that_a_person_looks_for_is_on_the_one_screen() -> None:
    asked = " ".join(target["query"] for panel in CHARTS for target in panel["targets"])
    for field in ("volts_per_cell_v", "current_a", "temperature_c", "phase", "remaining_hours_h", "remaining_low_h",
                  "remaining_high_h", "hold_hours_h", "hold_needed_h", "lowest_gravity", "gravity_spread", "flags",
                  "relay", "charge_allowed", "tripped"):  # fmt: skip
        assert f'"{field}"' in asked, field
    titles = [panel["title"] for panel in CHARTS]
    assert titles[:6] == [*EVERY_BANK, "Permit", "Latch", "Relay says", "Flags now"], "safety comes first"
    assert all(panel["description"] for panel in CHARTS)


def test_panels_have_own_numbers_and_do_not_overlap() -> None:
    assert len({panel["id"] for panel in PANELS}) == len(PANELS)
    taken: set[tuple[int, int]] = set()
    for panel in PANELS:
        place = panel["gridPos"]
        assert place["x"] + place["w"] <= 24
        cells = {
            (x, y)
            for x in range(place["x"], place["x"] + place["w"])
            for y in range(place["y"], place["y"] + place["h"])
        }
        assert not cells & taken, panel["title"]
        taken |= cells
    for panel in CHARTS:
        refs = [target["refId"] for target in panel["targets"]]
        assert len(set(refs)) == len(refs)
        named = {
            one["matcher"]["options"]
            for one in panel["fieldConfig"]["overrides"]
            if one["matcher"]["id"] == "byFrameRefID"
        }
        assert named <= set(refs), panel["title"]


def test_a_state_is_always_said_in_words_beside_its_colour() -> None:
    for panel in CHARTS:
        for mapping in panel["fieldConfig"]["defaults"].get("mappings", []):
            options = mapping["options"].values() if mapping["type"] == "value" else [mapping["options"]["result"]]
            assert all(option["text"] for option in options), panel["title"]
    latch = next(panel for panel in CHARTS if panel["title"] == "Latch")
    assert latch["fieldConfig"]["defaults"]["mappings"][0]["options"]["1"]["text"] == "TRIPPED"


@pytest.mark.parametrize(
    ("box", "limit"),
    [("temperature_limit", Limits().temperature), ("temperature_warning", Limits().temperature_warning)],
)
def test_the_limit_lines_start_where_a_cabin_has_its_limits_unless_told_otherwise(box: str, limit: float) -> None:
    found = next(one for one in DASHBOARD["templating"]["list"] if one["name"] == box)
    assert float(found["query"]) == pytest.approx(limit, abs=0.05)
    assert any(f'"${{{box}}}"' in query for query in QUERIES)


def test_the_data_source_is_the_provisioned_one_and_carries_no_secret() -> None:
    source = yaml.safe_load((FOLDER / "sources.yaml").read_text())["datasources"][0]
    assert {panel["datasource"]["uid"] for panel in CHARTS} == {source["uid"]}
    assert source["secureJsonData"] == {"token": "$__file{/run/token/token}"}
    assert source["jsonData"]["version"] == "Flux"
    provider = yaml.safe_load((FOLDER / "provider.yaml").read_text())["providers"][0]
    assert provider["options"]["path"] == "/etc/grafana/provisioning/dashboards"


# ------------------------------------------------------------------ the two other languages, asked of real databases

METERS = {
    "north": tuple(
        Meter(name, name.partition("#")[0], placed="cell" if "electrolyte" in name else "")
        for name in ("voltage", "current", "power", "ambient_temperature", "electrolyte_temperature#2")
    ),
    "south": (Meter("voltage", "voltage"),),
    "east": (Meter("voltage", "voltage"),),
}


#: Ten minutes up to now: "now" is asked for by the databases' own clock.
@cache
def begin() -> float:
    """Return when the ten minutes begin that end at the first look; a query asks for the last two [s]."""
    return time.time() // 10 * 10 - 610.0


CHOSEN = {
    "site": "asked", "bank": "north", "temperature_limit": "43.3", "temperature_warning": "38.0",
    "scale:raw": "* 1.8 + 32.0",
}  # fmt: skip


def translate() -> dict[str, Any]:
    """What docker/dashboards/translate makes now: file name -> text."""
    made: dict[str, Any] = runpy.run_path(str(FOLDER / "translate"))
    return made["all_translated"]()  # type: ignore[no-any-return]


def complete(query: str, **more: str) -> str:
    """A query as the dashboard server sends it."""
    for name, value in (CHOSEN | more).items():
        query = query.replace(f"${{{name}}}", value).replace(f"${name}", value)
    assert "$" not in query, query
    return query


def asked_of(name: str) -> list[tuple[str, str, str]]:
    """(panel, field of the query's text, query) of a dashboard."""
    document = json.loads((FOLDER / name).read_text())
    return [
        (panel["title"], panel["type"], target.get("query") or target["expr"])
        for panel in document["panels"]
        if panel["type"] != "row"
        for target in panel["targets"]
    ]


def ten_minutes() -> Batch:
    """Every field has a value, every kind of meter a reading, and a trip happens."""
    batch = Batch(messages=[(Message("cabin/shunt", b"26.0", begin()), None)])
    numbers = {name: 1.5 for name, field in STATE_FIELDS.items() if "." not in field}
    for second in range(0, 600, 10):
        at = begin() + second
        values: dict[str, Any] = numbers | {"charge_allowed": True, "tripped": False, "string_currents": (5.0, 6.0)}
        values |= {"relay": "closed", "phase": "holding", "flags": (Flag("over-temperature", "hazard", at),)}
        batch.derived.append(Derived("north", at, **values))
        batch.derived.append(Derived("south", at - 900.0, **values))  # silent for a quarter of an hour
        batch.derived.append(Derived("east", at, relay="closed", phase="holding"))
        batch.readings += [Reading("north", meter.name, 25.0, at, at) for meter in METERS["north"]]
    batch.events = [Event("north", "trip", begin() + 300.0, {"value": 43.5})]
    return batch


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Journal]:
    path = tmp_path_factory.mktemp("journal") / "journal.db"
    made = Journal.open(JournalSettings(path=path), METERS)
    made.submit(ten_minutes())
    yield made
    assert made.close(10.0)


def fill(journal: Journal, settings: InfluxSettings) -> None:
    """Write the whole journal into a database."""
    journal_ready = InfluxOutlet(settings, "asked", journal, lambda: True, look=0.02, drain=0.02)
    journal_ready.start()
    wait_until(lambda: journal_ready.state == "up to date" and journal_ready.sent >= 120, 30.0)
    assert journal_ready.stop()
    journal.advance("influx", "")  # the next database begins at the beginning


def test_the_two_other_dashboards_are_what_the_flux_one_says() -> None:
    for name, text in translate().items():
        assert (FOLDER / name).read_text() == text, f"{name}: PYTHONPATH=. docker/dashboards/translate"
        assert len(asked_of(name)) == len([one for panel in CHARTS for one in panel["targets"]])


def test_every_influxql_query_finds_what_was_written_in_a_real_database(tmp_path: Path, journal: Journal) -> None:
    database = OlderInflux(tmp_path)
    try:
        database.ask("CREATE DATABASE revival")
        fill(journal, InfluxSettings(database.url, "", "revival", SecretStr(""), before_1_8=True))
        span = f"time >= {round(begin() * 1000)}ms AND time <= {round(begin() + 600) * 1000}ms"
        for title, kind, query in asked_of("revival-influxql.json"):
            found = database.ask(complete(query, timeFilter=span, __interval="60s"))
            assert found and found[0]["values"], f"{title}: {query}"
            newest = {one.get("tags", {}).get("bank"): one["values"][-1][1] for one in found}
            if title == "Heard from":
                assert newest["north"] > 0.0 and newest["south"] == 0.0
            elif title == "Latch of every bank":
                assert set(newest) == {"north", "east"}
            elif kind == "stat":
                assert not database.ask(complete(query, bank="south")), "stale"
            if title == "Temperatures and limits":
                assert 34.7 < newest[None] < 109.95, "1.5 and 25 degC, limits of 38.0 and 43.3, in degF"
        lists = json.loads((FOLDER / "revival-influxql.json").read_text())["templating"]["list"]
        names = [database.ask(complete(one["query"]))[0]["values"] for one in lists if one["type"] == "query"]
        assert names == [[["site", "asked"]], [["bank", "east"], ["bank", "north"], ["bank", "south"]]]
    finally:
        database.stop()


def test_every_promql_query_finds_what_was_written_in_a_real_metric_store(tmp_path: Path, journal: Journal) -> None:
    database = Metrics(tmp_path)
    try:
        fill(journal, InfluxSettings(database.url, "hut", "revival", SecretStr("none")))
        database.flush()
        for title, kind, query in asked_of("revival-promql.json"):
            text = complete(query, __interval="60s", __range="600s")
            found = database.ask(text, begin(), begin() + 600.0, 10.0)
            assert found and found[0]["values"], f"{title}: {text}"
            now = {
                (one["metric"].get("bank"), one["metric"].get("__name__")): float(one["values"][-1][1])
                for one in found
                if one["values"][-1][0] >= begin() + 590.0
            }
            if title == "Heard from":
                assert now == {("north", None): 1.0, ("south", None): 0.0, ("east", None): 1.0}
            elif title == "Latch of every bank":
                assert {bank for bank, _ in now} == {"north", "east"}
            elif kind == "stat":
                assert now and {bank for bank, _ in now} == {"north"}
                other = complete(query, bank="south", __interval="60s")
                assert not database.ask(other, begin() + 590.0, begin() + 600.0, 10.0), "stale"
            if title == "Flags now":
                (none,) = database.ask(
                    complete(query, bank="east", __interval="60s"), begin() + 590.0, begin() + 600.0, 10.0
                )
                assert none["metric"]["__name__"] == "none", "heard, and nothing is raised"
                assert {name for _, name in now} == {"bank_state_flag_over_temperature"}
            if title == "Temperatures and limits":
                assert all(34.7 - 0.1 < value < 109.95 for value in now.values()), now
    finally:
        database.stop()
