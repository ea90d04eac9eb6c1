"""Brokers in this network that announce themselves by multicast DNS: the service `_mqtt._tcp` (RFC 6762, RFC 6763)."""

from __future__ import annotations

import threading
from typing import NamedTuple

#: The name that the registry of services gives to a broker.
SERVICE = "_mqtt._tcp.local."
#: Whoever is there answers within a second; a sleepy wireless link takes two more [s].
PATIENCE = 3.0


class Announced(NamedTuple):
    """A broker as it announces itself: what it is called, and where it is."""

    name: str
    host: str
    port: int


def announced(seconds: float = PATIENCE) -> list[Announced]:
    """Return the brokers that announce themselves, in the order of their names.

    Parameters
    ----------
    seconds : float
        How long answers are waited for [s].

    Raises
    ------
    ImportError
        The extra `discover` is not installed.
    OSError
        This host has no network that carries multicast.
    """
    # Only who looks for a broker has the extra.
    from zeroconf import ServiceBrowser, ServiceListener, Zeroconf  # noqa: PLC0415

    found: dict[str, Announced] = {}

    class Listener(ServiceListener):
        def add_service(self, network: Zeroconf, kind: str, name: str) -> None:
            told = network.get_service_info(kind, name, int(1000 * seconds))
            if told is not None and told.port and (addresses := told.parsed_addresses()):
                found[name] = Announced(name.removesuffix("." + SERVICE), sorted(addresses, key=_by_kind)[0], told.port)

        def update_service(self, network: Zeroconf, kind: str, name: str) -> None:
            self.add_service(network, kind, name)

        def remove_service(self, network: Zeroconf, kind: str, name: str) -> None:
            found.pop(name, None)

    network = Zeroconf()
    try:
        browser = ServiceBrowser(network, SERVICE, Listener())
        threading.Event().wait(seconds)
        browser.cancel()
    finally:
        network.close()
    return [found[name] for name in sorted(found)]


def _by_kind(address: str) -> tuple[bool, str]:
    """Put addresses of the older protocol first: a link-local one of the newer needs a scope that no file keeps."""
    return ":" in address, address
