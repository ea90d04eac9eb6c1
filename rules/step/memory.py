"""What is remembered of one bank between two events: frozen, small, and the same after a restart."""

from __future__ import annotations

from typing import NamedTuple

from rules.bank import Arrangement, Bank, BlockLedger
from rules.bank_view import View, look
from rules.events import Flag
from rules.hand import HandLog
from rules.meters import Counters, Thermal, Trace
from rules.phase import PhaseMemory
from rules.remaining import estimate as remaining
from rules.safety import Blocks, Interlock, Pending
from rules.verdict import CapacityTest, Given


class Memory(NamedTuple):
    """The whole memory of a bank.

    Attributes
    ----------
    meters : dict of Trace
        Last values by meter name.
    pending : dict of Pending
        Hazards waiting for their confirmation, and those confirmed and still there.
    sampled : bool
        A voltage or current sample came in since the last observation.
    heard : bool
        Anything came in since the last look.
    due_at : float
        Before this moment no rule says anything else if nothing comes in [s since the epoch]; 0 = look every second.
    began_at : float
        First tick after this memory was made or the bridge restarted [s since the epoch]; 0 = none yet.
    counters, thermal, phase, remaining, interlock, hand
        Each room's own memory.
    flags : dict of Flag
        Raised flags by name.
    observed_at, judged_at, shown_at : float
        Last look of the phase machine, last judgement, last time a state went out [s since the epoch].
    shown : str
        What that state said in short.
    charged_at : float
        Last time with current flowing in [s since the epoch]; 0 = never.
    idle_at, begun_at, charged_before : float
        First look since `charged_at` at which a known current did not charge; when the charge of now, or the last one,
        began after 6 h or more without, 0 = nobody saw it begin; last time with current flowing in before that
        [s since the epoch].
    resumed_at : float
        When current was last seen to begin to flow in after a look at which it did not [s since the epoch]; 0 = never.
    arrangement : Arrangement or None
        Blocks as they are joined now; None = as configured.
    ledger : dict of BlockLedger
        Charge and hours by block label.
    test : CapacityTest or None
        Capacity test under way or done.
    given : Given or None
        Verdict that a person gave in this round.
    given_before : Given or None
        The one in this round in whose place it stands.
    previous : dict of float
        Capacities found in the round before [Ah], by block label or bank id.
    past : tuple of Blocks
        Volts of the blocks in the last two hours of charge.
    sources : dict of str
        Meter -> where it was read from at the last start; empty where an older version made this memory.
    """

    meters: dict[str, Trace] = {}
    counters: Counters = Counters()
    pending: dict[str, Pending] = {}
    sampled: bool = False
    heard: bool = True
    due_at: float = 0.0
    began_at: float = 0.0
    thermal: Thermal = Thermal()
    phase: PhaseMemory = PhaseMemory()
    remaining: remaining.RemainingMemory = remaining.RemainingMemory()
    interlock: Interlock = Interlock()
    hand: HandLog = HandLog()
    flags: dict[str, Flag] = {}
    observed_at: float = 0.0
    judged_at: float = 0.0
    shown_at: float = 0.0
    shown: str = ""
    charged_at: float = 0.0
    arrangement: Arrangement | None = None
    ledger: dict[str, BlockLedger] = {}
    test: CapacityTest | None = None
    given: Given | None = None
    previous: dict[str, float] = {}
    past: tuple[Blocks, ...] = ()
    sources: dict[str, str] = {}
    given_before: Given | None = None
    idle_at: float = 0.0
    begun_at: float = 0.0
    charged_before: float = 0.0
    resumed_at: float = 0.0


#: What one sample may change stands before the rest.
_REST = Memory._fields.index("due_at") + 1


def with_sample(
    memory: Memory,
    meters: dict[str, Trace],
    counters: Counters,
    pending: dict[str, Pending],
    sampled: bool,
    silent_at: float,
) -> Memory:
    """Return the memory with one sample in it: put together by hand, because it happens with every value.

    Parameters
    ----------
    memory : Memory
        So far.
    meters, counters, pending, sampled
        As this sample leaves them.
    silent_at : float
        When its meter falls silent at the earliest [s since the epoch]: before, if it took long to arrive.
    """
    due_at = memory.due_at
    due_at = min(due_at, silent_at)
    return tuple.__new__(Memory, (meters, counters, pending, sampled, True, due_at) + memory[_REST:])  # noqa: RUF005  (a third faster)


def initial() -> Memory:
    """Return memory of a bank nothing is known of yet."""
    return Memory()


def quiet_until(memory: Memory) -> float:
    """Return before which moment a second that passes changes nothing [s since the epoch]; 0 = the next one may."""
    return 0.0 if memory.heard else memory.due_at


def view_of(bank: Bank, memory: Memory, at: float) -> View:
    """Return the bank as its meters, and people, show it at one moment [s since the epoch]."""
    return look(bank, memory.meters, memory.counters, at, memory.hand)


#: Gravities and a capacity test tell the truth so long after charging at the earliest [s]; 6 h at least, better 24 h:
#: common practice, no source.
REST = 6 * 3600.0


def rest_ends(memory: Memory) -> float:
    """Return from when on a bank that was charged has rested long enough [s since the epoch]."""
    return max(memory.charged_at, memory.phase.since if memory.phase.phase == "resting" else 0.0) + REST


def new_round(memory: Memory) -> Memory:
    """Return the memory when a round begins: blocks start at nothing, what was found last time is kept to compare."""
    found = memory.previous if memory.given is None else memory.given.capacities
    return memory._replace(ledger={}, test=None, given=None, given_before=None, previous=dict(found))
