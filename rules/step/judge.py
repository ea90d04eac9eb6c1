"""A look at the whole bank, once a second at most: what is observed, flags, permit, and what is said of it."""

from __future__ import annotations

from rules.advice import FLAGS, ChargerNow, action, doubts, due, findings
from rules.bank import Bank
from rules.bank_view import View, charges
from rules.events import Event, Flag, Order, Outcome, moment
from rules.hand import reserve
from rules.meters import GRACE, NEVER, charging_threshold
from rules.phase import PhaseMemory
from rules.safety import (
    LINK_LOST,
    MAPPING_SUSPECT,
    NOT_CURRENT,
    NOT_REPEATED,
    NOT_THERE_YET,
    NOTED_BY_A_PERSON,
    OVER_NOW,
    STRING_OVER,
    Finding,
    Pending,
    Proof,
    Seen,
    bridge_was_away,
    confirmed,
    frozen_risk,
    headline,
    interlock,
    known_acid,
    lasting,
    may_freeze,
    over_now,
    permits,
    sign,
    standing,
)
from rules.step.charged import read_full
from rules.step.charger_seen import charger, off_seen
from rules.step.derived_state import Standing
from rules.step.memory import Memory, quiet_until, view_of
from rules.step.next_look import next_look
from rules.step.on_command import over_the_mark, start_blockers
from rules.step.on_tick import LOOK_EVERY, observe

Looked = tuple[Memory, tuple[Outcome | Standing, ...]]

#: Kinds of flags that say that it should not be charged now.
WITHHOLD = frozenset({"hazard", "permit", "start"})
#: Findings that take little current, or a low ceiling, for sulfate.
_OF_LITTLE_CURRENT = frozenset({"not-reviving", "hopeless", "charger-limit-low"})
#: With a look that changes nothing a state goes out too, unless the last is younger than this [s].
SHOW_EVERY = 10.0


def look_in(bank: Bank, memory: Memory, at: float) -> Looked:
    """Take note that a second has passed [s since the epoch]: judge if something is new, waits, or falls due."""
    if at < quiet_until(memory):
        return memory, ()
    if memory.began_at == 0.0:
        memory = memory._replace(began_at=at)
    if memory.sampled or at - memory.observed_at >= LOOK_EVERY:
        # One look for both: what is observed changes nothing that the meters or people show.
        view = view_of(bank, memory, at)
        memory, outcomes = observe(bank, memory, view, at)
        memory, judged = judge(bank, memory, view, at)
        if not outcomes:
            return memory, judged
        orders = tuple([each for each in judged if type(each) is Order])
        return memory, (*orders, *outcomes, *judged[len(orders) :])
    return judge(bank, memory, view_of(bank, memory, at), at)


def judge(bank: Bank, memory: Memory, view: View, at: float) -> Looked:
    """Judge flags, permit and latch from what is known now; show the state if it changed or is due.

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
    """
    machine = memory.phase
    lock = _asked_anew(memory.interlock, machine)
    seen = _seen(bank, memory, view)
    disobeyed = interlock.disobeyed(bank, lock, at, seen)
    found = _shown_now(bank, memory, view, lock, disobeyed)
    pending = lasting(memory.pending, found, at) if found or memory.pending else memory.pending
    hazards = _of_now(pending, lock, disobeyed)
    lock = sign.doubted(
        bank, permits.excuses(bank, lock, view), machine.track.reversed_seconds, memory.thermal.steps, view, at
    )
    silent, suspect, missing = _meters(bank, memory, lock, view, at)
    if suspect is not None:
        meters = permits.remember_stuck(bank, memory.meters, memory.thermal, machine)
        memory = memory if meters is memory.meters else memory._replace(meters=meters)
    limits = _limits(bank, memory, view, pending, at)
    if (contradiction := hazards.pop(MAPPING_SUSPECT, None)) is not None:
        limits[MAPPING_SUSPECT] = contradiction  # lasts like a hazard, and only withholds
    over = hazards.pop(STRING_OVER, None)
    if over is None and STRING_OVER in found and ("over-current" in found or STRING_OVER in memory.flags):
        over = found[STRING_OVER][0]  # on its way to a trip it is told at once, and what is told stays so
    blocking = {name: finding for name, finding in limits.items() if name != "frozen-risk" or not machine.woken}
    against = permits.obstacles(bank, lock.started, machine, missing, lock.bypasses, silent, suspect, blocking, at)
    # A round that is over needs no proof and no checklist: the next one asks for them.
    unready = interlock.unready(bank, lock) if bank.relay is not None and machine.phase not in findings.ENDED else {}
    against.update(unready)
    lock, ordered = interlock.decide(bank, interlock.retold(lock, disobeyed, seen, at), at, hazards, against, seen)
    lock = _as_noted(bank, memory, lock, view, at)
    raised = {
        name: Finding(latch.value, latch.limit, latch.unit, headline(latch.reason))
        for name, latch in lock.latched.items()
    }
    if silent is not None and not _only_we_were_away(memory, silent, at):
        raised["meter-silent"] = silent
    if suspect is not None:
        raised["meter-suspect"] = suspect
    raised.update(limits)
    raised.update({name: Finding(reason=reason) for name, reason in lock.conditions.items()})
    raised.update(unready)
    raised.update({**_relay_findings(bank, memory, lock, seen, at), **_bypassed(bank, lock, at)})
    raised.update(_before_and_after(bank, memory, view, lock, against, at))
    up = frozenset(memory.flags)
    raised.update(
        findings.findings(bank, memory.meters, view, memory.thermal, machine, memory.hand, up, at, lock.bypasses)
    )
    if over is not None:
        raised.setdefault(STRING_OVER, over)
    _spare(bank, memory, view, lock, raised, at)
    if at >= interlock.out_until(lock):  # before it nobody is asked in
        raised.update(due(bank, memory.counters, machine, memory.hand, at))
    raised.update(_unprepared(bank, memory, lock, view, at))
    if memory.test is not None and memory.test.ended_at is not None and machine.phase == "testing":
        raised["test-end"] = Finding(view.volts_per_cell, None, "V", memory.test.reason)
    flags, edges = _flagged(bank, memory, view, lock, raised, at) if raised or memory.flags else ({}, [])
    if not hazards.keys().isdisjoint(NOTED_BY_A_PERSON):
        # What a person noticed is an event: the latch remembers it, and only their looking again tells what is now.
        pending = {key: entry for key, entry in pending.items() if key.partition("|")[0] not in NOTED_BY_A_PERSON}
    memory = _looked_at(bank, memory, lock, pending, flags, at)
    return _say(bank, memory, view, at, (*ordered, *edges))


def _shown_now(
    bank: Bank, memory: Memory, view: View, lock: interlock.Interlock, disobeyed: Finding | None
) -> dict[str, tuple[Finding, float]]:
    """Return what is looked at once a second and counts where it lasts, each with for how long [s]."""
    found = standing(bank, view, memory.thermal, _told_to_charge(lock), memory.phase, memory.past)
    if disobeyed is not None:
        found["relay-disobeys"] = (disobeyed, 0.0)
    if (contradiction := permits.impossible(bank, view)) is not None:
        found[MAPPING_SUSPECT] = (contradiction, permits.IMPOSSIBLE_FOR)
    if (over := findings.total_over(bank, view, STRING_OVER in memory.flags)) is not None:
        found[STRING_OVER] = (over, 0.0)
    return found


def _as_noted(bank: Bank, memory: Memory, lock: interlock.Interlock, view: View, at: float) -> interlock.Interlock:
    """Return the state with what a person noted: until when nobody goes in, and what a resume waits for."""
    if lock.latched and memory.charged_at < at and not charges(bank, view):
        lock = interlock.aired_after_charge(lock, memory.charged_at)
    if lock.started and (posts := permits.at_the_posts(bank, memory.hand)):
        lock = lock._replace(needs_resume=True, noted=posts)
    return lock


def _of_now(pending: dict[str, Pending], lock: interlock.Interlock, disobeyed: Finding | None) -> dict[str, Finding]:
    """Return the hazards of now; what a latched relay did, and what it does since, stands in its latch."""
    found = confirmed(pending) if pending else {}
    if disobeyed is None and "relay-disobeys" in lock.latched:
        found.pop("relay-disobeys", None)
    return found


def _over_now(bank: Bank, memory: Memory, view: View, pending: dict[str, Pending], at: float) -> Finding | None:
    """Return the newest value that passes a limit and is no trip, nor told by one; of a door where a round waits."""
    lock = memory.interlock
    closing = bank.relay is not None and lock.started and not lock.allowed and memory.phase.phase not in findings.ENDED
    over = over_now(bank, memory.meters, view, pending, at, closing=closing)
    return None if over is None or over[0] in lock.latched else over[1]


def _told_to_charge(lock: interlock.Interlock) -> bool:
    """Tell whether the charger is to run for longer than a plain proof lets it."""
    return lock.allowed or lock.proving in NOT_REPEATED


def _only_we_were_away(memory: Memory, silent: Finding, at: float) -> bool:
    """Tell whether a meter was last heard before the bridge came up, a moment ago: the silence may be the bridge's own.

    The permit waits all the same; only nobody is alarmed. What was silent before the bridge went away goes on being so.
    """
    return "meter-silent" not in memory.flags and bridge_was_away(silent, memory.began_at, at)


def _goes_down(lock: interlock.Interlock, memory: Memory, at: float) -> bool:
    """Tell whether the relay was told to open a moment ago: volts and amps of the hold have still to fall."""
    cut = lock.order_at > 0.0 and not lock.allowed
    return cut and "charger-still-high" not in memory.flags and at - lock.order_at < interlock.READ_BACK


def _asked_anew(lock: interlock.Interlock, machine: PhaseMemory) -> interlock.Interlock:
    """Forget the start checklist once the round that it was confirmed for is over: the next one is asked anew."""
    last = max(machine.started_at or 0.0, machine.hold_completed_at or 0.0)
    if lock.checklist_by and machine.phase in findings.ENDED and lock.checklist_at <= last:
        return lock._replace(checklist_by="")
    return lock


def _looked_at(
    bank: Bank,
    memory: Memory,
    lock: interlock.Interlock,
    pending: dict[str, Pending],
    flags: dict[str, Flag],
    at: float,
) -> Memory:
    """Return the memory after a look; when the next is due stays as reckoned, unless that is past or an order left.

    Whatever else a sample starts to count, a minute at least, ends after the minute that `next_look` looks ahead.
    """
    stands = at < memory.due_at and lock is memory.interlock and not pending and not lock.proving
    memory = memory._replace(interlock=lock, pending=pending, flags=flags, judged_at=at, heard=memory.sampled)
    return memory if stands else memory._replace(due_at=next_look(bank, memory, at))


def _meters(
    bank: Bank, memory: Memory, lock: interlock.Interlock, view: View, at: float
) -> tuple[Finding | None, Finding | None, dict[str, bool]]:
    """Return what is silent, what is suspect, and which needed quantities are not known for it."""
    silent, suspect, missing = permits.meter_findings(
        bank, memory.meters, view, memory.thermal, memory.counters, memory.phase, memory.began_at, at, lock.bypasses
    )
    if not lock.sign_doubted:
        return silent, suspect, missing
    return silent, suspect or sign.finding(bank, view.current), {**missing, "current": True}


def _seen(bank: Bank, memory: Memory, view: View) -> Seen:
    amps = bank.by_quantity.get("current", ())
    step = 0.0
    if amps:
        step = amps[0].resolution or memory.meters.get(amps[0].name, NEVER).step
        # A smallest step ever seen is noise on a fine meter; only a coarse one is worth waiting for.
        step = step if amps[0].resolution else min(step, 1.0)
        stands = memory.meters.get(amps[0].name, NEVER)
        if stands.stuck_at == stands.changed_at > 0.0:
            # What it says of a cut is worth nothing: the relay's own word is left.
            return Seen(None, 0.0, step, view.relay_closed, view.relay_at, view.hottest)
    return Seen(
        view.current,
        memory.counters.current_at,
        step,
        view.relay_closed,
        view.relay_at,
        view.hottest,
        off_seen(bank, memory, view) if memory.interlock.proving == "closing" else 0.0,
    )


def _limits(bank: Bank, memory: Memory, view: View, pending: dict[str, Pending], at: float) -> dict[str, Finding]:
    limits = permits.noted(bank, memory.hand, view)
    over = _over_now(bank, memory, view, pending, at)
    if over is not None:
        limits[OVER_NOW] = over
    if may_freeze(view):
        frozen = frozen_risk(view, known_acid(bank, memory.hand, memory.counters, view, memory.phase.track.rested, at))
        if frozen is not None:
            limits["frozen-risk"] = frozen
    used = permits.water_used(memory.counters, memory.hand.topped_up)
    most = permits.RESERVE_USED * reserve(bank)
    if used >= most:
        limits["water-reserve"] = Finding(used, most, "g", "computed water loss per cell")
    over = permits.charge_limit(bank, memory.counters, memory.phase, at, memory.interlock.extended_until)
    if over is not None:
        limits["charge-limit"] = over
    return limits


def _relay_findings(bank: Bank, memory: Memory, lock: interlock.Interlock, seen: Seen, at: float) -> dict[str, Finding]:
    found: dict[str, Finding] = {}
    if bank.relay is None:
        return found
    if lock.lost:
        found["journal-lost"] = Finding(reason=lock.lost)
    if lock.started:
        # Without a round nothing waits for a resume: the next start is a person's look as well.
        found.update(_waiting_for_resume(bank, memory, lock))
    came_up = lock.link_why == NOT_THERE_YET and LINK_LOST not in memory.flags and at - memory.began_at <= GRACE
    if lock.link and not came_up:
        found[lock.link] = Finding(reason=lock.link_why)
    if lock.kept_order_at and at - lock.kept_order_at < interlock.KEPT_ORDER_SHOWN:
        name, what = ("retained-close", "may close it") if lock.kept_closes else ("retained-order", "opens it")
        found[name] = Finding(reason=f"{lock.kept_order!r}, which {what}, was left retained on the relay's topic")
    unconfirmed = interlock.unconfirmed(bank, lock, at, seen)
    if unconfirmed is not None and "relay-disobeys" not in lock.latched:
        found["relay-unconfirmed"] = unconfirmed
    reports = memory.meters.get("relay_state", NEVER)
    if not reports.at and reports.suspect_since:
        found["relay-unconfirmed"] = Finding(reason=f"its state cannot be read: {reports.reason}")
    other = interlock.other_source(lock, at, seen, charging_threshold(bank.capacity))
    if other is not None:
        found["other-source"] = other
    if lock.latched and lock.closed_at >= min(latch.at for latch in lock.latched.values()):
        found["closed-while-tripped"] = Finding(reason="the relay was closed although the bank is tripped")
    proof = lock.proof
    # A proof without current is kept at the first ampere, and said until then; nobody is asked for it before.
    promised = proof.passed and not proof.current_proved and (memory.phase.woken or lock.flows_since > 0.0)
    overdue = at - proof.at > interlock.PROOF_GOOD_FOR
    under_way = lock.started and memory.phase.phase not in findings.ENDED
    # One that never passed is missing, not due: no round goes on without it.
    if under_way and proof.passed and (promised or overdue):
        found["proof-test-due"] = Finding(reason=_why_proof(proof, promised))
    return found


def _bypassed(bank: Bank, lock: interlock.Interlock, at: float) -> dict[str, Finding]:
    """Find the meters whose silence a person excused, with a relay and without."""
    excused = permits.excused_now(bank, lock.bypasses, at)
    return {"bypassed": Finding(reason="; ".join(excused))} if excused else {}


def _why_proof(proof: Proof, promised: bool) -> str:
    """Say what a proof is missing; what a passed one showed months ago is no reason, and reads like a proof of now."""
    if promised:
        return f"not yet shown: {proof.not_shown or NOT_CURRENT}"
    days = interlock.PROOF_GOOD_FOR / 86400.0
    return f"last proved {moment(proof.at)}, more than {days:.0f} days ago"


def _waiting_for_resume(bank: Bank, memory: Memory, lock: interlock.Interlock) -> dict[str, Finding]:
    """Find what a round that is under way waits for a person's second act for."""
    found: dict[str, Finding] = {}
    if lock.exhausted:
        found["permit-exhausted"] = Finding(reason="the permit came back too often today")
    there = permits.at_the_posts(bank, memory.hand)  # first it is put right, and noted gone
    if lock.needs_resume and not lock.latched and not lock.lost and not there:
        found["resume-due"] = Finding(reason=_why_resume(memory, lock))
    if lock.opened_by_hand and memory.phase.phase not in findings.ENDED:
        # Once the round is over the relay belongs open, whoever opened it.
        found["opened-by-hand"] = Finding(reason="the relay reported open although it was allowed to close")
    return found


def _why_resume(memory: Memory, lock: interlock.Interlock) -> str:
    """Say what a person's second act is still missing for, as far as it is remembered."""
    if lock.proof.at and not lock.proof.passed:
        return "a proof test failed"
    if lock.noted:
        return f"{lock.noted} was noted and stands no longer, but whoever noted that may stand at the posts"
    return "a trip was reset" if memory.arrangement is None else "a trip was reset, or blocks are joined anew"


def _before_and_after(
    bank: Bank, memory: Memory, view: View, lock: interlock.Interlock, against: dict[str, Finding], at: float
) -> dict[str, Finding]:
    """Find what stands before a start, and that nothing charges because nobody started or the hold is over."""
    found = {name: Finding(reason=reason) for name, reason in over_the_mark(memory.hand).items()}
    if bank.relay is None:
        return found
    found.update({name: against[name] for name in ("not-started", "hold-complete") if name in against})
    if memory.phase.phase == "idle" and not lock.started:
        blockers = start_blockers(bank, memory._replace(interlock=lock), view, at)
        # What the newest reading is stands in its own flag, with value and limit.
        found.update({name: Finding(reason=reason) for name, reason in blockers.items() if name != OVER_NOW})
    return found


def _spare(
    bank: Bank, memory: Memory, view: View, lock: interlock.Interlock, raised: dict[str, Finding], at: float
) -> None:
    """Take back what is made of little current alone where it was never read, or where the bank is charged.

    And of a charger that was cut a moment ago, that it is not down; and beside a trip for heat, that it is warm.

    A charged bank takes no more, and has no sulfate to wake. A short, or a bank that swallows charge, is seen by
    something else and stays said.
    """
    phase, track = memory.phase.phase, memory.phase.track
    if "over-temperature" in raised:
        raised.pop("temperature-high", None)  # the trip says it, with its own limit
    if OVER_NOW in raised and raised[OVER_NOW].unit == "degC":
        raised.pop("temperature-high", None)  # it says how hot, and that the limit is passed
    if _goes_down(lock, memory, at):
        raised.pop("charger-still-high", None)
    if _OF_LITTLE_CURRENT.isdisjoint(raised):
        return
    unread = not memory.counters.current_at
    full = not unread and read_full(bank, memory, view, at) is not None
    if full:
        raised.pop("charger-limit-low", None)
    if unread or (full and phase in ("waking", "reviving") and not track.shorted):
        raised.pop("not-reviving", None)
        raised.pop("hopeless", None)


def _unprepared(bank: Bank, memory: Memory, lock: interlock.Interlock, view: View, at: float) -> dict[str, Finding]:
    """Find a charger that is on before a round was started, or a round that no start checklist was confirmed for.

    Nothing here keeps a watched bank from being charged: all that is left is to say it.
    """
    phase, begun = memory.phase.phase, memory.phase.started_at is not None
    if phase in findings.ENDED or (bank.relay is not None and (lock.allowed or lock.proving)):
        return {}
    unchecked = "start checklist not confirmed"
    if bank.relay is None and (begun or phase != "idle"):
        return {} if lock.checklist_by else {"checklist-unconfirmed": Finding(reason=unchecked)}
    if lock.checklist_by if bank.relay is None else lock.started:
        return {}
    now = charger(bank, memory, lock, view, at)
    if now.state != "on" or ("charging-unprepared" not in memory.flags and _just_cut(lock, memory, now, at)):
        return {}
    why = unchecked if bank.relay is None else "no round started"
    return {"charging-unprepared": Finding(reason=f"charger on, {why}")}


def _just_cut(lock: interlock.Interlock, memory: Memory, now: ChargerNow, at: float) -> bool:
    """Tell whether what shows the charger on is no later than a cut has time to be seen: the relay may be open."""
    shown_at = memory.counters.current_at if now.by in ("current", "hand") else at
    return now.told == "cut" and shown_at - lock.order_at < interlock.READ_BACK


def _flagged(
    bank: Bank, memory: Memory, view: View, lock: interlock.Interlock, raised: dict[str, Finding], at: float
) -> tuple[dict[str, Flag], list[Outcome]]:
    """Return the flags with what a person should do, and an event for each that came or went."""
    now = charger(bank, memory, lock, view, at)
    if "charger-limit-low" in raised and _not_now(bank, view, now, raised):
        del raised["charger-limit-low"]
    return _edges(bank, memory.flags, raised, now, at)


def _not_now(bank: Bank, view: View, now: ChargerNow, raised: dict[str, Finding]) -> bool:
    """Tell whether nobody may be told to turn anything up: warm, a meter doubted or missing, or charging forbidden."""
    return bool(doubts(bank, view, now, raised)[0]) or any(FLAGS[name].kind in WITHHOLD for name in raised)


def _edges(
    bank: Bank, before: dict[str, Flag], raised: dict[str, Finding], now: ChargerNow, at: float
) -> tuple[dict[str, Flag], list[Outcome]]:
    """Return the flags with their beginnings kept, and an event for each that came or went."""
    flags: dict[str, Flag] = {}
    edges: list[Outcome] = []
    for name, finding in raised.items():
        old = before.get(name)
        if old is not None:
            flags[name] = old._replace(
                value=finding.value,
                limit=finding.limit,
                unit=finding.unit,
                reason=finding.reason,
                action=action(name, now),
            )
            continue
        flags[name] = Flag(
            name,
            FLAGS[name].kind,
            at,
            finding.value,
            finding.limit,
            finding.unit,
            finding.reason,
            action(name, now),
        )
        edges.append(
            Event(
                bank.id,
                "flag-raised",
                at,
                {
                    "flag": name,
                    "value": finding.value,
                    "limit": finding.limit,
                    "unit": finding.unit,
                    "reason": finding.reason,
                },
            )
        )
    edges.extend(
        Event(bank.id, "flag-cleared", at, {"flag": name, "after": at - flag.since})
        for name, flag in before.items()
        if name not in raised
    )
    return flags, edges


def _say(bank: Bank, memory: Memory, view: View, at: float, outcomes: tuple[Outcome, ...]) -> Looked:
    unseen = [each is None for each in (view.voltage, view.current, view.hottest)]
    short = (
        f"{memory.phase.phase}{memory.phase.interrupted}{memory.interlock.allowed}{view.relay_closed}"
        f"{memory.phase.hold_complete}{unseen}{','.join(memory.flags)}"
        f"{memory.interlock.proving}{bool(memory.interlock.latched)}{memory.interlock.started}"
        f"{_after_the_cut(bank, memory, view, at)}{_shown_so_far(memory.interlock, at)}"
    )
    if short == memory.shown and at - memory.shown_at < SHOW_EVERY and not outcomes:
        return memory, outcomes
    memory = memory._replace(shown=short, shown_at=at)
    return memory, (*outcomes, Standing(bank, memory, view, at))


def _shown_so_far(lock: interlock.Interlock, at: float) -> str:
    """Return whether an order reaches the relay, and whether the last cut had its time to show: told in its second."""
    if lock.allowed or lock.confirmed_at or lock.order_at == 0.0:
        return lock.link
    return f"{lock.link}{at - lock.order_at < interlock.READ_BACK}"


def _after_the_cut(bank: Bank, memory: Memory, view: View, at: float) -> str:
    """Return whether current flows on after a cut, and still may: that is told in its second."""
    if bank.relay is None or memory.interlock.allowed or not view.current or view.current < 0.0:
        return ""
    now = charger(bank, memory, memory.interlock, view, at)
    return f"{now.flows}{now.falling}"
