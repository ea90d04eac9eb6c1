"""The provisioned dashboard: one JSON file, held against the database outlet's own table of fields."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from bridge.outlets.line_protocol import MEASUREMENTS, STATE_FIELDS, STATE_WORDS, field_name
from rules.bank.model import Limits
from rules.bank.quantity import QUANTITIES

FOLDER = Path(__file__).parents[3] / "docker/dashboards"
DASHBOARD: dict[str, Any] = json.loads((FOLDER / "revival.json").read_text())
PANELS: list[dict[str, Any]] = DASHBOARD["panels"]
CHARTS = [panel for panel in PANELS if panel["type"] != "row"]
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
    for query in (query for query in QUERIES if "from(" in query):
        assert "range(start: v.timeRangeStart, stop: v.timeRangeStop)" in query
        assert 'r.site == "${site}"' in query
        assert ('r.bank == "${bank}"' in query) == ("bridge_health" not in query)


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
    assert titles[:4] == ["Permit", "Latch", "Relay says", "Flags now"], "safety comes first"
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
            assert all(option["text"] for option in mapping["options"].values()), panel["title"]
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
