"""The page's server as an HTTP client sees it: a real bridge on a real broker, and no browser."""

from __future__ import annotations

import gzip
import json
import logging
import time
from collections.abc import Iterator
from http.client import HTTPConnection, HTTPResponse
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from cabin import shunt, write_cabin
from servers import Broker, free_port, wait_until
from turning import turning

from bridge.config import load
from bridge.journal.batch import Batch
from bridge.journal.reader import JournalReader
from bridge.journal.writer import Journal
from bridge.outlets.record import LONGEST
from bridge.service import Service
from rules.reading import Event, Reading

TOKEN, PASSWORD = "a-token-for-tests-only", "a-password-for-tests-only"
#: Noon UTC of yesterday: what the journal holds lies before it.
NOON = time.time() // 86400.0 * 86400.0 - 43_200.0
HOSTILE = "<img src=x onerror=alert(1)>"
READ = ("/", "/bench", "/api/site", "/api/days/north", "/api/curve/north", "/static/page.css", "/static/dygraph.js")
WRITE = ("/api/record/north", "/api/act/north", "/api/token")


class Answer(NamedTuple):
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        """The body as JSON."""
        return json.loads(self.body)


class Site(NamedTuple):
    """A bridge with its page, and what it was started on."""

    port: int
    broker: Broker
    service: Service
    config: Path

    def ask(self, method: str, path: str, body: object = None, **headers: str) -> Answer:
        """One request on a connection of its own; `headers` with underscores; a dict goes as JSON."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=30.0)
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        if body is not None and not isinstance(body, bytes):
            body = json.dumps(body).encode()
        if method == "POST":
            sent.setdefault("content-type", "application/json")
        try:
            connection.request(method, path, body, sent)
            answer = connection.getresponse()
            told = {name.lower(): value for name, value in answer.getheaders()}
            return Answer(answer.status, told, answer.read())
        finally:
            connection.close()

    def get(self, path: str, **headers: str) -> Answer:
        """Look."""
        return self.ask("GET", path, **headers)

    def post(self, path: str, body: object, token: str = TOKEN, **headers: str) -> Answer:
        """Change something, with the right token."""
        return self.ask("POST", path, body, authorization=f"Bearer {token}", **headers)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A cabin that is only watched, with a page and a few readings of long ago in its journal."""
    folder = tmp_path_factory.mktemp("site")
    broker = Broker(folder / "broker").start()
    port = free_port()
    (folder / "token").write_text(TOKEN)
    (folder / "password").write_text(PASSWORD)
    page = f'\n[page]\nlisten = "127.0.0.1:{port}"\ntoken_file = "token"\n'
    path = write_cabin(folder, broker.port, relay=False, extra=page)
    login = f'port = {broker.port}\nusername = "bridge"\npassword_file = "password"\n'
    path.write_text(path.read_text().replace(f"port = {broker.port}\n", login))
    write_readings(path)
    try:
        with turning(path) as service:
            wait_until(lambda: service.bus.subscribed, 30.0)
            yield Site(port, broker, service, path)
    finally:
        broker.stop()


def write_readings(path: Path) -> None:
    """Twelve cells: two seconds at 24.0 and 26.4 V; one minute at 24.0, 25.2 and 28.8 V with 3, 4 and 8 A; a gap."""
    batch = Batch()
    for after, volts in ((0.0, 24.0), (1.0, 26.4), (2.0, 27.0)):
        at = NOON - 7200.0 + after
        batch.readings.append(Reading("north", "voltage", volts, at, at))
    for after, volts, amps in ((5.0, 24.0, 3.0), (20.0, 25.2, 4.0), (50.0, 28.8, 8.0), (600.0, 27.6, 5.0)):
        at = NOON - 36_000.0 + after
        batch.readings.append(Reading("north", "voltage", volts, at, at))
        batch.readings.append(Reading("north", "current", amps, at, at))
    for at, phase in ((NOON - 36_000.0, "waking"), (NOON - 18_000.0, "bulk")):
        batch.events.append(Event("north", "phase", at, {"phase": phase, "before": "idle", "interrupted": False}))
    batch.events.append(Event("north", "trip", NOON - 20_000.0, {"hazard": "over-temperature", "reason": HOSTILE}))
    cabin = load(path).cabin
    journal = Journal.open(cabin.journal, {"north": cabin.banks["north"].meters})
    journal.submit(batch)
    journal.close(30.0)


def test_everything_that_changes_something_needs_the_token(site: Site) -> None:
    for path in WRITE:
        for headers in ({}, {"authorization": "Bearer guessed"}, {"authorization": "Bearer "}, {"cookie": TOKEN}):
            answer = site.ask("POST", path, {"kind": "note", "name": "start"}, **headers)
            assert answer.status == 401, path
            assert answer.json == {"error": "the token is missing or wrong"}
    assert site.post(f"/api/token?token={TOKEN}", {}, token="guessed").status == 401
    assert site.post("/api/token", {}).json == {"ok": True}


def test_without_a_configured_token_nobody_can_change_anything(tmp_path: Path, site: Site) -> None:
    port = free_port()
    path = write_cabin(tmp_path, site.broker.port, relay=False, extra=f'\n[page]\nlisten = "127.0.0.1:{port}"\n')
    path.write_text(path.read_text().replace('id = "tarn-hut"', 'id = "other-hut"'))
    with turning(path) as service:
        only_shown = Site(port, site.broker, service, path)
        assert only_shown.get("/api/site").json["writable"] is False
        for way in WRITE:
            answer = only_shown.post(way, {}, token="None")
            assert answer.status == 403
            assert "no token is configured" in answer.json["error"]


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


def test_a_port_in_use_is_told_and_the_bridge_watches_without_a_page(
    tmp_path: Path, site: Site, caplog: pytest.LogCaptureFixture
) -> None:
    path = write_cabin(tmp_path, site.broker.port, relay=False, extra=f'\n[page]\nlisten = "127.0.0.1:{site.port}"\n')
    path.write_text(path.read_text().replace('id = "tarn-hut"', 'id = "third-hut"'))
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed, 30.0)
    assert f"cannot listen on 127.0.0.1:{site.port}" in caplog.text


def lines(answer: HTTPResponse) -> Iterator[tuple[str, Any]]:
    """Events of a stream as they come: name and document."""
    name = ""
    for raw in answer:
        text = raw.decode().rstrip("\n")
        if text.startswith("event: "):
            name = text.removeprefix("event: ")
        elif text.startswith("data: "):
            yield name, json.loads(text.removeprefix("data: "))


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


def test_a_look_at_the_stream_s_headers_ends(site: Site) -> None:
    answer = site.ask("HEAD", "/api/news")
    assert (answer.status, answer.body) == (200, b"")


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


@pytest.mark.parametrize(
    "path",
    [
        "/static/../server.py",
        "/static/..%2fserver.py",
        "/static/%2e%2e/%2e%2e/settings.py",
        "/static/..%5cserver.py",
        "/static//etc/passwd",
        "/static/%2fetc%2fpasswd",
        "/static/page.css%00.js",
        "/static/watch.html",
        "/../token",
    ],
)
def test_no_path_leads_out_of_the_page_s_own_files(site: Site, path: str) -> None:
    answer = site.get(path)
    assert answer.status == 404
    assert b"root:" not in answer.body and b"import" not in answer.body


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


def test_every_answer_tells_the_browser_to_keep_to_this_site(site: Site) -> None:
    answers = [site.get(path) for path in READ]
    answers += [site.get("/nothing"), site.ask("POST", "/api/token", {}), site.get("/", host="evil.example")]
    for answer in answers:
        policy = answer.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'") and "unsafe" not in policy and "http" not in policy
        assert "frame-ancestors 'none'" in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert "access-control-allow-origin" not in answer.headers
        assert "server" not in answer.headers
    assert site.get("/api/site").headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8170", "127.0.0.1.evil.example", "localhost.evil.example", ""]
)
def test_a_name_from_outside_that_points_here_is_refused(site: Site, host: str) -> None:
    for path in ("/", "/api/site", "/api/news"):
        answer = site.get(path, host=host)
        assert answer.status == 421
        assert "not of this house" in answer.json["error"]
    assert site.post("/api/token", {}, host=host).status == 421


@pytest.mark.parametrize(
    "host",
    ["127.0.0.1", "localhost:9000", "192.0.2.7:8170", "[::1]:8170", "[fe80::1]", "cabin", "Cabin.local.", "hut.lan"],
)
def test_addresses_and_names_of_the_house_are_answered(site: Site, host: str) -> None:
    assert site.get("/api/site", host=host).status == 200


def test_a_request_that_another_site_made_a_browser_send_is_refused(site: Site) -> None:
    own = f"http://127.0.0.1:{site.port}"
    for origin in ("http://evil.example", "null", "http://127.0.0.1:1", f"{own}.evil.example"):
        answer = site.post("/api/token", {}, origin=origin)
        assert (answer.status, answer.json) == (403, {"error": "sent by another site"})
    assert site.post("/api/token", {}, origin=own).status == 200
    for fetched in ("cross-site", "same-site"):
        assert site.post("/api/token", {}, sec_fetch_site=fetched).status == 403
        assert site.get("/api/news", sec_fetch_site=fetched).status == 403
    assert site.get("/", sec_fetch_site="cross-site").status == 200, "a link from elsewhere may open the page"
    assert site.ask("OPTIONS", "/api/act/north", origin="http://evil.example").status == 403


def test_a_form_s_content_type_is_refused(site: Site) -> None:
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "application/jsonp"):
        assert site.post("/api/token", {}, content_type=kind).status == 415
    assert site.post("/api/token", {}, content_type="application/json; charset=utf-8").status == 200


def test_each_place_has_its_method(site: Site) -> None:
    for path in WRITE:
        for method in ("GET", "PUT", "DELETE"):
            answer = site.ask(method, path, authorization=f"Bearer {TOKEN}")
            assert answer.status == 405 and "POST" in answer.headers["allow"]
    for path in READ:
        assert site.post(path, {}).status == 405


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "not JSON"),
        (b"{", "not JSON"),
        (b"\xff\xfe", "not UTF-8"),
        (b"[1]", "a JSON object"),
        (b'{"kind": "gravity", "values": {"N1.1": "1.9"}}', "no gravity between"),
        (b'{"kind": "gravity", "values": {"N9.1": "1.25"}}', "N9.1"),
        (b'{"kind": "magic"}', "is none of"),
        (b'{"kind": "note", "colour": "red"}', "unknown key 'colour'"),
        (b'{"kind": "note", "taken_at": 99999999999}', "future"),
        (b"[" * 5000, "nested too deep"),
    ],
)
def test_a_record_that_cannot_be_is_refused_in_words(site: Site, body: bytes, words: str) -> None:
    answer = site.post("/api/record/north", body)
    assert answer.status in (409, 422)
    assert words in (answer.json.get("error") or "; ".join(answer.json["refused"]))


def test_a_body_that_is_too_long_is_not_read_to_its_end(site: Site) -> None:
    answer = site.post("/api/record/north", b" " * (LONGEST + 1))
    assert answer.status == 413
    assert str(LONGEST) in answer.json["error"]


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b"7",
        b'{"name": "bypass"}',
        b'{"name": "verdict"}',
        b'{"name": ["start"]}',
        b'{"name": "start", "by": 7}',
        b'{"name": "start", "argument": []}',
        b'{"name": "start", "by": "' + b"x" * 81 + b'"}',
        b"[" * 5000,
    ],
)
def test_an_act_that_is_none_is_refused_in_words(site: Site, body: bytes) -> None:
    answer = site.post("/api/act/north", body)
    assert answer.status == 422
    assert answer.json["error"].startswith("not understood")


def test_what_the_rules_refuse_comes_back_with_the_reason(site: Site) -> None:
    answer = site.post("/api/act/north", {"name": "test", "by": "keeper"})
    assert answer.status == 409
    assert "not while" in answer.json["refused"][0]


def test_a_hand_reading_sent_again_with_its_key_counts_once(site: Site) -> None:
    body = {"kind": "gravity", "values": {"N1.1": "1265"}, "temperature": 26.7, "by": HOSTILE, "key": "walk-1"}
    for _ in range(2):
        answer = site.post("/api/record/north", body)
        while answer.status == 202:  # the disk was slow: the browser, too, sends it again
            answer = site.post("/api/record/north", body)
        assert answer.status == 200 and answer.json["stored"] is True
    with JournalReader(load(site.config).cabin.journal.path) as journal:
        kept = [event.detail for event in journal.events("north", 0.0, 1e11, ["hand"])]
    assert [(entry["values"], entry["by"]) for entry in kept] == [({"N1.1": 1.265}, HOSTILE)]


def test_no_answer_holds_a_secret(site: Site) -> None:
    answers = [site.get(path) for path in READ]
    answers += [site.post(path, {"kind": "note", "by": "x"}) for path in WRITE]
    answers += [site.post(path, b"{", token="guessed") for path in WRITE]
    answers += [site.get("/nothing"), site.get("/api/curve/north?since=x"), site.get("/", host="evil.example")]
    for answer in answers:
        told = answer.body + json.dumps(answer.headers).encode()
        assert TOKEN.encode() not in told and PASSWORD.encode() not in told
        assert str(site.config.parent).encode() not in told
