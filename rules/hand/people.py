"""Somebody who lies there, or does not breathe: nobody in fear denies or adorns it, so it is read plainly.

"Does not breathe" denies nothing, and a cable that lies on the floor is nobody. An animal that lies there is read as a
person: it breathes the same air, nearer to the floor. Words: common practice, no source.
"""

from __future__ import annotations

import re

#: As which word each way of being down is read.
_DOWN = " unconscious "
PERSON = re.compile(
    r"\b(?:i|i'm|i've|he|he's|him|she|she's|her|they|they're|them|we|us|you|some(?:body|one)|every(?:body|one)|"
    r"persons?|"
    r"people|man|men|woman|women|boys?|girls?|child|children|kids?|baby|son|daughter|dad(?:dy)?|father|papa|"
    r"mum(?:my)?|mom|"
    r"mother|mama|parents?|brother|sister|uncle|aunt|cousin|gran|grand\w+|wife|husband|partner|friend|colleague|"
    r"workers?|"
    r"workmate|keeper|warden|guests?|visitor|neighbou?rs?|electrician|technician|engineer|helper|boss|owner|farmer|"
    r"dogs?|cats?|hens?|chickens?|canary|birds?|horse|goats?|sheep|cows?|calf|pigs?|lambs?|animals?|pets?|mouse|mice|"
    r"rats?)\b",
    re.IGNORECASE,
)
#: What may lie, fall, collapse or stand still, and is no one.
_THING = re.compile(
    r"\b(?:blocks?|banks?|strings?|batter(?:y|ies)|cells?|case|cables?|clamps?|chargers?|meters?|voltmeter|ammeter|"
    r"probe|sensor|thermometer|"
    r"hydrometer|spanner|wrench|tools?|lids?|caps?|vents?|plugs?|labels?|sheet|paper|acid|electrolyte|water|plates?|"
    r"sediment|sludge|mud|box|shelf|shelves|rack|table|hose|wires?|leads?|fuse|breaker|relay|phone|ladder|bucket|"
    r"bottle|"
    r"gloves?|rag|volts?|voltages?|current|amps?|charge|capacity|temperature|gravity|level|needle|float|fan|pump|motor|"
    r"power|lights?|screen|house|mains|grid|broker|network|wifi|display|switch|door|window|roof|tent|price\w*|"
    r"\w*\d[\w.]*)\b",
    re.IGNORECASE,
)
_CLAUSE = re.compile(r"[,;:!?]|[.](?!\d)|\b(?:and|but|while|when|because|then|as)\b", re.IGNORECASE)
_GROUND = r"(?:floor|ground|bench|grass|dirt|stairs|steps|concrete|tiles)"
_NOT = (
    r"(?:(?:do(?:es)?|did|is|are|was|were|has|have|can|could|will|would|wo)(?:\s+not|n['’]?t)|cannot|can['’]?t|not|"
    r"no longer|never|hardly|barely|scarcely|stop(?:s|ped)?)"
)
_BREATH = r"br(?:ea?|ee)th?(?:e|s|es|ing|eing|ed)?"
#: These are said of whoever breathes and of nothing else.
_LIFELESS = re.compile(
    rf"\b{_NOT}\s+(?:\w+\s+){{0,2}}?{_BREATH}\b|\b(?:no|without)\s+(?:a\s+)?(?:pulse|heart\s?beat|{_BREATH})\b|"
    rf"\b(?:struggl\w*|fight\w*|gasp\w*|trouble|difficult\w*|problems?)\s+(?:\w+\s+)?{_BREATH}\b|"
    rf"\b{_NOT}\s+(?:\w+\s+)?consc?i?ou?s\b|\bun-?con[cs]h?c?i?[ou]+s\w*\b|\b(?:lost|loses|losing)\s+consc\w+|"
    r"\bknocked\s+out\b|\bkeeled\s+over\b|\bsei[sz]ures?\b|\bconvuls\w*|\bheart\s+attack\b|\bchest\s+pains?\b|"
    r"\bsuffocat\w*|"
    r"\bgasp(?:s|ing)?\s+for\b|\bturn(?:s|ed|ing)?\s+blue\b|\bblue\s+(?:lips|face)\b|\bchok(?:es|ed|ing)\b|"
    r"\bambulance\b|"
    rf"\b(?:electric(?:al)?|mains)\s+shocks?\b|\b(?:shocked|zapped)\s+by\b|\bel[ec]+tr[aiou]+c?[ck]?ut\w*|"
    rf"\bbleed(?:s|ing)?\b|\bswallow(?:s|ed)\b|"
    r"\b(?:drank|drinks|drinking|drunk)\s+(?:\w+\s+)?(?:acid|electrolyte|battery)",
    re.IGNORECASE,
)
#: These too, unless a thing is named that may do so.
_FALLS = re.compile(
    r"\b(?:lies?|lied|lying|laying|lays?|layin|lyin|sprawled|slumped)\s+(?:(?:down|flat|still|there|out|face|"
    r"\w+ly)\s+)*"
    rf"(?:on|in|by|at|next)\s+(?:\w+\s+)?{_GROUND}\b|\b(?:lies|lying|laying)\s+(?:there|still|motionless|flat|"
    rf"face\s+down)\b|"
    r"\bfaint(?:s|ed|ing)\b|\bfainded\b|\b(?:feel(?:s|ing)?|felt|about to|going to|nearly|almost)\s+faint\b|"
    r"\bpass(?:ed|es|ing)?\s+out\b|\bblack(?:ed|s|ing)\s+out\b|\bcoll?aps(?:e|es|ed|ing)?\b|\bunresponsive\b|"
    r"\bmotionless\b|\blifeless\b",
    re.IGNORECASE,
)
_IS = r"(?:is|are|was|were|am|got|get|gets|been|be|looks?|seems?|lies|i'm|he's|she's)\s+(?:\w+ly\s+)?"
#: And these only of a person or an animal that is named.
_OF_A_PERSON = re.compile(
    r"\b(?:fell|falls|fallen|falling)\b(?!\s+(?:asleep|out|ill|behind|back|for|in love|short))(?:\s+(?:down|over))?|"
    rf"\b{_NOT}\s+(?:\w+\s+)?(?:mov(?:es|ing)|move(?!\s+(?:the|a|it|them))|respond\w*|answer\w*|react\w*|wak(?:e|es|"
    rf"ing)|"
    rf"get(?:ting)?\s+up|stand(?:ing)?\s+up)\b|\b{_IS}(?:dead|dying|down|burn(?:ed|t)|scalded|shocked|zapped|crushed|"
    r"trapped|pinned)\b|\bdied\b|\bburn(?:ed|t)\s+(?:(?:my|him|her)self|themselves|by)\b|"
    r"\b(?:lies|lying|laying)\s+(?:down\s+)?(?:beside|near|by|next to|in front of|under|behind|in|inside|at|between|"
    r"over|"
    r"across)\b(?!\s+(?:(?:the|his|her|my)\s+)?bed\b)",
    re.IGNORECASE,
)
_ON_THE_GROUND = re.compile(
    rf"{PERSON.pattern}(?:\s+(?:is|are|was|were|still|now|just|down|out|cold|"
    rf"lies)){{0,3}}\s+on\s+(?:\w+\s+)?{_GROUND}\b",
    re.IGNORECASE,
)
#: What fell on a hand or a foot, and what went into an eye.
_HIT = re.compile(
    r"\b(?:fell|dropped|dropping|falls)\s+(?:\w+\s+)?on(?:to)?\s+(?:my|his|her|their|the|a|somebody's)\s+"
    r"(?:foot|feet|toes?|hands?|fingers?|legs?|arms?|head|back)\b|\b(?:in|into)\s+(?:(?:my|his|her|their|the|one|"
    r"both|an)\s+)?"
    r"(?:eyes?|mouth)\b|\b(?:my|his|her|their)\s+eyes?\b[^,;.]*\b(?:red|hurts?|acid|blind\w*|pain\w*)\b|"
    r"\b(?:can['’]?t|cannot|can not)\s+see\s+any\s?more\b",
    re.IGNORECASE,
)
#: What may be said of somebody who is down, or of somebody who is well.
_MAY_BE = re.compile(
    r"\b(?:lies|lying|laying|sleeps|sleeping|asleep|slumped|fell|falls|fallen|missing|pale|weak|quiet|silent|"
    r"sweating|trembling|crying|screams?|screaming|yell\w*|shout\w*|sleepy|drunk|dead|not well|not ok(?:ay)?)\b",
    re.IGNORECASE,
)
#: Nobody is down of whom it is said so.
_WELL = re.compile(
    r"\b(?:is|are|was|were|am|has|have|did|does|do)(?:\s+not|n['’]?t)\s+(?:\w+\s+)?(?:lying|fall\w*|asleep|dead|"
    r"missing|weak)\b",
    re.IGNORECASE,
)
#: What is down and is nobody: a link, a bridge, the mains.
_IT_IS_DOWN = re.compile(r"\b(?:it|this|that|all|everything)\s+(?:is|was|went)\s+(?:\w+ly\s+)?down\b", re.IGNORECASE)


def as_down(words: str) -> str:
    """Return the words with each way of saying that somebody lies there, or does not breathe, as one plain word.

    Examples
    --------
    >>> [as_down(words).split() for words in ("he does not breathe", "my dad is lying on the floor", "A2 fell")]
    [['he', 'unconscious'], ['my', 'dad', 'is', 'unconscious'], ['A2', 'fell']]
    >>> as_down("a cable is lying on the floor"), as_down("the voltage collapsed")
    ('a cable is lying on the floor', 'the voltage collapsed')
    """
    words = _LIFELESS.sub(_DOWN, words)
    words = _HIT.sub(_DOWN, words)
    words = _ON_THE_GROUND.sub(_DOWN, words)
    words = _FALLS.sub(_of_no_thing, words)
    return _OF_A_PERSON.sub(_of_somebody, words)


def may_be_down(words: str) -> bool:
    """Tell whether somebody may be down or ill by these words: whoever wrote them is asked.

    Examples
    --------
    >>> may_be_down("dad sleeps in there"), may_be_down("A2 is quiet"), may_be_down("while it was down")
    (True, False, False)
    """
    words = _IT_IS_DOWN.sub("", _WELL.sub("", words))
    no_one = _THING.search(words) is not None
    return any(PERSON.search(part) and _MAY_BE.search(part) for part in _CLAUSE.split(words)) or (
        not no_one and _OF_A_PERSON.search(words) is not None
    )


def _before(found: re.Match[str]) -> str:
    """Return what stands before it in the same clause."""
    return _CLAUSE.split(found.string[: found.start()])[-1]


def _of_no_thing(found: re.Match[str]) -> str:
    before = _before(found)
    return _DOWN if PERSON.search(before) or _THING.search(before) is None else found[0]


def _of_somebody(found: re.Match[str]) -> str:
    before = _before(found)
    somebody = PERSON.search(before) or (not before.strip() and PERSON.search(found.string))
    return _DOWN if somebody and _THING.search(before) is None else found[0]
