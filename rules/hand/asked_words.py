"""Words from which nothing follows, and that may mean a danger: what whoever typed them is asked to do and to say.

A wrong answer to "is this a danger?" costs an hour of air or a bank, so where words leave it open a person is asked.
"""

from __future__ import annotations

import re

from rules.hand import connections
from rules.hand.denied import said
from rules.hand.level_words import may_be_low
from rules.hand.people import may_be_down

_AIR_MOVES_BY = r"(?:fans?|ventilators?|ventilation|extractors?|blowers?|air\s?flow|draughts?|drafts?)"
_OPENINGS = r"(?:vents?|openings?|windows?|doors?|hatch(?:es)?|louvres?|grill(?:e)?s?)"
#: Air that may not carry the gas away; "not" belongs to it ("the fan does not run").
_NO_AIR = re.compile(
    rf"\b{_AIR_MOVES_BY}\b[^,;]*\b(?:stop\w*|off|stands?|stood|dead|broken?|blocked|clogged|jammed|stuck|fail\w*|"
    r"defect\w*|covered|closed|shut|not|no longer|\w+n't|never|gone|unplugged|weak|too little)\b|"
    r"\b(?:no|without|poor|bad|little|blocked|closed|shut|lost|lack of|stopped|broken|dead)\s+"
    rf"(?:(?:any|the|enough)\s+)?(?:{_AIR_MOVES_BY}|fresh\s+air|air)\b|\bno\s+{_AIR_MOVES_BY}\b|\bstuffy\b|"
    r"\b(?:gas|hydrogen)\s+(?:alarm|detector|warning|sensor)\b|\bhydrogen\b",
    re.IGNORECASE,
)
_SHUT = re.compile(
    rf"\b{_OPENINGS}\b[^,;]*\b(?:blocked|closed|shut|clogged|covered|iced|snowed)\b|"
    rf"\b(?:blocked|closed|shut|clogged)\s+(?:the\s+)?{_OPENINGS}\b",
    re.IGNORECASE,
)
#: Fire that is carried in.
_LIT = re.compile(
    r"\b(?:lit|lights?|lighting|struck|strikes|smok(?:es|ed|ing))\s+(?:up\s+)?(?:an?|the|his|her|their|my)\b|"
    r"\bcigar\w*|\blighters?\b|\bcandles?\b|\bmatch(?:stick|box)\w*|\b(?:naked|open)\s+light\b|\bwelding\b|\bgrinder\b|"
    r"\bheaters?\b|\bpetrol\b|\bgasoline\b|\bfuel\b|\bgas\s+bottles?\b",
    re.IGNORECASE,
)
_WARM = re.compile(
    r"\bwarm(?:er|est)\b|\b(?:very|quite|extremely|really|unusually|rather|pretty|so|hand)[\s-]+warm\b|\brun(?:s|"
    r"ning)?\s+"
    r"(?:away|warm)\b|\brunaway\b|\b(?:gets?|getting|got|grows?|growing|feels?|felt|turns?|became|becomes?)\s+warm\b|"
    r"\bwarms\s+(?:up\b|fast)|\btemperature\b[^,;]*\b(?:ris|climb|high)",
    re.IGNORECASE,
)
_VOLTS = re.compile(
    r"\brevers(?:ed|al)\b|\bbackwards?\b|\bwrong\s+(?:way\s+round|polarity)\b|\bpolarity\b[^,;]*\b(?:wrong|swapped)\b|"
    r"\bshort[\s-]?circuit\w*|\bshorted\b|\bshort\s+in\b|\bdead\s+short\b",
    re.IGNORECASE,
)
_AND = re.compile(r"\band\b", re.IGNORECASE)
#: These hold a word of danger and mean none; what else is said beside them counts.
_HARMLESS = re.compile(
    r"\bhot[\s-]+water[\s-]+bottles?\b|\bhot\s+(?:days?|weather|summers?|tea|coffee|soup|drinks?|chocolate)\b|"
    r"\bfire\s+drills?\b|\bsmoke[\s-]+free\b|\b(?:fire|flame)[\s-]?proof\w*",
    re.IGNORECASE,
)
NO_AIR = (
    "may mean that the air does not carry the gas away: light nothing and touch no switch in the room, switch the "
    "charger off from outside it where that can be, open it from outside and let nothing charge before the air moves; "
    "no note of the air opens a relay"
)
LIT = (
    "may be a flame or a spark where the gas is: get it and everybody out and air the room from outside; where "
    'something burns or smokes by itself say "fire" or "smoke"'
)
DOWN = (
    "may be somebody who is down or ill, and gas may be why: get out, call the emergency service from outside, go in "
    "after nobody where gas or smoke may be, and switch the charger off at the panel; where somebody lies there, feels "
    'ill or is hurt say "somebody is hurt"'
)
WARMER = (
    "may be more than warm: feel it from outside once more and read the temperature of its acid, which is noted with "
    '`revival record temperature`; where it is hotter than the rest, or no hand can stay on it, say "hot"'
)
LOW = (
    'does not say whether the acid covers the plates: where it does not say "plates bare", where it does note how high '
    "it stands with `revival record level`"
)
BY_VOLTS = (
    "is told by volts alone: keep the charger off, measure every block and note them with `revival record voltage`, a "
    "reversed one with its minus"
)


def without_harmless(words: str) -> str:
    """Return the words without what holds a word of danger and means none.

    Examples
    --------
    >>> without_harmless("fire drill done, A2 smokes")
    '  done, A2 smokes'
    """
    return _HARMLESS.sub(" ", words)


def asks(words: str) -> str:
    """Return what is said to whoever typed words that may mean a danger, behind these words; empty where none may.

    Examples
    --------
    >>> [asks(words)[:34] for words in ("the fan stopped", "A2 is very warm", "fan runs, A2 is warm")]
    ['may mean that the air does not car', 'may be more than warm: feel it fro', '']
    """
    each = _AND.split(words)  # what one half denies the other may say
    if may_be_down(words):
        return DOWN
    if _NO_AIR.search(words) or any(said(half, _SHUT) for half in each):
        return NO_AIR
    if any(said(half, _LIT) for half in each):
        return LIT
    if any(said(half, _WARM) for half in each) and not connections.spoken_of(words):
        return WARMER
    if any(may_be_low(half) for half in each):
        return LOW
    return BY_VOLTS if any(said(half, _VOLTS) for half in each) else ""
