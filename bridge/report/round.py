"""One round as the journal knows it, gathered for paper."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from bridge.commands.plan import configured, placed
from bridge.commands.verdict import given_before, remembered
from bridge.journal.reader import Bucket, JournalReader
from bridge.settings import Cabin
from bridge.standing import spans
from rules.arrangement import arranged
from rules.bank import Bank
from rules.discharge import CapacityResult, CapacityTest, result
from rules.gravity import GravityReading, reading
from rules.matching import Matching, matching
from rules.memory import Memory
from rules.plan import plan
from rules.plan_input import BankPlan, Found, PlanInput
from rules.reading import Derived, Event
from rules.standing_verdict import against
from rules.verdict import Verdict, judge
from rules.verdict_evidence import evidence_of

HOUR, DAY = 3600.0, 86400.0
#: What was noted so long before the round belongs to it: the first look [s].
BEFORE = 3 * DAY
#: So many points carry the curve.
POINTS = 900
#: Lengths of the stretches that a curve is made of [s].
WIDTHS = (60, 120, 300, 600, 1200, 1800, 3600, 7200)


class Episode(NamedTuple):
    """A trip and what followed; times [s since the epoch], None = not in the journal."""

    at: float
    hazard: str
    value: float | None
    limit: float | None
    unit: str
    reason: str
    cut_at: float | None
    cut_seen_after: float | None
    cut_seen_by: str
    reset_at: float | None
    reset_by: str
    resumed_at: float | None


class Round(NamedTuple):
    """Everything a report says; canonical units.

    Attributes
    ----------
    since, until : float
        [s since the epoch].
    charging, standing : dict
        Phase -> hours with and without current [h].
    gravities : dict
        Cell -> every reading of the round, in order of time.
    warm_hours, hottest, hottest_at : float or None
        Hours above the warning [h]; greatest electrolyte temperature [degC] and when.
    """

    site: str
    bank: Bank
    since: float
    until: float
    last: Derived | None
    memory: Memory
    plan: BankPlan
    cautions: tuple[str, ...]
    curve: list[Bucket]
    phases: list[dict[str, Any]]
    charging: dict[str, float]
    standing: dict[str, float]
    gravities: dict[str, list[GravityReading]]
    hand: list[Event]
    water_added: float
    warm_hours: float
    hottest: float | None
    hottest_at: float | None
    episodes: list[Episode]
    proofs: list[Event]
    withdrawn: dict[str, int]
    test: CapacityTest | None
    capacity: CapacityResult | None
    verdicts: tuple[Verdict, ...]
    matching: Matching


def gather(
    cabin: Cabin, journal: JournalReader, name: str, since: float | None = None, until: float | None = None
) -> Round:
    """Read a round from the journal: the one under way or last finished, or a stretch of time [s since the epoch].

    Raises
    ------
    JournalError
        Nothing is known of this bank yet.
    """
    bank = cabin.banks[name]
    memory = remembered(journal, name)
    newest = journal.latest_state(name)
    events = journal.events(name, 0.0, 1e11)
    end = until or (newest.at if newest is not None else events[-1].at if events else 0.0)
    begin = since or memory.phase.started_at or (events[0].at if events else end - DAY)
    inside = [event for event in events if begin - BEFORE <= event.at <= end]
    phases = spans(events, begin, end)
    hand = _standing_entries(inside)
    gravities = _gravities(hand)
    minutes = journal.readings(name, begin, end, 60)
    heat = [(bucket.temperature_max, bucket.at) for bucket in minutes if bucket.temperature_max is not None]
    hottest, hottest_at = max(heat) if heat else (None, None)
    width = next((width for width in WIDTHS if (end - begin) / width <= POINTS), WIDTHS[-1])
    test = memory.test if memory.test is not None and begin <= memory.test.started_at <= end + DAY else None
    joined = bank if memory.arrangement is None else arranged(bank, memory.arrangement)
    whole, blocks = evidence_of(
        joined,
        memory.hand,
        test,
        {},
        given_before(journal, name, test.started_at if test is not None else end),
        against(memory),
    )
    made = plan(PlanInput((_found(bank, hand, gravities, begin),)))
    tested = test is not None and test.hours > 0.0 and test.delivered > 0.0
    return Round(
        site=cabin.site,
        bank=bank,
        since=begin,
        until=end,
        last=next(iter(journal.states_at(name, [end])), None),
        memory=memory,
        plan=made.banks[0],
        cautions=made.cautions,
        curve=journal.readings(name, begin, end, width),
        phases=phases,
        charging=_hours(phases, interrupted=False),
        standing=_hours(phases, interrupted=True),
        gravities=gravities,
        hand=hand,
        water_added=sum(sum(_numbers(event.detail.get("values"))) for event in hand if _kind(event) == "water"),
        warm_hours=sum(
            1 / 60
            for bucket in minutes
            if bucket.temperature_mean is not None and bucket.temperature_mean >= bank.limits.temperature_warning
        ),
        hottest=hottest,
        hottest_at=hottest_at,
        episodes=_episodes([event for event in inside if event.at >= begin]),
        proofs=[event for event in inside if event.kind == "proof"],
        withdrawn=_count(event for event in inside if event.kind == "permit-withdrawn"),
        test=test,
        capacity=result(test, bank.capacity) if test is not None and tested else None,
        verdicts=(judge(whole), *(judge(block) for block in blocks)),
        matching=matching(blocks, joined.cells),
    )


def _kind(event: Event) -> str:
    return str(event.detail.get("kind", ""))


def _standing_entries(events: list[Event]) -> list[Event]:
    """Hand readings without those that were taken back."""
    kept: list[Event] = []
    for event in (event for event in events if event.kind == "hand"):
        if not event.detail.get("undo"):
            kept.append(event)
            continue
        for place in range(len(kept) - 1, -1, -1):
            if _kind(kept[place]) == _kind(event):
                del kept[place]
                break
    return kept


def _numbers(values: object) -> list[float]:
    if not isinstance(values, Mapping):
        return []
    return [float(value) for value in values.values() if isinstance(value, int | float)]


def _gravities(hand: list[Event]) -> dict[str, list[GravityReading]]:
    """Corrected readings of every cell, whatever has left the rules' own memory."""
    found: dict[str, list[GravityReading]] = {}
    for event in hand:
        values, temperature = event.detail.get("values"), event.detail.get("temperature")
        if _kind(event) != "gravity" or not isinstance(values, Mapping):
            continue
        for cell, value in values.items():
            taken = float(str(event.detail.get("taken_at", event.at)))
            under = bool(event.detail.get("under_charge"))
            found.setdefault(cell, []).append(
                reading(
                    taken,
                    cell,
                    value,
                    temperature=float(temperature) if isinstance(temperature, int | float) else None,
                    under_charge=under,
                    rested_hours=None,
                )
            )
    return {cell: sorted(readings) for cell, readings in sorted(found.items())}


def _found(bank: Bank, hand: list[Event], gravities: dict[str, list[GravityReading]], begin: float) -> Found:
    """The bank as it was noted before the round began."""
    labels = {block.label for string in bank.strings for block in string}
    blocks: dict[str, float] = {}
    volts = None
    for event in hand:
        values = event.detail.get("values")
        if _kind(event) != "voltage" or event.at > begin or not isinstance(values, Mapping):
            continue
        blocks |= {where: float(value) for where, value in values.items() if where in labels}
        volts = float(values[""]) if "" in values else volts
    first = [
        readings[0].gravity_corrected
        for readings in gravities.values()
        if readings[0].taken_at <= begin and readings[0].gravity_corrected is not None
    ]
    return Found(bank, configured(bank, None), blocks, volts, min(first, default=None), probe=placed(bank))


def _hours(phases: list[dict[str, Any]], *, interrupted: bool) -> dict[str, float]:
    hours: dict[str, float] = {}
    for stretch in phases:
        if stretch["interrupted"] is interrupted:
            hours[stretch["phase"]] = hours.get(stretch["phase"], 0.0) + (stretch["to"] - stretch["from"]) / HOUR
    return hours


def _episodes(events: list[Event]) -> list[Episode]:
    """Every trip with the evidence that the relay obeyed, and who let it go on."""
    trips = [event for event in events if event.kind == "trip"]
    found = []
    for number, trip in enumerate(trips):
        # Up to the next trip that stands for itself; hazards of one moment share order, evidence and reset.
        later = next((other.at for other in trips[number + 1 :] if other.at > trip.at), float("inf"))
        after = [event for event in events if trip.at <= event.at < later]
        cut = next((e for e in after if e.kind == "order" and e.detail.get("action") == "cut"), None)
        seen = next((e for e in after if e.kind == "cut-confirmed"), None)
        reset = next((e for e in after if e.kind == "command" and e.detail.get("name") == "reset"), None)
        resumed = next((e for e in after if e.kind == "command" and e.detail.get("name") == "resume"), None)
        told = trip.detail
        found.append(
            Episode(
                trip.at,
                str(told.get("hazard")),
                _number(told.get("value")),
                _number(told.get("limit")),
                str(told.get("unit", "")),
                str(told.get("reason", "")),
                None if cut is None else cut.at,
                None if seen is None else _number(seen.detail.get("seconds")),
                "" if seen is None else str(seen.detail.get("by", "")),
                None if reset is None else reset.at,
                "" if reset is None else str(reset.detail.get("by", "")),
                None if resumed is None else resumed.at,
            )
        )
    return found


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def _count(events: Any) -> dict[str, int]:
    counted: dict[str, int] = {}
    for event in events:
        reason = str(event.detail.get("reason", ""))
        counted[reason] = counted.get(reason, 0) + 1
    return counted
