"""A recorded message, as `revival export --format messages` writes them: one JSON object a line."""

from __future__ import annotations

from base64 import b64decode

from pydantic import TypeAdapter

from bridge.errors import RequestError
from bridge.intake.strict_json import read_object
from bridge.intake.strict_model import StrictModel, validated
from bridge.message import Message

LONGEST_LINE = 1_000_000  #: bytes; the largest packet that a broker of ours lets through is far smaller


class _Recorded(StrictModel):
    t: float
    topic: str
    payload: str | None = None
    payload_b64: str | None = None
    retain: bool = False


_RECORDED = TypeAdapter(_Recorded)


def parse_recorded(line: bytes) -> Message:
    """Read one line of a recording.

    Raises
    ------
    RequestError
        It is no message, in words.

    Examples
    --------
    >>> parse_recorded(b'{"t": 1795590000.1, "topic": "hut/shunt", "payload": "25.85 V"}')[:3]
    ('hut/shunt', b'25.85 V', 1795590000.1)
    """
    told = validated(_RECORDED, read_object(line, "a recorded message", LONGEST_LINE))
    if told.payload is None and told.payload_b64 is None:
        raise RequestError("payload is missing: add it")
    try:
        payload = b64decode(told.payload_b64 or "", validate=True) if told.payload is None else told.payload.encode()
    except ValueError:
        what = "payload_b64 is no base64" if told.payload is None else "payload holds half a character: write it anew"
        raise RequestError(what) from None
    return Message(told.topic, payload, told.t, told.retain)
