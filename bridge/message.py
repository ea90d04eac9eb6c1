"""One message as it came off the bus."""

from __future__ import annotations

from typing import NamedTuple


class Message(NamedTuple):
    """A message of the bus: copied by the network callback, decoded later.

    Attributes
    ----------
    at : float
        Arrival by the bridge's clock [s since the epoch].
    session : str
        ``live`` or ``history``; the latter is acknowledged only after the journal's commit.
    mid, qos : int
        For the acknowledgement.
    dup : bool
        The broker says that it has sent this before.
    """

    topic: str
    payload: bytes
    at: float
    retain: bool = False
    session: str = "live"
    mid: int = 0
    qos: int = 0
    dup: bool = False
