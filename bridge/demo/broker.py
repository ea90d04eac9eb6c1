"""An MQTT 5 broker of the demo's own, in a child process on a free loopback port."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bridge.errors import UsageError

SETTINGS = """
id = 0

[router]
id = 0
max_connections = 100
max_outgoing_packet_count = 200
max_segment_size = 104857600
max_segment_count = 10

[v5.1]
name = "demo"
listen = "127.0.0.1:{port}"
next_connection_delay_ms = 1

[v5.1.connections]
connection_timeout_ms = 60000
max_payload_size = 1000000
max_inflight_count = 1000
dynamic_filters = true
"""


def free_port() -> int:
    """Return a loopback port nobody listens on at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def embedded_broker(folder: Path) -> Iterator[int]:
    """Start the broker, give its port, stop it at the end.

    Raises
    ------
    UsageError
        The `demo` extra is not installed.
    """
    try:
        from iotcore import Broker  # noqa: PLC0415 - only the demo extra has it
    except ImportError:
        raise UsageError(
            "the demo's own broker is not installed: pip install 'revival-bridge[demo]', or give --broker HOST:PORT"
        ) from None
    port = free_port()
    settings = folder / "broker.toml"
    settings.write_text(SETTINGS.format(port=port))
    with Broker(config_path=str(settings)):
        yield port
