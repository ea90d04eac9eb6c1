"""Numbers that are told twice: a hub or a bridge repeats what was heard already, rounded, renamed, and later.

A copy's values are the other's, within its own digits, as they were up to a minute before. That alone shows little
where nothing moves, or where two meters look at one bus. A copy is one whose moves would fit no other moment of the
other; one that bears the other's whole name, as the rest of a hub's numbers bear others'; or one told by a hub that
repeats others. Volts beside amps of their own are another bank's, though both stand on one bus: their amps are no
copies.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise
from statistics import median
from typing import NamedTuple

from bridge.listen.guess import Guess
from bridge.listen.names import words_of
from bridge.listen.shape import family_names, under_parts
from bridge.listen.source import Source
from bridge.listen.vocabulary import EMPTY
from bridge.units import ALIASES

#: A copy is so much later at most, and less where that fits as well; what it repeats may come so much after it [s]
#: (assumed).
_LATE, _EARLY = (5.0, 15.0, 30.0, 60.0), 2.0
#: So many values show anything, and so many may miss, for a hub may look between two messages [1], [share] (assumed).
_ENOUGH, _MISSES = 3, 0.1
#: Of many values so many are looked for, and so few at first [1] (assumed).
_ASKED, _FEW = 60, 8
#: A move is so many times what is forgiven [1]. Other moments are so much further off than a copy is late, in so many
#: steps either way; where a value fits those by some chance, all moves fit theirs by no more than this one [s], [1],
#: [probability] (assumed).
_A_MOVE, _FURTHER, _STEPS, _BY_CHANCE = 2.0, 20.0, 3, 1e-5
#: So many copies make a hub of what they are told by, and so many words a whole name [1] (assumed).
_A_HUB, _A_NAME = 2, 2
#: Of the numbers of a hub that bear others' whole names this share are theirs [share] (assumed).
_NEARLY_ALL = 0.9
#: Thousandths become volts, and what leaves may be counted the other way.
_SCALES = (1.0, -1.0, 0.001, -0.001, 1000.0, -1000.0)
#: Whole thousands are the coarsest that is looked for; more digits than these are a computer's rounding.
_COARSEST, _FINEST = -3, 6
_NOTHING = 1e-9
#: What says that a number is not of the bank.
_ELSEWHERE = frozenset({"another circuit", "another thing", "another machine's battery"})
#: These together make a circuit: where the one beside it is no copy, neither is the other.
_PARTNERS = {"voltage": "current", "current": "voltage", "ac_voltage": "ac_current", "ac_current": "ac_voltage"}


class _Heard(NamedTuple):
    """A source as it is compared: its live values, their digits and noise, and every word of its name.

    `asked` are those of its values that are looked for in others; `called` is what it and its fellows are called.
    """

    source: Source
    times: tuple[float, ...]
    values: tuple[float, ...]
    asked: tuple[tuple[float, float], ...]
    digit: float
    noise: float
    words: tuple[str, ...]
    called: frozenset[str]


class _Pair(NamedTuple):
    """What may repeat another number, and whether its moves show it."""

    copy: _Heard
    of: _Heard
    shown: bool

    @property
    def both(self) -> tuple[int, int]:
        """Which two they are."""
        return id(self.copy.source), id(self.of.source)


def without_copies(guesses: Iterable[Guess], sources: Iterable[Source]) -> tuple[list[Guess], list[Source]]:
    """Return guesses and sources without what only repeats another one; such a source says what it repeats.

    The finer is kept, and of two as fine the one that tells sooner. A copy stays where what it repeats is nothing by
    its name, or another circuit's.
    """
    heard, known = list(sources), {id(one.source): one for one in guesses}
    repeats = _left_out(_copies([one for source in heard if (one := _heard(source)) is not None]), known)
    for source in heard:
        of = repeats.get(id(source))
        source.repeats = "" if of is None else f"{of.topic} {of.at}".strip()
    left = [one for one in known.values() if id(one.source) not in repeats]
    return left, [source for source in heard if id(source) not in repeats]


def _left_out(copies: Mapping[int, Source], known: Mapping[int, Guess]) -> dict[int, Source]:
    """Return the copies without those that are more than their originals, or stand beside what is no copy."""
    found = {
        key: of
        for key, of in copies.items()
        if (guess := known.get(key)) is None or ((other := known.get(id(of))) is not None and _as_good(other, guess))
    }
    beside: dict[tuple[str, ...], list[tuple[str, bool]]] = {}
    for key, guess in known.items():
        if len(set(guess.source.values)) > 1:
            beside.setdefault(guess.source.place, []).append((guess.quantity, key in found))
    return {
        key: of
        for key, of in found.items()
        if (guess := known.get(key)) is None or _in_company(guess.quantity, beside.get(guess.source.place, []))
    }


def _in_company(quantity: str, beside: list[tuple[str, bool]]) -> bool:
    """Tell whether most of what lives in a copy's place are copies, and what makes a circuit with it is one."""
    partners = [copied for other, copied in beside if other == _PARTNERS.get(quantity)]
    most = not beside or 2 * sum(copied for _, copied in beside) > len(beside)
    return most and (not partners or any(partners))


def _as_good(one: Guess, copy: Guess) -> bool:
    elsewhere, there = ({e.name for e in each.evidence} & _ELSEWHERE for each in (one, copy))
    return one.quantity == copy.quantity and elsewhere <= there


def _copies(heard: list[_Heard]) -> dict[int, Source]:
    """Return every copy, and the original of all that it repeats."""
    fitting = {one.both: one for one in _fitting(heard)}
    named = {(id(copy.source), id(of.source)): hub for copy, of, hub in _named(heard)}
    of_hub: dict[tuple[str, ...], list[bool]] = {}
    for both, hub in named.items():
        of_hub.setdefault(hub, []).append(both in fitting or both[::-1] in fitting)
    # of two that could each repeat the other it is the one with the longer name, or the one that tells later
    fitting = {
        both: one
        for both, one in fitting.items()
        if both[::-1] not in fitting or both in named or (both[::-1] not in named and not _sooner(one))
    }
    hubs = {hub for hub, fits in of_hub.items() if sum(fits) >= max(_A_HUB, _NEARLY_ALL * len(fits))}
    proved = {both for both, one in fitting.items() if one.shown or named.get(both) in hubs}
    told_by: dict[tuple[str, ...], set[int]] = {}
    for both in proved:
        told_by.setdefault(_teller(fitting[both]), set()).add(both[0])
    able: dict[int, list[_Pair]] = {}
    likely: dict[int, list[_Pair]] = {}
    for both, one in fitting.items():
        if both in proved:
            able.setdefault(both[0], []).append(one)
        elif len(told_by.get(_teller(one), ())) >= _A_HUB:
            likely.setdefault(both[0], []).append(one)
    # of several that a hub's number could repeat, nothing tells which
    some = {key: pairs for key, pairs in likely.items() if len(pairs) == 1} | able
    best = {
        key: min(pairs, key=lambda one: (one.both not in named, one.of.digit, one.of.source.period or 0.0))
        for key, pairs in some.items()
    }
    found = {key: one.of.source for key, one in best.items()}
    return {key: first for key, of in found.items() if id(first := _first(of, found)) != key}


def _first(source: Source, found: Mapping[int, Source]) -> Source:
    """Return what a chain of copies begins with."""
    passed: set[int] = set()
    while id(source) in found and id(source) not in passed:
        passed.add(id(source))
        source = found[id(source)]
    return source


def _teller(pair: _Pair) -> tuple[str, ...]:
    """Return the words of a copy's name up to the first that is not the other's: what tells it."""
    same = next(
        (n for n, (one, other) in enumerate(zip(pair.copy.words, pair.of.words, strict=False)) if one != other),
        len(pair.of.words),
    )
    return pair.copy.words[: same + 1]


def _heard(source: Source) -> _Heard | None:
    """Return a source as it is compared; None where too little of it was heard, or nothing but nought."""
    series = sorted(source.series)
    if source.contact or len(series) < _ENOUGH or not any(value for _, value in series):
        return None
    times, values = zip(*series, strict=True)
    exact = [round(value, _FINEST) for value in values]
    digits = next(n for n in range(_COARSEST, _FINEST + 1) if all(round(value, n) == value for value in exact))
    noise = median(abs(later - sooner) for sooner, later in pairwise(values))
    words = tuple(word for word in words_of(f"{source.topic} {source.at}") if word not in EMPTY)
    # blocks that have names of their own are fellows as well
    called = frozenset(family_names(source, of_string=False)) | {" ".join(under_parts(source))} - {""}
    asked = tuple(series[:: -(-len(series) // _ASKED)])
    return _Heard(source, times, values, asked, 10.0**-digits, noise, words, called)


def _fitting(heard: list[_Heard]) -> Iterator[_Pair]:
    """Yield every two of which one's values are the other's all the time, either way round."""
    for scale in _SCALES:
        ends = [(scale * min(one.values), scale * max(one.values)) for one in heard]
        ranges = sorted((min(pair), max(pair), place) for place, pair in enumerate(ends))
        lows = [low for low, _, _ in ranges]
        for copy in heard:
            low, high = min(copy.values), max(copy.values)
            reach = bisect_right(lows, low + copy.digit + copy.noise)
            for _, top, place in ranges[:reach]:
                of = heard[place]
                if top + _forgiven(copy, of, scale) < high or not _able(copy, of, scale):
                    continue
                if _within(copy, of, scale, _LATE[-1]):
                    yield _Pair(copy, of, _shown(copy, of, scale))


def _forgiven(copy: _Heard, of: _Heard, scale: float) -> float:
    """Return by how much a copy may miss: half a digit of each, and what the other moves between two messages."""
    return (copy.digit + abs(scale) * of.digit) / 2.0 + abs(scale) * of.noise + _NOTHING


def _able(copy: _Heard, of: _Heard, scale: float) -> bool:
    """Tell whether one may be told of the other: by another topic, no finer, in its unit, and not as its fellow is."""
    one, other = copy.source, of.source
    if one.topic == other.topic or of.digit * abs(scale) > copy.digit + _NOTHING:
        return False
    units = [ALIASES.get(unit, unit) for unit in (one.unit, other.unit) if unit]
    if len(units) > 1 and (units[0] == units[1]) != (abs(scale) == 1.0):
        return False
    return not copy.called & of.called


def _fits(copy: _Heard, of: _Heard, scale: float, late: float, off: float = 0.0) -> tuple[int, int]:
    """Return how many values of the copy the other showed shortly before, or between two messages, and of how many."""
    fits = judged = 0
    forgiven = _forgiven(copy, of, scale)
    for when, value in copy.asked:
        moment = when + off
        begin, end = bisect_right(of.times, moment - late) - 1, bisect_right(of.times, moment + _EARLY)
        if end == 0 or of.times[-1] + late < moment:
            continue
        near = of.values[max(0, begin) : end]
        low, high = scale * min(near), scale * max(near)
        judged += 1
        fits += min(low, high) - forgiven <= value <= max(low, high) + forgiven
    return fits, judged


def _within(copy: _Heard, of: _Heard, scale: float, late: float) -> bool:
    """Tell whether a number is another one of so much before."""
    # a few of them deny most
    few = copy._replace(asked=copy.asked[:: -(-len(copy.asked) // _FEW)])
    for some in (few, copy):
        fits, judged = _fits(some, of, scale, late)
        if judged - fits > max(_MISSES * judged, some is few):
            return False
    return judged >= _ENOUGH


def _shown(copy: _Heard, of: _Heard, scale: float) -> bool:
    """Tell whether a copy moved, and as the other did at these moments and no others."""
    # whose noise is larger than its digits fits much by chance: then only messages that are repeated show anything
    of = of._replace(noise=min(of.noise, copy.digit / abs(scale)))
    least = _A_MOVE * _forgiven(copy, of, scale)
    moves = sum(abs(later - sooner) >= least for (_, sooner), (_, later) in pairwise(copy.asked))
    late = next((late for late in _LATE if moves and _within(copy, of, scale, late)), None)
    if late is None:
        return False
    aside = [way * step * (late + _FURTHER) for step in range(1, _STEPS + 1) for way in (-1.0, 1.0)]
    found = [_fits(copy, of, scale, late, off) for off in aside]
    fits, judged = sum(fits for fits, _ in found), sum(judged for _, judged in found)
    # one more that fits and one that does not: nothing that was never seen is impossible
    return ((fits + 1) / (judged + 2)) ** moves <= _BY_CHANCE


def _sooner(pair: _Pair) -> bool:
    """Tell whether of two as fine it is the other that repeats the copy: told less often, or right after it."""
    often, seldom = ((one.source.period or 0.0) for one in (pair.copy, pair.of))
    if abs(often - seldom) > _AS_OFTEN * max(often, seldom):
        return often < seldom
    behind, before = _behind(pair.copy, pair.of), _behind(pair.of, pair.copy)
    return (behind, pair.both) > (before, pair.both[::-1])


#: Two tell as often as each other within this share [1] (assumed).
_AS_OFTEN = 0.2


def _behind(copy: _Heard, of: _Heard) -> float:
    """Return how long after the other's last message a number is told, as a rule [s]."""
    waits = [when - of.times[place - 1] for when in copy.times if (place := bisect_left(of.times, when)) > 0]
    return median(waits) if waits else 0.0


def _named(heard: list[_Heard]) -> Iterator[tuple[_Heard, _Heard, tuple[str, ...]]]:
    """Yield what bears another's whole name, the other, and the words around it: ``hub/bank_volts``, ``bank/volts``.

    What both names begin with need not be said again.
    """
    by_end: dict[tuple[str, ...], list[_Heard]] = {}
    for one in heard:
        for begin in range(len(one.words) - _A_NAME + 1):
            by_end.setdefault(one.words[begin:], []).append(one)
    for copy in heard:
        words = copy.words
        for begin in range(1, len(words) - _A_NAME + 1):
            for end in range(begin + _A_NAME, len(words) + 1):
                for of in by_end.get(words[begin:end], ()):
                    common = len(of.words) - (end - begin)
                    if common < begin and of.words[:common] == words[:common] and of is not copy:
                        yield copy, of, (*words[:begin], "", *words[end:])
