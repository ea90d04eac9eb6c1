"""What the page's server shows: the stream, the curve, its files; no browser takes part."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import logging
import re
import sys
import time
from collections.abc import Iterator
from http.client import HTTPConnection, HTTPResponse
from pathlib import Path
from typing import Any

import pytest

from bridge.config import load
from bridge.page.server import WATCHERS
from tests.support.brokers import free_port, wait_until
from tests.support.cabin import shunt, write_cabin
from tests.support.page_site import NOON, Site, open_site
from tests.support.running_bridge import turning


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """One for all tests of this file."""
    with open_site(tmp_path_factory.mktemp("site")) as opened:
        yield opened


def test_the_page_listens_on_loopback_unless_the_cabin_file_says_otherwise(tmp_path: Path) -> None:
    path = write_cabin(tmp_path, 1883, extra="\n[page]\n")
    page = load(path).cabin.page
    assert page is not None
    assert page.host == "127.0.0.1" and page.token is None


def test_a_page_open_to_the_network_is_told_in_the_log(
    tmp_path: Path, site: Site, caplog: pytest.LogCaptureFixture
) -> None:
    port = free_port()
    path = write_cabin(tmp_path, site.broker.port, relay=False, extra=f'\n[page]\nlisten = "0.0.0.0:{port}"\n')
    path.write_text(path.read_text().replace('id = "tarn-hut"', 'id = "open-hut"'))
    with caplog.at_level(logging.INFO, "revival.page"), turning(path):
        pass
    assert "0.0.0.0 is open to the network without encryption" in caplog.text
    assert "page on http://" in caplog.text and "http://0.0.0.0" not in caplog.text, "an address that a phone can open"


def test_a_port_in_use_is_told_and_the_bridge_watches_without_a_page(
    tmp_path: Path, site: Site, caplog: pytest.LogCaptureFixture
) -> None:
    path = write_cabin(tmp_path, site.broker.port, relay=False, extra=f'\n[page]\nlisten = "127.0.0.1:{site.port}"\n')
    path.write_text(path.read_text().replace('id = "tarn-hut"', 'id = "third-hut"'))
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed, 30.0)
    assert f'{path}: [page] listen = "127.0.0.1:{site.port}": another program listens on port' in caplog.text
    assert f"give the page another port there, such as {site.port + 1}, and restart the bridge" in caplog.text


def test_without_the_chart_library_the_bridge_watches_and_names_the_extra(
    tmp_path: Path, site: Site, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "dygraphs", None)
    path = write_cabin(tmp_path, site.broker.port, relay=False, extra=f'\n[page]\nlisten = "127.0.0.1:{free_port()}"\n')
    path.write_text(path.read_text().replace('id = "tarn-hut"', 'id = "bare-hut"'))
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed, 30.0)
    assert 'dygraphs is missing; install the extra "page"' in caplog.text


def lines(answer: HTTPResponse) -> Iterator[tuple[str, Any]]:
    """Events of a stream as they come: name and document."""
    name = ""
    for raw in answer:
        text = raw.decode().rstrip("\n")
        if text.startswith("event: "):
            name = text.removeprefix("event: ")
        elif text.startswith("data: "):
            yield name, json.loads(text.removeprefix("data: "))


def test_a_single_bank_goes_straight_in(site: Site) -> None:
    assert b'<body class="watch">' in site.get("/").body
    assert site.get("/").body == site.get("/?bank=north").body


def test_the_small_curves_are_volts_per_cell_in_half_hours(site: Site) -> None:
    told = site.get("/api/sparks").json
    points = told["banks"]["north"]
    # 24.0, 26.4 and 27.0 V over twelve cells within one half hour are 2.15 V in the mean.
    assert [volts for at, volts in points if at == NOON - 7200.0] == [2.15]
    assert told["until"] - told["since"] == 2 * 86_400.0


def test_a_module_is_served_under_any_number_of_addresses(site: Site) -> None:
    again = site.get("/static/again/3/common.js")
    assert again.status == 200 and again.body == site.get("/static/common.js").body
    assert site.get("/static/again/x/common.js").status == 404


def test_the_only_script_inside_a_page_is_the_one_whose_hash_the_policy_names(site: Site) -> None:
    for path in ("/", "/bench"):
        answer = site.get(path)
        inside = re.findall(rb"<script>(.*?)</script>", answer.body, re.DOTALL)
        assert len(inside) == 1
        named = base64.b64encode(hashlib.sha256(inside[0]).digest()).decode()  # as CSP level 3 defines a hash source
        assert f"'sha256-{named}'" in answer.headers["content-security-policy"]


def test_the_stream_delivers_what_the_bus_brought(site: Site) -> None:
    connection = HTTPConnection("127.0.0.1", site.port, timeout=60.0)
    connection.request("GET", "/api/news")
    answer = connection.getresponse()
    assert answer.status == 200
    assert answer.getheader("content-type") == "text/event-stream; charset=utf-8"
    assert answer.getheader("cache-control") == "no-store"
    events = lines(answer)
    seen: set[str] = set()
    while seen < {"hand", "pulse"}:
        name, document = next(events)
        seen.add(name)
        if name == "pulse":
            assert document["connected"] is True
    for _ in range(2):
        site.broker.publish("cabin/shunt", shunt(time.time(), 28.8, 4.0), "-q", "1")
    for name, document in events:
        if name == "bank" and document["volts_per_cell"] == pytest.approx(2.4):
            break
    assert document["bank"] == "north" and document["current"] == pytest.approx(4.0)
    assert {"level", "standing", "lock", "flags", "phase"} <= set(document)
    connection.close()


def test_only_so_many_may_watch_at_once_and_who_leaves_makes_room(site: Site) -> None:
    watching = []
    while True:
        connection = HTTPConnection("127.0.0.1", site.port, timeout=30.0)
        connection.request("GET", "/api/news")
        answer = connection.getresponse()
        if answer.status != 200:
            break
        watching.append((connection, answer))
    assert WATCHERS >= 50, "so many pages were measured beside the relay's order"
    assert WATCHERS - 2 <= len(watching) <= WATCHERS, "of tests before this one two may just be leaving"
    assert answer.status == 503
    assert f"{WATCHERS} browsers are watching already" in json.loads(answer.read())["error"]
    connection.close()
    for connection, answer in watching:
        answer.close()
        connection.close()

    def room() -> bool:
        connection = HTTPConnection("127.0.0.1", site.port, timeout=30.0)
        connection.request("GET", "/api/news")
        answer = connection.getresponse()
        status = answer.status
        answer.close()
        connection.close()
        return status == 200

    wait_until(room, 30.0)


def test_a_look_at_the_stream_s_headers_ends_and_the_connection_goes_on(site: Site) -> None:
    connection = HTTPConnection("127.0.0.1", site.port, timeout=30.0)
    for method, path in (("HEAD", "/api/news"), ("GET", "/api/site")):
        connection.request(method, path)
        answer = connection.getresponse()
        assert answer.status == 200
        answer.read()
    connection.close()


def test_each_stretch_of_the_curve_has_its_least_mean_and_greatest_per_cell(site: Site) -> None:
    since = NOON - 7200.0
    drawn = site.get(f"/api/curve/north?since={since:.0f}&until={since + 1200:.0f}").json
    assert drawn["width"] == 2
    # 24.0 and 26.4 V over twelve cells are 2.0 and 2.2 V, their mean 2.1; then 27.0 V alone is 2.25.
    assert drawn["points"] == [
        [since + 1.0, [2.0, 2.1, 2.2], [None] * 3, [None] * 3],
        [since + 3.0, [2.25, 2.25, 2.25], [None] * 3, [None] * 3],
    ]


def test_minutes_give_the_same_and_a_gap_breaks_the_line(site: Site) -> None:
    since = NOON - 36_000.0
    drawn = site.get(f"/api/curve/north?since={since:.0f}&until={NOON:.0f}").json
    assert drawn["width"] == 60
    first, gap, later = drawn["points"][:3]
    # (24.0 + 25.2 + 28.8) / 3 / 12 = 2.1667 V; (3 + 4 + 8) / 3 = 5 A.
    assert first[0] == since + 30.0
    assert first[1] == pytest.approx([2.0, 2.1667, 2.4], abs=1e-4) and first[2] == [3.0, 5.0, 8.0]
    assert gap[1:] == [[None] * 3] * 3
    assert later[1:3] == [[2.3] * 3, [5.0] * 3]
    assert [span["phase"] for span in drawn["phases"]] == ["waking", "bulk"]
    assert [mark["kind"] for mark in drawn["marks"]] == ["trip"]


def test_a_day_at_a_glance_has_its_least_and_greatest_its_phases_and_its_trips(site: Site) -> None:
    days = site.get("/api/days/north?offset=0").json["days"]
    yesterday = next(day for day in days if day["at"] == NOON - 43_200.0)
    # Of 24.0, 25.2, 26.4, 27.0, 27.6 and 28.8 V over twelve cells, and of 3, 4, 5 and 8 A.
    assert (yesterday["voltage_min"], yesterday["voltage_max"]) == (2.0, 2.4)
    assert (yesterday["current_min"], yesterday["current_max"]) == (3.0, 8.0)
    assert (yesterday["temperature_min"], yesterday["trips"]) == (None, 1)
    assert yesterday["phases"] == ["waking", "bulk"]


def test_however_long_the_time_the_curve_stays_short(site: Site) -> None:
    for days in (0.01, 1, 7, 30, 399):
        drawn = site.get(f"/api/curve/north?since={NOON - days * 86400:.0f}&until={NOON:.0f}").json
        assert (drawn["until"] - drawn["since"]) / drawn["width"] <= 600


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("/api/curve/north?since=yesterday", "since is seconds since the epoch"),
        ("/api/curve/north?since=nan", "since is seconds since the epoch"),
        ("/api/curve/north?until=inf", "until is seconds since the epoch"),
        ("/api/curve/north?since=1e18&until=1000000000000001000", "is seconds since the epoch"),
        ("/api/curve/north?since=1795000000&until=1794000000", "until must lie after since"),
        ("/api/curve/north?since=0", "at most 400 days"),
        ("/api/days/north?offset=noon", "offset is in minutes from UTC"),
        ("/api/days/north?offset=1e9", "offset is in minutes from UTC"),
    ],
)
def test_a_question_that_cannot_be_answered_is_answered_in_words(site: Site, path: str, words: str) -> None:
    answer = site.get(path)
    assert answer.status == 422
    assert words in answer.json["error"]


def test_an_unknown_bank_or_place_is_not_found(site: Site) -> None:
    for path in ("/api/curve/south", "/api/days/%3Cb%3E", "/api/nothing", "/nothing", "/static/nothing.js"):
        answer = site.get(path)
        assert answer.status == 404 and answer.json["error"]
    assert site.post("/api/record/south", {"kind": "note"}).status == 404


def test_scripts_and_styles_are_compressed_and_asked_for_again_only_when_they_changed(site: Site) -> None:
    for path in ("/", "/bench", "/static/page.css", "/static/dygraph.js", "/static/palette.css"):
        packed, plain = site.get(path, accept_encoding="gzip, br"), site.get(path)
        assert packed.headers["content-encoding"] == "gzip" and "content-encoding" not in plain.headers
        assert gzip.decompress(packed.body) == plain.body and len(packed.body) < len(plain.body)
        for answer in (packed, plain):
            assert answer.headers["cache-control"] == "no-cache"
            assert answer.headers["vary"] == "accept-encoding"
        again = site.get(path, if_none_match=plain.headers["etag"])
        assert (again.status, again.body) == (304, b"")
        assert site.get(path, if_none_match='"another"').status == 200


def test_the_whole_page_is_smaller_than_400_kilobytes(site: Site) -> None:
    page = site.get("/").body + site.get("/bench").body
    names = {word.split('"')[0] for word in page.decode().split("/static/")[1:]}
    assert "dygraph.js" in names
    whole = len(page) + sum(len(site.get(f"/static/{name}").body) for name in names)
    assert whole < 400_000


def test_the_page_refers_to_nothing_outside_itself(site: Site) -> None:
    for path in ("/", "/bench"):
        text = site.get(path).body.decode()
        for attribute in ('src="', 'href="'):
            for reference in (part.split('"')[0] for part in text.split(attribute)[1:]):
                assert reference.startswith(("/", "#")) and not reference.startswith("//")
