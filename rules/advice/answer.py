"""Is it safe? One word and why, from the same look at the charger and the same flags as every sentence.

Danger that was seen is kept apart from precautions that are missing, and "yes" is never said beside a sentence that
asks for the charger to be switched off now, nor while it charges and nobody sees what harms it. Cells, blocks or
strings that differ are looked at when it suits: that alone makes nothing unsafe.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from rules.advice.doubts import WARM
from rules.advice.findings import over_by_far
from rules.advice.flag_words import AT_THE_POSTS, FLAGS, NORMAL_COURSE, NOT_SAFE
from rules.advice.situation import Situation
from rules.events import Flag
from rules.phase import CHARGING

#: The answers, worst first: danger was seen; nothing is known; a precaution is missing; it grows warm; nothing is
#: against it.
ANSWERS = ("no", "unknown", "not-yet", "warm", "yes")
#: Flags that only say that paper work is open; while nothing charges they make nothing unsafe.
PAPERWORK = frozenset({"checklist-open", "proof-test-missing"})
#: Seen on the bank itself: a danger whether it charges or not.
_ALWAYS = frozenset({"case-damaged"})
#: The same, a danger while it charges or may and beside a trip, and work to be done first while it does not.
_WHILE_IT_CHARGES = frozenset({"polarity-reversed", "connection-bad", "plates-bare", "frozen-risk", "water-reserve"})
#: Chores that are missing precautions.
PRECAUTIONS = frozenset({"checklist-unconfirmed", "bypassed", "test-end", "string-over-limit"})


class Answer(NamedTuple):
    """The answer to "is it safe?".

    Attributes
    ----------
    word : str
        One of `ANSWERS`.
    flags : tuple of str
        The flags that make it unsafe, worst first; none where it only grows warm.
    why : str
        The worst of it in words, not a sentence; empty for yes.
    """

    word: str
    flags: tuple[str, ...] = ()
    why: str = ""


def is_it_safe(situation: Situation, flags: Sequence[Flag]) -> Answer:
    """Answer "is it safe?" in one word, and say why.

    Parameters
    ----------
    situation : Situation
        What the sentences are made from.
    flags : sequence of Flag
        Raised flags, any order.

    Examples
    --------
    A watched bank that is charged before anybody confirmed the start checklist, and one that rests at its ease:

    >>> from rules.advice.charger_now import ChargerNow
    >>> early = Flag("charging-unprepared", "start", 0.0, reason="the charger is on before the checklist")
    >>> is_it_safe(Situation("idle", now=ChargerNow(state="on", by="current", flows=True)), [early])
    Answer(word='not-yet', flags=('charging-unprepared',), why='the charger is on before the checklist')
    >>> is_it_safe(Situation("idle", now=ChargerNow("open", "off", "relay")), []).word
    'yes'
    """
    ordered = sorted(flags, key=lambda flag: FLAGS[flag.name].severity_rank)
    charges = may_charge(situation)
    # Beside a trip the same things are named as beside a charge: who resets it must know of them.
    tripped = any(flag.kind == "hazard" for flag in ordered)
    dangers = [flag for flag in ordered if flag.kind == "hazard" or _dangerous(flag, situation, charges or tripped)]
    if dangers:
        return _answer("no", dangers)
    missing = [flag for flag in ordered if _missing(flag, situation, charges)]
    if situation.now.relay == "disobeys":
        return Answer("no", (), "the relay was told to open and is still closed, or current still flows")
    # No flag says it: one of a missing precaution beside it would stand in its place on every surface.
    if situation.now.falling:
        return Answer("not-yet", (), "the relay has just opened, and the current has still to fall")
    if situation.now.state == "off" and situation.now.flows:
        return Answer("no", (), "the relay is open, yet current still flows")
    if {"voltage", "electrolyte_temperature"} <= set(situation.unseen) and not situation.now.flows:
        return _answer("unknown", missing)._replace(why="no meter has spoken, or none that can be believed")
    word, why = ("not-yet", "") if missing else _unflagged(situation, charges)
    if missing or why:
        return _answer(word, missing, why)
    warm = [flag for flag in ordered if flag.name in WARM]
    return _answer("warm", warm)._replace(flags=()) if warm else Answer("yes")


def may_charge(situation: Situation) -> bool:
    """Tell whether current flows in, or may: a round is under way and nobody has seen the charger off."""
    now = situation.now
    if now.flows or now.state == "on":
        return True
    return situation.phase in CHARGING and not now.dead and not (situation.interrupted and now.metered)


def _answer(word: str, flags: Sequence[Flag], why: str = "") -> Answer:
    worst = why or (flags[0].reason or flags[0].name.replace("-", " ") if flags else "")
    return Answer(word, tuple([flag.name for flag in flags]), worst)


def _dangerous(flag: Flag, situation: Situation, charges: bool) -> bool:
    name = flag.name
    if name == "string-over-limit":
        return over_by_far(flag)
    # A permit that stands beside its flag: a bank that takes charge is warned of frost, and no more.
    warns = situation.now.told == "allow" and name == "frozen-risk"
    return name in NOT_SAFE or name in _ALWAYS or (charges and name in _WHILE_IT_CHARGES and not warns)


def _missing(flag: Flag, situation: Situation, charges: bool) -> bool:
    """Tell whether a flag says that a precaution is missing, or asks for the charger to be switched off."""
    name = flag.name
    if flag.kind in ("permit", "start"):
        return name not in NORMAL_COURSE and (charges or name not in PAPERWORK)
    if name in AT_THE_POSTS or name == "charger-still-high":
        # A relay that is held open for some minutes closes by itself: what waits at the posts waits for a plug pulled.
        return situation.now.open_until > 0.0 or not (situation.now.dead or name == "imbalance")
    return name in PRECAUTIONS or (name == "heat-unwatched" and charges)


def _unflagged(situation: Situation, charges: bool) -> tuple[str, str]:
    """Say what no flag says: a charger that should be off, or something that nobody sees while current flows or may."""
    if on := _on_wrongly(situation):
        return "not-yet", on
    if situation.unheard and not situation.now.dead and (charges or not situation.now.metered):
        return "unknown", f"the {situation.unheard[0]} was not heard yet since the bridge came up"
    if charges and situation.unseen:
        return "not-yet", f"it charges and nobody sees the {situation.unseen[0].replace('_', ' ')}"
    return "", ""


def _on_wrongly(situation: Situation) -> str:
    """Say of a charger that should be off and is on, or may be."""
    now, phase = situation.now, situation.phase
    if not now.dead and (phase == "resting" or (phase == "finished" and not situation.seen_to)):
        return "the charger is on" if now.state == "on" else "the charger may still be on"
    unready = not situation.started and (now.relay != "none" or not situation.checked)
    if phase == "idle" and now.state == "on" and unready:
        return "the charger is on, and no round is started"
    if phase == "testing" and now.state == "on":
        return "the charger is on, and this is a test"
    return ""
