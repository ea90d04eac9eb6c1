"""What a person does (start, resume, abandon, reset, prove and the rest), and what the bridge says of itself."""

from __future__ import annotations

from rules.advice import HELD_UP, off_known
from rules.bank import CURRENT_QUANTITIES, Bank, arranged, too_much_for_the_part
from rules.bank_view import View
from rules.events import Command, Event, Outcome, moment
from rules.hand import HandLog
from rules.meters import LARGEST_ZERO, Thermal, restarted
from rules.phase import machine as phase
from rules.plan import checklist
from rules.safety import (
    CHARGER_OFF,
    DEGRADED,
    EXTENSION,
    FIRE_NOTED,
    NOT_REPEATED,
    NOT_THERE_YET,
    OVER_NOW,
    PROVED,
    UNPROVED,
    Excused,
    Interlock,
    Latch,
    Proof,
    at_the_posts,
    frozen_risk,
    interlock,
    known_acid,
    meter_findings,
    noted,
    permits,
    put_right,
)
from rules.step.charger_seen import charger, charging_seen, off_seen, shown_phase
from rules.step.checklist_doubts import checklist_doubts
from rules.step.current_verdict import JUDGED
from rules.step.gas import counted_up_to
from rules.step.memory import Memory, new_round, rest_ends, view_of
from rules.step.newest import over_words
from rules.step.rewire import rewired
from rules.verdict import WORDS, CapacityTest, Given

Outcomes = tuple[Memory, tuple[Outcome, ...]]
#: A hold of which less than this is missing may be finished without a question [1] (assumed).
NEARLY_HELD = 0.1
#: No charger comes on before it, for a round or for a test.
CHECKLIST_OPEN = "the start checklist is not confirmed"


def act(configured: Bank, bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Carry out one act, or refuse it with the reason.

    Parameters
    ----------
    configured, bank : Bank
        As in the cabin file, and as its blocks are joined now.
    memory : Memory
        So far.
    command : Command
        Its `name` is one of `ACTS`.

    Returns
    -------
    tuple
        New memory and what is to be told. The permit is judged afterwards, by the caller.
    """
    if command.name == "arrange":
        return _arrange(configured, bank, memory, command)
    known = ACTS.get(command.name)
    if known is None:
        return _refused(memory, command, "unknown command")
    return known(bank, memory, command)


def _done(memory: Memory, command: Command, **detail: object) -> Outcomes:
    told = {"name": command.name, "by": command.by, "argument": dict(command.argument), **detail}
    # Whoever ordered something sees at once what follows from it.
    return memory._replace(shown=""), (Event(command.bank, "command", command.at, told),)


def _refused(memory: Memory, command: Command, why: str) -> Outcomes:
    detail = {"name": command.name, "by": command.by, "why": why}
    return memory, (Event(command.bank, "refused", command.at, detail),)


def _unsure(memory: Memory, command: Command, why: str) -> Outcomes:
    """Ask back, as with a strange reading: at whatever door, and it leaves no trace."""
    detail = {"name": command.name, "by": command.by, "why": why}
    return memory, (Event(command.bank, "unsure", command.at, detail),)


def over_the_mark(hand: HandLog) -> dict[str, str]:
    """Return a level that forbids a start, and only that, by flag name."""
    return {"level-wrong": f"level over the mark at {hand.level_wrong}"} if hand.level_wrong else {}


def start_blockers(bank: Bank, memory: Memory, view: View, at: float) -> dict[str, str]:
    """Return what stands against a start now [s since the epoch], by flag name; a bank only watched starts freely."""
    if bank.relay is None:
        return {}
    over = over_words(bank, memory, at, view=view)
    against = {OVER_NOW: over} if over else {}
    against.update(over_the_mark(memory.hand))
    against.update({name: found.reason for name, found in noted(bank, memory.hand, view).items()})
    lock = memory.interlock
    if not lock.checklist_by:
        against["checklist-open"] = CHECKLIST_OPEN
    if not lock.proof.passed:
        against["proof-test-missing"] = interlock.unproved(bank, lock)
    return against


def _tripped(lock: Interlock, at: float) -> str:
    """Say which trip stands at this moment [s since the epoch], and what ends it; empty where none does."""
    if not lock.latched:
        return ""
    why = "; ".join(f"{name}: {latch.reason}" if latch.reason else name for name, latch in lock.latched.items())
    until = interlock.out_until(lock)
    if at < until:
        fire = "the fire service says so, nor before " if FIRE_NOTED in lock.latched else ""
        return f"tripped by {why}: nobody goes in before {fire}{moment(until, up=True)}, and no reset is taken before"
    return f"tripped by {why}: reset first"


def _start(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    if tripped := _tripped(memory.interlock, command.at):
        return _refused(memory, command, tripped)
    view = view_of(bank, memory, command.at)
    against = start_blockers(bank, memory, view, command.at)
    if against:
        return _refused(memory, command, "; ".join(against.values()))
    if memory.interlock.started and memory.interlock.needs_resume:
        return _refused(memory, command, "the round is under way and waits for a resume: start is no second act")
    counters, machine = memory.counters, memory.phase
    if machine.phase in ("idle", "finished", "resting", "testing"):
        machine = phase.command(bank, machine, "start", command.at)
        counters = restarted(counted_up_to(bank, memory, command.at))
    lock = _looked_at(memory.interlock)._replace(started=True, resumes=0, extended_until=0.0)
    if lock == memory.interlock and machine is memory.phase:
        since = f" since {moment(machine.started_at)}" if machine.started_at else ""
        return _refused(memory, command, f"the round is under way{since} already: nothing begins anew")
    if counters is not memory.counters:
        memory = new_round(memory)
    return _done(memory._replace(counters=counters, phase=machine, interlock=lock), command)


def _looked_at(lock: Interlock) -> Interlock:
    """Return the lock as a person's start or resume leaves it: what waited for somebody's look waits no longer."""
    return lock._replace(
        needs_resume=False,
        noted="",
        exhausted=False,
        lost="",
        withdrawn_for="",
        returns=(),
        opened_by_hand=0.0,
        sign_doubted=0.0,
    )


def resume_refused(bank: Bank, memory: Memory, at: float) -> str:
    """Say why a resume would not be taken now, whatever waits for it; empty where it would be.

    Parameters
    ----------
    bank : Bank
        As joined now.
    memory : Memory
        Its memory.
    at : float
        Now [s since the epoch].

    Examples
    --------
    >>> from rules.bank.model import Block, Relay
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),), relay=Relay())
    >>> resume_refused(bank, Memory(), 1795590000.0)
    'no round was started: start first'
    """
    lock = memory.interlock
    if lock.latched:
        return f"still tripped by {', '.join(lock.latched)}: reset first"
    if bank.relay is None:
        return ""
    if not lock.started:
        return "no round was started: start first"
    if not lock.checklist_by:
        return "the start checklist is not confirmed for the blocks as they are joined now"
    if not lock.proof.passed and not lock.proving:
        return f"{interlock.unproved(bank, lock)}: no resume before a proof test has passed"
    if posts := at_the_posts(bank, memory.hand):
        return f"{posts} is noted, and nothing charges while it is: {put_right(bank, memory.hand)}"
    if over := over_the_mark(memory.hand):
        return f"{'; '.join(over.values())}: draw it down to below the mark and note it with `revival record level`"
    return over_words(bank, memory, at)


def _resume(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    lock = memory.interlock
    if against := resume_refused(bank, memory, command.at):
        return _refused(memory, command, against)
    machine = phase.command(bank, memory.phase, "resume", command.at)
    waits = _looked_at(lock) != lock._replace(returns=()) or machine != memory.phase or "charge-limit" in memory.flags
    if not waits:
        return _refused(memory, command, "nothing waits for a resume")
    lock = _looked_at(lock)
    if "charge-limit" not in memory.flags:
        return _done(memory._replace(interlock=lock, phase=machine), command)
    lock = lock._replace(extended_until=command.at + EXTENSION)
    return _done(memory._replace(interlock=lock, phase=machine), command, extended_until=lock.extended_until)


def _to_end(memory: Memory, name: str) -> bool:
    """Tell whether there is a round to end; one that rests or is tested can still be given up or judged."""
    under_way = memory.interlock.started or phase.running(memory.phase)
    return under_way or (name != "finish" and memory.phase.phase in JUDGED)


def _end(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Finish or abandon: the permit goes with the round, and the checklist that was confirmed for it."""
    if not _to_end(memory, command.name):
        return _refused(memory, command, "no round runs")
    if command.name == "finish" and command.argument.get("sure") is not True and (lost := _lost(bank, memory)):
        return _unsure(memory, command, lost)
    machine = phase.command(bank, memory.phase, command.name, command.at)
    lock, stopped = _ended_early(bank, memory, command.at, "the round was ended")
    lock = lock._replace(started=False, checklist_by="")
    early = {}
    if command.name == "finish" and machine.phase == "resting" and not machine.hold_complete:
        held, needed = memory.phase.hold_seconds / 3600.0, bank.hold.minimum
        early = {"early": f"held {held:.1f} of at least {needed:g} h: the hold is not complete"}
    memory, told = _done(memory._replace(phase=machine, interlock=lock), command, **early)
    return memory, (*stopped, *told)


def _lost(bank: Bank, memory: Memory) -> str:
    """Say what a round that is finished now goes without; empty where its hold is as good as complete."""
    held, needed = memory.phase.hold_seconds / 3600.0, bank.hold.minimum
    if not phase.running(memory.phase) or held >= (1.0 - NEARLY_HELD) * needed:
        return ""
    short = f"held {held:.1f} of at least {needed:g} h"
    return f"the hold is not complete: {short}, and a later round holds anew from nothing"


def _verdict(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Take a person's words by block and bank, and capacities [Ah], which ends the round; or take the last back."""
    if command.argument.get("undo"):
        return _verdict_back(memory, command)
    if memory.phase.phase not in JUDGED:
        return _refused(
            memory, command, f"not while {_where(bank, memory, command.at)}: a verdict comes after the rest"
        )
    words = command.argument.get("words", {})
    capacities = command.argument.get("capacities", {})
    if not isinstance(words, dict) or not set(words.values()) <= set(WORDS):
        return _refused(memory, command, f"words: block or bank -> one of {', '.join(WORDS)}")
    if not isinstance(capacities, dict) or not all(type(value) in (int, float) for value in capacities.values()):
        return _refused(memory, command, "capacities: block or bank -> number")
    given = Given(command.at, command.by, dict(words), {label: float(value) for label, value in capacities.items()})
    before = memory.given
    memory, told = _end(bank, memory._replace(given=given, given_before=before), command)
    if before is None:
        return memory, told
    by = {"replaces": before.by or "somebody"}
    return memory, tuple(
        [
            each._replace(detail={**each.detail, **by}) if isinstance(each, Event) and each.kind == "command" else each
            for each in told
        ]
    )


def _verdict_back(memory: Memory, command: Command) -> Outcomes:
    """Take the verdict back, with the capacities that came with it: the one before it stands again; no round begins."""
    if memory.given is None:
        return _refused(memory, command, "no verdict was given that could be taken back")
    gone, before = memory.given, memory.given_before
    stands = {} if before is None else {"stands": before._asdict()}
    memory = memory._replace(given=before, given_before=None)
    return _done(memory, command, gone={"at": gone.at, "by": gone.by}, **stands)


def _reset(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Clear the latch. It is not a restart: only `resume` lets the relay close again."""
    lock = memory.interlock
    over = over_words(bank, memory, command.at, closing=False)
    against = interlock.reset_refused(lock, memory.pending, command.at, over)
    if against:
        return _refused(memory, command, against)
    if not lock.latched and not lock.exhausted:
        return _refused(memory, command, "nothing to reset")
    cleared = [*lock.latched, *(["permit-exhausted"] if lock.exhausted else [])]
    lock = lock._replace(latched={}, needs_resume=True, exhausted=False)
    return _done(memory._replace(interlock=lock), command, cleared=cleared)


def _prove(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Begin the proof test, or only say whether it would be refused: the warning before it must come in between."""
    own = command.argument.get("auto_off") is True
    if against := _against_proof(bank, memory, command.at) or _against_own(bank, memory.interlock, own):
        return _refused(memory, command, against)
    if command.argument.get("only") == "asked":
        return memory, ()
    seen = _seen(memory, view_of(bank, memory, command.at))
    beside = command.argument.get("beside") is True
    lock, outcomes = interlock.begin_proof(bank, memory.interlock, command.at, seen, own, beside)
    return memory._replace(interlock=lock), tuple(outcomes)


def _against_own(bank: Bank, lock: Interlock, own: bool) -> str:
    """Say why a proof test may not be with, or without, a trial of the relay's own auto-off; empty where it may."""
    if bank.relay is None or not bank.relay.auto_off:
        return "the cabin file has no auto_off for this relay: there is nothing to try" if own else ""
    return "" if own else interlock.stuck_words(bank.relay, lock.proof.own)


def _ended_early(bank: Bank, memory: Memory, at: float, why: str) -> tuple[Interlock, tuple[Outcome, ...]]:
    """Stop the trial of an auto-off where one runs: who ends charging does not mean it to run on for minutes."""
    if memory.interlock.proving not in NOT_REPEATED:
        return memory.interlock, ()
    seen = _seen(memory, view_of(bank, memory, at))
    lock, stopped = interlock.stop_proof(bank, memory.interlock, at, seen, why)
    return lock, tuple(stopped)


def _seen(memory: Memory, view: View) -> interlock.Seen:
    """Return what a proof test is judged by."""
    return interlock.Seen(view.current, memory.counters.current_at, 0.0, view.relay_closed, view.relay_at, view.hottest)


def _against_proof(bank: Bank, memory: Memory, at: float) -> str:
    """Say why no charger comes on for a proof test at this moment [s since the epoch]; empty where it may."""
    lock = memory.interlock
    if bank.relay is None:
        return "watch only: there is no relay to prove"
    if busy := _tripped(lock, at) or ("a proof test is running" if lock.proving else ""):
        return busy
    if lock.storage != PROVED:
        return "not while nothing can be kept: the relay closes for no test the journal misses"
    view = view_of(bank, memory, at)
    silent, suspect, missing = meter_findings(
        bank, memory.meters, view, memory.thermal, memory.counters, memory.phase, memory.began_at, at
    )
    if missing:
        first = silent or suspect
        why = f": {first.reason}" if first is not None else ""
        return f"not before {', '.join(sorted(missing))} can be watched{why}"
    acid = known_acid(bank, memory.hand, memory.counters, view, memory.phase.track.rested, at)
    if not memory.phase.woken and frozen_risk(view, acid) is not None:
        return "too cold: a frozen battery must not be charged, not even for a test"
    if against := noted(bank, memory.hand, view):
        return "; ".join(found.reason for found in against.values())
    off = lock.allowed and view.relay_closed and off_seen(bank, memory, view) > lock.order_at
    if over := over_words(bank, memory, at, view=view) or (CHARGER_OFF if off else ""):
        return over
    return "" if lock.checklist_by else f"{CHECKLIST_OPEN}: walk round first, `revival checklist --name YOU`"


def _witness(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Take a person's word, by name, that the relay was heard and the charger went out: nothing else shows it."""
    by = str(command.argument.get("name") or "").strip()
    if memory.interlock.proving != "witness":
        return _refused(memory, command, "no proof test waits for a person's word")
    if not by:
        return _refused(memory, command, "it counts by name only: who heard the relay and saw the charger go out?")
    lock, outcomes = interlock.witnessed(bank, memory.interlock, command.at, by)
    memory, told = _done(memory._replace(interlock=lock), command)
    return memory, (*told, *outcomes)


def _checklist(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Take the walk round, by name, or take it back; or only say whether it would be refused, before anybody walks."""
    if command.argument.get("undo"):
        return _checklist_back(bank, memory, command)
    if tripped := _tripped(memory.interlock, command.at):
        return _refused(memory, command, tripped)
    if command.argument.get("only") == "asked":
        return memory, ()
    # a name that is given and empty is nobody's: it is not made up from where it came
    by = str(command.argument.get("name", command.by) or "").strip()
    if not by:
        return _refused(memory, command, "the checklist is confirmed by name: who walked round?")
    view = view_of(bank, memory, command.at)
    raised = over_the_mark(memory.hand)
    raised.update({name: found.reason for name, found in noted(bank, memory.hand, view).items()})
    doubts = checklist_doubts(bank, view.current, view.volts_per_cell, view.relay_closed is False, raised)
    if any(doubt.forbids for doubt in doubts):
        why = "; ".join(f"{doubt.line}: {doubt.why}" for doubt in doubts if doubt.forbids)
        return _refused(memory, command, f"the start checklist cannot be so: {why}")
    lock = memory.interlock._replace(checklist_by=by, checklist_at=command.at)
    against = {"against": "; ".join(f"{doubt.line}: {doubt.why}" for doubt in doubts)} if doubts else {}
    return _done(memory._replace(interlock=lock), command, lines=len(checklist([bank])), **against)


def _checklist_back(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Take the checklist back, whatever else stands: nothing charges without it, and no test of the relay goes on."""
    lock = memory.interlock
    if not lock.checklist_by:
        return _refused(memory, command, "no checklist is confirmed that could be taken back")
    gone = {"at": lock.checklist_at, "by": lock.checklist_by}
    seen = _seen(memory, view_of(bank, memory, command.at))
    lock, stopped = interlock.stop_proof(bank, lock, command.at, seen, "the start checklist was taken back")
    memory, told = _done(memory._replace(interlock=lock._replace(checklist_by="")), command, gone=gone)
    return memory, (*stopped, *told)


def _bypass(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Excuse the silence of one meter, or of some of one kind, for a while: explicit, visible, limited; 0 ends it."""
    said, minutes = str(command.argument.get("quantity", "")), command.argument.get("minutes", 0)
    names = list(dict.fromkeys(name.strip() for name in said.split(",") if name.strip())) or [said]
    if why := next((why for name in names if (why := _unknown_meter(bank, name))), ""):
        return _refused(memory, command, why)
    meters = [meter for name in names if (meter := permits.metered_by(bank, name)) is not None]
    if len({meter.quantity for meter in meters}) > 1:
        return _refused(memory, command, "several may be named only of one quantity, never two quantities at once")
    if (
        isinstance(minutes, bool)
        or not isinstance(minutes, int | float)
        or not 0 <= minutes <= interlock.LONGEST_BYPASS
    ):
        return _refused(memory, command, f"minutes must be at most {interlock.LONGEST_BYPASS:g}; 0 ends it")
    lock, until = memory.interlock, command.at + 60.0 * minutes
    # Of several only those that are named are excused.
    alike = bank.by_quantity[meters[0].quantity]
    keys = [alike[0].quantity] if len(alike) == 1 else [meter.name for meter in meters]
    stay = {name: end for name, end in lock.bypasses.items() if name not in keys and end > command.at}
    if not minutes:
        lock = lock._replace(bypasses=stay, excused={name: lock.excused[name] for name in stay if name in lock.excused})
        return _done(memory._replace(interlock=lock), command, ended=", ".join(keys))
    for name, end in stay.items():
        meter = permits.metered_by(bank, name)
        if meter is None or meter.quantity == alike[0].quantity:
            continue
        # Two that may be silent leave nothing that would notice.
        why = f"the silence of {name.replace('_', ' ')} is excused until {moment(end)}, and never of two at once"
        return _refused(
            memory, command, f"{why}: end it with `revival bypass {name} --minutes 0`, or switch the charger off"
        )
    fresh = {key: Excused(meter.source) for key, meter in zip(keys, meters, strict=True)}
    bypasses = {**stay, **dict.fromkeys(keys, until)}
    lock = lock._replace(bypasses=bypasses, excused={**lock.excused, **fresh})
    told = permits.excused_now(bank, dict.fromkeys(keys, until), command.at)
    return _done(memory._replace(interlock=lock), command, excused="; ".join(told))


def _unknown_meter(bank: Bank, named: str) -> str:
    """Say why a name is nobody's, or that of several; empty where it is the name of one meter."""
    meter = bank.by_name.get(named)
    alike = bank.by_quantity.get(named if meter is None else meter.quantity, ())
    if not alike:
        return f"no meter of {named!r} is mapped"
    if meter is None and len(alike) > 1:
        which = ", ".join(each.name for each in alike)
        return f"which {named.replace('_', ' ')}? One by its name, the others count: {which}"
    return ""


def _zero(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Take what the current meter shows now, with nothing flowing, for its zero."""
    counters = memory.counters
    if command.argument.get("undo"):
        if counters.zero_before is None:
            return _refused(memory, command, "no zero was taken that could be undone")
        shift = counters.zero - counters.zero_before
        counters = counters._replace(zero=counters.zero_before, current=counters.current + shift, zero_before=None)
        return _done(memory._replace(counters=counters), command, zero=round(counters.zero, 3), undone=True)
    against = _against_zero(bank, memory, command.at)
    if against:
        return _refused(memory, command, against)
    if abs(counters.current) > LARGEST_ZERO * bank.capacity:
        return _refused(memory, command, f"{counters.current:.1f} A is too much for a zero error")
    zero = counters.zero + counters.current
    taken = counters._replace(zero=zero, current=0.0, zero_before=counters.zero)
    return _done(memory._replace(counters=taken), command, zero=round(zero, 3), shown=round(counters.current, 3))


def _against_zero(bank: Bank, memory: Memory, at: float) -> str:
    """Return why what the meter shows now may be a current and no error of its zero."""
    view = view_of(bank, memory, at)
    if view.current is None or memory.counters.by_hand:
        return "no current meter shows anything now"
    if view.volts_per_cell is None:
        return "the voltage is not seen, so nobody knows whether something charges"
    if view.volts_per_cell >= HELD_UP:
        return f"{view.volts_per_cell:.2f} V per cell: only a charger holds that, so a current may flow"
    if not off_known(bank, memory.interlock, view, memory.counters, memory.hand):
        said = "switch it off at the wall and note it with `revival record charger off`"
        seen = "the charger is not known to be off" if bank.relay is None else "the relay was not seen open"
        return f"{seen}: {said}"
    return ""


def _where(bank: Bank, memory: Memory, at: float) -> str:
    """Return the phase as every screen tells it; a bank that charges is not idle, whatever is judged of it."""
    now = charger(bank, memory, memory.interlock, view_of(bank, memory, at), at)
    told, _ = shown_phase(memory, now)
    return "it charges" if told == "idle" and charging_seen(now) else told


def _test(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    if memory.phase.phase not in ("resting", "finished"):
        where = _where(bank, memory, command.at)
        return _refused(memory, command, f"not while {where}: charge, hold and rest come first")
    rested = rest_ends(memory)
    if command.at < rested:
        return _refused(memory, command, f"not before {moment(rested, up=True)}: a test needs 6 h of rest, better 24 h")
    view = view_of(bank, memory, command.at)
    machine = phase.command(bank, memory.phase, "test", command.at)
    lock, stopped = _ended_early(bank, memory, command.at, "a capacity test began")
    lock, test = lock._replace(started=False), CapacityTest(command.at, view.hottest)
    memory, told = _done(memory._replace(phase=machine, interlock=lock, test=test), command)
    return memory, (*stopped, *told)


def _boot(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Come up: the bridge's guard has cut the relay meanwhile, so the permit has to come back like any other.

    Meters that the cabin file no longer has, or reads from another topic now, are forgotten, and with them what only
    they could clear: no trend goes on from one meter to another. With a clock that is not trusted nobody knows how long
    the bridge was down: nothing remembered counts as fresh. Where it is known, the journal keeps since when.
    """
    lock, counters = memory.interlock, memory.counters
    known = command.argument.get("clock_trusted", True) and 0.0 < memory.observed_at < command.at
    away = {"away_since": memory.observed_at} if known else {}
    if lock.allowed or lock.proving:
        lock = lock._replace(allowed=False, proving="", withdrawn_for="restart" if lock.started else "")
    disobeyed_at = command.argument.get("disobeyed_at")
    if isinstance(disobeyed_at, int | float) and lock.proof.passed and disobeyed_at >= lock.proof.at:
        # A version of before let a proof stand once such a trip was reset.
        lock = lock._replace(proof=Proof(note=interlock.DISOBEYED_SINCE))
    storage = command.argument.get("storage")
    link = str(command.argument.get("link", ""))
    lock = lock._replace(
        order_at=0.0,
        confirmed_at=0.0,
        storage=_storage(storage),
        link=link,
        link_why=NOT_THERE_YET if link else "",
        opened_for="",
        held_by="",
        seen_closed=False,
        # It belongs to a topic: what is still kept on that of now the broker tells at the first look.
        kept_order_at=0.0,
        kept_order="",
        kept_closes=False,
    )
    sources = {meter.name: meter.source for meter in bank.meters}
    other = {name for name in sources if memory.sources.get(name, sources[name]) != sources[name]}
    same = sources.keys() - other
    meters = {name: trace for name, trace in memory.meters.items() if name in same}
    pending = {key: entry for key, entry in memory.pending.items() if "|" not in key or key.split("|", 1)[1] in same}
    # Volts and amps of two meters make no trend; how warm it grew is told of each thermometer by itself.
    electric = any(bank.by_name[name].quantity in ("voltage", *CURRENT_QUANTITIES) for name in other)
    if not command.argument.get("clock_trusted", True):
        meters = {name: trace._replace(retained=True) for name, trace in meters.items()}
        counters = counters._replace(current_at=0.0)
    memory = memory._replace(
        began_at=command.at,
        interlock=lock,
        meters=meters,
        pending=pending,
        counters=counters,
        sampled=False,
        thermal=Thermal() if electric else memory.thermal,
        sources=sources,
    )
    return _done(memory, command, **away)


def _journal_lost(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Ask for a person who looks before anything charges: what happened before is not known.

    A journal that was damaged may have held a trip, so the bank comes up tripped; one that could not be read is
    answered by a start or a resume.
    """
    reason = str(command.argument.get("why", "journal lost"))
    lock = memory.interlock
    if command.argument.get("tripped"):
        lock = lock._replace(latched={**lock.latched, "journal-lost": Latch(command.at, None, None, "", reason)})
    else:
        lock = lock._replace(lost=reason)
    return _done(memory._replace(interlock=lock), command)


def _health(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Take what the bridge says of itself, as flags; only a change of them is worth an event."""
    told = {name: str(command.argument[name]) for name in CONDITIONS if command.argument.get(name)}
    storage = _storage(command.argument.get("storage"))
    if storage != PROVED:
        told[interlock.NOT_STORED[storage]] = str(command.argument.get("why", ""))
    return memory._replace(interlock=memory.interlock._replace(conditions=told, storage=storage)), ()


def _storage(told: object) -> str:
    """Return the state of the storage; what nobody vouches for is unproved."""
    return str(told) if told in (PROVED, DEGRADED) else UNPROVED


def _relay_link(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Take the way to the relay as the bridge sees it: lost, nobody at its end, or well; and what it opened."""
    told = command.argument
    link, opened = str(told.get("link", "")), str(told.get("opened", ""))
    lock = interlock.link_changed(memory.interlock, command.at, link, opened, bool(told.get("unanswered")))
    return memory._replace(interlock=lock._replace(link_why=str(told.get("why", "")))), ()


def _relay_held(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Take that another bank behind the same relay holds it open, or has let go: then it may be seen to close."""
    lock = memory.interlock._replace(held_by=str(command.argument.get("by", "")), seen_closed=False)
    if lock.allowed and not lock.held_by:
        lock = lock._replace(allowed_at=command.at)
    return memory._replace(interlock=lock), ()


def _auto_off_seen(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Take how the trial of the relay's own auto-off ended by the meters of another bank behind it."""
    told = command.argument
    seconds, why = told.get("seconds"), str(told.get("why", ""))
    ended = interlock.Ended(float(seconds) if isinstance(seconds, int | float) else 0.0, why, told.get("stuck") is True)
    seen = _seen(memory, view_of(bank, memory, command.at))
    lock, outcomes = interlock.seen_beside(bank, memory.interlock, command.at, seen, ended)
    return memory._replace(interlock=lock), tuple(outcomes)


def _retained_order(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Tell of an order that somebody left on the relay's topic for whoever comes; it is cleared by now."""
    payload, closes = str(command.argument.get("payload", "")), command.argument.get("closes") is not False
    lock = memory.interlock
    told = lock.kept_order_at and command.at - lock.kept_order_at < interlock.KEPT_ORDER_SHOWN
    # An order to open that comes after one to close does not take the worse one back.
    kept = lock.kept_order if told and lock.kept_closes and not closes else payload
    worse = bool(closes or (told and lock.kept_closes))
    lock = lock._replace(kept_order_at=command.at, kept_order=kept, kept_closes=worse)
    detail = {"payload": payload, "closes": closes}
    return memory._replace(interlock=lock), (Event(bank.id, "retained-order", command.at, detail),)


def _relay_changed(bank: Bank, memory: Memory, command: Command) -> Outcomes:
    """Forget what was proved of another relay, or of another topic: it says nothing of this one."""
    proof = memory.interlock.proof
    note = "the relay was changed since it was proved" if proof.passed else "" if proof.at else proof.note
    lock = memory.interlock._replace(proof=Proof(note=note))
    return _done(memory._replace(interlock=lock), command)


ACTS = {
    "start": _start,
    "resume": _resume,
    "finish": _end,
    "abandon": _end,
    "verdict": _verdict,
    "reset": _reset,
    "prove": _prove,
    "witness": _witness,
    "checklist": _checklist,
    "bypass": _bypass,
    "zero": _zero,
    "test": _test,
    "boot": _boot,
    "journal-lost": _journal_lost,
    "health": _health,
    "relay-changed": _relay_changed,
    "relay-link": _relay_link,
    "relay-held": _relay_held,
    "auto-off-seen": _auto_off_seen,
    "retained-order": _retained_order,
}
#: Acts of the bridge itself; nobody may ask for them from outside.
INTERNAL = frozenset(
    {"boot", "journal-lost", "health", "relay-changed", "relay-link", "relay-held", "auto-off-seen", "retained-order"}
)
#: Flags about the bridge that `health` raises.
CONDITIONS = ("clock-untrusted", "meter-floods", "session-lost")


def _live(bank: Bank, memory: Memory, at: float) -> str:
    """Say why no hand belongs at the posts now: the charger is on, or its gas may still be about; empty where not."""
    now = charger(bank, memory, memory.interlock, view_of(bank, memory, at), at)
    if not now.flows and now.state != "on":
        gas = f"it charged until {moment(memory.charged_at)}, and gas may still be about"
        return f"{gas}: air the room until {moment(now.air_until, up=True)} before" if now.air_until else ""
    current = memory.counters.current
    shown = f"{current:.1f} A flow" if now.flows and current > 0.0 else "the charger is on"
    first = "switch the charger off at the wall, air the room for an hour, and bring no tool to the posts before"
    return f"{shown}: {first}"


def _arrange(configured: Bank, bank: Bank, memory: Memory, command: Command) -> Outcomes:
    what, number = str(command.argument.get("act", "")), command.argument.get("number", 1)
    said = command.argument.get("volts", ())
    volts = [float(each) for each in said if isinstance(each, int | float)] if isinstance(said, list | tuple) else []
    try:
        which = int(number) if isinstance(number, int | float | str) else 1
        before, memory = memory, rewired(configured, memory, what, which, command.at, volts)
    except ValueError as error:
        return _refused(memory, command, str(error))
    if command.argument.get("sure") is not True and (live := _live(bank, before, command.at)):
        return _unsure(before, command, live)
    strings = memory.arrangement.strings if memory.arrangement is not None else ()
    joined = configured if memory.arrangement is None else arranged(configured, memory.arrangement)
    much = too_much_for_the_part(configured, joined)
    against = {"against": much} if much else {}
    return _done(memory, command, strings=[list(string) for string in strings], **against)
