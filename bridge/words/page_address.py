"""Under which addresses the live page is found."""

from __future__ import annotations

import socket
from ipaddress import IPv4Address, IPv6Address, ip_address

from bridge.settings import PageSettings

#: An address of the documentation (RFC 5737): a socket towards it tells which own address would be used, and sends
#: nothing.
ELSEWHERE = ("192.0.2.1", 9)


def link(page: PageSettings) -> str:
    """Return the address for people at another device; empty where only this host reaches the page."""
    try:
        return "" if ip_address_of(page.host).is_loopback else reachable(page)[0]
    except OSError:
        return ""


def reachable(page: PageSettings) -> list[str]:
    """Return addresses under which the page is found, the best for a phone first."""
    address = ip_address_of(page.host)
    if not address.is_unspecified:
        return [url(page.host, page.port, tls=page.certificate_file is not None)]
    own = outward(socket.AF_INET6 if isinstance(address, IPv6Address) else socket.AF_INET)
    found = [own] if own else []
    name = socket.gethostname().partition(".")[0]
    # Under this name where the network answers multicast DNS, as most home networks do.
    return [url(host, page.port, tls=page.certificate_file is not None) for host in (*found, f"{name}.local")]


def ip_address_of(host: str) -> IPv4Address | IPv6Address:
    """Return the address to listen on; a name counts as the address of this host."""
    try:
        return ip_address(host)
    except ValueError:
        return ip_address("127.0.0.1") if host == "localhost" else ip_address(socket.gethostbyname(host))


def outward(family: socket.AddressFamily) -> str | None:
    """Return this host's address on the network that leads outside; nothing is sent."""
    with socket.socket(family, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(ELSEWHERE if family == socket.AF_INET else ("2001:db8::1", 9))
        except OSError:
            return None
        return str(probe.getsockname()[0])


def url(host: str, port: int, *, tls: bool = False) -> str:
    """Return the address as a browser takes it.

    Examples
    --------
    >>> url("192.0.2.7", 8170), url("2001:db8::7", 8170)
    ('http://192.0.2.7:8170/', 'http://[2001:db8::7]:8170/')
    """
    place = f"[{host}]" if ":" in host else host
    return f"{'https' if tls else 'http'}://{place}:{port}/"
