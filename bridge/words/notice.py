"""Messages to people, one line each: what, where, value and limit, what to do, and where to look.

What a flag says and asks for is the rules' own; here it is only put in a line.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.words.bank_status import cause, event_words
from bridge.words.spoken import spoken
from rules.advice import FLAGS, NORMAL_COURSE, NOT_SAFE, WARM, on_paper
from rules.events import Derived, Event, Flag, moment

#: Chores that cannot wait for the daily digest: nobody may call the bank safe, it grows warm, it is charged
#: before anybody prepared it, or a test is over.
AT_ONCE = NOT_SAFE | WARM | frozenset(("string-over-limit", "test-end", "charging-unprepared"))
#: So many chores stand in one digest; the page and `revival status` have all of them.
MOST_CHORES = 12

TRY = (
    "This is a test: messages of this bridge arrive here. One may come late or never; it replaces no thermal cut-out "
    "and nobody who looks in."
)
UNTIL = "Told again until it is reset or a look is noted."


def trip(where: str, flag: Flag, up: Flag | None, again: bool, over: float, scale: str) -> str:
    """Say that a bank tripped.

    Parameters
    ----------
    where : str
        Site and bank.
    flag, up : Flag
        As it tripped, and as it is now, where it is still up.
    again : bool
        It was told before, and nobody has acknowledged it.
    over : float
        When it was reset or went by itself [s since the epoch]; 0 where it was not.
    scale : str
        The owner's, "degC" or "degF".
    """
    head = "STILL TRIPPED, nobody has acknowledged it" if again else "TRIPPED"
    since = f"since {moment(flag.since)}"
    if over:
        return line(f"{where}: TRIPPED by {cause(flag)}, {since}; over since {moment(over)}.", scale)
    return line(f"{where}: {head}: {cause(up or flag)}, {since}. {_action(flag.name, up)} {UNTIL}", scale)


def permit(where: str, flag: Flag, up: Flag | None, over: float, scale: str) -> str:
    """Say, once, why charging is not permitted, or what else cannot wait; the same parameters as of `trip`."""
    text = cause(up or flag)
    if flag.name not in FLAGS:
        text = event_words(Event("", flag.kind, flag.since, {"reason": flag.reason})) or flag.reason
    elif flag.name not in NORMAL_COURSE:
        text = f"{'look now' if flag.name in AT_ONCE else 'not to be charged now'}: {text}"
    since = f"since {moment(flag.since)}"
    if over:
        return line(f"{where}: {text}, {since}; over since {moment(over)}.", scale)
    return line(f"{where}: {text}, {since}. {_action(flag.name, up)}", scale)


def chores(site: str, states: Mapping[str, Derived], scale: str) -> str:
    """Say in one line what waits to be done at all banks; empty where nothing does."""
    waiting = [
        (bank, flag)
        for bank, state in sorted(states.items())
        for flag in state.flags
        if flag.kind == "chore" and flag.name not in AT_ONCE
    ]
    if not waiting:
        return ""
    told = [f"{bank}, {cause(flag)}: {flag.action}" for bank, flag in waiting[:MOST_CHORES]]
    more = f" And {len(waiting) - MOST_CHORES} more." if len(waiting) > MOST_CHORES else ""
    return line(f"{site}: waits to be done: {' | '.join(told)}{more}", scale)


def line(text: str, scale: str, link: str = "") -> str:
    """Return one line in the owner's scale and by the clock of the place, with the page's address behind it."""
    return " ".join(f"{spoken(text, scale)} {link}".split())


def schemes(names: Sequence[str]) -> str:
    """Say how many services there are and of which kind; nothing else of a service's URL is ever shown.

    Examples
    --------
    >>> schemes(["mailto", "ntfy", "mailto"])
    '3 services (mailto 2, ntfy)'
    """
    kinds = [f"{name} {names.count(name)}" if names.count(name) > 1 else name for name in sorted(set(names))]
    return f"{len(names)} {'service' if len(names) == 1 else 'services'} ({', '.join(kinds)})" if names else "nobody"


def _action(name: str, up: Flag | None) -> str:
    """Say what to do, as the flag says it now; as on paper where nobody knows how it is now."""
    if up is not None:
        return up.action
    return on_paper(name) if name in FLAGS else ""
