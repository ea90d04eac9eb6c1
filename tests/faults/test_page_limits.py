"""A page that is pestered: connections that say nothing, slow senders, a thousand streams, guesses at the token."""

from __future__ import annotations

import contextlib
import errno
import json
import logging
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import bridge.page.limits
from bridge.config import load
from bridge.errors import ConfigError
from bridge.page.limits import ACCEPTED_AT_ONCE, CONNECTIONS, GUESSES, OF_ONE, Doors, Guesses
from bridge.page.server import WATCHERS
from tests.support.brokers import free_port, wait_until
from tests.support.cabin import write_cabin
from tests.support.page_site import Site, open_site

STREAM = b"GET /api/news HTTP/1.1\r\nhost: 127.0.0.1\r\n\r\n"


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Site]:
    """With short patience, so that nobody has to wait long for it to end."""
    monkeypatch.setattr(bridge.page.limits, "SEND_WITHIN", 1.0)
    with open_site(tmp_path) as opened:
        yield opened


def connect(port: int, count: int, say: bytes = b"") -> list[socket.socket]:
    """So many connections, each from the next of eight loopback addresses; nobody waits for one that is not taken."""
    made = []
    for number in range(count):
        one = socket.socket()
        one.setblocking(False)
        one.bind((f"127.0.0.{2 + number % 8}", 0))
        one.connect_ex(("127.0.0.1", port))
        made.append(one)
    silent, until = made if say else [], time.monotonic() + 3.0
    while silent and time.monotonic() < until:
        silent = [one for one in silent if not _said(one, say)]
        time.sleep(0.01)
    return made


def _said(one: socket.socket, say: bytes) -> bool:
    """Whether it was said, or never will be; a connection that is not taken yet may still be."""
    try:
        one.send(say)
    except BlockingIOError:
        return False
    except OSError as error:
        return error.errno != errno.ENOTCONN
    return True


def descriptors() -> int:
    """How many this process has open."""
    return len(list(Path("/proc/self/fd").iterdir()))


def test_f71_connections_that_say_nothing_are_shed_and_cost_few_descriptors(site: Site) -> None:
    ours = descriptors()
    idle = connect(site.port, 1100)
    most = descriptors() - ours - len(idle)
    assert most <= CONNECTIONS + ACCEPTED_AT_ONCE + 10, "the rest is left to the broker and the journal"
    site.broker.publish("cabin/probe", "84.2", "-q", "1")
    wait_until(lambda: "electrolyte_temperature" in site.service.engine.memories["north"].meters, 20, "the bus goes on")
    wait_until(
        lambda: descriptors() - ours - len(idle) <= 10, 20, "each was closed when it had said nothing for a while"
    )
    for one in idle:
        one.close()
    assert site.get("/api/site").status == 200


def test_f71_who_sends_a_request_drop_by_drop_is_let_go(site: Site) -> None:
    heads = connect(site.port, 10, b"GET / HTTP/1.1\r\nhost: 127.0.0.1\r\nx")
    bodies = connect(
        site.port,
        10,
        b"POST /api/token HTTP/1.1\r\nhost: 127.0.0.1\r\ncontent-type: application/json\r\ncontent-length: 9\r\n\r\n{",
    )
    ended = threading.Event()

    def drip() -> None:
        while not ended.wait(0.2):
            for one in heads + bodies:
                with contextlib.suppress(OSError):
                    one.sendall(b"x")

    threading.Thread(target=drip, daemon=True).start()
    try:
        for one in heads + bodies:
            with contextlib.suppress(ConnectionError):
                one.settimeout(20.0)
                while one.recv(4096):
                    pass
    finally:
        ended.set()
        for one in heads + bodies:
            one.close()
    assert site.get("/api/site").status == 200


def test_f71_of_a_thousand_streams_a_few_are_served_and_the_page_still_answers(site: Site) -> None:
    streams = connect(site.port, 1000, STREAM)
    served = 0
    time.sleep(1.0)
    for one in streams:
        with contextlib.suppress(OSError):
            served += one.recv(12) == b"HTTP/1.1 200"
    assert 0 < served <= WATCHERS
    for one in streams:
        one.close()
    wait_until(lambda: _answers(site), 20)


def _answers(site: Site) -> bool:
    with contextlib.suppress(OSError):
        return site.get("/api/site").status == 200
    return False


def test_f71_one_address_leaves_room_for_others_and_one_line_tells_the_edge(caplog: pytest.LogCaptureFixture) -> None:
    doors = Doors()
    assert sum(doors.enter("192.0.2.1") for _ in range(1100)) == OF_ONE
    assert doors.enter("192.0.2.2")
    assert [record.levelname for record in caplog.records] == ["WARNING"]
    caplog.set_level(logging.INFO)
    for _ in range(OF_ONE):
        doors.leave("192.0.2.1")
    assert "room again; 1036 connections were turned away" in caplog.text
    assert list(doors.standing) == ["192.0.2.2"]


def test_f71_descriptors_are_kept_back_for_the_bus(monkeypatch: pytest.MonkeyPatch) -> None:
    for allowed, most in ((1024, CONNECTIONS), (256, 24), (64, 8), (-1, CONNECTIONS)):
        monkeypatch.setattr("resource.getrlimit", lambda _which, allowed=allowed: (allowed, allowed))
        assert Doors().most == most


def test_f84_who_guesses_the_token_is_slowed_down_and_locked_out_with_one_line(
    site: Site, caplog: pytest.LogCaptureFixture
) -> None:
    codes: list[int] = []

    def guess(number: int) -> None:
        with contextlib.suppress(OSError):
            codes.append(site.post("/api/token", {}, token=f"guess-{number}").status)

    began = time.monotonic()
    threads = [threading.Thread(target=guess, args=(number,)) for number in range(60)]
    for thread in threads:
        thread.start()
        time.sleep(0.01)
    for thread in threads:
        thread.join(30.0)
    assert time.monotonic() - began >= 0.5
    assert set(codes) == {401, 429} and codes.count(401) < 60
    while site.post("/api/token", {}, token="once more").status != 429:
        pass
    refused = site.post("/api/token", {})
    assert refused.status == 429, "the right one as well, or a guess that is right would be seen"
    assert 0 < int(refused.headers["retry-after"]) <= 60
    assert site.get("/api/site").status == 200, "looking needs no token"
    assert [record.getMessage() for record in caplog.records if "wrong tokens" in record.getMessage()] == [
        f"page: {GUESSES} wrong tokens from 127.0.0.1: nothing is taken from there for 60 s"
    ]


def test_f84_each_lock_is_twice_as_long_up_to_an_hour_and_another_address_is_not_locked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    now = [1000.0]
    monkeypatch.setattr("bridge.clock.monotonic", lambda: now[0])
    guesses, locks = Guesses(), []
    for _ in range(8):
        for _ in range(GUESSES):
            assert guesses.locked_for("2001:db8::7") == 0.0
            guesses.wrong("2001:db8::7")
        locks.append(guesses.locked_for("2001:db8::99"))  # the same network, another address
        assert guesses.locked_for("192.0.2.1") == 0.0
        now[0] += locks[-1]
    assert locks == [60.0, 120.0, 240.0, 480.0, 960.0, 1920.0, 3600.0, 3600.0]
    for number in range(3000):
        guesses.wrong(f"192.0.{number // 250}.{number % 250}")
    assert len(guesses._tries) <= bridge.page.limits.ADDRESSES


@pytest.mark.parametrize(
    "token", ["short", "fifteen-letters", "aaaaaaaaaaaaaaaaaaaaaaaa", "sixteen letters ab", "ünicode-is-not-typed"]
)
def test_f84_a_token_that_can_be_guessed_is_refused_and_not_shown(token: str, tmp_path: Path) -> None:
    path = write_cabin(tmp_path, 1883, extra='\n[page]\ntoken_file = "token"\n')
    (tmp_path / "token").write_text(token)
    with pytest.raises(ConfigError, match="can be guessed") as refused:
        load(path)
    assert token not in str(refused.value)


@pytest.mark.parametrize("by", ["keeper\nWARNING revival: all is well", "kee\rper", "\x1b[2Jkeeper", "k" * 501])
def test_f84_a_name_with_a_line_break_is_refused(by: str, site: Site, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    asked: list[Callable[[], tuple[int, str]]] = [
        lambda: _told(site, "/api/act/north", {"name": "checklist", "by": by}),
        lambda: _told(site, "/api/act/north", {"name": "checklist", "argument": {"name": by}}),
        lambda: _told(site, "/api/record/north", {"kind": "note", "note": "all is well", "by": by}),
    ]
    for ask in asked:
        status, why = ask()
        assert status == 422 and ("line" in why or "characters" in why), why
    _told(site, "/api/record/north", {"kind": "note", "note": "two\nlines"})
    assert all("\n" not in record.getMessage() for record in caplog.records)


def _told(site: Site, path: str, body: dict[str, object]) -> tuple[int, str]:
    answer = site.post(path, body)
    return answer.status, json.dumps(answer.json)


RELAY = 'topic = "cabin/charger/set"'
STATE = 'state_topic = "cabin/charger/state"'


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (RELAY, 'topic = "homie/5/tarn-hut-north/safety/reset/set"', "one of the bridge's own topics"),
        (RELAY, 'topic = "homie/5/tarn-hut/$state"', "one of the bridge's own topics"),
        (RELAY, 'topic = "revival/revival-tarn-hut/heartbeat"', "one of the bridge's own topics"),
        (RELAY, 'topic = "cabin/probe"', "is the bridge's own: name the meter's topic"),
        (RELAY, 'topic = "cabin/probe"', "its readings would reach the relay as orders"),
        (STATE, 'state_topic = "cabin/probe"', "is a meter's"),
        (STATE, 'state_topic = "cabin/shunt"', "is a meter's"),
        (STATE, 'state_topic = "cabin/shunt"\nstate_pointer = "/dc/mv"', "is a meter's"),
        (STATE, 'state_topic = "homie/5/tarn-hut-north/safety/relay"', "one of the bridge's own topics"),
        (STATE, 'state_topic = "cabin/charger/set"', "is the command topic"),
        (
            'auto_off = "90 s"\n',
            'auto_off = "90 s"\n[bank.load_relay]\ntopic = "cabin/probe"\n',
            '[bank.load_relay]: topic "cabin/probe" is a meter\'s',
        ),
    ],
)
def test_f85_a_relay_on_somebody_elses_topic_is_refused(old: str, new: str, words: str, tmp_path: Path) -> None:
    path = write_cabin(tmp_path, free_port())
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new))
    with pytest.raises(ConfigError) as refused:
        load(path)
    assert words in str(refused.value)


def test_f85_one_document_may_carry_state_and_readings_at_different_places(tmp_path: Path) -> None:
    path = write_cabin(tmp_path, free_port())
    path.write_text(path.read_text().replace(STATE, 'state_topic = "cabin/shunt"\nstate_pointer = "/relay"'))
    assert load(path).cabin.relays[0].state_topic == "cabin/shunt"
