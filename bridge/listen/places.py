"""Where numbers stand beside each other: what their topics and pointers share."""

from __future__ import annotations

from functools import lru_cache

from bridge.listen.collect import Source
from bridge.listen.guess import Guess
from bridge.listen.names import words_of


@lru_cache(maxsize=20_000)
def _path(topic: str, at: str) -> tuple[str, ...]:
    return tuple(words_of(topic)) + tuple(words_of(at))


def shared(one: Source, other: Source) -> int:
    """Return how many words two places have in common from the left.

    >>> shared(Source("hut/shunt/dc", "json", "/dc/mv"), Source("hut/shunt/dc", "json", "/dc/ma"))
    4
    """
    count = 0
    for left, right in zip(_path(one.topic, one.at), _path(other.topic, other.at), strict=False):
        if left != right:
            break
        count += 1
    return count


def told(one: Guess) -> str:
    """Return where it stands, for a reason in words."""
    return f"{one.source.topic} {one.source.at}".strip()
