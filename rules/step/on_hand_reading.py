"""What a person measured or saw, taken into the memory: it counts until a meter says it better."""

from __future__ import annotations

from collections.abc import Mapping

from rules.advice import ChargerNow, not_off
from rules.bank import CURRENT_QUANTITIES, Bank, Meter
from rules.bank_view import View
from rules.events import Event, HandReading, Outcome, moment
from rules.hand import (
    FIRE,
    REASONS,
    SAME_MINUTES,
    WATERED,
    Entry,
    HandLog,
    Shown,
    as_meant,
    asks,
    beside_the_block_meters,
    beside_the_meter,
    beside_the_whole,
    cautions,
    check,
    cooled_fast,
    damages,
    dangers,
    differs_from_the_meter,
    doubt,
    frozen_solid,
    in_doubt,
    located,
    may_mean_another,
    meant,
    measured_at,
    other_scale,
    poured_again,
    raised_early,
    spelled_out,
    strange_amps,
    strange_charger,
    strange_gravity,
    strange_outlet,
    strange_volts,
    worries,
)
from rules.hand import log as handlog
from rules.laws import END_VOLTAGE, current_from_ac
from rules.meters import FLOWS, HAND_GAP, LARGEST_ZERO, Counters, Sample, integrate
from rules.safety import (
    FIRE_NOTED,
    NOTED_BY_A_PERSON,
    OVER_CURRENT_FACTOR,
    SOMEBODY_NOTED,
    TAKEN_BACK,
    Finding,
    Interlock,
    Latch,
    Pending,
    forget,
    freezes_at,
    hazards,
    known_acid,
    note,
    over_limit,
)
from rules.step.charger_seen import charger
from rules.step.gas import NO_GAS, gas_share
from rules.step.memory import Memory, view_of
from rules.step.rewire import BY_HAND_OF_STRINGS
from rules.step.still_stands import still_stands
from rules.verdict import CapacityTest

Outcomes = tuple[Memory, tuple[Outcome, ...]]
#: Charging so shortly before still counts as under charge for a hydrometer [h]; so shortly as still going on [s].
SETTLING, GOING_ON = 6.0, 120.0
#: The bank's volts per cell under an AC reading that came without any [V]; common practice, no source.
ASSUMED = 2.25
#: A reading entered so long after it was taken is history, not a danger now [s].
PRESENT = 3600.0
#: Between the reason of a trip and what was read by hand since.
OTHERWISE = "; yet at "
#: What somebody smelled or felt may still be so after this time [s]; common practice, no source.
NOTICED = 24 * 3600.0
#: Neighbours read so long before are compared with [s]; common practice, no source.
ALIKE_FOR = 86400.0
#: Water poured so shortly before a cell was read mixes in after it [s] (assumed).
POURED = 3600.0
#: The same sheet of hydrometer readings within this is one walk sent twice, by a page loaded again or a second tap:
#: nobody reads a bank anew so soon and finds each digit as it was [s] (assumed).
SAME_WALK = 600.0
#: One cell read again may well read the same: only a sheet of so many is taken for one sent twice [1] (assumed).
SHEET = 2
#: So many cells are named in one line.
NAMED = 6
#: How a danger is said so that it is understood.
SAY_IT = (
    "where it may be a danger switch the charger off at the wall, then say it as one of smell, fire, smoke, spark, "
    "hot, hissing, acid sprays, cracked, leaks, bulging, frozen, plates dry, post hot, terminal loose, cable cracked; "
    'where nothing is wrong say "all well"'
)
#: What is said first of a heat that is doubted, and what is done where it was a slip after all.
SWITCH_OFF_FIRST = "over the limit, so switch the charger off at the wall first, then read it again"
IF_A_SLIP = (
    "It is taken as the danger that it may be, for a probe sits in one cell only; where it was a slip take it back "
    "with `revival record temperature --undo` and give `revival reset`"
)


def record(configured: Bank, bank: Bank, memory: Memory, reading: HandReading) -> Outcomes:
    """Take in what a person measured or saw, once, or take an entry back: the last of its kind, or the one named.

    Parameters
    ----------
    configured, bank : Bank
        As in the cabin file, and as its blocks are joined now.
    memory : Memory
        So far.
    reading : HandReading
        Canonical units; refused with the reason where it cannot be.

    Returns
    -------
    tuple
        New memory and what is to be told. Flags and permit are judged afterwards, by the caller.
    """
    if reading.key and reading.key in memory.hand.keys:
        return memory, ()
    if (twin := _twin(memory.hand, reading)) is not None:
        return _noted_already(memory, reading, twin)
    counters, view = memory.counters, view_of(bank, memory, reading.at)
    charging, rested = _charge_before(memory, reading.taken_at)
    under = charging or (rested is not None and rested < SETTLING)
    try:
        check(configured, reading)
        apart = beside_the_meter(bank, reading, _metered(view))
        volts_apart = beside_the_block_meters(reading, _block_volts(view))
        noted = handlog.newest_voltages(memory.hand, reading.taken_at)
        whole_apart = beside_the_whole(bank, reading, None if view.voltage_by_hand else view.voltage, noted)
        beside = _beside_the_charger(memory, view, charging)
        strange = _strange(configured, memory, reading, view, beside)
        amps = strange_amps(bank, reading, _metered(view), OVER_CURRENT_FACTOR * bank.string_current_limit)
        outlet = strange_outlet(bank, reading, None if view.voltage_by_hand else view.voltage, _metered(view))
        why = "; ".join([each for each in (*strange, amps, outlet, volts_apart, whole_apart) if each])
        why = f"{SWITCH_OFF_FIRST}: {why}" if (hot := bool(why) and _too_hot(configured, reading)) else why
        if why and not reading.sure and not _taken_at_once(bank, reading, why == whole_apart, charging, hot):
            asked = {"name": f"record {reading.kind}", "why": why, **_as_meant(reading)}
            return memory, (Event(reading.bank, "unsure", reading.at, asked),)
        hand = handlog.record(
            memory.hand, reading, counters.charging_seconds, counters.gassing, under, rested, bank, counters.discharge,
            counters.gassing_seconds,
        )  # fmt: skip
    except ValueError as error:
        refused = {"name": f"record {reading.kind}", "by": reading.by, "why": str(error)}
        return memory, (Event(reading.bank, "refused", reading.at, refused),)
    gone, later = _gone(memory.hand, hand, reading)
    of_amps = reading.kind in ("amps", "string_amps") and (
        not any(entry.kind == reading.kind for entry in later)
        if reading.undo
        else reading.at - reading.taken_at <= SAME_MINUTES
    )
    hand = hand._replace(counted=memory.hand.counted, amps_apart=apart if of_amps else memory.hand.amps_apart)
    if reading.undo:
        hand, counters = _uncounted(hand, counters, memory.hand)
    else:
        hand, counters = _counted(bank, memory, view, hand, reading)
    if not view.values("voltage") and (volts := hand.voltage_now(reading.at)):
        counters = counters._replace(voltage=volts)
    detail: dict[str, object] = {
        "kind": reading.kind,
        "taken_at": reading.taken_at,
        "values": dict(reading.values),
        "temperature": reading.temperature,
        "under_charge": under,
        "rested_hours": None if rested is None else round(rested, 2),
        "by": reading.by,
        "note": reading.note,
        "undo": reading.undo,
        **({"key": reading.key} if reading.key else {}),
        **({"entry": reading.entry} if reading.entry else {}),
    }
    if said := _said_at_once(configured, bank, memory, view, hand, reading, beside, charging):
        detail["cautions"] = said
    doubted = f"{why}. {IF_A_SLIP}" if hot and not reading.sure else ""
    if contradicts := doubted or _beside(apart, volts_apart, whole_apart):
        detail["beside"] = contradicts
    if gone is not None:
        detail["gone"] = {"taken_at": gone.taken_at, "values": dict(gone.values), "note": gone.note}
        memory = memory._replace(interlock=_taken_back(configured, memory.interlock, gone, hand))
    # Elsewhere nobody knows how long the water was stirred.
    if reading.kind == "gravity" and (unmixed := _unmixed(hand, reading)) and not reading.undo:
        detail["unmixed"] = unmixed
    read = _read(reading.kind, reading.values, reading.temperature)
    if gone is not None:
        read = _read_before(hand, gone, later, reading)
    pending = _dangers(configured, _noticed(configured, memory.pending, reading), reading, read)
    pending = _in_strings(bank, pending, hand, reading, charging, volts_apart)
    lock = memory.interlock
    memory = memory._replace(
        hand=hand,
        counters=counters,
        interlock=lock._replace(latched=_read_again(lock.latched, memory.pending, pending, reading)),
        pending=pending,
        test=_fallen(bank, memory, reading),
        sampled=True,
        shown="",  # whoever noted something sees at once what follows from it
    )
    return memory, (Event(reading.bank, "hand", reading.at, detail),)


def _charge_before(memory: Memory, at: float) -> tuple[bool, float | None]:
    """Return whether it was charged at a moment [s since the epoch], and how long it had rested then [h]."""
    last = memory.charged_before if at < memory.begun_at else memory.charged_at
    charging = last > 0.0 and at - last < GOING_ON
    return charging, (at - last) / 3600.0 if last and not charging else None


def _twin(hand: HandLog, reading: HandReading) -> Entry | None:
    """Return the sheet of gravities that this one repeats; None where anything differs, or water was poured since."""
    if reading.kind != "gravity" or reading.undo or len(reading.values) < SHEET:
        return None
    last = next((entry for entry in reversed(hand.entries) if entry.kind in ("gravity", "water")), None)
    if last is None or last.kind != "gravity" or abs(reading.taken_at - last.taken_at) > SAME_WALK:
        return None
    told = (dict(reading.values), reading.temperature, reading.by, reading.note)
    return last if told == (last.values, last.temperature, last.by, last.note) else None


def _noted_already(memory: Memory, reading: HandReading, twin: Entry) -> Outcomes:
    """Say when it was noted, and know it if it is sent once more: nothing is counted twice."""
    keys = (*memory.hand.keys, reading.key)[-handlog.KEPT :] if reading.key else memory.hand.keys
    told = {"kind": reading.kind, "noted_at": twin.taken_at, "by": reading.by}
    event = Event(reading.bank, "hand-again", reading.at, {**told, **({"key": reading.key} if reading.key else {})})
    return memory._replace(hand=memory.hand._replace(keys=keys)), (event,)


def _said_at_once(
    configured: Bank,
    bank: Bank,
    memory: Memory,
    view: View,
    hand: HandLog,
    reading: HandReading,
    beside: Shown,
    charging: bool,
) -> tuple[str, ...]:
    """Return what whoever noted something hears at once, whatever follows from it."""
    now = charger(bank, memory, memory.interlock, view, reading.at)
    probes = tuple(view.values("electrolyte_temperature"))
    keep_out = f"before {moment(now.out_until, up=True)}" if now.out_until else ""
    if now.burning == "fire":
        keep_out = "before the fire service says so"
    said = cautions(configured, reading, probes, _before_a_cell_is_opened(now, memory, charging), keep_out)
    early, differs = raised_early(reading, beside), differs_from_the_meter(bank, reading, _metered(view))
    off = ""
    if reading.kind == "charger" and not reading.undo and reading.values.get("volts") == 0.0:
        noted = charger(bank, memory._replace(hand=hand), memory.interlock, view, reading.at)
        off = not_off(noted, view.current, LARGEST_ZERO * bank.capacity)
    return (
        *said,
        *[each for each in (off, early, differs) if each],
        *_not_true_yet(hand, reading),
        *still_stands(bank, memory, hand, reading, now),
    )


def _unmixed(hand: HandLog, reading: HandReading) -> dict[str, str]:
    """Return which cells of a sheet were read under water that is not mixed yet, and why that does not count."""
    return {each.cell: each.why for each in hand.gravities if each.taken_at == reading.taken_at and not each.mixed}


def _not_true_yet(hand: HandLog, reading: HandReading) -> tuple[str, ...]:
    """Say to whoever reads a cell after water was poured that the float tells the water, and when it tells the acid."""
    if reading.kind != "gravity" or reading.undo:
        return ()
    cells: dict[str, list[str]] = {}
    for cell, why in _unmixed(hand, reading).items():
        of_water = next(each for each in why.split(REASONS) if each.startswith(WATERED))
        cells.setdefault(of_water, []).append(cell)
    return tuple([f"not true yet and not for a verdict: {_some(each)}: {why}" for why, each in cells.items()])


def _some(cells: list[str]) -> str:
    """Name the first of many cells, and count the others."""
    more = f" and {len(cells) - NAMED} more" if len(cells) > NAMED else ""
    return f"{', '.join(cells[:NAMED])}{more}"


def _gone(before: HandLog, after: HandLog, reading: HandReading) -> tuple[Entry | None, tuple[Entry, ...]]:
    """Return what was taken back, of an entry whose other places stay only what is gone; and what came after it."""
    number = next((n for n, entry in enumerate(before.entries) if entry not in after.entries), None)
    if number is None or not reading.undo:
        return None, ()
    gone, later = before.entries[number], before.entries[number + 1 :]
    if not reading.values or gone.values.keys() <= reading.values.keys():
        return gone, later
    values = {where: value for where, value in gone.values.items() if where in reading.values}
    return gone._replace(values=values, note=""), later


def _string_over_danger(bank: Bank, reading: HandReading) -> bool:
    """Tell whether a clamp shows a string over its danger: taken at once, for no shunt shows how strings share."""
    if reading.undo or reading.kind != "string_amps":
        return False
    limit = OVER_CURRENT_FACTOR * bank.string_current_limit
    return any(not isinstance(value, str) and value > limit for value in reading.values.values())


def _volts_in_danger(bank: Bank, reading: HandReading, charging: bool) -> bool:
    """Tell whether volts by hand are a danger as they stand: over the limit, or a block a cell below its mates."""
    volts = {where: value for where, value in reading.values.items() if not isinstance(value, str)}
    meters = [(Meter("by hand", "voltage", where), bank.places.get(where, 1), told) for where, told in volts.items()]
    if any(over_limit(bank, meter, spanned, told) for meter, spanned, told in meters):
        return True
    return charging and hazards.lowest_block(bank, volts) is not None


def _taken_at_once(bank: Bank, reading: HandReading, only_whole: bool, charging: bool, hot: bool) -> bool:
    """Tell whether a doubtful reading trips first and is asked about afterwards: a probe sits in one cell only."""
    if hot and reading.kind == "temperature" and any(reading.values):
        return True
    return _string_over_danger(bank, reading) or (only_whole and _volts_in_danger(bank, reading, charging))


def _too_hot(bank: Bank, reading: HandReading) -> bool:
    """Tell whether a warmth of now by hand is over its limit."""
    if reading.undo or reading.kind not in ("temperature", "gravity") or reading.at - reading.taken_at > PRESENT:
        return False
    told = _read(reading.kind, reading.values, reading.temperature)
    return any(
        over_limit(bank, Meter("by hand", "electrolyte_temperature", at, placed=measured_at(at)), 1, value) is not None
        for at, value in told.items()
        if isinstance(value, float | int)
    )


def _beside(amps: str, block_volts: str, bank_volts: str) -> str:
    """Say what becomes of a reading that was taken although another one contradicts it."""
    if block_volts:
        return f"{block_volts}: the meter goes on being used, see that it sits on that block"
    if bank_volts:
        return f"{bank_volts}: the meter goes on being used, read both once more"
    return f"{amps}: the ammeter goes on being used, and the other is kept beside it" if amps else ""


def _before_a_cell_is_opened(now: ChargerNow, memory: Memory, charging: bool) -> str:
    """Say what stands against opening a cell now, by what flows and by what tripped; empty where nothing does."""
    if now.burning == "fire":
        return "a fire was noted: nobody goes in before the fire service says so, and no cell is opened"
    if now.out_until:
        until = moment(now.out_until, up=True)
        return f"a danger was noted: nobody goes in before {until}, no cell is opened and no switch in the room touched"
    if "gas" in memory.interlock.latched:
        return "tripped by gas: stay out, open no cell and touch no switch in the room before it was aired for an hour"
    care = "goggles on, no spark and no metal tool over the cells, for the gas explodes"
    if now.state == "off" and now.flows and not now.falling:
        off = "switch off at the wall whatever still feeds the bank"
        return f"current flows although the relay is open: {off} before a cell is opened, air the room, {care}"
    if now.state == "on" or (charging and now.state != "off"):
        return f"it charges: switch the charger off at the wall before a cell is opened, air the room, {care}"
    if not now.air_until:
        return ""
    return (
        f"the charger is off, its gas may still be about: air the room until {moment(now.air_until, up=True)}, {care}"
    )


def _metered(view: View) -> float | None:
    """Return the current that a meter shows now [A]; None where only a person tells it."""
    return view.current if any(view.values(quantity) for quantity in CURRENT_QUANTITIES) else None


def _block_volts(view: View) -> dict[str, float]:
    """Return what living meters of blocks and cells show, by place [V]."""
    return {
        meter.index: value
        for quantity in ("block_voltage", "cell_voltage")
        for meter, value in view.living.get(quantity, ())
    }


def _strange(bank: Bank, memory: Memory, reading: HandReading, view: View, shown: Shown) -> list[str]:
    """Return what looks like a slip, by whatever is known beside it."""
    hand = memory.hand
    known = _gravities_known(hand, reading.taken_at)
    showed = {**handlog.newest_voltages(hand, reading.taken_at), **_block_volts(view)}
    day_before = reading.taken_at - ALIKE_FOR
    watered = [cell for cell, at in hand.watered.items() if at >= known.get(cell, (0.0, day_before))[1] - POURED]
    acid = known_acid(bank, hand, memory.counters, view, memory.phase.track.rested, reading.at)
    shown_by = view.values("electrolyte_temperature")
    cold = [*shown_by, view.ambient, hand.temperature_now(reading.at), hand.case_now(reading.at)]
    return [
        doubt(bank, reading, hand.plates_bare, handlog.poured_before(hand, reading.taken_at, bank)),
        poured_again(reading, hand.entries),
        strange_volts(bank, reading, view.voltage, showed),
        strange_gravity(bank, reading, known, watered, _gravities_typed(hand)),
        other_scale(reading, shown_by)
        or cooled_fast(reading, hand.entries, bank.limits.temperature)
        or frozen_solid(reading, freezes_at(acid.gravity), [each for each in cold if each is not None]),
        strange_charger(bank, reading, shown),
        _may_be_a_danger(bank, reading),
        _which_block(bank, reading),
        _what_is_it(reading),
    ]


def _beside_the_charger(memory: Memory, view: View, charging: bool) -> Shown:
    """Return what a charger's setting is held against."""
    notes = [entry for entry in memory.hand.entries if entry.kind == "charger"]
    last = max(notes, key=lambda entry: entry.taken_at).values.get("volts", 0.0) if notes else 0.0
    amps = _metered(view) if charging else None
    # A moment after a cut the volts are the bank's own: nobody is told to set the charger to them.
    flows = charging and (amps is None or amps >= FLOWS)
    return Shown(
        view.voltage if flows and not view.voltage_by_hand else None,
        amps,
        float(last) if not isinstance(last, str) else 0.0,
        memory.phase.phase == "waking",
    )


def _gravities_known(hand: HandLog, at: float) -> dict[str, tuple[float, float]]:
    """Return gravity of each cell as read within a day of this moment, and when [s since the epoch]."""
    return {
        entry.cell: (entry.gravity_corrected, entry.taken_at)
        for entry in hand.gravities
        if entry.gravity_corrected is not None and abs(at - entry.taken_at) <= ALIKE_FOR
    }


def _gravities_typed(hand: HandLog) -> dict[str, float]:
    """Return gravity of each cell as it was last read off, not corrected [1]."""
    return {
        cell: float(value)
        for entry in sorted(hand.entries, key=lambda entry: entry.taken_at)
        for cell, value in (entry.values.items() if entry.kind == "gravity" else ())
        if not isinstance(value, str)
    }


def _counted(bank: Bank, memory: Memory, view: View, hand: HandLog, reading: HandReading) -> tuple[HandLog, Counters]:
    """Count amps where no meter tells them and none newer are known."""
    counters = memory.counters
    value = reading.values.get("")
    volts = hand.voltage_now(reading.at) or counters.voltage or ASSUMED * bank.cells
    if view.values("voltage"):
        volts = counters.voltage
    if reading.kind == "string_amps" and len(hand.string_amps) == len(bank.strings):
        current = sum(hand.string_amps)
    elif not isinstance(value, float | int) or reading.kind not in ("amps", "ac_amps"):
        return hand, counters
    elif reading.kind == "amps":
        current = float(value)
    elif bank.ac_voltage is None:
        return hand, counters
    else:
        current = current_from_ac(bank.ac_voltage, value, volts, bank.power_factor, bank.charger_efficiency)
    if _metered(view) is not None or reading.taken_at <= counters.current_at:
        return hand, counters
    share = 0.0
    if current > 0.0 and volts > NO_GAS * bank.cells:
        share = gas_share(bank, memory.phase, volts, hand.temperature_now(reading.at), current)
    shares: tuple[float, ...] = ()
    if reading.kind == "string_amps" and current > 0.0 and min(hand.string_amps) >= 0.0:
        shares = tuple([amps / current for amps in hand.string_amps])
    sample = Sample(
        reading.taken_at, current, HAND_GAP, len(bank.strings), shares, share, reading.kind == "ac_amps", True
    )
    before = counters._replace(voltage=volts)
    return hand._replace(counted=counters), integrate(before, sample, bank.capacity)


def _uncounted(hand: HandLog, counters: Counters, before: HandLog) -> tuple[HandLog, Counters]:
    """Take amps that are taken back out of the counters, as long as nothing newer went into them."""
    gone = next((entry for entry in before.entries if entry not in hand.entries), None)
    counted = hand.counted
    if gone is None or counted is None or not counters.by_hand or counters.current_at != gone.taken_at:
        return hand, counters
    if gone.kind not in ("amps", "ac_amps", "string_amps") or counted.charge > counters.charge:
        return hand, counters
    counters = counted._replace(phase_seconds=counters.phase_seconds, zero=counters.zero)
    return hand._replace(counted=None), counters


def _placed(bank: Bank, reading: HandReading) -> list[tuple[str, str]]:
    """Return what was seen or noted by the places that the words themselves name."""
    said = [(where, str(words)) for where, words in reading.values.items()] + [("", reading.note)]
    return [each for where, words in said if words for each in located(where, words, bank.places)]


def _taken_back(bank: Bank, lock: Interlock, gone: Entry, hand: HandLog) -> Interlock:
    """Say of a trip by what was noted that this was taken back, once no such entry is left; it goes on standing."""
    told = dict(lock.latched)

    def dangerous(entry: Entry, fire: bool) -> bool:
        said = [*[str(words) for words in entry.values.values()], entry.note]
        found = {(what == FIRE) for words in said for what in dangers(words)}
        return entry.kind in ("seen", "note") and fire in found

    for name in NOTED_BY_A_PERSON:
        latch, fire = lock.latched.get(name), name == FIRE_NOTED
        if latch is None or not dangerous(gone, fire):
            continue
        if any(dangerous(entry, fire) and latch.at - entry.taken_at <= NOTICED for entry in hand.entries):
            continue
        told[name] = latch._replace(reason=f"{latch.reason}{TAKEN_BACK}")
    return lock._replace(latched=told)


def _may_be_a_danger(bank: Bank, reading: HandReading) -> str:
    """Say what follows from words that only may mean a danger at the bank; empty where they surely do, or do not."""
    if reading.undo or reading.kind not in ("seen", "note") or reading.at - reading.taken_at > NOTICED:
        return ""
    said = []
    for where, words in _placed(bank, reading):
        if where or not may_mean_another(words):
            continue
        gone = "nobody goes in for an hour, and it stays so until somebody resets it"
        if found := dangers(words):
            said.append(f"{words!r} is understood as {', '.join(found)} at the bank: taken so it trips, {gone}")
        else:
            broken = ", ".join(name for name, there in damages(words).items() if there)
            stays = "nothing may charge until it is noted gone"
            said.append(f"{words!r} is understood as {broken} of a case of the bank: taken so, {stays}")
    return "; ".join(said)


def _which_block(bank: Bank, reading: HandReading) -> str:
    """Ask which block is meant by a number that several may have; a danger never waits for it."""
    if reading.undo or reading.kind not in ("seen", "note"):
        return ""
    said = [str(words) for where, words in (*reading.values.items(), ("", reading.note)) if words and not where]
    if any(dangers(words) for words in said):
        return ""
    unclear = [each for words in said for each in spelled_out(words, bank.places)[1]]
    return f"which block is meant by {'; '.join(unclear)}? Name it by its label" if unclear else ""


def _what_is_it(reading: HandReading) -> str:
    """Ask what is meant by worried words from which nothing follows: nobody's danger is kept as a mere note."""
    if reading.undo or reading.kind not in ("seen", "note") or reading.at - reading.taken_at > NOTICED:
        return ""
    said = [str(words) for words in (*reading.values.values(), reading.note) if words and worries(str(words))]
    if not said:
        return ""
    told = "; ".join(repr(words) for words in said)
    # A danger hides in words a letter away before it hides in words that leave it open.
    if near := [as_meant(words) for words in said if meant(words)]:
        right = ", ".join(f'"{words}"' for words in near)
        off = "where it may be a danger switch the charger off at the wall first"
        nothing = "say it so, for nothing follows from it as it is"
        return f"{told} is not understood: do you mean {right}? If you do, {nothing}; {off}"
    if any(in_doubt(words) for words in said):
        return f"{told} may say that it is there or that it is not, and nothing would follow from it: {SAY_IT}"
    if asked := [f"{words!r} {words_asked}" for words in said if (words_asked := asks(words))]:
        return "; ".join(asked)
    return f"{told} is not understood, and nothing would follow from it: {SAY_IT}"


def _as_meant(reading: HandReading) -> dict[str, object]:
    """Return the words that were likely meant by misspelt ones, to be taken where that is so; else nothing."""
    if not any(meant(str(words)) for words in (*reading.values.values(), reading.note)) or not _what_is_it(reading):
        return {}
    values = {where: as_meant(str(words)) for where, words in reading.values.items()}
    return {"meant": {"values": values, "note": as_meant(reading.note)}}


def _noticed(bank: Bank, pending: dict[str, Pending], reading: HandReading) -> dict[str, Pending]:
    """Trip at once by what somebody smelled, saw or felt: nobody waits for a second nose."""
    if reading.undo or reading.kind not in ("seen", "note") or reading.at - reading.taken_at > NOTICED:
        return pending
    found = [(what, where or "the bank") for where, words in _placed(bank, reading) for what in dangers(words)]
    after = dict(pending)
    for name in NOTED_BY_A_PERSON:
        told = [f"{what} at {where}" for what, where in found if (what == FIRE) == (name == FIRE_NOTED)]
        if told:
            finding = Finding(reason=f"{SOMEBODY_NOTED}{', '.join(told)}")
            after[f"{name}|by hand"] = Pending(reading.at, 0.0, True, finding)
    return after


def _in_strings(
    bank: Bank, pending: dict[str, Pending], hand: HandLog, reading: HandReading, charging: bool, apart: str
) -> dict[str, Pending]:
    """Trip by a string over its limit by the clamp, a block under its mates by the multimeter: as a meter would."""
    if reading.kind not in ("string_amps", "voltage") or reading.at - reading.taken_at > PRESENT:
        return pending
    if reading.kind == "string_amps":
        of_now = reading.at - hand.string_amps_at <= PRESENT
        amps = hand.string_amps if of_now and len(hand.string_amps) == len(bank.strings) else ()
        hog = hazards.hogging(bank, amps)
        hazard, finding = "over-current", hog
    else:
        volts = handlog.newest_voltages(hand, reading.taken_at) if charging else {}
        hazard, finding = "cell-short-suspected", hazards.lowest_block(bank, volts)
        if finding is not None and apart:
            finding = finding._replace(reason=f"{finding.reason} ({apart})")
    key = f"{hazard}|{BY_HAND_OF_STRINGS}"
    if finding is None:
        return {name: entry for name, entry in pending.items() if name != key}
    return {**pending, key: Pending(reading.at, 0.0, True, finding)}


def _read_again(
    latched: dict[str, Latch], before: dict[str, Pending], after: dict[str, Pending], reading: HandReading
) -> dict[str, Latch]:
    """Say of a trip by hand that a later reading says otherwise, or that it was taken back; the trip stays."""
    told = dict(latched)
    for hazard, latch in latched.items():
        mine = f"{hazard}|by hand"
        by_hand = {key for key in before if key.startswith(mine) and before[key].confirmed}
        reason = latch.reason.partition(OTHERWISE)[0]
        if any(key.startswith(mine) and entry.confirmed for key, entry in after.items()):
            told[hazard] = latch._replace(reason=reason)
        elif by_hand:
            shown = _shown(reading, {key.removeprefix(f"{hazard}|by hand").strip() for key in by_hand})
            how = "that reading was taken back" if reading.undo else f"a later reading by hand says otherwise{shown}"
            stays = "the trip stays until a person resets it"
            told[hazard] = latch._replace(reason=f"{reason}{OTHERWISE}{moment(reading.at)} {how}: {stays}")
    return told


def _shown(reading: HandReading, places: set[str]) -> str:
    """Return what a later reading shows at one of these places, in brackets; empty where it is no such number."""
    unit = {"temperature": ".1f} degC", "gravity": ".1f} degC", "voltage": ".2f} V"}.get(reading.kind)
    values = {"": reading.temperature} if reading.kind == "gravity" else reading.values
    found = [value for where, value in values.items() if where in places and isinstance(value, float | int)]
    return " (" + ("{:" + unit).format(found[0]) + ")" if unit and found else ""


def _read(kind: str, values: Mapping[str, float | str], warmth: float | None) -> dict[str, float | str | None]:
    """Return volts or warmth by place; of a hydrometer's sheet the warmth of its acid."""
    if kind == "gravity":
        return {} if warmth is None else {"": warmth}
    return dict(values) if kind in ("temperature", "voltage") else {}


def _read_before(
    hand: HandLog, gone: Entry, later: tuple[Entry, ...], reading: HandReading
) -> dict[str, float | str | None]:
    """Return what stands at the places of an entry that was taken back: read before, and not long ago; else None.

    What was read there since is not touched: a danger of now does not go with an entry of before it.
    """
    stands: dict[str, float | str | None] = dict.fromkeys(_read(gone.kind, gone.values, gone.temperature))
    for entry in hand.entries:
        if (entry.kind == "voltage") != (gone.kind == "voltage"):
            continue
        for where, value in _read(entry.kind, entry.values, entry.temperature).items():
            if where in stands and entry in later:
                del stands[where]
            elif where in stands and reading.at - entry.taken_at <= PRESENT:
                stands[where] = value
    return stands


def _dangers(
    bank: Bank, pending: dict[str, Pending], reading: HandReading, read: dict[str, float | str | None]
) -> dict[str, Pending]:
    """Hold readings by hand against the limits too: a person with a thermometer sees what no probe may."""
    quantity = {"temperature": "electrolyte_temperature", "voltage": "voltage", "gravity": "electrolyte_temperature"}
    if reading.kind not in quantity or reading.at - reading.taken_at > PRESENT:
        return pending
    spans = bank.places
    hazard = "over-voltage" if reading.kind == "voltage" else "over-temperature"
    for where, value in read.items():
        if isinstance(value, str):
            continue
        at = measured_at(where)
        meter = Meter("by hand", quantity[reading.kind], where, placed=at if hazard == "over-temperature" else "")
        found = None if value is None else over_limit(bank, meter, spans.get(where, 1), value)
        key = f"{hazard}|by hand {where}"
        if found is None:
            pending = forget(pending, key)
        else:
            over, finding, at_once = found
            said = finding._replace(reason=f"{finding.reason} (by hand)")
            # A person who reads a thermometer looks twice; and none may read "safe" beside acid over its limit.
            at_once = at_once or over == "over-temperature"
            pending = note(pending, key, (over, said, at_once), reading.at)
    return pending


def _fallen(bank: Bank, memory: Memory, reading: HandReading) -> CapacityTest | None:
    """Note blocks that a person with a multimeter finds empty while the test runs."""
    test = memory.test
    if test is None or test.ended_at is not None or memory.phase.phase != "testing" or reading.kind != "voltage":
        return test
    cells = {block.label: block.cells for string in bank.strings for block in string}
    low = sorted(
        (value / cells[where], where)
        for where, value in reading.values.items()
        if where in cells and not isinstance(value, str) and value <= END_VOLTAGE * cells[where]
    )
    return test._replace(fell_first=test.fell_first + tuple(w for _, w in low if w not in test.fell_first))
