"""What is said of a bank, put together from its memory."""

from __future__ import annotations

from typing import Any, NamedTuple

from rules.advice import (
    FLAGS,
    LOOKS_BLOCKED,
    ChargerNow,
    Situation,
    advice,
    blocks,
    charger_words,
    doubts,
    is_it_safe,
    schedule,
)
from rules.bank import CURRENT_QUANTITIES, Bank, BlockLedger, Meter
from rules.bank_view import View, charges
from rules.events import Derived, moment
from rules.hand import reserve
from rules.laws import GAS_AFTER_CHARGE, hydrogen_rate, ventilation_needed, water_rate
from rules.meters import NEVER, Counters, ages, silence_limit
from rules.phase import CHARGING, at_ceiling
from rules.remaining import BLOCKING, told_now
from rules.safety import (
    LONGEST_ROUND,
    TOP_UP_AT,
    as_far_as,
    out_until,
    reset_refused,
    stuck_words,
    water_used,
)
from rules.step.charged import contradiction, read_full, read_nearly_full
from rules.step.charger_seen import charger, charging_begun, charging_seen, shown_phase
from rules.step.current_verdict import JUDGED, standing
from rules.step.gas import aired_share, current_flows, gas_share
from rules.step.memory import Memory, rest_ends
from rules.step.newest import over_words
from rules.step.on_command import resume_refused, start_blockers
from rules.step.rewire import block_ledger
from rules.verdict import CapacityTest, Verdict, result

#: Air goes on moving so long after charging before the bank may be approached with tools [s].
AIRING = 3600.0 * GAS_AFTER_CHARGE
#: What somebody or something must show of a bank under charge.
SHOWN = ("electrolyte_temperature", "voltage", "current")
#: A meter is late from this share of its usual silence limit on [1]: two of its periods.
LATE = 2.0 / 3.0
#: Why there are no hours where the current does not grow, and the hydrometer says why.
CHARGED = "its gravities are those of a charged bank: no growth of the current is to be waited for"
#: The same, where only one of the two can be.
DOUBTFUL = "its gravities and the volts at which it rested contradict each other, and the volts are believed"
#: Below this nobody can say when the water will have to be made up [g/h].
LEAST_LOSS = 0.01


#: Figure -> quantity, unit and digits of the meter that tells it.
_FIGURES = {
    "voltage": ("voltage", "V", 2),
    "current": ("current", "A", 1),
    "temperature": ("electrolyte_temperature", "degC", 1),
}


class Standing(NamedTuple):
    """A state that is due and not put together yet: `derive` makes it, for whoever wants it.

    Attributes
    ----------
    of : Bank
        As joined at that moment.
    memory : Memory
        After the look.
    view : View
        The bank as its meters showed it.
    at : float
        When [s since the epoch].
    """

    of: Bank
    memory: Memory
    view: View
    at: float


def flags_in_order(memory: Memory) -> tuple[str, ...]:
    """Return the names of the flags that are up, the worst first."""
    return tuple(sorted(memory.flags, key=lambda name: FLAGS[name].severity_rank))


def situation(bank: Bank, memory: Memory, view: View, now: ChargerNow, at: float) -> Situation:
    """Return what the next step is made from, at one moment [s since the epoch]."""
    phase = memory.phase
    doubt, unseen = doubts(bank, view, now, memory.flags)
    lock = memory.interlock
    over = over_words(bank, memory, at, closing=False, view=view) if lock.latched else ""
    gone = bool(lock.latched) and not reset_refused(lock, memory.pending, at, over)
    told, interrupted = shown_phase(memory, now)
    return Situation(
        told,
        interrupted,
        phase.woken,
        phase.started_at is not None,
        phase.hold_complete,
        max(0.0, phase.hold_needed - phase.hold_seconds) / 3600.0,
        now,
        doubt,
        unseen,
        gone,
        rest_ends(memory) if phase.phase == "resting" else 0.0,
        at,
        memory.hand.gravity_at,
        blocks(view.volts_per_cell, view.current, phase.ceiling, bank.capacity),
        checked=bool(memory.interlock.checklist_by),
        seen_to=phase.phase == "finished" and memory.hand.last_at > phase.since,
        proving=lock.proving,
        after_look=_after_look(bank, memory, view, gone, at) if "journal-lost" in memory.flags else "",
        full=read_full(bank, memory, view, at) if told in {"idle", *LOOKS_BLOCKED} else None,
        nearly=read_nearly_full(bank, memory, view, at) if told == "waking" else None,
        blind=_blind(bank, memory, told, unseen, now),
        against=contradiction(bank, memory, at) if told == "waking" else None,
        hangs=bool(stuck_words(bank.relay, lock.proof.own)),
        charged_for=phase.track.on_seconds,
        given_up=phase.stop_awaited > 0.0,
        no_ammeter=not any(quantity in bank.by_quantity for quantity in CURRENT_QUANTITIES),
        unheard=_unheard(bank, memory, view),
        proved=as_far_as(lock.proof),
    )


def _unheard(bank: Bank, memory: Memory, view: View) -> tuple[str, ...]:
    """Return in words which thermometers have said nothing since the bridge came up."""
    return tuple([
        meter.words for meter in bank.by_quantity.get("electrolyte_temperature", ())
        if not view.lives(meter) and _not_since(memory, meter)
    ])  # fmt: skip


def _not_since(memory: Memory, meter: Meter) -> bool:
    """Tell whether a meter has said nothing since the bridge came up, neither what is believed nor what is not."""
    trace = memory.meters.get(meter.name, NEVER)
    return max(trace.at, trace.suspect_since) <= memory.began_at


def _late(bank: Bank, memory: Memory, view: View, at: float) -> dict[str, str]:
    """Say of each meter that is late since when, and when it counts as silent; and of what was not heard yet."""
    found = {}
    for meter in bank.meters:
        trace = memory.meters.get(meter.name, NEVER)
        if view.lives(meter):
            limit, usual = silence_limit(meter, trace), silence_limit(meter, trace._replace(lost=0.0))
            if at - trace.at > LATE * usual:
                why = ": it is known to miss samples" if limit > usual else ""
                found[meter.words] = f"nothing since {moment(trace.at)}; silent from {limit:.0f} s on{why}"
        elif _not_since(memory, meter):
            found[meter.words] = "not heard since the bridge came up"
    return found


def _blind(bank: Bank, memory: Memory, told: str, unseen: tuple[str, ...], now: ChargerNow) -> str:
    """Tell whether nothing shows a bank whose charge may go on, and whether its meters may only not have spoken yet."""
    if told not in CHARGING or now.state != "unseen" or len(unseen) < len(SHOWN):
        return ""
    metered = any(quantity in bank.by_quantity for quantity in (*SHOWN, *CURRENT_QUANTITIES))
    return "just-up" if metered and "meter-silent" not in memory.flags else "now"


def _after_look(bank: Bank, memory: Memory, view: View, gone: bool, at: float) -> str:
    """Return the act that would be taken now from a person who has looked; empty where none would."""
    if memory.interlock.latched:
        return "reset" if gone else ""
    if memory.interlock.started:
        return "" if resume_refused(bank, memory, at) else "resume"
    return "" if start_blockers(bank, memory, view, at) else "start"


def shown(view: View) -> dict[str, Any]:
    """Return what meters show, by the field of a `Derived`."""
    return {
        "voltage": view.voltage,
        "volts_per_cell": view.volts_per_cell,
        "current": view.current,
        "current_estimated": view.estimated,
        "string_currents": view.strings,
        "power": None if view.voltage is None or view.current is None else view.voltage * view.current,
        "temperature": view.hottest,
        "ambient": view.ambient,
    }


def metered(view: View, counters: Counters) -> dict[str, Any]:
    """Return the same without what a person told: nothing by hand changes from second to second."""
    values = shown(view)
    if view.voltage_by_hand:
        values |= {"voltage": None, "volts_per_cell": None, "power": None}
    if counters.by_hand:
        values |= {"current": None, "power": None}
    if view.temperature_by_hand:
        values["temperature"] = None
    return values


def derive(bank: Bank, memory: Memory, view: View, at: float) -> Derived:
    """Return everything that goes out, at one moment [s since the epoch]."""
    phase, counters, hand, lock = memory.phase, memory.counters, memory.hand, memory.interlock
    charging = current_flows(view)
    hydrogen = air = share = None
    # Where nobody knows how warm it is, the figure to air by is that of the warmest it may become.
    warmth = bank.limits.temperature if view.hottest is None else view.hottest
    current = max(0.0, view.current or 0.0)
    if view.current is not None and view.volts_per_cell is not None:
        volts = view.volts_per_cell * bank.cells
        share = gas_share(bank, phase, volts, warmth, current) if charging else 0.0
        hydrogen = hydrogen_rate(current * share, bank.cells)
    if view.current is not None and (charging or share is not None):
        aired_of = aired_share(bank, hand, view, warmth, share or 0.0) if charging else 0.0
        air = ventilation_needed(current * aired_of, bank.cells)
    used, most = water_used(counters, hand.topped_up), reserve(bank)
    losing = None if share is None or view.current is None else water_rate(view.current * share / len(bank.strings))
    test = memory.test
    tested = test is not None and test.delivered > 0.0
    verdicts, proposal = _verdict(bank, memory)
    names = flags_in_order(memory)
    now = charger(bank, memory, memory.interlock, view, at)
    told, interrupted = shown_phase(memory, now)
    seen_charging = charging_seen(now)
    estimate = told_now(memory.phase, memory.remaining.estimate, seen_charging, charging_begun(memory, seen_charging))
    shown_flags = tuple([memory.flags[name] for name in names])
    seen = situation(bank, memory, view, now, at)
    steps, safe = advice(seen, names), is_it_safe(seen, shown_flags)
    blocks_not = seen.full is not None and estimate.reason.startswith(BLOCKING)
    reason = CHARGED if blocks_not else estimate.reason
    if seen.against is not None and not blocks_not:
        reason = f"{DOUBTFUL}; {reason}"
    counted = counters.current_at > 0.0
    return Derived(
        bank=bank.id,
        at=at,
        **shown(view),
        rise_rate=memory.thermal.rate,
        phase=told,
        phase_since=phase.since or None,
        interrupted=interrupted,
        remaining_hours=estimate.hours,
        remaining_low=estimate.low,
        remaining_high=estimate.high,
        remaining_clock_hours=estimate.clock_hours,
        remaining_clock_low=estimate.clock_low,
        remaining_clock_high=estimate.clock_high,
        remaining_reason=_before_the_hold(bank, told, reason),
        finish_at=None if estimate.clock_hours is None else at + 3600.0 * estimate.clock_hours,
        hold_hours=phase.hold_seconds / 3600.0,
        hold_needed=phase.hold_needed / 3600.0,
        charge_returned=counters.charge if counted else None,
        energy=counters.energy if counted else None,
        overcharge=max(0.0, counters.charge - bank.capacity) if counted else None,
        hydrogen_rate=hydrogen,
        ventilation_needed=air,
        water_used=used,
        safe_to_approach_at=at + AIRING if charging else (memory.charged_at + AIRING if memory.charged_at else None),
        lowest_gravity=hand.lowest,
        gravity_spread=hand.spread,
        gravity_trend=hand.trend,
        cells=tuple(
            {
                "cell": entry.cell,
                "gravity": entry.gravity_corrected,
                "mark": entry.mark,
                "taken_at": entry.taken_at,
                "under_charge": entry.under_charge,
                "trusted": entry.trusted,
                "corrected": entry.corrected,
                "mixed": entry.mixed,
                "why": entry.why,
            }
            for entry in {entry.cell: entry for entry in hand.gravities}.values()
        ),
        charge_allowed=lock.allowed and bank.relay is not None,
        tripped=bool(lock.latched),
        trip_reason=", ".join(lock.latched),
        relay="unknown" if view.relay_closed is None else ("closed" if view.relay_closed else "open"),
        flags=shown_flags,
        safe=safe.word,
        unsafe=safe.flags,
        safe_why=safe.why,
        next_step=steps.first,
        then=steps.then,
        charger=charger_words(now),
        freshness=_ages(bank, memory, at),
        gas_assumed_at=bank.limits.temperature if share and view.hottest is None else None,
        charging=now.flows or now.state == "on",
        not_live=_not_live(bank, memory, view),
        late=_late(bank, memory, view, at),
        gassing_share=share,
        water_reserve=most,
        top_up_at=_top_up_at(at, used, TOP_UP_AT * most, losing if at_ceiling(phase) else None),
        gravity_rise=hand.rise,
        gravity_rise_by_water=hand.rise_by_water,
        gravity_plateau=hand.plateau,
        blocks=_blocks(bank, memory),
        capacity_delivered=test.delivered if test is not None and tested else None,
        capacity_percent=_percent(bank, test) if test is not None and tested else None,
        fell_first=test.fell_first if test is not None else (),
        verdict=tuple([{**verdict._asdict(), "reasons": list(verdict.reasons)} for verdict in verdicts]),
        matching=proposal,
        chores=_chores(bank, memory, at, charges(bank, view)),
    )


def _before_the_hold(bank: Bank, phase: str, reason: str) -> str:
    """Put in front why the hold can never begin, where no charger of the cabin file reaches its voltage."""
    if phase not in (*CHARGING, "idle") or phase == "holding" or not bank.out_of_reach:
        return reason
    highest = max(charger.volts for charger in bank.chargers)
    needed = f"equalising needs {bank.equalise * bank.cells:.1f} V"
    return f"the hold cannot begin: the charger reaches {highest:g} V, {needed}; {reason}"


def _top_up_at(at: float, used: float, limit: float, losing: float | None) -> float | None:
    """Return when so much water will be gone [s since the epoch] at the present loss [g/h]; now, where it is.

    Not before the voltage stands, for the loss follows it many times over, nor further ahead than a round lasts.
    """
    if used >= limit:
        return at
    if losing is None or losing < LEAST_LOSS:
        return None
    ahead = 3600.0 * (limit - used) / losing
    return at + ahead if ahead <= LONGEST_ROUND else None


def _ages(bank: Bank, memory: Memory, at: float) -> dict[str, float]:
    """Return the ages of the meters, and of what stands for them by hand [s]."""
    result = ages(bank, memory.meters, at)
    by_hand = {
        "voltage": memory.hand.voltage_at,
        "electrolyte_temperature": memory.hand.temperature_at,
        "current": memory.counters.current_at if memory.counters.by_hand else 0.0,
    }
    for quantity, when in by_hand.items():
        if when and quantity not in result:
            result[quantity] = round(at - when, 1)
    return result


def _not_live(bank: Bank, memory: Memory, view: View) -> dict[str, str]:
    """Say of each figure that no living meter tells by whom it is told, when, and what its meter told last."""
    hand, counters = memory.hand, memory.counters
    noted = {
        "voltage": hand.voltage_at if view.voltage_by_hand else 0.0,
        "current": counters.current_at if counters.by_hand and view.current is not None else 0.0,
        "temperature": max(hand.temperature_at, hand.case_at) if view.temperature_by_hand else 0.0,
    }
    shown_now = shown(view)
    found = {}
    for figure, (quantity, unit, digits) in _FIGURES.items():
        said = [f"by hand at {moment(noted[figure])}"] if noted[figure] else []
        if not view.living.get(quantity) and (noted[figure] or shown_now[figure] is None):
            heard = [
                memory.meters[each.name] for each in bank.by_quantity.get(quantity, ()) if each.name in memory.meters
            ]
            last = max(heard, key=lambda trace: trace.at, default=NEVER)
            if last.at and not last.retained:
                said.append(f"last heard {last.value:.{digits}f} {unit} at {moment(last.at)}")
        if said:
            found[figure] = "; ".join(said)
    return found


def _blocks(bank: Bank, memory: Memory) -> tuple[dict[str, object], ...]:
    """Return every block of the round: where it stands now (string 0 = aside), and what went through it."""
    ledger = block_ledger(bank, memory)
    aside = () if memory.arrangement is None else memory.arrangement.aside
    places = [(block.label, number) for number, string in enumerate(bank.strings, 1) for block in string]
    places += [(label, 0) for string in aside for label in string]
    return tuple(
        [
            {"block": label, "string": number, "charge": round(account.charge, 2), "hours": round(account.hours, 2)}
            for label, number in places
            for account in (ledger.get(label, BlockLedger()),)
        ]
    )


def _chores(bank: Bank, memory: Memory, at: float, charging: bool) -> tuple[dict[str, object], ...]:
    if at < out_until(memory.interlock):
        return ()  # nobody goes in, and nobody is asked to
    coming = schedule(bank, memory.counters, memory.phase, memory.hand, at)
    clamp = coming.get("string-currents-due")
    if clamp is not None and clamp.due_at > at and not charging:
        del coming["string-currents-due"]  # it is due by charging time, and that stands still
    by_time = sorted(coming.items(), key=lambda item: item[1].due_at)
    return tuple([{"chore": name, "due_at": round(chore.due_at)} for name, chore in by_time])


def _percent(bank: Bank, test: CapacityTest) -> float | None:
    try:
        return result(test, bank.capacity).percent
    except ValueError:  # minutes after its start, or at a temperature that cannot be corrected for
        return None


def _verdict(bank: Bank, memory: Memory) -> tuple[tuple[Verdict, ...], tuple[tuple[str, ...], ...]]:
    running = memory.phase.phase == "testing" and (memory.test is None or memory.test.ended_at is None)
    if memory.phase.phase not in JUDGED or running:
        return (), ()
    try:
        verdicts, proposal = standing(bank, memory)
    except ValueError:
        return (), ()
    return verdicts, proposal.strings
