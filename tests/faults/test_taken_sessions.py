"""Somebody else on the broker tries to be the bridge: its identifiers are secret, and a takeover is said."""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from paho.mqtt.client import Client, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion
from pydantic import SecretStr

import bridge.mqtt.session
import bridge.runtime.service
from bridge.journal.reader import JournalReader
from bridge.mqtt.client import secret_id
from bridge.runtime.service import Service
from bridge.settings import BrokerSettings
from tests.conftest import MakeBroker
from tests.support.brokers import Broker, password_file, wait_until
from tests.support.cabin import write_cabin
from tests.support.running_bridge import turning

SECRET = "the-bridge's-own-password"


class House(NamedTuple):
    """A broker with accounts, and the bridge on it."""

    broker: Broker
    service: Service

    def id_of(self, session: str) -> str:
        """What the bridge is called on the broker; nobody else can know it."""
        return secret_id(self.service.bus.settings, f"revival-tarn-hut-{session}")

    def imitate(self, identifier: str) -> Client:
        """Another account connects under this identifier."""
        client = Client(CallbackAPIVersion.VERSION2, client_id=identifier, protocol=MQTTv5, reconnect_on_failure=False)
        client.username_pw_set("shunt", "another")
        client.connect("127.0.0.1", self.broker.port, clean_start=True)
        client.loop_start()
        wait_until(client.is_connected, 10)
        return client


@pytest.fixture
def house(make_broker: MakeBroker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[House]:
    monkeypatch.setattr(bridge.runtime.service, "HEALTH_EVERY", 0.2)
    for wait in ("FIRST_WAIT", "SUSPECT_WAIT", "REFUSED_WAIT", "LONGEST_WAIT"):
        monkeypatch.setattr(bridge.mqtt.session, wait, 0.5)
    accounts = password_file(tmp_path / "accounts", bridge=SECRET, shunt="another")
    broker = make_broker([f"password_file {accounts}"], anonymous=False)
    path = write_cabin(tmp_path, broker.port)
    (tmp_path / "password").write_text(SECRET)
    login = f'port = {broker.port}\nusername = "bridge"\npassword_file = "password"\n'
    path.write_text(path.read_text().replace(f"port = {broker.port}\n", login))
    with turning(path) as service:
        wait_until(lambda: service.bus.subscribed, 20)
        yield House(broker, service)


def leave(client: Client) -> None:
    client.disconnect()
    client.loop_stop()


def test_f72_who_knows_site_and_prefix_cannot_take_a_session(house: House, caplog: pytest.LogCaptureFixture) -> None:
    bus = house.service.bus
    assert bus.history is not None
    before = bus.live.generation, bus.history.generation
    for session in ("live", "history", "guard-north"):
        leave(house.imitate(f"revival-tarn-hut-{session}"))
    time.sleep(0.5)
    assert (bus.live.generation, bus.history.generation) == before
    assert "taken over" not in caplog.text


def test_f72_a_taken_history_raises_a_flag_and_says_the_lost_range(
    house: House, caplog: pytest.LogCaptureFixture
) -> None:
    began, history = time.time(), house.service.bus.history
    assert history is not None
    before = history.generation
    taker = house.imitate(house.id_of("history"))
    wait_until(lambda: history.generation > before and history.connected, 20)
    leave(taker)
    flags = house.service.latest
    wait_until(lambda: "session-lost" in {flag.name for flag in flags["north"].flags}, 20)
    wait_until(lambda: _events(house.service), 20)
    detail = _events(house.service)[-1]
    assert detail["session"] == "history"
    assert began - 5.0 <= float(str(detail["since"])) <= float(str(detail["until"])) <= time.time() + 5.0
    assert "broker session history, from 20" in caplog.text


def test_f72_a_taken_guard_raises_a_flag(house: House) -> None:
    taken = [house.imitate(house.id_of("guard-north"))]
    flags = house.service.latest
    for _ in range(20):  # a broker that does not say so is believed at the second time
        time.sleep(0.5)
        if "session-lost" in {flag.name for flag in flags["north"].flags}:
            break
        taken.append(house.imitate(house.id_of("guard-north")))
    for client in taken:
        leave(client)
    reasons = [flag.reason for flag in flags["north"].flags if flag.name == "session-lost"]
    assert reasons and "guard of north" in reasons[0]


def _events(service: Service) -> list[dict[str, object]]:
    with JournalReader(service.journal.path) as reader:
        return [dict(event.detail) for event in reader.events("north", 0.0, 1e11, ["session-lost"])]


def test_f72_the_secret_part_is_in_no_log_and_no_status(house: House, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    history = house.service.bus.history
    assert history is not None
    before = history.generation
    history.drop("for the test")
    wait_until(lambda: history.generation > before and history.connected, 20)
    told = caplog.text + json.dumps(house.service.status(), default=str)
    for session in ("live", "history", "guard-north"):
        assert house.id_of(session).rpartition("-")[2] not in told


def test_f72_identifiers_are_the_same_at_every_start_and_another_for_every_account(tmp_path: Path) -> None:
    one, two = BrokerSettings(password=SecretStr("one")), BrokerSettings(password=SecretStr("two"))
    assert secret_id(one, "revival-hut-live") == secret_id(one, "revival-hut-live")
    assert secret_id(one, "revival-hut-live") != secret_id(two, "revival-hut-live")
    ends = {secret_id(one, name).rpartition("-")[2] for name in ("a-live", "a-history", "b-live")}
    assert len(ends) == 3, "one that was seen tells nothing of another"
    key = tmp_path / "client.key"
    key.write_text("a key")
    assert secret_id(BrokerSettings(key_file=key), "a").startswith("a-")
    assert secret_id(BrokerSettings(), "a") == "a"
