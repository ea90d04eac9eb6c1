"""What was found when the round was over: capacity test, verdicts, and which blocks belong together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from bridge.report.told import verdict_given
from rules.bank import Bank, arranged
from rules.events import Derived, Event
from rules.step import Memory, block_ledger, round_over, so_far, standing, still_to_measure
from rules.verdict import NOT_JUDGED, CapacityTest, Matching, Verdict, result


class Tested(NamedTuple):
    """A capacity test; times [s since the epoch], [Ah], [h], [degC], [percent]; None = not known.

    `refused` says why its ampere-hours cannot be held against the rating.
    """

    started_at: float | None
    ended_at: float | None
    reason: str
    temperature: float | None
    hours: float | None
    unknown_hours: float | None
    delivered: float
    corrected: float | None
    rated_at_rate: float | None
    percent: float | None
    fell_first: tuple[str, ...]
    refused: str = ""


class Judged(NamedTuple):
    """The bank first, then every block.

    Attributes
    ----------
    given_at, given_by : float or None, str
        When a person gave the verdict [s since the epoch], and who; None = not given.
    ready : bool
        The round is far enough for a verdict.
    charges : dict
        Block -> what went through it in this round [Ah]; empty where that is not kept.
    missing : tuple of str
        What is still to be measured before anybody can judge; empty once a verdict was given.
    """

    verdicts: tuple[Verdict, ...]
    matching: Matching
    tested: Tested | None
    given_at: float | None
    given_by: str
    ready: bool
    charges: dict[str, float]
    missing: tuple[str, ...] = ()


def as_it_stands(bank: Bank, memory: Memory) -> Judged:
    """Judge from what is remembered of the present round."""
    joined = bank if memory.arrangement is None else arranged(bank, memory.arrangement)
    try:
        verdicts, proposal = standing(joined, memory)
    except ValueError as error:  # a test that cannot be corrected, in words
        verdicts, proposal = _none_yet(bank, str(error)), Matching((), (), ())
    given, ready = memory.given, round_over(memory)
    return Judged(
        verdicts if ready else so_far(verdicts),
        proposal,
        None if memory.test is None else _tested(memory.test, joined.capacity),
        None if given is None else given.at,
        "" if given is None else given.by,
        ready,
        {label: account.charge for label, account in block_ledger(bank, memory).items()},
        still_to_measure(memory) if ready and given is None else (),
    )


def as_it_stood(bank: Bank, state: Derived | None, events: Sequence[Event]) -> Judged:
    """Judge from the last state and the events of a stretch that is over, when the memory has gone on since."""
    given = verdict_given(events)
    at = given.get("at")
    rows = () if state is None else state.verdict
    verdicts = tuple(
        Verdict(str(row["label"]), str(row["word"]), _as_float(row.get("capacity")), _texts(row.get("reasons")))
        for row in rows
    )
    strings = () if state is None else state.matching
    return Judged(
        verdicts or _none_yet(bank, "not judged by then"),
        Matching(strings, (), ()),
        _remembered_test(state, events),
        at if isinstance(at, float) else None,
        str(given.get("by", "")),
        bool(verdicts),
        {},
    )


def _tested(test: CapacityTest, capacity: float) -> Tested | None:
    if not (test.hours > 0.0 and test.delivered > 0.0):
        return None
    found = Tested(
        test.started_at, test.ended_at, test.reason, test.temperature, test.hours, test.unknown_hours, test.delivered,
        None, None, None, test.fell_first,
    )  # fmt: skip
    try:
        told = result(test, capacity)
    except ValueError as error:
        return found._replace(refused=str(error))
    return found._replace(corrected=told.corrected, rated_at_rate=told.rated_at_rate, percent=told.percent)


def _remembered_test(state: Derived | None, events: Sequence[Event]) -> Tested | None:
    if state is None or state.capacity_delivered is None:
        return None
    began = next((event for event in reversed(events) if _is(event, "test")), None)
    ended = next((event for event in reversed(events) if event.kind == "test-end"), None)
    return Tested(
        None if began is None else began.at,
        None if ended is None else ended.at,
        "" if ended is None else str(ended.detail.get("reason", "")),
        None, None, None, state.capacity_delivered, None, None, state.capacity_percent, state.fell_first,
    )  # fmt: skip


def _none_yet(bank: Bank, why: str) -> tuple[Verdict, ...]:
    labels = [bank.id, *(block.label for string in bank.strings for block in string)]
    return tuple(Verdict(label, NOT_JUDGED, None, (why,)) for label in labels)


def _is(event: Event, act: str) -> bool:
    return event.kind == "command" and event.detail.get("name") == act


def _as_float(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def _texts(values: object) -> tuple[str, ...]:
    return tuple(str(value) for value in values) if isinstance(values, list | tuple) else ()
