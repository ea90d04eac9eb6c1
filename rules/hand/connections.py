"""What carries the current outside the cases, from the words in which somebody noted it: it is none of a case.

A bad joint heats under current and sparks where the gas is (common practice, no source). It is let cool with the
charger off and tightened; a block is not taken out for it.
"""

from __future__ import annotations

import re
from collections.abc import Collection

from rules.hand.denied import DENIED, parts, said_in

_CONNECTION = (
    r"(?:(?:post|terminal|clamp|clip|lug|joint|connection|connector|link|strap|cable|lead(?=s)|wire|bolt|nut|screw|washer|"
    r"bus-?bar|fuse|fuse-?holder|breaker|isolator|contactor|shunt)s?|pole shoes?)"
)
#: A wire that carries no charge: what is wrong with it is none of the bank's joints.
_NO_CURRENT = (
    r"(?:sensors?|probes?|thermometers?|meters?|voltmeters?|network|signal|data|usb|wifi|wi-fi|ethernet|antenna|radio|phone|"
    r"fence|broker|internet)"
)
CONNECTIONS = re.compile(rf"\b{_CONNECTION}\b", re.IGNORECASE)
_ANOTHER_WIRE = re.compile(
    rf"\b{_NO_CURRENT}(?:'s)?\s+{_CONNECTION}\b|"
    rf"\b{_CONNECTION}\s+(?:\w+\s+)?(?:on|of|in|to|from)\s+(?:(?:the|a|its)\s+)?{_NO_CURRENT}\b",
    re.IGNORECASE,
)
HOSES = re.compile(r"\b(?:hoses?|tub(?:es?|ing)|pip(?:es?|ework|ing))\b", re.IGNORECASE)
_BLOCK = r"(?:blocks?|batter(?:y|ies)|cells?|cases?|lids?|acid|electrolyte)"
#: A block that is named only to say whose connection it is.
_WHOSE = re.compile(
    rf"\b(?:of|on|at|in|by|from|between|to)\s+(?:the\s+|its\s+|each\s+|every\s+)?{_BLOCK}\b|"
    rf"\b{_BLOCK}\s+(?=(?:\w*\d\w*\s+)?{_CONNECTION}\b)",
    re.IGNORECASE,
)
#: A crack there is one of the lid.
_BESIDE = re.compile(
    r"\b(?:at|near|by|around|round|beside|under|below|behind|next to|along)\s+"
    r"(?:(?:the|its|a|one|both|\w*\d[\w.]*)\s+)*"
    rf"{_CONNECTION}\b",
    re.IGNORECASE,
)
_A_BLOCK = re.compile(rf"\b{_BLOCK}\b|\b[a-z]+\d[\w.]*", re.IGNORECASE)
_AND = re.compile(r"\band\b|\bwhile\b|\bwhereas\b", re.IGNORECASE)
LOOSE, WARM, HOT, SPARKING, DAMAGED = (
    "loose connection", "warm connection", "hot connection", "sparking connection", "damaged connection",
)  # fmt: skip
#: What forbids charging until it is tightened or replaced, and what of it is a danger at once.
FAULTS = (LOOSE, WARM, HOT, SPARKING, DAMAGED)
#: What is a danger at once and none of a block nor of a joint.
HOT_CHARGER = "hot charger"
_CHARGER = re.compile(r"\bchargers?\b", re.IGNORECASE)
_SEEN = (
    (
        LOOSE,
        re.compile(
            r"\bloose\w*|\bslack\b|\bwobbl|\bwiggl|\bwriggl|\b(?:came|comes|come|fell|fallen|slipped)\s+off\b|"
            r"\b(?:not|isn't|aren't) tight\b",
            re.IGNORECASE,
        ),
    ),
    (WARM, re.compile(r"\bwarm(?:s|er|ish)?\b|\bwarming\b|\bheats?\b|\bheating\b", re.IGNORECASE)),
    (
        HOT,
        re.compile(
            r"\bhot\b|\bscalding\b|\bmelt|\boverheat|\bglow|\btoo warm\b|\b(?:cannot|can't|can not|could not|couldn't) "
            r"(?:be touched|touch|hold)",
            re.IGNORECASE,
        ),
    ),
    (SPARKING, re.compile(r"\bspark(?:s|ed|ing)?\b|\barc(?:s|ed|ing)?\b|\bflash|\bcrackl|\bsizzl", re.IGNORECASE)),
    (
        DAMAGED,
        re.compile(
            r"\bcrack(?!l)|\bfractur|\bsplit\b|\bfray|\bchafe|\btorn\b|\bbroken?\b|\bsnapped\b|\bmelted\b|\bburn(?:t|ed)\b|"
            r"\bcharred\b|\bdamaged\b",
            re.IGNORECASE,
        ),
    ),
)
#: That it was looked at and is cool, or not loose, while nothing flows, says nothing of how it is under current.
_DENIABLE = (LOOSE, DAMAGED)
_USUAL = re.compile(r"\b(?:usual|normal|always)\b", re.IGNORECASE)
_MENDED = re.compile(
    r"\b(?:re)?tightened|\bretorqued|\bmended|\brepaired|\breplaced|\brenewed|\bremade|\b(?:is|are|now|all|again)\s+tight\b|"
    r"\btight (?:now|again)\b",
    re.IGNORECASE,
)
_WORK = r"(?:re)?(?:tighten|mend|repair|replac|renew|torqu)"
_NOT_DONE = re.compile(
    rf"\b(?:must|should|will|can|could|needs?|wants?)\s+(?:to\s+)?(?:be\s+)?{_WORK}|"
    rf"\b(?:has|have|ought|going)\s+(?:still\s+)?to\s+(?:be\s+)?{_WORK}|"
    r"\bto be\b|\bnot\b|n't\b|\bnever\b|\bwhen\b|\bonce\b|\bbefore\b|\buntil\b",
    re.IGNORECASE,
)
_NAMED_GONE = re.compile(rf"\b(loose|warm|hot|sparking|damaged) {_CONNECTION}\b.*\bgone\b", re.IGNORECASE)


def done(words: str, pattern: re.Pattern[str] = _MENDED) -> bool:
    """Tell whether somebody says that it was mended, not that it has to be.

    Examples
    --------
    >>> done("A2 post tightened"), done("A2 post must be tightened"), done("A2 is not tightened yet")
    (True, False, False)
    """
    return any(pattern.search(part) and _NOT_DONE.search(part) is None for part in parts(words))


def _subject(piece: str, before: frozenset[str], beside: bool) -> frozenset[str]:
    """Return what a piece of a sentence speaks of: block, connection, hose; what it names none of it inherits."""
    piece = _ANOTHER_WIRE.sub("another thing", piece)
    told = piece if beside else _BESIDE.sub(" ", piece)
    found = set()
    if HOSES.search(told):
        found.add("hose")
    if CONNECTIONS.search(told):
        found.add("connection")
    plain = _WHOSE.sub(" ", told) if found else told
    named = re.search(rf"\b{_BLOCK}\b", plain, re.IGNORECASE) if found else _A_BLOCK.search(plain)
    if named or (told != piece and not found):
        found.add("block")
    return frozenset(found) or before


def subjects(words: str, pattern: re.Pattern[str], beside: bool = True) -> frozenset[str]:
    """Return of what the words say it: block, connection, hose, charger; of a block where they name none of the four.

    Parameters
    ----------
    words : str
        As somebody noted them.
    pattern : re.Pattern
        What was seen.
    beside : bool
        Whether what is seen beside a connection is of the connection: a spark is, a crack is one of the lid.

    Examples
    --------
    >>> hot, crack = re.compile("hot"), re.compile("crack")
    >>> [sorted(subjects(words, hot)) for words in ("A4 post is hot", "A4 is hot", "post is loose and A3 is hot")]
    [['connection'], ['block'], ['block']]
    >>> [sorted(subjects(words, hot)) for words in ("the charger is hot", "charger on, hot", "charger made A2 hot")]
    [['charger'], ['block'], ['block']]
    >>> [sorted(subjects(words, crack, False)) for words in ("cracked cable", "a crack at the post", "hose cracked")]
    [['connection'], ['block'], ['hose']]
    """
    found: set[str] = set()
    subject: frozenset[str] = frozenset()
    for part in parts(words):
        for piece in _AND.split(part):
            # Of the charger is only what the same words say: "it is hot" behind it may be of the bank.
            if _CHARGER.search(piece) and not _subject(piece, frozenset(), beside):
                subject, own = frozenset(), frozenset({"charger"})
            else:
                subject = own = _subject(piece, subject, beside)
            if pattern.search(piece) and said_in(part, pattern):
                found |= own or {"block"}
    return frozenset(found) or frozenset({"block"})


def faults(words: str, deniable: Collection[str] = _DENIABLE) -> dict[str, bool]:
    """Return what somebody saw of a connection (True), or says was put right (False); what is said last counts.

    Parameters
    ----------
    words : str
        As somebody noted them.
    deniable : collection of str
        What is gone where the words say no more than that it is not there.

    Examples
    --------
    >>> faults("A4 post is loose and warm"), faults("warm in here"), faults("A4 post not warm")
    ({'loose connection': True, 'warm connection': True}, {}, {})
    >>> set(faults("A4 post was loose, tightened").values()), faults("tightened A4 post, still hot")["hot connection"]
    ({False}, True)
    """
    found: dict[str, bool] = {}
    subject: frozenset[str] = frozenset()
    for part in parts(words):
        denied = DENIED.search(part) is not None
        for piece in _AND.split(part):
            subject = _subject(piece, subject, beside=True)
            cracked = _subject(piece, subject, beside=False)
            if (gone := _NAMED_GONE.search(part)) and not denied:
                found[f"{gone[1].lower()} connection"] = False
            elif _MENDED.search(piece) and _NOT_DONE.search(part) is None:
                if "connection" in subject or re.search("tight|torqu", piece, re.IGNORECASE):
                    found |= dict.fromkeys(FAULTS, False)
            else:
                for name, pattern in _SEEN:
                    if name == WARM and _USUAL.search(piece):
                        continue
                    if pattern.search(piece) and "connection" in (cracked if name == DAMAGED else subject):
                        there = said_in(part, pattern) or (name == LOOSE and re.search("tight", piece) is not None)
                        if there or name in deniable:
                            found[name] = there
    if found.get(HOT):
        found.pop(WARM, None)
    return found


def cool_only(words: str) -> bool:
    """Tell whether the words say no more than that a connection is not hot, or sparks not, which puts nothing right.

    Examples
    --------
    >>> cool_only("A4 post not hot any more"), cool_only("A4 post not hot any more, tightened"), cool_only("all well")
    (True, False, False)
    """
    said = faults(words, FAULTS)
    return False in said.values() and True not in said.values() and not faults(words)


def spoken_of(words: str) -> bool:
    """Tell whether the words say or deny anything that concerns a connection: then they are understood.

    Examples
    --------
    >>> spoken_of("posts not warm"), spoken_of("moved the table")
    (True, False)
    """
    told = _ANOTHER_WIRE.sub("another thing", words)
    return CONNECTIONS.search(told) is not None and any(pattern.search(words) for _, pattern in _SEEN)


def of_a_hose(words: str) -> bool:
    """Tell whether a hose is cracked or leaks: that is no case, and whoever wrote it is asked what it means.

    Examples
    --------
    >>> of_a_hose("the vent hose is cracked"), of_a_hose("hose is fine")
    (True, False)
    """
    broken = re.compile(r"\bcrack(?!l)|\bsplit\b|\bleak|\bdrip|\bbroken?\b|\bburst", re.IGNORECASE)
    return HOSES.search(words) is not None and any(
        broken.search(part) and said_in(part, broken) for part in parts(words)
    )
