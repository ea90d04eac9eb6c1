"""What is known of the charger now: on, off or not seen, by which evidence, and since when.

Every sentence about relay, charger and current is made from this one look, never from the phase: a phase is what the
bank did, and says nothing of what a person would touch.
"""

from __future__ import annotations

from math import floor
from typing import NamedTuple

from rules.bank import Bank
from rules.bank_view import View, charges
from rules.events import moment
from rules.hand import HandLog
from rules.laws import GAS_AFTER_CHARGE
from rules.meters import FLOWS, Counters, Trace, charging_threshold
from rules.safety import (
    LEAST_OPEN,
    LINK_LOST,
    NOBODY_LISTENS,
    NOT_THERE_YET,
    READ_BACK,
    TOLD_CLOSED,
    Interlock,
    blocked_by,
    burning,
    hurt,
    noted_each,
    out_until,
    outside_the_blocks,
    taken_back,
)

#: Only a charger holds a cell here or above; a rested cell never stands so high [V] (common practice, no source: sound
#: cells rest at 2.15 V at most, and the surface charge of the first hour adds 0.05 to 0.2 V).
HELD_UP = 2.30
#: Current read by a person stands for the present so long [s]; common practice, no source.
AMPS_STAND_FOR = 7200.0
#: Whoever notes that the charger is off may have the way to its switch before them [s]; common practice, no source.
UNTIL_OFF = 600.0
#: A charger is set to whole amps from here on [A].
WHOLE_AMPS = 10.0


class ChargerNow(NamedTuple):
    """One look at the charger.

    Attributes
    ----------
    relay : str
        none, open, closed, unknown (no state was ever reported) or disobeys (told to open and did not).
    state : str
        on, off, or unseen.
    by : str
        Evidence for `state`: current, hand, voltage, relay, fall, person, or empty.
    since : float
        When that evidence began, where it has a time [s since the epoch]; 0 = it is so now.
    told : str
        Last order to the relay: allow, cut, or empty.
    told_at : float
        When [s since the epoch].
    flows : bool
        Current is seen to flow into the bank.
    metered : bool
        A current is known now, from a meter or by hand.
    air_until : float
        Until when the room is aired before anybody works at the posts [s since the epoch]; 0 = not needed.
    open_until : float
        Until when a permit that may come back by itself is held back [s since the epoch]; 0 = it is not.
    open_for : str
        What it was withdrawn for.
    out_until : float
        Until when nobody goes in, for a danger was noted, and no reset is taken [s since the epoch]; 0 = not so.
    unreached : str
        Why no order reaches the relay, where it was told to open: not-yet (no connection came yet), or the flag of a
        link that is lost or of nobody who listens; else empty.
    early : bool
        The last cut is so new that nothing can have shown it.
    gives : float
        What is seen to flow out of the bank, more than a meter's zero may be off [A]; 0 = nothing.
    most : float
        What the strings should take at most, shared evenly [A]; 0 = not known.
    falling : bool
        The relay has only just opened: what still flows is no other source yet.
    burning : str
        ``fire`` or ``smoke`` where it was noted and not reset yet; else empty.
    outside : str
        Of what all is that was noted as a danger and is not reset yet: connection, charger, vents; empty for anything
        else.
    noted : tuple of str
        Every other danger than a fire that was noted and is not reset yet, the gravest first.
    taken_back : bool
        All of it was taken back since; it goes on standing.
    hurt : bool
        Somebody was noted as hurt, and the hour in which nobody goes in is not over.
    """

    relay: str = "none"
    state: str = "unseen"
    by: str = ""
    since: float = 0.0
    told: str = ""
    told_at: float = 0.0
    flows: bool = False
    metered: bool = False
    air_until: float = 0.0
    open_until: float = 0.0
    open_for: str = ""
    out_until: float = 0.0
    falling: bool = False
    burning: str = ""
    hurt: bool = False
    outside: str = ""
    noted: tuple[str, ...] = ()
    taken_back: bool = False
    unreached: str = ""
    early: bool = False
    gives: float = 0.0
    most: float = 0.0

    @property
    def dead(self) -> bool:
        """Whether it is known that no charger and nothing else feeds the bank."""
        return self.state == "off" and not self.flows


def most_amps(bank: Bank) -> float:
    """Return the amps to set at most, as a charger's knob has them [A]: the limit of all strings, rounded down.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> [most_amps(Bank("north", ((Block("N1", 3, capacity),),))) for capacity in (225.0, 40.0)]
    [29.0, 5.2]
    """
    limit = bank.string_current_limit * len(bank.strings)
    return float(floor(limit)) if limit >= WHOLE_AMPS else floor(10.0 * limit + 0.001) / 10.0


def known(
    bank: Bank,
    lock: Interlock,
    view: View,
    counters: Counters,
    hand: HandLog,
    meters: dict[str, Trace],
    at: float,
    charged_at: float = 0.0,
    resumed_at: float = 0.0,
) -> ChargerNow:
    """Look at the charger.

    Parameters
    ----------
    bank : Bank
        Whether there is a relay.
    lock : Interlock
        Orders, evidence of the last cut.
    view : View
        Fresh readings.
    counters : Counters
        Where the current came from.
    hand : HandLog
        What a person said of the charger.
    meters : dict of Trace
        Since when the relay reports what it reports.
    at : float
        Now [s since the epoch].
    charged_at : float
        When a current was last seen to flow in [s since the epoch]; 0 = never.
    resumed_at : float
        When it was last seen to begin after it had not flowed [s since the epoch]; 0 = never.

    Examples
    --------
    >>> from rules.bank.model import Block
    >>> from rules.bank_view import look
    >>> bank = Bank("north", ((Block("N1", 12, 200.0),),))
    >>> seen = Counters(current=30.0, current_at=1795590000.0, by_hand=True)
    >>> now = known(bank, Interlock(), look(bank, {}, seen, 1795590000.0), seen, HandLog(), {}, 1795590000.0)
    >>> words(now)
    'The charger is on: current into the bank was read by hand at 2026-11-25T07:00Z.'
    """
    flows = charges(bank, view)
    trace = meters.get("relay_state")
    reported_since = trace.changed_at if trace is not None and not trace.retained else 0.0
    if view.relay_closed is False and counters.current_at <= reported_since:
        flows = False  # read before the relay opened
    by_hand = flows and counters.by_hand
    if by_hand and at - counters.current_at > AMPS_STAND_FOR:
        flows = False
    metered = view.current is not None and (not counters.by_hand or at - counters.current_at <= AMPS_STAND_FOR)
    held_up = view.volts_per_cell is not None and not view.voltage_by_hand and view.volts_per_cell >= HELD_UP
    out = out_until(lock)
    base = ChargerNow(
        flows=flows,
        metered=metered,
        gives=-view.current if metered and view.current is not None and view.current < -FLOWS else 0.0,
        most=most_amps(bank),
        out_until=out if at < out else 0.0,
        burning=burning(lock.latched),
        hurt=at < out and hurt(lock.latched),
        taken_back=taken_back(lock.latched),
        outside=outside_the_blocks(lock.latched),
        noted=noted_each(lock.latched["danger-noted"].reason) if "danger-noted" in lock.latched else (),
    )
    said_off = _said_off(hand, counters, by_hand)
    if resumed_at > said_off:
        said_off = 0.0  # the charger was switched on since: whatever showed that, the note says nothing of now
    elif charged_at > said_off + UNTIL_OFF or (charged_at > said_off and _flowed_last(bank, view, counters)):
        said_off = 0.0  # it has charged since, and nothing showed that it ended
    if bank.relay is None:
        return _without_relay(base, counters, by_hand, held_up, said_off)
    told = "" if lock.order_at == 0.0 else "allow" if lock.allowed or lock.proving in TOLD_CLOSED else "cut"
    base = base._replace(told=told, told_at=lock.order_at)
    if told == "cut":
        base = _held_open(base, lock, at)
        reached = lock.link not in (LINK_LOST, NOBODY_LISTENS)
        unreached = "" if reached else "not-yet" if lock.link_why == NOT_THERE_YET else lock.link
        base = base._replace(unreached=unreached, early=at - lock.order_at < READ_BACK)
    if _disobeys(lock, view, flows, at):
        return base._replace(relay="disobeys", state="on", by="relay" if view.relay_closed else "current")
    relay = "unknown" if view.relay_closed is None else "closed" if view.relay_closed else "open"
    base = base._replace(relay=relay)
    falling = flows and told == "cut" and at - max(lock.order_at, reported_since) < READ_BACK
    if relay == "open" and view.relay_at:
        return base._replace(state="off", by="relay", since=reported_since, falling=falling)
    if relay == "unknown" and told == "cut" and lock.confirmed_at:
        return base._replace(state="off", by="fall", since=lock.confirmed_at, falling=falling)
    return _without_relay(base, counters, by_hand, held_up, said_off)


def _flowed_last(bank: Bank, view: View, counters: Counters) -> bool:
    """Tell whether the ammeter fell silent while it showed a current into the bank."""
    return view.current is None and not counters.by_hand and counters.current >= charging_threshold(bank.capacity)


def off_known(bank: Bank, lock: Interlock, view: View, counters: Counters, hand: HandLog) -> bool:
    """Tell whether the relay was seen open, or a person said the charger is off; whatever the ammeter shows."""
    if bank.relay is not None and not lock.allowed and (view.relay_closed is False and view.relay_at):
        return True
    if bank.relay is not None and not lock.allowed and view.relay_closed is None and lock.confirmed_at:
        return True
    return not view.relay_closed and _said_off(hand, counters, counters.by_hand) > 0.0


def _without_relay(base: ChargerNow, counters: Counters, by_hand: bool, held_up: bool, said_off: float) -> ChargerNow:
    """Judge by the current, a voltage that only a charger holds, or a person."""
    if base.flows:
        return base._replace(
            state="on", by="hand" if by_hand else "current", since=counters.current_at if by_hand else 0.0
        )
    if said_off and not held_up:
        return base._replace(state="off", by="person", since=said_off)
    if held_up:
        return base._replace(state="on", by="voltage")
    return base


def _said_off(hand: HandLog, counters: Counters, by_hand: bool) -> float:
    """Return when a person last said that the charger is off, unless amps were read after it [s since the epoch]."""
    notes = [entry for entry in hand.entries if entry.kind == "charger"]
    if not notes:
        return 0.0
    last = max(notes, key=lambda entry: entry.taken_at)
    if last.values.get("volts") != 0.0 or (by_hand and counters.current_at > last.taken_at):
        return 0.0
    return last.taken_at


def _disobeys(lock: Interlock, view: View, flows: bool, at: float) -> bool:
    """Tell whether the relay was told to open and is known not to have opened."""
    if lock.allowed or lock.proving or lock.order_at == 0.0:
        return False
    if "relay-disobeys" in lock.latched and (flows or not lock.confirmed_at):
        return True
    return bool(view.relay_closed) and view.relay_at > lock.order_at and at - lock.order_at >= READ_BACK


def _held_open(base: ChargerNow, lock: Interlock, at: float) -> ChargerNow:
    until = lock.order_at + LEAST_OPEN
    waits = lock.started and lock.withdrawn_for and not blocked_by(lock, {})
    return base._replace(open_until=until, open_for=lock.withdrawn_for) if waits and at < until else base


def aired(now: ChargerNow, charged_at: float, at: float) -> ChargerNow:
    """Return the same, with the hour of air that follows charging; both moments [s since the epoch]."""
    until = max(charged_at + 3600.0 * GAS_AFTER_CHARGE if charged_at else 0.0, now.out_until)
    return now._replace(air_until=until) if until > at else now


#: What a person does where the current goes on after a cut; it takes a charger some seconds to let go.
WHERE_NOT = (
    f"where amps still flow after {READ_BACK:.0f} s, switch the charger off by hand, at the wall, at its own switch or "
    "at the breaker"
)
#: The same where nobody goes into the room for it.
WHERE_NOT_FROM_OUTSIDE = (
    f"where amps still flow after {READ_BACK:.0f} s, switch the charger off at the panel outside the room, and only "
    "where that is safe"
)
#: Why the relay does not hear that it is to open.
UNREACHED = {
    "not-yet": "The bridge has no connection to the broker yet, by which it tells the relay to open",
    LINK_LOST: "The relay is to be open and cannot be told so without the connection to the broker",
    NOBODY_LISTENS: "The relay is to be open and the broker says that nobody hears it told so",
}
#: Why a permit is held back, in words.
HELD_FOR = {
    "restart": "the bridge came back",
    "reconnect": "the bridge came back",
    "proof-test": "the relay was proved",
}


def words(now: ChargerNow) -> str:
    """Say what is known of the charger, and by which evidence; and until when the relay is kept open, where it is."""
    return f"{evidence(now)} {held(now)}".rstrip()


def held(now: ChargerNow) -> str:
    """Say until when a permit that comes back by itself is held back; empty where it is not."""
    if not now.open_until:
        return ""
    return f"The relay is told to stay open until {moment(now.open_until)}, for {held_for(now)}."


def held_for(now: ChargerNow) -> str:
    """Say why a permit that comes back by itself is held back."""
    return HELD_FOR.get(now.open_for, f"{now.open_for} withdrew the permit")


def evidence(now: ChargerNow) -> str:
    """Say in one sentence whether the charger is on, off or not seen, and how that is known."""
    if now.relay == "disobeys":
        why = "it reports closed" if now.by == "relay" else "current still flows"
        return f"The charger is STILL ON: the relay was told to open at {moment(now.told_at)} and {why}."
    if now.falling:
        where = WHERE_NOT_FROM_OUTSIDE if now.out_until or now.burning == "fire" else WHERE_NOT
        return f"The relay {_opened(now)}; the current has still to fall: {where}."
    if now.state == "off" and now.flows:
        other = "a relay that somebody closed" if now.by == "fall" else "a contact that hangs"
        return f"The relay {_opened(now)}, yet current still flows in from something else, or through {other}."
    if now.state == "off":
        if now.by == "person":
            return f"The charger is off: so noted by a person at {moment(now.since)}."
        yet = f", and was told to close at {moment(now.told_at)}" if now.told == "allow" else ""
        return f"The charger is cut off: the relay {_opened(now)}{yet}."
    if now.state == "on":
        evidence = {
            "current": "current flows into the bank",
            "hand": f"current into the bank was read by hand at {moment(now.since)}",
            "voltage": "the bank stands at a voltage that only a charger holds",
        }[now.by]
        return f"The charger is on: {evidence}."
    return _unseen(now)


def not_off(now: ChargerNow, amps: float | None, zero: float) -> str:
    """Say to whoever notes that the charger is off what shows otherwise, and where to look; empty where nothing does.

    Parameters
    ----------
    now : ChargerNow
        As seen beside the note.
    amps : float or None
        Into the bank [A].
    zero : float
        The most that may be an error of the ammeter's zero [A].

    Examples
    --------
    >>> not_off(ChargerNow(state="on", by="current", flows=True), 7.0, 4.0)[:62]
    'yet 7.0 A flow into the bank: the charger is not off, or somet'
    >>> not_off(ChargerNow(state="off", by="person"), 0.1, 4.0)
    ''
    """
    if now.dead or (now.state == "unseen" and not now.flows):
        return ""
    if now.falling or now.relay == "disobeys":
        return evidence(now)
    if now.by == "voltage":
        return (
            "yet the bank stands at a voltage that only a charger holds for long: until it has sunk the charger counts "
            f"as on; where it does not sink within minutes {_look_again(now)}"
        )
    if now.by == "hand":
        return (
            f"yet the amps that were read by hand at {moment(now.since)} still count: read them again and note them, "
            "`revival record amps 0`; until then the charger counts as on"
        )
    small = amps is not None and amps <= zero
    wrong = "; where it is surely off and they stand still the ammeter's zero is wrong: `revival zero`" if small else ""
    flow = "current flows" if amps is None else f"{amps:.1f} A flow"
    return (
        f"yet {flow} into the bank: the charger is not off, or something else feeds the bank: {_look_again(now)}; "
        f"until no amps flow the charger counts as on{wrong}"
    )


def _look_again(now: ChargerNow) -> str:
    """Say where somebody looks who took the wrong switch, or another charger; nobody goes into a room that was left."""
    if now.out_until or now.burning:
        return "switch off at the panel outside the room, and only where that is safe"
    return "look again at its switch at the wall, and for a second charger, solar or a generator"


def _opened(now: ChargerNow) -> str:
    if now.by == "fall":
        return f"was seen to open at {moment(now.since)}, by the current falling"
    return f"reports open since {moment(now.since)}" if now.since else "reports open"


def _unseen(now: ChargerNow) -> str:
    nothing = "no current is seen to flow" if now.metered else "no meter shows the current"
    if now.gives:
        nothing = f"none flows into the bank, which gives {now.gives:.1f} A"
    if now.relay == "none":
        return f"Whether the charger is on is not known: no relay is here, and {nothing}."
    if now.relay == "closed":
        return f"The relay reports closed, so the charger may be on; {nothing}."
    if now.told == "cut" and now.unreached:
        return f"{UNREACHED[now.unreached]}, and nothing shows whether it is open; {nothing}."
    if now.told == "cut" and now.early:
        return f"The relay was told to open at {moment(now.told_at)} and has not had its time to show it; {nothing}."
    if now.told == "cut":
        return f"The relay was told to open at {moment(now.told_at)} and nothing has shown that it did; {nothing}."
    if now.told == "allow":
        return f"The relay was told to close at {moment(now.told_at)}, so the charger may be on; {nothing}."
    return f"Nothing is known of the relay yet, so the charger may be on; {nothing}."
