"""What people measured and saw: kept in order, taken back by undo, and summed up for the rest of the rules."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from statistics import median

from rules.bank import Bank
from rules.events import HandReading, moment
from rules.hand import connections, gravity, gravity_trend
from rules.hand.checks import ELECTROLYTE, backward, below_plates, cells_at, measured_at
from rules.hand.level_words import bare_plates
from rules.hand.memory import Entry, HandLog
from rules.hand.seen_words import damages, deposits, gasses, located
from rules.laws import REFERENCE, water_rate

__all__ = ["Entry", "HandLog", "newest_voltages", "poured_before", "record", "rejoined"]

#: So many entries are remembered; all of them stay in the journal.
KEPT = 200
#: An entry is told by the moment at which it was taken, as exactly [s].
SAME_MOMENT = 0.001
#: Clamp readings of different strings belong together within this [s].
ONE_WALK = 3600.0


def record(
    log: HandLog,
    reading: HandReading,
    charging_seconds: float,
    gassing: float,
    under_charge: bool,
    rested_hours: float | None,
    bank: Bank | None = None,
    discharge: float = 0.0,
    gassing_seconds: float = 0.0,
) -> HandLog:
    """Return the log with one more entry, or with the last of this kind, or of these places, taken back.

    Parameters
    ----------
    log : HandLog
        So far.
    reading : HandReading
        The new entry.
    charging_seconds, gassing : float
        Counters now [s], [Ah per string].
    under_charge : bool
        Whether the bank is charging.
    rested_hours : float or None
        Since charging ended [h].
    bank : Bank, optional
        As joined now, for what depends on its cells.
    discharge, gassing_seconds : float
        Counters now [Ah], [s].

    Raises
    ------
    ValueError
        When there is nothing to take back, or a value is out of its range.
    """
    keys = (*log.keys, reading.key)[-KEPT:] if reading.key else log.keys
    if reading.undo:
        for position in range(len(log.entries) - 1, -1, -1):
            entry = log.entries[position]
            if entry.kind == reading.kind and _is_meant(entry, reading):
                stays = {where: value for where, value in entry.values.items() if where not in reading.values}
                rest = (entry._replace(values=stays),) if reading.values and stays else ()
                left = log.entries[:position] + rest + log.entries[position + 1 :]
                return _summed(left, bank, log.joined_at)._replace(keys=keys)
        of = f" of {', '.join(where or 'the bank' for where in reading.values)}" if reading.values else ""
        when = f" taken at {moment(reading.entry)}" if reading.entry else ""
        raise ValueError(f"no {reading.kind} entry{of}{when} to take back")
    entry = Entry(
        reading.kind,
        reading.taken_at,
        dict(reading.values),
        reading.temperature,
        reading.by,
        reading.note,
        charging_seconds,
        gassing,
        under_charge,
        rested_hours,
        discharge,
        gassing_seconds,
    )
    return _summed(_trimmed((*log.entries, entry)), bank, log.joined_at)._replace(keys=keys)


def _is_meant(entry: Entry, reading: HandReading) -> bool:
    """Tell whether a reading that takes one of its kind back may mean this entry, by its moment and its places."""
    of_then = not reading.entry or abs(entry.taken_at - reading.entry) < SAME_MOMENT
    return of_then and (not reading.values or not entry.values.keys().isdisjoint(reading.values))


def newest_voltages(log: HandLog, at: float) -> dict[str, float]:
    """Return volts by place, of one walk round the bank that ended at this moment [s since the epoch]."""
    found: dict[str, float] = {}
    for entry in sorted(log.entries, key=lambda entry: entry.taken_at):
        if entry.kind == "voltage" and 0.0 <= at - entry.taken_at <= ONE_WALK and entry.taken_at > log.joined_at:
            found.update({where: float(volts) for where, volts in entry.values.items() if not isinstance(volts, str)})
    return found


def poured_before(log: HandLog, at: float, bank: Bank) -> dict[str, float]:
    """Return water poured into each cell [g] within the hour before this moment [s since the epoch], as noted."""
    spans, found = bank.places, dict[str, float]()
    for entry in log.entries:
        for where, value in entry.values.items() if entry.kind == "water" else ():
            if not isinstance(value, str) and 0.0 <= at - entry.taken_at <= ONE_WALK:
                cells = cells_at(spans, where)
                found |= {cell: found.get(cell, 0.0) + value / len(cells) for cell in cells}
    return found


def rejoined(log: HandLog, at: float, bank: Bank) -> HandLog:
    """Return the log after the blocks were joined anew, like this, at this moment [s since the epoch].

    Bank volts and string amps of before say nothing more, and cells that stand aside no longer count for the bank.
    """
    return _summed(log.entries, bank, at)._replace(keys=log.keys)


def _trimmed(entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Return at most so many entries; the newest of each kind, and what forbids charging, are never those to go."""
    if len(entries) <= KEPT:
        return entries
    old = [n for n, entry in enumerate(entries) if any(entry.kind == each.kind for each in entries[n + 1 :])]
    goes = next((n for n in old if not _forbids(entries[n])), old[0])
    return entries[:goes] + entries[goes + 1 :]


def _forbids(entry: Entry) -> bool:
    """Tell whether this entry may be all that stands against charging."""
    if any(any(damages(words).values()) or bare_plates(words) for _, words in _said(entry)):
        return True
    if entry.kind == "level":
        return any(below_plates(value) for value in entry.values.values())
    return entry.kind == "voltage" and any(backward(value) for value in entry.values.values())


def _said(entry: Entry, places: Collection[str] = ()) -> list[tuple[str, str]]:
    """Return where, and in which words; what is noted without a place, and names none, is said of the whole bank."""
    seen = [(where, str(value)) for where, value in entry.values.items()] if entry.kind in ("seen", "note") else []
    told = [*seen, *([("", entry.note)] if entry.note else [])]
    return [each for where, words in told for each in located(where, words, places)]


def _gravities(entry: Entry, bank: Bank | None, before: Sequence[Entry] = ()) -> list[gravity.GravityReading]:
    """Return the readings of one entry, with what is known of the water that was added before."""
    watered = {cell: each for each in before for cell in _topped(each, bank) if each.taken_at <= entry.taken_at}
    return [
        gravity.reading(
            entry.taken_at,
            cell,
            value,
            temperature=entry.temperature,
            under_charge=entry.under_charge,
            rested_hours=entry.rested_hours,
            reference=REFERENCE if bank is None else bank.hydrometer_reference,
            watered_hours=(entry.taken_at - watered[cell].taken_at) / 3600.0 if cell in watered else None,
            stirred_hours=(entry.gassing_seconds - watered[cell].gassing_seconds) / 3600.0 if cell in watered else 0.0,
            discharge=entry.discharge,
            charged=entry.charging_seconds,
        )
        for cell, value in entry.values.items()
    ]


def _topped(entry: Entry, bank: Bank | None) -> list[str]:
    """Return cells into which this entry put water."""
    if entry.kind != "water" or bank is None:
        return []
    spans = bank.places
    poured = [where for where, value in entry.values.items() if isinstance(value, str) or value > 0.0]
    return [cell for where in poured for cell in cells_at(spans, where)]


def _summed(entries: tuple[Entry, ...], bank: Bank | None, joined_at: float) -> HandLog:
    in_order = sorted(entries, key=lambda entry: entry.taken_at)
    water = [entry for entry in in_order if entry.kind == "water"]
    log = gravity.add(
        (), [reading for entry in entries if entry.kind == "gravity" for reading in _gravities(entry, bank, water)]
    )
    last = max((entry.taken_at for entry in entries), default=0.0)
    facts = HandLog(entries=entries, gravities=log, last_at=last, joined_at=joined_at)
    facts = _of_gravity(facts, last, bank, in_order, water)
    facts = _of_looks(facts, in_order, () if bank is None else bank.places)
    facts = _of_meters(facts, in_order)
    return facts._replace(topped_up=_topped_up(in_order, bank), watered=_watered(in_order, bank))


def _of_gravity(
    facts: HandLog, last: float, bank: Bank | None, entries: list[Entry], water: Sequence[Entry]
) -> HandLog:
    log = facts.gravities
    if not log:
        return facts
    silent: set[str] = set()
    spans = bank.places if bank is not None else {}
    joined = tuple([reading for reading in log if bank is None or reading.cell in spans])
    # Under water that was just added the float tells the water: no level, no fall and no plateau.
    unmixed = {cell for cell, reading in gravity.latest_of_each(joined).items() if not reading.mixed}
    lowest = gravity.lowest(tuple([reading for reading in joined if reading.cell not in unmixed]))
    mixed = tuple([reading for reading in joined if reading.mixed])
    for entry in entries:
        for where, value in entry.values.items() if entry.kind == "seen" else ():
            gassing = gasses(str(value))
            if gassing is not None:
                cells = cells_at(spans, where)
                silent = silent.difference(cells) if gassing else silent.union(cells)
    rise, by_water = _rise(entries, spans, bank, water)
    return facts._replace(
        lowest=lowest,
        spread=gravity.spread(joined),
        apart=gravity.standing_out(joined),
        apart_doubt=gravity.spread_doubt(joined),
        trend=gravity_trend.trend_per_hour(mixed, last),
        rising=gravity_trend.still_rising(mixed, last),
        gravity_at=log[-1].taken_at,
        plateau=gravity_trend.plateau(
            tuple([reading for reading in log if reading.mixed]), cells_at(spans, ""), silent
        ),
        rise=rise,
        rise_by_water=by_water,
    )


def _rise(
    entries: list[Entry], spans: dict[str, int], bank: Bank | None, water: Sequence[Entry]
) -> tuple[float | None, float | None]:
    """Return the middle rise of gravity over all cells since their first reading, and what lost water explains [1].

    Only what was corrected to one temperature can be compared: 10 K are worth 0.007. Unmixed water says nothing.
    """
    if bank is None:
        return None, None
    electrolyte = ELECTROLYTE * min(bank.string_capacities)
    first: dict[str, tuple[float, float]] = {}
    added: dict[str, float] = {}
    newest: dict[str, tuple[float, float]] = {}
    for entry in entries:
        if entry.kind == "water":
            for where, value in entry.values.items():
                cells = cells_at(spans, where)
                for cell in cells:
                    amount = float("nan") if isinstance(value, str) else value / len(cells)
                    added[cell] = added.get(cell, 0.0) + amount
        for reading in _gravities(entry, bank, water) if entry.kind == "gravity" else ():
            if reading.gravity_corrected is None or not reading.corrected or not reading.mixed:
                continue
            if reading.cell in spans:
                lost = water_rate(entry.gassing) - added.get(reading.cell, 0.0)
                newest[reading.cell] = (reading.gravity_corrected, lost)
                first.setdefault(reading.cell, newest[reading.cell])
    rises, explained = [], []
    for cell, (value, lost) in newest.items():
        before, lost_before = first[cell]
        if first[cell] is newest[cell]:
            continue
        rises.append(value - before)
        try:
            explained.append(gravity_trend.water_loss_alone(before, electrolyte / 1000.0, lost - lost_before))
        except ValueError:  # topped up without measuring, or off the table of densities: nothing can be said
            continue
    return median(rises) if rises else None, median(explained) if len(explained) == len(rises) > 0 else None


def _of_looks(facts: HandLog, entries: list[Entry], places: Collection[str]) -> HandLog:
    """Return levels, polarity and deposits by place: a later look at the same place replaces the earlier one."""
    levels: dict[str, float | str] = {}
    volts: dict[str, float | str] = {}
    white: dict[str, float] = {}
    damaged: dict[str, set[str]] = {}
    level_at = 0.0
    for entry in entries:
        for where, words in _said(entry, places):
            damaged = _looked_over(damaged, where, _believed(damages(words), entry.charging))
            if bare_plates(words):
                levels = _levelled(levels, {where: "below-plates"}, places)
        if entry.kind == "level":
            level_at = entry.taken_at
            levels = _levelled(levels, entry.values, places)
        elif entry.kind == "voltage":
            volts = {**volts, **entry.values}
        elif entry.kind == "seen":
            for where, value in entry.values.items():
                grade = deposits(str(value))
                if grade:
                    white[where] = entry.taken_at
                elif grade == 0:
                    white = {} if not where else {place: at for place, at in white.items() if place != where}
    return facts._replace(
        level_at=level_at,
        level_wrong=", ".join(where or "the bank" for where, value in levels.items() if value == "over-mark"),
        plates_bare=", ".join(where or "the bank" for where, value in levels.items() if below_plates(value)),
        reversed_block=", ".join(where or "the bank" for where, value in volts.items() if backward(value)),
        damaged={where: ", ".join(sorted(what)) for where, what in damaged.items() if what},
        sulfated_at=min(white.values(), default=0.0),
        sulfated_where=", ".join(where or "the bank" for where in white),
    )


def _levelled(
    before: dict[str, float | str], new: dict[str, float | str], places: Collection[str]
) -> dict[str, float | str]:
    """Return levels by place after one more sheet: what was read of a whole goes once all that belongs to it is read.

    Examples
    --------
    >>> _levelled({"N1": -5.0}, {"N1.1": 12.0, "N1.2": 12.0}, {"", "N1", "N1.1", "N1.2"})
    {'N1.1': 12.0, 'N1.2': 12.0}
    >>> _levelled({"N1.2": -5.0}, {"N1": 12.0}, {"", "N1", "N1.1", "N1.2"})
    {'N1': 12.0}
    """
    if "" in new:
        return dict(new)
    old = {where: level for where, level in before.items() if where.rpartition(".")[0] not in new or "." not in where}
    levels = {where: level for where, level in old.items() if where not in new} | new  # the newest stand last
    for whole in [where for where in levels if "." not in where]:
        newer = set(list(levels)[list(levels).index(whole) + 1 :])
        cells = [cell for cell in places if "." in cell and (not whole or cell.rpartition(".")[0] == whole)]
        if cells and all(cell in newer or (not whole and cell.rpartition(".")[0] in newer) for cell in cells):
            del levels[whole]
    return levels


def _believed(found: dict[str, bool], charging: bool) -> dict[str, bool]:
    """Return what counts of a look: no post may be touched while current flows, so no joint was put right then."""
    if not charging:
        return found
    return {what: there for what, there in found.items() if there or what not in connections.FAULTS}


def _looked_over(before: dict[str, set[str]], where: str, found: dict[str, bool]) -> dict[str, set[str]]:
    """Return damage by place after one more look; what is denied of a place is denied of all that belongs to it."""
    gone = {what for what, there in found.items() if not there}
    after = {
        place: what - gone if not where or place == where or place.startswith(f"{where}.") else what
        for place, what in before.items()
    }
    there = {what for what, seen in found.items() if seen}
    return {**after, where: after.get(where, set()) | there} if there else after


def _of_meters(facts: HandLog, entries: list[Entry]) -> HandLog:
    """Keep what stands for a meter that does not exist: volts, warmth, string amps."""
    strings: dict[str, tuple[float, float, float]] = {}
    walks: dict[str, dict[str, tuple[float, float]]] = {"cell": {}, "case": {}}
    for entry in entries:
        at, value = entry.taken_at, entry.values.get("")
        number = value if isinstance(value, float | int) else None
        as_now = at > facts.joined_at
        if entry.kind == "voltage" and number is not None and as_now:
            facts = facts._replace(voltage=float(number), voltage_at=at)
        warmth = number if entry.kind == "temperature" else entry.temperature
        if warmth is not None:
            facts = facts._replace(temperature=float(warmth), temperature_at=at)
            walks["cell"] = {}
        told = entry.values if entry.kind == "temperature" else {}
        for where, degrees in told.items():
            if where and not isinstance(degrees, str):
                # The hottest of one walk; whoever feels one again knows how it is now.
                what = measured_at(where)
                walk_now = {**walks[what], where: (float(degrees), at)}
                walks[what] = {place: seen for place, seen in walk_now.items() if at - seen[1] < ONE_WALK}
                hottest = max(warm for warm, _ in walks[what].values())
                if what == "case":
                    facts = facts._replace(case=hottest, case_at=at)
                else:
                    facts = facts._replace(temperature=hottest, temperature_at=at)
        if entry.kind == "string_amps" and as_now:
            for where, amps in entry.values.items():
                if not isinstance(amps, str):
                    strings[where] = (float(amps), at, entry.charging_seconds)
    if strings:
        newest = max(at for _, at, _ in strings.values())
        walk = sorted((int(where), told) for where, told in strings.items() if newest - told[1] < ONE_WALK)
        facts = facts._replace(
            string_amps=tuple([told[0] for _, told in walk]),
            string_amps_after=min(told[2] for _, told in walk),
            string_amps_at=newest,
        )
    return facts


def _watered(entries: list[Entry], bank: Bank | None) -> dict[str, float]:
    """Return when water was last added to each cell [s since the epoch]."""
    return {cell: entry.taken_at for entry in entries for cell in _topped(entry, bank)}


def _topped_up(entries: list[Entry], bank: Bank | None) -> float:
    """Return gassing charge at the last top-up of the cell that needs water most [Ah per string].

    Water that was measured makes good for as much as it is; a top-up by eye, or one of more than was lost, for all.
    """
    spans = bank.places if bank is not None else {"": 1, ".": 1}
    topped = dict.fromkeys(cells_at(spans, ""), 0.0)
    for entry in entries:
        for where, value in entry.values.items() if entry.kind == "water" else ():
            cells = cells_at(spans, where)
            for cell in cells:
                made_good = entry.gassing
                if bank is not None and not isinstance(value, str):
                    made_good = min(made_good, topped[cell] + value / len(cells) / water_rate(1.0))
                topped[cell] = made_good
    return min(topped.values(), default=0.0)
