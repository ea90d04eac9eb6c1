"""Plates that no acid covers, and water that was added, from the words in which somebody noted it."""

from __future__ import annotations

import re

from rules.hand.denied import DENIED, PARTS_BUT_POINTS, said

_ACID = r"(?:acid|electrolyte|water|fluid|liquid|level)s?"
#: Plates that stand out of the acid.
_BARE = re.compile(
    r"\bplates?\b[^,;]*\b(?:dry|bare|exposed|uncovered|out of (?:the )?(?:acid|water|electrolyte)|showing|show|"
    r"(?:st(?:ick|icks|icking|uck)|stand|stands|stood|standing|pok(?:e|es|ing)|peek(?:s|ing)?) (?:out|up|above)|"
    r"above (?:the )?(?:acid|water|electrolyte|level|liquid|fluid))\b|"
    r"\b(?:dry|bare|exposed|uncovered)\s+(?:\w+\s+)?plates?\b|"
    r"\b(?:out of|lost (?:all|its))\s+(?:acid|water|electrolyte)\b|\b(?:bone|run|ran|gone|boiled)[\s-]+dry\b|"
    rf"\b{_ACID}\b[^,;]*\b(?:below|under|beneath|lower than|at)\s+(?:the\s+)?(?:top of (?:the\s+)?)?plates?\b|"
    rf"\b{_ACID}\b(?:\s+(?:level|is|are|was|were|looks?|seems?|stands?|much|far|way|a|bit|little|in|at|of|cells?|"
    r"blocks?|the|\w*\d[\w.]*))*\s+too\s+low\b|\btoo\s+(?:little|low)\s+(?:an?\s+)?(?:acid|electrolyte|water|level)\b",
    re.IGNORECASE,
)
#: The words of the `level` kind itself, where nothing else is named that may lie there.
_BELOW = re.compile(r"\b(?:below|under|beneath|at)[\s-]+(?:the\s+)?(?:top of (?:the\s+)?)?plates?\b", re.IGNORECASE)
_LIES_THERE = re.compile(
    r"\b(?:sediment|sludge|mud|debris|dirt|space|bridge|separators?|short\w*|probe)\b", re.IGNORECASE
)
#: Plates that are seen are bare, unless it is said through what, or how they look.
_SEEN = re.compile(
    r"\bplates?\b[^,;]*\b(?:visible|in sight|can be seen|are seen|is seen)\b|\bvisible\s+(?:\w+\s+)?plates?\b|"
    r"\b(?:see|sees|saw|seeing|seen)\s+(?:(?:the|some|all|bare|its|top|tops|of)\s+)*plates?\b",
    re.IGNORECASE,
)
_SEEN_WELL = re.compile(
    r"(?<!un)covered\b|\bwhite|\bsul(?:f|ph)at|\bdeposit|\bbrown|\bgr[ea]y|\bclean|\bcolou?r|\b(?:through|under|beneath|"
    r"below|in)\s+(?:the\s+)?(?:clear\s+)?(?:acid|electrolyte|water|liquid|fluid)\b",
    re.IGNORECASE,
)
_NOT_SEEN = re.compile(r"\b(?:cannot|can't|can not|could not|couldn't)(?=\s+(?:\w+\s+)?see\b)", re.IGNORECASE)
#: These say by a denial that plates are bare.
_UNCOVERED = re.compile(
    r"\bplates?\b[^,;]*\b(?:not|no longer|never|\w+n't|hardly|barely|half|partly)\s+(?:\w+\s+)?covered\b|"
    r"\b(?:not|no longer|hardly|barely|\w+n't)\s+(?:\w+\s+)?cover(?:s|ed|ing)?\s+(?:\w+\s+)?plates?\b|"
    r"\b(?:no|hardly any)\s+(?:acid|water|electrolyte)\s+(?:is\s+)?(?:left|inside|over|above|in\s+(?:the\s+)?(?:cells?|"
    r"blocks?|batter(?:y|ies)|\w*\d[\w.]*))",
    re.IGNORECASE,
)
#: "Dry" alone is said of a cell or a block, not of a case, a floor or hands.
_DRY = re.compile(
    r"\b(?:is|are|looks?|fell|seems?|was|were)\s+(?:\w+\s+)?dry\b|^\W*(?:cell|block)?\s*\w*\d[\w.]*\W+dry\b|"
    r"\bdry\s+cells?\b|^\W*dry\W*$|\bdry\s+(?:batter(?:y|ies)|blocks?)\b|^\W*is\s+\w*\d[\w.]*\s+dry\b",
    re.IGNORECASE,
)
#: What is dry and may be.
_MAY_BE_DRY = re.compile(
    r"\b(?:outside|cases?|tops?|lids?|floors?|hands?|posts?|terminals?|trays?|benc(?:h|hes)|shelf|wiped|rag|cloth|room|air|"
    r"walls?|roof|leak\w*|drip\w*|puddle\w*|crack\w*|weather|gloves?|covers?|caps?|dried)\b",
    re.IGNORECASE,
)
#: Acid that may stand too low.
_LOW = re.compile(
    rf"\b{_ACID}\b[^,;]*\blow(?:er)?\b|\blow\s+(?:on\s+)?{_ACID}\b|\bneeds?\s+(?:\w+\s+)?(?:water|topping|filling|acid)\b|"
    r"\bplates?\b[^,;]*\b(?:seen|see)\b",
    re.IGNORECASE,
)
_TOPPED = re.compile(
    r"\btopped\s+(?:\w+\s+)?(?:up|off)\b|\brefilled\b|\bfilled\s+(?:it\s+)?(?:up|to)\b|"
    r"\b(?:added|poured|gave it)\b[^,;]*\bwater\b|\bwater\s+(?:was\s+)?added\b",
    re.IGNORECASE,
)
_COVERED = re.compile(
    r"\bplates?\b[^,;]*(?<!un)\bcovered\b|\b(?:acid|water|electrolyte)\s+(?:\w+\s+)?covers\s|"
    r"\b(?:acid|level|water|electrolyte)\b[^,;]*\b(?:above|over)\s+(?:the\s+)?plates?\b|"
    r"\b(?:acid|level|water|electrolyte)\b[^,;]*\b(?:at|to)\s+the\s+mark\b",
    re.IGNORECASE,
)


def bare_plates(words: str) -> bool:
    """Tell whether somebody saw plates that no acid covers; that they are covered again is noted as a level.

    Examples
    --------
    >>> [bare_plates(words) for words in ("A2 is dry", "plates showing in A2.1", "no leaks, all dry", "A2 case is dry")]
    [True, True, False, False]
    >>> [bare_plates(words) for words in ("I can see the plates", "level is below the plates", "can't see the plates")]
    [True, True, False]
    >>> [bare_plates(words) for words in ("acid too low in A3", "plates not covered", "plates covered", "white plates")]
    [True, True, False, False]
    """
    words = _NOT_SEEN.sub("not", words)
    if said(words, _BARE) or _UNCOVERED.search(words):
        return True
    if (said(words, _BELOW) and not _LIES_THERE.search(words)) or (said(words, _SEEN) and not _SEEN_WELL.search(words)):
        return True
    parts = [part for part in PARTS_BUT_POINTS.split(words) if _DRY.search(part) and DENIED.search(part) is None]
    return bool(parts) and _MAY_BE_DRY.search(words) is None


def may_be_low(words: str) -> bool:
    """Tell whether the acid may stand too low by these words: whoever wrote them is asked how low.

    Examples
    --------
    >>> may_be_low("acid low in A3"), may_be_low("A3 needs water"), may_be_low("level not low")
    (True, True, False)
    """
    return said(words, _LOW) is True


def level_put_right(words: str) -> tuple[str, ...]:
    """Return which kinds of a note tell what these words say of water and level; nothing follows from the words.

    Examples
    --------
    >>> level_put_right("A3.1 topped up, plates covered"), level_put_right("plates not covered")
    (('level', 'water'), ())
    """
    found = (("level", _COVERED), ("water", _TOPPED))
    return tuple([kind for kind, pattern in found if said(words, pattern)])
