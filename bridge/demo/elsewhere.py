"""The demo on somebody's own broker: below a topic of its own, with ids of its own, and only where no relay listens."""

from __future__ import annotations

import secrets
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from paho.mqtt.client import Client, MQTTv5
from paho.mqtt.enums import CallbackAPIVersion
from pydantic import SecretStr

from bridge.config import Loaded
from bridge.errors import CannotReachError, UnsafeStateError
from bridge.rehearsal.scratch import scratch
from bridge.settings import RelaySettings

#: A broker has so long to answer a message [s].
ANSWERS_WITHIN = 10.0
#: MQTT 5, section 3.4.2.1: the message was accepted and nobody is subscribed to its topic.
NO_MATCHING_SUBSCRIBERS = 0x10


class Login(NamedTuple):
    """User and password at a broker; None = none asked for."""

    username: str | None
    password: str | None


NOBODY = Login(None, None)


def own_id(what: str) -> str:
    """Return a client id that no other client of a broker has."""
    return f"revival-demo-{what}-{secrets.token_hex(4)}"


def elsewhere(loaded: Loaded, prefix: str, folder: Path, login: Login) -> Loaded:
    """Return the demo's cabin with every topic below this prefix and client ids that no other bridge has."""
    moved = scratch(loaded, "north", prefix, folder, None)
    broker = replace(
        moved.cabin.broker,
        client_prefix=prefix,
        username=login.username,
        password=None if login.password is None else SecretStr(login.password),
    )
    return replace(moved, cabin=replace(moved.cabin, broker=broker, page=loaded.cabin.page))


def refuse_if_heard(host: str, port: int, relay: RelaySettings, login: Login) -> None:
    """Send one cut on the demo's relay topic before anything of ours listens there.

    Raises
    ------
    UnsafeStateError
        Somebody hears it: a client that is subscribed to everything, and that may be a relay or pass orders on.
    CannotReachError
        The broker does not let us in, or does not answer.
    """
    answered, reasons = threading.Event(), list[Any]()
    client = Client(CallbackAPIVersion.VERSION2, client_id=own_id("asker"), protocol=MQTTv5)
    if login.username is not None:
        client.username_pw_set(login.username, login.password)

    def connected(client: Client, userdata: Any, flags: Any, reason: Any, properties: Any) -> None:
        if reason.is_failure:
            reasons.append(reason)
            answered.set()
        else:
            client.publish(relay.topic, relay.cut, qos=1)

    def told(client: Client, userdata: Any, message: int, reason: Any, properties: Any) -> None:
        reasons.append(reason)
        answered.set()

    client.on_connect, client.on_publish = connected, told
    try:
        client.connect(host, port)
    except OSError as error:
        raise CannotReachError(f"--broker {host}:{port}: {error}") from None
    client.loop_start()
    try:
        if not answered.wait(ANSWERS_WITHIN):
            raise CannotReachError(f"--broker {host}:{port}: no answer within {ANSWERS_WITHIN:g} s")
    finally:
        client.disconnect()
        client.loop_stop()
    reason = reasons[0]
    if reason.is_failure:
        raise CannotReachError(f"--broker {host}:{port}: refused: {reason}; see --username and --password-file")
    if reason.value != NO_MATCHING_SUBSCRIBERS:
        raise UnsafeStateError(
            f"--broker {host}:{port}: somebody there hears every topic, and might be a relay or pass orders on to one: "
            "leave --broker out (the demo brings its own), or use a broker without such a client"
        )
