"""What speaks beside a topic that is silent: the topic that was meant is often there, spelt a little otherwise."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import SequenceMatcher

from bridge.listen.relays import orders_by_name

#: So many are named.
_SHOWN = 3


def spoke_beside(silent: str, heard: Iterable[str]) -> str:
    """Return what was heard in the same place as a silent topic, the likest first; empty where nothing was.

    >>> spoke_beside("barn/plug3/stat", ["barn/plug3/state", "barn/plug3/set", "barn/plug4/state", "barn/plug3/rssi"])
    'barn/plug3/state, barn/plug3/rssi'
    """
    above = silent.rpartition("/")[0]
    near = [one for one in heard if one != silent and one.rpartition("/")[0] == above and not orders_by_name(one)]
    near.sort(key=lambda one: (-SequenceMatcher(None, silent, one).ratio(), one))
    return ", ".join(near[:_SHOWN])
