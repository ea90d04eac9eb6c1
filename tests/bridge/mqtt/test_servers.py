"""The test servers themselves do what the tests rely on."""

from __future__ import annotations

import socket
import ssl
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import MakeBroker
from tests.support.brokers import Broker, Certificates, Proxy, need, password_file


def test_a_message_published_by_mosquitto_pub_reaches_the_shared_broker(broker: Broker) -> None:
    broker.publish("tarn-hut/check", "1", "-q", "1")


def test_a_missing_program_fails_with_words() -> None:
    with pytest.raises(RuntimeError, match="no-such-broker is not installed"):
        need("no-such-broker")


def test_a_broker_with_passwords_restarts_on_the_same_port(make_broker: MakeBroker, tmp_path: Path) -> None:
    passwords = password_file(tmp_path, revival="tarn")
    own = make_broker([f"password_file {passwords}"], anonymous=False)
    own.restart()
    own.publish("x", "1", "-u", "revival", "-P", "tarn")


def test_the_expired_certificate_is_refused_and_the_valid_one_is_not(
    make_broker: MakeBroker, certificates: Certificates, expired_certificates: Certificates
) -> None:
    for made, good in ((certificates, True), (expired_certificates, False)):
        own = make_broker(tls=made)
        context = ssl.create_default_context(cafile=str(made.ca))
        with socket.create_connection((own.host, own.port)) as plain:
            if good:
                context.wrap_socket(plain, server_hostname="127.0.0.1").close()
            else:
                with pytest.raises(ssl.SSLCertVerificationError, match="expired"):
                    context.wrap_socket(plain, server_hostname="127.0.0.1")


def test_a_stalled_proxy_passes_nothing_on_until_it_is_released(make_proxy: Callable[[int], Proxy]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as far:
        proxy: Proxy = make_proxy(far.getsockname()[1])
        with socket.create_connection((proxy.host, proxy.port)) as near:
            inside, _ = far.accept()
            with inside:
                proxy.stalled = True
                near.sendall(b"hold")
                inside.settimeout(0.2)
                with pytest.raises(TimeoutError):
                    inside.recv(4)
                proxy.stalled = False
                inside.settimeout(5)
                assert inside.recv(4) == b"hold"
                before = time.monotonic()
                proxy.cut()
                assert inside.recv(4) == b""
                assert time.monotonic() - before < 5
