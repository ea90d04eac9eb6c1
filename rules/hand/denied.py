"""Whether words say a thing, deny it, or leave it in doubt, in any part of a sentence."""

from __future__ import annotations

import re

from rules.hand.tongues import DENIED_ELSEWHERE

#: Denied in the same part of a sentence, in front of the word or behind it.
DENIED = re.compile(
    r"\b(?:no|not|nothing|none|never|without|neither|nor|free of|(?:is|does|are|did|do|was|were|has|have)n't)\b",
    re.IGNORECASE,
)
#: These may deny or not ("nobody noticed the smoke"): whoever wrote them is asked.
_NOBODY = re.compile(
    r"\b(?:nobody|no[\s-]?one)(?:'s)?\b(?!\s+(?:is|was|got|has been)\s+(?:\w+ly\s+)?(?:hurt|injured|burnt))|"
    r"\b(?:not|isn't|aren't)\s+(?:\w+\s+)?(?:sure|certain|clear)\b|\bunsure\b|"
    r"\b(?:do(?:es)?\s+not|do(?:es)?n't|dont)\s+know\b|\bno idea\b|\bhard to tell\b|\bhardly\b|\bbarely\b|"
    r"\b(?:cannot|can't|can not|could not|couldn't)\s+(?:tell|say|see)\s+(?:if|whether)\b",
    re.IGNORECASE,
)
#: These look like a denial and are none.
_NO_DENIAL = re.compile(r"\b(?:no|without(?:\s+(?:a|any))?)\s+doubt\b|\bnot\s+(?:just|merely)\b", re.IGNORECASE)
#: These deny that all is well, and nothing else.
_WRONG = re.compile(r"\b(?:not|\w+n't)\s+(\w+\s+)?(?:right|normal|good|okay|ok|well|healthy)\b", re.IGNORECASE)
#: Behind the word it says that it is there no longer: "A2 crack gone", "smell is gone now", "crack in A2 gone".
_GONE = re.compile(
    r"\w*(?:\s+(?:is|are|was|has|have|in|at|of|on|the|case|block|cell|rotten|eggs?|smell|connections?|posts?|terminals?|"
    r"joints?|cables?|all|now|completely|\w*\d[\w.]*))*"
    r"\s+gone\b(?=\W*$|(?:\s+\w*\d[\w.]*)+\W*$|\s+(?:cracks?|leaks?|bulges?|ice|smell|smoke)\s+gone\b|"
    r"\s+(?:now|away|again|today|since|and|after|completely)\b|\s+(?:at|in|on)\s+\w*\d)",
    re.IGNORECASE,
)
#: It is there still, whatever "not" stands in it.
_NOT_GONE = re.compile(r"\b(?:not|never|\w+n't)\s+(?:yet\s+|quite\s+|all\s+)?gone\b", re.IGNORECASE)
#: What is denied of all but one is said of that one.
_EXCEPT = re.compile(r"\bexcept|\bapart from\b|\bother than\b|\bbesides\b|\bonly\b", re.IGNORECASE)
_PARTS = re.compile(r"[,;:!]|[.](?!\d)|\bbut\b|\byet\b", re.IGNORECASE)
#: The same, without the point inside a label such as A1.2.
PARTS_BUT_POINTS = re.compile(r"[,;:!]|[.](?!\w)|\bbut\b|\byet\b", re.IGNORECASE)


def parts(words: str) -> list[str]:
    """Return the parts of a sentence that may each say or deny a thing of their own.

    Examples
    --------
    >>> parts("no smoke, but A2 is hot")
    ['no smoke', ' ', ' A2 is hot']
    """
    return _PARTS.split(_NOT_GONE.sub("there", _NO_DENIAL.sub("", _WRONG.sub(_still_wrong, words))))


def said(words: str, pattern: re.Pattern[str]) -> bool | None:
    """Tell whether the words say it in any part (True), only deny it (False), or are silent or in doubt (None).

    Examples
    --------
    >>> smoke = re.compile("smok", re.IGNORECASE)
    >>> [said(words, smoke) for words in ("it smokes", "no smoke", "all well", "nobody saw smoke", "no doubt smoke")]
    [True, False, None, None, True]
    """
    told = [said_in(part, pattern) for part in parts(words) if pattern.search(part) and not _doubtful(part)]
    return any(told) if told else None


def said_in(part: str, pattern: re.Pattern[str]) -> bool:
    """Tell whether one part of a sentence that names it says it, and does not deny it."""
    return _EXCEPT.search(part) is not None or (DENIED.search(part) is None and not _all_gone(part, pattern))


def doubted(words: str, pattern: re.Pattern[str]) -> bool:
    """Tell whether a part of the words names it, and it is not clear whether it is denied: then it is asked about.

    Examples
    --------
    >>> bang = re.compile("explo", re.IGNORECASE)
    >>> [doubted(words, bang) for words in ("nobody heard an explosion", "keine Explosion", "no explosion")]
    [True, True, False]
    """
    return any(pattern.search(part) is not None and _doubtful(part) for part in parts(words))


def _doubtful(part: str) -> bool:
    return _EXCEPT.search(part) is None and (
        _NOBODY.search(part) is not None or DENIED_ELSEWHERE.search(part.casefold()) is not None
    )


def _still_wrong(found: re.Match[str]) -> str:
    """Return "smell wrong" for "not smell right": it denies nothing."""
    return f"{found[1] or ''}wrong"


def _all_gone(part: str, pattern: re.Pattern[str]) -> bool:
    """Tell whether each time that it is named it is said to be gone."""
    return all(_GONE.match(part, found.end()) is not None for found in pattern.finditer(part))
