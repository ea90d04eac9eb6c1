"""One round as the journal knows it, gathered for paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from bridge.errors import JournalError
from bridge.journal.reader import Bucket, JournalReader
from bridge.journal.snapshot import remembered
from bridge.report.found import configured, placed
from bridge.report.judged import Judged, as_it_stands, as_it_stood
from bridge.report.told import (
    HOUR,
    Episode,
    Raised,
    TakenBack,
    acts,
    began_to_note,
    dangers_noted,
    episodes,
    gravities,
    hand_readings,
    kind_of,
    latched,
    numbers,
    raised,
    standing_flags,
    taken_at,
    tripped_and_taken_back,
    tripped_since,
    warmths,
    withdrawn,
)
from bridge.settings import Cabin
from bridge.words.bank_name import called
from bridge.words.bank_status import spans
from rules.bank import Bank
from rules.events import Derived, Event, Flag
from rules.hand import GravityReading
from rules.phase import CHARGING, PhaseMemory, hold_stretch
from rules.plan import BankPlan, Found, PlanInput, cautions, plan
from rules.safety import GRAVITY_GOOD_FOR, at_the_posts
from rules.step import Memory

DAY = 86400.0
EVER = 1e11
#: What was noted so long before the round belongs to it: the first look [s].
BEFORE = 3 * DAY
#: Air that was shown so near to the beginning is the room's of then [s] (assumed, as in `revival plan`).
AIR_NEAR = 3600.0
#: So many points carry the curve.
POINTS = 900
#: Lengths of the stretches that a curve is made of [s].
WIDTHS = (60, 120, 300, 600, 1200, 1800, 3600, 7200)


class PhaseTotal(NamedTuple):
    """What a phase took in all: hours, of them with nothing flowing [h], charge [Ah], energy [kWh]; None = not known.

    A phase that does not charge has no hours of standing still.
    """

    phase: str
    hours: float
    still: float | None
    charge: float | None
    energy: float | None


class Round(NamedTuple):
    """Everything a report says; canonical units.

    Attributes
    ----------
    since, until : float
        [s since the epoch].
    last : Derived or None
        The state that held at the end.
    air : float or None
        In the room when the round began, as its thermometer showed it [degC]; the plan counts with it.
    charge, energy : float or None
        Returned from begin to end [Ah], [kWh].
    unknown : float or None
        Time nobody measured [h]; only known of the present round.
    hold_band : tuple of float
        Volts per cell from which the hold counted, and as far above the charger's [V].
    gravities : dict
        Cell -> every reading of the round, in order of time.
    came, noted : list of Event
        Hand readings before the round began, and those after.
    warm_hours, hottest, hottest_at : float or None
        Hours above the warning [h]; greatest temperature [degC] of probe or hand, and when.
    hottest_where : str
        Of a hand, on what; empty of a probe.
    episodes, dangers : list of Episode, list of Event
        Trips of the round, since what was noted before it, and any that stood when it began; dangers that people noted.
    taken_back : list of TakenBack
        Hand readings that tripped the bank and were taken back.
    standing : tuple of str
        Trips that stand now, with their reasons.
    at_posts : str
        A crack, a bare plate or wrong leads that somebody noted and nobody noted gone.
    up : tuple of Flag
        Hazards and reasons to pause that are up now beside the trips, worst first.
    """

    site: str
    bank: Bank
    since: float
    until: float
    last: Derived | None
    plan: BankPlan
    air: float | None
    cautions: tuple[str, ...]
    curve: list[Bucket]
    phases: list[dict[str, Any]]
    totals: list[PhaseTotal]
    charge: float | None
    energy: float | None
    unknown: float | None
    hold_band: tuple[float, float]
    gravities: dict[str, list[GravityReading]]
    came: list[Event]
    noted: list[Event]
    acts: list[Event]
    water_added: float
    warm_hours: float
    hottest: float | None
    hottest_at: float | None
    hottest_where: str
    episodes: list[Episode]
    dangers: list[Event]
    taken_back: list[TakenBack]
    standing: tuple[str, ...]
    at_posts: str
    up: tuple[Flag, ...]
    raised: list[Raised]
    proofs: list[Event]
    withdrawn: dict[str, int]
    judged: Judged

    @property
    def seen(self) -> list[Event]:
        """What people noted as seen or in words, without the dangers, which are told beside the trips."""
        told = [event for event in (*self.came, *self.noted) if kind_of(event) in ("seen", "note")]
        return [event for event in told if event not in self.dangers]

    @property
    def charging(self) -> float:
        """Hours in which charging was not interrupted [h]."""
        return sum(total.hours - total.still for total in self.totals if total.still is not None)


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
    memory = _remembered(journal, name)
    newest = journal.latest_state(name)
    events = journal.events(name, 0.0, EVER)
    if newest is None and not events:
        nothing = f"nothing was measured or noted of {called(name)} yet"
        raise JournalError(f"{journal.path}: {nothing}; a report needs a round")
    # Up to the last entry: what was noted after the last state, before the bridge stopped, is of this round as well.
    now = max(each.at for each in (newest, *events[-1:]) if each is not None)
    end = until or now
    begin = since or _round_begins(memory, events) or (events[0].at if events else end - DAY)
    noting = began_to_note(events, begin, BEFORE)
    hand = hand_readings([event for event in events if noting < event.at <= end])
    hand = [*_read_before(hand, hand_readings([event for event in events if event.at <= noting]), begin), *hand]
    inside = [event for event in events if begin <= event.at <= end]
    prepared = [event for event in events if noting < event.at <= end]
    cells = gravities(hand, bank.hydrometer_reference)
    minutes = journal.readings(name, begin, end, 60)
    heat = [(bucket.temperature_max, bucket.at, "") for bucket in minutes if bucket.temperature_max is not None]
    heat += [(warmth, at, where) for warmth, at, where in warmths(hand) if begin <= at <= end]
    hottest, hottest_at, hottest_where = max(heat, default=(None, None, ""))
    width = next((width for width in WIDTHS if (end - begin) / width <= POINTS), WIDTHS[-1])
    phases = spans(events, begin, end)
    last = journal.states_at(name, [end])[0]
    started = _started(prepared, begin)

    def returned(first: float, final: float) -> tuple[float | None, float | None]:
        return _returned(journal, name, first, final, fresh=started and first <= begin)

    charge, energy = returned(begin, end)
    air = _air(journal, name, begin)
    present = end >= now
    # A danger of before the round is one of this bank still: a trip that stands, or one of the days it was made ready.
    tripping = tripped_since(events, begin if since is not None else noting)
    found = episodes([event for event in events if tripping <= event.at <= end])
    lock = memory.interlock if memory and present else None
    return Round(
        site=cabin.site,
        bank=bank,
        since=begin,
        until=end,
        last=last,
        plan=_planned(as_found(bank, hand, cells, begin), air, cabin.openings),
        air=air,
        cautions=cautions([bank]),
        curve=journal.readings(name, begin, end, width),
        phases=phases,
        totals=_totals(phases, returned),
        charge=charge,
        energy=energy,
        unknown=memory.counters.unknown_seconds / HOUR if memory and present and since is None else None,
        hold_band=hold_stretch(bank, memory.phase if memory and present else PhaseMemory()),
        gravities=cells,
        came=[event for event in hand if taken_at(event) <= begin],
        noted=[event for event in hand if taken_at(event) > begin],
        acts=acts(prepared),
        water_added=sum(sum(numbers(event).values()) for event in hand if kind_of(event) == "water"),
        warm_hours=sum(
            1 / 60
            for bucket in minutes
            if bucket.temperature_mean is not None and bucket.temperature_mean >= bank.limits.temperature_warning
        ),
        hottest=hottest,
        hottest_at=hottest_at,
        hottest_where=hottest_where,
        episodes=latched(found, lock) if lock else found,
        dangers=dangers_noted(hand_readings([event for event in events if tripping <= event.at <= end])),
        taken_back=tripped_and_taken_back([event for event in events if tripping <= event.at <= end], found),
        standing=tuple(f"{name}: {latch.reason or 'seen'}" for name, latch in lock.latched.items()) if lock else (),
        at_posts=at_the_posts(bank, memory.hand) if memory and present else "",
        up=standing_flags(memory.flags.values(), lock) if memory and lock else (),
        raised=raised(inside, end),
        proofs=[event for event in prepared if event.kind == "proof"],
        withdrawn=withdrawn(inside),
        judged=as_it_stands(bank, memory) if memory and present else as_it_stood(bank, last, inside),
    )


def _read_before(hand: Sequence[Event], earlier: Sequence[Event], begin: float) -> list[Event]:
    """Return the newest sheets of gravity of before, where none was written for this round before it began.

    Cells that were read and then began another round are how this one found them: nothing else says so.
    """
    if any(kind_of(event) == "gravity" and taken_at(event) <= begin for event in hand):
        return []
    seen: set[str] = set()
    found = []
    for event in reversed(earlier):
        cells = event.detail.get("values")
        if kind_of(event) != "gravity" or taken_at(event) <= begin - BEFORE or not isinstance(cells, Mapping):
            continue
        if not seen.issuperset(cells):
            found.append(event)
        seen.update(cells)
    return found[::-1]


def _returned(
    journal: JournalReader, bank: str, since: float, until: float, *, fresh: bool
) -> tuple[float | None, float | None]:
    """Return charge [Ah] and energy [kWh] between two moments, from the states held then; `fresh` = from nothing."""
    before, after = journal.states_at(bank, [since, until])
    if after is None:
        return None, None
    # A round starts from nothing, whatever stood there a moment before; so does a later one that begins in between.
    if before is None or fresh or (before.charge_returned or 0.0) > (after.charge_returned or 0.0):
        return after.charge_returned, after.energy
    return _less(after.charge_returned, before.charge_returned), _less(after.energy, before.energy)


def _less(after: float | None, before: float | None) -> float | None:
    """Return what came in between; what was not measured at all is not known."""
    return None if after is None else after - (before or 0.0)


def _remembered(journal: JournalReader, bank: str) -> Memory | None:
    """Return the memory, none where another version wrote it: states and events still tell the round."""
    try:
        return remembered(journal, bank)
    except JournalError:
        return None


def _round_begins(memory: Memory | None, events: Sequence[Event]) -> float | None:
    if memory is not None:
        return memory.phase.started_at
    starts = [event.at for event in events if event.kind == "command" and event.detail.get("name") == "start"]
    return max(starts, default=None)


def _started(events: Sequence[Event], begin: float) -> bool:
    return any(
        event.kind == "command" and event.detail.get("name") == "start" and abs(event.at - begin) <= 1.0
        for event in events
    )


def _totals(
    phases: Iterable[dict[str, Any]], returned: Callable[[float, float], tuple[float | None, float | None]]
) -> list[PhaseTotal]:
    """Sum up each phase in the order in which they first came; stretches that follow each other are one."""
    runs: list[tuple[str, float, float, float]] = []
    for stretch in phases:
        name, begin, end = stretch["phase"], stretch["from"], stretch["to"]
        still = end - begin if stretch["interrupted"] else 0.0
        if runs and runs[-1][0] == name and runs[-1][2] == begin:
            _, first, _, before = runs.pop()
            begin, still = first, before + still
        runs.append((name, begin, end, still))
    found: dict[str, PhaseTotal] = {}
    for name, begin, end, still in runs:
        charge, energy = returned(begin, end)
        quiet = still / HOUR if name in CHARGING else None
        so_far = found.get(name)
        if so_far is None:
            found[name] = PhaseTotal(name, (end - begin) / HOUR, quiet, charge, energy)
            continue
        found[name] = PhaseTotal(
            name,
            so_far.hours + (end - begin) / HOUR,
            _sum(so_far.still, quiet),
            _sum(so_far.charge, charge),
            _sum(so_far.energy, energy),
        )
    return list(found.values())


def _sum(first: float | None, second: float | None) -> float | None:
    return first if second is None else second if first is None else first + second


def _air(journal: JournalReader, bank: str, begin: float) -> float | None:
    """Return the air [degC] as it was shown nearest to the beginning; None where no thermometer showed it then."""
    shown = [
        (abs(state.at - begin), state.ambient)
        for state in journal.states(bank, begin - AIR_NEAR, begin + AIR_NEAR)
        if state.ambient is not None
    ]
    return min(shown)[1] if shown else None


def _planned(found: Found, air: float | None, opening: float | None) -> BankPlan:
    try:
        return plan(PlanInput((found,), ambient=air, opening=opening)).banks[0]
    except ValueError as error:  # a value outside what is known of batteries, in words
        return BankPlan(found.bank.id, (), (f"no plan can be made: {error}",), (), ())


def as_found(bank: Bank, hand: Sequence[Event], cells: dict[str, list[GravityReading]], begin: float) -> Found:
    """Return the bank as it was noted before the round began."""
    labels = {block.label for string in bank.strings for block in string}
    blocks: dict[str, float] = {}
    volts, level = None, None
    for event in hand:
        if kind_of(event) == "level" and taken_at(event) <= begin:
            level = min(numbers(event).values(), default=level)
        if kind_of(event) == "voltage" and taken_at(event) <= begin:
            values = numbers(event)
            blocks |= {where: value for where, value in values.items() if where in labels}
            volts = values.get("", volts)
    # Frost is judged by the weakest cell: a cell that nobody read, a doubted reading, and one of a cell that floats no
    # hydrometer may all be it.
    first = {
        cell: readings[0].gravity_corrected
        for cell, readings in cells.items()
        if readings[0].trusted and 0.0 <= begin - readings[0].taken_at <= GRAVITY_GOOD_FOR
    }
    known = [one for one in (first.get(cell) for cell in bank.every_cell) if one is not None]
    gravity = min(known) if len(known) == len(bank.every_cell) else None
    return Found(bank, configured(bank, None), blocks, volts, gravity, level, probe=placed(bank))


def _at_rest(event: Event, joined: float) -> bool:
    """Tell whether volts noted by hand are of rest, and of the circuit as joined at that moment [s since the epoch]."""
    values = event.detail.get("values")
    whole = isinstance(values, Mapping) and "" in values
    return not (event.detail.get("under_charge") or (whole and event.at < joined))


def noted_lately(journal: JournalReader, bank: Bank, now: float) -> Found:
    """Return the bank as people noted it since the round before, and in the last days [s since the epoch].

    The newest reading of each cell counts; volts under charge say nothing of a bank at rest, nor do volts of the whole
    circuit from before its blocks were joined as they are now.
    """
    events = journal.events(bank.id, 0.0, EVER)
    noting = began_to_note(events, now, BEFORE)
    acts = [event for event in events if event.kind == "command" and event.detail.get("name") == "arrange"]
    joined = max([event.at for event in acts], default=0.0)
    noted = hand_readings([event for event in events if noting < event.at <= now])
    hand = [event for event in noted if kind_of(event) != "voltage" or _at_rest(event, joined)]
    newest = {cell: readings[-1:] for cell, readings in gravities(hand, bank.hydrometer_reference).items()}
    return as_found(bank, hand, newest, now)
