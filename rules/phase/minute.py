"""Once a minute: is it charging, what can the charger do, has the bank woken, which phase is this."""

from __future__ import annotations

import math

from rules.bank import Bank
from rules.phase.charger import learn_charger
from rules.phase.hold import at_equalise, folded_back, settled
from rules.phase.memory import BINS, CHARGING, TEN_MINUTES, Bin, PhaseMemory, Track
from rules.phase.no_revival import watch_growth, watch_response
from rules.phase.observation import Observation
from rules.phase.signature import signature
from rules.phase.thresholds import THRESHOLDS as T
from rules.phase.woken import wake

__all__ = ["judge", "settled"]


def judge(bank: Bank, memory: PhaseMemory, observation: Observation) -> PhaseMemory:
    """Decide what the minute just gone by means.

    Parameters
    ----------
    bank : Bank
        As arranged at present.
    memory : PhaseMemory
        With the minute's sums in `memory.live`.
    observation : Observation
        The latest.

    Returns
    -------
    PhaseMemory
        New memory.
    """
    live, track, at = memory.live, memory.track, observation.at
    if observation.temperature is not None:
        track = track._replace(temperature=observation.temperature)
    blocks = tuple([block.label for string in bank.strings for block in string])
    if blocks != track.blocks:
        memory, track = _rearranged(bank, memory, track, blocks, observation.charge)
    seconds = min(at - live.opened, max(live.volt_time, live.amp_time))
    volts = live.volt_seconds / live.volt_time if live.volt_time else None
    amps = live.amp_seconds / live.amp_time if live.amp_time else None
    track, amps = _signed(track, volts, amps, memory.ceiling, seconds)
    memory, charging = _charges(bank, memory._replace(track=track), observation, volts, amps, seconds)
    track = memory.track
    if not charging:
        return _not_charging(bank, memory, at, at - live.opened, volts, amps)
    track = _absorb_minute(track, volts, amps, seconds, at)
    memory = memory._replace(track=track, interrupted=False)
    if memory.phase == "idle":
        memory = _begin(bank, memory, observation)
    if memory.phase not in CHARGING:
        return memory
    memory = learn_charger(bank, memory, observation.resolution)
    memory = wake(bank, memory, observation.charge - track.base, seconds)
    memory = watch_growth(bank, memory, observation, seconds)
    memory = watch_response(memory, observation, seconds)
    folded = folded_back(bank, memory, at, seconds)
    if folded is not None:
        return folded
    decided = _decide(bank, memory, at, seconds, observation.resolution[1])
    if decided.phase != memory.phase:
        decided = decided._replace(track=decided.track._replace(entered=observation.charge))
    return decided


def _signed(
    track: Track, volts: float | None, amps: float | None, ceiling: float, seconds: float
) -> tuple[Track, float | None]:
    """Take the size of a current that reads below zero at a voltage which only a charger holds.

    Nothing else than a charger keeps a cell above 2.25 V: what flows there flows in, and the meter's sign is reversed.
    A voltage on its way down after switch-off is told from one that stands.
    """
    if amps is None:
        return track, None
    least = -T.offset_seen.value if track.reversed_seconds else T.sign_doubted.value * -T.offset_seen.value
    stands = volts is not None and volts >= (ceiling - T.ceiling_band.value if ceiling else T.least_ceiling.value)
    falling = volts is not None and track.volts > 0.0 and volts < track.volts - T.below_ceiling.value
    if amps > least:
        return track._replace(reversed_seconds=0.0, current_seen=True), amps
    outward = amps < -least and stands and not falling
    lasting = track.reversed_seconds + (seconds if outward else 0.0)
    track = track._replace(reversed_seconds=lasting, current_seen=True)
    return track, -amps if lasting >= T.reversed_seconds.value else amps


def _charges(
    bank: Bank, memory: PhaseMemory, observation: Observation, volts: float | None, amps: float | None, seconds: float
) -> tuple[PhaseMemory, bool]:
    """Tell whether this minute was charging; a little current after a stop must last three minutes to be believed."""
    track = memory.track
    faint, charging = (
        (False, False) if observation.cut else _charging(bank, memory, volts, amps, observation.resolution[1])
    )
    if faint and track.off_seconds:
        charging = track.faint_seconds + seconds >= T.faint_seconds.value
        return memory._replace(track=track._replace(faint_seconds=track.faint_seconds + seconds)), charging
    if track.faint_seconds:
        memory = memory._replace(track=track._replace(faint_seconds=0.0))
    return memory, charging


def _rearranged(
    bank: Bank, memory: PhaseMemory, track: Track, blocks: tuple[str, ...], charge: float
) -> tuple[PhaseMemory, Track]:
    """Forget what was learned of charger and current when a bank is split, rejoined or given a string.

    Blocks that have woken stay so wherever they are wired. Charge counts per cell: what each half was given on its own
    is half as much for the whole, and what went through other blocks is none.
    """
    if not track.blocks:
        return memory, track._replace(blocks=blocks, cells=bank.cells, capacity=bank.capacity)
    mine = charge - track.base
    if track.cells < bank.cells:
        mine = charge * track.cells / bank.cells
    elif not set(blocks) & set(track.blocks):
        mine = 0.0
    fresh = Track(
        blocks=blocks, cells=bank.cells, capacity=bank.capacity, awake=track.awake, base=charge - mine,
        temperature=track.temperature, zero=track.zero, zero_seen=track.zero_seen,
    )  # fmt: skip
    memory = memory._replace(ceiling=0.0, set_current=0.0)
    same = track.cells == bank.cells and set(blocks) & set(track.blocks)
    if not same and memory.phase in CHARGING:
        woken = set(blocks) <= set(track.awake)
        memory = memory._replace(
            woken=woken,
            phase="bulk" if woken else "waking",
            since=memory.live.at or 0.0,
            stuck_seconds=0.0,
            not_reviving=False,
            hopeless=False,
            finding="",
        )
    return memory, fresh


def _charging(
    bank: Bank, memory: PhaseMemory, volts: float | None, amps: float | None, step: float
) -> tuple[bool, bool]:
    """Tell whether current is only faint, and whether it charges: by current, or by a voltage only a charger holds.

    A blocking bank takes nothing and yet is on charge.
    """
    track = memory.track
    least = max(T.flows_least.value, T.flows_share.value * bank.capacity, T.flows_steps.value * step)
    flows = amps is not None and amps >= least
    if volts is None or (amps is not None and amps < -least):
        return False, flows
    held = memory.ceiling - T.held_under.value if memory.ceiling else T.held_alone.value
    if amps is None:
        held = min(held, T.held_blind.value)
    # After switch-off the voltage passes the same band on its way down.
    on_its_way_down = track.volts and track.off_seconds != 0.0 and volts < track.volts - T.held_under.value
    if volts >= held and not on_its_way_down:
        return False, True
    return flows and amps is not None and amps < T.faint.value * least, flows


def _not_charging(
    bank: Bank, memory: PhaseMemory, at: float, seconds: float, volts: float | None, amps: float | None
) -> PhaseMemory:
    track = memory.track
    off = track.off_seconds + seconds
    if amps is not None and volts is not None and off >= T.off_seconds.value:
        track = _zeroed(track, volts, amps)
    if off >= TEN_MINUTES and track.finishing_seconds:
        # The flat rule wants uninterrupted charging: a night and a morning are no steady current.
        track = track._replace(finishing_seconds=0.0, hold_bins=(), hold_amp_seconds=0.0, hold_bin_seconds=0.0)
    if memory.stop_awaited and (volts is not None or amps is not None):
        # What nobody sees has not stopped.
        memory = memory._replace(stop_awaited=max(0.0, memory.stop_awaited - seconds))
    if memory.phase == "idle":
        # The minute in which a charger is switched on is none of rest: the one before it counts.
        track = track._replace(rested=track.rests or volts or 0.0, rests=volts or track.rests)
        if memory.started_at is None:
            track = track._replace(on_seconds=0.0)
    track = track._replace(
        off_seconds=off, candidate="", candidate_seconds=0.0, strong_seconds=0.0, free_charge=0.0, entry_seconds=0.0
    )
    live = memory.live if off < T.stay_lost.value else memory.live._replace(pending=0.0)
    interrupted = memory.interrupted or (memory.phase in CHARGING and off >= T.off_seconds.value)
    memory = memory._replace(track=track, live=live, interrupted=interrupted)
    return folded_back(bank, memory, at, seconds) or memory


def _zeroed(track: Track, volts: float, amps: float) -> Track:
    """Learn what the ammeter shows while nothing flows.

    Before the charger is first on nothing else feeds the bank, and its loads are off: there it may show too much as
    well. Later an inverter that loses its feed may draw all night, by more than a zero moves in one round.
    """
    if abs(amps) > -T.zero_most.value or volts >= T.held_blind.value:
        return track
    if not track.bins:
        weight = T.zero_first.value if track.zero_seen else 1.0
        return track._replace(zero=track.zero + weight * (amps - track.zero), zero_seen=True)
    if not track.zero_seen:
        return track._replace(zero=min(0.0, amps), zero_seen=True)
    if abs(amps - track.zero) > T.zero_moves.value:
        return track
    return track._replace(zero=track.zero + T.zero_weight.value * (amps - track.zero))


def _absorb_minute(track: Track, volts: float | None, amps: float | None, seconds: float, at: float) -> Track:
    """Add a charging minute to the smoothed values and to the ten-minute pieces."""
    volts = volts if volts is not None else track.volts
    amps = amps if amps is not None else track.amps
    if track.off_seconds >= TEN_MINUTES or not track.on_seconds:
        track = track._replace(
            volts=volts, amps=amps, slow=amps, on_seconds=0.0, volt_seconds=0.0, amp_seconds=0.0, seconds=0.0
        )
    if track.off_seconds >= T.long_stop.value and track.run_seconds:
        track = track._replace(earlier_run=track.run_seconds, run_seconds=0.0, runs=track.runs + 1)
    # The first minutes are a mixture of before and after.
    settled_in = track.on_seconds >= T.first_minutes.value
    weight = seconds / (seconds + T.smoothed.value) if settled_in else 1.0
    filled = track.seconds + seconds
    volt_seconds = track.volt_seconds + volts * seconds
    amp_seconds = track.amp_seconds + amps * seconds
    bins = track.bins
    if filled >= TEN_MINUTES:
        bins = (*bins[-BINS + 1 :], Bin(at, volt_seconds / filled, amp_seconds / filled, track.temperature))
        filled = volt_seconds = amp_seconds = 0.0
    return track._replace(
        volts=track.volts + weight * (volts - track.volts),
        amps=track.amps + weight * (amps - track.amps),
        slow=track.slow + seconds / (seconds + TEN_MINUTES) * (amps - track.slow),
        bins=bins,
        volt_seconds=volt_seconds,
        amp_seconds=amp_seconds,
        seconds=filled,
        on_seconds=track.on_seconds + seconds,
        run_seconds=track.run_seconds + seconds,
        off_seconds=0.0,
    )


def _begin(bank: Bank, memory: PhaseMemory, observation: Observation) -> PhaseMemory:
    """Start the round's first phase; without a relay ten minutes of charging start the round itself.

    Not while a trip stands, and not on the charge that goes on after a person gave a round up: they meant it.
    """
    started, at = memory.started_at, observation.at
    if started is None:
        if memory.stop_awaited:
            return memory._replace(stop_awaited=TEN_MINUTES)
        if bank.relay is not None or observation.tripped or memory.track.on_seconds < TEN_MINUTES:
            return memory
        started = at - memory.track.on_seconds
    return memory._replace(
        phase="waking", since=max(started, at - memory.track.on_seconds), started_at=started,
        hold_needed=bank.hold.minimum * 3600.0,
    )  # fmt: skip


#: How long the signature of another phase must last [s]; pairs not listed take ten minutes.
DWELL = {
    ("waking", "reviving"): 240.0,
    ("waking", "absorbing"): 1800.0,
    ("waking", "bulk"): 480.0,
    ("reviving", "bulk"): 480.0,
    ("reviving", "waking"): 3600.0,
    ("reviving", "absorbing"): 600.0,
    ("holding", "bulk"): 10800.0,
    ("holding", "absorbing"): 10800.0,
    ("holding", "finishing"): math.inf,
    ("finishing", "bulk"): 7200.0,
    ("finishing", "absorbing"): 7200.0,
}
#: From absorbing back to bulk: after a charger was raised, and after a morning's climb [s] (assumed).
DWELL_RAISED, DWELL_CLIMB = 480.0, 5400.0
#: No longer than this [s] where the voltage was left by more than `LEFT_FOR` of charging [s] (assumed).
DWELL_LEFT, LEFT_FOR = 1200.0, 600.0


def _decide(bank: Bank, memory: PhaseMemory, at: float, seconds: float, step: float) -> PhaseMemory:
    """Ask the signature, wait out its dwell, move."""
    memory = at_equalise(bank, memory, at, seconds, step)
    track = memory.track
    wanted = signature(bank, memory)
    if wanted == memory.phase:
        return memory._replace(track=track._replace(candidate="", candidate_seconds=0.0))
    held = (track.candidate_seconds if wanted == track.candidate else 0.0) + seconds
    dwell = DWELL.get((memory.phase, wanted), TEN_MINUTES)
    if memory.phase == "absorbing" and wanted == "bulk":
        # A morning's climb back is not a new bulk; a raised charger is.
        dwell = DWELL_RAISED if track.peak == 0.0 else DWELL_CLIMB
    if memory.phase in ("absorbing", "holding", "finishing") and track.on_seconds > track.below_seconds + LEFT_FOR:
        # It left the voltage while the charger ran on: another string woke, or the charger was turned down.
        dwell = min(dwell, DWELL_LEFT)
    if held < dwell:
        return memory._replace(track=track._replace(candidate=wanted, candidate_seconds=held))
    return memory._replace(phase=wanted, since=at, track=track._replace(candidate="", candidate_seconds=0.0))
