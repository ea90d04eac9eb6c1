"""The demo on somebody's own broker: below a topic of its own, refused where it would be heard, with a login."""

from __future__ import annotations

import secrets
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from bridge.cli import main
from bridge.config import load
from bridge.demo.elsewhere import NOBODY, Login, elsewhere, refuse_if_heard
from bridge.errors import CannotReachError, UnsafeStateError
from tests.support.brokers import Broker, free_port, password_file, wait_until

PREFIX = f"revival-demo-{secrets.token_hex(8)}"


@pytest.fixture
def moved(tmp_path: Path) -> Any:
    path = tmp_path / "cabin.toml"
    path.write_bytes(files("bridge.demo").joinpath("cabin.toml").read_bytes())
    return elsewhere(load(path), PREFIX, tmp_path, Login("keeper", "secret"))


def test_no_topic_of_the_demo_is_one_that_a_cabin_file_could_name(moved: Any) -> None:
    relay = moved.cabin.relays[0]
    topics = [relay.topic, relay.state_topic, moved.cabin.root, *(one.topic for one in moved.routes.mappings)]
    assert len(topics) >= 7 and all(topic.startswith(f"{PREFIX}/") for topic in topics)
    assert moved.cabin.broker.client_prefix == PREFIX
    assert moved.cabin.broker.username == "keeper" and moved.cabin.discovery_prefix is None


def test_a_broker_where_somebody_hears_every_topic_is_refused(moved: Any, tmp_path: Path) -> None:
    broker = Broker(tmp_path / "broker").start()
    try:
        refuse_if_heard(broker.host, broker.port, moved.cabin.relays[0], NOBODY)
        heard: list[str] = []
        listener = Client(CallbackAPIVersion.VERSION2)
        listener.on_message = lambda _client, _data, message: heard.append(message.payload.decode())
        subscribed: list[int] = []
        listener.on_subscribe = lambda *_: subscribed.append(1)
        listener.connect(broker.host, broker.port)
        listener.subscribe("#", 1)
        listener.loop_start()
        wait_until(lambda: subscribed)
        with pytest.raises(UnsafeStateError, match="hears every topic"):
            refuse_if_heard(broker.host, broker.port, moved.cabin.relays[0], NOBODY)
        wait_until(lambda: heard)
        assert heard == ["OFF"], "what was tried with was a cut"
        listener.disconnect()
        listener.loop_stop()
    finally:
        broker.stop()


def test_a_broker_that_asks_for_a_login_gets_one_or_says_so(moved: Any, tmp_path: Path) -> None:
    lines = [f"password_file {password_file(tmp_path / 'users', keeper='secret')}"]
    broker = Broker(tmp_path / "broker", lines, anonymous=False).start()
    try:
        relay = moved.cabin.relays[0]
        refuse_if_heard(broker.host, broker.port, relay, Login("keeper", "secret"))
        with pytest.raises(CannotReachError, match="--username and --password-file"):
            refuse_if_heard(broker.host, broker.port, relay, NOBODY)
    finally:
        broker.stop()


def test_ordinary_mistakes_of_the_demo_end_in_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--username", "keeper"]) == 2
    assert main(["demo", "--broker", f"127.0.0.1:{free_port()}"]) == 4
    missing = tmp_path / "no-such-file"
    assert main(["demo", "--broker", "127.0.0.1:1", "--password-file", str(missing)]) == 2
    said = capsys.readouterr().err
    assert "belong to --broker" in said and "--broker 127.0.0.1" in said and "no-such-file" in said
    assert "Traceback" not in said
