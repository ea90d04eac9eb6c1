"""What the newest readings mean for the round: its phase, its hours, its clocks, and a capacity test under way."""

from __future__ import annotations

from rules.advice import HELD_UP, off_known
from rules.bank import Bank
from rules.bank_view import View, charges, draws
from rules.events import Event, Order, Outcome
from rules.meters import Counters, restarted
from rules.meters import warming as thermal
from rules.phase import Observation, PhaseMemory, at_ceiling
from rules.phase import machine as phase
from rules.remaining import estimate as remaining
from rules.safety import remember_blocks
from rules.step.gas import current_flows
from rules.step.memory import REST, Memory, new_round
from rules.verdict import CapacityTest, advance

Outcomes = tuple[Memory, tuple[Outcome, ...]]

#: Without a new sample the phase machine looks so often, to see silence [s].
LOOK_EVERY = 60.0
#: A charge that was seen so long before goes on, if nobody sees whether it does [s].
UNSEEN_FOR = 3.0 * LOOK_EVERY
#: Gravity that rose at its last reading is said to rise for so long after it [s]; common practice, no source.
RISES_FOR = 6 * 3600.0
#: A new round forgets charge that was returned before it, beyond what the minutes of its own beginning brought [1].
FORGET_SHARE = 0.10


def observe(bank: Bank, memory: Memory, view: View, at: float) -> Outcomes:
    """Renew phase, estimate, warmth, counted time and capacity test from the bank as its meters show it now.

    Parameters
    ----------
    bank : Bank
        As joined now.
    memory : Memory
        With the newest readings in it.
    view : View
        The bank as those readings show it.
    at : float
        Now [s since the epoch].

    Returns
    -------
    tuple
        New memory, and what is to be told: a new phase, the end of a test.
    """
    counters, before, lock = memory.counters, memory.phase, memory.interlock
    cut = view.relay_closed is False or (bank.relay is not None and not lock.allowed and lock.confirmed_at > 0.0)
    observation = Observation(
        at,
        view.volts_per_cell,
        view.current,
        view.hottest,
        view.ambient,
        view.strings,
        counters.charge,
        counters.charging_seconds,
        cut,
        memory.hand.rising if at - memory.hand.gravity_at <= RISES_FOR else None,
        _resolution(bank),
        None if memory.hand.rise is None else memory.hand.rise - (memory.hand.rise_by_water or 0.0),
        bool(lock.latched),
    )
    # Watching never depends on permission: a round that is charged without one is followed all the same.
    machine = phase.observe(bank.watched, before, observation)
    estimate = remaining.observe(bank.watched, machine, memory.remaining, observation)
    if machine.started_at != before.started_at and machine.started_at is not None:
        memory = new_round(memory)
    elapsed = min(at - memory.observed_at, LOOK_EVERY) if memory.observed_at else 0.0
    counters = _count(bank, counters, before, machine, elapsed)
    standing = machine.woken and not machine.interrupted and at_ceiling(machine)
    # A reading of an hour ago beside one of now is no warming rate.
    probed = None if view.temperature_by_hand else view.hottest
    probes = {f"{meter.name} {meter.source}": shown for meter, shown in view.living.get("electrolyte_temperature", ())}
    warmth = thermal.observe(memory.thermal, at, probed, view.current, view.volts_per_cell, standing, probes)
    charging = charges(bank, view)
    memory = _began(memory, view, charging, at)
    before_test, looked_at = memory.test, memory.observed_at
    memory = memory._replace(
        counters=counters,
        thermal=warmth,
        phase=machine,
        remaining=estimate,
        sampled=False,
        observed_at=at,
        charged_at=at if charging or _goes_on(bank, memory, view, at) else memory.charged_at,
        test=_tested(bank, memory, machine, view, at),
        past=remember_blocks(memory.past, _blocks(bank, view) if charging else {}, at),
    )
    told = _test_ended(bank, before_test, memory, view, looked_at)
    if machine.phase == before.phase and machine.interrupted == before.interrupted:
        return memory, told
    detail = {
        "phase": machine.phase,
        "before": before.phase,
        "interrupted": machine.interrupted,
        "volts_per_cell": view.volts_per_cell,
        "current": view.current,
        "charge": round(counters.charge, 2),
        # It is judged by what has lasted: the phase began before it was known.
        "since": machine.since if machine.phase != before.phase else _still_since(before, machine, at),
    }
    return memory, (*told, Event(bank.id, "phase", at, detail))


def _still_since(before: PhaseMemory, machine: PhaseMemory, at: float) -> float:
    """Return since when charging stands still, or goes on, in a phase that stays: it was told minutes later."""
    if machine.interrupted:
        return at - machine.track.off_seconds
    return at if before.live.at is None else before.live.opened


def _began(memory: Memory, view: View, charging: bool, at: float) -> Memory:
    """Return the memory with the begin of a charge, for what was read before it and is noted in it."""
    if charging and memory.idle_at > memory.charged_at:
        memory = memory._replace(resumed_at=at)
    if charging and (not memory.charged_at or at - memory.charged_at > REST):
        seen = memory.idle_at > memory.charged_at
        return memory._replace(begun_at=at if seen else 0.0, charged_before=memory.charged_at)
    if not charging and view.current is not None and memory.idle_at <= memory.charged_at:
        return memory._replace(idle_at=at)
    return memory


def _goes_on(bank: Bank, memory: Memory, view: View, at: float) -> bool:
    """Tell whether a charge whose current nobody sees must be thought to go on: until it is known that it ended."""
    if view.current is not None or (view.volts_per_cell is not None and view.volts_per_cell < HELD_UP):
        return False
    just_now = memory.charged_at > 0.0 and at - memory.charged_at < UNSEEN_FOR
    return current_flows(view) or (
        just_now and not off_known(bank, memory.interlock, view, memory.counters, memory.hand)
    )


def _test_ended(
    bank: Bank, before: CapacityTest | None, memory: Memory, view: View, looked_at: float
) -> tuple[Outcome, ...]:
    """Take the load off at that very moment where a relay can, and once a minute while it is still on."""
    test, at = memory.test, memory.observed_at
    if test is None or test.ended_at is None or memory.phase.phase != "testing":
        return ()
    order = (Order(bank.id, "load-cut", at, test.reason),) if bank.load_relay else ()
    if before is not None and before.ended_at is not None:
        return order if draws(bank, view) and at // LOOK_EVERY != looked_at // LOOK_EVERY else ()
    delivered, fell = round(test.delivered, 2), list(test.fell_first)
    return (*order, Event(bank.id, "test-end", at, {"reason": test.reason, "delivered": delivered, "fell_first": fell}))


def _count(
    bank: Bank, counters: Counters, before: phase.PhaseMemory, machine: phase.PhaseMemory, elapsed: float
) -> Counters:
    if machine.started_at != before.started_at and machine.started_at is not None:
        if counters.charge > FORGET_SHARE * bank.capacity:
            counters = restarted(counters)
        return counters._replace(phase_seconds={})
    if elapsed <= 0.0:
        return counters
    name = "interrupted" if machine.interrupted else machine.phase
    seconds = counters.phase_seconds.copy()
    seconds[name] = seconds.get(name, 0.0) + elapsed
    return counters._replace(phase_seconds=seconds)


def _resolution(bank: Bank) -> tuple[float, float]:
    volts = bank.by_quantity.get("voltage", ())
    amps = bank.by_quantity.get("current", ())
    return (
        volts[0].resolution / bank.cells if volts else 0.0,
        amps[0].resolution if amps else 0.0,
    )


def _blocks(bank: Bank, view: View) -> dict[str, float]:
    """Return volts of every measured block in the circuit [V]."""
    return {meter.index: value for meter, value in view.living.get("block_voltage", ()) if meter.index in bank.labels}


def _tested(bank: Bank, memory: Memory, machine: phase.PhaseMemory, view: View, at: float) -> CapacityTest | None:
    test = memory.test
    if machine.phase != "testing" or test is None or view.current is None or view.volts_per_cell is None:
        return test
    sizes = {block.label: block.cells for string in bank.strings for block in string}
    blocks = {label: volts / sizes[label] for label, volts in _blocks(bank, view).items()}
    cells = view.values("cell_voltage")
    return advance(
        test, at, view.current, view.volts_per_cell, blocks=blocks or None, lowest_cell=min(cells) if cells else None
    )
