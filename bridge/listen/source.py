"""One place in the traffic where a number, or a contact's word, appears, with what the traffic says about it."""

from __future__ import annotations

from dataclasses import dataclass, field
from statistics import median

from bridge.listen.names import in_levels


@dataclass
class Source:
    """One place in the traffic where a number (or a contact's word) appears.

    Attributes
    ----------
    topic, style, at : str
        Topic; ``plain``, ``json``, ``pairs``, ``senml`` or ``homie``; JSON Pointer or SenML name.
    decimal : str
        The decimal sign of a number written as text.
    unit : str or None
        As the payload, the record, a description or a hub's announcement says.
    kind : str or None
        What a hub's announcement says it is (its device class).
    time : str or None
        Pointer to the message's own time.
    values, times : list of float
        The values in the order of arrival, and when [s since the epoch].
    contact : bool
        Words instead of numbers.
    units, labels : set of str
        Every unit that was said, and every name beside the value: one place may carry several things in turn.
    words : set of str
        What a contact said.
    foreign : bool
        Whether those are words that no mapping reads.
    company : set of str
        Kinds of quantity that the neighbours in the same place are named after.
    place : tuple of str
        The words of its path that it shares with the numbers beside it.
    repeats : str
        The topic and pointer of the number that it only repeats; empty where it is its own.
    """

    topic: str
    style: str
    at: str = ""
    unit: str | None = None
    kind: str | None = None
    time: str | None = None
    values: list[float] = field(default_factory=list)
    times: list[float] = field(default_factory=list)
    contact: bool = False
    units: set[str] = field(default_factory=set)
    labels: set[str] = field(default_factory=set)
    words: set[str] = field(default_factory=set)
    said: str = ""
    around: set[str] = field(default_factory=set)
    factor: float | None = None
    company: frozenset[str] = frozenset()
    place: tuple[str, ...] = ()
    repeats: str = ""
    decimal: str = "."
    foreign: bool = False

    @property
    def levels(self) -> str:
        """The topic with strokes between its levels, whatever divides them."""
        return in_levels(self.topic)

    @property
    def series(self) -> list[tuple[float, float]]:
        """(time, value) of what was heard live; kept messages come first and have no time."""
        return list(zip(self.times, self.values[len(self.values) - len(self.times) :], strict=True))

    @property
    def label(self) -> str:
        """The name beside the value, where it is always the same; without one, what it is called elsewhere."""
        return next(iter(self.labels)) if len(self.labels) == 1 else "" if self.labels else self.said

    @property
    def period(self) -> float | None:
        """Median seconds between values."""
        gaps = [later - sooner for sooner, later in zip(self.times, self.times[1:], strict=False) if later > sooner]
        return median(gaps) if gaps else None
