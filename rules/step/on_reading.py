"""One meter's value into the memory: the hot path, kept short."""

from __future__ import annotations

from rules.bank import CURRENT_QUANTITIES, ON_ABOVE, Bank, Meter
from rules.events import Reading, Unreadable
from rules.laws import current_from_ac
from rules.meters import (
    AGREES,
    CLOCK_OFF,
    CONFIRM_WINDOW,
    GOOD,
    LATE,
    NEVER,
    SHORTEST_SILENCE,
    SUSPECT,
    Sample,
    Trace,
    by_arrival,
    charging_threshold,
    fresh,
    fresh_values,
    integrate,
    judge,
    remember,
    silence_limit,
    with_voltage,
)
from rules.safety import LIMITED, note, over_limit
from rules.step.gas import NO_GAS, gas_share
from rules.step.memory import Memory, with_sample

#: Volts per cell below which no charger stands behind a little current [V]; how little, as a share of the rating where
#: the relay is seen open, and in charging thresholds where nobody sees it [1]; common practice, no source.
RESTING, OFFSET_SHARE, OFFSET_UNSEEN = 2.2, 0.02, 1.6
#: Volts of the bank below which no current is reckoned from power: a meter that starts reports nothing [V] (assumed).
LEAST_VOLTS = 1.0
#: A meter whose clock went back an hour still tells that it is hot; what an outage held up for longer does not [s].
LATE_COUNTS = 3600.0
#: Evidence that the interlock waits for.
EVIDENCE = frozenset({"relay_state"})


def sample(bank: Bank, memory: Memory, reading: Reading) -> tuple[Memory, bool]:
    """Take one reading in.

    Parameters
    ----------
    bank : Bank
        As joined now.
    memory : Memory
        So far.
    reading : Reading
        Canonical unit.

    Returns
    -------
    tuple
        New memory, and whether the bank must be judged at once.
    """
    name = reading.meter
    meter = bank.by_name[name]
    quantity = meter.quantity
    before = memory.meters.get(name, NEVER)
    lag = reading.at - reading.measured_at
    if lag > CLOCK_OFF or reading.stamp_off or before.lagging or before.clock_off:
        before, reading = by_arrival(before, reading)
        lag = reading.at - reading.measured_at
    spanned = bank.spans[name]
    quality, reason = judge(meter, spanned, before, reading)
    trace = remember(before, reading, quality, reason)
    meters = memory.meters.copy()
    meters[name] = trace
    if reading.retained and before.at and not before.retained:
        # What a broker kept is of unknown age: it never takes the place of something that was heard fresh.
        return _contradicted(memory, meters, meter, before, reading)
    if quality == LATE and quantity in LIMITED and reading.at - reading.measured_at <= LATE_COUNTS:
        return _late(bank, memory._replace(meters=meters, heard=True), meter, spanned, reading)
    silent_at = trace.at + SHORTEST_SILENCE
    if quality != GOOD or reading.retained:
        return with_sample(memory, meters, memory.counters, memory.pending, memory.sampled, silent_at), False
    pending, urgent = memory.pending, quantity in EVIDENCE
    # What is older than its freshness limit tells how it was: no hazard rests on it, and none is cleared by it.
    if quantity in LIMITED and (lag <= SHORTEST_SILENCE or lag <= silence_limit(meter, trace)):
        found = over_limit(bank, meter, spanned, reading.value)
        if found is not None:
            borne_out = before.quality == SUSPECT and abs(reading.value - before.doubtful) <= AGREES
            if borne_out and reading.at - before.doubtful_at <= CONFIRM_WINDOW:
                # A startling value that this one has borne out was the first of the two samples that confirm.
                found = (found[0], found[1], True)
            key = f"{found[0]}|{name}"
            pending = note(pending, key, found, reading.at)
            urgent = pending[key].confirmed
        elif pending:
            for hazard in ("over-temperature", "over-voltage", "gas"):
                pending = note(pending, f"{hazard}|{name}", None, reading.at)
    counted = None
    if quantity == "voltage":
        counted = with_voltage(memory.counters, reading.value)
    elif quantity in CURRENT_QUANTITIES:
        current = _current(bank, meters, quantity, reading, memory)
        counted = None if current is None else integrate(memory.counters, current, bank.capacity)
    if counted is None:
        return with_sample(memory, meters, memory.counters, pending, memory.sampled, silent_at), urgent
    return with_sample(memory, meters, counted, pending, True, silent_at), urgent


def _contradicted(
    memory: Memory, meters: dict[str, Trace], meter: Meter, before: Trace, reading: Reading
) -> tuple[Memory, bool]:
    """Forget what a relay reported where the broker kept something else: it has moved while nobody listened here."""
    if meter.quantity != "relay_state" or reading.value == before.value:
        return memory, False
    meters[meter.name] = before._replace(at=0.0)
    return memory._replace(meters=meters, heard=True), True


def unreadable(bank: Bank, memory: Memory, event: Unreadable) -> Memory:
    """Take a message that cannot be read: what the meter said before stands until too old, and the owner hears why.

    A relay speaks when it moves: what it reported before is no longer so, and what it reports now nobody knows.
    """
    before = memory.meters.get(event.meter, NEVER)
    if event.meter == "relay_state":
        before = before._replace(at=0.0)
    trace = before._replace(
        quality=SUSPECT, reason=event.why, doubtful_at=event.at, suspect_since=before.suspect_since or event.at
    )
    return memory._replace(meters={**memory.meters, event.meter: trace}, heard=True)


def _idle(bank: Bank, meters: dict[str, Trace], current: float) -> bool:
    """Tell whether a current at a voltage that no charger holds is no more than the meter's offset.

    Where the relay is seen open as much as `zero` takes away, else only what no charger gives at all.
    """
    relay = meters.get("relay_state", NEVER)
    seen_open = bank.relay is not None and relay.at > 0.0 and not relay.retained and relay.value < ON_ABOVE
    most = OFFSET_SHARE * bank.capacity if seen_open else OFFSET_UNSEEN * charging_threshold(bank.capacity)
    return current <= most


def _late(bank: Bank, memory: Memory, meter: Meter, spanned: int, reading: Reading) -> tuple[Memory, bool]:
    """Take a reading that came after a newer one: it changes no state, but over a limit it is evidence all the same."""
    found = over_limit(bank, meter, spanned, reading.value)
    if found is None or reading.retained:
        return memory, False
    key = f"{found[0]}|{meter.name}"
    pending = note(memory.pending, key, found, reading.at)
    return memory._replace(pending=pending), pending[key].confirmed


def _current(bank: Bank, meters: dict[str, Trace], quantity: str, reading: Reading, memory: Memory) -> Sample | None:
    """Return the bank current this reading tells, unless a better meter tells it: DC, strings, power, then AC."""
    at = reading.measured_at if reading.measured_at < reading.at else reading.at
    strings, counters = len(bank.strings), memory.counters
    volts, estimated = counters.voltage, False
    if quantity == "current":
        current = reading.value - bank.zero_offset - counters.zero
    elif _better(bank, meters, quantity, reading.at):
        return None
    elif quantity == "string_current":
        values = fresh_values(bank, meters, "string_current", reading.at)
        if len(values) < strings:
            return None
        current = sum(values)
    else:
        told = _from_power(bank, meters, quantity, reading, volts) if volts > LEAST_VOLTS else None
        if told is None:
            return None
        current, estimated = told, True
    meter = bank.by_name[reading.meter]
    shares = _shares(bank, meters, reading.at) if strings > 1 and "string_current" in bank.by_quantity else ()
    gassing = 0.0
    if current > 0.0 and volts > NO_GAS * bank.cells:
        hottest = meters.get(bank.probe, NEVER)
        gassing = gas_share(bank, memory.phase, volts, hottest.value if hottest.at else None, current)
    gap = silence_limit(meter, meters[reading.meter])
    idle = current > 0.0 and volts < RESTING * bank.cells and _idle(bank, meters, current)
    return tuple.__new__(Sample, (at, current, gap, strings, shares, gassing, estimated, False, idle))


def _shares(bank: Bank, meters: dict[str, Trace], at: float) -> tuple[float, ...]:
    """Return what each string takes of the charge [1], where every one of them is measured now."""
    values = fresh_values(bank, meters, "string_current", at)
    total = sum(max(0.0, value) for value in values)
    known = len(values) == len(bank.strings) and total > 0.0
    return tuple([max(0.0, value) / total for value in values]) if known else ()


def _from_power(bank: Bank, meters: dict[str, Trace], quantity: str, reading: Reading, volts: float) -> float | None:
    """Return the bank current [A] behind a power [W] or an AC current [A] at these volts; None without the supply."""
    if quantity == "power":
        return reading.value / volts
    if quantity == "ac_power":
        return reading.value * bank.charger_efficiency / volts
    supply = fresh_values(bank, meters, "ac_voltage", reading.at)
    if not supply:
        return None
    return current_from_ac(supply[0], reading.value, volts, bank.power_factor, bank.charger_efficiency)


def _better(bank: Bank, meters: dict[str, Trace], quantity: str, at: float) -> bool:
    """Tell whether a more direct meter of the current is alive."""
    direct = CURRENT_QUANTITIES[: CURRENT_QUANTITIES.index(quantity)]
    told = [meter for better in direct for meter in bank.by_quantity.get(better, ())]
    return any(fresh(meter, meters.get(meter.name, NEVER), at) for meter in told)
