"""A crowded invented house on a real broker, for commands that hear strangers."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from tests.bench.households.homes_dev import hillside

#: Ten minutes of a house pass in a few seconds.
SPEED = 120.0


@contextmanager
def household(port: int, user: str | None = None, password: str = "") -> Iterator[None]:
    """The crowded house of the hillside, played fast and over and over."""
    rows = list(hillside().messages())
    client = Client(CallbackAPIVersion.VERSION2)
    if user is not None:
        client.username_pw_set(user, password)
    client.connect("127.0.0.1", port)
    client.loop_start()
    on = True

    def play() -> None:
        while on:
            begun, first = time.monotonic(), float(str(rows[0]["t"]))
            for row in rows:
                wait = (float(str(row["t"])) - first) / SPEED - (time.monotonic() - begun)
                if wait > 0.001:
                    time.sleep(wait)
                if not on:
                    return
                client.publish(str(row["topic"]), str(row["payload"]), 0, bool(row["retain"]))

    thread = threading.Thread(target=play, daemon=True)
    thread.start()
    try:
        yield
    finally:
        on = False
        thread.join(5)
        client.disconnect()
        client.loop_stop()
