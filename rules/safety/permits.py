"""What the permit is withheld for: it comes back by itself when all is well again."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from rules.bank import QUANTITIES, Bank, Meter
from rules.bank_view import View
from rules.events import moment
from rules.hand import BACKWARD, HandLog, below_plates, connections
from rules.laws import water_rate
from rules.meters import (
    AGREES,
    GRACE,
    NEVER,
    STUCK_CURRENT,
    Counters,
    Thermal,
    Trace,
    missed_the_heat,
    silence_limit,
    stuck,
    stuck_current,
)
from rules.phase import HELD, LONGEST, PhaseMemory
from rules.safety.state import Excused, Finding, Interlock

#: Colder than any probe [degC].
NO_HEAT = -273.15
#: Always needed, and needed where the cabin file maps them.
ALWAYS_NEEDED = ("voltage", "electrolyte_temperature")
NEEDED_WHERE_MAPPED = ("current", "hydrogen", "fan")
#: A cell stands between these at rest and on charge: a voltmeter that shows as much of two halves spans both
#: [V per cell] (common practice, no source).
WHOLE_LEAST, WHOLE_MOST = 1.75, 2.9
#: Share of the water above the plates that may be used before charging stops, and before a top-up is due [1].
RESERVE_USED, TOP_UP_AT = 0.80, 0.50
#: Longest round [s]; most charge returned as a multiple of the rated capacity [1], and for how much charging nothing
#: may have moved beside it [s]: second rounds of banks with two strings pass three times while they still gain. After a
#: person's word a round may go on for so long more [s]. Common practice, no source.
LONGEST_ROUND, MOST_RETURNED, UNMOVED, EXTENSION = LONGEST * 3600.0, 3.0, 24 * 3600.0, 86400.0
#: No bank takes so much while its cells stand so low for so long: even a dead one is lifted within minutes of the first
#: amps, and a shorted cell drags the mean down, never all of it. Then volts or amps are not what the file calls them
#: (common practice, no source) [V per cell], [share of C20 as amps], [s].
IMPOSSIBLE_CELL, IMPOSSIBLE_SHARE, IMPOSSIBLE_FOR = 1.0, 0.02, 180.0


def water_used(counters: Counters, topped_up_at: float = 0.0) -> float:
    """Return water one cell has lost since the last top-up [g]; `topped_up_at` is the gassing charge of then [Ah]."""
    return water_rate(max(0.0, counters.gassing - topped_up_at))


def meter_findings(
    bank: Bank,
    traces: dict[str, Trace],
    view: View,
    thermal: Thermal,
    counters: Counters,
    phase: PhaseMemory,
    began_at: float,
    at: float,
    bypasses: Mapping[str, float] = MappingProxyType({}),
) -> tuple[Finding | None, Finding | None, dict[str, bool]]:
    """Return silent and suspect meters, and the quantities of which nothing fresh is left [s since the epoch].

    A thermometer whose silence is excused by its name counts no more with what it showed last; the others go on.

    Returns
    -------
    tuple
        Finding for `meter-silent`, finding for `meter-suspect`, and the needed quantities that are not known now, each
        with whether that is because a meter speaks but cannot be believed.
    """
    silent = suspect = None
    missing: dict[str, bool] = {}
    for quantity in (*ALWAYS_NEEDED, *NEEDED_WHERE_MAPPED):
        meters = bank.by_quantity.get(quantity, ())
        alive = doubted = False
        hottest = gone = NO_HEAT
        for meter in meters:
            trace = traces.get(meter.name, NEVER)
            if quantity == "current":
                frozen = _ammeter_stands(bank, meter, trace, traces, thermal, phase)
            else:
                frozen = stuck(bank, meter, trace, thermal, counters, at) or (
                    # Below the equalising voltage another string may wake where this probe is not.
                    quantity == "electrolyte_temperature"
                    and phase.phase in HELD
                    and missed_the_heat(bank, traces, trace, thermal)
                )
            if frozen or trace.suspect_since:
                doubted = True
                suspect = suspect or _doubted(bank, meter, trace, frozen)
            if view.lives(meter):
                alive = alive or not frozen
                hottest = max(hottest, trace.value)
            elif trace.at:
                gone = max(gone, trace.value if bypasses.get(meter.name, 0.0) <= at else NO_HEAT)
                # One that has spoken since the bridge came up, only of long ago, had its time.
                limit = min(silence_limit(meter, trace), GRACE if trace.heard_at > began_at else math.inf)
                if not trace.suspect_since:
                    unheard = _unheard(meter, trace, at - trace.at, limit)
                    # One whose silence may be the bridge's own never hides one that speaks no more.
                    if silent is None or (bridge_was_away(silent, began_at, at) and unheard.value):
                        silent = unheard
            elif at - began_at > _grace(meter) and not trace.suspect_since:
                never = Finding(at - began_at, _grace(meter), "s", f"{meter.words}: never seen ({meter.source})")
                silent = never if silent is None or bridge_was_away(silent, began_at, at) else silent
        # The hotter of two probes counts, and it goes on counting when it falls silent.
        if quantity == "electrolyte_temperature" and gone > hottest - AGREES:
            alive = False
        if not alive and (meters or quantity in ALWAYS_NEEDED):
            missing[quantity] = doubted
    return silent, suspect, missing


def bridge_was_away(silent: Finding, began_at: float, at: float) -> bool:
    """Tell whether a meter was last heard before the bridge came up [s], and has not had its own time to speak since.

    Examples
    --------
    A meter that speaks every five minutes is silent after fifteen; the bridge came up four minutes ago:

    >>> [bridge_was_away(Finding(1000.0, limit, "s"), 0.0, 240.0) for limit in (900.0, 60.0)]
    [True, False]
    """
    up = at - began_at
    return silent.value is not None and silent.value > up and up <= max(GRACE, silent.limit or 0.0)


def _grace(meter: Meter) -> float:
    """Return how long a meter that was never seen is waited for after a start [s]."""
    return max(GRACE, silence_limit(meter, NEVER)) if meter.period else GRACE


def _ammeter_stands(
    bank: Bank, meter: Meter, trace: Trace, traces: dict[str, Trace], thermal: Thermal, phase: PhaseMemory
) -> bool:
    """Tell whether an ammeter is stuck, or was found to be and has not moved since."""
    if trace.at - trace.changed_at < STUCK_CURRENT:
        return False
    return trace.stuck_at == trace.changed_at or stuck_current(
        bank, meter, traces, thermal, phase.woken, phase.live.amp_noise, phase.track.bins
    )


def remember_stuck(bank: Bank, traces: dict[str, Trace], thermal: Thermal, phase: PhaseMemory) -> dict[str, Trace]:
    """Return the meters' past in which ammeters that are stuck are marked: they are until they move.

    What shows it, a voltage that fell or the hours before, is forgotten after hours; the meter is no better for that.
    """
    marked = {
        meter.name: trace._replace(stuck_at=trace.changed_at)
        for meter in bank.by_quantity.get("current", ())
        if (trace := traces.get(meter.name, NEVER)).changed_at > trace.stuck_at
        and _ammeter_stands(bank, meter, trace, traces, thermal, phase)
    }
    return {**traces, **marked} if marked else traces


def impossible(bank: Bank, view: View) -> Finding | None:
    """Find volts and amps that no battery shows together, with the two mappings to look at.

    Only what meters measure counts: hand readings may be hours apart.
    """
    if view.current is None or view.volts_per_cell is None or view.voltage_by_hand or view.estimated:
        return None
    if view.current < IMPOSSIBLE_SHARE * bank.capacity or view.volts_per_cell >= IMPOSSIBLE_CELL:
        return None
    mapped = [
        f"{meter.words} ({meter.source})"
        for quantity in ("voltage", "current")
        for meter in bank.by_quantity.get(quantity, ())[:1]
    ]
    reason = (
        f"{view.current:.1f} A cannot flow into cells at {view.volts_per_cell:.2f} V: look at unit, scale and topic of "
        f"{' and of '.join(mapped)}, and at blocks"
    )
    return Finding(view.volts_per_cell, IMPOSSIBLE_CELL, "V", reason)


def _unheard(meter: Meter, trace: Trace, age: float, limit: float) -> Finding:
    """Return how long a meter has been silent [s]; one that spoke just now told of what was before."""
    said = f"{meter.words} ({meter.source})"
    if trace.retained and age <= limit:
        before = "what it said last was kept by the broker, or said before the blocks were joined anew"
        return Finding(reason=f"{said}: {before}; its next value is waited for")
    return Finding(age, limit, "s", f"{said} not heard since {moment(trace.at)}")


def _on_the_whole(bank: Bank, meter: Meter, trace: Trace) -> str:
    """Say that a voltmeter still spans the halves that were split, where its volts fit them together; else nothing."""
    volts = trace.doubtful / (2 * bank.cells)  # a split halves every string
    if meter.quantity != "voltage" or not bank.aside or not WHOLE_LEAST <= volts <= WHOLE_MOST:
        return ""
    part = " | ".join(" ".join(block.label for block in string) for string in bank.strings)
    return (
        f"{meter.words} ({meter.source}): {trace.doubtful:g} V is no half's: this meter still measures the whole bank; "
        f"with the charger off put its leads across the part that is charged ({part}), or note the split undone with "
        "`revival arrange rejoin`"
    )


def _doubted(bank: Bank, meter: Meter, trace: Trace, frozen: bool) -> Finding:
    """Return why a meter is not believed, and which line of the cabin file may mend it."""
    unit = QUANTITIES[meter.quantity].unit
    degrees = " degC" if unit == "degC" else ""
    if frozen and meter.quantity == "current":
        why = (
            f"{meter.words}: stuck: {meter.source or 'its meter'} used to flicker and has told {trace.value:g} A to "
            f"the last digit since {moment(trace.changed_at)}, as no bank takes it at such a voltage"
        )
        return Finding(trace.value, None, unit, why)
    if frozen:
        return Finding(trace.value, None, unit, f"{meter.words}: stuck")
    if whole := _on_the_whole(bank, meter, trace):
        return Finding(trace.doubtful, None, unit, whole)
    if trace.reason == "unit":
        why = f"{meter.words}: unit: {meter.source} says {trace.doubtful:g}{degrees}, check unit of its [[bank.meter]]"
        return Finding(trace.doubtful, None, unit, why)
    return Finding(trace.doubtful, None, unit, f"{meter.words}: {trace.reason}")


def noted(bank: Bank, hand: HandLog, view: View) -> dict[str, Finding]:
    """Return what people noted, or meters of blocks and levels show, that forbids charging now.

    Only of blocks in the circuit: what is taken out of it forbids nothing more.

    Returns
    -------
    dict of Finding
        Flag name -> where.
    """
    found: dict[str, Finding] = {}
    bare = _here(bank, hand.plates_bare)
    for meter, value in view.living.get("level", ()):
        if below_plates(value):
            bare.append(f"{meter.index or 'the bank'} ({value:.0f} mm)")
    if bare:
        found["plates-bare"] = Finding(reason=f"level at or below the plates at {', '.join(bare)}")
    backward = _here(bank, hand.reversed_block)
    for quantity in ("block_voltage", "cell_voltage"):
        for meter, value in view.living.get(quantity, ()):
            if value < BACKWARD and _wired(bank, meter.index):
                backward.append(f"{meter.index or 'a block'} ({value:.1f} V)")
    if backward:
        found["polarity-reversed"] = Finding(reason=f"polarity of {', '.join(backward)}")
    for flag, of_connections in (("case-damaged", False), ("connection-bad", True)):
        if damaged := [f"{what} at {where or 'the bank'}" for where, what in _damaged(bank, hand, of_connections)]:
            found[flag] = Finding(reason=f"somebody noted: {', '.join(damaged)}")
    return found


def _damaged(bank: Bank, hand: HandLog, of_connections: bool) -> list[tuple[str, str]]:
    """Return where in the circuit, and what, of the cases or of the connections."""
    found = []
    for where, what in hand.damaged.items() if hand.damaged else ():
        these = [each for each in what.split(", ") if (each in connections.FAULTS) is of_connections]
        if these and _wired(bank, where):
            found.append((where, ", ".join(these)))
    return found


def at_the_posts(bank: Bank, hand: HandLog) -> str:
    """Return what a person noted at the posts that forbids charging; empty where nothing is.

    Objective: nobody is at the posts when the relay closes. Is: whoever notes that a crack, a bare plate or a wrong
    polarity is gone stands there, so the permit returns by `resume`, an act of its own. Is not: what a meter shows,
    which comes and goes with nobody there, and lets the permit return by itself.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0),),))
    >>> at_the_posts(bank, HandLog(damaged={"N1": "crack"})), at_the_posts(bank, HandLog())
    ('crack at N1', '')
    """
    said = [f"{what} at {where or 'the bank'}" for where, what in hand.damaged.items() if _wired(bank, where)]
    said += [f"bare plates at {place}" for place in _here(bank, hand.plates_bare)]
    return ", ".join([*said, *[f"wrong polarity of {place}" for place in _here(bank, hand.reversed_block)]])


def put_right(bank: Bank, hand: HandLog) -> str:
    """Say how what was noted at the posts is put right, and in which words it is noted gone; empty where nothing is.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> bank = Bank("north", ((Block("N1", 3, 200.0),),))
    >>> put_right(bank, HandLog(reversed_block="N1"))
    'put the leads or the block right, then note its volts with `revival record voltage north N1=VOLTS`'
    """
    said = []
    for where, _ in _damaged(bank, hand, of_connections=True):
        words = f"{where} tightened".strip()
        said.append(
            "charger off, an hour of air, let the connection cool, then clean and tighten it, or replace it where it "
            f'is damaged; then note `revival record seen {bank.id} "{words}"`'
        )
    for where, what in _damaged(bank, hand, of_connections=False):
        named = f"{where} " if where else ""
        words = f"{named}{', '.join(f'{each} gone' for each in what.split(', '))}"
        if "frozen" in what:
            words = f"{named}thawed, no cracks, no leaks"
        case = "thaw it slowly and look it over" if what == "frozen" else "replace that block, its case is never mended"
        said.append(f'{case}; once it is replaced, or found sound, note `revival record seen {bank.id} "{words}"`')
    for place in _here(bank, hand.plates_bare):
        named = "10mm" if place == "the bank" else f"{place}=10mm"
        said.append(
            f"cover the plates with distilled water, then note the level with `revival record level {bank.id} {named}`"
        )
    for place in _here(bank, hand.reversed_block):
        named = "VOLTS" if place == "the bank" else f"{place}=VOLTS"
        said.append(
            f"put the leads or the block right, then note its volts with `revival record voltage {bank.id} {named}`"
        )
    return "; ".join(said)


def _here(bank: Bank, where: str) -> list[str]:
    """Return places of a list in words that are in the circuit."""
    return [place for place in where.split(", ") if place and (place == "the bank" or _wired(bank, place))]


def _wired(bank: Bank, where: str) -> bool:
    """Tell whether a place, a block or one of its cells, is in the circuit; the whole bank always is."""
    return not where or where in bank.labels or where.rpartition(".")[0] in bank.labels


def charge_limit(
    bank: Bank, counters: Counters, phase: PhaseMemory, at: float, extended_until: float = 0.0
) -> Finding | None:
    """Return which limit is reached: longest hold, longest round, or most charge for a bank that stopped responding.

    Both moments [s since the epoch]: now, and until when a person has extended the round, though never its hold.
    """
    most_hold = bank.hold.maximum * 3600.0
    if phase.hold_seconds > most_hold + 60.0:
        return Finding(phase.hold_seconds / 3600.0, bank.hold.maximum, "h", "longest hold")
    if at < extended_until:
        return None
    if phase.started_at is not None and at - phase.started_at > LONGEST_ROUND:
        return Finding((at - phase.started_at) / 86400.0, LONGEST_ROUND / 86400.0, "d", "longest round")
    unmoved = phase.track.still_seconds
    if counters.charge > MOST_RETURNED * bank.capacity and unmoved >= UNMOVED:
        why = f"most charge returned, and for {unmoved / 3600.0:.0f} charging hours nothing has moved"
        return Finding(counters.charge, MOST_RETURNED * bank.capacity, "Ah", why)
    return None


#: Quantity -> the danger that nobody watches for while its silence is excused.
WATCHED_BY: dict[str, str] = {
    "voltage": "over-voltage, and a thermal runaway",
    "current": "over-current and a thermal runaway, and whether the current went when the relay opened",
    "power": "over-current and a thermal runaway, and whether the current went when the relay opened",
    "ac_power": "over-current and a thermal runaway, and whether the current went when the relay opened",
    "ac_current": "over-current and a thermal runaway, and whether the current went when the relay opened",
    "string_current": "a string that takes more than its share",
    "electrolyte_temperature": "over-temperature, and a thermal runaway",
    "block_voltage": "a shorted cell, and a block that is joined backward",
    "cell_voltage": "a shorted cell, and a cell that is joined backward",
    "midpoint_voltage": "a shorted cell",
    "hydrogen": "gas",
    "fan": "gas: whether the air moves",
    "level": "plates that fall dry",
    "relay_state": "a relay that disobeys",
}


def excuses(bank: Bank, lock: Interlock, view: View) -> Interlock:
    """Return the state with each excuse ended whose meter is gone from the cabin file, or speaks again."""
    if not lock.bypasses:
        return lock
    stay: dict[str, Excused] = {}
    for name in lock.bypasses:
        meter = metered_by(bank, name)
        before = lock.excused.get(name, Excused("" if meter is None else meter.source))
        if meter is None or before.source != meter.source or (before.silent and view.lives(meter)):
            continue
        stay[name] = before._replace(silent=not view.lives(meter))
    if stay == lock.excused and len(stay) == len(lock.bypasses):
        return lock
    return lock._replace(bypasses={name: lock.bypasses[name] for name in stay}, excused=stay)


def metered_by(bank: Bank, name: str) -> Meter | None:
    """Return the meter of a name, or the only one of a quantity."""
    alike = bank.by_quantity.get(name, ())
    return bank.by_name.get(name) or (alike[0] if len(alike) == 1 else None)


def _all_excused(bank: Bank, quantity: str, bypasses: Mapping[str, float], at: float) -> bool:
    """Tell whether the silence of every meter of a quantity is excused now [s since the epoch]."""
    alike = bank.by_quantity.get(quantity, ())
    if len(alike) <= 1:
        return max([bypasses.get(name, 0.0) for name in (quantity, *[each.name for each in alike])]) > at
    return all(bypasses.get(meter.name, 0.0) > at for meter in alike)


def excused_now(bank: Bank, bypasses: Mapping[str, float], at: float) -> list[str]:
    """Say of each bypass that lasts [s since the epoch] what it excuses, and who watches meanwhile.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> kind = "electrolyte_temperature"
    >>> probes = [Meter(kind + name, kind, source=f"shed/probe{name}") for name in ("", "#2")]
    >>> bank = Bank("north", ((Block("N1", 3, 200.0),),), meters=tuple(probes))
    >>> excused_now(bank, {kind + "#2": 1795590000.0}, 1795589000.0)[0].partition(" excused until ")[2]
    '2026-11-25T07:00Z, that of shed/probe#2 alone; while it is silent only the others watch for over-temperature, and \
a thermal runaway'
    """
    said = []
    for name, until in sorted(bypasses.items()):
        if until <= at:
            continue
        meter = metered_by(bank, name)
        several = meter is not None and len(bank.by_quantity[meter.quantity]) > 1
        alone = meter is not None and several and not _all_excused(bank, meter.quantity, bypasses, at)
        said.append(excused(name, until, meter.source if meter is not None and several else "", alone=alone))
    return said


def excused(quantity: str, until: float, source: str = "", *, alone: bool = False) -> str:
    """Say of a bypass what it excuses, until when [s since the epoch], and which danger nobody watches meanwhile.

    Of several alike `source` says which it is, and `alone` that others of them are not excused.

    Examples
    --------
    >>> excused("fan", 1795590000.0)
    'silence of fan excused until 2026-11-25T07:00Z; where it is silent nobody watches for gas: whether the air moves'
    >>> excused("electrolyte_temperature#2", 1795590000.0)[:68]
    'silence of electrolyte temperature (meter 2) excused until 2026-11-2'
    """
    kind = quantity.partition("#")[0].partition(":")[0]
    said = f"silence of {Meter(quantity, kind, quantity.partition('#')[0].partition(':')[2]).words} excused "
    said += f"until {moment(until)}"
    said += f", that of {source}{' alone' if alone else ''}" if source else ""
    danger = WATCHED_BY.get(kind)
    if danger is None:
        return said
    who = "while it is silent only the others watch" if alone else "where it is silent nobody watches"
    return f"{said}; {who} for {danger}"


def obstacles(
    bank: Bank,
    started: bool,
    phase: PhaseMemory,
    missing: dict[str, bool],
    bypasses: dict[str, float],
    silent: Finding | None,
    suspect: Finding | None,
    limits: dict[str, Finding],
    at: float,
) -> dict[str, Finding]:
    """Return everything that stands against the permit now [s since the epoch], the one to name first in front.

    A bypass excuses silence only, and only until its time is over.
    """
    found: dict[str, Finding] = {}
    if phase.hold_complete:
        found["hold-complete"] = Finding(reason="the hold is complete")
    elif phase.phase in ("resting", "testing", "finished"):
        found["not-started"] = Finding(reason="the round was finished before its hold was complete")
    elif not started:
        found["not-started"] = Finding(reason="no round was started")
    # A meter that speaks but cannot be believed is not silent: nothing excuses it.
    unknown = sorted(
        quantity for quantity, doubted in missing.items() if doubted or not _all_excused(bank, quantity, bypasses, at)
    )
    if unknown:
        name = "meter-suspect" if suspect is not None and silent is None else "meter-silent"
        base = suspect if name == "meter-suspect" else silent
        found[name] = base or Finding(reason=f"no fresh reading of {', '.join(unknown).replace('_', ' ')}")
    found.update(limits)
    return found
