"""Whom the page's server turns away: no token, other sites, names from outside, bodies that are none."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.config import load
from bridge.intake.hand_record import LONGEST
from bridge.journal.reader import JournalReader
from tests.support.brokers import free_port
from tests.support.cabin import write_cabin
from tests.support.page_site import HOSTILE, PASSWORD, READ, TOKEN, WRITE, Site, open_site
from tests.support.running_bridge import turning


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """One for all tests of this file."""
    with open_site(tmp_path_factory.mktemp("site")) as opened:
        yield opened


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
    assert site.post("/api/token", {}, content_type="Application/JSON; charset=utf-8").status == 200


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


def test_a_finish_long_before_the_hold_is_complete_is_asked_back_and_taken_when_it_is_meant(site: Site) -> None:
    for act in ({"name": "checklist", "argument": {"name": "keeper"}}, {"name": "start"}):
        assert site.post("/api/act/north", act).status == 200
    answer = site.post("/api/act/north", {"name": "finish", "by": "keeper"})
    assert answer.status == 409
    assert "the hold is not complete: held 0.0 of at least" in answer.json["unsure"]
    assert site.post("/api/act/north", {"name": "finish", "argument": {"sure": "true"}}).status == 409
    assert site.post("/api/act/north", {"name": "finish", "argument": {"sure": True}}).status == 200


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
