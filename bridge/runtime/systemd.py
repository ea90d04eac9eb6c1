"""Tells the service manager that the bridge is ready and alive (the sd_notify protocol), where there is one.

Written by hand: the whole protocol is one datagram, and the binding to the manager's own library has to be compiled.
"""

from __future__ import annotations

import contextlib
import os
import socket


def notify(state: str) -> None:
    """Send one state line, such as ``READY=1`` or ``WATCHDOG=1``; without a service manager nothing happens."""
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return
    if address.startswith("@"):
        address = "\0" + address[1:]
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
        sender.sendto(state.encode(), address)
