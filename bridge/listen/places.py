"""Where numbers stand beside each other: what their topics, labels and pointers share, apart from what they measure.

``hut/bank/volts`` and ``hut/bank/amps`` stand in one place, and so do ``volts_bank`` and ``amps_bank``: what a number
is called after says nothing about where it stands.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from functools import lru_cache

from bridge.listen.names import abbreviated, is_label, words_of
from bridge.listen.source import Source
from bridge.listen.vocabulary import EMPTY, LABELLED, MEASURED, WORDS


@lru_cache(maxsize=20_000)
def _path(topic: str, label: str, at: str, said: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return where a number stands by its own names, and by what it is called elsewhere in place of a number."""
    head = [word for word in words_of(topic) if word not in EMPTY]
    # a register's number stands before its name, and only the name tells what is beside it
    head = head[:-1] if label and head and head[-1].isdigit() else head
    own = [*head, *words_of(label), *words_of(at)]
    if said and own and any(letter.isdigit() for letter in own[-1]):
        return _where(own[:-1]), _where(words_of(said))
    return _where(own), ()


def _where(words: list[str]) -> tuple[str, ...]:
    return tuple(
        word
        for before, word in zip(["", *words], words, strict=False)
        if word not in EMPTY
        and (word not in MEASURED or (len(word) == 1 and before in LABELLED) or is_label(before, word))
    )


def _parts(source: Source) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return _path(source.topic, source.label if source.labels else "", source.at, source.said)


def path(source: Source) -> tuple[str, ...]:
    """Return the words that say where a number stands, without those that say what it measures.

    >>> path(Source("hut/shunt-2/dc_volts/state", "plain")), path(Source("hut", "json", "/string_a/i"))
    (('hut', 'shunt', '2', 'dc'), ('hut', 'string', 'a'))
    >>> path(Source("hut/c/07", "plain", said="Spannung Batterie Ost"))
    ('hut', 'c', 'batterie', 'ost')
    """
    own, said = _parts(source)
    return own + said


def shared(one: Source, other: Source) -> int:
    """Return how many words two places have in common from the left; of what both are called elsewhere, anywhere.

    >>> shared(Source("hut/shunt/dc", "json", "/dc/mv"), Source("hut/shunt/dc", "json", "/dc/ma"))
    4
    """
    (own, said), (others, others_said) = _parts(one), _parts(other)
    if own == others and said and others_said:
        return len(own) + len(set(said) & set(others_said))
    count = 0
    for left, right in zip(own + said, others + others_said, strict=False):
        if left != right:
            break
        count += 1
    return count


def strange(one: Source, other: Source) -> bool:
    """Tell whether two numbers of a list are called by words that have nothing in common: a list is no place.

    >>> bus, leg = Source("dg/r/1", "plain", said="main bus"), Source("dg/r/2", "plain", said="leg 1 amps")
    >>> strange(bus, leg), strange(bus, Source("dg/r/3", "plain", said="amps of main bus"))
    (True, False)
    """
    said, others = _parts(one)[1], _parts(other)[1]
    return bool(said) and bool(others) and not set(said) & set(others)


def nearness(one: Source, other: Source) -> tuple[int, int]:
    """Return how near two places are: the words that they share, and less the more each has beyond them.

    >>> amps = Source("hut/fore/amps", "plain")
    >>> nearness(amps, Source("hut/fore/volts", "plain")), nearness(amps, Source("hut/fore/block_1/volts", "plain"))
    ((2, 0), (2, -2))
    """
    common = shared(one, other)
    return common, 2 * common - len(path(one)) - len(path(other))


def introduce(sources: Iterable[Source]) -> None:
    """Tell each source its place, which is as much of its path as it shares with another, and who else is there."""
    heard = list(sources)
    counts = Counter(path(source)[:length] for source in heard for length in range(len(path(source)) + 1))
    named: dict[tuple[str, ...], list[tuple[Source, frozenset[str]]]] = {}
    for source in heard:
        whole = path(source)
        length = next((length for length in range(len(whole), 0, -1) if counts[whole[:length]] > 1), 0)
        own = source.at.rpartition("/")[2] or source.levels.rpartition("/")[2]
        words = words_of(own)
        if words == ["v"] and source.labels and set(called := words_of(source.label)) & WORDS.keys():
            # a value that is called after what stands beside it
            words = called
        short = abbreviated(words)
        # numbered alike (``VS1``, ``VS2``) they would be a place of their own, away from what they are parts of
        source.place = whole[: length - 1] if short and length and whole[length - 1] == words[0] else whole[:length]
        kinds = frozenset(WORDS[word] for word in words if word in WORDS) | ({short} if short else frozenset())
        named.setdefault(source.place, []).append((source, kinds))
    for neighbours in named.values():
        for source, _ in neighbours:
            source.company = frozenset().union(*(kinds for other, kinds in neighbours if other is not source))
