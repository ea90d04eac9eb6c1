"""What whoever notes that something is gone, or takes an entry back, hears: what stands all the same, and what is next.

Nothing that was noted is lifted by words that come after it: nobody can tell from here whether the first word or the
second is true, so a false alarm costs its hour too.
"""

from __future__ import annotations

from rules.advice import ChargerNow
from rules.bank import Bank
from rules.events import HandReading, moment
from rules.hand import HandLog, bare_plates, boils, connections, damages, dangers, deposits, gasses, understood
from rules.safety import FIRE_NOTED, LEAST_OPEN, at_the_posts, blocked_by, headline, put_right
from rules.step.memory import Memory


def still_stands(bank: Bank, memory: Memory, hand: HandLog, reading: HandReading, now: ChargerNow) -> tuple[str, ...]:
    """Return, in one place, what a note or a taking back leaves standing, and what is to be done about it.

    Parameters
    ----------
    bank : Bank
        As joined now.
    memory : Memory
        Before the reading.
    hand : HandLog
        After it.
    reading : HandReading
        Canonical units, taken.
    now : ChargerNow
        What is known of the charger.
    """
    before, after = at_the_posts(bank, memory.hand), at_the_posts(bank, hand)
    joins = _joins(memory, hand)
    said = [f"noted: {', '.join(joins)}; nothing charges while it stands, whatever is reset"] if joins else []
    trips = memory.interlock.latched and (reading.undo or reading.kind in ("seen", "note"))
    said += (
        []
        if not trips or _joins_the_trip(reading)
        else [_trip(bank, memory, now) if _clears(reading) else _briefly(now)]
    )
    if not reading.undo and "connection" in after:
        said += _joint_not_put_right(bank, hand, reading, now)
    if after and after != before and set(after.split(", ")) < set(before.split(", ")):
        said.append(f"{after} still stands, and nothing charges while it does: {put_right(bank, hand)}")
    elif before and not after and not memory.interlock.latched and bank.relay is None:
        on = now.flows or now.state == "on"
        said.append(
            "nothing that was noted at the posts stands any more: come away from them and look at `revival status`"
            f"{', for the charger is on' if on else ' before somebody switches the charger on again'}"
        )
    return (*said, *_comes_on(bank, memory, hand, reading))


def _joins(memory: Memory, hand: HandLog) -> list[str]:
    """Return what joins damage or bare plates of before: their flag stands already, so that none is raised for it."""
    found = []
    for where, what in (hand.damaged or {}).items():
        before = (memory.hand.damaged or {}).get(where, "").split(", ")
        for each in [each for each in what.split(", ") if each not in before]:
            flag = "connection-bad" if each in connections.FAULTS else "case-damaged"
            found += [f"{each} at {where or 'the bank'}"] if flag in memory.flags else []
    bare = [each for each in hand.plates_bare.split(", ") if each and each not in memory.hand.plates_bare.split(", ")]
    return found + ([f"bare plates at {each}" for each in bare] if "plates-bare" in memory.flags else [])


def _joint_not_put_right(bank: Bank, hand: HandLog, reading: HandReading, now: ChargerNow) -> list[str]:
    """Say why words that a joint is mended, or cool, put it right no more than the words of nobody."""
    told = [str(words) for words in reading.values.values()] if reading.kind in ("seen", "note") else []
    told = [words for words in (*told, reading.note) if words]
    if hand.entries[-1].charging and any(False in connections.faults(words).values() for words in told):
        is_on = "is on and was on" if now.flows or now.state == "on" else "was on"
        return [
            f"that a joint was put right does not count: the charger {is_on}, and nobody may touch a post while "
            "current flows. Switch the charger off at the wall and let the gas clear; what stands is put right so: "
            f"{put_right(bank, hand)}"
        ]
    if any(connections.cool_only(words) for words in told):
        return [
            "that a joint is not hot, or sparks no more, puts nothing right, for it heats only while much current "
            f"flows: {put_right(bank, hand)}"
        ]
    return []


def _joins_the_trip(reading: HandReading) -> bool:
    """Tell whether a note is a danger by itself, which joins the trip and says so."""
    return not reading.undo and any(dangers(str(words)) for words in (*reading.values.values(), reading.note))


def _clears(reading: HandReading) -> bool:
    """Tell whether a reading takes something back, or says that something is well or gone."""
    said = [str(words) for words in (*reading.values.values(), reading.note) if words]
    return reading.undo or any(understood(words) and not _something_is_there(words) for words in said)


def _something_is_there(words: str) -> bool:
    """Tell whether words say of anything that it is so, and not that it is well or gone."""
    wrong = True in damages(words).values() or bare_plates(words) or boils(words)
    return wrong or deposits(words) is not None or bool(gasses(words))


def _briefly(now: ChargerNow) -> str:
    """Say in one line to whoever notes something else that a trip stands."""
    if now.burning == "fire":
        return "the trip stands: nobody goes in before the fire service says so"
    if not now.out_until:
        return "the trip stands until `revival reset` is given"
    return f"the trip stands: nobody goes in before {moment(now.out_until, up=True)}"


def _trip(bank: Bank, memory: Memory, now: ChargerNow) -> str:
    """Say that a trip stands, until when nobody goes in, and what is done meanwhile and then."""
    latched = memory.interlock.latched
    why = "; ".join(f"{name}: {headline(latch.reason)}" if latch.reason else name for name, latch in latched.items())
    stands = f"the trip stands all the same ({why}): no note and no taking back lifts it, only `revival reset` does"
    then = "" if bank.relay is None else ", and in a round `revival resume` after it"
    if FIRE_NOTED in latched:
        return f"{stands}{then}; nobody goes in before the fire service says so, a false alarm is theirs to end"
    if not now.out_until:
        return f"{stands}{then}, once the cause is put right"
    until = moment(now.out_until, up=True)
    air = "air the room from outside"
    if now.burning == "smoke":
        air = "its door stays closed as long as anything smokes, and where nothing does the room is aired from outside"
    return (
        f"{stands}, from {until} on{then}; until then nobody goes in, false alarm or not: {air}, the charger stays off "
        "or is switched off from outside the room, and then somebody looks from the door before anything else"
    )


def _comes_on(bank: Bank, memory: Memory, hand: HandLog, reading: HandReading) -> tuple[str, ...]:
    """Say to whoever notes something beside an open relay whether the charger may come on, and when."""
    lock = memory.interlock
    if bank.relay is None or not lock.started or lock.allowed or lock.latched or reading.kind == "charger":
        return ()
    if at_the_posts(bank, hand):
        return ()
    if at_the_posts(bank, memory.hand):
        return ("the charger stays off until somebody gives `revival resume`: come away from the posts first",)
    if not lock.withdrawn_for or blocked_by(lock, {}):
        return ()
    when = moment(max(lock.order_at + LEAST_OPEN, reading.at))
    return (f"the charger may come on by itself from {when} on: come away from the posts, or pull its plug",)
