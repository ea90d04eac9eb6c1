"""Words that are a letter away from one of danger or damage: whoever typed them is asked whether that was meant."""

from __future__ import annotations

import re

#: What is said of a bank that may burst, burn, poison or leak.
_KNOWN = (
    "crack", "cracked", "cracks", "leak", "leaks", "leaking", "leaked", "bulge", "bulging", "bulged", "swollen",
    "frozen", "smoke", "smokes", "smoking", "spark", "sparks", "sparking", "flame", "flames", "burning", "burns",
    "stink", "stinks", "smell", "smells", "rotten", "hissing", "hisses", "exploded", "explosion", "melting", "melted",
    "glowing", "fire", "spraying", "dizzy", "fainted", "collapsed", "bleeding", "flames", "breathing",
)  # fmt: skip
#: Ordinary words that are as near to one of these, or are one.
_ORDINARY = re.compile(
    r"shells?|small|spell(?:s|ed)?|spills?|spares?|spark(?:ed)?|spokes?|stroke|leads?|leaf|lean|leaps?|least|lack|lock|look|"
    r"files?|fine|five|fibre|fire[sd]|fore|fort|fare|firm|flares?|frames?|flakes|blame|brake|broken?|crates?|creak|clock|"
    r"check|chock|crock|sticks?|stings?|sinks?|melts?|milking|mending|rotted|gotten|bought|burnt?|barns|born|turns|hosing|"
    r"missing|kissing|hissed|growing|blowing|going|straying|staying|spring|soaking|smoked|choking|stoking|belting|"
    r"meeting|leaving|leaning|leading|learning|smelled|smelt|crackled?|tracked|explod(?:e|es)|explored?|shark|smock|skill|"
    r"still|shelf|painted|fainter|feeding|needing|bleating|breeding"
)
_WORD = re.compile(r"[A-Za-z]{4,}")
#: Shorter words than this are as near to too many others.
_SHORTEST = 4


def meant(words: str) -> tuple[tuple[str, str], ...]:
    """Return each word that is a letter away from one of danger, and that one.

    Examples
    --------
    >>> meant("a crak in A2"), meant("craked"), meant("smaoke"), meant("moved the rack, small spare lead")
    ((('crak', 'crack'),), (('craked', 'cracked'),), (('smaoke', 'smoke'),), ())
    """
    found = {}
    for word in _WORD.findall(words):
        lower = word.lower()
        if lower in _KNOWN or _ORDINARY.fullmatch(lower):
            continue
        near = next((known for known in _KNOWN if known[0] == lower[0] and _a_letter_away(lower, known)), None)
        if near is not None:
            found[word] = near
    return tuple(found.items())


def as_meant(words: str) -> str:
    """Return words with each that is a letter away from one of danger written as that one.

    Examples
    --------
    >>> as_meant("a crak in A2"), as_meant("all well")
    ('a crack in A2', 'all well')
    """
    near = dict(meant(words))
    return _WORD.sub(lambda found: near.get(found[0], found[0]), words)


def _a_letter_away(one: str, other: str) -> bool:
    """Tell whether one letter is missing, too many, another, or two stand the wrong way round."""
    longer, shorter = (one, other) if len(one) >= len(other) else (other, one)
    if len(longer) - len(shorter) > 1 or len(shorter) < _SHORTEST:
        return False
    first = next((n for n, (a, b) in enumerate(zip(longer, shorter, strict=False)) if a != b), len(shorter))
    if len(longer) > len(shorter):
        return longer[first + 1 :] == shorter[first:]
    behind = first + 1
    return longer[behind:] == shorter[behind:] or (
        longer[behind + 1 :] == shorter[behind + 1 :]
        and longer[first : behind + 1] == shorter[first : behind + 1][::-1]
    )
