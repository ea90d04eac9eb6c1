"""A person joins the blocks anew: split, rejoin, isolate or add; what went through each block so far is kept."""

from __future__ import annotations

from collections.abc import Sequence

from rules.bank import Bank, BlockLedger, arranged, as_configured, change, credit, joining_current
from rules.hand import rejoined
from rules.step.gas import counted_up_to
from rules.step.memory import Memory

#: Meters whose last value says nothing once the blocks are joined anew.
REJOINED = ("voltage", "midpoint_voltage")
#: Acts that join strings in parallel that stood apart.
IN_PARALLEL = frozenset({"add", "rejoin"})
#: Hazards that a person found in a string with a meter in the hand.
BY_HAND_OF_STRINGS = "by hand in a string"


def block_ledger(configured: Bank, memory: Memory) -> dict[str, BlockLedger]:
    """Return charge [Ah] and charging hours [h] of every block in this round, whatever strings it stood in.

    Parameters
    ----------
    configured : Bank
        As in the cabin file, or as joined now: only its wiring matters, where nothing was ever joined anew.
    memory : Memory
        Of the bank.
    """
    counters = memory.counters
    arrangement = memory.arrangement or as_configured(configured)
    if len(counters.string_charge) != len(arrangement.strings):
        return dict(memory.ledger)
    hours = (counters.charging_seconds - counters.settled_seconds) / 3600.0
    return credit(memory.ledger, arrangement, counters.string_charge, hours)


def rewired(configured: Bank, memory: Memory, act: str, number: int, at: float, volts: Sequence[float] = ()) -> Memory:
    """Return the memory after the blocks were joined anew; what went through them so far goes to their accounts.

    Parameters
    ----------
    configured : Bank
        As in the cabin file.
    memory : Memory
        So far.
    act, number : str, int
        As `rules.bank.arrangement.change` takes them.
    at : float
        Now [s since the epoch].
    volts : sequence of float
        At rest, of the strings that are joined in parallel [V].

    Raises
    ------
    ValueError
        The act is unknown or cannot be done, or would let too much current flow between the strings, in words.
    """
    before = memory.arrangement or as_configured(configured)
    after = change(configured, before, act, number)
    between = joining_current(configured, before, after, volts) if act in IN_PARALLEL else 0.0
    if between > configured.string_current_limit:
        told = " against ".join(f"{each:.1f} V" for each in volts)
        raise ValueError(
            f"{told}: about {between:.0f} A would flow between the strings, at most "
            f"{configured.string_current_limit:.0f} A may: charge the lower one alone first"
        )
    # What was read by hand stood for the bank as it was joined: it is counted up to now, and then unknown.
    counters = counted_up_to(arranged(configured, before), memory, at)
    ledger = block_ledger(configured, memory._replace(counters=counters))
    if counters.by_hand:
        counters = counters._replace(current=0.0, current_at=0.0)
    stale = {meter.name for quantity in REJOINED for meter in configured.by_quantity.get(quantity, ())}
    # What was confirmed of joints, polarity and levels was confirmed of the blocks as they were joined.
    lock = memory.interlock._replace(checklist_by="")
    if configured.relay is not None and lock.started:
        # Nobody handles cables while the charger may come on: the relay opens until a person resumes.
        lock = lock._replace(needs_resume=True)
    return memory._replace(
        arrangement=after,
        ledger=ledger,
        counters=counters._replace(string_charge=(), settled_seconds=counters.charging_seconds),
        meters={
            name: trace._replace(retained=name in stale or trace.retained) for name, trace in memory.meters.items()
        },
        hand=rejoined(memory.hand, at, arranged(configured, after)),
        # What was measured on blocks as they were joined is no danger of the bank as it is joined now.
        pending={key: entry for key, entry in memory.pending.items() if not key.endswith(BY_HAND_OF_STRINGS)},
        past=(),
        interlock=lock,
    )
