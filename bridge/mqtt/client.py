"""A client object for one connection, with everything that has to be said in its CONNECT packet."""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import logging
import socket
import ssl
from typing import Any, NamedTuple

from paho.mqtt.client import Client, MQTTv5, MQTTv311
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from bridge.mqtt.buffered_socket import BufferedClient
from bridge.settings import BrokerSettings

log = logging.getLogger("revival.bus")
LIBRARY_LOG = log.getChild("client")
LIBRARY_LOG.setLevel(logging.INFO)  # below that the library writes identifiers down, and ours are secret

SECRET_DIGITS = 16  #: of 4 bits each: at a guess a millisecond half of them take 290 million years
LARGEST_PACKET = 1_000_000  #: bytes; MQTT 5 brokers never send more, under 3.1.1 the bus drops what is larger


def secret_id(settings: BrokerSettings, name: str) -> str:
    """Return the identifier a session gives the broker: its name, and a part that no other account can know.

    Whoever connects under a session's identifier takes it over, and with it what the broker keeps for it. The secret
    part is made of what this installation's account is proved with (password, or else the key of its certificate), so
    it needs no place of its own, outlives a lost journal, and is the same at every start. Without either, every
    client is the same to the broker anyway. It goes into no log.
    """
    if settings.password is not None:
        secret = settings.password.get_secret_value().encode()
    elif settings.key_file is not None:
        try:
            secret = settings.key_file.read_bytes()
        except OSError:
            return name  # the connection fails for the same reason, and says so
    else:
        return name
    return f"{name}-{hmac.new(secret, name.encode(), hashlib.sha256).hexdigest()[:SECRET_DIGITS]}"


class Will(NamedTuple):
    """What the broker publishes for us when the connection is lost; `delay` [s] needs MQTT 5."""

    topic: str
    payload: bytes
    retain: bool = False
    delay: int = 0
    qos: int = 1


def make_client(
    settings: BrokerSettings, client_id: str, *, clean: bool, manual_ack: bool, context: ssl.SSLContext | None
) -> BufferedClient:
    """Return a client that does not reconnect by itself; `context` is the TLS one, if any."""
    five = settings.protocol == "5"
    client = BufferedClient(
        CallbackAPIVersion.VERSION2,
        client_id=secret_id(settings, client_id),
        protocol=MQTTv5 if five else MQTTv311,
        clean_session=None if five else clean,
        manual_ack=manual_ack,
        reconnect_on_failure=False,
    )
    client.suppress_exceptions = True  # a callback's defect is logged, never the end of the thread
    client.enable_logger(LIBRARY_LOG)
    client.on_socket_open = _no_delay
    if settings.username is not None:
        client.username_pw_set(settings.username, settings.password.get_secret_value() if settings.password else None)
    if context is not None:
        client.tls_set_context(context)
    return client


def set_will(client: Client, will: Will, five: bool, *, retain: bool, qos: int) -> None:
    """Hand over the will, as far as this broker allows `retain` and `qos`."""
    properties = None
    if five and will.delay:
        properties = Properties(PacketTypes.WILLMESSAGE)
        properties.WillDelayInterval = will.delay
    client.will_set(will.topic, will.payload, min(will.qos, qos), will.retain and retain, properties)


def open_connection(client: Client, settings: BrokerSettings, *, clean: bool, expiry: int) -> None:
    """Open the connection and send CONNECT; the session is kept for `expiry` [s] after a loss (MQTT 5)."""
    if settings.protocol != "5":
        client.connect(settings.host, settings.port, settings.keepalive)
        return
    properties = Properties(PacketTypes.CONNECT)
    properties.SessionExpiryInterval = expiry
    properties.MaximumPacketSize = LARGEST_PACKET
    client.connect(settings.host, settings.port, settings.keepalive, clean_start=clean, properties=properties)


def _no_delay(client: Client, userdata: Any, held: Any) -> None:
    # without it the second of two publishes in a row waits some 40 ms for the first one's TCP acknowledgement
    with contextlib.suppress(OSError):
        held.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def acknowledge_at_once(held: Any) -> None:
    """Let the system acknowledge what was just read without waiting for something to send along.

    A broker that does not set TCP_NODELAY holds back the second of two messages until then: 40 ms, which may be the
    hot reading. The option does not last, so it is set again after each burst.
    """
    if held is not None:
        with contextlib.suppress(OSError):
            held.setsockopt(socket.IPPROTO_TCP, socket.TCP_QUICKACK, 1)
