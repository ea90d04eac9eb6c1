"""A small invented shed on a real broker, whose owner buys one meter after the other."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from math import sin

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

#: Every meter reports so often [s]: a few seconds of listening hear it well.
EVERY = 0.1


@contextmanager
def shed(
    port: int,
    *,
    probe: str = "",
    relay: str = "",
    flowing: bool = True,
    meters: Mapping[str, Callable[[float, float], str]] | None = None,
) -> Iterator[None]:
    """A 12 V bank on charge, with its volts and amps.

    Parameters
    ----------
    probe : str
        Last part of the topic of a thermometer; none where empty.
    relay : str
        Topic on which the charger's relay tells its state; nobody orders anything.
    flowing : bool
        Whether any current flows.
    meters : mapping, optional
        Topic -> what it says at these volts and amps, instead of the usual two.
    """
    said = meters or {
        "shed/battery/voltage": lambda volts, amps: f"{volts:.2f}",
        "shed/battery/current": lambda volts, amps: f"{amps:.2f}",
    }
    client = Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", port)
    client.loop_start()
    ending = threading.Event()

    def play() -> None:
        number = 0
        while not ending.wait(EVERY):
            number += 1
            amps = 8.0 + 2.0 * sin(number / 7.0) if flowing else 0.0
            for topic, words in said.items():
                client.publish(topic, words(13.1 + 0.06 * amps + 0.01 * (number % 3), amps))
            client.publish("house/kitchen/temperature", f"{20.0 + 0.1 * (number % 4):.1f}")
            if probe:
                client.publish(f"shed/battery/{probe}", f"{17.0 + 0.1 * (number // 7 % 5):.1f}")
            if relay:
                client.publish(relay, "on")

    thread = threading.Thread(target=play, daemon=True)
    thread.start()
    try:
        yield
    finally:
        ending.set()
        thread.join(5)
        client.disconnect()
        client.loop_stop()
